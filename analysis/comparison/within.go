package comparison

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"shelfspan/analysis/linear"
)

// additivityLevel is the significance level of the test of what is an arm's alone:
// that of the poolability tests of ICH Q1E, for the same reason.
const additivityLevel = 0.25

// Fit is the additive model of the arms' rates.
type Fit struct {
	Arms []Arm // as in the input
	// Lost lists arms without a rate of their own, as with one time alone; Apart
	// combinations with rates that no chain of batches connects with the reference.
	Lost, Apart []int

	// Coefficients are the γ of the batches and then the δ of the combinations
	// against the reference; NaN where there is none, as of what no chain of batches
	// connects with the reference: δ is then not told from γ. Covariance is theirs,
	// unscaled, zero there.
	Coefficients []float64
	Covariance   *mat.SymDense
	Batches      int // how many of the coefficients are γ

	// Own rates of the arms against the additive model: where P is below 0.25 the
	// differences between combinations vary from batch to batch, and that variation
	// is the error of all that is said; else the residual is, of the additive model.
	AdditivityF, AdditivityP float64 // NaN where not tested
	OwnDF, ResidualDF        int
	Varies                   bool
	Variance                 float64 // of the error used, on DF degrees of freedom
	DF                       int

	ResidualVariance float64 // of the additive model, whatever is used
}

// Compare fits the additive model, with the rates of all combinations set against
// the reference one. Where an arm has a rate of its own beyond it, by F of
//
//	F = (SS(additive) − SS(own rates))/d / (SS(own rates)/ν)
//
// at the level 0.25, the error is the first of these mean squares on d degrees of
// freedom, else the residual mean square of the additive model, on d + ν. A rate
// that differs from batch to batch is not shown by many results of the same
// batches: the first error says how surely a difference will be found in other
// batches too.
func Compare(in Input, reference int) (*Fit, error) {
	r, err := reduce(in)
	if err != nil {
		return nil, err
	}
	nan := math.NaN()
	f := &Fit{Arms: in.Arms, Lost: r.lost, AdditivityF: nan, AdditivityP: nan, ResidualDF: r.df}
	lost := make([]bool, len(in.Arms))
	for _, a := range r.lost {
		lost[a] = true
	}
	combinations, hasReference := 0, false
	for i, a := range in.Arms {
		f.Batches, combinations = max(f.Batches, a.Batch+1), max(combinations, a.Combination+1)
		hasReference = hasReference || a.Combination == reference && !lost[i]
	}
	if !hasReference {
		return nil, errors.New("the reference has no rate in any batch")
	}
	rows := len(r.rhs)
	columns := make([]linear.Column, f.Batches+combinations)
	for j := range columns {
		columns[j] = linear.Column{Name: fmt.Sprint(j), Values: make([]float64, rows)}
	}
	for i, row := range r.row {
		for _, e := range row {
			a := in.Arms[e.arm]
			columns[a.Batch].Values[i] += e.value
			if a.Combination != reference {
				columns[f.Batches+a.Combination].Values[i] += e.value
			}
		}
	}
	drop := aliased(columns)
	var use []linear.Column
	var place []int
	for j, c := range columns {
		if !drop[c.Name] {
			use, place = append(use, c), append(place, j)
		}
	}
	connected := in.connected(f.Batches, combinations, reference, lost)
	for k := range combinations {
		if !connected[f.Batches+k] && in.has(k, lost) {
			f.Apart = append(f.Apart, k)
		}
	}
	fit, err := linear.LeastSquares(use, r.rhs)
	if err != nil {
		return nil, err
	}
	f.Coefficients = make([]float64, len(columns))
	for j := range f.Coefficients {
		f.Coefficients[j] = nan
	}
	f.Coefficients[f.Batches+reference] = 0
	f.Covariance = mat.NewSymDense(len(columns), nil)
	p := len(place)
	for i, a := range place {
		if !connected[a] {
			continue
		}
		f.Coefficients[a] = fit.Coefficients[i]
		for j, b := range place[:i+1] {
			if connected[b] {
				f.Covariance.SetSym(a, b, fit.Covariance[i*p+j])
			}
		}
	}
	f.OwnDF = rows - p
	f.error(fit.RSS, r.rss)
	return f, nil
}

// error decides on what differences are measured by.
func (f *Fit) error(own, residual float64) {
	all := f.OwnDF + f.ResidualDF
	f.DF = all
	f.Variance = math.NaN()
	if all > 0 {
		f.Variance = (own + residual) / float64(all)
	}
	f.ResidualVariance = f.Variance
	if f.OwnDF < 1 || f.ResidualDF < 1 {
		return
	}
	f.AdditivityF, f.AdditivityP = linear.ExtraSumOfSquares(own, f.OwnDF, residual, f.ResidualDF)
	if f.AdditivityP < additivityLevel {
		f.Varies, f.Variance, f.DF = true, own/float64(f.OwnDF), f.OwnDF
	}
}

// connected tells of the batches and then the combinations which a chain of arms with
// rates leads to from the reference.
func (in *Input) connected(batches, combinations, reference int, lost []bool) []bool {
	out := make([]bool, batches+combinations)
	out[batches+reference] = true
	for grown := true; grown; {
		grown = false
		for i, a := range in.Arms {
			if b, c := a.Batch, batches+a.Combination; !lost[i] && out[b] != out[c] {
				out[b], out[c], grown = true, true, true
			}
		}
	}
	return out
}

func (in *Input) has(combination int, lost []bool) bool {
	for i, a := range in.Arms {
		if a.Combination == combination && !lost[i] {
			return true
		}
	}
	return false
}

// Rate is γ of a batch plus δ of a combination; NaN where either is not known.
func (f *Fit) Rate(a Arm) float64 {
	return f.Coefficients[a.Batch] + f.Coefficients[f.Batches+a.Combination]
}

// MeanRate is the rate of a combination in the mean of the batches that have a
// rate.
func (f *Fit) MeanRate(combination int) float64 {
	sum, n := 0.0, 0
	for _, g := range f.Coefficients[:f.Batches] {
		if !math.IsNaN(g) {
			sum += g
			n++
		}
	}
	return sum/float64(n) + f.Coefficients[f.Batches+combination]
}

// Contrast is a sum of δ with weights: of combinations in the order of the map's
// keys it needs none. The rest of a family's contrasts are made of it.
func (f *Fit) Contrast(weights map[int]float64) (contrast []float64, known bool) {
	contrast = make([]float64, len(f.Coefficients))
	known = true
	for k, w := range weights {
		contrast[f.Batches+k] += w
		known = known && !math.IsNaN(f.Coefficients[f.Batches+k])
	}
	return contrast, known
}
