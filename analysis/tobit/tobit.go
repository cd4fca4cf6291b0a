// Package tobit fits straight lines to results some of which are only known to
// lie below or above a value, by maximum likelihood: "< 0.05" is neither 0.05 nor
// nothing. It is a Tobit regression with a normal error of one standard
// deviation (Tobin, Econometrica 26, 1958, 24–36; Lawless, Statistical Models and
// Methods for Lifetime Data, 2nd ed. 2003, chapter 6, from memory).
package tobit

import (
	"errors"
	"fmt"
	"math"

	"shelfspan/analysis/linear"
	"shelfspan/analysis/pooling"
)

// Side says on which side of its stated value a result lies.
type Side int8

// The sides.
const (
	Exact Side = iota
	Below      // left-censored, "< 0.05": the value is the limit it is below
	Above      // right-censored, "> 200"
)

func (s Side) sign() float64 {
	if s == Above {
		return -1
	}
	return 1
}

// Batch is one batch's results: times, values and their sides, all of one length.
type Batch struct {
	X, Y []float64
	Side []Side
}

// Status says how a fit ended.
type Status string

// The ways it can end. Only a converged fit has lines.
const (
	Converged    Status = "converged"
	AllCensored  Status = "all-censored"  // there is no exact value
	TooFewExact  Status = "too-few-exact" // the exact values do not determine the lines and their error: the likelihood may have no maximum
	NoResidual   Status = "no-residual"   // the exact values lie on their lines and the censored ones agree: no error can be told
	NotConverged Status = "not-converged"
)

// Fit is the lines of the batches under one decision on what they share.
type Fit struct {
	Status              Status
	Decision            pooling.Decision
	Exact, Below, Above int // numbers of values

	LogLikelihood float64
	Sigma         float64 // of the error, by maximum likelihood: a little too small
	// Lines has a line for each batch, also where they share one: the mean, and
	// Wald standard errors from the observed information with
	// S = Sigma·√(Exact/DF). Without censored values they are the lines of least
	// squares.
	Lines      []linear.Line
	DF         int // exact values less coefficients
	Iterations int

	problem *problem // in (y − centre)/unit, with times as in pooling.Columns
	peak    *solution
	centre  float64
	unit    float64
	span    float64 // the longest time, 1 where none is after 0
	reach   float64 // the root of the mean square of the centred times
}

// FitLines fits the lines that batches have under a decision. Values and times
// are measurable (pooling.Measurable) and no batch is empty; anything else is an
// error. What the data do not allow is told by the Status.
//
// The likelihood has its maximum, and only one, if the exact values determine
// all coefficients and do not lie on their lines without residual; that is asked
// for first, and one exact value more than coefficients.
func FitLines(batches []Batch, decision pooling.Decision) (*Fit, error) {
	f := &Fit{Decision: decision}
	if len(batches) == 0 {
		return nil, errors.New("there are no batches")
	}
	plain := make([]pooling.Batch, len(batches))
	var side []Side
	for i, b := range batches {
		if err := f.count(b); err != nil {
			return nil, fmt.Errorf("batch %d: %w", i+1, err)
		}
		plain[i] = pooling.Batch{X: b.X, Y: b.Y}
		side = append(side, b.Side...)
	}
	if f.Exact == 0 {
		f.Status = AllCensored
		return f, nil
	}
	columns, y := pooling.Columns(plain, decision)
	f.scale(y)
	f.problem = &problem{columns: columns, y: y, side: side, exact: f.Exact}
	f.climb()
	if f.Status == Converged {
		f.read(batches)
	}
	return f, nil
}

// count checks a batch and counts its values by their sides.
func (f *Fit) count(b Batch) error {
	if len(b.X) == 0 || len(b.X) != len(b.Y) || len(b.X) != len(b.Side) {
		return fmt.Errorf("there are %d times, %d values and %d sides", len(b.X), len(b.Y), len(b.Side))
	}
	for j := range b.X {
		if !pooling.Measurable(b.X[j]) || !pooling.Measurable(b.Y[j]) {
			return errOutOfRange
		}
		switch b.Side[j] {
		case Exact:
			f.Exact++
		case Below:
			f.Below++
		case Above:
			f.Above++
		default:
			return fmt.Errorf("there is no side %d", b.Side[j])
		}
	}
	return nil
}

// scale counts the values from their mean, in units of their spread.
func (f *Fit) scale(y []float64) {
	for _, v := range y {
		f.centre += v / float64(len(y))
	}
	for _, v := range y {
		f.unit += (v - f.centre) * (v - f.centre) / float64(len(y))
	}
	if f.unit = math.Sqrt(f.unit); f.unit <= float64(len(y))*epsilon*math.Abs(f.centre) {
		f.unit = 1
	}
	for i := range y {
		y[i] = (y[i] - f.centre) / f.unit
	}
}

// climb asks whether there is a maximum and looks for it, from the line of
// least squares through the values as if none were censored.
func (f *Fit) climb() {
	p := f.problem
	f.DF = f.Exact - len(p.columns)
	line := p.exactLine()
	if line == nil || f.DF < 1 {
		f.Status = TooFewExact
		return
	}
	rounding := math.Pow(float64(len(p.y))*epsilon*(1+math.Abs(f.centre)/f.unit), 2)
	if line.RSS <= rounding && p.agrees(line.Coefficients, math.Sqrt(rounding)) {
		f.Status = NoResidual
		return
	}
	start, err := linear.LeastSquares(p.columns, p.y)
	if err != nil {
		f.Status = TooFewExact
		return
	}
	theta := math.Sqrt(float64(len(p.y)) / max(start.RSS, 1e-6))
	for j := range start.Coefficients {
		start.Coefficients[j] *= theta
	}
	f.peak = p.solve(start.Coefficients, theta)
	f.Iterations = f.peak.iterations
	f.Status = Converged
	if !f.peak.converged {
		f.Status = NotConverged
	}
}

// exactLine fits the exact values alone; nil where they do not determine the
// coefficients.
func (p *problem) exactLine() *linear.Fit {
	columns := make([]linear.Column, len(p.columns))
	var y []float64
	for i, side := range p.side {
		if side != Exact {
			continue
		}
		for j, c := range p.columns {
			columns[j].Name, columns[j].Values = c.Name, append(columns[j].Values, c.Values[i])
		}
		y = append(y, p.y[i])
	}
	fit, err := linear.LeastSquares(columns, y)
	if err != nil {
		return nil
	}
	return fit
}

// agrees reports whether no censored value contradicts a line without residual.
func (p *problem) agrees(coefficients []float64, rounding float64) bool {
	for i, side := range p.side {
		if side != Exact && side.sign()*p.residual(i, coefficients, 1) < -rounding {
			return false
		}
	}
	return true
}

// read takes the maximum back to the scale of the data.
func (f *Fit) read(batches []Batch) {
	s, k := f.peak, len(f.problem.columns)
	covariance, err := f.problem.covariance(s)
	if err != nil {
		f.Status = NotConverged
		return
	}
	f.Sigma = f.unit / s.theta
	f.LogLikelihood = s.logLikelihood - float64(f.Exact)*math.Log(f.unit)
	f.Lines = make([]linear.Line, len(batches))
	at, square := 0, 0.0
	for i, b := range batches {
		level, slope := places(f.Decision, i)
		times := f.problem.columns[slope].Values[at : at+len(b.X)]
		for j, x := range b.X {
			f.span = max(f.span, x)
			square += times[j] * times[j]
		}
		f.Lines[i] = linear.Line{
			Centre: b.X[0] - times[0],
			Level:  f.centre + f.unit*s.gamma[level]/s.theta, Slope: f.unit * s.gamma[slope] / s.theta,
			LevelVar: covariance[level*k+level], SlopeVar: covariance[slope*k+slope], Cov: covariance[level*k+slope],
			S: f.Sigma * math.Sqrt(float64(f.Exact)/float64(f.DF)), DF: f.DF,
		}
		at += len(b.X)
	}
	f.reach = math.Sqrt(square / float64(at))
	if f.span <= 0 {
		f.span = 1
	}
}

// places are those of a batch's intercept and slope among the columns.
func places(decision pooling.Decision, batch int) (level, slope int) {
	switch decision {
	case pooling.Pooled:
		return 0, 1
	case pooling.CommonSlope:
		return 1 + batch, 0
	}
	return 2 * batch, 2*batch + 1
}

const epsilon = 0x1p-52

var errOutOfRange = errors.New("a number is out of the range of numbers reckoned with")
