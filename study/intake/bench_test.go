package intake

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"shelfspan/study"
)

// wideStudy has room for a million results: many batches in two packs.
func wideStudy(batches int) *study.Study {
	s := balm()
	s.Batches = nil
	for i := range batches {
		s.Batches = append(s.Batches, study.Batch{ID: fmt.Sprintf("B%d", i+1), Made: study.NoDate, Placed: study.NoDate})
	}
	return s
}

// table writes a long table of n rows with every column a lab fills in.
func table(s *study.Study, n int) []byte {
	var b bytes.Buffer
	b.WriteString("batch,condition,pack,orientation,time,pulled,tested,attribute,unit,replicate,value,unit_of_measure,analyst,method,comment\n")
	rows := 0
	for batch := 0; ; batch++ {
		for c := range s.Conditions[:2] {
			for p := range s.Packs {
				for _, o := range s.Packs[p].Orientations {
					for _, at := range s.Conditions[c].Pulls {
						day := at.AddTo(s.Start, 0) + study.Date(batch%3)
						for _, a := range []int{0, 1, 3, 4} {
							for unit := 1; unit <= s.Attributes[a].Units; unit++ {
								for rep := 1; rep <= s.Attributes[a].Replicates; rep++ {
									if at.IsZero() && s.Attributes[a].Kind != study.Weighing && (c > 0 || o != study.Upright) {
										continue
									}
									if rows == n {
										return b.Bytes()
									}
									value := fmt.Sprintf("%d.%d", 25000-rows%977, rows%10)
									uom := "mPa.s"
									switch a {
									case 1:
										value, uom = fmt.Sprintf("5.%02d", rows%100), ""
									case 3:
										value, uom = fmt.Sprintf("150.%03d", rows%1000), "g"
									case 4:
										value, uom = "slight", ""
									}
									fmt.Fprintf(&b, "%s,%s,%s,%s,%s,%s,%s,%s,%s-%d,%d,%s,%s,analyst %d,SOP-7,\n", s.Batches[batch].ID, s.Conditions[c].ID, s.Packs[p].ID, o,
										at, day, day+2, s.Attributes[a].ID, s.Conditions[c].ID+string(o[:1]), unit, rep, value, uom, rows/997%3)
									rows++
								}
							}
						}
					}
				}
			}
		}
	}
}

// BenchmarkRead1M reads a million rows of a long table on one core: in the
// order of the study, in no order, and with every field in quotes.
func BenchmarkRead1M(b *testing.B) {
	const n = 1_000_000
	s := wideStudy(n/150 + 1)
	ordered := table(s, n)
	b.Run("ordered", func(b *testing.B) { readAll(b, s, ordered, n) })

	head, body, _ := bytes.Cut(ordered, []byte("\n"))
	lines := bytes.SplitAfter(body, []byte("\n"))
	rand.New(rand.NewPCG(1, 2)).Shuffle(len(lines), func(i, j int) { lines[i], lines[j] = lines[j], lines[i] })
	shuffled := slices.Concat(head, []byte("\n"), bytes.Join(lines, nil))
	b.Run("shuffled", func(b *testing.B) { readAll(b, s, shuffled, n) })

	quoted := bytes.ReplaceAll(ordered, []byte(","), []byte(`","`))
	quoted = bytes.ReplaceAll(quoted, []byte("\n"), []byte("\"\n\""))
	quoted = slices.Concat([]byte(`"`), quoted[:len(quoted)-1])
	b.Run("quoted", func(b *testing.B) { readAll(b, s, quoted, n) })
}

func readAll(b *testing.B, s *study.Study, data []byte, n int) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	b.SetBytes(int64(len(data)))
	var before, after runtime.MemStats
	var d *study.Dataset
	runtime.GC()
	runtime.ReadMemStats(&before)
	for b.Loop() {
		var err error
		if d, err = Read(s, Source{Name: "results.csv", Reader: bytes.NewReader(data)}); err != nil {
			b.Fatal(err)
		}
	}
	runtime.GC()
	runtime.ReadMemStats(&after)
	b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
	b.ReportMetric(float64(after.HeapAlloc-before.HeapAlloc)/float64(len(d.Results)), "bytes/row")
	runtime.KeepAlive(data)
	if len(d.Results) != n {
		b.Fatalf("%d results of %d rows", len(d.Results), n)
	}
}

// BenchmarkReadAllGrowing reads, by a ledger's rules, a table that was handed in
// five times as it grew to 100,000 rows: 300,000 rows, of which it keeps a third;
// without days, which the ledger has.
func BenchmarkReadAllGrowing(b *testing.B) {
	const n, tables = 100_000, 5
	s := wideStudy(n/150 + 1)
	head, body, _ := bytes.Cut(table(s, n), []byte("\n"))
	lines := bytes.SplitAfter(body, []byte("\n"))
	for i, line := range lines {
		if fields := bytes.Split(line, []byte(",")); len(fields) > 5 {
			fields[5], fields[6] = nil, nil
			lines[i] = bytes.Join(fields, []byte(","))
		}
	}
	o := Options{Repeats: true, PulledOn: func(batch, _, _, _ int, at study.Duration) study.Date { return at.AddTo(s.TimeZero(batch), 0) }}
	b.ReportAllocs()
	for b.Loop() {
		var sources []Source
		for k := 1; k <= tables; k++ {
			text := slices.Concat(head, []byte("\n"), bytes.Join(lines[:k*n/tables], nil))
			sources = append(sources, Source{Name: fmt.Sprintf("%d.csv", k), Reader: bytes.NewReader(text)})
		}
		d, counts, err := ReadAll(s, o, sources...)
		if err != nil {
			b.Fatal(err)
		}
		if len(d.Results) != n || counts[tables-1].Repeats != n-n/tables {
			b.Fatalf("%d results, %+v", len(d.Results), counts)
		}
	}
}
