package ledger

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"testing"
	"time"

	"shelfspan/study"
)

// benchmarkNow is when the benchmarks' ledgers are read.
var benchmarkNow = time.Date(2025, 3, 1, 12, 0, 0, 0, time.UTC)

// wideStudy is a study of 200 pulls after time zero: ten conditions of twenty.
func wideStudy(n int) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "[study]\nid = \"S%03d\"\nproduct = \"balm\"\nstart = 2024-01-%02d\nstore_at = \"C0\"\n", n, 1+n%28)
	for c := range 10 {
		fmt.Fprintf(&b, "[[condition]]\nid = \"C%d\"\nrole = \"long-term\"\ntemperature = 25.0\nchamber = \"room\"\npulls = [\"0\"", c)
		for k := range 20 {
			fmt.Fprintf(&b, ", \"%dM\"", k+1)
		}
		b.WriteString("]\n")
	}
	b.WriteString("[[chamber]]\nid = \"room\"\n[[batch]]\nid = \"B1\"\n[[batch]]\nid = \"B2\"\n[[attribute]]\nid = \"assay\"\nunit = \"%\"\nlower = 90.0\nunits = 2\n")
	return b.Bytes()
}

// fiveHundred makes a ledger of 500 studies of 200 pulls each; of those that
// are due by benchmarkNow, eight in ten are recorded.
func fiveHundred(b *testing.B, where string) *Ledger {
	ctx := context.Background()
	l := create(b, where)
	for n := range 500 {
		if _, err := l.Register(ctx, ada(benchmarkNow), "study.toml", wideStudy(n), ""); err != nil {
			b.Fatal(err)
		}
	}
	due, err := l.Due(ctx, study.NewDate(2025, 3, 8))
	if err != nil {
		b.Fatal(err)
	}
	err = l.write(ctx, ada(benchmarkNow), func(w *writing) error {
		for i, d := range due {
			if i%10 < 8 {
				if _, err := w.append(Event{Kind: study.EventPull, Study: d.Study, Subject: d.Pull}, pullDetail{Day: d.Date.String(), Condition: d.Condition, Time: d.Time}); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	return l
}

// The list of what is due, over 500 studies of 200 pulls each; under 100 ms is
// asked for.
func BenchmarkDue(b *testing.B) {
	for name, place := range places() {
		b.Run(name, func(b *testing.B) {
			l := fiveHundred(b, place(b))
			for b.Loop() {
				due, err := l.Due(context.Background(), study.NewDate(2025, 3, 8))
				if err != nil || len(due) < 10000 {
					b.Fatal(len(due), err)
				}
			}
		})
	}
}

func places() map[string]place {
	out := map[string]place{"sqlite": sqlitePlace}
	if os.Getenv(postgresServer) != "" {
		out["postgres"] = postgresPlace
	}
	return out
}

// manyRows is a table of n results of small study's first condition.
func manyRows(n int) []byte {
	var b bytes.Buffer
	b.WriteString("batch,condition,time,attribute,unit,value\n")
	for i := range n {
		fmt.Fprintf(&b, "B%d,25C60,%dM,assay,u%d,%.1f\n", 1+i%2, []int{3, 6, 12}[i%3], i, 95+float64(i%50)/10)
	}
	return b.Bytes()
}

// A table of 100,000 rows, checked, hashed and kept; under 1.5 s into SQLite is
// asked for.
func BenchmarkTakeIn100k(b *testing.B) {
	data := manyRows(100_000)
	for name, place := range places() {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				b.StopTimer()
				l := create(b, place(b))
				registered(b, l, smallStudy)
				b.StartTimer()
				if _, err := l.TakeIn(context.Background(), ada(noon), "SB", File{"r.csv", data}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// A ledger of a million events, checked whole; 200,000 events a second are
// asked for.
func BenchmarkVerifyMillion(b *testing.B) {
	ctx := context.Background()
	l := create(b, sqlitePlace(b))
	for n := range 500 {
		if _, err := l.Register(ctx, ada(benchmarkNow), "study.toml", wideStudy(n), ""); err != nil {
			b.Fatal(err)
		}
	}
	const million = 1_000_000
	err := l.write(ctx, ada(benchmarkNow), func(w *writing) error {
		for i := w.head.Seq; i < million; i++ {
			if _, err := w.append(Event{Kind: study.EventPull, Study: fmt.Sprintf("S%03d", i%500), Subject: "S001-C1-3M"}, pullDetail{
				Day: "2025-03-01", Condition: "C1", Time: "3M", Lines: []study.TakenLine{{Batch: "B1", Orientation: "upright", Units: 2}},
			}); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		v, err := l.Verify(ctx, "", nil)
		if err != nil || v.Events != million || len(v.Faults) > 0 {
			b.Fatal(v, err)
		}
	}
	b.ReportMetric(million*float64(b.N)/b.Elapsed().Seconds(), "events/s")
}

// Opening a ledger that is there; under 20 ms is asked for.
func BenchmarkOpen(b *testing.B) {
	for name, place := range places() {
		b.Run(name, func(b *testing.B) {
			where := place(b)
			registered(b, create(b, where), smallStudy)
			for b.Loop() {
				l, err := Open(context.Background(), where)
				if err != nil {
					b.Fatal(err)
				}
				l.Close()
			}
		})
	}
}
