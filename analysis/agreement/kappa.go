// Package agreement tells how far two assessors who grade the same units agree
// beyond what chance would give.
package agreement

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Status says what a table of grades allows to say.
type Status string

// The statuses.
const (
	Computed  Status = "computed"
	NoError   Status = "no-error"   // kappa holds, but its error by the formula is 0 and says nothing, as where every unit is in agreement
	OneGrade  Status = "one-grade"  // both gave all units the same grade, or grades that the weights do not tell apart: kappa is 0/0
	ByMargins Status = "by-margins" // kappa is 0 whoever graded what: one assessor gave all units the same grade, or their grades hardly overlap
	NoUnits   Status = "no-units"
)

// Result is the agreement of two assessors.
type Result struct {
	Status   Status
	Units    int
	Observed float64 // weighted share of agreement, 0 to 1; NaN without units
	Expected float64 // that of assessors who grade by chance, each with own shares of the grades; NaN without units
	Kappa    float64 // (Observed − Expected)/(1 − Expected); NaN for OneGrade, ByMargins and NoUnits
	// SE is kappa's standard error, Low and High the two-sided interval Kappa ±
	// z·SE, cut at 1; NaN unless Status is Computed. The interval is that of
	// large samples.
	SE, Low, High float64
	// NullSE is the standard error if the assessors were independent, Z = Kappa/NullSE
	// and P the probability of a Z as large or larger; NaN unless Status is
	// Computed or NoError.
	NullSE, Z, P float64
}

// ErrConfidence is that of a confidence that is not between 0 and 1.
var ErrConfidence = errors.New("a confidence lies between 0 and 1")

// Kappa is Cohen's weighted kappa (Psychological Bulletin 70, 1968, 213–220) of
// a square table of counts, rows the grades of one assessor and columns those of
// the other, with agreement weights from 0 to 1 and 1 for the same grade. With
// p the shares of the table, v the weights, a dot for a sum and
//
//	v̄ᵢ. = Σⱼ p.ⱼ vᵢⱼ,  v̄.ⱼ = Σᵢ pᵢ. vᵢⱼ,
//
// the errors are the square roots of (Fleiss, Cohen & Everitt, Psychological
// Bulletin 72, 1969, 323–327)
//
//	Var  = {Σ pᵢⱼ [vᵢⱼ(1 − pe) − (v̄ᵢ. + v̄.ⱼ)(1 − po)]² − (po·pe − 2pe + po)²} / (n(1 − pe)⁴)
//	Var₀ = {Σ pᵢ. p.ⱼ [vᵢⱼ − (v̄ᵢ. + v̄.ⱼ)]² − pe²} / (n(1 − pe)²).
func Kappa(table [][]int, weights [][]float64, confidence float64) (Result, error) {
	nan := math.NaN()
	r := Result{Status: NoUnits, Observed: nan, Expected: nan, Kappa: nan, SE: nan, Low: nan, High: nan, NullSE: nan, Z: nan, P: nan}
	if !(confidence > 0 && confidence < 1) {
		return r, ErrConfidence
	}
	if err := check(table, weights); err != nil {
		return r, err
	}
	k := len(table)
	row, column := make([]float64, k), make([]float64, k)
	for i, counts := range table {
		for j, c := range counts {
			r.Units += c
			row[i] += float64(c)
			column[j] += float64(c)
		}
	}
	if r.Units == 0 {
		return r, nil
	}
	n := float64(r.Units)
	for i := range k {
		row[i] /= n
		column[i] /= n
	}
	// Sums of disagreement, 1 − v, keep their digits where agreement is all but complete.
	missed, chance := 0.0, 0.0
	rowMean, columnMean := make([]float64, k), make([]float64, k) // of 1 − v
	for i := range k {
		for j := range k {
			w := 1 - weights[i][j]
			missed += w * float64(table[i][j]) / n
			chance += w * row[i] * column[j]
			rowMean[i] += w * column[j]
			columnMean[j] += w * row[i]
		}
	}
	r.Observed, r.Expected = 1-missed, 1-chance
	if chance == 0 {
		r.Status = OneGrade
		return r, nil
	}
	// In w = 1 − v both variances are those of deviations from a mean:
	// v(1 − pe) − (v̄ᵢ. + v̄.ⱼ)(1 − po) less its mean is (w̄ᵢ. + w̄.ⱼ − 2·chance)·missed − (w − missed)·chance.
	variance, null := 0.0, 0.0
	for i := range k {
		for j := range k {
			w := 1 - weights[i][j]
			mean := rowMean[i] + columnMean[j]
			d := mean*missed - w*chance - missed*chance
			variance += float64(table[i][j]) / n * d * d
			e := w - mean + chance
			null += row[i] * column[j] * e * e
		}
	}
	const rounding = 1e-26 // of a variance, squared
	if null <= rounding {
		r.Status = ByMargins
		return r, nil
	}
	r.Kappa = 1 - missed/chance
	r.NullSE = math.Sqrt(null/n) / chance
	r.Z = r.Kappa / r.NullSE
	r.P = math.Erfc(r.Z/math.Sqrt2) / 2
	if variance <= rounding {
		r.Status = NoError
		return r, nil
	}
	r.Status = Computed
	r.SE = math.Sqrt(variance/n) / (chance * chance)
	half := mathext.NormalQuantile(1-(1-confidence)/2) * r.SE
	r.Low, r.High = r.Kappa-half, min(1, r.Kappa+half)
	return r, nil
}

func check(table [][]int, weights [][]float64) error {
	k := len(table)
	if k < 2 {
		return errors.New("agreement needs a scale of two or more grades")
	}
	if len(weights) != k {
		return fmt.Errorf("there are weights for %d grades and counts for %d", len(weights), k)
	}
	for i := range k {
		if len(table[i]) != k || len(weights[i]) != k {
			return fmt.Errorf("row %d of the table or of the weights does not have %d columns", i+1, k)
		}
		for j := range k {
			switch w := weights[i][j]; {
			case table[i][j] < 0:
				return fmt.Errorf("the count in row %d, column %d is below zero", i+1, j+1)
			case table[i][j] > mostUnits:
				return fmt.Errorf("the count in row %d, column %d is above a thousand million", i+1, j+1)
			case !(w >= 0 && w <= 1):
				return fmt.Errorf("the weight in row %d, column %d is not from 0 to 1", i+1, j+1)
			case i == j && w != 1:
				return fmt.Errorf("the weight of the same grade, %d, is not 1", i+1)
			}
		}
	}
	return nil
}

const mostUnits = 1_000_000_000

// Table counts the units by the grades that two assessors gave them, ranks from
// 0 up to one less than the number of grades.
func Table(a, b []int, grades int) ([][]int, error) {
	if len(a) != len(b) {
		return nil, fmt.Errorf("one assessor graded %d units and the other %d", len(a), len(b))
	}
	table := make([][]int, grades)
	for i := range table {
		table[i] = make([]int, grades)
	}
	for u := range a {
		if min(a[u], b[u]) < 0 || max(a[u], b[u]) >= grades {
			return nil, fmt.Errorf("unit %d has a grade that is not on the scale of %d", u+1, grades)
		}
		table[a[u]][b[u]]++
	}
	return table, nil
}

// Linear is the weight 1 − |i − j|/(grades − 1).
func Linear(grades int) [][]float64 {
	return weigh(grades, func(apart float64) float64 { return 1 - apart })
}

// Quadratic is the weight 1 − (i − j)²/(grades − 1)²: a grade further off counts
// by the square. Kappa is then close to an intraclass correlation.
func Quadratic(grades int) [][]float64 {
	return weigh(grades, func(apart float64) float64 { return 1 - apart*apart })
}

// Unweighted is 1 for the same grade and 0 for any other: Cohen's kappa of 1960.
func Unweighted(grades int) [][]float64 {
	return weigh(grades, func(apart float64) float64 {
		if apart == 0 {
			return 1
		}
		return 0
	})
}

// weigh makes weights of how far apart two grades are, as a part of the scale.
func weigh(grades int, weight func(apart float64) float64) [][]float64 {
	w := make([][]float64, grades)
	for i := range w {
		w[i] = make([]float64, grades)
		for j := range w[i] {
			w[i][j] = 1
			if i != j {
				w[i][j] = weight(math.Abs(float64(i-j)) / float64(grades-1))
			}
		}
	}
	return w
}
