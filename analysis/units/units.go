package units

import (
	"errors"
	"math"
	"strings"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
	"shelfspan/analysis/pooling"
	"shelfspan/analysis/regression"
	"shelfspan/study"
	"shelfspan/study/finding"
)

// Unit is one physical unit with its readings, in any order, repeat readings at
// one time averaged.
type Unit struct {
	Batch  int // index into the study's batches
	Label  string
	Points []kinetics.Point
}

// Rate is a unit's own rate through the origin, Σt·y/Σt² over its readings
// after time zero, the least squares line of a loss reckoned from the unit's
// own start. ok is false where it has no reading after time zero.
func Rate(points []kinetics.Point) (rate float64, ok bool) {
	var ty, tt float64
	for _, p := range points {
		if p.Months > 0 {
			ty += p.Months * p.Value
			tt += p.Months * p.Months
		}
	}
	return ty / tt, tt > 0
}

// Rates evaluates weighings, in percent lost since each unit's own start: a
// rate for each unit (see Rate), the mean rate, and its bound from the spread
// between units. Batches are pooled where a one-way analysis of variance finds
// no difference between their units' rates at the significance level in.Alpha;
// the variance of the mean is then the variance of all n rates over n, with
// n − 1 degrees of freedom; otherwise the variance within batches, pooled over
// the b batches with n − b degrees of freedom, over the batch's own number. The
// limit is reached at limit/(mean rate ± t·standard error), never where that
// rate does not lead to it.
//
// The start is a reading of its own: a unit weighed at 0, 3 and 6 months has
// three times. Units without a reading after the start are left out with a
// warning; without two units in a batch there is no spread, and nothing is
// fitted. Of in, Batches, Lines, Basis, Model and Baseline are not used: loss is
// always reckoned from the unit's own start. In the answer N counts units,
// ResidualSD is the standard deviation of the rates between units in % a month,
// and intercepts are zero and not tested.
//
// Each unit counts the same, however often it was weighed. Source: the analysis
// of repeated measurements by one summary figure a unit (Matthews, Altman,
// Campbell & Royston, BMJ 300, 1990, 230); t and F of any statistics text.
func Rates(all []Unit, in regression.Input) (regression.Output, []finding.Warning) {
	var warnings []finding.Warning
	if in.Baseline > 0 {
		warnings = append(warnings, finding.Warning{Code: "baseline-not-used",
			Text: "Loss of mass is reckoned from each unit's own start; the baseline is not used."})
	}
	used := make([]Unit, 0, len(all))
	rates := make([]float64, 0, len(all))
	var left []string
	for _, u := range all {
		rate, ok := Rate(u.Points)
		if !ok {
			left = append(left, u.Label)
			continue
		}
		start := kinetics.Point{}
		points := []kinetics.Point{start}
		for _, p := range u.Points {
			if p.Months > 0 {
				points = append(points, p)
			}
		}
		used, rates = append(used, Unit{u.Batch, u.Label, points}), append(rates, rate)
	}
	warnings = append(warnings, leftOut(left, "no reading after time zero")...)
	in.Basis, in.Model, in.Baseline = study.BasisValue, study.ZeroOrder, 0
	return evaluate(used, in, warnings, func(kinetics.Model) (pooling.Result, error) {
		return poolRates(used, rates, in.Alpha)
	})
}

// evaluate judges the lines of units as regression judges those of samples.
func evaluate(used []Unit, in regression.Input, warnings []finding.Warning, lines func(kinetics.Model) (pooling.Result, error)) (regression.Output, []finding.Warning) {
	batches := len(in.Names)
	for _, u := range used {
		batches = max(batches, u.Batch+1)
	}
	in.Batches = make([][]kinetics.Point, batches)
	counts := make([]int, batches)
	for _, u := range used {
		in.Batches[u.Batch] = append(in.Batches[u.Batch], u.Points...)
		counts[u.Batch]++
	}
	in.Lines = lines
	out, more := regression.Evaluate(in)
	for i := range out.Fits {
		out.Fits[i].N = counts[out.Fits[i].Batch]
	}
	return out, append(warnings, more...)
}

func leftOut(labels []string, reason string) []finding.Warning {
	if len(labels) == 0 {
		return nil
	}
	what := "Unit " + labels[0] + " is"
	if len(labels) > 1 {
		what = "Units " + strings.Join(labels, ", ") + " are"
	}
	return []finding.Warning{{Code: "unit-left-out", Text: what + " left out: " + reason + "."}}
}

// errSpread says why one unit a batch is not enough.
var errSpread = errors.New("the bound rests on the spread between units of a batch, and no batch has two units")

// PoolRates tests and pools the rates of units as Rates does, each with its batch;
// the lines are those of the batches that have units, in ascending order. A
// line's S is the standard deviation between units, its SlopeVar the leverage 1/n.
// Without two units in a batch it is an error.
func PoolRates(batches []int, rates []float64, alpha float64) (pooling.Result, error) {
	used := make([]Unit, len(batches))
	for i, b := range batches {
		used[i].Batch = b
	}
	return poolRates(used, rates, alpha)
}

// poolRates tests and pools the units' rates.
func poolRates(used []Unit, rates []float64, alpha float64) (pooling.Result, error) {
	g := group(used)
	n, b := len(used), len(g.batches)
	if n <= b {
		return pooling.Result{}, errSpread
	}
	slopes := g.spread(rates, rates)
	nan := math.NaN()
	r := pooling.Result{Decision: pooling.Separate, SlopesF: nan, SlopesP: nan, InterceptsF: nan, InterceptsP: nan,
		Lines: make([]linear.Line, b), DF: n - b}
	within := slopes.within
	if b > 1 {
		r.DF1, r.DF2 = b-1, n-b
		r.SlopesF, r.SlopesP = slopes.test(b-1, n-b)
		if r.SlopesP >= alpha {
			r.Decision, r.DF = pooling.Pooled, n-1
			within += slopes.between
		}
	}
	r.S = math.Sqrt(within / float64(r.DF))
	all := mean(rates)
	for i, members := range g.batches {
		line := linear.Line{Slope: all, SlopeVar: 1 / float64(n), S: r.S, DF: r.DF}
		if r.Decision == pooling.Separate {
			line.Slope, line.SlopeVar = g.mean(rates, members), 1/float64(len(members))
		}
		r.Lines[i] = line
	}
	return r, nil
}
