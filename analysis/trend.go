package analysis

import (
	"math"
	"slices"
	"strings"

	"shelfspan/analysis/extrapolation"
	"shelfspan/analysis/observed"
	"shelfspan/analysis/regression"
	"shelfspan/study"
	"shelfspan/study/finding"
)

// analyse evaluates one attribute at one condition in one pack and orientation.
func (v *evaluator) analyse(k cell) *Analysis {
	at := &v.s.Attributes[k.attribute]
	a := &Analysis{
		Attribute: k.attribute, Condition: k.condition, Pack: k.pack, Orientation: k.orientation,
		Lower: at.Lower, Upper: at.Upper, Confidence: v.confidence,
		Pooling:    Pooling{Alpha: v.alpha, SlopesF: math.NaN(), SlopesP: math.NaN(), InterceptsF: math.NaN(), InterceptsP: math.NaN()},
		ResidualSD: math.NaN(), ShelfLife: math.NaN(), Estimate: math.NaN(), LimitingBatch: -1,
	}
	where := v.place(k)
	a.Samples = v.samples(k)
	v.judge(a, where)
	v.remarkMethods(a, where)
	switch {
	case at.Kind == study.Grade || at.Kind == study.PassFail:
		a.Status, a.Model = Observed, "observed"
		a.ShelfLife = math.Inf(1)
		if a.FirstFailure != nil {
			a.ShelfLife = a.FirstFailure.LastPassing
		}
	case at.Kind == study.Weighing:
		v.unitRates(a, where)
	case at.Sampling == study.Returned:
		v.unitLines(a, where)
	default:
		v.regress(a, where)
	}
	v.setBounds(a, where)
	return a
}

// place names a cell for warnings: "viscosity 25C60 tube upright".
func (v *evaluator) place(k cell) string {
	t := []string{v.s.Attributes[k.attribute].ID}
	if k.condition >= 0 {
		t = append(t, v.s.Conditions[k.condition].ID)
	}
	p := &v.s.Packs[k.pack]
	if p.ID != "" {
		t = append(t, p.ID)
	}
	if len(p.Orientations) > 1 {
		t = append(t, string(p.Orientations[k.orientation]))
	}
	return strings.Join(t, " ")
}

// samples gives the samples of a cell with those of time zero; of weighings,
// the percent lost.
func (v *evaluator) samples(k cell) []Sample {
	if v.s.Attributes[k.attribute].Kind == study.Weighing {
		return append([]Sample(nil), v.weighed[k.attribute].cells[k]...)
	}
	out := series(v.cells, k)
	if v.s.Attributes[k.attribute].Sampling == study.Returned {
		out = slices.DeleteFunc(out, func(x Sample) bool { return x.Planned.IsZero() && v.storedElsewhere(k, &x) })
	}
	return out
}

// storedElsewhere reports whether a unit that is put back was never measured
// again in the arm k, but in another one, or names another condition at time
// zero: its time zero belongs there.
func (v *evaluator) storedElsewhere(k cell, x *Sample) bool {
	measured := func(k cell) bool {
		return slices.ContainsFunc(v.cells[k], func(y Sample) bool { return y.Batch == x.Batch && y.Unit == x.Unit })
	}
	if measured(k) {
		return false
	}
	if x.Condition >= 0 && x.Condition != k.condition {
		return true
	}
	for c := range v.s.Conditions {
		for o := range v.s.Packs[k.pack].Orientations {
			if measured(cell{k.attribute, c, k.pack, o}) {
				return true
			}
		}
	}
	return false
}

// judge holds every sample against the acceptance criterion, and finds how far
// the data of all batches reach.
func (v *evaluator) judge(a *Analysis, where string) {
	at := &v.s.Attributes[a.Attribute]
	samples := observedSamples(a.Samples)
	j := observed.Judge(at, samples)
	for i, o := range j.Outcomes {
		a.Samples[i].OutOfCriterion = o == observed.Missed
	}
	if f := j.Failure; f != nil {
		x := &a.Samples[f.Sample]
		a.FirstFailure = &Failure{
			Batch: x.Batch, Unit: x.Unit, Months: x.PlannedMonths, Planned: x.Planned,
			Value: x.Value, LastPassing: f.LastPassing,
		}
	}
	a.Warnings = append(a.Warnings, located(j.Warnings, where)...)
	a.ObservedMonths = extrapolation.Observed(samples, v.stored(a.Condition, a.Pack, a.Orientation))
}

// located names the place of warnings that came without one.
func located(ws []finding.Warning, where string) []finding.Warning {
	out := make([]finding.Warning, len(ws))
	for i, w := range ws {
		if w.Where == "" {
			w.Where = where
		}
		out[i] = w
	}
	return out
}

func (a *Analysis) warn(code, where, text string) {
	a.Warnings = append(a.Warnings, finding.Warning{Code: code, Where: where, Text: text})
}

// remarkMethods warns of a trend measured by more than one method.
func (v *evaluator) remarkMethods(a *Analysis, where string) {
	var methods []string
	for i := range a.Samples {
		if m := a.Samples[i].Method; m != "" && !slices.Contains(methods, m) {
			methods = append(methods, m)
		}
	}
	if len(methods) > 1 || slices.Contains(methods, mixedMethods) {
		a.warn("mixed-methods", where, "The results come from more than one method ("+strings.Join(methods, ", ")+"): a step between methods can pass for a trend, or hide one.")
	}
}

// regress fits the batches' means over time.
func (v *evaluator) regress(a *Analysis, where string) {
	baseline := v.s.Attributes[a.Attribute].Baseline.Months(0)
	in := v.input(a)
	var exact bool
	in.Batches, exact = v.points(a.Samples, baseline)
	switch {
	case slices.ContainsFunc(a.Samples, func(x Sample) bool { return x.bothSides }):
		v.refuseCensored(a, where, "one sample has readings below and above such limits")
		return
	case !exact && in.Model.Curved():
		v.refuseCensored(a, where, "no curve is fitted to such values")
		return
	case !exact:
		v.regressCensored(a, in, where)
	case in.Model.Curved():
		out, warnings, pool := curve(in)
		v.take(a, out, warnings, where)
		a.takeCurves(pool)
	default:
		out, warnings := regression.Evaluate(in)
		v.take(a, out, warnings, where)
	}
	for i := range a.Samples {
		_, counts := a.Samples[i].trendTime(baseline)
		a.Samples[i].Fitted = len(a.Fits) > 0 && counts
	}
	v.diagnose(a)
}

// refuseCensored ends an analysis that has a censored value and no method for it.
func (v *evaluator) refuseCensored(a *Analysis, where, why string) {
	a.Status = NotFitted
	a.warn("censored", where, "A result lies below or above a limit of measurement, and a limit is no number; "+why+": no regression.")
}

// input is what every method of fitting over time is told.
func (v *evaluator) input(a *Analysis) regression.Input {
	at := &v.s.Attributes[a.Attribute]
	return regression.Input{
		Names: v.batchNames(), Lower: at.Lower, Upper: at.Upper, Basis: at.Basis, Direction: at.Direction,
		Model: study.Model(v.models[a.Attribute].model), Baseline: at.Baseline.Months(0), Alpha: v.alpha, Confidence: v.confidence,
	}
}

// take takes over what a method of fitting over time answered.
func (v *evaluator) take(a *Analysis, out regression.Output, warnings []finding.Warning, where string) {
	a.Warnings = append(a.Warnings, located(warnings, where)...)
	a.Status = Status(out.Status)
	if v.s.Attributes[a.Attribute].Kind != study.Weighing {
		a.Model, a.Candidates = string(out.Model), candidates(v.models[a.Attribute])
	}
	a.OneSided = out.OneSided
	a.ShelfLife, a.Estimate = out.ShelfLife, out.Estimate
	a.LimitingBatch = out.Limiting
	a.ResidualSD, a.DF = out.ResidualSD, out.DF
	if len(out.Fits) == 0 {
		return
	}
	p := out.Pooling
	a.Pooling = Pooling{
		Alpha: v.alpha, SlopesF: p.SlopesF, SlopesP: p.SlopesP, InterceptsF: p.InterceptsF, InterceptsP: p.InterceptsP,
		DF1: p.DF1, DF2: p.DF2, Decision: string(p.Decision),
	}
	for _, f := range out.Fits {
		if a.Model == unitRatesModel {
			f.Intercept = math.NaN() // a loss is reckoned from the unit's own start
		}
		a.Fits = append(a.Fits, Fit{
			Batch: f.Batch, Intercept: f.Intercept, Slope: f.Slope, SlopeSE: f.SlopeSE, N: f.N,
			Estimate: f.Estimate, ShelfLife: f.ShelfLife, LimitedBy: f.LimitedBy, Curve: f.Curve,
		})
	}
}

func candidates(c choice) []Candidate {
	var out []Candidate
	for _, x := range c.candidates {
		out = append(out, Candidate{Model: study.Model(x.Model), AICc: x.AICc, Note: x.Note})
	}
	return out
}

func (v *evaluator) batchNames() []string {
	names := make([]string, len(v.s.Batches))
	for i := range names {
		names[i] = "batch " + v.s.Batches[i].ID
	}
	return names
}
