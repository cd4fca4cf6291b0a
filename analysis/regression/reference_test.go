package regression

import (
	"math"
	"strconv"
	"testing"

	"shelfspan/analysis/kinetics"
	"shelfspan/study"
	"shelfspan/testdata/reference"
)

// The reference numbers are R's: testdata/reference/pooling/pooling.R fits by
// lm, tests by anova and finds every crossing by uniroot on a limit made of
// vcov, none of it in the way it is done here.
func TestAgainstR(t *testing.T) {
	data := readData(t)
	cases, tests, lines := reference.Table(t, "pooling/cases.csv"), reference.Table(t, "pooling/tests.csv"), reference.Table(t, "pooling/lines.csv")
	next := 0
	for i, c := range cases {
		t.Run(c["case"], func(t *testing.T) {
			in := input(t, c, data)
			out, _ := Evaluate(in)
			want := tests[i]
			if string(out.Pooling.Decision) != want["decision"] {
				t.Errorf("decision %s, want %s", out.Pooling.Decision, want["decision"])
			}
			if out.OneSided != (want["one_sided"] == "TRUE") {
				t.Errorf("one-sided %v, want %s", out.OneSided, want["one_sided"])
			}
			same(t, "F of the slopes", out.Pooling.SlopesF, reference.Number(t, want["slopes_f"]))
			same(t, "p of the slopes", out.Pooling.SlopesP, reference.Number(t, want["slopes_p"]))
			same(t, "F of the intercepts", out.Pooling.InterceptsF, reference.Number(t, want["intercepts_f"]))
			same(t, "p of the intercepts", out.Pooling.InterceptsP, reference.Number(t, want["intercepts_p"]))
			same(t, "quantile", out.Quantile, reference.Number(t, want["quantile"]))
			same(t, "residual sd", out.ResidualSD, reference.Number(t, want["residual_sd"]))
			same(t, "degrees of freedom", float64(out.DF), reference.Number(t, want["df"]))

			shortest, limiting := math.Inf(1), -1
			for b, f := range out.Fits {
				line := lines[next]
				next++
				if line["case"] != c["case"] {
					t.Fatalf("lines.csv is at %q", line["case"])
				}
				same(t, "n", float64(f.N), reference.Number(t, line["n"]))
				same(t, "intercept", f.Intercept, reference.Number(t, line["intercept"]))
				same(t, "slope", f.Slope, reference.Number(t, line["slope"]))
				same(t, "slope's error", f.SlopeSE, reference.Number(t, line["slope_se"]))
				same(t, "estimate", f.Estimate, reference.Number(t, line["estimate_months"]))
				same(t, "shelf life", f.ShelfLife, reference.Number(t, line["shelf_life_months"]))
				if f.LimitedBy != line["limited_by"] {
					t.Errorf("limited by %q, want %q", f.LimitedBy, line["limited_by"])
				}
				mean, lower, upper := f.Curve(in.Baseline + 10)
				same(t, "mean at 10 months", mean, reference.Number(t, line["mean10"]))
				same(t, "lower limit at 10 months", lower, reference.Number(t, line["lower10"]))
				same(t, "upper limit at 10 months", upper, reference.Number(t, line["upper10"]))
				if life := reference.Number(t, line["shelf_life_months"]); life < shortest {
					shortest, limiting = life, b
				}
			}
			same(t, "overall shelf life", out.ShelfLife, shortest)
			if want["decision"] == "pooled" {
				limiting = -1
			}
			// root change: three equal slopes meet the limit together, up to rounding
			if out.Limiting != limiting && c["case"] != "root change" {
				t.Errorf("limiting batch %d, want %d", out.Limiting, limiting)
			}
		})
	}
	if next != len(lines) {
		t.Errorf("%d of %d lines compared", next, len(lines))
	}
}

// A case for each decision, so that none of them goes unchecked unnoticed.
func TestReferenceCoversEveryDecision(t *testing.T) {
	seen := map[string]int{}
	for _, row := range reference.Table(t, "pooling/tests.csv") {
		seen[row["decision"]]++
	}
	for _, d := range []string{"separate", "common-slope", "pooled"} {
		if seen[d] == 0 {
			t.Errorf("no reference case is %s", d)
		}
	}
}

func TestAICcAgainstR(t *testing.T) {
	data := readData(t)
	byData := map[string]map[kinetics.Model]float64{}
	for _, row := range reference.Table(t, "pooling/aicc.csv") {
		if byData[row["data"]] == nil {
			byData[row["data"]] = map[kinetics.Model]float64{}
		}
		byData[row["data"]][kinetics.Model(row["model"])] = reference.Number(t, row["aicc"])
	}
	// What the rule makes of R's numbers, read off aicc.csv: the lowest, where it
	// beats zero-order by more than 2.
	chosen := map[string]kinetics.Model{
		"alike": kinetics.ZeroOrder, "decay": kinetics.FirstOrder, "decay-alike": kinetics.FirstOrder,
		"intercepts-differ": kinetics.ZeroOrder, "level": kinetics.ZeroOrder, "reciprocal": kinetics.SecondOrder,
		"rising": kinetics.ZeroOrder, "root": kinetics.SquareRootTime, "slopes-differ": kinetics.ZeroOrder,
		"viscosity": kinetics.ZeroOrder,
	}
	if len(byData) != len(chosen) {
		t.Fatalf("%d data sets in aicc.csv, want %d", len(byData), len(chosen))
	}
	for name, want := range byData {
		model, candidates := kinetics.Choose([][][]Point{data[name]}, 0, study.BasisValue)
		for _, c := range candidates {
			same(t, name+" "+string(c.Model), c.AICc, want[c.Model])
		}
		if model != chosen[name] {
			t.Errorf("%s: chose %s, want %s", name, model, chosen[name])
		}
	}
	// Groups add up: with decay (first-order better by 21) beside root
	// (square-root-time better by 52 than zero-order, 46 than first-order).
	model, candidates := kinetics.Choose([][][]Point{data["decay"], data["root"]}, 0, study.BasisValue)
	for _, c := range candidates {
		same(t, "decay and root "+string(c.Model), c.AICc, byData["decay"][c.Model]+byData["root"][c.Model])
	}
	if model != kinetics.SquareRootTime {
		t.Errorf("decay and root together: chose %s", model)
	}
}

func input(t *testing.T, c map[string]string, data map[string][][]Point) Input {
	in := Input{
		Lower: reference.Number(t, c["lower"]), Upper: reference.Number(t, c["upper"]), Basis: study.Basis(c["basis"]),
		Direction: study.Direction(c["direction"]), Model: study.Model(c["model"]),
		Baseline: reference.Number(t, c["baseline"]), Alpha: reference.Number(t, c["alpha"]), Confidence: reference.Number(t, c["confidence"]),
	}
	for _, batch := range data[c["data"]] {
		var kept []Point
		for _, p := range batch {
			if p.Months >= in.Baseline {
				kept = append(kept, p)
			}
		}
		in.Batches = append(in.Batches, kept)
	}
	return in
}

func readData(t testing.TB) map[string][][]Point {
	data := map[string][][]Point{}
	for _, row := range reference.Table(t, "pooling/data.csv") {
		b, err := strconv.Atoi(row["batch"][1:])
		if err != nil {
			t.Fatal(err)
		}
		batches := data[row["data"]]
		for len(batches) < b {
			batches = append(batches, nil)
		}
		batches[b-1] = append(batches[b-1], Point{Months: reference.Number(t, row["months"]), Value: reference.Number(t, row["value"])})
		data[row["data"]] = batches
	}
	return data
}

// same asks for 9 significant digits, and for NaN and infinity where R has them.
func same(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.IsNaN(got) && math.IsNaN(want) || got == want {
		return
	}
	if !(math.Abs(got-want) <= 5e-10*math.Abs(want)) {
		t.Errorf("%s: %.15g, want %.15g", what, got, want)
	}
}
