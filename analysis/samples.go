package analysis

import (
	"cmp"
	"math"
	"slices"

	"shelfspan/analysis/observed"
	"shelfspan/study"
)

// cell is one attribute at one condition in one pack and orientation. Time-zero
// samples, which count in every condition and orientation of their batch and
// pack, are gathered under condition -1 and orientation 0.
type cell struct{ attribute, condition, pack, orientation int }

// gather averages the repeat readings of each sample and sorts the samples into
// cells. The order of the results does not matter: they are sorted first, their
// values last, so that even the rounding of the sums is the same.
func gather(d *study.Dataset) map[cell][]Sample {
	s := d.Study
	order := make([]int32, len(d.Results))
	for i := range order {
		order[i] = int32(i)
	}
	// Texts are interned in the order of the rows; their ranks are not.
	rank := textRanks(d.Texts)
	slices.SortFunc(order, func(i, j int32) int {
		a, b := &d.Results[i], &d.Results[j]
		if c := compareSamples(s, a, b, rank); c != 0 {
			return c
		}
		return cmp.Or(cmp.Compare(a.Value, b.Value), cmp.Compare(a.Censor, b.Censor))
	})
	cells := make(map[cell][]Sample)
	for i := 0; i < len(order); {
		first := &d.Results[order[i]]
		j := i + 1
		for j < len(order) && compareSamples(s, first, &d.Results[order[j]], rank) == 0 {
			j++
		}
		k := cellOf(s, first)
		cells[k] = append(cells[k], average(d, order[i:j]))
		i = j
	}
	return cells
}

// cellOf gives the cell a result belongs to. A weighing at time zero belongs to
// its unit, and so to the condition it names, if any.
func cellOf(s *study.Study, r *study.Result) cell {
	k := cell{int(r.Attribute), int(r.Condition), int(r.Pack), int(r.Orientation)}
	if r.Planned.IsZero() && s.Attributes[r.Attribute].Kind != study.Weighing {
		k.condition, k.orientation = -1, 0
	}
	return k
}

// compareSamples orders results by the sample they were measured on; readings
// of one sample compare equal.
func compareSamples(s *study.Study, a, b *study.Result, rank []int32) int {
	ka, kb := cellOf(s, a), cellOf(s, b)
	return cmp.Or(
		cmp.Compare(ka.attribute, kb.attribute),
		cmp.Compare(ka.condition, kb.condition),
		cmp.Compare(ka.pack, kb.pack),
		cmp.Compare(ka.orientation, kb.orientation),
		cmp.Compare(a.Batch, b.Batch),
		cmp.Compare(a.Elapsed, b.Elapsed),
		cmp.Compare(a.Planned.N, b.Planned.N),
		cmp.Compare(a.Planned.Unit, b.Planned.Unit),
		cmp.Compare(rank[a.Unit], rank[b.Unit]),
	)
}

// textRanks gives each interned text's place in alphabetical order.
func textRanks(texts []string) []int32 {
	order := make([]int32, len(texts))
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortStableFunc(order, func(i, j int32) int { return cmp.Compare(texts[i], texts[j]) })
	rank := make([]int32, len(texts))
	for r, i := range order {
		rank[i] = int32(r)
	}
	return rank
}

// mixedMethods stands for the method of a sample read by several.
const mixedMethods = "several methods"

// average makes one sample of its readings. Readings of a grade have no mean:
// the worst one counts.
func average(d *study.Dataset, readings []int32) Sample {
	r := &d.Results[readings[0]]
	x := Sample{
		Batch: int(r.Batch), Unit: d.Text(r.Unit), Months: r.Elapsed,
		Planned: r.Planned, Pulled: r.Pulled,
		Condition: int(r.Condition), Readings: len(readings), InWindow: r.InWindow,
		Low: math.Inf(1), High: math.Inf(-1), Tare: r.Tare, Method: d.Text(r.Method),
	}
	hours := 0.0
	if r.Condition >= 0 {
		hours = d.Study.Conditions[r.Condition].CycleHours
	}
	x.PlannedMonths = r.Planned.Months(hours)
	if r.Planned.IsZero() {
		x.Months = 0 // it was never in storage, whatever day it was taken
	}
	sum := 0.0
	for _, i := range readings {
		q := &d.Results[i]
		sum += q.Value
		x.Low, x.High = min(x.Low, q.Value), max(x.High, q.Value)
		if q.Censor != study.Exact {
			x.bothSides = x.bothSides || x.Censor == -q.Censor
			x.Censor = q.Censor
		}
		x.InWindow = x.InWindow && q.InWindow
		if q.Method != r.Method {
			x.Method = mixedMethods
		}
	}
	x.Value = sum / float64(len(readings))
	if k := d.Study.Attributes[r.Attribute].Kind; k == study.Grade || k == study.PassFail {
		x.Value = x.High
	}
	return x
}

// trendTime gives the time in months at which a sample enters a trend that
// counts from a baseline, and whether it does: the planned pull decides, so that
// a baseline pull made a few days early is not lost, but stands at the baseline.
func (x *Sample) trendTime(baseline float64) (months float64, ok bool) {
	return max(x.Months, baseline), !observed.Before(x.PlannedMonths, baseline)
}

// series gives the samples of a cell with those of time zero, by batch and
// time. A batch with nothing later than time zero in the cell is not stored
// there, or not yet tested: its time zero counts elsewhere. The slice is the
// caller's own.
func series(cells map[cell][]Sample, k cell) []Sample {
	zero := cells[cell{k.attribute, -1, k.pack, 0}]
	own := cells[k]
	batches := batchesOf(own)
	out := make([]Sample, 0, len(zero)+len(own))
	for i := range zero {
		if slices.Contains(batches, zero[i].Batch) {
			out = append(out, zero[i])
		}
	}
	out = append(out, own...)
	slices.SortStableFunc(out, func(a, b Sample) int {
		return cmp.Or(cmp.Compare(a.Batch, b.Batch), cmp.Compare(a.Months, b.Months))
	})
	return out
}
