package analysis

import (
	"fmt"
	"math"
	"slices"

	"shelfspan/analysis/comparison"
	"shelfspan/analysis/fisher"
	"shelfspan/analysis/simultaneous"
	"shelfspan/study"
)

// ErrorCounts is that of units counted: Fisher's exact test, batches together.
const ErrorCounts ErrorOf = "counts"

// compareCounts compares grades and pass or fail, batches together: where enough units
// failed by their lifetimes, and else by those that have failed by the last pull that
// both have, of units opened once those of that pull, of units put back each once,
// with Fisher's test. p-values are adjusted by Holm over the family, intervals by
// Bonferroni. No month of shelf life is told of two groups of units; the factor is,
// by which the time to a failure differs.
func (f *field) compareCounts() {
	at := f.at()
	if !at.HasLimit() && at.Kind != study.PassFail {
		return
	}
	var combinations []combination
	samples := map[combination]*watched{}
	for _, k := range f.v.arms(f.attribute) {
		if k.condition = f.condition; len(f.v.cells[k]) > 0 {
			c := combination{k.pack, k.orientation}
			combinations = append(combinations, c)
			a := &Analysis{Attribute: f.attribute, Condition: f.condition, Pack: k.pack, Orientation: k.orientation, Samples: f.v.samples(k)}
			f.v.judge(a, "")
			samples[c] = &watched{a.Samples, f.lives(c)}
		}
	}
	if len(combinations) < 1 {
		return
	}
	f.remarkOneBatch(samples)
	control := f.v.referencePack()
	find := func(pack, orientation int) int {
		return slices.IndexFunc(combinations, func(c combination) bool { return c.pack == pack && c.orientation == orientation })
	}
	first := func(pack int) int {
		return slices.IndexFunc(combinations, func(c combination) bool { return c.pack == pack })
	}
	packs, orientations := &counted{}, &counted{}
	for i, c := range combinations {
		same := find(control, c.orientation)
		switch {
		case c.pack == control:
		case same >= 0:
			packs.add(f.count(FactorPack, c, combinations[same], samples))
		case i == first(c.pack) && first(control) >= 0:
			packs.add(f.count(FactorPack, c, combinations[first(control)], samples))
		}
		if i != first(c.pack) {
			orientations.add(f.count(FactorOrientation, c, combinations[first(c.pack)], samples))
		}
	}
	packs.adjust(f)
	orientations.adjust(f)
	for _, t := range f.v.terms() {
		if t.Name == FactorScale {
			continue
		}
		m := &counted{}
		for l := range t.Levels {
			if l != t.Reference {
				m.add(f.countLevels(&t, l, combinations, samples))
			}
		}
		m.adjust(f)
	}
}

// watched is the samples of units, judged, and the units' lifetimes.
type watched struct {
	samples []Sample
	lives   []unitLife
}

// counted is a family of comparisons of units.
type counted struct {
	comparisons []*Comparison
	of          [][2]*watched
}

func (m *counted) add(c *Comparison, one, other *watched) {
	if c != nil {
		m.comparisons, m.of = append(m.comparisons, c), append(m.of, [2]*watched{one, other})
	}
}

// adjust says what each came to, p-values adjusted by Holm and intervals by
// Bonferroni.
func (m *counted) adjust(f *field) {
	var ps []float64
	confidence := f.v.confidence
	if f.x.Adjust != None {
		confidence = 1 - (1-confidence)/float64(max(1, len(m.comparisons)))
	}
	for i, c := range m.comparisons {
		if c.Lifetimes, c.Thin = f.compareLives(m.of[i][0].lives, m.of[i][1].lives, confidence); c.Lifetimes != nil {
			c.P, c.Error, c.Model = c.Lifetimes.P, ErrorLifetimes, string(c.Lifetimes.Distribution)
		}
		ps = append(ps, c.P)
	}
	if f.x.Adjust != None {
		if adjusted, err := simultaneous.Holm(ps); err == nil {
			ps = adjusted
		}
	}
	for i, c := range m.comparisons {
		c.PAdjusted = ps[i]
		c.Outcome = NotShown
		if c.PAdjusted < 1-f.v.confidence {
			c.Outcome = Differs
		}
	}
	f.out = append(f.out, m.comparisons...)
}

// count compares two combinations.
func (f *field) count(factor string, c, against combination, samples map[combination]*watched) (x *Comparison, one, other *watched) {
	x = f.new(factor, f.combinationName(c), f.combinationName(against))
	x.Pack, x.Orientation = c.pack, c.orientation
	one, other = samples[c], samples[against]
	return f.test(x, one.samples, other.samples), one, other
}

// countLevels compares the batches of two levels of a factor, all combinations
// together.
func (f *field) countLevels(t *comparison.Term, level int, combinations []combination, samples map[combination]*watched) (x *Comparison, one, other *watched) {
	x = f.new(t.Name, t.Levels[level], t.Levels[t.Reference])
	of := func(level int) *watched {
		out := &watched{}
		for _, c := range combinations {
			for _, s := range samples[c].samples {
				if t.Of[s.Batch] == level {
					s.Unit = fmt.Sprintf("%d %d %s", c.pack, c.orientation, s.Unit)
					out.samples = append(out.samples, s)
				}
			}
			for _, u := range samples[c].lives {
				if t.Of[u.batch] == level {
					out.lives = append(out.lives, u)
				}
			}
		}
		return out
	}
	one, other = of(level), of(t.Reference)
	return f.test(x, one.samples, other.samples), one, other
}

// test counts who has failed by the last planned pull that both have; nil where
// they have none.
func (f *field) test(x *Comparison, one, other []Sample) *Comparison {
	last := func(s []Sample) float64 {
		t := 0.0
		for i := range s {
			t = max(t, s[i].PlannedMonths)
		}
		return t
	}
	x.LastMonths = min(last(one), last(other))
	if x.LastMonths == 0 {
		return nil
	}
	x.Model, x.Error = "observed", ErrorCounts
	x.Failed, x.AgainstFailed = f.failed(one, x.LastMonths), f.failed(other, x.LastMonths)
	r, err := fisher.Test([2][2]int{{x.Failed[0], x.Failed[1] - x.Failed[0]}, {x.AgainstFailed[0], x.AgainstFailed[1] - x.AgainstFailed[0]}}, f.v.confidence)
	if err != nil || x.Failed[1] == 0 || x.AgainstFailed[1] == 0 {
		return nil
	}
	x.P = r.P
	return x
}

// failed counts the units that had failed by a time, and the units: of those opened
// once, the ones of the last pull up to then.
func (f *field) failed(samples []Sample, by float64) (n [2]int) {
	if f.at().Sampling == study.Returned {
		type unit struct {
			batch int
			label string
		}
		out := map[unit]bool{}
		for i := range samples {
			if s := &samples[i]; s.PlannedMonths <= by && s.PlannedMonths > 0 {
				k := unit{s.Batch, s.Unit}
				out[k] = out[k] || s.OutOfCriterion
			}
		}
		for _, bad := range out {
			n[1]++
			if bad {
				n[0]++
			}
		}
		return n
	}
	at := 0.0
	for i := range samples {
		if t := samples[i].PlannedMonths; t <= by {
			at = math.Max(at, t)
		}
	}
	for i := range samples {
		if s := &samples[i]; s.PlannedMonths == at {
			n[1]++
			if s.OutOfCriterion {
				n[0]++
			}
		}
	}
	return n
}
