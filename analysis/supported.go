package analysis

import (
	"fmt"
	"math"
	"slices"

	"shelfspan/analysis/extrapolation"
	"shelfspan/analysis/observed"
	"shelfspan/study/finding"
)

// What a verdict's months are limited by.
const (
	ByRegression    = "regression"
	ByExtrapolation = "extrapolation"
	ByFailure       = "failure"
)

// supported judges every attribute, pack and orientation at the storage
// condition, and finds the one that governs.
func (v *evaluator) supported(analyses []*Analysis) (*Supported, []finding.Warning) {
	s := v.s
	p := &Supported{ClaimMonths: math.NaN(), Partial: v.o.Attributes != nil || v.o.Packs != nil}
	if !s.Claim.IsZero() {
		p.ClaimMonths = s.Claim.Months(0)
	}
	at := make(map[cell]*Analysis)
	for _, a := range analyses {
		if a.Condition == s.StoreAt {
			at[cell{a.Attribute, s.StoreAt, a.Pack, a.Orientation}] = a
		}
	}
	var warnings []finding.Warning
	if p.Partial {
		warnings = append(warnings, finding.Warning{Code: "partial",
			Text: "Only a part of the study's attributes and packs was asked for: what was left out may keep for less long."})
	}
	warnings = append(warnings, v.notAtStorage()...)
	for pack := range s.Packs {
		for o := range s.Packs[pack].Orientations {
			if !wanted(v.o.Packs, pack) {
				continue
			}
			stored := v.stored(s.StoreAt, pack, o)
			assessment := extrapolation.Assess(s, pack, o, v.measured(pack, o))
			warnings = append(warnings, assessment.Warnings...)
			for i := range s.Attributes {
				attribute := &s.Attributes[i]
				if !wanted(v.o.Attributes, i) || !attribute.HasLimit() || !attribute.At(s.StoreAt, pack) {
					continue
				}
				k := cell{i, s.StoreAt, pack, o}
				a := at[k]
				if a == nil || a.ObservedMonths == 0 && a.FirstFailure == nil {
					p.Undecided = append(p.Undecided, Undecided{i, pack, o, v.undecided(a, stored)})
					continue
				}
				warnings = append(warnings, v.missingBatches(a, v.place(k))...)
				limit := assessment.Limit(i, stored, amenable(a) && !a.TurnsRound())
				warnings = append(warnings, limit.Warnings...)
				p.Verdicts = append(p.Verdicts, verdict(a, &limit))
			}
		}
	}
	p.govern()
	p.MeetsClaim = p.Analysis != nil && len(p.Undecided) == 0 && float64(p.Months) >= p.ClaimMonths
	return p, warnings
}

// notAtStorage warns of criteria that the study holds nothing against at the
// storage condition, so that the shelf life is not taken to cover them.
func (v *evaluator) notAtStorage() []finding.Warning {
	var out []finding.Warning
	for i := range v.s.Attributes {
		a := &v.s.Attributes[i]
		if wanted(v.o.Attributes, i) && a.HasLimit() && a.Conditions != nil && !slices.Contains(a.Conditions, v.s.StoreAt) {
			out = append(out, finding.Warning{Code: "not-at-storage", Where: a.ID,
				Text: "The study does not test it at the storage condition: the shelf life says nothing of its criterion."})
		}
	}
	return out
}

// amenable reports whether the results could be fitted by regression.
func amenable(a *Analysis) bool { return a.Status.regressed() }

// verdict joins the regression, the rule and what was seen to fail. Where a course
// turns round the rule was applied as where no regression can be made, which never
// allows more; the bound from the line, however little it is worth, may only
// shorten that.
func verdict(a *Analysis, limit *extrapolation.Limit) Verdict {
	w := Verdict{
		Attribute: a.Attribute, Pack: a.Pack, Orientation: a.Orientation, Analysis: a,
		Regression: math.NaN(), Observed: limit.Observed, Cap: limit.Cap, Rule: limit.Rule, RuleText: limit.Text,
		Failure: a.FirstFailure, LimitedBy: ByExtrapolation,
	}
	months := limit.Cap
	if amenable(a) {
		w.Regression = a.ShelfLife
		if a.ShelfLife < months {
			months, w.LimitedBy = a.ShelfLife, ByRegression
		}
	}
	if w.Failure != nil && w.Failure.LastPassing < months {
		months, w.LimitedBy = w.Failure.LastPassing, ByFailure
	}
	if math.IsInf(months, 1) {
		months = limit.Observed
		w.RuleText = fmt.Sprintf("The study sets no rule for extrapolation, and where no limit is reached none is made: no more than the %.4g months of the data themselves.", limit.Observed)
	}
	w.Months = extrapolation.WholeMonths(months)
	return w
}

// govern finds the shortest verdict of all and of each pack and orientation;
// of equals the one whose regression is shorter, then the first in the study.
func (p *Supported) govern() {
	if len(p.Verdicts) == 0 {
		return
	}
	p.Verdict = slices.MinFunc(p.Verdicts, compareVerdicts)
	for _, w := range p.Verdicts {
		i := slices.IndexFunc(p.Packs, func(x Verdict) bool { return x.Pack == w.Pack && x.Orientation == w.Orientation })
		switch {
		case i < 0:
			p.Packs = append(p.Packs, w)
		case compareVerdicts(w, p.Packs[i]) < 0:
			p.Packs[i] = w
		}
	}
}

func compareVerdicts(a, b Verdict) int {
	regression := func(w Verdict) float64 {
		if math.IsNaN(w.Regression) {
			return math.Inf(1)
		}
		return w.Regression
	}
	switch {
	case a.Months != b.Months:
		return a.Months - b.Months
	case regression(a) < regression(b):
		return -1
	case regression(a) > regression(b):
		return 1
	}
	return 0
}

// stored lists the batches with any result after time zero at a condition in a
// pack and orientation: those of which every attribute must be known there.
func (v *evaluator) stored(condition, pack, orientation int) []int {
	var out []int
	for i := range v.s.Attributes {
		for _, x := range v.cells[cell{i, condition, pack, orientation}] {
			if !x.Planned.IsZero() && !slices.Contains(out, x.Batch) {
				out = append(out, x.Batch)
			}
		}
	}
	slices.Sort(out)
	return out
}

// undecided says why nothing can be said of an attribute at the storage
// condition; its analysis is nil where it has no results there.
func (v *evaluator) undecided(a *Analysis, stored []int) string {
	if a == nil {
		return "no results after time zero at " + v.s.Conditions[v.s.StoreAt].ID
	}
	have := batchesOf(a.Samples)
	for _, b := range stored {
		if !slices.Contains(have, b) {
			return "batch " + v.s.Batches[b].ID + " has no results after time zero"
		}
	}
	return "no pull after time zero at which every batch has a result in time"
}

// missingBatches warns of batches of the study without results.
func (v *evaluator) missingBatches(a *Analysis, where string) []finding.Warning {
	have := batchesOf(a.Samples)
	var out []finding.Warning
	for b := range v.s.Batches {
		if !slices.Contains(have, b) {
			out = append(out, finding.Warning{Code: "batch-missing", Where: where,
				Text: "Batch " + v.s.Batches[b].ID + " has no results after time zero here: the shelf life rests on the other batches alone."})
		}
	}
	return out
}

// batchesOf lists the batches with results, in the study's order.
func batchesOf(samples []Sample) []int {
	var out []int
	for i := range samples {
		if !slices.Contains(out, samples[i].Batch) {
			out = append(out, samples[i].Batch)
		}
	}
	slices.Sort(out)
	return out
}

// measured gives everything measured on one pack in one orientation.
func (v *evaluator) measured(pack, orientation int) []extrapolation.Series {
	var out []extrapolation.Series
	for c := range v.s.Conditions {
		for i := range v.s.Attributes {
			k := cell{i, c, pack, orientation}
			if len(v.cells[k]) > 0 {
				out = append(out, extrapolation.Series{Attribute: i, Condition: c, Samples: observedSamples(v.samples(k))})
			}
		}
	}
	return out
}

// observedSamples gives samples as the methods that judge by observation take them.
func observedSamples(samples []Sample) []observed.Sample {
	out := make([]observed.Sample, len(samples))
	for i := range samples {
		x := &samples[i]
		out[i] = observed.Sample{
			Batch: x.Batch, Unit: x.Unit, PlannedMonths: x.PlannedMonths, Months: x.Months,
			Value: x.Value, Censor: x.Censor, InWindow: x.InWindow,
		}
	}
	return out
}
