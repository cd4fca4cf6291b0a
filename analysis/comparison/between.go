package comparison

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/mat"

	"shelfspan/analysis/linear"
)

// Term is something that differs between batches: an ingredient, or the scale
// they were made at.
type Term struct {
	Name      string
	Levels    []string
	Of        []int // the level of each batch; −1 where it states none
	Reference int   // the level that the others are compared with
	Alone     bool  // it enters by itself, and together with no other
}

// Between is the model of the batches' rates by the terms.
type Between struct {
	Columns      []Column // of the design, after the constant
	Coefficients []float64
	Covariance   *mat.SymDense // unscaled
	Batches      []int         // that entered
	Variance     float64
	DF           int
	// Those is set where no two batches are of one formula, so that how batches of
	// one differ is not known: the error is then that of the batches' own rates, and
	// what is said is said of those batches.
	Those bool
}

// Column is the effect of a level against the reference one, or of two levels
// together beyond what each does alone.
type Column struct {
	Term, Level           int
	OtherTerm, OtherLevel int // −1 but for two levels together
	// With names what it cannot be told from, as every batch with the one has the
	// other; it has no coefficient then.
	With string
	// Same lists the levels of other terms that just the batches of this one have, and
	// no others: its coefficient is of all of them together. Apart names those that it
	// cannot be told from otherwise, and what its coefficient is of is then not known.
	Same  []int // indices of columns
	Apart string
}

// Known reports whether the column has a coefficient that is of it, or of what goes
// with it in all batches.
func (c *Column) Known() bool { return c.With == "" && c.Apart == "" }

var errTooFewBatches = errors.New("fewer than two batches have a rate")

// CompareBatches fits the batches' rates by the terms' main effects, and by two
// terms together where together is set and batches of all their levels are there.
//
// Each batch counts once, however many results it has: with γ as observations the
// residual is the variation between batches of one formula and holds the error of
// their own rates too. It is exact where batches are measured alike and close
// where they nearly are (the use of summary measures: Frison & Pocock, Statistics
// in Medicine 11, 1992, 1685, from memory).
func (f *Fit) CompareBatches(terms []Term, together bool) (*Between, error) {
	b := &Between{}
	var y []float64
	for i, g := range f.Coefficients[:f.Batches] {
		stated := !math.IsNaN(g)
		for _, t := range terms {
			stated = stated && t.Of[i] >= 0
		}
		if stated {
			b.Batches = append(b.Batches, i)
			y = append(y, g)
		}
	}
	if len(y) < 2 {
		return nil, errTooFewBatches
	}
	columns := b.design(terms, together)
	var use []linear.Column
	var place []int
	drop := aliased(columns)
	for j, c := range columns {
		switch {
		case !drop[c.Name]:
			use, place = append(use, c), append(place, j)
		case j > 0:
			b.Columns[j-1].With = b.with(use, place, c, j-1)
		}
	}
	fit, err := linear.LeastSquares(use, y)
	if err != nil {
		return nil, err
	}
	k := len(columns)
	b.Coefficients = make([]float64, k)
	b.Covariance = mat.NewSymDense(k, nil)
	for j := range b.Coefficients {
		b.Coefficients[j] = math.NaN()
	}
	for i, a := range place {
		b.Coefficients[a] = fit.Coefficients[i]
	}
	if b.DF = fit.DF; b.DF > 0 {
		b.Variance = fit.RSS / float64(fit.DF)
		for i, a := range place {
			for j, c := range place[:i+1] {
				b.Covariance.SetSym(a, c, fit.Covariance[i*len(place)+j])
			}
		}
		return b, nil
	}
	b.Those, b.Variance, b.DF = true, f.Variance, f.DF
	b.ofThose(f, use, place)
	return b, nil
}

// design makes the columns; the first is the constant.
func (b *Between) design(terms []Term, together bool) []linear.Column {
	n := len(b.Batches)
	one := linear.Column{Name: "constant", Values: make([]float64, n)}
	for i := range one.Values {
		one.Values[i] = 1
	}
	columns := []linear.Column{one}
	indicator := func(t, level int) []float64 {
		v := make([]float64, n)
		for i, batch := range b.Batches {
			if terms[t].Of[batch] == level {
				v[i] = 1
			}
		}
		return v
	}
	for t := range terms {
		for l, name := range terms[t].Levels {
			if l == terms[t].Reference {
				continue
			}
			columns = append(columns, linear.Column{Name: terms[t].Name + " " + name, Values: indicator(t, l)})
			b.Columns = append(b.Columns, Column{Term: t, Level: l, OtherTerm: -1, OtherLevel: -1})
		}
	}
	if !together {
		return columns
	}
	for t := range terms {
		for u := t + 1; u < len(terms); u++ {
			if terms[t].Alone || terms[u].Alone {
				continue
			}
			for l := range terms[t].Levels {
				for m := range terms[u].Levels {
					if l == terms[t].Reference || m == terms[u].Reference {
						continue
					}
					v := indicator(t, l)
					for i, x := range indicator(u, m) {
						v[i] *= x
					}
					columns = append(columns, linear.Column{
						Name: fmt.Sprintf("%s %s × %s %s", terms[t].Name, terms[t].Levels[l], terms[u].Name, terms[u].Levels[m]), Values: v})
					b.Columns = append(b.Columns, Column{Term: t, Level: l, OtherTerm: u, OtherLevel: m})
				}
			}
		}
	}
	return columns
}

// with names the columns that one is a combination of, and marks those too where it is
// a level of one term: what is seen may as well be of either. Of two levels together
// that are such a combination they are not marked: what each does is then taken for
// their own, as is usual, and what they do together is said not to be known.
func (b *Between) with(use []linear.Column, place []int, c linear.Column, index int) string {
	zero := true
	for _, v := range c.Values {
		zero = zero && v == 0
	}
	if zero {
		return "what no batch has"
	}
	fit, err := linear.LeastSquares(use, c.Values)
	if err != nil {
		return "the others"
	}
	var names []string
	var of []int
	for i, x := range fit.Coefficients {
		if math.Abs(x) > 1e-9 && i > 0 {
			names, of = append(names, use[i].Name), append(of, place[i]-1)
		}
	}
	if names == nil {
		return "what all batches have"
	}
	if b.Columns[index].OtherTerm < 0 {
		same := len(of) == 1 && math.Abs(fit.Coefficients[0]) <= 1e-9 // then the other coefficient is 1
		for _, k := range of {
			switch other := &b.Columns[k]; {
			case same:
				other.Same = append(other.Same, index)
			case other.Apart == "":
				other.Apart = c.Name
			default:
				other.Apart += " and " + c.Name
			}
		}
	}
	return strings.Join(names, " and ")
}

// ofThose gives the coefficients the error of the batches' own rates. They are
// solved for exactly, as many as there are batches.
func (b *Between) ofThose(f *Fit, use []linear.Column, place []int) {
	n := len(b.Batches)
	x := mat.NewDense(n, len(use), nil)
	for j, c := range use {
		x.SetCol(j, c.Values)
	}
	var inverse mat.Dense
	if inverse.Inverse(x) != nil {
		return // the columns are told apart, so that this is not reached
	}
	gamma := mat.NewDense(n, n, nil)
	for i, a := range b.Batches {
		for j, c := range b.Batches {
			gamma.Set(i, j, f.Covariance.At(a, c))
		}
	}
	var half, whole mat.Dense
	half.Mul(&inverse, gamma)
	whole.Mul(&half, inverse.T())
	for i, a := range place {
		for j, c := range place[:i+1] {
			b.Covariance.SetSym(a, c, (whole.At(i, j)+whole.At(j, i))/2)
		}
	}
}

// Of is the estimate of a contrast of the coefficients, the constant first.
func (b *Between) Of(contrast []float64) Estimate {
	return estimate(contrast, b.Coefficients, b.Covariance, b.Variance, b.DF)
}
