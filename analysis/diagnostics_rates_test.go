package analysis_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"shelfspan/analysis"
)

// truth is how the results of a simulated panel come about: every attribute is a
// study of its own of three batches, as alike as batches of one product are.
type truth struct {
	name     string
	months   []int
	batches  int
	units    int
	slope    float64 // per month
	apart    float64 // standard deviation of the batches' intercepts, and a hundredth of it of their slopes
	decimals int
	mean     func(months float64) float64 // beside the line
}

var usualPulls = []int{0, 3, 6, 9, 12, 18, 24}

// panel evaluates so many attributes of a truth with a normal error of standard
// deviation 1 about 100.
func panel(t testing.TB, c truth, attributes int, seed uint64) *analysis.Evaluation {
	var toml, csv strings.Builder
	toml.WriteString("[study]\nid = \"N\"\nstart = 2025-01-13\nstore_at = \"25C60\"\n[[condition]]\nid = \"25C60\"\nrole = \"long-term\"\ntemperature = 25.0\npulls = [\"0\"")
	for _, m := range c.months[1:] {
		fmt.Fprintf(&toml, ", \"%dM\"", m)
	}
	toml.WriteString("]\n")
	for b := range c.batches {
		fmt.Fprintf(&toml, "[[batch]]\nid = \"B%d\"\n", b+1)
	}
	csv.WriteString("batch,condition,time,attribute,unit,value\n")
	random := rand.New(rand.NewPCG(seed, 41))
	for a := range attributes {
		fmt.Fprintf(&toml, "[[attribute]]\nid = \"a%d\"\nunit = \"%%\"\nkind = \"measure\"\nlower = 50.0\nmodel = \"zero-order\"\nunits = %d\n", a, c.units)
		if c.decimals >= 0 {
			fmt.Fprintf(&toml, "decimals = %d\n", c.decimals)
		}
		for b := range c.batches {
			at, slope := 100+c.apart*random.NormFloat64(), c.slope+c.apart/100*random.NormFloat64()
			for _, m := range c.months {
				for u := range c.units {
					y := at + slope*float64(m) + random.NormFloat64()
					if c.mean != nil {
						y += c.mean(float64(m))
					}
					places := c.decimals
					if places < 0 {
						places = 6
					}
					fmt.Fprintf(&csv, "B%d,25C60,%dM,a%d,u%d,%.*f\n", b+1, m, a, u, places, y)
				}
			}
		}
	}
	return analysis.Evaluate(dataset(t, toml.String(), csv.String()), analysis.Options{Trends: true})
}

// found gives the shares of the analyses that have a finding of each code, noted or
// warned of, and that have one warned of; of "any" warned of at all.
func found(t testing.TB, e *analysis.Evaluation) (noted, warned map[string]float64) {
	noted, warned = map[string]float64{}, map[string]float64{}
	one := 1 / float64(len(e.Analyses))
	for _, a := range e.Analyses {
		if a.Diagnostics == nil {
			t.Fatal("an analysis was not tested")
		}
		n, w := map[string]float64{}, map[string]float64{}
		for _, f := range a.Diagnostics.Findings {
			n[f.Code] = one
			if f.Warned {
				w[f.Code], w["any"] = one, one
			}
		}
		for k := range n {
			noted[k] += one
		}
		for k := range w {
			warned[k] += one
		}
	}
	return noted, warned
}

// TestRatesOfFindings: how often each finding comes by chance where all is in order,
// and how often a planted fault is found. 2000 analyses a setting; three standard
// errors of a share are 0.0067 at 0.01 and 0.0146 at 0.05. The table in DEVELOPERS.md
// is of 10,000 a setting.
func TestRatesOfFindings(t *testing.T) {
	const n = 2000
	codes := []string{analysis.CodeOutlier, analysis.CodeLackOfFit, analysis.CodeNotNormal, analysis.CodeSpread, analysis.CodeBends, analysis.CodeTurns}
	for _, c := range []truth{
		{"one result a pull", usualPulls, 3, 1, -0.4, 1, -1, nil},
		{"two results a pull", usualPulls, 3, 2, -0.4, 1, -1, nil},
		{"level, rounded to the standard deviation", usualPulls, 3, 2, 0, 0, 0, nil},
		{"one batch of five pulls", []int{0, 3, 6, 9, 12}, 1, 1, -0.4, 1, -1, nil},
	} {
		noted, warned := found(t, panel(t, c, n, 2026))
		for _, k := range codes {
			if noted[k] > 0.05+0.0146 || warned[k] > 0.01+0.0067 {
				t.Errorf("%s: %s noted in %.4f and warned of in %.4f of the analyses", c.name, k, noted[k], warned[k])
			}
		}
		// Three batches against their own lines and one against the two before: at the
		// most as if the four were independent.
		if k := analysis.CodeOutOfTrend; noted[k] > 1-math.Pow(0.95, 4)+0.026 || warned[k] > 1-math.Pow(0.99, 4)+0.013 {
			t.Errorf("%s: %s noted in %.4f and warned of in %.4f of the analyses", c.name, k, noted[k], warned[k])
		}
		if warned["any"] > 0.1 {
			t.Errorf("%s: something warned of in %.4f of the analyses", c.name, warned["any"])
		}
	}
	plateau := func(m float64) float64 { return -10 * math.Expm1(-0.5*m) }
	peak := func(m float64) float64 { return min(m, (24-m)/3) } // to 6 standard deviations at 6 months
	if _, w := found(t, panel(t, truth{"", usualPulls, 3, 1, 0, 1, -1, plateau}, n/2, 2026)); w[analysis.CodeTurns] > 0.0167 || w[analysis.CodeBends] < 0.9 {
		t.Errorf("a plateau turns round in %.4f and bends in %.4f of the analyses", w[analysis.CodeTurns], w[analysis.CodeBends])
	}
	if _, w := found(t, panel(t, truth{"", usualPulls, 3, 1, 0, 1, -1, peak}, n/2, 2026)); w[analysis.CodeTurns] < 0.95 || w["any"]-w[analysis.CodeTurns] > 0.05 {
		t.Errorf("a peak turns round in %.4f of the analyses, and something else is told in %.4f", w[analysis.CodeTurns], w["any"]-w[analysis.CodeTurns])
	}
}
