package linear

import (
	"errors"
	"fmt"
)

// Orthonormal gives an orthonormal basis of the space that the columns span, as
// many vectors as columns and as long, by the same Householder reflections as
// LeastSquares. The projection of y on it is the fit of y by the columns, and
// the sum over the basis of the squares at one observation is that observation's
// leverage. Columns that are combinations of earlier ones are a *RankError.
func Orthonormal(columns []Column) ([][]float64, error) {
	p := len(columns)
	if p == 0 {
		return nil, errors.New("no columns")
	}
	n := len(columns[0].Values)
	if n < p {
		return nil, fmt.Errorf("%d observations for %d coefficients", n, p)
	}
	t := triangle{n: n, p: p, x: make([]float64, n*p), diagonal: make([]float64, p)}
	if err := t.load(columns, make([]float64, p)); err != nil {
		return nil, err
	}
	if err := t.reduce(columns, make([]float64, n)); err != nil {
		return nil, err
	}
	basis := make([][]float64, p)
	room := make([]float64, n*p)
	for k := range basis {
		q := room[k*n : (k+1)*n]
		q[k] = 1
		// The reflections after the k-th leave the k-th unit vector as it is.
		for j := k; j >= 0; j-- {
			v := t.x[j*n+j : (j+1)*n]
			reflect(v, -1/(t.diagonal[j]*v[0]), q[j:])
		}
		basis[k] = q
	}
	return basis, nil
}
