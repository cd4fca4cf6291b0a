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

func TestProbe(t *testing.T) {
	codes := []string{analysis.CodeOutlier, analysis.CodeOutOfTrend, analysis.CodeLackOfFit, analysis.CodeNotNormal, analysis.CodeSpread, analysis.CodeBends, analysis.CodeTurns, analysis.CodeLeverage}
	fmt.Printf("%-28s", "")
	for _, k := range codes {
		fmt.Printf("%16s", k)
	}
	fmt.Println("   any")
	for _, c := range []truth{
		{"3x7x1", usualPulls, 3, 1, -0.4, 1, -1, nil},
		{"3x7x1 flat", usualPulls, 3, 1, 0, 1, -1, nil},
		{"3x7x2", usualPulls, 3, 2, -0.4, 1, -1, nil},
		{"3x7x3", usualPulls, 3, 3, -0.4, 1, -1, nil},
		{"1x7x1", usualPulls, 1, 1, -0.4, 1, -1, nil},
		{"1x5x1", []int{0, 3, 6, 9, 12}, 1, 1, -0.4, 1, -1, nil},
		{"1x5x1 flat", []int{0, 3, 6, 9, 12}, 1, 1, 0, 1, -1, nil},
		{"3x4x1", []int{0, 3, 6, 12}, 3, 1, -0.4, 1, -1, nil},
		{"3x4x2", []int{0, 3, 6, 12}, 3, 2, -0.4, 1, -1, nil},
		{"3x3x1", []int{0, 3, 6}, 3, 1, -0.4, 1, -1, nil},
		{"3x3x2", []int{0, 3, 6}, 3, 2, -0.4, 1, -1, nil},
		{"6x7x1", usualPulls, 6, 1, -0.4, 1, -1, nil},
		{"3x7x1 rounded to sd", usualPulls, 3, 1, -0.4, 1, 0, nil},
		{"3x7x2 rounded to sd flat", usualPulls, 3, 2, 0, 0, 0, nil},
		{"3x7x3 rounded to sd", usualPulls, 3, 3, -0.4, 1, 0, nil},
		{"3x7x1 rounded sd/10", usualPulls, 3, 1, -0.4, 1, 1, nil},
		{"3x7x1 plateau", usualPulls, 3, 1, 0, 1, -1, func(m float64) float64 { return -10 * math.Expm1(-0.5*m) }},
		{"3x7x1 peak 3@6", usualPulls, 3, 1, 0, 1, -1, func(m float64) float64 { return min(m/2, (24-m)/6) }},
		{"3x7x1 peak 6@6", usualPulls, 3, 1, 0, 1, -1, func(m float64) float64 { return min(m, (24-m)/3) }},
	} {
		const n = 2000
		e := panel(t, c, n, 2026)
		note, warn := map[string]int{}, map[string]int{}
		any := 0
		for _, a := range e.Analyses {
			if a.Diagnostics == nil {
				t.Fatal(c.name)
			}
			sn, sw := map[string]bool{}, map[string]bool{}
			for _, f := range a.Diagnostics.Findings {
				sn[f.Code] = true
				if f.Warned {
					sw[f.Code] = true
				}
			}
			for k := range sn {
				note[k]++
			}
			for k := range sw {
				warn[k]++
			}
			if len(sw) > 0 {
				any++
			}
		}
		fmt.Printf("%-28s", c.name)
		for _, k := range codes {
			fmt.Printf("   %6.4f/%6.4f", float64(note[k])/n, float64(warn[k])/n)
		}
		fmt.Printf("  %.3f\n", float64(any)/n)
	}
}
