package protocol

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"shelfspan/study"
	"shelfspan/study/finding"
)

// FuzzRead holds that no file makes Read panic, that what it refuses it
// refuses with located faults, and that what it accepts is whole.
func FuzzRead(f *testing.F) {
	f.Add([]byte(base)) // not the templates: the fuzzer would spend its time on making them smaller
	for _, text := range []string{
		"", "[", "[[a]]\n[a]\n", "a.b.c.d.e = 1\na = 2\n", "[study]\nid = \"\"\"x\n", "condition = [[{}], 1, {id = 1}]\n",
		"[study.id]\n[study]\nid = 1\n", "[[condition]]\npulls = [\"0\", \"1C\", \"1Y\"]\ncycle_hours = 1e-300\nrole = \"cycling\"\n",
		"[[batch]]\n[batch.factors]\n\"\" = \"\"\n", "\xff\xfe", "a = \"\\", "a = 1979-05-27 07", "[ a . 'b' ]\r\nx=0x_1\r\n",
		strings.Replace(base, "[[batch]]", "[[batch]", 1), strings.Replace(base, "= 25.0", "= 25,0", 1),
		"[[condition]]\nrole = \"long-term\"\n[[condition]]\nrole = \"long-term\"\n",
	} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		before := bytes.Clone(data)
		s, err := Read("study.toml", data)
		if !bytes.Equal(before, data) {
			t.Fatal("the file's bytes were changed")
		}
		if err == nil {
			if err := consistent(s); err != nil {
				t.Fatalf("accepted, but %v", err)
			}
			return
		}
		var faults *finding.Faults
		if s != nil || !errors.As(err, &faults) || len(faults.List) == 0 {
			t.Fatalf("refused with study %v and error %T", s, err)
		}
		lines := 1 + bytes.Count(data, []byte("\n"))
		last := 1
		for _, x := range faults.List {
			if x.Line < last || x.Line > lines || x.File != "study.toml" || x.Text == "" || !utf8.ValidString(x.String()) {
				t.Fatalf("fault %q on line %d of %d after line %d", x, x.Line, lines, last)
			}
			last = x.Line
		}
	})
}

// consistent checks what every other package takes for granted of a study.
func consistent(s *study.Study) error {
	ids := map[string]bool{}
	fresh := func(what, id string) error {
		if id == "" || strings.IndexFunc(id, notInID) >= 0 || ids[what+strings.ToLower(id)] {
			return fmt.Errorf("%s id %q", what, id)
		}
		ids[what+strings.ToLower(id)] = true
		return nil
	}
	finite := func(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
	var errs []error
	expect := func(ok bool, format string, args ...any) {
		if !ok {
			errs = append(errs, fmt.Errorf(format, args...))
		}
	}
	errs = append(errs, fresh("study", s.ID))
	expect(s.Start >= firstDay && s.Start <= lastDay, "start %v", s.Start)
	expect(s.Confidence > 0.5 && s.Confidence < 1 && s.PoolAlpha > 0 && s.PoolAlpha < 1, "levels %v %v", s.Confidence, s.PoolAlpha)
	expect(s.StoreAt >= -1 && s.StoreAt < len(s.Conditions), "store_at %d", s.StoreAt)
	expect(len(s.Conditions) > 0 && len(s.Batches) > 0 && len(s.Packs) > 0 && len(s.Attributes) > 0, "a section is empty")
	expect(s.Calendar.Workdays != [7]bool{}, "no workdays")
	for i, w := range s.Calendar.Windows {
		expect(i == 0 || w.UpTo.Months(0) > s.Calendar.Windows[i-1].UpTo.Months(0), "windows %v", s.Calendar.Windows)
		expect(w.Days >= 0 && !w.UpTo.IsZero(), "window %v", w)
	}
	for i := range s.Conditions {
		c := &s.Conditions[i]
		errs = append(errs, fresh("condition", c.ID))
		expect(finite(c.Temperature) || c.Role == study.Cycling, "temperature %v", c.Temperature)
		expect(math.IsNaN(c.Humidity) || c.Humidity >= 0 && c.Humidity <= 100, "humidity %v", c.Humidity)
		expect(finite(c.TemperatureTolerance) && finite(c.HumidityTolerance) && finite(c.CycleHours), "tolerances of %v", c)
		expect(c.Chamber >= -1 && c.Chamber < len(s.Chambers), "chamber %d", c.Chamber)
		expect(len(c.Pulls) > 0, "no pulls")
		for j, p := range c.Pulls {
			expect(c.Months(p) >= 0 && c.Months(p) <= maxMonths, "pull %v", p)
			expect(j == 0 || c.Months(p) > c.Months(c.Pulls[j-1]), "pulls %v", c.Pulls)
			expect(p.Unit != study.Cycles || c.CycleHours > 0, "cycles without hours")
		}
	}
	for _, c := range s.Chambers {
		errs = append(errs, fresh("chamber", c.ID))
	}
	for _, b := range s.Batches {
		errs = append(errs, fresh("batch", b.ID))
	}
	for _, p := range s.Packs {
		if len(s.Packs) > 1 || p.ID != "" {
			errs = append(errs, fresh("pack", p.ID))
		}
		expect(len(p.Orientations) > 0 && len(p.Orientations) <= 3, "orientations %v", p.Orientations)
	}
	for i := range s.Attributes {
		a := &s.Attributes[i]
		errs = append(errs, fresh("attribute", a.ID))
		expect(a.Lower < a.Upper, "limits %v %v", a.Lower, a.Upper)
		expect(a.Kind != study.Grade || len(a.Grades) >= 2, "grades %v", a.Grades)
		expect(a.Kind != study.PassFail || a.Upper == 0 && math.IsInf(a.Lower, -1), "pass-fail limits %v %v", a.Lower, a.Upper)
		expect(a.Units >= 1 && a.Replicates >= 1 && a.Decimals >= -1, "counts of %v", a)
		expect((a.Conditions == nil || len(a.Conditions) > 0) && (a.Packs == nil || len(a.Packs) > 0), "places of %v", a)
		for _, c := range a.Conditions {
			expect(c >= 0 && c < len(s.Conditions), "condition %d", c)
		}
		for _, p := range a.Packs {
			expect(p >= 0 && p < len(s.Packs), "pack %d", p)
		}
	}
	return errors.Join(errs...)
}
