// Package comparison compares the rates of change of what is stored side by side:
// packs and orientations within batches, and what batches were made of between
// them.
//
// The rate of an arm, a batch in one combination of pack and orientation, is
//
//	slope(batch, combination) = γ_batch + δ_combination   (+ what is the arm's alone)
//
// on the scale of a degradation model. Differences between combinations are found
// within batches, where the batch's own rate falls out; what is said of the
// formula is found between the γ, and its error is how batches of one formula
// differ.
package comparison

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/gonum/mat"

	"shelfspan/analysis/linear"
)

// Observation is one sample on the model's scale, or the rate of one package unit.
type Observation struct {
	Arm int // index into Input.Arms
	// Start is the group of observations that begin at one value, as all of a batch
	// in a pack do; −1 for the rate of a unit, of which X is 1.
	Start int
	X, Z  float64 // the model's own time, and the value on its scale; or 1 and the rate
}

// Arm is a batch in a combination of pack and orientation, both counted from 0.
type Arm struct{ Batch, Combination int }

// Input is what is compared.
type Input struct {
	Arms         []Arm // different from each other
	Observations []Observation
}

// rates are the slopes of the arms as rows of a least squares problem: the sum of
// squares of all observations about any slopes b, starts at their best, is
// rss + Σ (row·b − rhs)².
type rates struct {
	arms []Arm
	row  [][]entry
	rhs  []float64
	rss  float64
	df   int
	n    int
	lost []int // arms whose slope the observations do not tell
}

// entry is a coefficient of an arm's slope.
type entry struct {
	arm   int
	value float64
}

var errNumbers = errors.New("an observation is no finite number")

// reduce gathers the observations by their starts, takes the starts out and
// triangularizes each group by Householder reflections.
func reduce(in Input) (*rates, error) {
	r := &rates{arms: in.Arms, n: len(in.Observations)}
	type group struct {
		observations []Observation
		start        bool
	}
	var groups []*group
	index := map[[2]int]*group{} // start, or −1 and arm
	for _, o := range in.Observations {
		if math.IsNaN(o.X) || math.IsInf(o.X, 0) || math.IsNaN(o.Z) || math.IsInf(o.Z, 0) {
			return nil, errNumbers
		}
		if o.Arm < 0 || o.Arm >= len(in.Arms) {
			return nil, fmt.Errorf("there is no arm %d", o.Arm)
		}
		k := [2]int{o.Start, 0}
		if o.Start < 0 {
			k = [2]int{-1, o.Arm}
		}
		g := index[k]
		if g == nil {
			g = &group{start: o.Start >= 0}
			index[k] = g
			groups = append(groups, g)
		}
		g.observations = append(g.observations, o)
	}
	seen := make([]bool, len(in.Arms))
	for _, g := range groups {
		r.add(g.observations, g.start, seen)
	}
	for i, s := range seen {
		if !s {
			r.lost = append(r.lost, i)
		}
	}
	return r, nil
}

// add takes in one group; seen marks the arms that have a slope.
func (r *rates) add(group []Observation, start bool, seen []bool) {
	n := len(group)
	z, mean := make([]float64, n), 0.0
	if start {
		for _, o := range group {
			mean += o.Z / float64(n)
		}
	}
	var arms []int
	at := map[int]int{}
	for i, o := range group {
		z[i] = o.Z - mean
		if _, known := at[o.Arm]; !known {
			at[o.Arm] = len(arms)
			arms = append(arms, o.Arm)
		}
	}
	columns := make([]linear.Column, len(arms))
	for j, a := range arms {
		columns[j] = linear.Column{Name: strconv.Itoa(a), Values: make([]float64, n)}
		mean := 0.0
		for _, o := range group {
			if start && o.Arm == a {
				mean += o.X / float64(n)
			}
		}
		for i, o := range group {
			columns[j].Values[i] = -mean
			if o.Arm == a {
				columns[j].Values[i] += o.X
			}
		}
	}
	columns, arms, apart := told(columns, arms)
	df := n - len(arms)
	if start {
		df--
	}
	r.df += df
	if len(arms) == 0 {
		for _, v := range z {
			r.rss += v * v
		}
		return
	}
	x := mat.NewDense(n, len(arms), nil)
	for j, c := range columns {
		x.SetCol(j, c.Values)
	}
	var qr mat.QR
	qr.Factorize(x)
	var q, upper mat.Dense
	qr.QTo(&q)
	qr.RTo(&upper)
	var rotated mat.VecDense
	rotated.MulVec(q.T(), mat.NewVecDense(n, z))
	for i := range arms {
		if !apart {
			break
		}
		var row []entry
		for j := i; j < len(arms); j++ {
			row = append(row, entry{arms[j], upper.At(i, j)})
		}
		r.row, r.rhs = append(r.row, row), append(r.rhs, rotated.AtVec(i))
		seen[arms[i]] = true
	}
	for i := len(arms); i < n; i++ {
		r.rss += rotated.AtVec(i) * rotated.AtVec(i)
	}
}

// told leaves out the columns that are combinations of earlier ones, or nought. The
// slopes that are left are those of their arms where all that was left out is nought.
// Else the arms of the group, each with results at one time alone, tell of their start
// and slopes only how they differ, and no slope is that of an arm.
func told(columns []linear.Column, arms []int) (use []linear.Column, of []int, apart bool) {
	drop := aliased(columns)
	apart = true
	for j := range columns {
		if !drop[columns[j].Name] {
			use, of = append(use, columns[j]), append(of, arms[j])
			continue
		}
		apart = apart && !slices.ContainsFunc(columns[j].Values, func(v float64) bool { return v != 0 })
	}
	return use, of, apart
}

// aliased names the columns that are combinations of those before them.
func aliased(columns []linear.Column) map[string]bool {
	out := map[string]bool{}
	var use []linear.Column
	for _, c := range columns {
		zero := true
		for _, v := range c.Values {
			zero = zero && v == 0
		}
		if zero {
			out[c.Name] = true
			continue
		}
		use = append(use, c)
	}
	if len(use) == 0 {
		return out
	}
	n := len(use[0].Values)
	for n < len(use) { // more columns than rows: nought stands in the others
		for j := range use {
			use[j].Values = append(use[j].Values[:n:n], 0)
		}
		n++
	}
	_, err := linear.LeastSquares(use, make([]float64, n))
	var rank *linear.RankError
	if errors.As(err, &rank) {
		for _, name := range rank.Columns {
			out[name] = true
		}
	}
	return out
}
