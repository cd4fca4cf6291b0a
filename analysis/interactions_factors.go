package analysis

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"shelfspan/analysis/comparison"
)

// terms lists what differs between batches: the factors they declare that have two
// levels or more, and the scale where it has.
func (v *evaluator) terms() []comparison.Term {
	var names []string
	for i := range v.s.Batches {
		for _, x := range v.s.Batches[i].Factors {
			if !slices.Contains(names, x.Name) {
				names = append(names, x.Name)
			}
		}
	}
	var out []comparison.Term
	add := func(name string, level func(batch int) string) {
		t := comparison.Term{Name: name, Of: make([]int, len(v.s.Batches))}
		for i := range v.s.Batches {
			l := level(i)
			if t.Of[i] = slices.Index(t.Levels, l); l != "" && t.Of[i] < 0 {
				t.Of[i] = len(t.Levels)
				t.Levels = append(t.Levels, l)
			}
		}
		if len(t.Levels) > 1 {
			t.Reference = v.referenceLevel(&t)
			out = append(out, t)
		}
	}
	for _, name := range names {
		add(name, func(batch int) string {
			for _, x := range v.s.Batches[batch].Factors {
				if x.Name == name {
					return x.Level
				}
			}
			return ""
		})
	}
	before := len(out)
	add(FactorScale, func(batch int) string { return v.s.Batches[batch].Scale })
	if len(out) > before {
		out[before].Alone = true
	}
	return out
}

// referenceLevel is the level named, or the one most batches have, the first of
// equals.
func (v *evaluator) referenceLevel(t *comparison.Term) int {
	if level, named := v.o.Interactions.Against[t.Name]; named {
		return slices.Index(t.Levels, level)
	}
	count := make([]int, len(t.Levels))
	for _, l := range t.Of {
		if l >= 0 {
			count[l]++
		}
	}
	best := 0
	for i, n := range count {
		if n > count[best] {
			best = i
		}
	}
	return best
}

// compareFactors compares what batches are made of, and whether packs matter alike
// whatever that is.
func (f *field) compareFactors(a *arms, fit *comparison.Fit, reference int) {
	terms := f.v.terms()
	if !slices.ContainsFunc(terms, func(t comparison.Term) bool { return t.Name != FactorScale }) {
		return
	}
	b, err := fit.CompareBatches(terms, true)
	if err == nil && b.Those { // no room for two together: the main effects may have it
		if alone, e := fit.CompareBatches(terms, false); e == nil {
			b = alone
		}
	}
	if err != nil {
		f.warn("factors-not-compared", "What the batches are made of is not compared: "+err.Error()+".")
		return
	}
	f.remarkUnlikeBatches(fit, b)
	start := f.meanStart(a, fit)
	families := map[string]*family{}
	var order []string
	together := map[[2]int]string{} // names of levels, by term, that go with others in all batches
	told := make([]bool, len(terms))
	for i := range b.Columns {
		told[b.Columns[i].Term] = told[b.Columns[i].Term] || b.Columns[i].OtherTerm < 0 && b.Columns[i].Known()
	}
	for i := range b.Columns {
		col := &b.Columns[i]
		t := &terms[col.Term]
		factor, level, against := t.Name, t.Levels[col.Level], t.Levels[t.Reference]
		contrast := make([]float64, len(b.Coefficients))
		contrast[i+1] = 1
		base := f.batchRate(b, fit, a)
		if col.OtherTerm >= 0 {
			u := &terms[col.OtherTerm]
			factor, level, against = t.Name+" × "+u.Name, levelName(t, col.Level)+" + "+levelName(u, col.OtherLevel), "what each does alone"
		}
		x := f.new(factor, level, against)
		if strings.Contains(" × "+factor+" × ", " × "+FactorScale+" × ") {
			continue // it is in the model so that an ingredient is told from it; --scale compares it
		}
		if !col.Known() {
			if col.OtherTerm >= 0 && strings.HasPrefix(col.With, "what no batch") {
				continue // no batch has both
			}
			x.Outcome, x.Reason = NotCompared, "it cannot be told from "+col.With+col.Apart
			f.out = append(f.out, x)
			continue
		}
		if len(col.Same) > 0 { // all that is known is what they do together
			var with []string
			for _, k := range col.Same {
				u := &terms[b.Columns[k].Term]
				with = append(with, levelName(u, b.Columns[k].Level))
				x.Against += " with " + levelName(u, u.Reference)
			}
			x.Level = levelName(t, col.Level) + " with " + strings.Join(with, " and ")
			together[[2]int{col.Term, col.Level}] = x.Level
			f.warn("confounded", fmt.Sprintf("All batches with %s have %s, and no others do: what is said is of these together, and may be of either. A batch with one and without the other would tell.",
				levelName(t, col.Level), strings.Join(with, " and ")))
		}
		e := b.Of(contrast)
		x.AgainstRate = base
		if col.OtherTerm >= 0 {
			x.AgainstRate += f.main(b, col.Term, col.Level) + f.main(b, col.OtherTerm, col.OtherLevel)
		}
		x.Rate = x.AgainstRate + e.Value
		x.LastMonths = a.last(ofLevel(t, col.Level), ofLevel(t, t.Reference))
		m := families[factor]
		if m == nil {
			m = &family{}
			families[factor] = m
			order = append(order, factor)
		}
		m.add(x, contrast, e)
	}
	which := ErrorBatches
	if b.Those {
		which = ErrorThose
		f.warn("one-batch-a-formula", "No two batches are of one formula, so that how batches differ is not known: what is said of the formula is said of these batches alone.")
	}
	for _, factor := range order {
		f.settle(families[factor], b.Covariance, b.Variance, b.DF, which, a, func(*Comparison) float64 { return start })
	}
	for i := range terms {
		if terms[i].Name != FactorScale && told[i] {
			f.packsByLevel(a, fit, &terms[i], reference, func(level int) string {
				if name := together[[2]int{i, level}]; name != "" {
					return name
				}
				return levelName(&terms[i], level)
			})
		}
	}
}

// remarkUnlikeBatches warns where some batches' rates are known much better than
// others', as each counts once in what is said of the formula.
func (f *field) remarkUnlikeBatches(fit *comparison.Fit, b *comparison.Between) {
	if b.Those {
		return
	}
	best, worst := b.Batches[0], b.Batches[0]
	for _, i := range b.Batches {
		if v := fit.Covariance.At(i, i); v < fit.Covariance.At(best, best) {
			best = i
		} else if v > fit.Covariance.At(worst, worst) {
			worst = i
		}
	}
	const unlike = 4 // of the variances: twice the standard error; common practice, no source
	if fit.Covariance.At(worst, worst) > unlike*fit.Covariance.At(best, best) {
		f.warn("unlike-batches", fmt.Sprintf("The rate of batch %s is known much less surely than that of %s, and in what is said of the formula each batch counts once: its intervals hold only roughly.",
			f.v.s.Batches[worst].ID, f.v.s.Batches[best].ID))
	}
}

func ofLevel(t *comparison.Term, level int) func(comparison.Arm) bool {
	return func(x comparison.Arm) bool { return t.Of[x.Batch] == level }
}

// batchRate is the fitted rate of the reference formula in the mean of the
// combinations.
func (f *field) batchRate(b *comparison.Between, fit *comparison.Fit, a *arms) float64 {
	rate := b.Coefficients[0]
	sum, n := 0.0, 0
	for c := range a.combinations {
		if d := fit.Coefficients[fit.Batches+c]; !math.IsNaN(d) {
			sum += d
			n++
		}
	}
	return rate + sum/float64(n)
}

// main is the effect of a level by itself; 0 where it is not known.
func (f *field) main(b *comparison.Between, term, level int) float64 {
	for i := range b.Columns {
		if c := &b.Columns[i]; c.Term == term && c.Level == level && c.OtherTerm < 0 && c.Known() {
			return b.Coefficients[i+1]
		}
	}
	return 0
}

// packsByLevel compares what a pack does at one level of a factor with what it does
// at the reference level: whether the gasket swells with this fragrance and not
// with that. name names a level, with those that go with it in all batches.
func (f *field) packsByLevel(a *arms, additive *comparison.Fit, t *comparison.Term, reference int, name func(level int) string) {
	n := len(a.combinations)
	in := comparison.Input{Observations: a.Observations}
	for _, arm := range a.Arms {
		level := t.Of[arm.Batch]
		if level < 0 {
			return // a batch does not say which it has
		}
		if arm.Combination != reference {
			arm.Combination += level * n
		}
		in.Arms = append(in.Arms, arm)
	}
	fit, err := comparison.Compare(in, reference)
	if err != nil {
		return
	}
	m := &family{}
	at := func(c, level int) int {
		i := c + level*n
		if fit.Batches+i >= len(fit.Coefficients) || math.IsNaN(fit.Coefficients[fit.Batches+i]) || !slices.ContainsFunc(in.Arms, ofCombination(i)) {
			return -1
		}
		return i
	}
	for c := range a.combinations {
		against := at(c, t.Reference)
		if c == reference || against < 0 {
			continue
		}
		for level := range t.Levels {
			i := at(c, level)
			if level == t.Reference || i < 0 {
				continue
			}
			of := f.combinationName(a.combinations[c])
			x := f.new(FactorPack+" × "+t.Name, fmt.Sprintf("%s with %s", of, name(level)), fmt.Sprintf("%s with %s", of, name(t.Reference)))
			x.Pack, x.Orientation = a.combinations[c].pack, a.combinations[c].orientation
			contrast, _ := fit.Contrast(map[int]float64{i: 1, against: -1})
			// The level's own batches in the reference pack, and what the pack adds to them.
			mean := f.levelRate(fit, t, level)
			x.AgainstRate = mean + fit.Coefficients[fit.Batches+against]
			x.Rate = mean + fit.Coefficients[fit.Batches+i]
			x.LastMonths = a.last(func(y comparison.Arm) bool { return y.Combination == c && t.Of[y.Batch] == level },
				func(y comparison.Arm) bool { return y.Combination == c && t.Of[y.Batch] == t.Reference })
			m.add(x, contrast, fit.Of(contrast))
		}
	}
	if len(m.comparisons) == 0 {
		return
	}
	which := f.errorOf(a, fit)
	f.settle(m, fit.Covariance, fit.Variance, fit.DF, which, a, func(x *Comparison) float64 {
		return a.start(additive, slices.Index(a.combinations, combination{x.Pack, x.Orientation}))
	})
}

// levelRate is the mean rate of a level's batches in the reference combination.
func (f *field) levelRate(fit *comparison.Fit, t *comparison.Term, level int) float64 {
	sum, n := 0.0, 0
	for i, g := range fit.Coefficients[:fit.Batches] {
		if t.Of[i] == level && !math.IsNaN(g) {
			sum += g
			n++
		}
	}
	return sum / float64(n)
}

// levelName names a level by itself, with its factor where it only says that it is
// there or not.
func levelName(t *comparison.Term, level int) string {
	if OnlyPresence(t.Levels[level]) {
		return t.Name + " " + t.Levels[level]
	}
	return t.Levels[level]
}

// OnlyPresence reports whether a level says no more than that something is there or
// is not.
func OnlyPresence(level string) bool {
	return slices.Contains(present, level) || slices.Contains(absent, level)
}
