package weightloss

import (
	"slices"

	"shelfspan/analysis/esd"
	"shelfspan/analysis/pooling"
	"shelfspan/analysis/units"
)

// Level is the significance level at which leakers are looked for.
const Level = 0.05

// Findings are the units whose rates stand apart. The lists are in the order in
// which they were found, the farthest first.
type Findings struct {
	Tested   bool // false: too few units to tell
	OwnMeans bool // units were compared with the mean of their own batch, not of all
	Most     int  // so many were looked for at the most

	Leakers  []int // indices of units that lose more than the others' spread explains
	Strange  []int // of those that lose less than it explains, or gain
	Alone    []int // of those that are alone in their batch and were not tested, where OwnMeans
	Suspects []int // of those that would be leakers by a search for several, which is not to be trusted among so few
}

// Leakers looks for units whose rates stand apart, by the generalized extreme
// studentized deviate test at Level on both sides (see esd.TestGroups). One that
// lies above and loses mass is a leaker. One below is strange: it gains, or loses
// less than it should, and was perhaps mixed up or weighed amiss.
//
// What a unit is compared with: the mean of all where batches do not differ by
// units.PoolRates at alpha, else the mean of its own batch, so that the units of a
// batch that loses more are no leakers. A leaker hides such a difference, since it
// alone brings F to about 1: if units are found among batches taken as alike, it
// is asked again without them, and where the others' batches do differ the search
// is made anew with own means, and stands. A unit alone in its batch cannot then
// be told from it and is not tested.
//
// Masking: two leakers widen the spread by which each is judged. Of n units whose
// others are alike, two alike have R = √((n−1)(n−2)/(2n)) at the most, which is below
// λ for n up to 16: there they hide each other altogether from a search for one.
// The search for several has the remedy built in, but among few units it finds
// leakers where there are none too often (see esd.Few). So it looks for up to a
// fifth of the units, at most ten, where there are esd.Few of them or more; more
// leakers than that can hide each other still. Among fewer it looks for one
// alone, which keeps the level; what a second search, for up to a quarter of
// them, finds besides is a suspect: to be looked at, and not called a leaker. By
// our own simulation that finds suspects or leakers in 7 to 9 of 100 sets of 8 to
// 12 sound units.
func Leakers(us []Unit, alpha float64) Findings {
	batches, rates := make([]int, len(us)), make([]float64, len(us))
	for i := range us {
		batches[i], rates[i] = us[i].Batch, us[i].Rate
	}
	f := search(us, batches, rates, differ(batches, rates, alpha))
	if !f.OwnMeans && len(f.Leakers)+len(f.Strange) > 0 {
		out := append(append([]int{}, f.Leakers...), f.Strange...)
		if differ(without(batches, out), without(rates, out), alpha) {
			if again := search(us, batches, rates, true); again.Tested {
				return again
			}
		}
	}
	return f
}

// differ reports whether the batches' rates differ. Those that cannot be compared,
// for want of two units in any, are taken as alike.
func differ(batches []int, rates []float64, alpha float64) bool {
	several := false
	for _, b := range batches {
		several = several || b != batches[0]
	}
	if !several {
		return false
	}
	fit, err := units.PoolRates(batches, rates, alpha)
	return err == nil && fit.Decision == pooling.Separate
}

// search looks for units that stand apart from the mean of all, or of their batch.
func search(us []Unit, batches []int, rates []float64, ownMeans bool) Findings {
	f := Findings{OwnMeans: ownMeans, Most: 1}
	groups, values := batches, len(us)
	if ownMeans {
		counts := map[int]int{}
		for _, b := range batches {
			counts[b]++
		}
		values = 1
		for i, b := range batches {
			if counts[b] == 1 {
				f.Alone = append(f.Alone, i)
			}
		}
		for _, n := range counts {
			values += n - 1 // a degree of freedom for each further unit
		}
	} else {
		groups = make([]int, len(us))
	}
	if values >= esd.Few {
		f.Most = min(values/5, 10)
	}
	found, err := esd.TestGroups(rates, groups, f.Most, Level)
	if err != nil {
		return f
	}
	f.Tested = true
	for _, step := range found.Steps[:found.Outliers] {
		if step.Above && us[step.Index].Rate > 0 {
			f.Leakers = append(f.Leakers, step.Index)
		} else {
			f.Strange = append(f.Strange, step.Index)
		}
	}
	if values < esd.Few && values >= 8 {
		more, err := esd.TestGroups(rates, groups, values/4, Level)
		if err != nil {
			return f
		}
		for _, step := range more.Steps[:more.Outliers] {
			if step.Above && us[step.Index].Rate > 0 && !slices.Contains(f.Leakers, step.Index) {
				f.Suspects = append(f.Suspects, step.Index)
			}
		}
	}
	return f
}

// Without gives the units that are not among some.
func Without(us []Unit, some []int) []Unit { return without(us, some) }

func without[T any](all []T, some []int) []T {
	out := make([]T, 0, len(all))
	for i := range all {
		if !slices.Contains(some, i) {
			out = append(out, all[i])
		}
	}
	return out
}
