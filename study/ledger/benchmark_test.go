package ledger

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"

	"shelfspan/study"
)

// onBothEngines runs a benchmark against either engine.
func onBothEngines(b *testing.B, run func(b *testing.B, where string)) {
	b.Run("sqlite", func(b *testing.B) { run(b, sqlitePlace(b)) })
	b.Run("postgres", func(b *testing.B) { run(b, postgresPlace(b)) })
}

// bulk writes events behind the last one, past all that a change would check,
// as fast as the engine takes them. It gives them their number and hash.
func bulk(tb testing.TB, l *Ledger, events []Event) {
	tb.Helper()
	ctx := context.Background()
	head := Event{}
	if err := l.read(ctx, func(r *reading) error {
		last, err := r.events(`ORDER BY seq DESC LIMIT 1`)
		if len(last) > 0 {
			head = last[0]
		}
		return err
	}); err != nil {
		tb.Fatal(err)
	}
	var before [sha256.Size]byte
	if _, err := hex.Decode(before[:], []byte(head.Hash)); err != nil {
		tb.Fatal(err)
	}
	var buffer []byte
	for i := range events {
		e := &events[i]
		e.Seq = head.Seq + int64(i) + 1
		buffer = canonical(e, buffer[:0])
		before = chained(before, buffer)
		e.Hash = hex.EncodeToString(before[:])
	}
	row := func(e *Event) []any {
		var file any
		if e.File != "" {
			file = e.File
		}
		return []any{e.Seq, e.At, e.By, string(e.Kind), e.Study, e.Subject, e.Reason, file, e.Detail, e.Account, e.Hash}
	}
	if _, ok := l.kind.(*postgres); ok {
		conn, err := l.db.Conn(ctx)
		if err != nil {
			tb.Fatal(err)
		}
		defer conn.Close()
		err = conn.Raw(func(driver any) error {
			_, err := driver.(*stdlib.Conn).Conn().CopyFrom(ctx, pgx.Identifier{"event"}, strings.Split(eventColumns, ", "),
				pgx.CopyFromSlice(len(events), func(i int) ([]any, error) { return row(&events[i]), nil }))
			return err
		})
		if err != nil {
			tb.Fatal(err)
		}
		if _, err := l.db.Exec(`ANALYZE`); err != nil { // as the server does by itself before long
			tb.Fatal(err)
		}
		return
	}
	tx, err := l.db.Begin()
	if err != nil {
		tb.Fatal(err)
	}
	defer tx.Rollback()
	insert, err := tx.Prepare(`INSERT INTO event (` + eventColumns + `) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`)
	if err != nil {
		tb.Fatal(err)
	}
	for i := range events {
		if _, err := insert.Exec(row(&events[i])...); err != nil {
			tb.Fatal(err)
		}
	}
	if err := tx.Commit(); err != nil {
		tb.Fatal(err)
	}
}

// wideStudy is a study of 200 pulls: 8 conditions, each every month for 25.
func wideStudy(id string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "[study]\nid = %q\nproduct = \"Skin-care balm\"\nstart = 2025-01-13\nclaim = \"24M\"\n", id)
	var pulls []string
	for m := range 25 {
		pulls = append(pulls, fmt.Sprintf("%q", fmt.Sprintf("%dM", m+1)))
	}
	for c := range 8 {
		role := "long-term"
		if c > 0 {
			role = "stress"
		}
		fmt.Fprintf(&b, "[[condition]]\nid = \"C%d\"\nrole = %q\ntemperature = %d.0\npulls = [%s]\nchamber = \"room%d\"\n[[chamber]]\nid = \"room%d\"\n",
			c, role, 25+3*c, strings.Join(pulls, ", "), c, c)
	}
	b.WriteString("[[batch]]\nid = \"B1\"\n[[attribute]]\nid = \"assay\"\nunit = \"%\"\nkind = \"measure\"\nlower = 90.0\nunits = 2\n")
	return b.String()
}

// lab makes a ledger of studies of 200 pulls each, of whose pulls up to a day a
// share is recorded as made.
func lab(tb testing.TB, where string, studies int, until study.Date, share float64) *Ledger {
	tb.Helper()
	l := create(tb, where)
	var events []Event
	for i := range studies {
		out := registered(tb, l, wideStudy(fmt.Sprintf("ST%03d", i)))
		n := 0.0
		for j := range out.Schedule.Pulls {
			p := &out.Schedule.Pulls[j]
			if p.Date > until {
				continue
			}
			if n += share; n < 1 {
				continue
			}
			n--
			events = append(events, pulled(tb, out, j, study.EventPull, ""))
		}
	}
	bulk(tb, l, events)
	return l
}

// pulled is the event that records a planned pull as made on its day.
func pulled(tb testing.TB, out *RegisterOutcome, pull int, kind study.EventKind, note string) Event {
	p := &out.Schedule.Pulls[pull]
	d := pullDetail{Day: p.Date.String(), Time: p.Time.String(), Note: note}
	if p.Condition >= 0 {
		d.Condition = out.Study.Conditions[p.Condition].ID
	}
	for i := range p.Lines {
		line := study.TakenLine{Units: p.Lines[i].Units}
		line.Batch, line.Pack, line.Orientation = out.Schedule.ArmIDs(p, &p.Lines[i])
		d.Lines = append(d.Lines, line)
	}
	detail, err := json.Marshal(d)
	if err != nil {
		tb.Fatal(err)
	}
	return Event{At: "2025-06-02T09:10:11+02:00", By: "A. Technician", Kind: kind, Study: out.Study.ID, Subject: p.ID, Detail: string(detail)}
}

// BenchmarkDue asks 500 studies of 200 pulls what is due.
func BenchmarkDue(b *testing.B) {
	on := study.NewDate(2026, 1, 15)
	onBothEngines(b, func(b *testing.B, where string) {
		l := lab(b, where, 500, on, 0.6)
		for b.Loop() {
			if list, err := l.Due(context.Background(), on+7); err != nil || len(list) < 10000 {
				b.Fatal(len(list), err)
			}
		}
	})
}

// BenchmarkOpen opens that ledger and closes it.
func BenchmarkOpen(b *testing.B) {
	onBothEngines(b, func(b *testing.B, where string) {
		lab(b, where, 500, study.NewDate(2026, 1, 15), 0.6)
		for b.Loop() {
			l, err := Open(context.Background(), where)
			if err != nil {
				b.Fatal(err)
			}
			l.Close()
		}
	})
}

// results100k is a table of 100,000 results of the small study.
func results100k() []byte {
	var t strings.Builder
	t.WriteString("batch,condition,time,attribute,unit,value\n")
	for i := range 100_000 {
		fmt.Fprintf(&t, "B%d,25C60,%dM,assay,U%06d,%.1f\n", 1+i%2, []int{3, 6, 12}[i%3], i, 95+float64(i%50)/10)
	}
	return []byte(t.String())
}

// BenchmarkIntake takes a table of 100,000 results into an empty ledger.
func BenchmarkIntake(b *testing.B) {
	ctx, table := context.Background(), results100k()
	onBothEngines(b, func(b *testing.B, where string) {
		l := create(b, where)
		for i := 0; b.Loop(); i++ {
			b.StopTimer()
			id := fmt.Sprintf("S%d", i) // the results of a study are read with those it has
			registered(b, l, strings.Replace(smallStudy, `"SB"`, `"`+id+`"`, 1))
			b.StartTimer()
			if _, err := l.TakeIn(ctx, ada(noon), id, File{"table.csv", table}); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(100_000*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
	})
}

// million makes a ledger of a million events: 50 studies, each with its pulls
// taken in many parts.
func million(tb testing.TB, where string, events int) *Ledger {
	tb.Helper()
	const studies = 50
	l := create(tb, where)
	var all []Event
	for i := range studies {
		out := registered(tb, l, wideStudy(fmt.Sprintf("ST%03d", i)))
		for j := range (events - studies) / studies {
			all = append(all, pulled(tb, out, j%len(out.Schedule.Pulls), study.EventPullPart, "part "+fmt.Sprint(j)))
		}
	}
	bulk(tb, l, all)
	return l
}

// BenchmarkVerify checks a ledger of a million events.
func BenchmarkVerify(b *testing.B) {
	const events = 1_000_000
	onBothEngines(b, func(b *testing.B, where string) {
		l := million(b, where, events)
		for b.Loop() {
			if v, err := l.Verify(context.Background(), "", nil); err != nil || len(v.Faults) > 0 || v.Events != events {
				b.Fatal(v, err)
			}
		}
		b.ReportMetric(events*float64(b.N)/b.Elapsed().Seconds(), "events/s")
	})
}

// TestKeepLab leaves the ledger of BenchmarkDue in the folder that
// SHELFSPAN_KEEP_LAB names, to time the whole program on.
func TestKeepLab(t *testing.T) {
	folder := os.Getenv("SHELFSPAN_KEEP_LAB")
	if folder == "" {
		t.Skip("SHELFSPAN_KEEP_LAB names no folder")
	}
	lab(t, filepath.Join(folder, "lab.db"), 500, study.NewDate(2026, 1, 15), 0.6)
}
