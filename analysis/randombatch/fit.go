package randombatch

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/mathext"

	"shelfspan/analysis/linear"
	"shelfspan/analysis/pooling"
)

// Fit is the model of random batches: result j of batch i, at time t, is
//
//	y = (α + aᵢ) + (β + bᵢ)·t + e,  (aᵢ, bᵢ) ~ N(0, D),  e ~ N(0, σ²),
//
// all independent but for aᵢ and bᵢ, D any covariance.
type Fit struct {
	Batches, N int

	Intercept, Slope     float64 // of the mean of all batches, α at time 0 and β
	InterceptSE, SlopeSE float64
	InterceptDF, SlopeDF float64 // of their errors, by Satterthwaite; not whole numbers

	InterceptSD, SlopeSD float64 // between batches: the roots of D's diagonal
	Correlation          float64 // of aᵢ and bᵢ; ±1 where Rank is 1; NaN where one of them does not vary
	ResidualSD           float64 // σ; 0 where the results lie on their batches' lines but for rounding

	// Rank is that of D. Below 2 the fit is singular: the likelihood is greatest
	// at the boundary of what is a covariance. 0 is no variation between batches,
	// and the mean that of pooled batches; at 1 intercept and slope vary together.
	Rank int

	LogLikelihood float64 // restricted, of y and t as given; +Inf where ResidualSD is 0

	// Drop is what a Newton step from the answer still promises of −2·log
	// likelihood; a converged fit has next to none, and a least point of it there.
	Drop        float64
	Evaluations int // of the likelihood

	mean  linear.Line // with the covariance of level and slope as that of S = 1
	paths linear.Line // the same mean with the covariance of a batch's level and slope
	df    satterthwaite
}

// ErrNotConverged says that the search found no least point.
var ErrNotConverged = errors.New("the restricted likelihood has no maximum that the search could find")

// REML fits the model by restricted maximum likelihood (Patterson & Thompson,
// Biometrika 58, 1971, 545), profiled over the fixed effects and the residual
// variance (see state), with the covariance of the random effects as the product
// of a triangle with its transpose, over all ranks of it (see search). Each batch
// is brought down to a triangle first, so that an evaluation costs as many steps
// as there are batches, not results. A batch without results is passed over.
//
// An error says what is wrong with the batches, which need three distinct times
// among them and two batches with two times each, and more results than lines
// take up; it is ErrNotConverged, beside the best point found, where no maximum
// was.
//
// Where results lie on their batches' lines without residual, the lines
// themselves are the sample: D is their covariance, and everything rests on one
// degree of freedom less than there are lines.
func REML(batches []pooling.Batch) (*Fit, error) {
	if faults := pooling.Suitable(batches, nil); faults != nil {
		return nil, errors.New(faults[0])
	}
	d, short := suitable(batches)
	if short != "" {
		return nil, errors.New(short)
	}
	return d.fit()
}

// suitable brings batches that have results down, or says what they lack.
func suitable(batches []pooling.Batch) (d *design, short string) {
	var used []pooling.Batch
	var times pooling.Batch
	for _, b := range batches {
		if len(b.X) > 0 {
			used = append(used, b)
			times.X = append(times.X, b.X...)
		}
	}
	if distinct := pooling.DistinctTimes(times); distinct < 3 {
		return nil, fmt.Sprintf("Lines of batches are fitted to results at three or more times; there are %d.", distinct)
	}
	d = newDesign(used)
	switch {
	case !(d.scale > 0) || d.lines < 2:
		return nil, "How batches vary shows in two or more of them with results at two or more times each; there are not so many."
	case d.freedom < 1:
		return nil, "There are no more results than the batches' own lines take up: their error cannot be told from variation between batches."
	}
	return d, ""
}

func (d *design) fit() (*Fit, error) {
	f := &Fit{Batches: len(d.batches), N: d.n}
	if d.rss == 0 {
		d.exact(f)
		return f, nil
	}
	l := newLikelihood(d)
	o := l.search()
	f.Rank, f.Drop, f.Evaluations = o.rank, o.drop, o.evaluated
	f.ResidualSD = d.size * math.Sqrt(o.variance)
	// From the design's coordinates, a column of unit and one of unit·(t −
	// centre)/scale and y in sizes, to one of ones and one of t, and y itself.
	free := float64(d.n - 2)
	f.LogLikelihood = -(o.deviance + free*(math.Log(2*math.Pi)+2*math.Log(d.size)) - 2*math.Log(d.unit*d.unit/d.scale)) / 2

	o.state = l.at(o.factor) // the search ended elsewhere
	h := l.curvature(o.state, o.rank)
	beta := l.natural(vector{o.beta.a * d.size, o.beta.b * d.size})
	variance := f.ResidualSD * f.ResidualSD
	f.mean = d.line(beta, sym{}.plus(variance, l.naturalCovariance(o.inverse)))
	f.paths = d.line(beta, sym{}.plus(variance, l.naturalCovariance(o.covariance())))
	var ok bool
	if f.df, ok = h.satterthwaite(l, sym{}.plus(o.variance, o.inverse)); !ok || !(o.drop <= converged) {
		return f, ErrNotConverged
	}
	f.tell()
	return f, nil
}

// exact takes the lines of the batches for a sample without error.
func (d *design) exact(f *Fit) {
	mean, covariance := d.sample()
	k := float64(d.lines)
	beta := vector{mean.a * d.size, mean.b * d.size}
	covariance = sym{}.plus(d.size*d.size, covariance)
	f.mean = d.line(beta, sym{}.plus(1/k, covariance))
	f.paths = d.line(beta, covariance)
	f.df = satterthwaite{constant: k - 1}
	f.LogLikelihood = math.Inf(1)
	small, large, _ := covariance.eigen()
	switch {
	case large == 0:
	case small <= 1e-12*large:
		f.Rank = 1
	default:
		f.Rank = 2
	}
	f.tell()
}

// sample is the mean of the batches' own lines, unweighted, and their covariance,
// zero where it is no more than rounding.
func (d *design) sample() (mean vector, covariance sym) {
	k := float64(d.lines)
	for pass := range 2 {
		for i := range d.batches {
			b := &d.batches[i]
			if b.r22 == 0 {
				continue
			}
			line, _ := b.own()
			if pass == 0 {
				mean = mean.add(vector{line.a / k, line.b / k})
			} else {
				covariance = covariance.plus(1/(k-1), outer(vector{line.a - mean.a, line.b - mean.b}))
			}
		}
	}
	if rounding := float64(d.n) * d.rounding; covariance.a+covariance.c <= rounding*rounding {
		covariance = sym{}
	}
	return mean, covariance
}

// line gives coefficients and their covariance, in the unit of y, as a line of S =
// 1 about the mean time.
func (d *design) line(beta vector, covariance sym) linear.Line {
	level, slope := d.unit, d.unit/d.scale
	return linear.Line{
		Centre: d.centre, Level: d.origin + level*beta.a, Slope: slope * beta.b,
		LevelVar: level * level * covariance.a, Cov: level * slope * covariance.b, SlopeVar: slope * slope * covariance.c,
		S: 1,
	}
}

// tell fills in what follows from the lines.
func (f *Fit) tell() {
	f.Intercept, f.InterceptSE, f.InterceptDF = f.Mean(0)
	f.Slope, f.SlopeSE, f.SlopeDF = f.mean.Slope, f.mean.SlopeSE(), f.df.at(vector{0, 1})
	f.InterceptSD, f.SlopeSD = f.paths.SE(0), f.paths.SlopeSE()
	f.Correlation = f.covariance() / (f.InterceptSD * f.SlopeSD)
	switch {
	case f.InterceptSD == 0 || f.SlopeSD == 0:
		f.Correlation = math.NaN()
	case f.Rank == 1:
		f.Correlation = math.Copysign(1, f.Correlation)
	}
}

// covariance is that of a batch's intercept at time 0 and its slope.
func (f *Fit) covariance() float64 { return f.paths.Cov - f.paths.Centre*f.paths.SlopeVar }

// Mean is the mean path of batches at a time, with its standard error and the
// degrees of freedom of that error.
func (f *Fit) Mean(t float64) (mean, se, df float64) {
	return f.mean.Mean(t), f.mean.SE(t), f.df.at(vector{1, t - f.mean.Centre})
}

// PathSD is the standard deviation between batches of their paths at a time,
// √(d00 + 2·d01·t + d11·t²).
func (f *Fit) PathSD(t float64) float64 { return f.paths.SE(t) }

// satterthwaite gives the degrees of freedom of the variance v = lᵀ·C·l of a
// linear function of the fixed effects, 2v²/Var(v), by the delta method: with g the
// derivatives of v by the variance parameters and H those of −2·log L of second
// order by them, Var(v) = gᵀ·2H⁻¹·g (Satterthwaite, Biometrics Bulletin 2, 1946,
// 110; Giesbrecht & Burns, Biometrics 41, 1985, 477; as in R's lmerTest). At a
// boundary the parameters are those of the lower rank.
//
// Where v is lost in rounding beside the terms that it is the sum of, as at a time
// at which all lines of batches meet, what is left of it is no number to rest on,
// and the degrees of freedom are one less than there are lines.
type satterthwaite struct {
	constant float64 // the answer where it does not depend on the function; 0 otherwise
	lost     float64 // the answer where v is lost
	k        int     // variance parameters
	variance sym     // C, on level and slope about the mean time
	change   [4]sym  // its derivatives
	inverse  [4][4]float64
}

// satterthwaite is ok where the second derivative is positive definite.
func (h *curvature) satterthwaite(l *likelihood, covariance sym) (s satterthwaite, ok bool) {
	s.k, s.lost = h.k+1, float64(l.lines-1)
	information := mat.NewSymDense(s.k, nil)
	for i := range s.k {
		for j := i; j < s.k; j++ {
			information.SetSym(i, j, h.hessian[i][j])
		}
	}
	var triangle mat.Cholesky
	var inverse mat.SymDense
	if !triangle.Factorize(information) || triangle.InverseTo(&inverse) != nil {
		return s, false
	}
	natural := func(m sym) sym {
		m = l.naturalCovariance(m)
		return sym{m.a, m.b / l.scale, m.c / l.scale / l.scale}
	}
	s.variance = natural(covariance)
	for i := range s.k {
		s.change[i] = natural(h.change[i])
		for j := range s.k {
			s.inverse[i][j] = inverse.At(i, j)
		}
	}
	return s, true
}

// at is for the function l of the level and the slope about the mean time.
func (s *satterthwaite) at(l vector) float64 {
	if s.constant > 0 {
		return s.constant
	}
	v, size := s.variance.form(l), s.variance.a*l.a*l.a+s.variance.c*l.b*l.b
	if !(v > rounded*size) {
		return s.lost
	}
	var g [4]float64
	for i := range s.k {
		g[i] = s.change[i].form(l) / v
	}
	sum := 0.0
	for i := range s.k {
		for j := range s.k {
			sum += g[i] * s.inverse[i][j] * g[j]
		}
	}
	return 1 / sum
}

// rounded is the part of the terms of a variance below which their sum is lost.
const rounded = 1e-11

// studentSurvival is the probability that Student's t on df degrees of freedom,
// not necessarily whole, exceeds t (DLMF 8.17).
func studentSurvival(t, df float64) float64 {
	tail := mathext.RegIncBeta(df/2, 0.5, df/(df+t*t)) / 2
	if t < 0 {
		return 1 - tail
	}
	return tail
}
