package analysis

import (
	"cmp"
	"math"
	"slices"

	"shelfspan/analysis/comparison"
	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
	"shelfspan/analysis/units"
	"shelfspan/study"
)

// arms is everything of a field that is compared.
type arms struct {
	comparison.Input
	model        kinetics.Model
	baseline     float64
	combinations []combination // by Arm.Combination, in the study's order
	pulls        [][]float64   // planned months of each arm after time zero, ascending
	byUnit       bool          // the observations are rates of package units
	starts       [][]float64   // what each combination starts at, on the model's scale
}

// model gives the model of a line that an attribute is compared by, and whether
// another was asked for.
func (f *field) model() (m kinetics.Model, curved bool) {
	m = f.v.models[f.attribute].model
	if study.Model(m).Curved() {
		return kinetics.ZeroOrder, true
	}
	return m, false
}

// gather collects the observations of the field; the reason is not empty where
// there is nothing to compare.
func (f *field) gather() (*arms, string) {
	at := f.at()
	a := &arms{byUnit: at.Kind == study.Weighing || at.Sampling == study.Returned}
	a.model, _ = f.model()
	if a.baseline = at.Baseline.Months(0); at.Kind == study.Weighing {
		a.model, a.baseline = kinetics.ZeroOrder, 0
	}
	index := map[comparison.Arm]int{}
	for _, k := range f.v.arms(f.attribute) {
		k.condition = f.condition
		if len(f.v.cells[k]) == 0 {
			continue
		}
		c := len(a.combinations)
		a.combinations = append(a.combinations, combination{k.pack, k.orientation})
		a.starts = append(a.starts, nil)
		samples := f.v.samples(k)
		if slices.ContainsFunc(samples, func(x Sample) bool { return x.Censor != study.Exact }) {
			return nil, "a result lies below or above a limit of measurement"
		}
		if !a.byUnit {
			samples = f.v.cells[k] // time zero enters by itself
		}
		arm := func(batch int) int {
			key := comparison.Arm{Batch: batch, Combination: c}
			i, known := index[key]
			if !known {
				i = len(a.Arms)
				index[key] = i
				a.Arms, a.pulls = append(a.Arms, key), append(a.pulls, nil)
			}
			return i
		}
		for i := range samples {
			if x := &samples[i]; !x.Planned.IsZero() || x.PlannedMonths > 0 {
				j := arm(x.Batch)
				if at, known := slices.BinarySearch(a.pulls[j], x.PlannedMonths); !known {
					a.pulls[j] = slices.Insert(a.pulls[j], at, x.PlannedMonths)
				}
			}
		}
		var ok bool
		if a.byUnit {
			ok = f.addUnits(a, samples, c, arm)
		} else {
			ok = f.addSamples(a, samples, k, arm)
		}
		if !ok {
			return nil, "a value is zero or negative, where " + string(a.model) + " is not defined"
		}
	}
	return a, ""
}

// addSamples adds samples that are measured once, and once for each pack those of
// time zero.
func (f *field) addSamples(a *arms, samples []Sample, k cell, arm func(batch int) int) bool {
	start := func(batch int) int { return batch*len(f.v.s.Packs) + k.pack }
	add := func(x *Sample) bool {
		months, counts := x.trendTime(a.baseline)
		if !counts {
			return true
		}
		z := a.model.Transform(x.Value)
		a.Observations = append(a.Observations, comparison.Observation{
			Arm: arm(x.Batch), Start: start(x.Batch), X: a.model.Time(months - a.baseline), Z: z})
		return !math.IsNaN(z)
	}
	for i := range samples {
		if !add(&samples[i]) {
			return false
		}
	}
	// The start belongs to all orientations of a pack and enters with the first that
	// a batch is stored in.
	batches := batchesOf(samples)
	for o := range k.orientation {
		before := k
		before.orientation = o
		for _, b := range batchesOf(f.v.cells[before]) {
			batches = slices.DeleteFunc(batches, func(x int) bool { return x == b })
		}
	}
	zero := f.v.cells[cell{f.attribute, -1, k.pack, 0}]
	for i := range zero {
		if slices.Contains(batches, zero[i].Batch) && !add(&zero[i]) {
			return false
		}
	}
	return true
}

// addUnits adds the rate of each package unit.
func (f *field) addUnits(a *arms, samples []Sample, c int, arm func(batch int) int) bool {
	weighing := f.at().Kind == study.Weighing
	for _, u := range byUnit(samples, a.baseline) {
		if weighing {
			if rate, ok := units.Rate(u.Points); ok {
				a.Observations = append(a.Observations, comparison.Observation{Arm: arm(u.Batch), Start: -1, X: 1, Z: rate})
				a.starts[c] = append(a.starts[c], 0)
			}
			continue
		}
		var x, z []float64
		for _, p := range u.Points {
			x, z = append(x, a.model.Time(p.Months-a.baseline)), append(z, a.model.Transform(p.Value))
			if math.IsNaN(z[len(z)-1]) {
				return false
			}
		}
		if line, _, err := linear.Straight(x, z); err == nil {
			a.Observations = append(a.Observations, comparison.Observation{Arm: arm(u.Batch), Start: -1, X: 1, Z: line.Slope})
			a.starts[c] = append(a.starts[c], line.Intercept())
		}
	}
	return true
}

// start is where a combination starts, in the mean of its batches: by the fit, or
// by its units' own lines.
func (a *arms) start(fit *comparison.Fit, c int) float64 {
	if a.byUnit {
		sum := 0.0
		for _, x := range a.starts[c] {
			sum += x / float64(len(a.starts[c]))
		}
		return sum
	}
	type group struct{ sum, n float64 }
	groups := map[int]group{}
	of := map[int]bool{}
	for _, o := range a.Observations {
		rate := fit.Rate(a.Arms[o.Arm])
		if o.X == 0 {
			rate = 0
		}
		g := groups[o.Start]
		g.sum += o.Z - rate*o.X
		g.n++
		groups[o.Start] = g
		of[o.Start] = of[o.Start] || a.Arms[o.Arm].Combination == c || a.combinations[a.Arms[o.Arm].Combination].pack == a.combinations[c].pack
	}
	var starts []int
	for s := range groups {
		if of[s] && !math.IsNaN(groups[s].sum) {
			starts = append(starts, s)
		}
	}
	slices.SortFunc(starts, cmp.Compare)
	sum := 0.0
	for _, s := range starts {
		sum += groups[s].sum / groups[s].n / float64(len(starts))
	}
	if len(starts) == 0 {
		return math.NaN()
	}
	return sum
}

// last is the last planned pull that arms of two combinations, or of two sets of
// batches, both have.
func (a *arms) last(one, other func(comparison.Arm) bool) float64 {
	latest := func(in func(comparison.Arm) bool) float64 {
		t := 0.0
		for i, arm := range a.Arms {
			if n := len(a.pulls[i]); n > 0 && in(arm) {
				t = max(t, a.pulls[i][n-1])
			}
		}
		return t
	}
	return min(latest(one), latest(other))
}

func student(p float64, df int) float64 { return linear.StudentQuantile(p, df) }

// hasRate reports whether any batch has a rate in a combination.
func (a *arms) hasRate(fit *comparison.Fit, c int) bool {
	for i, arm := range a.Arms {
		if arm.Combination == c && !slices.Contains(fit.Lost, i) {
			return true
		}
	}
	return false
}
