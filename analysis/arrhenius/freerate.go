package arrhenius

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/linear"
)

// layout says which batches and conditions entered and where each sample
// belongs; it is the same for every model.
type layout struct {
	points     []Point // that enter, in the order given
	batch      []int   // of each point, an index into batches
	cell       []int   // of each point, an index into cells; −1 at the start
	batches    []int   // the caller's numbers, ascending
	conditions []int   // the caller's indices, ascending
	groups     int     // of batches that share a factor of their rates: one, or as many as batches, or those stated
	groupOf    []int   // of each batch; nil where there is one group, or one for each batch
	cells      []cell  // that have a rate, ascending
	baseline   float64
}

// cell is a group of batches at a condition, as the caller's index.
type cell struct{ group, condition int }

// freeRates is the free-rate model, a_batch + k_cell·x, fitted. It is
// also an exact summary of the data for every model whose rates depend on the
// cell alone: with the batches' intercepts at their best,
//
//	SSE(k) = rss + ‖W·k − d‖²,
//
// W being the inverse of the lower Cholesky factor of the rates' unscaled
// covariance and d = W·k̂. So the cost of all that follows does not depend on
// the number of results.
type freeRates struct {
	layout
	rates    []float64 // k̂ by cell
	variance []float64 // unscaled
	rss      float64
	df       int     // n − batches − cells; may be 0
	length   float64 // ‖z‖

	w, d []float64 // w row-major, lower triangular

	size   []float64 // results of each batch
	levelZ []float64 // mean of z of each batch
	levelX []float64 // mean of x·[cell] of each batch, row-major batches×cells
}

func (f *freeRates) n() int { return len(f.points) }

var errOverflow = errors.New("the values are too large to compute with")

// fitFreeRates fits a slope per cell and an intercept per batch by QR.
func fitFreeRates(in *Input, l *layout, m kinetics.Model) (*freeRates, error) {
	n, b, c := len(l.points), len(l.batches), len(l.cells)
	f := &freeRates{layout: *l, df: n - b - c,
		size: make([]float64, b), levelZ: make([]float64, b), levelX: make([]float64, b*c)}
	z := make([]float64, n)
	buffer := make([]float64, n*(b+c))
	columns := make([]linear.Column, b+c)
	for j := range columns {
		columns[j].Values = buffer[j*n : (j+1)*n]
		if j >= b {
			columns[j].Name = in.Conditions[l.cells[j-b].condition].Name
		}
	}
	for i, p := range l.points {
		bi, ci := l.batch[i], l.cell[i]
		z[i] = m.Transform(p.Value)
		columns[bi].Values[i] = 1
		f.size[bi]++
		f.levelZ[bi] += (z[i] - f.levelZ[bi]) / f.size[bi]
		if ci >= 0 {
			x := m.Time(p.Months - l.baseline)
			columns[b+ci].Values[i] = x
			f.levelX[bi*c+ci] += x
		}
	}
	for bi := range b {
		for ci := range c {
			f.levelX[bi*c+ci] /= f.size[bi]
		}
	}
	fit, err := linear.LeastSquares(columns, z)
	var rank *linear.RankError
	switch {
	case errors.As(err, &rank):
		return nil, fmt.Errorf("the rate at %s cannot be told from the batches' starting values; it takes more times there, or results at time zero", strings.Join(slices.Compact(rank.Columns), " and "))
	case n < b+c:
		return nil, fmt.Errorf("%d results are too few for %d batches and %d rates", n, b, c)
	case err != nil:
		return nil, errOverflow
	}
	f.rss, f.length = fit.RSS, math.Sqrt(norm2(z))
	f.rates = fit.Coefficients[b:]
	f.variance = make([]float64, c)
	p := b + c
	// Cholesky of the rates' block, then its inverse, in place.
	chol := make([]float64, c*c)
	for i := range c {
		f.variance[i] = fit.Covariance[(b+i)*p+b+i]
		for j := 0; j <= i; j++ {
			s := fit.Covariance[(b+i)*p+b+j]
			for k := range j {
				s -= chol[i*c+k] * chol[j*c+k]
			}
			if i == j {
				chol[i*c+i] = math.Sqrt(s)
			} else {
				chol[i*c+j] = s / chol[j*c+j]
			}
		}
	}
	f.w, f.d = make([]float64, c*c), make([]float64, c)
	for j := range c {
		f.w[j*c+j] = 1 / chol[j*c+j]
		for i := j + 1; i < c; i++ {
			s := 0.0
			for k := j; k < i; k++ {
				s -= chol[i*c+k] * f.w[k*c+j]
			}
			f.w[i*c+j] = s / chol[i*c+i]
		}
	}
	f.times(f.rates, f.d)
	if math.IsNaN(f.rss) || math.IsInf(f.rss, 0) || math.IsNaN(norm2(f.d)) || math.IsInf(norm2(f.d), 0) {
		return nil, errOverflow
	}
	return f, nil
}

// times writes W·k into dst.
func (f *freeRates) times(k, dst []float64) {
	c := len(k)
	for i := range c {
		s := 0.0
		row := f.w[i*c : i*c+i+1]
		for j, w := range row {
			s += w * k[j]
		}
		dst[i] = s
	}
}

func norm2(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x * x
	}
	return s
}
