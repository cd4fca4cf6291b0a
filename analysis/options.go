package analysis

import (
	"fmt"
	"math"
	"slices"

	"shelfspan/analysis/arrhenius"
	"shelfspan/study"
	"shelfspan/study/finding"
)

// Options says what to evaluate and how; the zero value takes everything from
// the study.
type Options struct {
	Confidence float64     // 0: the study's
	PoolAlpha  float64     // 0: the study's
	Model      study.Model // for every attribute fitted by regression; "": each attribute's own
	Attributes []int       // nil: all
	Conditions []int       // nil: all; the storage condition and those its rules need are always read for Supported
	Packs      []int       // nil: all

	RandomBatches bool    // the bound for a batch to come governs where it is shorter than that of the mean
	Coverage      float64 // share of units or of batches to come that a bound speaks of; 0: 0.95

	Trends    bool // an Analysis for every condition, not only storage
	Supported bool // the shelf life with the limits of extrapolation
	Arrhenius bool
	ByBatch   bool                // each batch has a rate of its own in the Arrhenius fits
	At        []float64           // °C: further temperatures for Arrhenius predictions
	LeaveOut  []int               // conditions left out of the Arrhenius fits
	Histories []arrhenius.History // what the Arrhenius fits are to judge
	Reason    string              // why they are left out

	Interactions InteractionOptions // what packs, orientations and ingredients do

	Resampling arrhenius.Resampling // made-up studies by which the bounds of the Arrhenius fits are checked
}

func (o *Options) confidence(s *study.Study) float64 {
	if o.Confidence > 0 {
		return o.Confidence
	}
	return s.Confidence
}

func (o *Options) alpha(s *study.Study) float64 {
	if o.PoolAlpha > 0 {
		return o.PoolAlpha
	}
	return s.PoolAlpha
}

// failing gives the share of units by whose failure a lifetime is told.
func (o *Options) failing() float64 {
	return math.Round((1-o.coverage())*1e12) / 1e12 // 1 − 0.95 is not quite 0.05
}

func (o *Options) model(a *study.Attribute) study.Model {
	if o.Model != "" {
		return o.Model
	}
	return a.Model
}

// departures warns of what was asked for otherwise than the study states: a
// bound or model chosen after the results are known is no longer the protocol's.
func (o *Options) departures(s *study.Study) []finding.Warning {
	var out []finding.Warning
	add := func(format string, args ...any) {
		out = append(out, finding.Warning{Code: "not-as-planned",
			Text: fmt.Sprintf(format, args...) + ": a choice made after the results are known needs a reason on file."})
	}
	if o.Confidence > 0 && o.Confidence != s.Confidence {
		add("The confidence was set to %g, where the study states %g", o.Confidence, s.Confidence)
	}
	if o.PoolAlpha > 0 && o.PoolAlpha != s.PoolAlpha {
		add("The poolability tests were made at %g, where the study states %g", o.PoolAlpha, s.PoolAlpha)
	}
	if o.Model != "" {
		add("The model was set to %s for every attribute, whatever the study states", o.Model)
	}
	o.boundDepartures(add)
	for _, c := range o.LeaveOut {
		out = append(out, finding.Warning{Code: "left-out", Where: s.Conditions[c].ID,
			Text: "Left out of the fits over temperatures, for the reason given: " + o.Reason + "."})
	}
	return out
}

func wanted(list []int, i int) bool { return list == nil || slices.Contains(list, i) }
