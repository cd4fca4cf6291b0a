// Package outoftrend judges whether a result is out of trend: against the line
// of its own batch and against earlier batches at the same time. A result out of
// trend is one to be looked into; it may be well within its acceptance limits,
// and nothing here says that it is wrong.
package outoftrend

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"

	"shelfspan/analysis/linear"
	"shelfspan/analysis/pooling"
)

// Confidences are those of the limits, two-sided: beyond the first one result in
// 20 lies by chance, beyond the second one in 100. Common practice, no source.
var Confidences = [...]float64{0.95, 0.99}

// Judgement is a result against what was to be expected of it.
type Judgement struct {
	Value, Expected float64
	SE              float64 // of the difference of the two; 0 where what it rests on has no residual
	DF              int
	// T is the difference over its SE, and P its two-sided p-value by Student's
	// t. Without residual T is infinite or, where the two agree, zero.
	T, P   float64
	Limits [len(Confidences)]Limits // prediction limits, at Confidences
}

// Limits are prediction limits: the next result lies between them at the
// confidence.
type Limits struct {
	Confidence, Lower, Upper float64
	Outside                  bool // the result lies beyond one of them
}

// OfBatches judges the point-th result of a batch against the line of this batch
// without it. Every batch has its own line, and the error is that of all of
// them; it needs two different times in each and a value more than two a batch.
//
// Lines that the poolability tests found the batches to share would be tighter,
// but not at the rate stated: the tests choose the line by the data, and with
// three batches that differ by less than they can see, a result in trend lies
// beyond limits of 95 % in up to 10 % of studies (by simulation, see the tests).
//
// The suspect is named beforehand, as the last one mostly is: the farthest of
// many lies outside by chance more often, see residuals.Of. T is the studentized
// deleted residual there.
//
// The prediction limits are ŷ ± t·s·√(1 + h), h being the unscaled variance of
// the mean at the suspect's time (Draper & Smith, Applied Regression Analysis,
// 3rd ed. 1998, 3.1, section from memory).
func OfBatches(batches []pooling.Batch, batch, point int) (Judgement, error) {
	return OfPull(batches, batch, []int{point})
}

// OfPull judges the mean of one pull of a batch, the results of these points,
// against the line of this batch without them, as OfBatches does one result. Of k
// results the limits of the mean are ŷ ± t·s·√(1/k + h): as for every line here,
// results of one pull are taken to be as independent as those of different ones.
func OfPull(batches []pooling.Batch, batch int, points []int) (Judgement, error) {
	if batch < 0 || batch >= len(batches) {
		return Judgement{}, fmt.Errorf("there is no batch %d", batch+1)
	}
	var own linear.Line
	var x, y float64
	rss, df := 0.0, 0
	for i, b := range batches {
		if len(b.X) != len(b.Y) {
			return Judgement{}, fmt.Errorf("batch %d has %d times and %d values", i+1, len(b.X), len(b.Y))
		}
		if !reckoned(b.X...) || !reckoned(b.Y...) {
			return Judgement{}, errOutOfRange
		}
		if i == batch {
			var err error
			if x, y, b, err = apart(b, points); err != nil {
				return Judgement{}, fmt.Errorf("batch %d: %w", i+1, err)
			}
		}
		line, left, err := linear.Straight(b.X, b.Y)
		if err != nil {
			return Judgement{}, fmt.Errorf("batch %d: %w", i+1, err)
		}
		if i == batch {
			own = line
		}
		rss += left
		df += line.DF
	}
	if own.DF = df; df > 0 {
		own.S = math.Sqrt(rss / float64(df))
	}
	return againstLine(own, x, y, len(points))
}

// apart takes the points out of a batch and gives their means.
func apart(b pooling.Batch, points []int) (x, y float64, rest pooling.Batch, err error) {
	if len(points) == 0 {
		return 0, 0, rest, errors.New("there is no result to judge")
	}
	for n, i := range points {
		if i < 0 || i >= len(b.X) || slices.Contains(points[:n], i) {
			return 0, 0, rest, fmt.Errorf("there is no result %d, or it is named twice", i+1)
		}
		x += b.X[i] / float64(len(points))
		y += b.Y[i] / float64(len(points))
	}
	for i := range b.X {
		if !slices.Contains(points, i) {
			rest.X, rest.Y = append(rest.X, b.X[i]), append(rest.Y, b.Y[i])
		}
	}
	return x, y, rest, nil
}

// AgainstLine judges a result y at x against a line fitted without it.
func AgainstLine(line linear.Line, x, y float64) (Judgement, error) {
	return againstLine(line, x, y, 1)
}

// againstLine judges the mean of k results.
func againstLine(line linear.Line, x, y float64, k int) (Judgement, error) {
	if !reckoned(x, y) {
		return Judgement{}, errOutOfRange
	}
	if line.DF < 1 || math.IsNaN(line.S) {
		return Judgement{}, errors.New("the line has no degree of freedom for its error")
	}
	return judge(y, line.Mean(x), math.Hypot(line.S/math.Sqrt(float64(k)), line.SE(x)), line.DF)
}

// AgainstEarlier judges a result against those of earlier batches at the same
// planned time, one value a batch: repeat samples of a batch are averaged first,
// as they tell nothing of how batches differ. It needs two of them, and is wide
// with fewer than five.
//
// The limits are those within which the value of one more batch of the same
// kind lies at the confidence, ȳ ± t·s·√(1 + 1/n): a prediction interval, whose
// rate of false alarms is exact whatever the number of batches (Hahn & Meeker,
// Statistical Intervals, 1991, 4.7, section from memory). A tolerance interval,
// which some take here, holds a share of all batches to come and is so wide of a
// few batches that it would hardly ever alarm.
func AgainstEarlier(earlier []float64, y float64) (Judgement, error) {
	n := len(earlier)
	if n < 2 {
		return Judgement{}, errors.New("fewer than two earlier batches")
	}
	if !reckoned(earlier...) || !reckoned(y) {
		return Judgement{}, errOutOfRange
	}
	mean, size := 0.0, 0.0
	for _, v := range earlier {
		mean += v / float64(n)
		size = max(size, math.Abs(v))
	}
	s := 0.0
	for _, v := range earlier {
		s += (v - mean) * (v - mean)
	}
	sd := math.Sqrt(s / float64(n-1))
	if sd <= float64(n)*epsilon*size {
		sd = 0
	}
	return judge(y, mean, sd*math.Sqrt(1+1/float64(n)), n-1)
}

func judge(y, expected, se float64, df int) (Judgement, error) {
	j := Judgement{Value: y, Expected: expected, SE: se, DF: df, P: 1}
	if math.IsNaN(expected) || math.IsInf(expected, 0) || math.IsNaN(se) || math.IsInf(se, 0) {
		return Judgement{}, errOutOfRange
	}
	difference := y - expected
	if math.Abs(difference) <= rounding*max(math.Abs(y), math.Abs(expected)) {
		difference = 0
	}
	if difference != 0 {
		j.T = difference / se
		j.P = linear.FSurvival(j.T*j.T, 1, df)
	}
	quantiles := quantilesOf(df)
	for i, c := range Confidences {
		half := quantiles[i] * se
		j.Limits[i] = Limits{Confidence: c, Lower: expected - half, Upper: expected + half, Outside: math.Abs(difference) > half}
	}
	return j, nil
}

// known keeps the quantiles of each number of degrees of freedom that was asked
// for: they are few, and many results are judged by the same.
var known sync.Map

// quantilesOf gives Student's t at Confidences, two-sided.
func quantilesOf(df int) [len(Confidences)]float64 {
	if q, ok := known.Load(df); ok {
		return q.([len(Confidences)]float64)
	}
	var q [len(Confidences)]float64
	for i, c := range Confidences {
		q[i] = linear.StudentQuantile((1+c)/2, df)
	}
	known.Store(df, q)
	return q
}

const (
	epsilon = 0x1p-52
	// rounding is the relative difference up to which a result is what was
	// expected: an expected value is computed, and its last digits are not its own.
	rounding = 1e-13
)

var errOutOfRange = errors.New("a number is out of the range of numbers reckoned with")

// reckoned reports whether squares of the numbers stay numbers.
func reckoned(v ...float64) bool {
	for _, x := range v {
		if x != 0 && !(math.Abs(x) >= 1e-60 && math.Abs(x) <= 1e60) {
			return false
		}
	}
	return true
}
