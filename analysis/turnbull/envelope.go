package turnbull

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// envelope is a symmetric matrix of which each row is kept from its first element
// that is not zero to the diagonal; its Cholesky factor has the same shape.
type envelope struct {
	first  []int       // column that the row begins with
	row    [][]float64 // of the matrix
	factor [][]float64
}

// newEnvelope makes one of zeros.
func newEnvelope(first []int) *envelope {
	size := 0
	for b, a := range first {
		size += b - a + 1
	}
	m := &envelope{first: first, row: make([][]float64, len(first)), factor: make([][]float64, len(first))}
	all, other := make([]float64, size), make([]float64, size)
	for b, a := range first {
		n := b - a + 1
		m.row[b], m.factor[b] = all[:n:n], other[:n:n]
		all, other = all[n:], other[n:]
	}
	return m
}

// at is the element of row b and column a ≤ b.
func (m *envelope) at(b, a int) *float64 { return &m.row[b][a-m.first[b]] }

// factorize makes the Cholesky factor with every element of the diagonal greater
// by a share of it. It reports whether there is one.
func (m *envelope) factorize(more float64) bool {
	for b, row := range m.row {
		begin := m.first[b]
		l := m.factor[b]
		for a := begin; a <= b; a++ {
			from := max(begin, m.first[a])
			v := row[a-begin]
			if a == b {
				v += more * v
			}
			v -= floats.Dot(l[from-begin:a-begin], m.factor[a][from-m.first[a]:a-m.first[a]])
			switch {
			case a < b:
				l[a-begin] = v / m.factor[a][a-m.first[a]]
			case v > 0:
				l[a-begin] = math.Sqrt(v)
			default:
				return false
			}
		}
	}
	return true
}

// solve puts the solution in the place of the right side.
func (m *envelope) solve(x []float64) {
	for b, l := range m.factor {
		n := len(l) - 1
		x[b] = (x[b] - floats.Dot(l[:n], x[m.first[b]:b])) / l[n]
	}
	for b := len(x) - 1; b >= 0; b-- {
		l := m.factor[b]
		n := len(l) - 1
		x[b] /= l[n]
		floats.AddScaled(x[m.first[b]:b], -x[b], l[:n])
	}
}
