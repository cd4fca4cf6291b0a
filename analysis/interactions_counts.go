package analysis

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"shelfspan/analysis/comparison"
	"shelfspan/analysis/fisher"
	"shelfspan/analysis/simultaneous"
	"shelfspan/study"
)

// The errors of units counted, by Fisher's exact test.
const (
	ErrorCounts       ErrorOf = "counts"                // batches together: how they vary is not in it
	ErrorCountsWithin ErrorOf = "counts-within-batches" // one ratio of odds, within each batch
)

// compareCounts compares grades and pass or fail: where enough units failed by their
// lifetimes, and else by those that have failed by the last pull that both have, of
// units opened once those of that pull, of units put back each once, with Fisher's
// test. Either is made within batches where two or more have units of both; else, as of
// what batches are made of, batches are taken together, with a warning. p-values are
// adjusted by Holm over the family, intervals by Bonferroni. No month of shelf life is
// told of two groups of units; the factor is, by which the time to a failure differs.
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
	var told []*Comparison
	confidence := f.v.confidence
	if f.x.Adjust != None {
		confidence = 1 - (1-confidence)/float64(max(1, len(m.comparisons)))
	}
	for i, c := range m.comparisons {
		f.compareLives(c, m.of[i][0].lives, m.of[i][1].lives, confidence)
		if c.Outcome == NotCompared && c.Lifetimes == nil {
			continue
		}
		f.remarkBatches(c)
		ps, told = append(ps, c.P), append(told, c)
	}
	if f.x.Adjust != None {
		if adjusted, err := simultaneous.Holm(ps); err == nil {
			ps = adjusted
		}
	}
	for i, c := range told {
		c.PAdjusted = ps[i]
		c.Outcome, c.Reason = NotShown, ""
		if c.PAdjusted < 1-f.v.confidence {
			c.Outcome = Differs
		}
	}
	f.out = append(f.out, m.comparisons...)
}

// Strata is the batches within which two groups of units are compared.
type Strata struct {
	Batches int // that have units of either
	Both    int // of them, that have units of both
	// Telling of the difference are, of those of both, the ones in which some failed and
	// some passed. 0 where batches are taken together.
	Telling int

	one, silent []int // batches with units of one alone, and of both where none failed or none passed
}

// Within reports whether there are batches enough to compare within them.
func (s *Strata) Within() bool { return s.Both > 1 }

// strata sorts batches by whether they have units of either group and whether they
// tell.
func strata(batches int, has func(batch int) (one, other bool), tells func(batch int) bool) *Strata {
	s := &Strata{}
	for b := range batches {
		one, other := has(b)
		if !one && !other {
			continue
		}
		s.Batches++
		switch {
		case !one || !other:
			s.one = append(s.one, b)
			continue
		case tells(b):
			s.Telling++
		default:
			s.silent = append(s.silent, b)
		}
		s.Both++
	}
	if !s.Within() {
		s.Telling = 0
	}
	return s
}

// remarkBatches warns of what batches keep out of the comparison of two groups of units
// or out of its p-value.
func (f *field) remarkBatches(c *Comparison) {
	s := c.Strata
	names := func(batches []int) string {
		var ids []string
		for _, b := range batches {
			ids = append(ids, f.v.s.Batches[b].ID)
		}
		return strings.Join(ids, ", ")
	}
	of := c.Level + " against " + c.Against
	switch {
	case s.Batches > 1 && !s.Within() && c.Pack < 0:
		f.warn("batches-together", fmt.Sprintf("What batches declare under %s is compared by their units, those of all batches of a level together: how batches of one level vary is not in the p-values, and where they do a difference is found that is of batches alone.", c.Factor))
	case s.Batches > 1 && !s.Within():
		f.warn("batches-together", fmt.Sprintf("%s: fewer than two batches have units of both, so that batches are taken together: how they vary is not in the p-value, and what differs may be the batches.", of))
	case s.Within() && len(s.one) > 0:
		f.warn("batch-of-one", fmt.Sprintf("%s: of one of the two alone are the units of %s, which tell nothing of the difference, as units are compared within batches.", of, names(s.one)))
	}
	if s.Within() && len(s.silent) > 0 && c.Lifetimes != nil {
		f.warn("batch-left-out", fmt.Sprintf("%s: in %s no unit is known to have failed, or none to have passed. The likelihood of such a batch is greatest with its location at infinity, whatever the difference: it tells nothing of that, and is left out, which changes no number.", of, names(s.silent)))
	}
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
	of, against := f.failed(one, x.LastMonths), f.failed(other, x.LastMonths)
	tables := make([][2][2]int, len(of))
	for b := range of {
		tables[b] = [2][2]int{{of[b][0], of[b][1] - of[b][0]}, {against[b][0], against[b][1] - against[b][0]}}
		for k := range 2 {
			x.Failed[k] += of[b][k]
			x.AgainstFailed[k] += against[b][k]
		}
	}
	if x.Failed[1] == 0 || x.AgainstFailed[1] == 0 {
		return nil
	}
	x.Strata = strata(len(of), func(b int) (bool, bool) { return of[b][1] > 0, against[b][1] > 0 }, func(b int) bool {
		failed := of[b][0] + against[b][0]
		return failed > 0 && failed < of[b][1]+against[b][1]
	})
	x.Model, x.Error = "observed", ErrorCountsWithin
	if !x.Strata.Within() {
		x.Error = ErrorCounts
		tables = [][2][2]int{{{x.Failed[0], x.Failed[1] - x.Failed[0]}, {x.AgainstFailed[0], x.AgainstFailed[1] - x.AgainstFailed[0]}}}
	}
	r, err := fisher.Stratified(tables, f.v.confidence)
	if err != nil {
		x.Outcome, x.Reason = NotCompared, err.Error() // but lifetimes may tell
		return x
	}
	x.P = r.P
	return x
}

// failed counts by batch the units that had failed by a time, and the units: of those
// opened once, the ones of the last pull up to then.
func (f *field) failed(samples []Sample, by float64) [][2]int {
	n := make([][2]int, len(f.v.s.Batches))
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
		for k, bad := range out {
			n[k.batch][1]++
			if bad {
				n[k.batch][0]++
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
			n[s.Batch][1]++
			if s.OutOfCriterion {
				n[s.Batch][0]++
			}
		}
	}
	return n
}
