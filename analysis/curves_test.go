package analysis_test

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"shelfspan/analysis"
	"shelfspan/study"
	"shelfspan/testdata/reference"
)

// fitted evaluates a set of reference data as one attribute of a study.
func fitted(t *testing.T, data []map[string]string, set, model, limits string) *analysis.Analysis {
	t.Helper()
	var table strings.Builder
	table.WriteString("batch,condition,time,attribute,value\n")
	n := 0
	for _, r := range data {
		if r["set"] != set {
			continue
		}
		sign := map[string]string{"below": "<", "above": ">"}[r["side"]]
		condition := "25C60"
		if r["months"] == "0" {
			condition = ""
		}
		fmt.Fprintf(&table, "B%s,%s,%sM,assay,%s%s\n", r["batch"], condition, r["months"], sign, r["value"])
		n = max(n, int(number(t, r["batch"])))
	}
	toml := head + batches(n) + "\n[[attribute]]\nid = \"assay\"\nunit = \"%\"\nkind = \"measure\"\n" + limits + "\nmodel = \"" + model + "\"\n"
	e := analysis.Evaluate(dataset(t, toml, strings.ReplaceAll(table.String(), "0M,", "0,")), analysis.Options{Trends: true})
	for _, a := range e.Analyses {
		if e.Dataset.Study.Conditions[a.Condition].ID == "25C60" {
			return a
		}
	}
	t.Fatalf("nothing at 25C60: %v", e.Warnings)
	return nil
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	if s == "NA" {
		return math.Inf(1) // never
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// The lives of a study under a curve, and those of censored values, are R's.
func TestPathsOfAStudy(t *testing.T) {
	for _, c := range []struct{ folder, set, model, limit, limits string }{
		{"plateau", "thickens", "approach-to-plateau", "2", "upper = 33.0"},
		{"plateau", "thickens", "approach-to-plateau", "3", "upper = 10.0\nbasis = \"change-from-initial\""},
		{"plateau", "loses", "approach-to-plateau", "4", "lower = 90.0"},
		{"plateau", "parallel", "approach-to-plateau", "6", "lower = 43.0"},
		{"plateau", "apart", "approach-to-plateau", "7", "upper = 54.0"},
		{"plateau", "swells", "power-of-time", "9", "upper = 8.0"},
		{"tobit", "impurities", "zero-order", "2", "upper = 0.3"},
		{"tobit", "apart", "zero-order", "3", "upper = 0.3"},
		{"tobit", "parallel", "zero-order", "4", "upper = 0.5"},
		{"tobit", "thickens", "zero-order", "5", "upper = 260.0"},
		{"tobit", "vanishes", "zero-order", "6", "lower = 0.15"},
	} {
		t.Run(c.set+" "+c.limits, func(t *testing.T) {
			a := fitted(t, reference.Table(t, c.folder+"/data.csv"), c.set, c.model, c.limits)
			if len(a.Fits) == 0 || a.Model != c.model || (a.Curves != nil) != study.Model(c.model).Curved() || (a.Censored > 0) != (c.folder == "tobit") {
				t.Fatalf("%s by %q, %d curves, %d censored: %v", a.Status, a.Model, len(a.Curves), a.Censored, a.Warnings)
			}
			compared, shortest := 0, math.Inf(1)
			for _, r := range reference.Table(t, c.folder+"/lives.csv") {
				if r["set"] != c.set || r["limit"] != c.limit || r["decision"] != a.Pooling.Decision {
					continue
				}
				f := a.Fits[compared]
				compared++
				estimate, bound := number(t, r["estimate"]), number(t, r["bound"])
				if !nearMonths(f.Estimate, estimate) || !nearMonths(f.ShelfLife, bound) {
					t.Errorf("batch %s, %s: %.10g and %.10g, R has %.10g and %.10g", r["batch"], r["decision"], f.Estimate, f.ShelfLife, estimate, bound)
				}
				shortest = min(shortest, f.ShelfLife)
				if math.IsInf(bound, 1) {
					continue
				}
				// The limit of the mean drawn in a chart meets the criterion where the bound does.
				if mean, lower, upper := f.Curve(bound); a.Lower > math.Inf(-1) && !near5(lower, a.Lower) || a.Upper < math.Inf(1) && !near5(upper, a.Upper) {
					t.Errorf("at the bound of %g: mean %g, limits %g and %g; the criterion is %g to %g", bound, mean, lower, upper, a.Lower, a.Upper)
				}
				if mean, _, _ := f.Curve(estimate); a.Lower > math.Inf(-1) && !near5(mean, a.Lower) || a.Upper < math.Inf(1) && !near5(mean, a.Upper) {
					t.Errorf("at the estimate of %g: mean %g", estimate, mean)
				}
			}
			if compared != len(a.Fits) || a.ShelfLife != shortest {
				t.Errorf("%d of %d batches compared; shelf life %g", compared, len(a.Fits), a.ShelfLife)
			}
		})
	}
}

func nearMonths(a, b float64) bool { return a == b || math.Abs(a-b) <= 2e-6*b }

func near5(a, b float64) bool { return math.Abs(a-b) <= 1e-5*(1+math.Abs(b)) }

// A curve that the results do not show is not made of them: the line that stands
// for it is told.
func TestNoCurveInALine(t *testing.T) {
	var data []map[string]string
	for i, y := range []string{"100.1", "98.9", "98.0", "97.1", "95.8"} { // as good as straight, and hollow from above
		data = append(data, map[string]string{"set": "line", "batch": "1", "months": strconv.Itoa(3 * i), "value": y})
	}
	a := fitted(t, data, "line", "approach-to-plateau", "lower = 90.0")
	if a.Model != "zero-order" || a.Curves != nil || a.Status != analysis.Fitted {
		t.Errorf("%s by %q", a.Status, a.Model)
	}
	if !slicesHas(a, "no-curve") {
		t.Errorf("not told: %v", a.Warnings)
	}
}

func slicesHas(a *analysis.Analysis, code string) bool {
	for _, w := range a.Warnings {
		if w.Code == code {
			return true
		}
	}
	return false
}

// auto takes a curve where AICc tells it from every line, and the comparison has
// the AICc of R's fits: n·ln(2π·RSS/n) + n + 2k + 2k(k+1)/(n − k − 1), k = 3 curves'
// parameters a batch and the variance.
func TestAutoOffersCurves(t *testing.T) {
	a := fitted(t, reference.Table(t, "plateau/data.csv"), "parallel", "auto", "lower = 43.0")
	if a.Model != "approach-to-plateau" || len(a.Candidates) != 6 {
		t.Errorf("%q of %v", a.Model, a.Candidates)
	}
	var rss float64
	seen := map[string]bool{}
	for _, r := range reference.Table(t, "plateau/fits.csv") {
		if r["set"] == "parallel" && r["decision"] == "separate" && !seen[r["batch"]] {
			seen[r["batch"]] = true
			rss = number(t, r["rss"])
		}
	}
	n, k := 27.0, 10.0
	want := n*math.Log(2*math.Pi*rss/n) + n + 2*k + 2*k*(k+1)/(n-k-1)
	for _, c := range a.Candidates {
		if c.Model == study.ApproachToPlateau && !near(c.AICc, want) {
			t.Errorf("AICc %.9g, want %.9g", c.AICc, want)
		}
	}
}
