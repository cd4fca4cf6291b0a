package tobit

import "math"

// tail is where Φ gives way to its asymptotic series: there seven terms of it
// are good to rounding, and exp(−u²/2) is still far from nothing.
const tail = -30

// logPhi is ln Φ(u).
func logPhi(u float64) float64 {
	switch {
	case u > 5:
		return math.Log1p(-math.Erfc(u/math.Sqrt2) / 2)
	case u > tail:
		return math.Log(math.Erfc(-u/math.Sqrt2) / 2)
	}
	return -u*u/2 - math.Log(-u) - 0.5*math.Log(2*math.Pi) + math.Log1p(-rest(u))
}

// mills gives λ = φ(u)/Φ(u), the derivative of ln Φ, and λ(u + λ), the negative
// of its second one, which lies between 0 and 1.
func mills(u float64) (lambda, weight float64) {
	if u > tail {
		lambda = math.Exp(-u*u/2) / math.Sqrt(2*math.Pi) / (math.Erfc(-u/math.Sqrt2) / 2)
		return lambda, lambda * max(0, u+lambda)
	}
	r := rest(u)
	lambda = -u / (1 - r)
	return lambda, lambda * (-u * r / (1 - r)) // u + λ without cancellation
}

// rest is what is missing of −u·Φ(u)/φ(u) to 1 far down, 1/u² − 3/u⁴ + 15/u⁶ − …
// (DLMF 7.12.1).
func rest(u float64) float64 {
	v := 1 / (u * u)
	sum, term := 0.0, 1.0
	for k := 1; k <= 7; k++ {
		term *= -float64(2*k-1) * v
		sum -= term
	}
	return sum
}
