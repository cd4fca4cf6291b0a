// Package simultaneous reckons with the greatest of several t statistics, which
// intervals and p-values rest on that are to hold for all of several comparisons
// at once: of treatments with a control (Dunnett), of all pairs (Tukey), or of any
// contrasts of estimated coefficients.
package simultaneous

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"

	"shelfspan/analysis/crossing"
)

// Distribution is that of max|Tᵢ|, or of max Tᵢ where it was made by NewUpper,
// over contrasts i,
//
//	Tᵢ = cᵢ'(β̂ − β)/(σ̂·√(cᵢ'Vcᵢ)),
//
// β̂ normal with covariance σ²V, σ̂²/σ² an independent χ²/ν on ν degrees of
// freedom. It does not change once made, and may be asked from several goroutines.
//
// With L a square root of the correlation matrix of the contrasts, of rank r and
// with rows lᵢ, Tᵢ = lᵢ'Z/S, Z standard normal in r dimensions and S = σ̂/σ. The
// length of Z is independent of its direction U, which is uniform on the unit
// sphere, and |Z|²/r over S² follows F(r, ν). So, with m(U) = max|lᵢ'U|,
//
//	P(max|Tᵢ| ≤ q) = E F_{r,ν}(q²/(r·m(U)²)),
//
// a mean of something smooth and bounded over the sphere alone; singular
// correlation matrices, which Tukey's are, are nothing special (radial
// integration: Deák, Numerische Mathematik 35, 1980, 369–380; Somerville, Journal
// of Computational and Graphical Statistics 7, 1998, 529–544; both from memory).
// The mean is taken
//
//   - for r = 1 as it stands, and for r = 2 piece by piece of the circle, by
//     Gauss's rule;
//   - where the correlations are those of one factor, ρᵢⱼ = λᵢλⱼ, as in
//     comparisons with a control by independent means, by another way, given at
//     factor;
//   - in all other cases over shifted lattices of more and more directions, until
//     the shifts differ by so little that Error is no more than Wanted, or the
//     lattices give out.
//
// The first two ways are good to about 1e-7 in p, and Error is then 0.
type Distribution struct {
	// SE holds √(cᵢ'Vcᵢ) of each contrast: times σ̂ where V is unscaled, its
	// standard error.
	SE []float64

	// Error says how far a p up to 0.2 may be off, at 99 % confidence, by how much the
	// shifted lattices differ; above 0.2 it may be off by up to about three times
	// that. 0 where no lattice was needed. The same contrasts with the same seed give
	// the same numbers to the last digit, on however many cores.
	Error float64

	Rank       int // r, of the correlation matrix
	Directions int // how many the lattices took; 0 where none was needed

	tail     tail
	df       float64 // +Inf for the normal limit
	distinct float64 // contrasts that are not multiples of another
	upper    bool
}

// Wanted is the Error that more directions are taken to reach: four digits of p.
const Wanted = 5e-5

// tail tells how probable it is that the greatest statistic exceeds q.
type tail interface{ beyond(q float64) float64 }

// ErrConfidence is that of a confidence that is not between 0 and 1.
var ErrConfidence = errors.New("a confidence lies between 0 and 1")

// New prepares the distribution of max|Tᵢ|. Each contrast holds one number a
// coefficient; covariance is that of the coefficients, up to a factor, of which
// only the correlations it gives the contrasts matter; df is ν, 1 or more, +Inf
// for a known σ. The seed makes the shifts of the lattices.
//
// The order of the contrasts, their scale and sign, and contrasts that are
// multiples or combinations of others change nothing but rounding. One without a
// variance is a VarianceError: it has no t.
func New(contrasts [][]float64, covariance *mat.SymDense, df float64, seed uint64) (*Distribution, error) {
	return prepare(contrasts, covariance, df, seed, false)
}

// NewUpper prepares the distribution of max Tᵢ, for one-sided bounds and tests:
// lower bounds of all contrasts, or whether any is above zero. It is as New, but
// that the sign of a contrast matters. For the other side, negate.
func NewUpper(contrasts [][]float64, covariance *mat.SymDense, df float64, seed uint64) (*Distribution, error) {
	return prepare(contrasts, covariance, df, seed, true)
}

func prepare(contrasts [][]float64, covariance *mat.SymDense, df float64, seed uint64, upper bool) (*Distribution, error) {
	if !(df >= 1) {
		return nil, fmt.Errorf("%g degrees of freedom: there has to be at least one", df)
	}
	if df > 1e8 {
		df = math.Inf(1) // the same to eight digits, which the incomplete beta function loses up there
	}
	rows, se, err := standardise(contrasts, covariance)
	if err != nil {
		return nil, err
	}
	rows = canonical(rows, upper)
	l := coordinates(rows)
	d := &Distribution{SE: se, Rank: len(l[0]), df: df, distinct: float64(len(l)), upper: upper}
	switch {
	case d.Rank == 1:
		d.tail = line(l, df, upper)
	case d.Rank == 2:
		d.tail = circle(l, df, upper)
	default:
		if f, ok := oneFactor(l, df, upper); ok {
			d.tail = f
			break
		}
		var s sphere
		s, d.Directions, d.Error = d.overLattices(l, seed)
		d.tail = s
	}
	return d, nil
}

// Critical is q with P(max|Tᵢ| ≤ q) = confidence, or P(max Tᵢ ≤ q): with that
// confidence all cᵢ'β together lie within cᵢ'β̂ ± q·SEᵢ·σ̂, or none below cᵢ'β̂ −
// q·SEᵢ·σ̂. It is never less than Student's quantile for one contrast, nor more
// than Bonferroni's.
func (d *Distribution) Critical(confidence float64) (float64, error) {
	if !(confidence > 0 && confidence < 1) {
		return 0, ErrConfidence
	}
	alpha := 1 - confidence
	low, high := d.quantileOfOne(alpha), d.quantileOfOne(alpha/d.distinct)
	if !(high > low) {
		return low, nil
	}
	q := low + crossing.First(func(x float64) float64 { return d.beyond(low+x) - alpha }, (high-low)/3, 2)
	return min(q, high), nil
}

// P gives the adjusted p-values of the observed statistics, in any number and
// order: the probability that the greatest is as great, if all cᵢ'β are zero
// (single-step). One at or below alpha rejects its contrast, and the probability
// to reject any that is zero is alpha. A t that is no number is an error; an
// infinite one, as of an estimate without any residual, has p = 0, or 1 where
// it is one-sided on the wrong side.
func (d *Distribution) P(t []float64) ([]float64, error) {
	p := make([]float64, len(t))
	for i, v := range t {
		if math.IsNaN(v) {
			return nil, fmt.Errorf("t of contrast %d is no number", i+1)
		}
		if !d.upper {
			v = math.Abs(v)
		}
		p[i] = d.beyond(v)
	}
	return p, nil
}

// beyond is P(max > q), held between the probability of one contrast and the sum of
// those of all, which a rule in the far tail might overstep.
func (d *Distribution) beyond(q float64) float64 {
	one := d.beyondOfOne(q)
	if d.distinct == 1 || one == 0 || one == 1 {
		return one
	}
	return min(max(d.tail.beyond(q), one), d.distinct*one, 1)
}

// beyondOfOne is Student's P(|T| > q), q ≥ 0, or P(T > q).
func (d *Distribution) beyondOfOne(q float64) float64 {
	p := beyondRadius(math.Abs(q), 1, d.df)
	switch {
	case !d.upper:
		return p
	case q < 0:
		return 1 - p/2
	}
	return p / 2
}

// quantileOfOne undoes beyondOfOne.
func (d *Distribution) quantileOfOne(p float64) float64 {
	if !d.upper {
		p /= 2
	}
	if math.IsInf(d.df, 1) {
		return -distuv.UnitNormal.Quantile(p)
	}
	return -distuv.StudentsT{Mu: 0, Sigma: 1, Nu: d.df}.Quantile(p)
}

// beyondRadius is P(|Z|/S > x) in so many dimensions, x ≥ 0: the upper tail of
// F(r, ν) at x²/r, of χ²/r for ν = +Inf. The arguments are in the order that keeps
// its digits.
func beyondRadius(x float64, dimensions int, df float64) float64 {
	switch r := float64(dimensions); {
	case x == 0:
		return 1
	case math.IsInf(x*x, 1):
		return 0
	case math.IsInf(df, 1):
		return mathext.GammaIncRegComp(r/2, x*x/2)
	default:
		return mathext.RegIncBeta(df/2, r/2, df/(df+x*x))
	}
}
