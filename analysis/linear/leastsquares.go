// Package linear fits linear models by least squares and finds where the
// confidence limit of a straight line meets a limit.
package linear

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// Column is one predictor of a linear model: its name, used where it has to be
// refused, and its value at each observation. An intercept is a column of ones.
type Column struct {
	Name   string
	Values []float64
}

// Fit is a linear model fitted by least squares, y = X·β + error.
type Fit struct {
	Coefficients []float64 // β, one a column
	Covariance   []float64 // unscaled, (XᵀX)⁻¹, row-major p×p: times the residual mean square it is the covariance of β
	RSS          float64   // residual sum of squares; 0 where the residuals are no more than rounding
	DF           int       // observations less columns
}

// ResidualSD is the square root of the residual mean square, RSS/DF; NaN where
// no degree of freedom is left.
func (f *Fit) ResidualSD() float64 {
	if f.DF < 1 {
		return math.NaN()
	}
	return math.Sqrt(f.RSS / float64(f.DF))
}

// SE is the standard error of a coefficient.
func (f *Fit) SE(i int) float64 {
	return f.ResidualSD() * math.Sqrt(f.Covariance[i*len(f.Coefficients)+i])
}

// RankError says that the observations cannot tell the columns apart.
type RankError struct {
	Columns []string // each a linear combination of the columns before it, or zero
}

func (e *RankError) Error() string {
	return "the observations cannot tell " + strings.Join(e.Columns, ", ") + " from the predictors before"
}

// rankTolerance is the part of a column's length that has to be left when its
// projection on the columns before it is taken away. Longley's predictors, a
// byword for collinearity, leave 1e-4 of the year.
const rankTolerance = 1e-10

// LeastSquares fits y by the columns, each as long as y, and there are at least
// as many observations as columns.
//
// It triangularizes X by Householder reflections, columns first scaled to unit
// length so that their units do not matter, and never forms XᵀX; the residual
// sum of squares is the length of the rotated y below the triangle (Golub & Van
// Loan, Matrix Computations, 5.2–5.3). A residual no longer than n·ε·‖y‖ is
// rounding and is reported as zero, and so is a coefficient that adds no more
// than that to the fit: equal values have neither error nor slope. Columns that
// are combinations of earlier ones are a *RankError naming them all.
func LeastSquares(columns []Column, y []float64) (*Fit, error) {
	n, p := len(y), len(columns)
	if n < p || p == 0 {
		return nil, fmt.Errorf("%d observations for %d coefficients", n, p)
	}
	size := length(y)
	if math.IsNaN(size) || math.IsInf(size, 0) {
		return nil, errors.New("an observation is no finite number")
	}
	work := make([]float64, n*(p+1)+3*p+2*p*p)
	take := func(k int) []float64 {
		s := work[:k:k]
		work = work[k:]
		return s
	}
	t := triangle{n: n, p: p, x: take(n * p), diagonal: take(p)}
	b, scale := take(n), take(p)
	copy(b, y)
	if err := t.load(columns, scale); err != nil {
		return nil, err
	}
	if err := t.reduce(columns, b); err != nil {
		return nil, err
	}
	f := &Fit{Coefficients: take(p), Covariance: take(p * p), DF: n - p}
	t.solve(b, f.Coefficients)
	t.covariance(take(p*p), f.Covariance)
	rounding := float64(n) * epsilon * size
	for i, beta := range f.Coefficients {
		// On a column of unit length the coefficient is its part in the fit.
		if math.Abs(beta) <= rounding {
			f.Coefficients[i] = 0
		}
		f.Coefficients[i] /= scale[i]
		for j := range p {
			f.Covariance[i*p+j] /= scale[i] * scale[j]
		}
	}
	if residual := length(b[p:]); residual > rounding {
		f.RSS = residual * residual
	}
	return f, nil
}

// triangle is the matrix X, column by column, on its way to R: R(i, j) for i < j
// comes to stand in x[j*n+i], R(j, j) in diagonal[j].
type triangle struct {
	n, p        int
	x, diagonal []float64
}

// load takes the columns, scaled to unit length.
func (t *triangle) load(columns []Column, scale []float64) error {
	for j, c := range columns {
		if len(c.Values) != t.n {
			return fmt.Errorf("%s has %d values for %d observations", c.Name, len(c.Values), t.n)
		}
		scale[j] = length(c.Values)
		if math.IsNaN(scale[j]) || math.IsInf(scale[j], 0) {
			return fmt.Errorf("%s holds a value that is no finite number", c.Name)
		}
		if scale[j] > 0 {
			for i, v := range c.Values {
				t.x[j*t.n+i] = v / scale[j]
			}
		}
	}
	return nil
}

// reduce reflects X into R and y, in b, into Qᵀy. Every column that depends on
// those before it is told.
func (t *triangle) reduce(columns []Column, b []float64) error {
	var deficient []string
	row := 0 // of the triangle; stays behind j only where a column is refused
	for j := range t.p {
		v := t.x[j*t.n+row : (j+1)*t.n]
		norm := length(v)
		if norm <= rankTolerance {
			deficient = append(deficient, columns[j].Name)
			continue
		}
		// The reflection takes v to −sign(v₀)‖v‖e₀, away from itself, so that
		// v₀ + sign(v₀)‖v‖ does not cancel.
		alpha := -math.Copysign(norm, v[0])
		v[0] -= alpha
		tau := -1 / (alpha * v[0]) // 2/‖v‖²
		for k := j + 1; k < t.p; k++ {
			reflect(v, tau, t.x[k*t.n+row:(k+1)*t.n])
		}
		reflect(v, tau, b[row:])
		t.diagonal[j] = alpha
		row++
	}
	if deficient != nil {
		return &RankError{Columns: deficient}
	}
	return nil
}

// solve finds β of R·β = (Qᵀy)₁, from the last row up.
func (t *triangle) solve(b, beta []float64) {
	for i := t.p - 1; i >= 0; i-- {
		s := b[i]
		for j := i + 1; j < t.p; j++ {
			s -= t.x[j*t.n+i] * beta[j]
		}
		beta[i] = s / t.diagonal[i]
	}
}

// covariance writes R⁻¹ and (RᵀR)⁻¹ = R⁻¹R⁻ᵀ, row by row.
func (t *triangle) covariance(inverse, covariance []float64) {
	p := t.p
	for j := range p {
		inverse[j*p+j] = 1 / t.diagonal[j]
		for i := j - 1; i >= 0; i-- {
			s := 0.0
			for k := i + 1; k <= j; k++ {
				s -= t.x[k*t.n+i] * inverse[k*p+j]
			}
			inverse[i*p+j] = s / t.diagonal[i]
		}
	}
	for i := range p {
		for j := i; j < p; j++ {
			s := 0.0
			for k := j; k < p; k++ {
				s += inverse[i*p+k] * inverse[j*p+k]
			}
			covariance[i*p+j], covariance[j*p+i] = s, s
		}
	}
}

const epsilon = 0x1p-52

// reflect applies I − tau·v·vᵀ to w.
func reflect(v []float64, tau float64, w []float64) {
	w = w[:len(v)]
	s := 0.0
	for i, x := range v {
		s += x * w[i]
	}
	s *= tau
	for i, x := range v {
		w[i] -= s * x
	}
}

// length is the Euclidean norm; values are divided by the largest first only
// where their squares would overflow or vanish.
func length(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x * x
	}
	if s > 1e-280 && s < 1e280 || math.IsNaN(s) {
		return math.Sqrt(s)
	}
	largest := 0.0
	for _, x := range v {
		largest = max(largest, math.Abs(x))
	}
	if largest == 0 || math.IsInf(largest, 0) {
		return largest
	}
	s = 0
	for _, x := range v {
		s += (x / largest) * (x / largest)
	}
	return largest * math.Sqrt(s)
}
