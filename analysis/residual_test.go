package analysis_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"shelfspan/analysis"
	"shelfspan/study"
	"shelfspan/testdata/reference"
)

// What the lines leave over is what R's lm leaves over, on the value's scale
// whatever scale the line is fitted on; see testdata/reference/fit-residuals.
func TestResidualsAgainstR(t *testing.T) {
	data := reference.Table(t, "fit-residuals/residuals.csv")
	for _, model := range []string{"zero-order", "first-order"} {
		var table strings.Builder
		table.WriteString("batch,condition,time,attribute,value,unit\n")
		want := map[string][2]float64{}
		for i, r := range data {
			if r["attribute"] == model {
				condition, time := "25C60", r["months"]+"M"
				if r["months"] == "0" {
					condition, time = "", "0"
				}
				fmt.Fprintf(&table, "%s,%s,%s,assay,%s,u%d\n", r["batch"], condition, time, r["value"], i)
				want[fmt.Sprintf("u%d", i)] = [2]float64{number(t, r["residual"]), number(t, r["normal"])}
			}
		}
		toml := head + batches(2) + "\n[[attribute]]\nid = \"assay\"\nunit = \"%\"\nkind = \"measure\"\nunits = 2\nlower = 20\nmodel = \"" + model + "\"\n"
		e := analysis.Evaluate(dataset(t, toml, table.String()), analysis.Options{Trends: true})
		var a *analysis.Analysis
		for _, x := range e.Analyses {
			if e.Dataset.Study.Conditions[x.Condition].ID == "25C60" {
				a = x
			}
		}
		at := &e.Dataset.Study.Attributes[a.Attribute]
		if a.Pooling.Decision != "separate" {
			t.Fatalf("%s: lines are %s", model, a.Pooling.Decision)
		}
		got := a.Residuals(at)
		if len(got) != len(want) {
			t.Fatalf("%s: %d residuals, want %d", model, len(got), len(want))
		}
		for _, r := range got {
			w := want[r.Sample.Unit]
			if math.Abs(r.Value-w[0]) > 1e-10 || math.Abs(r.Normal-w[1]) > 1e-9 {
				t.Errorf("%s, %s: %.12g at %.12g, R has %.12g at %.12g", model, r.Sample.Unit, r.Value, r.Normal, w[0], w[1])
			}
		}

		for _, r := range reference.Table(t, "fit-residuals/lines.csv") {
			if r["attribute"] != model {
				continue
			}
			if centre, spread := analysis.QuantileLine(got); math.Abs(centre-number(t, r["centre"])) > 1e-10 || math.Abs(spread-number(t, r["spread"])) > 1e-10 {
				t.Errorf("%s: the line is %.12g and %.12g, R has %s and %s", model, centre, spread, r["centre"], r["spread"])
			}
		}
		at.Sampling = study.Returned
		if a.Residuals(at) != nil {
			t.Error("units that are put back have residuals of their own lines, not of the mean")
		}
	}
}
