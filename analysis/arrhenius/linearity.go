package arrhenius

import (
	"fmt"
	"math"

	"shelfspan/analysis/linear"
)

// linearity is the F-test of the fit against the free-rate model.
func (f *fitted) linearity(r *Result, in *Input) {
	if r.Temperatures == 2 {
		r.warn(in.Where, "linearity-untested",
			"Two temperatures always lie on a line: that one activation energy holds between them, and beyond, is untested.")
		return
	}
	var tested bool
	r.LinearityF, r.LinearityP, tested = f.lackOfFit()
	if !tested {
		r.warn(in.Where, "linearity-untested", "There are too few results to test whether one activation energy holds for all conditions.")
		return
	}
	r.LinearityDF1, r.LinearityDF2 = len(f.free.conditions)-f.parameters, f.free.df
	if r.LinearityP >= bent {
		return
	}
	r.Bends = bends(in, f)
	r.warnNotLinear(in.Where, in.Conditions)
}

// warnNotLinear words a failed linearity check.
func (r *Result) warnNotLinear(where string, conditions []Condition) {
	text := fmt.Sprintf("One activation energy does not hold for all conditions (lack of fit, p = %.2g), so no prediction from them together should be relied on. ", r.LinearityP)
	if r.Bends >= 0 {
		text += fmt.Sprintf("Without %s the others agree best. ", conditions[r.Bends].Name)
	} else {
		text += "With so few conditions it cannot be told which of them bends the line. "
	}
	text += "A product that melts, gels or changes phase between two temperatures does not follow one line through both."
	r.warn(where, "not-linear", text)
}

// lackOfFit is F and its p-value; not tested where no degree of freedom is left
// on either side.
func (f *fitted) lackOfFit() (ratio, p float64, tested bool) {
	df1, df2 := len(f.free.conditions)-f.parameters, f.free.df
	if df1 < 1 || df2 < 1 {
		return math.NaN(), math.NaN(), false
	}
	ratio, p = linear.ExtraSumOfSquares(f.excess, df1, f.free.rss, df2)
	return ratio, p, true
}

// bends finds the condition without which one activation energy fits the rest
// best, by the same test on the rest; −1 where the rest can no longer be tested.
func bends(in *Input, whole *fitted) int {
	worst, best := -1, -1.0
	for _, c := range whole.free.conditions {
		l, status, _ := arrange(in, c)
		if status != Fitted || len(l.temperatures(in)) < 3 {
			continue
		}
		free, err := fitFreeRates(l, whole.model)
		if err != nil {
			continue
		}
		f, reason := fitTemperatures(in, free, whole.humidity && humidityTold(in, l))
		if reason != "" {
			continue
		}
		if _, p, tested := f.lackOfFit(); tested && p > best {
			worst, best = c, p
		}
	}
	return worst
}
