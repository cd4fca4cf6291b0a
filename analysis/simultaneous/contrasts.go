package simultaneous

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// VarianceError says that a contrast is estimated without a variance: all its
// numbers are zero, or those of coefficients that are known exactly.
type VarianceError struct {
	Contrast int // its index
}

func (e *VarianceError) Error() string {
	return fmt.Sprintf("contrast %d has no variance, so it has no t", e.Contrast+1)
}

// known is the share that a variance has to be, of what it would be if all errors
// added up, to be told from rounding.
const known = 1e-13

// standardise gives each contrast as a vector of length 1, such that the product of
// two of them is their correlation: its product with a square root of the
// covariance, which is taken from the correlation matrix of the coefficients, for
// these may be of any size. se holds √(c'Vc).
func standardise(contrasts [][]float64, covariance *mat.SymDense) (rows [][]float64, se []float64, err error) {
	if len(contrasts) == 0 {
		return nil, nil, errors.New("there is no contrast")
	}
	if covariance == nil || covariance.IsEmpty() {
		return nil, nil, errors.New("there is no covariance")
	}
	n := covariance.SymmetricDim()
	sd := make([]float64, n)
	for i := range sd {
		v := covariance.At(i, i)
		if !(v >= 0 && v <= math.MaxFloat64) {
			return nil, nil, fmt.Errorf("coefficient %d has a variance of %g", i+1, v)
		}
		sd[i] = math.Sqrt(v)
	}
	root, err := squareRoot(covariance, sd)
	if err != nil {
		return nil, nil, err
	}
	rows, se = make([][]float64, len(contrasts)), make([]float64, len(contrasts))
	for i, c := range contrasts {
		if len(c) != n {
			return nil, nil, fmt.Errorf("contrast %d has %d numbers for %d coefficients", i+1, len(c), n)
		}
		size := 0.0
		for j, v := range c {
			if math.IsNaN(v) || math.IsInf(v, 0) || math.IsInf(v*sd[j], 0) {
				return nil, nil, fmt.Errorf("contrast %d holds %g", i+1, v)
			}
			size = max(size, math.Abs(v*sd[j]))
		}
		if size == 0 {
			return nil, nil, &VarianceError{i}
		}
		row, most, square := make([]float64, n), 0.0, 0.0
		for j, v := range c {
			part := v * sd[j] / size
			most += math.Abs(part)
			for m := range row {
				row[m] += part * root.At(j, m)
			}
		}
		for _, v := range row {
			square += v * v
		}
		if !(square > known*most*most) {
			return nil, nil, &VarianceError{i}
		}
		for m := range row {
			row[m] /= math.Sqrt(square)
		}
		rows[i], se[i] = row, size*math.Sqrt(square)
	}
	return rows, se, nil
}

// squareRoot is B with BB' the correlation matrix of the coefficients, from its
// eigenvalues, of which those that are zero but for rounding are taken as zero.
// The row of a coefficient without a variance is not used.
func squareRoot(covariance *mat.SymDense, sd []float64) (*mat.Dense, error) {
	n := len(sd)
	correlation := mat.NewSymDense(n, nil)
	for i := range n {
		correlation.SetSym(i, i, 1)
		for j := range i {
			v := covariance.At(i, j)
			switch rho := v / sd[i] / sd[j]; {
			case sd[i] == 0 || sd[j] == 0:
				if v != 0 {
					return nil, fmt.Errorf("coefficients %d and %d covary and one of them has no variance", j+1, i+1)
				}
			case !(math.Abs(rho) <= 1+1e-8):
				return nil, fmt.Errorf("coefficients %d and %d have a correlation of %g", j+1, i+1, rho)
			default:
				correlation.SetSym(i, j, rho)
			}
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(correlation, true) {
		return nil, errors.New("the covariance has no eigenvalues that could be found")
	}
	var root mat.Dense
	eigen.VectorsTo(&root)
	values := eigen.Values(nil)
	if values[0] < -1e-8*float64(n) {
		return nil, errors.New("the covariance is none: some combination of the coefficients would have a variance below zero")
	}
	for j, v := range values {
		if v < known*float64(n) {
			v = 0
		}
		for i := range n {
			root.Set(i, j, root.At(i, j)*math.Sqrt(v))
		}
	}
	return &root, nil
}

// same is how close to 1 the correlation of two contrasts is that are taken for
// one.
const same = 1e-12

// canonical leaves one of each set of equal rows, or, where their signs do not
// matter, of rows that are equal but for those, and puts them in an order that does
// not hang on the one they came in: else the lattices would give p-values that
// differ in the fifth digit when contrasts are listed otherwise.
func canonical(rows [][]float64, signed bool) [][]float64 {
	var distinct [][]float64
	for _, row := range rows {
		first := slices.IndexFunc(row, func(v float64) bool { return key(v) != 0 })
		if !signed && row[first] < 0 {
			for j := range row {
				row[j] = -row[j]
			}
		}
		if !slices.ContainsFunc(distinct, func(other []float64) bool {
			rho := product(row, other)
			return rho > 1-same || !signed && rho < same-1
		}) {
			distinct = append(distinct, row)
		}
	}
	slices.SortFunc(distinct, func(a, b []float64) int {
		return slices.CompareFunc(a, b, func(x, y float64) int { return cmp.Compare(key(x), key(y)) })
	})
	return distinct
}

// key is a coordinate without its rounding.
func key(v float64) float64 { return math.Round(v*1e8) + 0 }

// coordinates gives the rows in an orthonormal basis of what they span, r numbers
// each, by the Gram–Schmidt procedure done twice over (Björck, Numerical Methods
// for Least Squares Problems, 1996, 2.4). What is left of a row when those
// before it are taken off counts from a millionth up, as for canonical.
func coordinates(rows [][]float64) [][]float64 {
	var basis [][]float64
	for _, row := range rows {
		rest := slices.Clone(row)
		for range 2 {
			for _, b := range basis {
				p := product(rest, b)
				for j := range rest {
					rest[j] -= p * b[j]
				}
			}
		}
		if length := math.Sqrt(product(rest, rest)); length > 1e-6 {
			for j := range rest {
				rest[j] /= length
			}
			basis = append(basis, rest)
		}
	}
	l := make([][]float64, len(rows))
	for i, row := range rows {
		l[i] = make([]float64, len(basis))
		for j, b := range basis {
			l[i][j] = product(row, b)
		}
		length := math.Sqrt(product(l[i], l[i]))
		for j := range l[i] {
			l[i][j] /= length
		}
	}
	return l
}

func product(a, b []float64) (sum float64) {
	for j, v := range a {
		sum += v * b[j]
	}
	return sum
}
