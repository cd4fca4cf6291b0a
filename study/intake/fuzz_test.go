package intake

import (
	"bytes"
	"errors"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

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
		masses + "B1,,tube,,0,weight,150.5,U1,21.5\nB1,25C60,tube,,3M,weight,149.5,U1,\nB1,25C60,jar,,0,weight,161,J2,\nB1,25C60,jar,inverted,3M,weight,159,J2,\n",
		masses + "B1,,tube,,0,weight,150,U1,21\nB1,25C60,tube,,3M,weight,14,U1,\nB1,40C75,tube,,0,weight,161,U1,22\nB1,40C75,tube,,1Y,weight,159,U1,\n",
		"\ufeffbatch;condition;pack;pulled;viscosity;pH;weight;unit;replicate\r\nB1;25C60;tube;2025-04-13;25000,5;5,1;;1;2\r\nB1;;tube;2025-01-13;;;150,25;1;\r\n",
		"batch\tcondition\tpack\ttime\tpH\tcomment\t\nB1\tfreeze\ttube\t5C\t5\t\"two\nlines\"\t\n",
		"batch,condition,pack,time,attribute,value,replicate\nB1,25C60,tube,3M,pH,5,2\nB1,25C60,tube,3M,pH,6,1\nB1,25C60,tube,3M,pH,6,2\n",
		"batch,condition,pack,time,attribute,value,replicate\nB1,25C60,tube,3M,pH,5,\nB1,25C60,tube,3M,pH,6,1\n",
		"batch,condition,pack,time,attribute,value,unit\nB1,25C60,tube,3M,weight,5,a\x1b\nB1,25C60,tube,3M,pH,6,a\x1b\nB1,25C60,tube,3M,pH,6,a\x1b\n",
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
