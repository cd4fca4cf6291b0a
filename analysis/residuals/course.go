package residuals

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"shelfspan/analysis/linear"
	"shelfspan/analysis/pooling"
)

// Course says how the batches go over time, if not in straight lines.
type Course struct {
	Bend Bend
	Runs Runs // of the residuals of each batch's own line, averaged where times are alike
	Turn Turn
}

// Bend is the test of straightness against a quadratic term that the batches,
// each with its own intercept and slope, have in common.
type Bend struct {
	T, P float64 // Student's t, positive where the course is hollow from above, and its two-sided p
	DF   int
}

// Direction is the way in which a course turns round.
type Direction string

// The ways.
const (
	NoTurn         Direction = ""
	RisesThenFalls Direction = "rises-then-falls" // as a structure that builds before it breaks
	FallsThenRises Direction = "falls-then-rises"
)

// Turn is the test of a course that turns round within the data.
type Turn struct {
	Direction     Direction // of the broken line that fits best; it is a finding only where P is small
	At            float64   // where it breaks
	Before, After float64   // its slopes
	F, P          float64   // against the best course that does not turn; 0 and 1 without a direction
	DF            int       // of the error in F
}

// CourseOf tests the course of the batches over time. It needs two different
// times of every batch, four of all together, and enough values to leave at
// least one degree of freedom to each test; anything less is an error.
//
// Bend: a common quadratic term beside each batch's own line, by Student's t.
//
// Turn: with own intercepts, a broken line common to all is fitted with its
// break anywhere from the second to the last but one time (at the times and
// up to eight steps between each two). Where the best one turns round, it is
// compared by extra sum of squares on 1 degree of freedom with the best broken
// line that does not turn that way, one of whose slopes is zero or whose break
// lies elsewhere; the break counts as a parameter. A quadratic with its vertex
// within the data would not do: where a change comes to rest on a plateau it
// nearly always has one. The test is our own; by simulation (see the tests) it
// finds a rise and fall in at most 5 to 6 % of studies at the level 0.05 where
// the truth rises to a plateau or is flat, and is all but never wrong about a
// line.
//
// Runs is a second opinion that assumes no shape; it is weak with few times.
func CourseOf(batches []pooling.Batch) (Course, error) {
	var c Course
	n := 0
	for _, b := range batches {
		if len(b.X) != len(b.Y) {
			return c, errors.New("a batch has not as many times as values")
		}
		n += len(b.X)
	}
	if n-2*len(batches)-1 < 1 || n-len(batches)-3 < 1 {
		return c, errors.New("too few values to test the course over time")
	}
	fit, err := OfBatches(batches)
	if err != nil {
		return c, err
	}
	if c.Bend, err = bend(batches, &fit); err != nil {
		return c, err
	}
	y := make([]float64, 0, n)
	for _, b := range batches {
		y = append(y, b.Y...)
	}
	times := make([]float64, 0, n)
	series := make([][]float64, len(batches))
	for i, b := range batches {
		series[i] = sumsInOrder(b.X, fit.Points[len(times):])
		times = append(times, b.X...)
	}
	c.Runs = CountRuns(series...)
	c.Turn, err = turn(batches, times, y)
	return c, err
}

// bend adds the quadratic term, the square of each batch's centred time, to the
// batches' own lines. With the lines taken off both sides what is left of it is
// a line through the origin (Frisch & Waugh, Econometrica 1, 1933, 387–401).
func bend(batches []pooling.Batch, lines *Residuals) (Bend, error) {
	squares := make([]pooling.Batch, len(batches))
	for i, b := range batches {
		mean := 0.0
		for _, x := range b.X {
			mean += x / float64(len(b.X))
		}
		squares[i] = pooling.Batch{X: b.X, Y: make([]float64, len(b.X))}
		for j, x := range b.X {
			squares[i].Y[j] = (x - mean) * (x - mean)
		}
	}
	rest, err := OfBatches(squares)
	switch {
	case err != nil:
		return Bend{}, err
	case rest.RSS == 0:
		return Bend{}, &linear.RankError{Columns: []string{"the square of time"}}
	}
	product := 0.0
	for i := range rest.Points {
		product += rest.Points[i].Residual * lines.Points[i].Residual
	}
	b := Bend{DF: lines.DF - 1, P: 1}
	explained := product * product / rest.RSS
	left := 0.0 // by direct sum, which keeps the digits where little is left
	for i := range rest.Points {
		e := lines.Points[i].Residual - product/rest.RSS*rest.Points[i].Residual
		left += e * e
	}
	size := 0.0
	for i := range lines.Points {
		y := lines.Points[i].Fitted + lines.Points[i].Residual
		size += y * y
	}
	floor := math.Pow(float64(len(rest.Points))*epsilon, 2) * size
	switch {
	case lines.RSS == 0 || explained <= floor:
	case left <= floor:
		b.T, b.P = math.Copysign(math.Inf(1), product), 0
	default:
		b.T = product / math.Sqrt(rest.RSS*left/float64(b.DF))
		b.P = twoSided(b.T, b.DF)
	}
	return b, nil
}

// sumsInOrder adds up the residuals at each different time, in order; the sums
// have the signs of the means.
func sumsInOrder(x []float64, points []Point) []float64 {
	at := levels(x)
	sums := make([]float64, slices.Max(at)+1)
	for i, l := range at {
		sums[l] += points[i].Residual
	}
	return sums
}

// turn compares broken lines. Intercepts are taken off by counting everything
// from each batch's mean.
func turn(batches []pooling.Batch, times, y []float64) (Turn, error) {
	size, err := sizeOf(y)
	if err != nil {
		return Turn{}, err
	}
	n := len(y)
	floor := float64(n) * epsilon * size
	centre(batches, y)
	knots := breaks(times)
	if len(knots) == 0 {
		return Turn{}, errors.New("fewer than four different times")
	}
	before, after := make([]float64, n), make([]float64, n)
	columns := []linear.Column{{Name: "time before the break", Values: before}, {Name: "time after the break", Values: after}}
	rss := func(columns []linear.Column) (float64, *linear.Fit, error) {
		fit, err := linear.LeastSquares(columns, y)
		if err != nil {
			return 0, nil, err
		}
		if math.Sqrt(fit.RSS) <= floor {
			return 0, fit, nil
		}
		return fit.RSS, fit, nil
	}
	t := Turn{P: 1, DF: n - len(batches) - 3}
	least := math.Inf(1)
	notRising, notFalling := math.Inf(1), math.Inf(1) // least of the courses that do not rise and then fall, and the reverse
	for _, knot := range knots {
		for i, x := range times {
			before[i], after[i] = min(x, knot)-knot, max(x, knot)-knot
		}
		centre(batches, before)
		centre(batches, after)
		both, fit, err := rss(columns)
		if err != nil {
			return Turn{}, err
		}
		direction, one := NoTurn, both // one: of the best with this break that does not turn
		if b, a := fit.Coefficients[0], fit.Coefficients[1]; b > 0 && a < 0 || b < 0 && a > 0 {
			early, _, errEarly := rss(columns[:1])
			late, _, errLate := rss(columns[1:])
			if err := cmp.Or(errEarly, errLate); err != nil {
				return Turn{}, err
			}
			if one, direction = min(early, late), RisesThenFalls; b < 0 {
				direction = FallsThenRises
			}
		}
		switch direction {
		case RisesThenFalls:
			notRising, notFalling = min(notRising, one), min(notFalling, both)
		case FallsThenRises:
			notRising, notFalling = min(notRising, both), min(notFalling, one)
		default:
			notRising, notFalling = min(notRising, both), min(notFalling, both)
		}
		if both < least {
			least = both
			t.Direction, t.At, t.Before, t.After = direction, knot, fit.Coefficients[0], fit.Coefficients[1]
		}
	}
	switch t.Direction {
	case RisesThenFalls:
		t.F, t.P = linear.ExtraSumOfSquares(notRising-least, 1, least, t.DF)
	case FallsThenRises:
		t.F, t.P = linear.ExtraSumOfSquares(notFalling-least, 1, least, t.DF)
	}
	return t, nil
}

// centre counts values from the mean of their batch.
func centre(batches []pooling.Batch, v []float64) {
	for _, b := range batches {
		own := v[:len(b.X)]
		v = v[len(b.X):]
		mean := 0.0
		for _, x := range own {
			mean += x / float64(len(own))
		}
		for i := range own {
			own[i] -= mean
		}
	}
}

// breaks are the times at which a course may break: from the second to the last
// but one, and eight steps between each two; fewer steps where the times are so
// many that they come near enough by themselves. There are none of fewer than four.
func breaks(times []float64) []float64 {
	const finest, enough = 8, 200
	at := levels(times)
	distinct := make([]float64, slices.Max(at)+1)
	for i, l := range at {
		distinct[l] = times[i]
	}
	if len(distinct) < 4 {
		return nil
	}
	inner := distinct[1 : len(distinct)-1]
	steps := min(max(enough/len(inner), 1), finest)
	knots := make([]float64, 0, steps*len(inner))
	for k, x := range inner[1:] {
		for s := range steps {
			knots = append(knots, inner[k]+(x-inner[k])*float64(s)/float64(steps))
		}
	}
	return append(knots, inner[len(inner)-1])
}
