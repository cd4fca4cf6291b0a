package arrhenius

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"shelfspan/analysis/kinetics"
)

// arrange sorts out which points enter, leaving out those of the condition
// `without` (−1: none). The reason is not empty where nothing can be fitted.
func arrange(in *Input, without int) (l *layout, status Status, reason string) {
	l = &layout{baseline: in.Baseline}
	if math.IsNaN(in.Baseline) || math.IsInf(in.Baseline, 0) {
		return l, NotFitted, "the baseline is no finite time"
	}
	used := make([]bool, len(in.Conditions))
	for i, p := range in.Points {
		switch {
		case p.Condition == without && without >= 0:
			continue
		case !isFinite(p.Months) || !isFinite(p.Value):
			return l, NotFitted, fmt.Sprintf("result %d is no finite number", i+1)
		case p.Months < in.Baseline:
			continue
		case p.Condition < -1 || p.Condition >= len(in.Conditions) || p.Condition == -1 && p.Months > in.Baseline:
			return l, NotFitted, fmt.Sprintf("result %d is after the start and has no condition", i+1)
		}
		l.points = append(l.points, p)
		if p.Months > in.Baseline {
			used[p.Condition] = true
		}
	}
	if len(l.points) == 0 {
		return l, TooFewTimes, "there are no results to fit"
	}
	for c, u := range used {
		if !u {
			continue
		}
		if k := in.Conditions[c].Celsius + ZeroCelsius; !(k > 0) || math.IsInf(k, 1) {
			return l, NotFitted, fmt.Sprintf("%s has no temperature", in.Conditions[c].Name)
		}
		l.conditions = append(l.conditions, c)
	}
	// The same points in another order have to give the same answer to the
	// last bit, so they are put in one order.
	slices.SortFunc(l.points, comparePoints)
	for _, p := range l.points {
		if n := len(l.batches); n == 0 || l.batches[n-1] != p.Batch {
			l.batches = append(l.batches, p.Batch)
		}
	}
	l.groups = 1
	switch {
	case in.ByBatch:
		l.groups = len(l.batches)
	case in.Groups != nil:
		if reason = l.groupBy(in.Groups); reason != "" {
			return l, NotFitted, reason
		}
	}
	for _, p := range l.points {
		if p.Months > in.Baseline {
			b, _ := slices.BinarySearch(l.batches, p.Batch)
			c := cell{l.group(b), p.Condition}
			if at, known := slices.BinarySearchFunc(l.cells, c, compareCells); !known {
				l.cells = slices.Insert(l.cells, at, c)
			}
		}
	}
	for g := range l.groups {
		if from, to := l.cellsOf(g); l.groups > 1 && from == to {
			return l, NotFitted, "a batch has results at the start only, and so no rate of its own"
		}
	}
	times := make([]kinetics.Point, len(l.points))
	for i, p := range l.points {
		times[i].Months = p.Months
		b, _ := slices.BinarySearch(l.batches, p.Batch)
		l.batch = append(l.batch, b)
		c := -1
		if p.Months > in.Baseline {
			c, _ = slices.BinarySearchFunc(l.cells, cell{l.group(b), p.Condition}, compareCells)
		}
		l.cell = append(l.cell, c)
	}
	if kinetics.DistinctTimes(times) < 3 {
		return l, TooFewTimes, "there are fewer than 3 distinct times"
	}
	return l, Fitted, ""
}

// group is the one a batch, as an index into batches, belongs to.
func (l *layout) group(batch int) int {
	switch {
	case l.groups == 1:
		return 0
	case l.groupOf != nil:
		return l.groupOf[batch]
	}
	return batch
}

// groupBy puts the batches into the groups stated, numbered anew in their order.
func (l *layout) groupBy(groups []int) (reason string) {
	var stated []int
	for _, b := range l.batches {
		if b < 0 || b >= len(groups) {
			return "a batch has no group"
		}
		stated = append(stated, groups[b])
	}
	distinct := slices.Clone(stated)
	slices.Sort(distinct)
	distinct = slices.Compact(distinct)
	l.groups, l.groupOf = len(distinct), make([]int, len(stated))
	for i, g := range stated {
		l.groupOf[i], _ = slices.BinarySearch(distinct, g)
	}
	return ""
}

// cellsOf gives the range of a group's cells.
func (l *layout) cellsOf(group int) (from, to int) {
	from, _ = slices.BinarySearchFunc(l.cells, cell{group, 0}, compareCells)
	to, _ = slices.BinarySearchFunc(l.cells, cell{group + 1, 0}, compareCells)
	return from, to
}

func compareCells(a, b cell) int {
	return cmp.Or(cmp.Compare(a.group, b.group), cmp.Compare(a.condition, b.condition))
}

func comparePoints(a, b Point) int {
	for _, d := range [...]float64{float64(a.Batch - b.Batch), a.Months - b.Months, float64(a.Condition - b.Condition), a.Value - b.Value} {
		if d < 0 {
			return -1
		}
		if d > 0 {
			return 1
		}
	}
	return 0
}

// temperatures lists the distinct temperatures that entered, ascending.
func (l *layout) temperatures(in *Input) []float64 {
	t := make([]float64, len(l.conditions))
	for i, c := range l.conditions {
		t[i] = in.Conditions[c].Celsius
	}
	slices.Sort(t)
	return slices.Compact(t)
}

func isFinite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
