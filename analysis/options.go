package analysis

import "shelfspan/study"

// Options says what to evaluate and how; the zero value takes everything from
// the study.
type Options struct {
	Confidence float64     // 0: the study's
	PoolAlpha  float64     // 0: the study's
	Model      study.Model // for every attribute fitted by regression; "": each attribute's own
	Attributes []int       // nil: all
	Conditions []int       // nil: all; the storage condition and those its rules need are always read for Supported
	Packs      []int       // nil: all

	Trends    bool // an Analysis for every condition, not only storage
	Supported bool // the shelf life with the limits of extrapolation
	Arrhenius bool
	At        []float64 // °C: further temperatures for Arrhenius predictions
	LeaveOut  []int     // conditions left out of the Arrhenius fits
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

func (o *Options) model(a *study.Attribute) study.Model {
	if o.Model != "" {
		return o.Model
	}
	return a.Model
}

func wanted(list []int, i int) bool {
	if list == nil {
		return true
	}
	for _, x := range list {
		if x == i {
			return true
		}
	}
	return false
}
