package analysis

import (
	"runtime"
	"sync"
	"sync/atomic"

	"shelfspan/analysis/kinetics"
	"shelfspan/study"
	"shelfspan/study/finding"
)

// Evaluate works out everything that is asked of a dataset. The answer does
// not depend on the order of the results nor on the number of cores.
func Evaluate(d *study.Dataset, o Options) *Evaluation {
	s := d.Study
	v := &evaluator{
		d: d, s: s, o: o, confidence: o.confidence(s), alpha: o.alpha(s),
		cells: gather(d), models: make([]choice, len(s.Attributes)), weighed: make([]weighing, len(s.Attributes)),
	}
	for i := range s.Attributes {
		if s.Attributes[i].Kind == study.Weighing {
			v.weighed[i] = v.weigh(i)
		}
	}
	each(len(s.Attributes), func(i int) { v.models[i] = v.chooseModel(i) })

	e := &Evaluation{Dataset: d, Confidence: v.confidence, Warnings: append([]finding.Warning{}, d.Warnings...)}
	e.Warnings = append(e.Warnings, o.departures(s)...)
	var cells []cell
	for a := range s.Attributes {
		if !wanted(o.Attributes, a) {
			continue
		}
		for c := range s.Conditions {
			if o.Trends && wanted(o.Conditions, c) || o.Supported && c == s.StoreAt {
				for _, k := range v.arms(a) {
					if k.condition = c; len(v.cells[k]) > 0 {
						cells = append(cells, k)
					}
				}
			}
		}
	}
	e.Analyses = make([]*Analysis, len(cells))
	each(len(cells), func(i int) { e.Analyses[i] = v.analyse(cells[i]) })
	v.tellDiagnostics(e.Analyses)
	for _, a := range e.Analyses {
		e.Warnings = append(e.Warnings, a.Warnings...)
	}
	if o.Supported && s.StoreAt >= 0 {
		var warnings []finding.Warning
		e.Supported, warnings = v.supported(e.Analyses)
		e.Warnings = append(e.Warnings, warnings...)
	}
	if o.Arrhenius {
		e.Arrhenius = v.arrhenius()
		for _, r := range e.Arrhenius {
			e.Warnings = append(e.Warnings, r.Warnings...)
		}
		if len(o.Histories) > 0 {
			v.judgeHistories(e)
		}
	}
	v.judgeUnits(e)
	if o.Interactions.Wanted {
		e.Interactions = v.interactions()
		e.Warnings = append(e.Warnings, e.Interactions.Warnings...)
	}
	e.Warnings = finding.Dedupe(e.Warnings)
	return e
}

// evaluator holds what the parts of one evaluation share.
type evaluator struct {
	d                 *study.Dataset
	s                 *study.Study
	o                 Options
	confidence, alpha float64
	cells             map[cell][]Sample
	models            []choice   // by attribute
	weighed           []weighing // by attribute
}

// choice is the model of an attribute, and how it was chosen.
type choice struct {
	model      kinetics.Model
	candidates []kinetics.Candidate // empty where it was not chosen by comparison
}

// arms lists the packs and orientations an attribute is evaluated in, as cells
// without a condition.
func (v *evaluator) arms(attribute int) []cell {
	var out []cell
	for p := range v.s.Packs {
		if wanted(v.o.Packs, p) {
			for o := range v.s.Packs[p].Orientations {
				out = append(out, cell{attribute, -1, p, o})
			}
		}
	}
	return out
}

// chooseModel gives the model of an attribute: one for all its conditions,
// packs and orientations, whatever part of them is asked for.
func (v *evaluator) chooseModel(attribute int) choice {
	a := &v.s.Attributes[attribute]
	m := v.o.model(a)
	if m != study.Auto {
		return choice{model: kinetics.Model(m)}
	}
	if a.Kind != study.Measure {
		return choice{model: kinetics.ZeroOrder}
	}
	baseline := a.Baseline.Months(0)
	var groups [][][]kinetics.Point
	for c := range v.s.Conditions {
		if v.s.Conditions[c].Role == study.Cycling {
			continue
		}
		for p := range v.s.Packs {
			for o := range v.s.Packs[p].Orientations {
				k := cell{attribute, c, p, o}
				if len(v.cells[k]) == 0 {
					continue
				}
				if points, ok := v.points(v.samples(k), baseline); ok {
					groups = append(groups, points)
				}
			}
		}
	}
	model, candidates := kinetics.Choose(groups, baseline, a.Basis)
	if a.Sampling != study.Returned {
		return orCurve(model, candidates, groups, baseline)
	}
	return choice{model, candidates}
}

// points gives the samples that enter a regression, by batch of the study, and
// whether none of them is censored.
func (v *evaluator) points(samples []Sample, baseline float64) (batches [][]kinetics.Point, exact bool) {
	batches = make([][]kinetics.Point, len(v.s.Batches))
	exact = true
	for i := range samples {
		x := &samples[i]
		months, counts := x.trendTime(baseline)
		if !counts {
			continue
		}
		exact = exact && x.Censor == study.Exact
		batches[x.Batch] = append(batches[x.Batch], kinetics.Point{Months: months, Value: x.Value})
	}
	return batches, exact
}

// each calls f for 0 to n−1 on all cores; f(i) may only write what is i's own.
// A panic of f is the caller's, as it is on one core.
func each(n int, f func(int)) {
	workers := min(runtime.GOMAXPROCS(0), n)
	if workers < 2 {
		for i := range n {
			f(i)
		}
		return
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	var fault atomic.Pointer[any]
	for range workers {
		wg.Go(func() {
			defer func() {
				if r := recover(); r != nil {
					fault.Store(&r)
				}
			}()
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				f(i)
			}
		})
	}
	wg.Wait()
	if r := fault.Load(); r != nil {
		panic(*r)
	}
}
