package analysis

import (
	"math"
	"slices"

	"shelfspan/analysis/arrhenius"
	"shelfspan/analysis/comparison"
	"shelfspan/analysis/equivalence"
	"shelfspan/analysis/simultaneous"
	"shelfspan/study"
	"shelfspan/study/finding"
)

// ScaleUp says whether batches of one scale age like those of another, in one
// attribute at the storage condition.
type ScaleUp struct {
	Attribute, Condition int
	Of                   string // "rate" or "start"
	Level, Against       string // scales
	Batches              [2]int // how many of each

	Reason string // why it was not compared; the numbers are then NaN

	Value, AgainstValue float64 // on the model's scale, the rate per its own time
	Margin              float64 // that the difference may be, either way
	MarginPercent       float64 // of a rate, in % of the one that just lasts the horizon; NaN otherwise
	Error               ErrorOf
	equivalence.Result

	// SlopesP is the least p-value of the poolability tests of slopes, of the
	// analyses at the condition; of starts that of intercepts. NaN where not tested.
	PoolabilityP float64
}

// notTested is the result of what was not compared.
var notTested = equivalence.Result{Low: math.NaN(), High: math.NaN(), PLower: math.NaN(), PUpper: math.NaN(), P: math.NaN(), PZero: math.NaN()}

// The scales, smallest first; others come after them in the study's order.
var scales = []string{"bench", "pilot", "production"}

// scaleTerm is the scale of the batches as something to compare by; ok is false
// where there are not two of it.
func (v *evaluator) scaleTerm() (t comparison.Term, ok bool) {
	for _, x := range v.terms() {
		if x.Name != FactorScale {
			continue
		}
		if level, named := v.o.Interactions.Against[FactorScale]; named {
			x.Reference = slices.Index(x.Levels, level)
			return x, true
		}
		for _, s := range scales {
			if i := slices.Index(x.Levels, s); i >= 0 {
				x.Reference = i
				return x, true
			}
		}
		x.Reference = 0
		return x, true
	}
	return t, false
}

// scaleUp compares the scales for equivalence, of rates and of starts.
func (f *field) scaleUp(t comparison.Term) []*ScaleUp {
	a, reason := f.gather()
	if reason != "" || len(a.Observations) == 0 {
		return nil
	}
	reference := f.referenceCombination(a)
	fit, err := comparison.Compare(a.Input, reference)
	if err != nil {
		return nil
	}
	nan := math.NaN()
	count := make([]int, len(t.Levels))
	for i, l := range t.Of {
		if l >= 0 && i < fit.Batches && !math.IsNaN(fit.Coefficients[i]) {
			count[l]++
		}
	}
	start := f.meanStart(a, fit)
	course := f.course(a, start)
	var out []*ScaleUp
	confounded := map[int]string{} // by level
	terms := []comparison.Term{t}
	for _, x := range f.v.terms() {
		if x.Name != FactorScale {
			terms = append(terms, x)
		}
	}
	b, err := fit.CompareBatches(terms, false)
	if err != nil {
		return nil
	}
	against := f.batchRate(b, fit, a)
	// At the rate that just lasts the horizon, a change by the margin costs so many
	// months; a product that lasts longer has no wider margin for that.
	lasting := course.RateFor(f.x.Horizon, against)
	margin := math.Abs(course.RateFor(f.x.Horizon-f.x.MarginMonths, against) - lasting)
	which := ErrorBatches
	if b.Those {
		which = ErrorThose
	}
	for i := range b.Columns {
		c := &b.Columns[i]
		if c.Term != 0 {
			continue
		}
		x := &ScaleUp{Attribute: f.attribute, Condition: f.condition, Of: "rate", Level: t.Levels[c.Level], Against: t.Levels[t.Reference],
			Batches: [2]int{count[c.Level], count[t.Reference]}, Value: nan, AgainstValue: nan, Margin: margin, MarginPercent: nan, Error: which, Result: notTested, PoolabilityP: nan}
		out = append(out, x)
		switch {
		case !c.Known():
			x.Reason = "it cannot be told from " + c.With + c.Apart
			continue
		case len(c.Same) > 0:
			o := &b.Columns[c.Same[0]]
			x.Reason = "all its batches have " + levelName(&terms[o.Term], o.Level) + ", and no others do"
			confounded[c.Level] = x.Reason
			continue
		case len(course.Limits) == 0:
			x.Reason = "without an acceptance criterion there is no margin"
			continue
		case math.IsInf(margin, 1) || math.IsNaN(margin):
			x.Reason = "no change of rate would cost that much"
			continue
		case b.DF < 1 || !(b.Variance > 0):
			x.Reason = "the results leave nothing to judge their scatter by"
			continue
		}
		contrast := make([]float64, len(b.Coefficients))
		contrast[i+1] = 1
		e := b.Of(contrast)
		x.AgainstValue, x.Value = against, against+e.Value
		x.MarginPercent = 100 * margin / math.Abs(lasting)
		r, err := equivalence.Test(equivalence.Estimate{Difference: e.Value, SE: e.SE, DF: float64(e.DF)}, equivalence.Margins{Lower: -margin, Upper: margin}, 1-f.v.confidence)
		if err != nil {
			x.Reason = err.Error()
			continue
		}
		x.Result = r
	}
	return append(out, f.startsByScale(a, t, count, confounded, course, lasting)...)
}

// meanStart is where the field starts, in the mean of its combinations.
func (f *field) meanStart(a *arms, fit *comparison.Fit) float64 {
	sum, n := 0.0, 0
	for c := range a.combinations {
		if x := a.start(fit, c); !math.IsNaN(x) {
			sum += x
			n++
		}
	}
	return sum / float64(n)
}

// startsByScale compares where batches start: the results at time zero, averaged
// by batch, each of which counts once.
func (f *field) startsByScale(a *arms, t comparison.Term, count []int, confounded map[int]string, course *comparison.Course, rate float64) []*ScaleUp {
	if f.at().Kind == study.Weighing || len(course.Limits) == 0 {
		return nil
	}
	nan := math.NaN()
	// Of each batch the mean of its time zero over packs, on the model's scale.
	means := map[int]float64{}
	square, df := 0.0, 0
	units := map[int]float64{}
	for b := range f.v.s.Batches {
		var values []float64
		for p := range f.v.s.Packs {
			for _, x := range f.v.cells[cell{f.attribute, -1, p, 0}] {
				if x.Batch == b && x.Censor == study.Exact {
					values = append(values, a.model.Transform(x.Value))
				}
			}
		}
		if len(values) == 0 {
			continue
		}
		for _, y := range values {
			means[b] += y / float64(len(values))
		}
		for _, y := range values {
			square += (y - means[b]) * (y - means[b])
		}
		df += len(values) - 1
		units[b] = float64(len(values))
	}
	margin := startMargin(course, rate, f.x.MarginMonths)
	var out []*ScaleUp
	for level := range t.Levels {
		if level == t.Reference {
			continue
		}
		x := &ScaleUp{Attribute: f.attribute, Condition: f.condition, Of: "start", Level: t.Levels[level], Against: t.Levels[t.Reference],
			Batches: [2]int{count[level], count[t.Reference]}, Value: nan, AgainstValue: nan, Margin: margin, MarginPercent: nan, Result: notTested, PoolabilityP: nan}
		out = append(out, x)
		of := func(l int) (mean float64, n int, spread, variance float64) {
			for b, m := range means {
				if t.Of[b] == l {
					mean += m
					n++
					variance += 1 / units[b]
				}
			}
			mean /= float64(n)
			for b, m := range means {
				if t.Of[b] == l {
					spread += (m - mean) * (m - mean)
				}
			}
			return mean, n, spread, variance / float64(n*n)
		}
		m1, n1, s1, v1 := of(level)
		m0, n0, s0, v0 := of(t.Reference)
		x.Batches = [2]int{n1, n0}
		if n1 == 0 || n0 == 0 {
			x.Reason = "there are no results at time zero"
			continue
		}
		x.Value, x.AgainstValue = m1, m0
		var se float64
		var freedom int
		if between := n1 + n0 - 2; between > 0 {
			x.Error, freedom = ErrorBatches, between
			se = math.Sqrt((s1 + s0) / float64(between) * (1/float64(n1) + 1/float64(n0)))
		} else {
			x.Error, freedom = ErrorThose, df
			if df > 0 {
				se = math.Sqrt(square / float64(df) * (v1 + v0))
			}
		}
		switch {
		case confounded[level] != "":
			x.Reason = confounded[level]
			continue
		case math.IsInf(margin, 1):
			x.Reason = "no change of the start would cost that much"
			continue
		case freedom < 1 || !(se > 0):
			x.Reason = "the results leave nothing to judge their scatter by"
			continue
		}
		r, err := equivalence.Test(equivalence.Estimate{Difference: m1 - m0, SE: se, DF: float64(freedom)}, equivalence.Margins{Lower: -margin, Upper: margin}, 1-f.v.confidence)
		if err != nil {
			x.Reason = err.Error()
			continue
		}
		x.Result = r
	}
	return out
}

// startMargin is how much the start may differ, on the side that shortens the life,
// before that costs more than some months of the horizon.
func startMargin(c *comparison.Course, rate, months float64) float64 {
	life := min(c.Life(rate), c.Horizon)
	if !(life > months) || math.IsInf(rate, 0) {
		return math.Inf(1)
	}
	over := func(d float64) bool {
		for _, s := range [...]float64{-d, d} {
			x := *c
			x.Start += s
			if min(x.Life(rate), x.Horizon) < life-months {
				return true
			}
		}
		return false
	}
	high := math.Max(math.Abs(c.Start), 1) * 1e-6
	for k := 0; !over(high); k++ {
		if k == 100 {
			return math.Inf(1)
		}
		high *= 2
	}
	low := 0.0
	for range 100 {
		if mid := (low + high) / 2; over(mid) {
			high = mid
		} else {
			low = mid
		}
	}
	return low
}

// Parallel says whether packs share an activation energy, for one attribute.
type Parallel struct {
	Attribute int
	Packs     []int // in their first orientation
	*arrhenius.Parallel

	PAdjusted float64 // P adjusted by Holm over the attributes; NaN where not tested
}

// parallel fits the temperatures of an attribute with one activation energy for
// all packs and with one each; nil where there are not two packs with temperatures.
func (v *evaluator) parallel(attribute int) *Parallel {
	at := &v.s.Attributes[attribute]
	if at.Kind != study.Measure || at.Sampling == study.Returned {
		return nil
	}
	model := study.Model(v.models[attribute].model)
	if model.Curved() {
		return nil
	}
	in := arrhenius.Input{
		Lower: at.Lower, Upper: at.Upper, Basis: at.Basis, Direction: at.Direction, Model: model,
		Confidence: v.confidence, Baseline: at.Baseline.Months(0), Where: at.ID,
	}
	index := map[int]int{}
	p := &Parallel{Attribute: attribute}
	n := len(v.s.Batches)
	in.Groups = make([]int, n*len(v.s.Packs))
	for _, k := range v.arms(attribute) {
		if k.orientation > 0 || len(v.conditionsOf(k)) < 2 {
			continue
		}
		p.Packs = append(p.Packs, k.pack)
		conditions := v.conditionsOf(k)
		stored := v.storedAnywhere(k, conditions)
		for _, c := range append([]int{-1}, conditions...) {
			own := k
			own.condition = c
			for i := range v.cells[own] {
				x := &v.cells[own][i]
				months, counts := x.trendTime(in.Baseline)
				if !counts || c < 0 && !slices.Contains(stored, x.Batch) {
					continue
				}
				if x.Censor != study.Exact {
					return nil
				}
				at := -1
				if c >= 0 {
					j, known := index[c]
					if !known {
						j = len(in.Conditions)
						index[c] = j
						s := &v.s.Conditions[c]
						in.Conditions = append(in.Conditions, arrhenius.Condition{Name: s.ID, Celsius: s.Temperature, Humidity: s.Humidity})
					}
					at = j
				}
				batch := x.Batch + n*k.pack
				in.Groups[batch] = k.pack
				in.Points = append(in.Points, arrhenius.Point{Batch: batch, Condition: at, Months: months, Value: x.Value})
			}
		}
	}
	if len(p.Packs) < 2 {
		return nil
	}
	p.Parallel = arrhenius.FitParallel(in)
	return p
}

// adjustParallel allows for the number of attributes tested.
func adjustParallel(all []*Parallel) {
	var tested []*Parallel
	var ps []float64
	for _, p := range all {
		if p.PAdjusted = math.NaN(); !math.IsNaN(p.P) {
			tested, ps = append(tested, p), append(ps, p.P)
		}
	}
	adjusted, err := simultaneous.Holm(ps)
	if err != nil {
		return
	}
	for i, p := range tested {
		p.PAdjusted = adjusted[i]
	}
}

// Pair is a pair of ingredients against what the two do alone.
type Pair struct {
	Attribute, Condition int
	One, Other           string // the factors whose levels say that an ingredient is there

	Reason string // why it was not judged

	// Ln rates: of the pair, of each alone and of neither, and by how much the
	// pair's exceeds what the two alone give, Pair − One − Other + Neither, or where
	// there is no batch without both, Pair less the greater of the two.
	LnPair, LnOne, LnOther, LnNeither float64
	Additive                          bool // LnNeither is known
	Excess, SE, Low, High             float64
	DF                                int
	Error                             ErrorOf
}

// present are the levels that say an ingredient is there, and absent those that it
// is not.
var present, absent = []string{"present", "yes", "with", "1", "true"}, []string{"absent", "no", "without", "none", "0", "false"}

// pairs judges every pair of ingredients whose presence batches declare.
func (f *field) pairs() []*Pair {
	a, reason := f.gather()
	if reason != "" || len(a.Observations) == 0 {
		return nil
	}
	reference := f.referenceCombination(a)
	fit, err := comparison.Compare(a.Input, reference)
	if err != nil {
		return nil
	}
	terms := f.v.presence()
	if len(terms) < 2 {
		return nil
	}
	// The batches whose declared ingredients are just those given.
	with := func(which ...int) []int {
		var out []int
		for b := range fit.Batches {
			if math.IsNaN(fit.Coefficients[b]) {
				continue
			}
			only := true
			for t := range terms {
				only = only && terms[t].Of[b] == boolean(slices.Contains(which, t))
			}
			if only {
				out = append(out, b)
			}
		}
		return out
	}
	var out []*Pair
	for i := range terms {
		for j := i + 1; j < len(terms); j++ {
			both := with(i, j)
			if len(both) == 0 {
				continue
			}
			out = append(out, f.pair(a, fit, &terms[i], &terms[j], both, with(i), with(j), with()))
		}
	}
	return out
}

func boolean(b bool) int {
	if b {
		return 1
	}
	return 0
}

// presence lists the factors whose levels are presence and absence.
func (v *evaluator) presence() []comparison.Term {
	var out []comparison.Term
	for _, t := range v.terms() {
		of := make([]int, len(t.Of))
		binary := len(t.Levels) == 2
		for b, l := range t.Of {
			switch {
			case l < 0:
				of[b] = 0 // what is not declared is not there
			case slices.Contains(present, t.Levels[l]):
				of[b] = 1
			case slices.Contains(absent, t.Levels[l]):
				of[b] = 0
			default:
				binary = false
			}
		}
		if binary {
			t.Of = of
			out = append(out, t)
		}
	}
	return out
}

// pair judges one: the rates of the batches with both, with each alone and with
// neither, each the mean of its batches.
func (f *field) pair(a *arms, fit *comparison.Fit, one, other *comparison.Term, both, first, second, neither []int) *Pair {
	nan := math.NaN()
	p := &Pair{Attribute: f.attribute, Condition: f.condition, One: one.Name, Other: other.Name, LnPair: nan, LnOne: nan, LnOther: nan, LnNeither: nan, Excess: nan, SE: nan, Low: nan, High: nan}
	if len(first) == 0 || len(second) == 0 {
		p.Reason = "each of the two alone is needed beside the pair"
		return p
	}
	// Rates in the mean of the combinations.
	var combinations []int
	mean := 0.0
	for c := range a.combinations {
		if d := fit.Coefficients[fit.Batches+c]; !math.IsNaN(d) {
			combinations = append(combinations, fit.Batches+c)
			mean += d
		}
	}
	mean /= float64(len(combinations))
	rate := func(batches []int) float64 {
		sum := 0.0
		for _, b := range batches {
			sum += fit.Coefficients[b]
		}
		return sum/float64(len(batches)) + mean
	}
	contrast := make([]float64, len(fit.Coefficients))
	ln := func(batches []int, weight float64) float64 {
		r := rate(batches)
		for _, b := range batches {
			contrast[b] += weight / r / float64(len(batches))
		}
		for _, c := range combinations {
			contrast[c] += weight / r / float64(len(combinations))
		}
		return math.Log(math.Abs(r))
	}
	sign := math.Signbit(rate(both))
	for _, of := range [][]int{both, first, second, neither} {
		if len(of) > 0 && (math.Signbit(rate(of)) != sign || rate(of) == 0) {
			p.Reason = "the rates do not all go one way, so that they have no ratio"
			return p
		}
	}
	p.LnPair = ln(both, 1)
	if len(neither) > 0 {
		p.Additive = true
		p.LnOne, p.LnOther, p.LnNeither = ln(first, -1), ln(second, -1), ln(neither, 1)
		p.Excess = p.LnPair - p.LnOne - p.LnOther + p.LnNeither
	} else {
		p.LnOne, p.LnOther = math.Log(math.Abs(rate(first))), math.Log(math.Abs(rate(second)))
		if p.LnOne >= p.LnOther {
			ln(first, -1)
		} else {
			ln(second, -1)
		}
		p.Excess = p.LnPair - max(p.LnOne, p.LnOther)
	}
	if fit.DF < 1 || !(fit.Variance > 0) {
		p.Reason = "the results leave nothing to judge their scatter by"
		return p
	}
	e := fit.Of(contrast)
	p.SE, p.DF, p.Error = e.SE, e.DF, f.errorOf(a, fit)
	half := student(1-(1-f.v.confidence)/2, e.DF) * e.SE
	p.Low, p.High = p.Excess-half, p.Excess+half
	return p
}

// rankPairs puts the pair with the greatest excess first, those that could not be
// judged last.
func rankPairs(pairs []*Pair) {
	slices.SortStableFunc(pairs, func(a, b *Pair) int {
		x, y := a.Excess, b.Excess
		switch {
		case math.IsNaN(x) && math.IsNaN(y):
			return 0
		case math.IsNaN(x):
			return 1
		case math.IsNaN(y):
			return -1
		}
		return sign(y - x)
	})
}

// poolability gives the least p-values of the tests at a condition, of slopes and of
// intercepts.
func (v *evaluator) poolability(attribute, condition int) (slopes, intercepts float64) {
	slopes, intercepts = math.NaN(), math.NaN()
	for _, k := range v.arms(attribute) {
		if k.condition = condition; len(v.cells[k]) == 0 {
			continue
		}
		p := v.analyse(k).Pooling
		if !(p.SlopesP >= slopes) {
			slopes = p.SlopesP
		}
		if !(p.InterceptsP >= intercepts) && !math.IsNaN(p.InterceptsP) {
			intercepts = p.InterceptsP
		}
	}
	return slopes, intercepts
}

// compareScales adds the comparison of scales at the storage condition.
func (v *evaluator) compareScales(x *Interactions) {
	t, ok := v.scaleTerm()
	if !ok {
		x.Warnings = append(x.Warnings, finding.Warning{Code: "one-scale", Text: "The batches state no two scales, so that there is nothing to compare a pilot batch with; write scale = \"bench\" and the like into [[batch]]."})
		return
	}
	if v.s.StoreAt < 0 {
		return
	}
	for a := range v.s.Attributes {
		if k := v.s.Attributes[a].Kind; !wanted(v.o.Attributes, a) || k == study.Grade || k == study.PassFail {
			continue
		}
		f := &field{v: v, x: x, attribute: a, condition: v.s.StoreAt}
		rows := f.scaleUp(t)
		slopes, intercepts := v.poolability(a, v.s.StoreAt)
		for _, r := range rows {
			if r.PoolabilityP = slopes; r.Of == "start" {
				r.PoolabilityP = intercepts
			}
		}
		x.Scale = append(x.Scale, rows...)
	}
}
