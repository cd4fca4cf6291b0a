package words

import (
	"fmt"
	"slices"

	"shelfspan/analysis"
	"shelfspan/analysis/weightloss"
	"shelfspan/study"
)

// Method is one thing done, and the published source it follows.
type Method struct{ What, Source string }

// Methods says how the numbers of an evaluation came about and from which
// sources; only what was used is listed. The note, which may be empty, stands
// below them.
func Methods(e *analysis.Evaluation) (all []Method, note string) {
	s := e.Dataset.Study
	var regression, units, observed, percent, dry bool
	for _, a := range e.Analyses {
		regression = regression || len(a.Fits) > 0
		units = units || s.Attributes[a.Attribute].Kind == study.Weighing
		dry = dry || a.Losses != nil && a.Losses.Humidity != nil
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
	add(Tested(e) != "", "What the residuals say, on the batches' own lines: the farthest studentized deleted residual (Bonferroni), prediction limits of the latest results, lack of fit against replicates, normality (Shapiro-Wilk), spread over time (Koenker), a common quadratic term, a broken line that turns round. "+ByChance, "Cook and Weisberg 1982; Draper and Smith 1998; Royston 1995; Koenker 1981; levels and the test of a turn: common practice, no source")
	boundMethods(e, add)
	add(regression, "Residuals are drawn on the value's scale, over time and against the normal quantiles of (i − 3/8)/(n + 1/4), with the line through the quartiles.", "Blom 1958; Hyndman and Fan 1996, type 7")
	add(auto, "Where the model was left open: the lowest AICc of the separate lines, zero-order kept unless another is better by more than 2.", "Hurvich and Tsai 1989; margin: common practice, no source")
	add(curves, "Approach to a plateau and power of time: nonlinear least squares, the bound by the profile likelihood of the time at which the mean meets the limit.", "Golub and Pereyra 1973; Bates and Watts 1988")
	add(censored, "Values below or above a limit of measurement: lines by maximum likelihood with a normal error, the bound by the profile likelihood; batches tested by likelihood ratios brought to the F distribution.", "Tobin 1958; Lawless 2003; the tests: own")
	add(percent, "Limits in percent of initial are judged on the fitted initial value of the same line.", "Fieller 1954")
	add(units, "Weighings: a rate through the origin for each unit; the bound comes from the spread between units, never from repeated masses of one.", "common practice, no source")
	add(units, fmt.Sprintf("Units of a weighing: one-sided tolerance limit of their rates by the noncentral t; leakers by the generalized extreme studentized deviate test at %g; a bend common to the units by the F-test at the same level.", weightloss.Level),
		"Owen 1968; Rosner 1983, about the batches' means Paul and Fung 1991; bend: common practice, no source")
	add(dry, "Loss of semi-permeable packs at low humidity, and the test of 5 % of the initial water: by the ratio of water-loss rates.", "ICH Q1A(R2) (2003), 2.2.7.3; WHO TRS 1010, annex 10")
	add(observed, "Grades and pass or fail: judged by what was observed; the last pull before the first failure.", "ICH Q1E (2003), 2.4 (not amenable to regression)")
	add(e.Supported != nil && s.Rules != study.NoRules, "How far a shelf life may reach past the data, with the significant-change test at the accelerated condition.", "ICH Q1E (2003), 2.4, 2.5 and appendix A; ICH Q1A(R2) (2003), 2.2.7")
	add(len(e.Arrhenius) > 0, "All temperatures in one nonlinear fit with a common activation energy, against a free rate for each; intervals and prediction bounds by profile likelihood. R = 8.314462618 J/(mol K), 0 °C = 273.15 K.", "Moré 1978 (trust region); Bates and Watts 1988 (profiles); CODATA 2018")
	add(len(e.Lifetimes) > 0, "Units against their criterion: each a lifetime known by the looks at it. The share failed without a model; exact binomial bounds; where some failed, lognormal and Weibull by maximum likelihood, the lower AICc governing, with an Arrhenius term over temperatures; bounds by profile likelihood, allowing for how few units failed. None of it lengthens a shelf life.", "Peto 1973, Turnbull 1976; Clopper and Pearson 1934; Meeker and Escobar 1998; the allowance: own")
	add(len(e.Agreements) > 0, "Agreement of those who graded the same samples: linearly weighted kappa with its large-sample interval; poor below 0.4 or where the interval reaches zero.", "Cohen 1968; Fleiss, Cohen and Everitt 1969; 0.4: common practice, no source")
	add(e.Interactions != nil && len(e.Interactions.Comparisons) > 0, "Packs, orientations and ingredients: rates compared within batches, and between batches by what they are made of, with simultaneous intervals; months lost by the rates from one start.", "Dunnett 1964; the distribution for any correlations: own integral")
	add(e.Interactions != nil && slices.ContainsFunc(e.Interactions.Comparisons, func(c *analysis.Comparison) bool { return c.Strata != nil }), "Units of packs, orientations and ingredients: within batches where two or more have units of both, else batches together. Where enough failed, their lifetimes, of one spread and with a location for each batch, by likelihood ratio and profile; else the exact test of one ratio of odds over the batches' tables, which of one table is Fisher's.", "Meeker and Escobar 1998, chapter 17; Fisher 1935; Cornfield 1956; Gart 1970; how many must have failed: own")
	add(len(e.Arrhenius) > 0, "Q10 and the accelerated-ageing factor, as the conventional shortcut only.", "ASTM F1980")

	if regression {
		note = Confidence
	}
	return all, note
}

// boundMethods adds the methods of the bounds beside that of the mean.
func boundMethods(e *analysis.Evaluation, add func(when bool, what, source string)) {
	has := func(kind analysis.BoundKind) bool {
		return slices.ContainsFunc(e.Analyses, func(a *analysis.Analysis) bool {
			return slices.ContainsFunc(a.Bounds, func(b analysis.Bound) bool { return b.Kind == kind })
		})
	}
	add(has(analysis.BoundUnits), "Units: one-sided tolerance limit about the same lines, by the noncentral t distribution; with two limits each at half of what may go wrong.", "Owen 1968; Krishnamoorthy and Mathew 2009, 3.2")
	add(has(analysis.BoundToCome), "All batches: intercepts and slopes that vary at random, by restricted maximum likelihood, with Satterthwaite's degrees of freedom. Batch to come: generalized confidence limit of the path that the stated share of batches are better than, from the batches' own lines. "+RandomBatches, "Patterson and Thompson 1971; Giesbrecht and Burns 1985; Weerahandi 1993; Chow and Shao 1991")
}
