package intake

import (
	"bytes"
	"errors"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"shelfspan/study"
	"shelfspan/study/finding"
)

// slow gives a few bytes at a time.
type slow struct {
	data []byte
	most int
}

func (s *slow) Read(b []byte) (int, error) {
	if len(s.data) == 0 {
		return 0, io.EOF
	}
	n := copy(b[:min(len(b), s.most)], s.data)
	s.data = s.data[n:]
	return n, nil
}

// FuzzNumber compares parseNumber with strconv.
func FuzzNumber(f *testing.F) {
	for _, s := range []string{"0", "-0", "1", "5.", ".5", ".", "+1e5", "1e-22", "1e23", "9007199254740993", "0.1e1", "123456789012345678", "1234567890123456789.5",
		"000000000000000000000001", "0.00000000000000000000000001", "1e999", "4.9e-324", "1e-400", "nan", "inf", "0x1p4", "1_0", "1e", "1e+", "e5", "", "1,5"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, _, ok := parseNumber([]byte(s), false)
		want, err := strconv.ParseFloat(s, 64)
		decimal := strings.Trim(s, "0123456789+-.eE") == ""
		mantissa, _, _ := strings.Cut(strings.ToLower(s), "e")
		lost := want == 0 && strings.ContainsAny(mantissa, "123456789")
		if ok != (err == nil && decimal && !lost) {
			t.Fatalf("%q: read %v %v; strconv gives %v, %v", s, got, ok, want, err)
		}
		if ok && (got != want || math.Signbit(got) != math.Signbit(want)) {
			t.Fatalf("%q is %v, strconv gives %v", s, got, want)
		}
		if v, sign, ok2 := parseNumber([]byte(strings.Replace(s, ".", ",", 1)), true); ok && (!ok2 || v != got || sign == '.') {
			t.Fatalf("%q with a decimal comma is %v, %v", s, v, ok2)
		}
		if !ok && len(s) > 0 && !utf8.ValidString(explainNumber([]byte(s), false)) && utf8.ValidString(s) {
			t.Fatal("an explanation that is no text")
		}
	})
}

// FuzzRead holds that whatever the bytes, a table is taken in whole or not at
// all, and that what is taken in is finite and belongs to the study.
func FuzzRead(f *testing.F) {
	for _, s := range []string{
		long + "B1,25C60,tube,3M,viscosity,25000\nB1,25C60,tube,3M,viscosity,<25001\nB1,25C60,tube,6,pH,5.1\nB1,25C60,tube,0,look,slight\nB1,40C75,tube,0,look,1\n",
		dated + "B1,25C60,tube,,2025-04-13,2025-04-14,viscosity,1\nB2,40C75,tube,3M,2025-06-13,,pH,5\nB1,,tube,,2025-01-12,,leak,pass\nB1,25C60,tube,,2026-03-30,2026-03-29,pH,5\n",
		dated + "'B1,'25C60,tube,3M,13.04.2025,14/04/2025,viscosity,1\nB1,25C60,tube,3M,4/13/2025,2025/4/15,viscosity,1\n",
		masses + "B1,,tube,,0,weight,150.5,U1,21.5\nB1,25C60,tube,,3M,weight,149.5,U1,\nB1,25C60,jar,,0,weight,161,J2,\nB1,25C60,jar,inverted,3M,weight,159,J2,\n",
		masses + "B1,,tube,,0,weight,150,U1,21\nB1,25C60,tube,,3M,weight,14,U1,\nB1,40C75,tube,,0,weight,161,U1,22\nB1,40C75,tube,,1Y,weight,159,U1,\n",
		"\ufeffbatch;condition;pack;pulled;viscosity;pH;weight;unit;replicate\r\nB1;25C60;tube;2025-04-13;25000,5;5,1;;1;2\r\nB1;;tube;2025-01-13;;;150,25;1;\r\n",
		"batch\tcondition\tpack\ttime\tpH\tcomment\t\nB1\tfreeze\ttube\t5C\t5\t\"two\nlines\"\t\n",
		"batch,condition,pack,time,attribute,value,replicate\nB1,25C60,tube,3M,pH,5,2\nB1,25C60,tube,3M,pH,6,1\nB1,25C60,tube,3M,pH,6,2\n",
		"batch,condition,pack,time,attribute,value,replicate\nB1,25C60,tube,3M,pH,5,\nB1,25C60,tube,3M,pH,6,1\n",
		"batch,condition,pack,time,attribute,value,unit\nB1,25C60,tube,3M,weight,5,a\x1b\nB1,25C60,tube,3M,pH,6,a\x1b\nB1,25C60,tube,3M,pH,6,a\x1b\n",
		"study,batch,condition,pack,time,attribute,value,elapsed_months,result_id,amended_from,amended_because,amended_by,excluded_because,excluded_by,unit\nMB-26,B1,25C60,tube,3M,pH,5,9,R1-2-pH-X,6,typo,Ines,,,1\nMB-26,B1,25C60,tube,3M,pH,6,9,,,,,'=spilt,'=Bo,2\n,B1,25C60,tube,0,weight,150,,,,,,spilt,,w\n,B1,25C60,tube,3M,weight,149,,,,,,spilt,,w\n",
		"batch,condition\n\"B1", "\xff\xfea\x00", "PK\x03\x04", "a\rb\r", long, "",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		s := balm()
		d, err := Read(s, Source{Name: "r.csv", Reader: bytes.NewReader(data)})
		if err != nil {
			var faults *finding.Faults
			if d != nil || !errors.As(err, &faults) || len(faults.List) == 0 || len(faults.List) > listed {
				t.Fatalf("%v beside %v", d, err)
			}
			lines := bytes.Count(data, []byte("\n")) + 1
			for _, x := range faults.List {
				if strings.ContainsFunc(x.Text, unicode.IsControl) {
					t.Fatalf("a control character in %q", x.Text)
				}
				if x.File != "r.csv" || x.Line > lines || x.Text == "" || utf8.Valid(data) && !utf8.ValidString(x.String()) {
					t.Fatalf("fault %+v in %d lines", x, lines)
				}
			}
		} else {
			for _, r := range d.Results {
				a := s.Attributes[r.Attribute]
				if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) || math.IsNaN(r.Elapsed) || r.Elapsed < 0 || r.Value <= r.Tare ||
					int(r.Batch) >= len(s.Batches) || int(r.Condition) >= len(s.Conditions) || int(r.Orientation) >= len(s.Packs[r.Pack].Orientations) ||
					r.Condition < 0 && !r.Planned.IsZero() || len(a.Grades) > 0 && (r.Value < 0 || r.Value >= float64(len(a.Grades))) {
					t.Fatalf("result %+v", r)
				}
				for _, i := range []uint32{r.Unit, r.Replicate, r.Analyst, r.Method, r.Comment} {
					if !utf8.ValidString(d.Text(i)) {
						t.Fatalf("text %q", d.Text(i))
					}
				}
			}
			if d.Inputs[0].Rows < 1 {
				t.Fatal("results without rows")
			}
		}
		// The same bytes named twice are never taken in.
		if d, err := Read(s, Source{Name: "r.csv", Reader: bytes.NewReader(data)}, Source{Name: "copy.csv", Reader: bytes.NewReader(data)}); err == nil && len(d.Results) > 0 {
			t.Fatal("one table taken in twice")
		}
		Read(s, Source{Name: "r.csv", Reader: &slow{data, 3}}, Source{Name: "more.csv", Reader: bytes.NewReader(append(data, '\n'))})
	})
}

// FuzzReadAll holds of a ledger's reading, whatever the tables and whatever is
// changed in the first, what FuzzRead holds of one table; that every value is
// counted; that what is taken out comes by itself; and that a table that is handed
// in again, a line longer, changes nothing.
func FuzzReadAll(f *testing.F) {
	const labels = "batch,condition,pack,orientation,time,pulled,attribute,value,unit,replicate,tested,analyst\n"
	for _, tables := range [][2]string{
		{long + "B1,25C60,tube,3M,viscosity,25000\nB1,25C60,tube,3M,viscosity,<25001\nB1,25C60,tube,0,look,slight\nB1,40C75,tube,0,look,1\n", long + "B1,,tube,0,look,slight\n"},
		{labels + "B1,25C60,jar,inverted,3M,,pH,5,1,,,\n", labels + "B1,25C60,jar,inverted,3M,2025-04-14,pH,5.0,1,,2025-04-15,R\n"},
		{labels + "B1,,tube,,0,,weight,150,w,,,\nB1,25C60,tube,,3M,,weight,149,w,,,\n", labels + "B1,25C60,tube,,0,2025-01-13,weight,150,w,,,\nB1,25C60,tube,,6M,,weight,148,w,,,\n"},
		{labels + "B1,25C60,tube,,4M,,pH,5,,,,\nB1,25C60,tube,,4M,,pH,6,,,,\n", labels + "B1,25C60,tube,,4M,2025-05-13,pH,5,,,,\nB1,25C60,tube,,4M,,pH,7,,,,\n"},
		{labels + "B1,,jar,,0,,weight,150,mb-26/b1/jar/i/25c60/weight/1/0,,,\n", "batch;condition;pack;time;pH;look\nB1;25C60;tube;3M;5,25;none\n"},
	} {
		for kind := range byte(4) {
			f.Add([]byte(tables[0]), []byte(tables[1]), uint16(2+kind%2), kind, kind, "5,5", int32(20192+int32(kind)))
		}
	}
	f.Fuzz(func(t *testing.T, first, second []byte, line uint16, attribute, kind byte, value string, day int32) {
		s := balm()
		o := named
		o.PulledOn = func(_, _, _, _ int, at study.Duration) study.Date {
			if day == 0 || at.N%2 == 0 {
				return study.NoDate
			}
			return study.Date(day)
		}
		k := Cell{int(line), int(attribute) % len(s.Attributes)}
		change := []Correction{{Value: value}, {Exclude: true}, {Exclude: true}, {Restore: true}}
		tables := func(corrected bool, more ...[]byte) []Source {
			sources := []Source{{Name: "r.csv", Reader: bytes.NewReader(first)}}
			if corrected {
				sources[0].Corrections = map[Cell][]Correction{k: change[:1+kind%4]}
			}
			for i, data := range more {
				sources = append(sources, Source{Name: string(rune('a'+i)) + ".csv", Reader: bytes.NewReader(data)})
			}
			return sources
		}
		readAll := func(sources []Source) (*study.Dataset, []Count) {
			d, counts, err := ReadAll(s, o, sources...)
			if err != nil {
				var faults *finding.Faults
				if d != nil || counts != nil || !errors.As(err, &faults) || len(faults.List) == 0 || len(faults.List) > listed {
					t.Fatalf("%v and %v beside %v", d, counts, err)
				}
				for _, x := range faults.List {
					if strings.ContainsFunc(x.Text, unicode.IsControl) || x.Text == "" {
						t.Fatalf("fault %q", x.Text)
					}
				}
				return nil, nil
			}
			kept := 0
			for i, c := range counts {
				kept += c.Results
				if c.Superseded > c.Repeats || c.Rows != d.Inputs[i].Rows {
					t.Fatalf("%+v of %+v", c, d.Inputs[i])
				}
			}
			if kept != len(d.Results)+len(d.Excluded) {
				t.Fatalf("%+v, and %d results, %d out of the analysis", counts, len(d.Results), len(d.Excluded))
			}
			for _, r := range append(slices.Clone(d.Results), d.Excluded...) {
				if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) || math.IsNaN(r.Elapsed) || r.Elapsed < 0 || r.Value <= r.Tare || r.Condition < 0 && !r.Planned.IsZero() {
					t.Fatalf("result %+v", r)
				}
			}
			for _, r := range d.Results {
				if kind%4 == 1 && sources[0].Corrections != nil && (Cell{int(r.Line), int(r.Attribute)}) == k && r.Input == 0 {
					t.Fatal("what is out of the analysis is in it")
				}
			}
			return d, counts
		}
		readAll(tables(true, second, append(slices.Clone(first), '\n')))
		for _, corrected := range []bool{false, true} {
			alone, counts := readAll(tables(corrected))
			if alone == nil && !corrected {
				return // such a table is never taken in
			}
			if alone == nil {
				continue
			}
			if len(alone.Excluded) > 1 {
				t.Fatal("more taken out than one")
			}
			again, more := readAll(tables(corrected, append(slices.Clone(first), '\n')))
			if again == nil {
				t.Fatal("a table that says the same again is refused")
			}
			if more[1].Results > 0 || more[1].Repeats != counts[0].Results+counts[0].Repeats {
				t.Fatalf("%+v and again %+v", counts, more)
			}
			if diff := cmp.Diff(said(alone, alone.Results), said(again, again.Results)); diff != "" {
				t.Fatal(diff)
			}
			if diff := cmp.Diff(said(alone, alone.Excluded), said(again, again.Excluded)); diff != "" {
				t.Fatal(diff)
			}
		}
	})
}
