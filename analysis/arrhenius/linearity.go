package arrhenius

import (
	"fmt"

	"shelfspan/analysis/linear"
)

// lineTest is the F-test of one activation energy against rates of the
// conditions' own; not tested where no degree of freedom is left on either side.
type lineTest struct {
	f, p     float64
	df1, df2 int
	tested   bool
}

// judgeLine tells the test that one activation energy holds, unless there are
// but two temperatures, and where it fails the condition that bends the line.
// what is the name of what was fitted.
func (r *Result) judgeLine(where string, conditions []Condition, what string, test lineTest, bends func() int) {
	switch {
	case r.Temperatures == 2:
		r.warn(where, "linearity-untested",
			"Two temperatures always lie on a line: that one activation energy holds between them, and beyond, is untested.")
		return
	case !test.tested:
		r.warn(where, "linearity-untested", "There are too few "+what+" to test whether one activation energy holds for all conditions.")
		return
	}
	r.LinearityF, r.LinearityP, r.LinearityDF1, r.LinearityDF2 = test.f, test.p, test.df1, test.df2
	if test.p < LinearityLevel {
		r.Bends = bends()
		r.warnNotLinear(where, conditions)
	}
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

// lackOfFit tests the fit against the free-rate model.
func (f *fitted) lackOfFit() lineTest {
	t := lineTest{df1: len(f.free.cells) - f.parameters, df2: f.free.df}
	if t.tested = t.df1 > 0 && t.df2 > 0; t.tested {
		t.f, t.p = linear.ExtraSumOfSquares(f.excess, t.df1, f.free.rss, t.df2)
	}
	return t
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
		free, err := fitFreeRates(in, l, whole.model)
		if err != nil {
			continue
		}
		f, reason := fitTemperatures(in, free, whole.humidity && humidityTold(in, l))
		if reason != "" {
			continue
		}
		if t := f.lackOfFit(); t.tested && t.p > best {
			worst, best = c, t.p
		}
	}
	return worst
}
