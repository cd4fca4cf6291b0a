package intake

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"shelfspan/study"
)

// What may be meant in two ways is refused, and not taken in one of them.
func TestDoubtfulIsRefused(t *testing.T) {
	ph := slices.IndexFunc(balm().Attributes, func(a study.Attribute) bool { return a.ID == "pH" })
	const head = "batch,condition,pack,time,attribute,value,unit\n"
	semicolons := "batch;condition;pack;time;attribute;value;unit\nB1;25C60;tube;3M;pH;31448;1\n"
	source := func(name, text string) Source { return Source{Name: name, Reader: strings.NewReader(text)} }
	amended := func(value string) Source {
		s := source("a.csv", semicolons)
		s.Corrections = map[Cell][]Correction{{2, ph}: {{Value: value}}}
		return s
	}
	for name, c := range map[string]struct {
		sources []Source
		want    string
	}{
		"a comma between thousands or before decimals": {[]Source{amended("31,848")},
			`a.csv:2: value: "31,848" may be meant with a sign between thousands or with three decimals; write it without the comma, or with a point`},
		"time zero with and without labels, under two conditions": {[]Source{
			source("a.csv", head+"B1,25C60,tube,0,pH,5,\nB1,25C60,tube,0,pH,6,\n"), source("b.csv", head+"B1,40C75,tube,0,pH,5,A\nB1,40C75,tube,0,pH,6,B\n")},
			"b.csv:2: value: pH of batch B1 in tube at 40C75, time 0, unit A: line 2 of a.csv has one of time zero too, and one of the two tables gives it neither unit nor replicate; label all results of time zero, or hand in the same ones"},
		"time zero that grows under another condition": {[]Source{
			source("a.csv", head+"B1,25C60,tube,0,pH,5,\n"), source("b.csv", head+"B1,40C75,tube,0,pH,5,\nB1,40C75,tube,0,pH,7,\n")},
			"b.csv:3: value: pH of batch B1 in tube at 40C75, time 0, unit 2: line 2 of a.csv has one of time zero too, and one of the two tables gives it neither unit nor replicate; label all results of time zero, or hand in the same ones"},
	} {
		t.Run(name, func(t *testing.T) {
			d, _, err := ReadAll(balm(), Options{Repeats: true}, c.sources...)
			if diff := cmp.Diff(c.want, faultsOf(t, d, err)); diff != "" {
				t.Error(diff)
			}
		})
	}
	for value, want := range map[string]float64{"31848": 31848, "31.848": 31.848, "5,25": 5.25} {
		if d, _, err := ReadAll(balm(), Options{Repeats: true}, amended(value)); err != nil || d.Results[0].Value != want {
			t.Errorf("%s: %v", value, err)
		}
	}
}

// Without a ledger's rules, corrections do nothing; and one of an attribute that
// there is not is a fault.
func TestCorrectionsOutOfPlace(t *testing.T) {
	const text = "batch,condition,pack,time,attribute,value,unit\nB1,25C60,tube,3M,pH,5,1\n"
	s := Source{Name: "a.csv", Reader: strings.NewReader(text), Corrections: map[Cell][]Correction{{2, 1}: {{Value: "6"}, {Exclude: true}}}}
	if d, err := Read(balm(), s); err != nil || len(d.Results) != 1 || d.Results[0].Value != 5 {
		t.Errorf("%v, %+v", err, d)
	}
	s.Reader, s.Corrections = strings.NewReader(text), map[Cell][]Correction{{2, 99}: {{Value: "6"}}}
	d, _, err := ReadAll(balm(), Options{}, s)
	if diff := cmp.Diff("a.csv:2: there is no result here to change", faultsOf(t, d, err)); diff != "" {
		t.Error(diff)
	}
}

// A label that only begins as ids of the study do is a lab's own.
func TestLabelsOfTheLab(t *testing.T) {
	for _, label := range []string{"MB-26/17", "MB-26-B1/1", "MB-26/x/1"} {
		if d, err := read("batch,condition,pack,time,attribute,value,unit\nB1,25C60,tube,3M,pH,5," + label + "\n"); err != nil || d.Text(d.Results[0].Unit) != label {
			t.Errorf("%s: %v", label, err)
		}
	}
}
