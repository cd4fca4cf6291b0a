package analysis_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"shelfspan/analysis"
)

// rows writes results of assay of one batch at a condition.
func rows(batch, condition string, times []string, values ...float64) string {
	var b strings.Builder
	for i, v := range values {
		c := condition
		if times[i] == "0" {
			c = ""
		}
		fmt.Fprintf(&b, "%s,%s,%s,assay,%g\n", batch, c, times[i], v)
	}
	return b.String()
}

const columns = "batch,condition,time,attribute,value\n"

var fivePulls = []string{"0", "3M", "6M", "9M", "12M"}

func finding(a *analysis.Analysis, code string) *analysis.Finding {
	for i := range a.Diagnostics.Findings {
		if f := &a.Diagnostics.Findings[i]; f.Code == code {
			return f
		}
	}
	return nil
}

// hot is no change in six months when hot.
func hot(batch string) string {
	return rows(batch, "40C75", []string{"3M", "6M"}, 97, 97)
}

// A course that rises and then falls is judged as where no regression can be made:
// 1.5X and X + 6 of X = 12 are 18 months, where a line would have been given 2X and
// X + 12 = 24. The line's bound stays where it is shorter.
func TestTurnNeverLengthens(t *testing.T) {
	peak := columns + rows("B1", "25C60", fivePulls, 97.0, 98.6, 99.9, 98.5, 96.9) + hot("B1") +
		rows("B2", "25C60", fivePulls, 97.2, 98.5, 100.1, 98.4, 97.1) + hot("B2") +
		rows("B3", "25C60", fivePulls, 96.9, 98.4, 100.0, 98.6, 97.0) + hot("B3")
	for _, c := range []struct {
		lower     string
		limitedBy string
	}{{"80.0", "extrapolation"}, {"96.6", "regression"}} {
		e := supported(t, replace(t, head+batches(3)+assay, "90.0", c.lower), peak)
		v := e.Supported
		if !v.Analysis.TurnsRound() || !hasWarning(e, analysis.CodeTurns) || hasWarning(e, analysis.CodeBends) || hasWarning(e, analysis.CodeOutOfTrend) {
			t.Errorf("the turn is not what is told: %v", e.Warnings)
		}
		if at := v.Analysis.Diagnostics.Course; !at.Rises || math.Abs(at.TurnsAt-6) > 0.4 {
			t.Errorf("it rises %v and turns at %g", at.Rises, at.TurnsAt)
		}
		if v.Cap != 18 || v.LimitedBy != c.limitedBy || !strings.Contains(v.RuleText, "not amenable to regression") {
			t.Errorf("limit %s: cap %g, %d months by %s: %s", c.lower, v.Cap, v.Months, v.LimitedBy, v.RuleText)
		}
		if c.limitedBy == "extrapolation" && v.Months != 18 || c.limitedBy == "regression" && float64(v.Months) != math.Floor(v.Analysis.ShelfLife) {
			t.Errorf("%d months, the line's bound is %g", v.Months, v.Analysis.ShelfLife)
		}
	}
}

// Earlier batches are those made before, where all say when; else those before in
// the study file. B1's last result stands apart.
func TestEarlierBatches(t *testing.T) {
	csv := columns
	for i, last := range []float64{90.9, 98.1, 98.0, 98.2, 97.9} {
		csv += rows(fmt.Sprintf("B%d", i+1), "25C60", fivePulls, 100, 99.5, 99, 98.5+0.1*float64(i%2), last)
	}
	made := head + assay
	for i := range 5 {
		made += fmt.Sprintf("\n[[batch]]\nid = \"B%d\"\nmade = 2025-01-%02d\n", i+1, 9-i)
	}
	for name, c := range map[string]struct {
		toml    string
		earlier []int // of B1
	}{"as in the file": {head + batches(5) + assay, nil}, "by the day made": {made, []int{4, 3, 2, 1}}} {
		a := supported(t, c.toml, csv).Analyses[0]
		var got []int
		p := math.NaN()
		for _, o := range a.Diagnostics.OutOfTrend {
			if o.Batch == 0 && o.Earlier != nil {
				got, p = o.Earlier, o.P
			}
		}
		if !slices.Equal(got, c.earlier) || c.earlier != nil && !(p < analysis.WarningLevel) {
			t.Errorf("%s: B1 is held against %v, p %g", name, got, p)
		}
	}
}

// One outlier of time zero, which counts at both conditions, is told in the same
// words at both, so that it is gathered into one.
func TestOutlierOfTimeZeroIsToldOnce(t *testing.T) {
	csv := columns + "B1,,0,assay,105.0\n"
	for i, at := range []string{"25C60", "40C75"} {
		for j, e := range []float64{0.1, -0.1, 0.0, 0.1} {
			csv += fmt.Sprintf("B1,%s,%dM,assay,%.1f\n", at, 3*(j+1), 100-float64(3*(j+1))*[]float64{0.1, 0.3}[i]+e)
		}
		for j, e := range []float64{0.1, -0.1, 0.1, -0.1, 0.1} {
			batch, c := "B2", at
			if j == 0 {
				c = ""
				if i > 0 {
					continue
				}
			}
			csv += fmt.Sprintf("%s,%s,%dM,assay,%.1f\n", batch, c, 3*j, 100-float64(3*j)*[]float64{0.1, 0.3}[i]+e)
		}
	}
	toml := replace(t, head, `pulls       = ["0", "3M", "6M"]`, `pulls       = ["0", "3M", "6M", "9M", "12M"]`) + batches(2) + assay
	e := analysis.Evaluate(dataset(t, toml, csv), analysis.Options{Trends: true})
	texts := map[string]int{}
	for _, w := range e.Warnings {
		if w.Code == analysis.CodeOutlier {
			texts[w.Text]++
		}
	}
	if len(texts) != 1 {
		t.Fatalf("told as %v", texts)
	}
	for text, n := range texts {
		if n != 2 || !strings.Contains(text, "Batch B1 at time zero: 105 % is an outlier") {
			t.Errorf("%d times %q", n, text)
		}
	}
}

// A last result that differs by its last digit alone is no finding, nor are two
// earlier batches that agree by rounding a measure of how batches differ.
func TestRoundingIsNoFinding(t *testing.T) {
	toml := head + batches(3) + assay + "decimals = 1\n"
	csv := columns + rows("B1", "25C60", fivePulls, 99, 99, 99, 99, 98.9) +
		rows("B2", "25C60", fivePulls, 99, 99, 99, 99, 98.9) + rows("B3", "25C60", fivePulls, 99, 99, 99, 99, 99)
	a := supported(t, toml, csv).Analyses[0]
	for _, f := range a.Diagnostics.Findings {
		if f.Code == analysis.CodeOutOfTrend || f.Code == analysis.CodeOutlier {
			t.Errorf("%s, p %g", f.Code, f.P)
		}
	}
	for _, o := range a.Diagnostics.OutOfTrend {
		if o.Earlier != nil {
			t.Errorf("held against batches that agree: %+v", o)
		}
	}
}

// Of pulls at 0, 1, 2 and 12 months the last has a leverage of 1/4 + 8.25²/92.75 =
// 0.9838, at 0, 3, 6 and 12 of 1/4 + 6.75²/78.75 = 0.8286.
func TestLeverage(t *testing.T) {
	for _, c := range []struct {
		times    []string
		leverage float64
		told     bool
	}{{[]string{"0", "1M", "2M", "12M"}, 0.25 + 8.25*8.25/92.75, true}, {[]string{"0", "3M", "6M", "12M"}, 0.25 + 6.75*6.75/78.75, false}} {
		toml := replace(t, head+batches(1)+assay, `"0", "3M", "6M", "9M", "12M"`, `"`+strings.Join(c.times, `", "`)+`"`)
		a := supported(t, toml, columns+rows("B1", "25C60", c.times, 100, 99.8, 99.9, 98.7)).Analyses[0]
		if l := a.Diagnostics.Leverage.Leverage; math.Abs(l-c.leverage) > 1e-12 || (finding(a, analysis.CodeLeverage) != nil) != c.told {
			t.Errorf("%v: leverage %g, want %g; found %v", c.times, l, c.leverage, finding(a, analysis.CodeLeverage))
		}
	}
}

// Units that are put back are not tested.
func TestReturnedUnitsAreNotTested(t *testing.T) {
	csv := "batch,condition,time,attribute,unit,value\n"
	for u := range 3 {
		for i, m := range []int{0, 3, 6, 9, 12} {
			csv += fmt.Sprintf("B1,25C60,%dM,assay,u%d,%.1f\n", m, u, 100-0.4*float64(m)+0.1*float64((u+i)%3))
		}
	}
	a := supported(t, head+batches(1)+assay+"sampling = \"returned\"\n", csv).Analyses[0]
	if a.Status != analysis.Fitted || a.Diagnostics != nil {
		t.Errorf("%s, %+v", a.Status, a.Diagnostics)
	}
}

// What one result does by itself is told of it: the outlier, and no fault of the
// scatter or the course, which show with it alone.
func TestOutlierIsToldAlone(t *testing.T) {
	csv := columns
	for i, b := range []string{"B1", "B2", "B3"} {
		v := []float64{100.1, 99.0, 98.3, 97.2, 96.4}
		for j := range v {
			v[j] += 0.1 * float64((i+2*j)%3)
		}
		if i == 1 {
			v[2] -= 4
		}
		csv += rows(b, "25C60", fivePulls, v...)
	}
	a := supported(t, head+batches(3)+assay, csv).Analyses[0]
	if len(a.Diagnostics.Findings) != 1 || a.Diagnostics.Findings[0].Code != analysis.CodeOutlier {
		t.Errorf("%+v", a.Diagnostics.Findings)
	}
	if a.Diagnostics.Normality.P >= analysis.WarningLevel {
		t.Error("the outlier does not show in the test of normality: the case says nothing")
	}
	for i := range a.Samples {
		if x := &a.Samples[i]; a.Diagnostics.Suspect(i) != (x.Batch == 1 && x.PlannedMonths == 6) {
			t.Errorf("suspect: batch %d at %g months", x.Batch, x.PlannedMonths)
		}
	}
}
