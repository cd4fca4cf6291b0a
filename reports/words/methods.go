package words

import (
	"fmt"

	"shelfspan/analysis"
	"shelfspan/study"
)

// Method is one thing done, and the published source it follows.
type Method struct{ What, Source string }

// Methods says how the numbers of an evaluation came about and from which
// sources; only what was used is listed. The note, which may be empty, stands
// below them.
func Methods(e *analysis.Evaluation) (all []Method, note string) {
	s := e.Dataset.Study
	var regression, units, observed, percent bool
	for _, a := range e.Analyses {
		regression = regression || len(a.Fits) > 0
		units = units || s.Attributes[a.Attribute].Kind == study.Weighing
		observed = observed || a.Status == analysis.Observed
		percent = percent || s.Attributes[a.Attribute].Basis == study.BasisPercent
	}
	var auto, curves, censored bool
	for _, a := range e.Analyses {
		auto = auto || len(a.Candidates) > 1
		curves = curves || a.Curves != nil
		censored = censored || a.Censored > 0
	}
	add := func(when bool, what, source string) {
		if when {
			all = append(all, Method{what, source})
		}
	}
	add(true, "A month is 30.4375 days; elapsed time is counted from the batch's time zero to the day of the pull. A result is judged against its criterion after rounding half up to the decimals reported.", "USP General Notices 7.20")
	add(regression, "Least-squares line of each attribute, condition, pack and orientation over time; shelf life is the first time the confidence limit of the mean meets the acceptance limit, for the batch with the shortest.", "ICH Q1E (2003), appendix B")
	add(regression, fmt.Sprintf("Batches are pooled where slopes, then intercepts, do not differ at the %s level, by extra sum of squares over the mean square of separate lines.", Planned(s.PoolAlpha)), "ICH Q1E (2003), appendix B")
	add(auto, "Where the model was left open: the lowest AICc of the separate lines, zero-order kept unless another is better by more than 2.", "Hurvich and Tsai 1989; margin: common practice, no source")
	add(curves, "Approach to a plateau and power of time: nonlinear least squares, the bound by the profile likelihood of the time at which the mean meets the limit.", "Golub and Pereyra 1973; Bates and Watts 1988")
	add(censored, "Values below or above a limit of measurement: lines by maximum likelihood with a normal error, the bound by the profile likelihood; batches tested by likelihood ratios brought to the F distribution.", "Tobin 1958; Lawless 2003; the tests: own")
	add(percent, "Limits in percent of initial are judged on the fitted initial value of the same line.", "Fieller 1954")
	add(units, "Weighings: a rate through the origin for each unit; the bound comes from the spread between units, never from repeated masses of one.", "common practice, no source")
	add(observed, "Grades and pass or fail: judged by what was observed; the last pull before the first failure.", "ICH Q1E (2003), 2.4 (not amenable to regression)")
	add(e.Supported != nil && s.Rules != study.NoRules, "How far a shelf life may reach past the data, with the significant-change test at the accelerated condition.", "ICH Q1E (2003), 2.4, 2.5 and appendix A; ICH Q1A(R2) (2003), 2.2.7")
	add(len(e.Arrhenius) > 0, "All temperatures in one nonlinear fit with a common activation energy, against a free rate for each; intervals and prediction bounds by profile likelihood. R = 8.314462618 J/(mol K), 0 °C = 273.15 K.", "Moré 1978 (trust region); Bates and Watts 1988 (profiles); CODATA 2018")
	add(len(e.Arrhenius) > 0, "Q10 and the accelerated-ageing factor, as the conventional shortcut only.", "ASTM F1980")
	if regression {
		note = Confidence
	}
	return all, note
}
