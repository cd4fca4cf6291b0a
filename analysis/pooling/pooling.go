// Package pooling tests whether batches may share a line: the poolability
// tests of ICH Q1E (2003), appendix B.
package pooling

import (
	"errors"
	"fmt"
	"math"

	"shelfspan/analysis/linear"
)

// Batch is one batch's results on the scale on which they make a line: its
// times and as many responses.
type Batch struct{ X, Y []float64 }

// Decision is what batches share.
type Decision string

// The decisions.
const (
	Pooled      Decision = "pooled"       // one intercept and one slope
	CommonSlope Decision = "common-slope" // own intercepts, one slope
	Separate    Decision = "separate"     // own intercepts and own slopes
)

// Result is the outcome of the tests and the lines of the model decided on.
type Result struct {
	Decision                 Decision
	SlopesF, SlopesP         float64 // NaN where not tested, as with one batch
	InterceptsF, InterceptsP float64 // NaN where not tested, as where the slopes differ
	DF1, DF2                 int     // of both tests; DF2 is the separate model's
	Lines                    []linear.Line
	S                        float64 // residual standard deviation of the model decided on, on DF degrees of freedom
	DF                       int
}

// Fit fits the batches and decides at the significance level alpha, 0.25 in
// ICH Q1E. Every batch needs two distinct times, all together one value more
// than two a batch; anything less is an error.
//
// Three models are fitted by least squares: separate (own intercepts and
// slopes, N − 2b degrees of freedom), common slope (N − b − 1) and pooled
// (N − 2). Slopes are tested first, then, where they do not differ,
// intercepts, each by the extra sum of squares over b − 1 degrees of freedom
// against the mean square of the separate model. A p-value below alpha says
// that they differ. The lines carry the residual standard deviation and the
// degrees of freedom of the model decided on; of separate lines that is the
// one pooled over all batches.
//
// One batch is separate, and nothing is tested.
func Fit(batches []Batch, alpha float64) (Result, error) {
	b, n := len(batches), 0
	for _, batch := range batches {
		n += len(batch.X)
	}
	if b == 0 || n <= 2*b {
		return Result{}, errors.New("no more values than the lines have coefficients")
	}
	nan := math.NaN()
	r := Result{
		Decision: Separate, SlopesF: nan, SlopesP: nan, InterceptsF: nan, InterceptsP: nan,
		Lines: make([]linear.Line, b), DF: n - 2*b,
	}
	separate := 0.0
	for i, batch := range batches {
		line, rss, err := linear.Straight(batch.X, batch.Y)
		if err != nil {
			return Result{}, fmt.Errorf("batch %d: %w", i+1, err)
		}
		r.Lines[i] = line
		separate += rss
	}
	rss := separate
	if b > 1 {
		r.DF1, r.DF2 = b-1, n-2*b
		common, err := commonSlope(batches, n)
		if err != nil {
			return Result{}, err
		}
		r.SlopesF, r.SlopesP = linear.ExtraSumOfSquares(common.rss-separate, r.DF1, separate, r.DF2)
		if r.SlopesP >= alpha {
			line, pooled, err := linear.Straight(together(batches, n))
			if err != nil {
				return Result{}, err
			}
			r.InterceptsF, r.InterceptsP = linear.ExtraSumOfSquares(pooled-common.rss, r.DF1, separate, r.DF2)
			if r.InterceptsP >= alpha {
				r.Decision, r.DF, rss = Pooled, n-2, pooled
				for i := range r.Lines {
					r.Lines[i] = line
				}
			} else {
				r.Decision, r.DF, rss = CommonSlope, n-b-1, common.rss
				r.Lines = common.lines
			}
		}
	}
	r.S = math.Sqrt(rss / float64(r.DF))
	for i := range r.Lines {
		r.Lines[i].S, r.Lines[i].DF = r.S, r.DF
	}
	return r, nil
}

type parallel struct {
	lines []linear.Line
	rss   float64
}

// commonSlope fits an intercept a batch and one slope. Times are counted from
// each batch's own mean, so that the slope is orthogonal to the intercepts and
// every line comes out in centred form.
func commonSlope(batches []Batch, n int) (parallel, error) {
	b := len(batches)
	work := make([]float64, n*(b+2))
	columns := make([]linear.Column, b+1)
	for j := range columns {
		columns[j] = linear.Column{Name: "a batch", Values: work[j*n : (j+1)*n]}
	}
	columns[b].Name = "time"
	y := work[(b+1)*n : (b+1)*n]
	lines := make([]linear.Line, b)
	for i, batch := range batches {
		for _, x := range batch.X {
			lines[i].Centre += x / float64(len(batch.X))
		}
		for j, x := range batch.X {
			columns[i].Values[len(y)] = 1
			columns[b].Values[len(y)] = x - lines[i].Centre
			y = append(y, batch.Y[j])
		}
	}
	fit, err := linear.LeastSquares(columns, y)
	if err != nil {
		return parallel{}, err
	}
	p := b + 1
	for i := range lines {
		lines[i].Level, lines[i].Slope = fit.Coefficients[i], fit.Coefficients[b]
		lines[i].LevelVar, lines[i].SlopeVar = fit.Covariance[i*p+i], fit.Covariance[b*p+b]
		lines[i].Cov = fit.Covariance[i*p+b]
	}
	return parallel{lines, fit.RSS}, nil
}

func together(batches []Batch, n int) (x, y []float64) {
	work := make([]float64, 0, 2*n)
	for _, b := range batches {
		work = append(work, b.X...)
	}
	for _, b := range batches {
		work = append(work, b.Y...)
	}
	return work[:n], work[n:]
}
