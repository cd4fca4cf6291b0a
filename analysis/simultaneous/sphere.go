package simultaneous

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"
)

// sphere is the distribution of m(U), U uniform on the unit sphere in r dimensions,
// as nodes and weights for means over it. The greatest statistic is m(U)·|Z|/S;
// m is below zero only for max Tᵢ.
type sphere struct {
	m, weights []float64
	rank       int
	df         float64
}

func (s sphere) beyond(q float64) float64 {
	sum := 0.0
	for i, m := range s.m {
		sum += s.weights[i] * exceeds(m, q, s.rank, s.df)
	}
	return sum
}

// exceeds is P(m·|Z|/S > q).
func exceeds(m, q float64, rank int, df float64) float64 {
	switch {
	case q >= 0 && m <= 0:
		return 0
	case q >= 0:
		return beyondRadius(q/m, rank, df)
	case m >= 0:
		return 1
	default:
		return 1 - beyondRadius(q/m, rank, df)
	}
}

// line is the distribution over the two directions of one dimension.
func line(l [][]float64, df float64, upper bool) sphere {
	s := sphere{m: []float64{1}, weights: []float64{1}, rank: 1, df: df}
	if upper && len(l) == 1 {
		s.m, s.weights = []float64{1, -1}, []float64{0.5, 0.5}
	}
	return s
}

// circle is the distribution over the directions of two dimensions. From the angle
// of a contrast to half way to the next one m is the cosine of the angle from it,
// and so in every half of every gap. Where signs do not matter an angle is one
// modulo π.
func circle(l [][]float64, df float64, upper bool) sphere {
	turn := math.Pi
	if upper {
		turn = 2 * math.Pi
	}
	angles := make([]float64, len(l))
	for i, row := range l {
		angles[i] = math.Mod(math.Atan2(row[1], row[0])+2*math.Pi, turn)
	}
	slices.Sort(angles)
	s := sphere{rank: 2, df: df}
	var x, w [32]float64
	piece := func(from, to float64) {
		quad.Legendre{}.FixedLocations(x[:], w[:], from, to)
		for i := range x {
			s.m, s.weights = append(s.m, math.Cos(x[i])), append(s.weights, 2*w[i]/turn)
		}
	}
	for i, a := range angles {
		next := angles[0] + turn
		if i+1 < len(angles) {
			next = angles[i+1]
		}
		half := (next - a) / 2
		piece(0, min(half, math.Pi/2))
		if half > math.Pi/2 {
			piece(math.Pi/2, half) // m is below zero
		}
	}
	return s
}
