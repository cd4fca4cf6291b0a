package lifetime

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"shelfspan/analysis/censored"
)

// arrange checks the input and lays out what is fitted, and counts it in the
// result. The reason is not empty where nothing can be fitted.
func arrange(in *Input, r *Result) (f *fitted, status Status, reason string) {
	s := &sample{family: in.Distribution.family(), currentStatus: true}
	switch {
	case s.family == nil:
		return nil, Refused, fmt.Sprintf("%q is no distribution of lifetimes; lognormal and weibull are", in.Distribution)
	case !(in.Confidence >= 0.5 && in.Confidence < 1):
		return nil, Refused, "the confidence is not between 0.5 and 1"
	}
	f = &fitted{sample: s, where: in.Where, arrhenius: in.Arrhenius}
	atStart := 0.0
	var inverse []float64 // 1/T
	var middle []float64  // roughly ln t
	for i, o := range in.Observations {
		kelvin := o.Celsius + zeroCelsius
		switch {
		case !o.Valid():
			return nil, Refused, fmt.Sprintf("observation %d is none: after %v, by %v, %v units", i+1, o.After, o.By, o.Units)
		case !(kelvin > 0) || math.IsInf(kelvin, 1):
			return nil, Refused, fmt.Sprintf("observation %d has no temperature", i+1)
		}
		kind := o.Kind()
		switch kind {
		case censored.Unknown:
			r.Unknown += o.Units
			continue
		case censored.AtStart:
			atStart += o.Units
			continue
		}
		low, top := math.Log(o.After), math.Log(o.By)
		switch kind {
		case censored.Exact:
			middle = append(middle, low)
			s.logTimes += o.Units * low
			s.currentStatus = false
		case censored.Left:
			low = math.NaN()
			middle = append(middle, top)
		case censored.Right:
			top = math.NaN()
			middle = append(middle, low)
		case censored.Between:
			middle = append(middle, low+(top-low)/2)
			s.currentStatus = false
		}
		if kind != censored.Right {
			r.Failed += o.Units
			r.told += o.Units
		}
		if kind == censored.Left {
			r.told -= o.Units / 2
		}
		if len(s.kind) == 0 {
			f.coldest, f.hottest = o.Celsius, o.Celsius
		}
		f.coldest, f.hottest = min(f.coldest, o.Celsius), max(f.hottest, o.Celsius)
		r.Units += o.Units
		s.kind, s.low, s.top = append(s.kind, kind), append(s.low, low), append(s.top, top)
		s.weight, inverse = append(s.weight, o.Units), append(inverse, 1/kelvin)
	}
	if atStart > 0 {
		return nil, AtStart, count(atStart) + " failed before storage began, which no distribution of lifetimes allows for"
	}
	if len(s.kind) == 0 {
		return nil, NoData, "of no unit anything is known"
	}
	s.centre = median(middle, s.weight, r.Units)
	for i, m := range middle {
		s.low[i] -= s.centre
		s.top[i] -= s.centre
		s.spread += (m - s.centre) * (m - s.centre) * s.weight[i] / r.Units
	}
	if s.spread = math.Sqrt(s.spread); s.spread == 0 {
		s.spread = 1
	}
	r.Temperatures = s.place(inverse, in.Arrhenius)
	return f, Fitted, ""
}

// place puts the units on the scale of 1/T and tells how many temperatures there are.
func (s *sample) place(inverse []float64, arrhenius bool) (temperatures int) {
	distinct := slices.Clone(inverse)
	slices.Sort(distinct)
	distinct = slices.Compact(distinct)
	s.x = make([]float64, len(inverse))
	if !arrhenius {
		return len(distinct)
	}
	for _, v := range distinct {
		s.invRef += v / float64(len(distinct))
	}
	for i, v := range inverse {
		s.x[i] = 1000 / gasConstant * (v - s.invRef)
		s.span = max(s.span, math.Abs(s.x[i]))
	}
	if s.span > 0 {
		for i := range s.x {
			s.x[i] /= s.span
		}
	}
	return len(distinct)
}

// at is a temperature's place on that scale.
func (s *sample) at(celsius float64) float64 {
	if s.span == 0 {
		return 0
	}
	return 1000 / gasConstant * (1/(celsius+zeroCelsius) - s.invRef) / s.span
}

// median is the least value that half of the weight is not above.
func median(values, weights []float64, total float64) float64 {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int { return cmp.Compare(values[i], values[j]) })
	sum := 0.0
	for _, i := range order {
		if sum += weights[i]; sum >= total/2 {
			return values[i]
		}
	}
	return values[order[len(order)-1]]
}

func count(units float64) string {
	if units == 1 {
		return "1 unit"
	}
	return fmt.Sprintf("%.10g units", units)
}
