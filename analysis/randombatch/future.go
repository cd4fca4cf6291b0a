package randombatch

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"shelfspan/analysis/noncentral"
)

// future is what the batches' own lines say of one linear function of the line
// of a batch not yet made, its value at a time say: the generalized distribution of
// θ = μ − z·√d, with μ the mean of that function over batches, d its variance
// between them and z the normal quantile of the coverage.
//
// A batch's own least squares line gives an estimate yᵢ of its value with the
// variance d + σ²·hᵢ, and RSS, the sum of squares within batches on f degrees of
// freedom, speaks of σ². With ρ = d/σ², weights wᵢ = 1/(ρ + hᵢ), ȳ(ρ) the
// weighted mean, W(ρ) = Σwᵢ and q(ρ) = Σwᵢ(yᵢ − ȳ)², three pivots have known
// distributions and are independent,
//
//	U = q(ρ)/σ² ~ χ² on m − 1,  V = RSS/σ² ~ χ² on f,  Z = (ȳ(ρ) − μ)·√(W(ρ))/σ ~ N(0, 1).
//
// Solved for the parameters, with the data held and (U, V, Z) drawn, they give θ
// its generalized distribution (Weerahandi, J. Am. Stat. Assoc. 88, 1993, 899);
// where U exceeds what ρ = 0 leaves, ρ is 0. For unequal batches this is the
// solution of Iyer, Wang & Mathew, J. Am. Stat. Assoc. 99, 2004, 1060 (from
// memory). Without error within batches it is the noncentral t of Chow & Shao,
// Biometrics 47, 1991, 1071 (from memory), on m − 1 degrees of freedom with δ =
// z·√m.
//
// Nothing is drawn here. The ratio g = U/V = q(ρ)/RSS fixes ρ, and its density is
// g^{(m−3)/2}·(1 + g)^{−n/2}/B((m−1)/2, f/2), n = m − 1 + f; given it U + V is χ² on
// n, independent of it, and σ² = RSS·(1 + g)/(U + V), so that
//
//	P(θ ≤ y | g) = P(T ≤ (y − ȳ)·√(n·W/(RSS·(1 + g)))),  T noncentral t on n with δ = −z·√(ρ·W),
//
// which is integrated over ρ, and over g beyond q(0)/RSS for ρ = 0.
type future struct {
	*design
	z         float64
	estimates []float64 // yᵢ
	errors    []float64 // hᵢ
	step      float64   // of the integrals
	s, weight []float64 // nodes of √(χ²/n)
	logBeta   float64
}

// Probabilities are wanted to about 1e-9, not to the last digit: steps may be
// coarser, and less than this is not added.
const (
	coarser    = 1.6
	negligible = 1e-10
)

// newFuture makes room for a coverage whose normal quantile is z ≥ 0. At least two
// batches have lines of their own, and there is some error within batches.
func (d *design) newFuture(z float64) *future {
	between, within := float64(d.lines-1), float64(d.freedom)
	// As steep as the noncentral t at its own upper quantile and the density of g
	// make it.
	steep := z*math.Sqrt(float64(d.lines)) + 3
	f := &future{design: d, z: z, step: coarser * noncentral.FineStep(between+steep*steep/2)}
	f.s, f.weight = noncentral.ScaledChi(between+within, coarser*noncentral.FineStep(between+within+steep*steep/2))
	for first := 0; ; first++ { // the lower tail is long where there are few degrees of freedom
		if f.weight[first] > negligible/10 {
			f.s, f.weight = f.s[first:], f.weight[first:]
			break
		}
	}
	f.estimates, f.errors = make([]float64, 0, d.lines), make([]float64, 0, d.lines)
	f.logBeta = mathext.Lbeta(between/2, within/2)
	return f
}

// below is the probability of the generalized distribution up to y, for the
// function l of a line.
func (f *future) below(l vector, y float64) float64 {
	if l == (vector{}) {
		if y >= 0 {
			return 1
		}
		return 0
	}
	f.estimates, f.errors = f.estimates[:0], f.errors[:0]
	for i := range f.batches {
		if b := &f.batches[i]; b.r22 > 0 {
			line, covariance := b.own()
			f.estimates = append(f.estimates, line.dot(l))
			f.errors = append(f.errors, covariance.form(l))
		}
	}
	return f.varying(y) + f.alike(y)
}

// weighted is ȳ, W, q and dq/dρ at ρ. The weights make q least of all means, so
// that ȳ need not be followed in its derivative.
func (f *future) weighted(rho float64) (mean, weight, square, slope float64) {
	for i, h := range f.errors {
		w := 1 / (rho + h)
		weight += w
		mean += w * f.estimates[i]
	}
	mean /= weight
	for i, h := range f.errors {
		e := (f.estimates[i] - mean) / (rho + h)
		square += e * (f.estimates[i] - mean)
		slope -= e * e
	}
	return mean, weight, square, slope
}

// density of g.
func (f *future) density(g float64) float64 {
	between, within := float64(f.lines-1), float64(f.freedom)
	return math.Exp((between/2-1)*math.Log(g) - (between+within)/2*math.Log1p(g) - f.logBeta)
}

// given is P(θ ≤ y | g).
func (f *future) given(y, g, mean, weight, delta float64) float64 {
	n := float64(f.lines - 1 + f.freedom)
	t := (y - mean) * math.Sqrt(n*weight/(f.rss*(1+g)))
	if delta == 0 {
		return studentSurvival(-t, n)
	}
	sum := 0.0
	for i, s := range f.s {
		sum += f.weight[i] * math.Erfc(-(t*s+delta)/math.Sqrt2)
	}
	return sum / 2
}

// varying is the part of below where ρ > 0, an integral over r = √ρ by the
// trapezoidal rule in v with r = r₀·exp(v − e^{−v}), which has no end to be
// singular at (Takahasi & Mori, Publ. RIMS 9, 1974, 721).
func (f *future) varying(y float64) float64 {
	between := float64(f.lines - 1)
	mean, own, square := 0.0, 0.0, 0.0
	for i, e := range f.estimates {
		mean += e / float64(f.lines)
		own += f.errors[i] / float64(f.lines)
	}
	for _, e := range f.estimates {
		square += (e - mean) * (e - mean)
	}
	origin := math.Sqrt(max(own, square/between*float64(f.freedom)/f.rss)) / math.E
	sum := 0.0
	// Far out the density falls as r^{−(m−1)} in ln r; at zero it is finite in r.
	for v := -2.7; v < 24/between+2; v += f.step {
		w := math.Exp(-v)
		r := origin * math.Exp(v-w)
		mean, weight, square, slope := f.weighted(r * r)
		g := square / f.rss
		p := f.density(g) * -slope / f.rss * 2 * r * r * (1 + w) * f.step
		if p > negligible*f.step {
			sum += p * f.given(y, g, mean, weight, f.z*r*math.Sqrt(weight))
		}
	}
	return sum
}

// alike is the part where ρ = 0.
func (f *future) alike(y float64) float64 {
	mean, weight, square, _ := f.weighted(0)
	least := square / f.rss
	between, within := float64(f.lines-1), float64(f.freedom)
	if mathext.RegIncBeta(within/2, between/2, 1/(1+least)) < negligible {
		return 0
	}
	sum := 0.0
	for v := -3.6; v < 48/within+3; v += f.step {
		w := math.Exp(-v)
		x := between / within * math.Exp(v-w)
		p := f.density(least+x) * x * (1 + w) * f.step
		if p > negligible*f.step {
			sum += p * f.given(y, least+x, mean, weight, 0)
		}
	}
	return sum
}
