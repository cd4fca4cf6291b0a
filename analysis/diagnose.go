package analysis

import (
	"cmp"
	"math"
	"slices"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
	"shelfspan/analysis/observed"
	"shelfspan/analysis/outoftrend"
	"shelfspan/analysis/pooling"
	"shelfspan/analysis/residuals"
	"shelfspan/analysis/shapiro"
	"shelfspan/study"
)

// diagnosis is the making of an analysis' Diagnostics.
type diagnosis struct {
	*Diagnostics
	a        *Analysis
	at       *study.Attribute
	model    kinetics.Model
	baseline float64

	batches []int           // of the study, those fitted, in its order
	series  []pooling.Batch // their results on the model's scale
	months  [][]float64     // from the baseline
	samples [][]int         // which samples they are
	step    float64         // what the last digit reported is worth, in the attribute's unit; 0 where unknown

	lackP, normalP, spreadP, bendP, turnP float64 // each the larger of those with and without the suspects
}

// diagnose tests the lines of an analysis that was fitted to units that are opened.
// The tests are of least squares lines: curves, and lines through values beyond a
// limit of measurement, are not tested.
func (v *evaluator) diagnose(a *Analysis) {
	if len(a.Fits) == 0 || a.Curves != nil || a.Censored > 0 {
		return
	}
	at := &v.s.Attributes[a.Attribute]
	d := &diagnosis{Diagnostics: &Diagnostics{}, a: a, at: at, model: kinetics.Model(a.Model), baseline: at.Baseline.Months(0),
		lackP: 1, normalP: 1, spreadP: 1, bendP: 1, turnP: 1}
	if at.Decimals >= 0 {
		d.step = math.Pow10(-at.Decimals)
	}
	d.gather()
	fit, err := residuals.OfBatches(d.series)
	if err != nil {
		return // as with no degree of freedom left: there is nothing to test
	}
	a.Diagnostics = d.Diagnostics
	d.N, d.DF, d.ResidualSD = len(fit.Points), fit.DF, fit.SD
	d.leverage()
	if fit.RSS == 0 {
		return // no residual is left, of which the fit warns
	}
	d.outlier(&fit)
	for i := range d.series {
		d.ownTrend(i)
	}
	d.earlierBatches(v.inOrderMade(d.batches))
	d.LackOfFit = d.lackOfFit(d.series)
	d.Normality = d.normality(&fit)
	d.Spread = d.spread(&fit, slices.Concat(d.months...))
	d.course()
	d.withoutSuspects()
	d.find()
}

// gather puts the results that were fitted on the model's scale, by batch.
func (d *diagnosis) gather() {
	index := map[int]int{}
	for i, f := range d.a.Fits {
		index[f.Batch] = i
		d.batches = append(d.batches, f.Batch)
	}
	n := len(d.batches)
	d.series, d.months, d.samples = make([]pooling.Batch, n), make([][]float64, n), make([][]int, n)
	for i := range d.a.Samples {
		x := &d.a.Samples[i]
		months, counts := x.trendTime(d.baseline)
		k, fitted := index[x.Batch]
		if !counts || !fitted {
			continue
		}
		b := &d.series[k]
		b.X, b.Y = append(b.X, d.model.Time(months-d.baseline)), append(b.Y, d.model.Transform(x.Value))
		d.months[k] = append(d.months[k], months-d.baseline)
		d.samples[k] = append(d.samples[k], i)
	}
}

// sample gives the sample of a result of a batch.
func (d *diagnosis) sample(k, j int) *Sample { return &d.a.Samples[d.samples[k][j]] }

// pull gives the results of a batch at a planned time, as indices into its series.
func (d *diagnosis) pull(k int, planned float64) []int {
	var out []int
	for j := range d.samples[k] {
		if observed.SamePull(d.sample(k, j).PlannedMonths, planned) {
			out = append(out, j)
		}
	}
	return out
}

func (d *diagnosis) indices(k int, points []int) []int {
	out := make([]int, len(points))
	for i, j := range points {
		out[i] = d.samples[k][j]
	}
	return out
}

// expectation takes a judgement back to the attribute's own unit.
func (d *diagnosis) expectation(j *outoftrend.Judgement) Expectation {
	e := Expectation{Value: d.model.Inverse(j.Value), Expected: d.model.Inverse(j.Expected)}
	for i, l := range j.Limits {
		e.Lower[i], e.Upper[i] = d.model.Inverse(l.Lower), d.model.Inverse(l.Upper)
		if d.model.Decreasing() {
			e.Lower[i], e.Upper[i] = e.Upper[i], e.Lower[i]
		}
	}
	return e
}

// told reports whether a value differs from what is expected by more than the last
// digit reported, which rounding alone may make.
func (d *diagnosis) told(e *Expectation) bool { return math.Abs(e.Value-e.Expected) > d.step*(1+1e-9) }

// leverage finds the pull on which a line hangs most, by the lines in use: of a
// result it is 1/n + (x − x̄)²/Σ(x − x̄)², n and x̄ those of the intercept's results,
// the sum over those of the slope.
func (d *diagnosis) leverage() {
	type sums struct{ n, mean, square float64 }
	of := func(batches []pooling.Batch) (s sums) {
		for _, b := range batches {
			for _, x := range b.X {
				s.n++
				s.mean += x
			}
		}
		s.mean /= s.n
		for _, b := range batches {
			for _, x := range b.X {
				s.square += (x - s.mean) * (x - s.mean)
			}
		}
		return s
	}
	own := make([]sums, len(d.series))
	square := 0.0
	for k := range own {
		own[k] = of(d.series[k : k+1])
		square += own[k].square
	}
	switch pooling.Decision(d.a.Pooling.Decision) {
	case pooling.Pooled:
		all := of(d.series)
		for k := range own {
			own[k] = all
		}
	case pooling.CommonSlope:
		for k := range own {
			own[k].square = square
		}
	}
	for k, b := range d.series {
		for j := 0; j < len(b.X); {
			planned := d.sample(k, j).PlannedMonths
			l := Leverage{Batch: d.batches[k], Planned: d.sample(k, j).Planned}
			for ; j < len(b.X) && observed.SamePull(d.sample(k, j).PlannedMonths, planned); j++ {
				u := b.X[j] - own[k].mean
				l.Leverage += 1/own[k].n + u*u/own[k].square
				l.Samples = append(l.Samples, d.samples[k][j])
			}
			if d.Leverage == nil || l.Leverage > d.Leverage.Leverage*(1+1e-9) {
				d.Leverage = &l
			}
		}
	}
}

func (d *diagnosis) outlier(fit *residuals.Residuals) {
	if fit.Farthest < 0 {
		return
	}
	k, j := 0, fit.Farthest
	for ; j >= len(d.samples[k]); k++ {
		j -= len(d.samples[k])
	}
	judged, err := outoftrend.OfBatches(d.series, k, j)
	if err != nil || judged.SE == 0 {
		return
	}
	p := &fit.Points[fit.Farthest]
	d.Tests++
	d.Outlier = &Outlier{Sample: d.samples[k][j], External: p.External, DF: fit.DF - 1, P: p.P, Expectation: d.expectation(&judged)}
}

// latest gives the results of the latest pull of a batch.
func (d *diagnosis) latest(k int) []int {
	last := 0.0
	for j := range d.samples[k] {
		last = max(last, d.sample(k, j).PlannedMonths)
	}
	return d.pull(k, last)
}

// ownTrend judges the latest pull of a batch against its line without it.
func (d *diagnosis) ownTrend(k int) {
	points := d.latest(k)
	if judged, err := outoftrend.OfPull(d.series, k, points); err == nil {
		d.judged(k, points, nil, &judged)
	}
}

// judged takes over a judgement, unless there was no scatter to judge by.
func (d *diagnosis) judged(k int, points, earlier []int, j *outoftrend.Judgement) {
	if j.SE == 0 {
		return
	}
	d.Tests++
	d.OutOfTrend = append(d.OutOfTrend, OutOfTrend{
		Batch: d.batches[k], Samples: d.indices(k, points), Planned: d.sample(k, points[0]).Planned,
		Earlier: earlier, P: j.P, DF: j.DF, Expectation: d.expectation(j),
	})
}

// earlierBatches judges the latest pull of each batch against earlier batches at the
// same planned time; order gives the batches as they were made.
func (d *diagnosis) earlierBatches(order []int) {
	mean := func(k int, points []int) float64 {
		sum := 0.0
		for _, j := range points {
			sum += d.series[k].Y[j]
		}
		return sum / float64(len(points))
	}
	for n, k := range order {
		points := d.latest(k)
		planned := d.sample(k, points[0]).PlannedMonths
		var values []float64
		var earlier []int
		for _, before := range order[:n] {
			if same := d.pull(before, planned); len(same) > 0 {
				values, earlier = append(values, mean(before, same)), append(earlier, d.batches[before])
			}
		}
		if judged, err := outoftrend.AgainstEarlier(values, mean(k, points)); err == nil {
			d.judged(k, points, earlier, &judged)
		}
	}
}

// inOrderMade gives the places of the batches in the list in the order in which they
// were made, where all say when.
func (v *evaluator) inOrderMade(batches []int) []int {
	order := make([]int, len(batches))
	dated := true
	for i, b := range batches {
		order[i] = i
		dated = dated && v.s.Batches[b].Made != study.NoDate
	}
	if dated {
		slices.SortStableFunc(order, func(i, j int) int {
			return cmp.Compare(v.s.Batches[batches[i]].Made, v.s.Batches[batches[j]].Made)
		})
	}
	return order
}

// lackOfFit holds the lines against results of one batch at one time, which must
// scatter by more than their rounding; nil where it could not.
func (d *diagnosis) lackOfFit(batches []pooling.Batch) *residuals.LackOfFit {
	l, err := residuals.BatchesAgainstReplicates(batches)
	if err != nil || l.PureSD <= d.resolution()/math.Sqrt(12) {
		return nil
	}
	return &l
}

// resolution is what the last digit reported is worth on the model's scale, at the
// mean of the results.
func (d *diagnosis) resolution() float64 {
	sum, n := 0.0, 0.0
	for _, b := range d.series {
		for _, y := range b.Y {
			sum += y
			n++
		}
	}
	return d.step * math.Exp(d.model.LogDerivative(d.model.Inverse(sum/n)))
}

// leastNormality is the degrees of freedom, over the number of results, below which
// residuals are so tied to each other that no test of their distribution keeps its
// level; by simulation, see DEVELOPERS.md.
const leastNormality = 0.5

// normality tests the internally studentized residuals, unless they are no more
// than rounding; nil where it could not.
func (d *diagnosis) normality(fit *residuals.Residuals) *shapiro.Result {
	if float64(fit.DF) < leastNormality*float64(len(fit.Points)) || fit.SD <= d.resolution() {
		return nil
	}
	values := make([]float64, 0, len(fit.Points))
	for _, p := range fit.Points {
		if p.Tested {
			values = append(values, p.Internal)
		}
	}
	r, err := shapiro.Test(values)
	if err != nil {
		return nil
	}
	return &r
}

// spread tests whether the residuals scatter differently with time; nil where it
// could not. With three times the outer ones have residuals so much smaller than
// the middle one that the test does not keep its level.
func (d *diagnosis) spread(fit *residuals.Residuals, months []float64) *Spread {
	times := 0
	for _, b := range d.series {
		times = max(times, pooling.DistinctTimes(b))
	}
	if times < 4 {
		return nil
	}
	e := make([]float64, len(fit.Points))
	mean, square := 0.0, 0.0
	for i, p := range fit.Points {
		e[i] = p.Residual
		mean += months[i] / float64(len(months))
		square += p.Residual * p.Residual / float64(len(months))
	}
	s, err := residuals.ChangingSpread(e, []linear.Column{{Name: "months", Values: months}})
	if err != nil {
		return nil
	}
	product := 0.0
	for i := range e {
		product += (months[i] - mean) * (e[i]*e[i] - square)
	}
	return &Spread{s, product > 0}
}

// course tests for a bend and a turn; nil where it could not.
func (d *diagnosis) course() {
	c, err := residuals.CourseOf(d.series)
	if err != nil {
		return
	}
	out := &Course{BendT: c.Bend.T, BendP: c.Bend.P, RunsP: c.Runs.P, TurnsAt: math.NaN(), TurnF: c.Turn.F, TurnP: 1}
	slopes := 0.0
	for _, f := range d.a.Fits {
		slopes += f.Slope
	}
	out.Steeper = (c.Bend.T > 0) == (slopes > 0)
	if c.Turn.Direction != residuals.NoTurn {
		out.TurnP = either(c.Turn.P)
		out.TurnsAt = d.baseline + d.model.InverseTime(c.Turn.At)
		out.Rises = (c.Turn.Direction == residuals.RisesThenFalls) != d.model.Decreasing()
	}
	d.Course, d.bendP, d.turnP = out, out.BendP, out.TurnP
}

// withoutSuspects makes the tests of the scatter and the course again without what is
// suspect, and takes the larger p-values: what one result or pull does by itself is
// told of it, and not as a fault of all.
func (d *diagnosis) withoutSuspects() {
	if d.LackOfFit != nil {
		d.Tests++
		d.lackP = d.LackOfFit.P
	}
	if d.Normality != nil {
		d.Tests++
		d.normalP = d.Normality.P
	}
	if d.Spread != nil {
		d.Tests++
		d.spreadP = d.Spread.P
	}
	if d.Course != nil {
		d.Tests += 2
	}
	suspects := d.suspects()
	if len(suspects) == 0 || min(d.lackP, d.normalP, d.spreadP, d.bendP, d.turnP) >= NoteLevel {
		return
	}
	rest := make([]pooling.Batch, len(d.series))
	var months []float64
	for k, b := range d.series {
		for j := range b.X {
			if !slices.Contains(suspects, d.samples[k][j]) {
				rest[k].X, rest[k].Y = append(rest[k].X, b.X[j]), append(rest[k].Y, b.Y[j])
				months = append(months, d.months[k][j])
			}
		}
	}
	if l := d.lackOfFit(rest); l != nil {
		d.lackP = max(d.lackP, l.P)
	}
	if fit, err := residuals.OfBatches(rest); err == nil {
		if r := d.normality(&fit); r != nil {
			d.normalP = max(d.normalP, r.P)
		}
		if s := d.spread(&fit, months); s != nil {
			d.spreadP = max(d.spreadP, s.P)
		}
	}
	c, err := residuals.CourseOf(rest)
	if err != nil || d.Course == nil {
		return
	}
	d.bendP = max(d.bendP, c.Bend.P)
	switch rises := (c.Turn.Direction == residuals.RisesThenFalls) != d.model.Decreasing(); {
	case c.Turn.Direction == residuals.NoTurn || rises != d.Course.Rises:
		d.turnP = 1
	default:
		d.turnP = max(d.turnP, either(c.Turn.P))
	}
}

// suspects lists the outlier where one is noted, and the latest pull of a batch that
// alone among several is noted as out of trend: of one batch nothing tells a last
// pull that is off from a bend, and of several that are off the bend is the likelier.
func (d *diagnosis) suspects() []int {
	var out []int
	if d.Outlier != nil && d.Outlier.P < NoteLevel {
		out = append(out, d.Outlier.Sample)
	}
	var off []int
	batches := 0
	for i := range d.OutOfTrend {
		if o := &d.OutOfTrend[i]; o.Earlier == nil && o.P < NoteLevel {
			off = o.Samples
			batches++
		}
	}
	if batches == 1 && len(d.series) > 1 {
		out = append(out, off...)
	}
	return out
}
