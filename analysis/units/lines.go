package units

import (
	"math"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
	"shelfspan/analysis/pooling"
	"shelfspan/analysis/regression"
	"shelfspan/study/finding"
)

// Lines evaluates an attribute other than a weighing whose units are returned
// to storage: a straight line for each unit on the model's scale first, then
// the mean of the units' lines, with the bound from the spread between units.
//
// A unit's line is taken by its level at the middle of all times and its slope.
// With S the covariance of the two between units, the mean line of n units at a
// time u from the middle has the variance
//
//	(S_ll + 2u·S_ls + u²·S_ss)/n.
//
// Batches are tested as ICH Q1E tests them, the unit taking the place of the
// single result: the units' slopes by a one-way analysis of variance at the
// significance level in.Alpha, then, where the batches' slopes do not differ,
// the units' levels, which under one slope is the test of the intercepts. Pooled,
// S is that of all units about their common mean, with n − 1 degrees of freedom;
// otherwise that within the b batches, with n − b. With a common slope the level
// is the batch's own (over its own number of units) and the slope that of all;
// the t-quantile is then an approximation, the two having different weights.
//
// A unit needs two distinct times for a line and is otherwise left out with a
// warning; results from before in.Baseline are passed over; a batch needs three
// distinct times, as in any regression, and some batch two units. Each unit counts
// the same, however often it was measured. Of in, Batches and Lines are not used. In
// the answer N counts units and ResidualSD is the standard deviation of the
// level between units, on the model's scale.
//
// Source: two-stage analysis of repeated measurements (Matthews, Altman, Campbell
// & Royston, BMJ 300, 1990, 230); exact for units measured at the same times.
func Lines(all []Unit, in regression.Input) (regression.Output, []finding.Warning) {
	used := make([]Unit, 0, len(all))
	var left []string
	for _, u := range all {
		points := make([]kinetics.Point, 0, len(u.Points))
		for _, p := range u.Points {
			if p.Months >= in.Baseline {
				points = append(points, p)
			}
		}
		if kinetics.DistinctTimes(points) < 2 {
			left = append(left, u.Label)
			continue
		}
		used = append(used, Unit{u.Batch, u.Label, points})
	}
	warnings := leftOut(left, "a line of its own needs readings at two times")
	return evaluate(used, in, warnings, func(m kinetics.Model) (pooling.Result, error) {
		return poolLines(used, m, in.Baseline, in.Alpha)
	})
}

// poolLines fits the units' lines, tests and pools them.
func poolLines(used []Unit, m kinetics.Model, baseline, alpha float64) (pooling.Result, error) {
	g := group(used)
	n, b := len(used), len(g.batches)
	if n <= b {
		return pooling.Result{}, errSpread
	}
	own := make([]linear.Line, n)
	centre, readings := 0.0, 0
	for i, u := range used {
		x, y := make([]float64, len(u.Points)), make([]float64, len(u.Points))
		for j, p := range u.Points {
			x[j], y[j] = m.Time(p.Months-baseline), m.Transform(p.Value)
			centre += x[j]
		}
		readings += len(x)
		line, _, err := linear.Straight(x, y)
		if err != nil {
			return pooling.Result{}, err
		}
		own[i] = line
	}
	centre /= float64(readings)
	levels, slopes := make([]float64, n), make([]float64, n)
	for i, line := range own {
		levels[i], slopes[i] = line.Mean(centre), line.Slope
	}
	ll, ls, ss := g.spread(levels, levels), g.spread(levels, slopes), g.spread(slopes, slopes)

	nan := math.NaN()
	r := pooling.Result{Decision: pooling.Separate, SlopesF: nan, SlopesP: nan, InterceptsF: nan, InterceptsP: nan,
		Lines: make([]linear.Line, b), DF: n - b}
	if b > 1 {
		r.DF1, r.DF2 = b-1, n-b
		r.SlopesF, r.SlopesP = ss.test(b-1, n-b)
		if r.SlopesP >= alpha {
			r.Decision = pooling.CommonSlope
			r.InterceptsF, r.InterceptsP = ll.test(b-1, n-b)
			if r.InterceptsP >= alpha {
				r.Decision, r.DF = pooling.Pooled, n-1
				ll.within += ll.between
				ls.within += ls.between
				ss.within += ss.between
			}
		}
	}
	df := float64(r.DF)
	r.S = math.Sqrt(ll.within / df)
	for i, members := range g.batches {
		nLevel, nSlope := float64(len(members)), float64(len(members))
		level, slope := g.mean(levels, members), g.mean(slopes, members)
		if r.Decision != pooling.Separate {
			nSlope, slope = float64(n), mean(slopes)
		}
		if r.Decision == pooling.Pooled {
			nLevel, level = float64(n), mean(levels)
		}
		// A line's variances are unscaled; these are the variances themselves.
		r.Lines[i] = linear.Line{Centre: centre, Level: level, Slope: slope,
			LevelVar: ll.within / df / nLevel, SlopeVar: ss.within / df / nSlope, Cov: ls.within / df / max(nLevel, nSlope),
			S: 1, DF: r.DF}
	}
	return r, nil
}
