package dossier

import (
	"reflect"
	"testing"

	"shelfspan/analysis"
	"shelfspan/study"
)

func month(n int32) study.Duration { return study.Duration{N: n, Unit: study.Months} }

func sampleAt(batch int, months int32, v float64) analysis.Sample {
	s := analysis.Sample{Batch: batch, Planned: month(months), PlannedMonths: float64(months), Value: v, Low: v, High: v, Readings: 1, InWindow: true}
	if months == 0 {
		s.Planned = study.Duration{}
	}
	return s
}

// TestArmsShowWhatIsMissing: an arm has the pulls of its condition, also those it
// lacks, its own times off the plan and nobody else's, and each attribute once.
func TestArmsShowWhatIsMissing(t *testing.T) {
	off := sampleAt(1, 0, 7)
	off.PlannedMonths = 4.24
	s := &study.Study{Conditions: make([]study.Condition, 2), Batches: make([]study.Batch, 2), Attributes: make([]study.Attribute, 2)}
	e := &analysis.Evaluation{Dataset: &study.Dataset{Study: s}, Analyses: []*analysis.Analysis{
		{Attribute: 0, Condition: 1, Samples: []analysis.Sample{sampleAt(0, 0, 1), sampleAt(0, 3, 2), sampleAt(0, 3, 3), sampleAt(1, 0, 4)}},
		{Attribute: 1, Condition: 1, Samples: []analysis.Sample{sampleAt(0, 6, 5), sampleAt(1, 0, 6), off}},
		{Attribute: 0, Condition: 0, Samples: []analysis.Sample{sampleAt(0, 12, 8)}},
	}}
	type row struct {
		attribute int
		counts    []int
	}
	type arm struct {
		condition, batch int
		times            []string
		rows             []row
	}
	var got []arm
	for _, a := range Arms(e) {
		g := arm{condition: a.Condition, batch: a.Batch}
		for _, at := range a.Times {
			g.times = append(g.times, at.Text)
		}
		for _, r := range a.Rows {
			n := make([]int, len(r.Shown))
			for i, s := range r.Shown {
				n[i] = len(s.Samples)
			}
			g.rows = append(g.rows, row{r.Attribute, n})
		}
		got = append(got, g)
	}
	want := []arm{
		{0, 0, []string{"12M"}, []row{{0, []int{1}}}},
		{1, 0, []string{"0", "3M", "6M"}, []row{{0, []int{1, 2, 0}}, {1, []int{0, 0, 1}}}},
		{1, 1, []string{"0", "3M", "4.2 M, off plan", "6M"}, []row{{0, []int{1, 0, 0, 0}}, {1, []int{1, 0, 1, 0}}}},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
}

// TestUnitsAreListedWhereTheRangeHidesThem: of three units, and of two that were
// read twice; not of two whose range shows both, nor of units alike in print.
func TestUnitsAreListedWhereTheRangeHidesThem(t *testing.T) {
	at := &study.Attribute{Kind: study.Measure, Decimals: 1}
	read := func(readings int, values ...float64) Shown {
		var out Shown
		for _, v := range values {
			out.Samples = append(out.Samples, &analysis.Sample{Value: v, Low: v - 0.5*float64(readings-1), High: v + 0.5*float64(readings-1), Readings: readings, InWindow: true})
		}
		return out
	}
	for _, c := range []struct {
		shown              Shown
		text, under, units string
	}{
		{read(1, 9.2), "9.2", "", ""},
		{read(1, 9.2, 9.6), "9.4", "9.2–9.6", ""},
		{read(2, 9.2, 9.6), "9.4", "8.7–10.1", "9.2 9.6"},
		{read(1, 9.2, 9.6, 9.4), "9.4", "9.2–9.6", "9.2 9.6 9.4"},
		{read(1, 9.21, 9.22, 9.23), "9.2", "", ""},
	} {
		var used Signs
		if got := CellOf(at, c.shown, &used); got.Text != c.text || got.Under != c.under || got.Units != c.units {
			t.Errorf("got %+v, want %q %q %q", got, c.text, c.under, c.units)
		}
	}
}
