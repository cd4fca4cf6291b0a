package simulate_test

import (
	"bytes"
	"testing"

	"shelfspan/analysis/simulate"
	"shelfspan/study/intake"
	"shelfspan/study/protocol"
)

// The project's measurements of speed stand by these numbers.
func TestSizes(t *testing.T) {
	for _, c := range []struct {
		z    simulate.Size
		rows int
	}{{simulate.Panel, 200 * 84}, {simulate.Thousand, 1000}, {simulate.Million, 1000000}} {
		if got := c.z.Rows(); got != c.rows {
			t.Errorf("%+v: %d rows, want %d", c.z, got, c.rows)
		}
	}
}

// Study and results belong together: the results are taken in whole, each its
// own and within its pull's window.
func TestSyntheticStudyIsTakenIn(t *testing.T) {
	for _, z := range []simulate.Size{simulate.Panel, simulate.Thousand, {Attributes: 2, Batches: 2, Conditions: 3, Times: 3, Units: 1}} {
		var file, results bytes.Buffer
		if err := z.WriteStudy(&file); err != nil {
			t.Fatal(err)
		}
		if err := z.WriteResults(&results, 1); err != nil {
			t.Fatal(err)
		}
		s, err := protocol.Read("study.toml", file.Bytes())
		if err != nil {
			t.Fatalf("%+v: %v", z, err)
		}
		d, err := intake.Read(s, intake.Source{Name: "results.csv", Reader: &results})
		if err != nil {
			t.Fatalf("%+v: %v", z, err)
		}
		if len(d.Results) != z.Rows() || d.Inputs[0].Rows != z.Rows() {
			t.Errorf("%+v: %d results of %d rows taken in, want %d", z, len(d.Results), d.Inputs[0].Rows, z.Rows())
		}
		for _, w := range d.Warnings {
			t.Errorf("%+v: %v", z, w)
		}
		for _, r := range d.Results {
			if !r.InWindow || r.OffPlan {
				t.Fatalf("%+v: line %d is off its plan", z, r.Line)
			}
		}
	}
}
