package text

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"shelfspan/analysis"
	"shelfspan/study"
)

// charted is a study of two batches with one analysis of an assay that falls by 1 %
// a month from 100, its confidence limits 1 % to both sides.
func charted() *analysis.Evaluation {
	s := &study.Study{ID: "MB-26", StoreAt: 0, Claim: study.Duration{N: 9, Unit: study.Months},
		Packs:      []study.Pack{{ID: "tube", Orientations: []study.Orientation{study.Upright}}},
		Conditions: []study.Condition{{ID: "25C60"}}, Batches: []study.Batch{{ID: "B1"}, {ID: "B2"}},
		Attributes: []study.Attribute{
			{ID: "assay", Unit: "%", Kind: study.Measure, Lower: 90, Upper: math.Inf(1), Basis: study.BasisValue},
			{ID: "smell", Kind: study.Grade, Grades: []string{"none", "faint", "strong"}, Lower: math.Inf(-1), Upper: 1},
		}}
	a := &analysis.Analysis{Status: analysis.Fitted, Model: "zero-order", Lower: 90, Upper: math.Inf(1), Confidence: 0.95, ShelfLife: 9,
		Estimate: 10, LimitingBatch: -1, Pooling: analysis.Pooling{Decision: "pooled"}}
	for b := range 2 {
		a.Fits = append(a.Fits, analysis.Fit{Batch: b, Curve: func(m float64) (float64, float64, float64) { return 100 - m, 99 - m, 101 - m }})
		for _, m := range []float64{0, 3, 6, 12} {
			v := 100 - m
			if b == 1 && m < 6 {
				v += 3
			}
			a.Samples = append(a.Samples, analysis.Sample{Batch: b, Months: m, Value: v, Fitted: !(b == 1 && m == 3)})
		}
	}
	g := &analysis.Analysis{Attribute: 1, Status: analysis.Observed, Lower: math.Inf(-1), Upper: 1, ShelfLife: math.Inf(1), LimitingBatch: -1}
	for i, grade := range []float64{0, 0, 0, 1, 1, 2} {
		t := study.Duration{}
		if i > 2 {
			t = study.Duration{N: 3, Unit: study.Months}
		}
		g.Samples = append(g.Samples, analysis.Sample{Batch: i % 2, Planned: t, PlannedMonths: t.Months(0), Value: grade})
	}
	return &analysis.Evaluation{Dataset: &study.Dataset{Study: s, Texts: []string{""}}, Analyses: []*analysis.Analysis{a, g}}
}

func drawCharts(e *analysis.Evaluation, width int, g Glyphs) string {
	var b bytes.Buffer
	NewPrinter(&b, width, false).Charts(e, g)
	return b.String()
}

// The charts read aloud. Samples and limit reach from 88 to 103; with a fourteenth of
// that as room on both sides the eight lines hold 2.14 each, from the top down from
// 104.07, 101.93, 99.79, 97.64, 95.50, 93.36, 91.21, 89.07: so 103 stands on the first, 100
// on the second, 97 on the fourth, 94 on the fifth, the limit of 90 on the seventh
// and 88 on the last. Twelve months take 36 columns, three a month: samples stand in
// columns 0, 9, 18 and 36, and the claim of 9 months in column 27. Batch B2 lies 3 %
// higher at first and on B1 from 6 months on; its sample at 3 months, 100, was not
// fitted. The mean goes from 100 at the left to 88 at the right, a limit on either
// side.
func TestChartsReadAloud(t *testing.T) {
	grades := `
smell in tube at 25C60
units             0  3M
───────────────────────
strong (outside)  ·   1
faint             ·   2
none              3   ·
`
	for want, g := range map[string]Glyphs{`
assay in tube at 25C60, %
    |x                          :
100 |o...     ?                 :
    |.-------...                :
    |     ...-o----...          :
 95 |           ...----%-...    :
    |                 ...-------:..
 90 |=====================================
    |                           :  ...---%
    ++--------+--------+--------+--------+
     0        3        6        9       12
Months. o B1; x B2; % several; ? not
fitted; - mean of all, . 95 % limit; =
criterion; : claim 9; bound at 9.0.
` + grades: Plain, `
assay in tube at 25C60, %
    │■                          ┊
100 │●⠠ ⡀     ○                 ┊
    │⠂⠩⠑⡒⠬⠤⣂⡠ ⡀                 ┊
    │    ⠈ ⠂⠨⠉●⢪⠤⢆⣠ ⠄⢀          ┊
 95 │            ⠁⠐⠉⠕⢒⠤◉⣐⡀⠄⢀    ┊
    │                  ⠁⠐⠈⠍⢒⠢⠥⢔⣀⠄⢀
 90 │━━━━━━━━━━━━━━━━━━━━━━━━⠁⠐━⠍⠱⠒⡥⠴⣀⡂⠠━⡀
    │                           ┊   ⠈ ⠊⠩⠒◉
    └┴────────┴────────┴────────┴────────┴
     0        3        6        9       12
Months. ● B1; ■ B2; ◉ several; ○ not
fitted; dotted line: mean of all, dots
apart: 95 % limit; ━ criterion; ┊ claim 9;
bound at 9.0.
` + grades: Unicode} {
		if got := drawCharts(charted(), 42, g); got != want {
			t.Errorf("got\n%s\nwant\n%s", got, want)
		}
	}
}

// No line is wider than the terminal, whatever the terminal, and a chart is no
// wider than it has use of.
func TestChartsKeepTheWidth(t *testing.T) {
	for _, width := range []int{1, 40, 41, 80, 99, 300} {
		for _, g := range []Glyphs{Plain, Unicode} {
			for line := range strings.SplitSeq(drawCharts(charted(), width, g), "\n") {
				if n := textWidth(line); n > max(min(width, 200), minWidth) {
					t.Errorf("at %d columns a line has %d: %s", width, n, line)
				}
			}
		}
	}
	for _, r := range drawCharts(charted(), 80, Plain) {
		if r > 126 && r != '─' && r != '·' { // of tables
			t.Errorf("a plain chart has %q", r)
		}
	}
}

// Values that make no scale are drawn or told, never a fault.
func TestChartsOfOddValues(t *testing.T) {
	for name, change := range map[string]func(*analysis.Analysis){
		"no samples": func(a *analysis.Analysis) { a.Samples = nil },
		"no number":  func(a *analysis.Analysis) { a.Samples = a.Samples[:1]; a.Samples[0].Value = math.NaN() },
		"one value":  func(a *analysis.Analysis) { a.Samples = a.Samples[:1]; a.Fits, a.Lower = nil, math.Inf(-1) },
		"huge":       func(a *analysis.Analysis) { a.Samples[0].Value, a.Samples[1].Value = 1e300, -1e300 },
		"tiny": func(a *analysis.Analysis) {
			a.Samples = a.Samples[:1]
			a.Samples[0].Value, a.Lower = 1e-300, math.Inf(-1)
		},
		"a mad curve": func(a *analysis.Analysis) {
			a.Fits[0].Curve = func(m float64) (float64, float64, float64) { return math.Inf(1), math.NaN(), -1e300 }
		},
		"a long study":  func(a *analysis.Analysis) { a.Samples[3].Months = 1200 },
		"a far claim":   func(a *analysis.Analysis) { a.ShelfLife = math.Inf(1) },
		"many batches":  func(a *analysis.Analysis) { a.Samples[0].Batch = 1 },
		"nothing known": func(a *analysis.Analysis) { *a = analysis.Analysis{ShelfLife: math.NaN(), LimitingBatch: -1} },
	} {
		e := charted()
		change(e.Analyses[0])
		out := drawCharts(e, 80, Unicode)
		if strings.Contains(out, "NaN") || strings.Contains(out, "Inf") || !strings.Contains(out, "assay in tube at 25C60") {
			t.Errorf("%s:\n%s", name, out)
		}
	}
}
