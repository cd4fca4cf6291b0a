package tolerance

import (
	"math"
	"strconv"
	"testing"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/pooling"
	"shelfspan/testdata/reference"
)

// testdata/reference/tolerance/tolerance.R fits by lm, takes k from R's qt(ncp=)
// and finds the times by uniroot.
func TestAgainstR(t *testing.T) {
	data := map[string]map[string]*pooling.Batch{}
	for _, row := range reference.Table(t, "pooling/data.csv") {
		if data[row["data"]] == nil {
			data[row["data"]] = map[string]*pooling.Batch{}
		}
		b := data[row["data"]][row["batch"]]
		if b == nil {
			b = &pooling.Batch{}
			data[row["data"]][row["batch"]] = b
		}
		b.X, b.Y = append(b.X, reference.Number(t, row["months"])), append(b.Y, reference.Number(t, row["value"]))
	}
	answers := reference.Table(t, "tolerance/answers.csv")
	seen := map[pooling.Decision]bool{}
	for _, c := range reference.Table(t, "tolerance/cases.csv") {
		t.Run(c["case"], func(t *testing.T) {
			in := Input{
				Limits: []kinetics.Limit{{Share: reference.Number(t, c["share"]), Level: reference.Number(t, c["level"]), Above: c["above"] == "TRUE"}},
				Alpha:  reference.Number(t, c["alpha"]),
				Level:  Level{reference.Number(t, c["coverage"]), reference.Number(t, c["confidence"])},
			}
			for i := range len(data[c["data"]]) {
				b := data[c["data"]]["B"+strconv.Itoa(i+1)]
				y := append([]float64(nil), b.Y...)
				if c["scale"] == "log" {
					for j := range y {
						y[j] = math.Log(y[j])
					}
				}
				in.Batches = append(in.Batches, pooling.Batch{X: b.X, Y: y})
			}
			out, _ := Evaluate(in)
			if len(out.Fits) != len(in.Batches) {
				t.Fatalf("%d fits: %+v", len(out.Fits), out)
			}
			seen[out.Pooling.Decision] = true
			for i, f := range out.Fits {
				want := answers[0]
				answers = answers[1:]
				if want["case"] != c["case"] || want["batch"] != "B"+strconv.Itoa(i+1) {
					t.Fatalf("answers.csv is at %v", want)
				}
				if string(out.Pooling.Decision) != want["decision"] {
					t.Fatalf("decision %s, want %s", out.Pooling.Decision, want["decision"])
				}
				line := out.Pooling.Lines[i].AgainstInitial(in.Limits[0].Share)
				same(t, "residual sd", line.S, reference.Number(t, want["s"]))
				same(t, "degrees of freedom", float64(line.DF), reference.Number(t, want["df"]))
				same(t, "leverage at 10", leverage(line, 10), reference.Number(t, want["leverage10"]))
				same(t, "k at 10", in.Factor(reference.Number(t, want["leverage10"]), line.DF), reference.Number(t, want["k10"]))
				same(t, "estimate", f.Estimate, reference.Number(t, want["estimate"]))
				same(t, "shelf life", f.ShelfLife, reference.Number(t, want["shelf_life"]))
			}
		})
	}
	if len(answers) > 0 || len(seen) != 3 {
		t.Errorf("%d answers left; decisions seen: %v", len(answers), seen)
	}
}

func same(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(got == want || math.Abs(got-want) <= 1e-9*math.Abs(want)) {
		t.Errorf("%s %.14g, want %.14g", what, got, want)
	}
}
