// Package residuals looks at what a fitted linear model leaves over: outliers,
// a spread that changes, a lack of fit against replicates, and a course over
// time that is no straight line or turns round.
package residuals

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"shelfspan/analysis/linear"
	"shelfspan/analysis/pooling"
)

// Point is what a fit says of one observation.
type Point struct {
	Fitted, Residual float64
	// Leverage is the diagonal element of the hat matrix: the weight that the
	// observation has in its own fitted value, 0 to 1.
	Leverage float64
	// Internal is the residual over its own standard error, e/(s·√(1 − h)).
	// External is the same with s taken from the fit without the observation,
	// the studentized deleted residual: of a normal error it is distributed as
	// Student's t on DF − 1 degrees of freedom. It is infinite where the others
	// fit without residual.
	Internal, External float64
	// P is the chance that of as many observations as were tested any lies as
	// far out, by Bonferroni: the two-sided p of External times their number, at
	// most 1.
	P float64
	// Tested is false where an observation has no residual of its own, because
	// the fit must pass through it, or no error is left to measure it by.
	// Internal and External are then 0 and P is 1.
	Tested bool
}

// Residuals is what a fit leaves over.
type Residuals struct {
	Points   []Point
	RSS      float64 // residual sum of squares; 0 where the residuals are no more than rounding
	DF       int     // observations less columns
	SD       float64 // residual standard deviation
	Tested   int     // observations that could be
	Farthest int     // the one with the smallest P; −1 where none could be tested
}

// full is the leverage from which on a fit is taken to pass through an
// observation whatever its value: what is left is rounding.
const full = 1 - 1e-11

// Of fits y by the columns, by least squares, and studentizes the residuals. It
// needs more observations than columns, and values of size 0 or 1e-60 to 1e60;
// columns that are combinations of others are a *linear.RankError.
//
// Each observation is held against all the others, so that two outliers may
// hide each other.
//
// Source: Cook & Weisberg, Residuals and Influence in Regression, 1982, 2.1 and
// 2.2 (sections from memory).
func Of(columns []linear.Column, y []float64) (Residuals, error) {
	n, p := len(y), len(columns)
	if n <= p {
		return Residuals{}, fmt.Errorf("%d observations leave no residual of %d coefficients", n, p)
	}
	size, err := sizeOf(y)
	if err != nil {
		return Residuals{}, err
	}
	for _, c := range columns {
		if len(c.Values) != n {
			return Residuals{}, fmt.Errorf("%s has %d values for %d observations", c.Name, len(c.Values), n)
		}
	}
	basis, err := linear.Orthonormal(columns)
	if err != nil {
		return Residuals{}, err
	}
	r := Residuals{Points: make([]Point, n), DF: n - p}
	e := slices.Clone(y)
	r.take(basis, e, r.Points)
	r.finish(e, y, size)
	return r, nil
}

// OfBatches is Of for batches each with a line of its own, batch after batch: the
// columns of pooling.Columns with pooling.Separate, reckoned batch by batch. Its
// work grows with the number of values alone, not with that of batches too.
func OfBatches(batches []pooling.Batch) (Residuals, error) {
	n := 0
	for _, b := range batches {
		if len(b.X) != len(b.Y) {
			return Residuals{}, errors.New("a batch has not as many times as values")
		}
		n += len(b.X)
	}
	if n <= 2*len(batches) {
		return Residuals{}, fmt.Errorf("%d observations leave no residual of %d coefficients", n, 2*len(batches))
	}
	y := make([]float64, 0, n)
	for _, b := range batches {
		y = append(y, b.Y...)
	}
	size, err := sizeOf(y)
	if err != nil {
		return Residuals{}, err
	}
	r := Residuals{Points: make([]Point, n), DF: n - 2*len(batches)}
	e := slices.Clone(y)
	at := 0
	for i, b := range batches {
		own := batches[i : i+1]
		columns, _ := pooling.Columns(own, pooling.Separate)
		basis, err := linear.Orthonormal(columns)
		if err != nil {
			return Residuals{}, fmt.Errorf("batch %d: %w", i+1, err)
		}
		r.take(basis, e[at:at+len(b.X)], r.Points[at:at+len(b.X)])
		at += len(b.X)
	}
	r.finish(e, y, size)
	return r, nil
}

// take takes the fit off the observations e and notes its leverages.
func (r *Residuals) take(basis [][]float64, e []float64, points []Point) {
	project(basis, e)
	project(basis, e) // takes off what rounding left of the fit
	for i, v := range e {
		r.RSS += v * v
		for _, q := range basis {
			points[i].Leverage += q[i] * q[i]
		}
		points[i].Leverage = min(points[i].Leverage, 1)
	}
}

// finish studentizes the residuals e of observations y of a size.
func (r *Residuals) finish(e, y []float64, size float64) {
	floor := math.Pow(float64(len(y))*epsilon*size, 2)
	if r.RSS <= floor {
		r.RSS = 0
		clear(e)
	}
	r.SD = math.Sqrt(r.RSS / float64(r.DF))
	r.Farthest = -1
	for i := range r.Points {
		r.Points[i].Residual, r.Points[i].Fitted, r.Points[i].P = e[i], y[i]-e[i], 1
		r.studentize(&r.Points[i], floor)
	}
	for i := range r.Points {
		q := &r.Points[i]
		if q.Tested && (r.Farthest < 0 || math.Abs(q.External) > math.Abs(r.Points[r.Farthest].External)) {
			r.Farthest = i
		}
	}
	for i := range r.Points {
		if q := &r.Points[i]; q.Tested {
			q.P = r.bonferroni(q.External)
		}
	}
}

// bonferroni is the P of a studentized deleted residual. A Student's t of any
// degrees of freedom lies beyond 2 with a chance of more than 0.0455, so that with
// 22 results or more none within 2 need be worked out: its P is 1.
func (r *Residuals) bonferroni(external float64) float64 {
	if math.Abs(external) <= 2 && float64(r.Tested)*0.0455 >= 1 {
		return 1
	}
	return min(1, float64(r.Tested)*twoSided(external, r.DF-1))
}

const epsilon = 0x1p-52

// studentize fills in a point's studentized residuals where it has any; floor is
// the sum of squares that is rounding.
func (r *Residuals) studentize(q *Point, floor float64) {
	free := 1 - q.Leverage
	if r.RSS == 0 || q.Leverage > full {
		return
	}
	own := q.Residual * q.Residual / free // what the point adds to the sum of squares
	q.Internal = q.Residual / (r.SD * math.Sqrt(free))
	if r.DF < 2 {
		return
	}
	q.Tested = true
	r.Tested++
	rest := r.RSS - own
	if rest <= floor || rest <= 16*float64(len(r.Points))*epsilon*r.RSS {
		q.External = math.Copysign(math.Inf(1), q.Residual)
		return
	}
	q.External = q.Residual / math.Sqrt(rest/float64(r.DF-1)*free)
}

// project takes the fit off a vector.
func project(basis [][]float64, e []float64) {
	for _, q := range basis {
		s := 0.0
		for i, v := range e {
			s += q[i] * v
		}
		for i := range e {
			e[i] -= s * q[i]
		}
	}
}

// twoSided is the chance of a Student's t as far from zero, on either side, by
// its square, which keeps the digits far out.
func twoSided(t float64, df int) float64 { return linear.FSurvival(t*t, 1, df) }

// sizeOf is the Euclidean length of values that are all in the range of numbers
// reckoned with.
func sizeOf(y []float64) (float64, error) {
	s := 0.0
	for _, v := range y {
		if v != 0 && !(math.Abs(v) >= 1e-60 && math.Abs(v) <= 1e60) {
			return 0, fmt.Errorf("%g is out of the range of numbers reckoned with", v)
		}
		s += v * v
	}
	return math.Sqrt(s), nil
}

var errNoVariation = errors.New("the residuals are no more than rounding")
