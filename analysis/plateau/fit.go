package plateau

import (
	"errors"
	"fmt"
	"math"

	"shelfspan/analysis/linear"
	"shelfspan/analysis/nonlinear"
	"shelfspan/analysis/pooling"
)

// Status says how the fit of a curve ended.
type Status string

// The ways it can end. Only a converged curve has parameters and lives.
const (
	Converged    Status = "converged"
	NoChange     Status = "no-change"  // all values of a batch are equal
	NoBend       Status = "no-bend"    // approach: a straight line is the best there is, k → 0 and y∞ → ±∞: the change does not slow down
	AtOnce       Status = "at-once"    // the change is over at the first time after the start: how fast it was cannot be told
	AtTheEnd     Status = "at-the-end" // power: all of the change comes at the last time
	NotConverged Status = "not-converged"
)

// Parameters are those of a curve. Plateau and Rate are those of an approach, y∞
// and k; Factor and Exponent those of a power, b and m. The others are 0.
type Parameters struct {
	Start, Plateau, Rate, Factor, Exponent float64
}

// Curve is a batch's curve.
type Curve struct {
	Status Status
	Parameters
	SE Parameters // asymptotic standard errors, by the S of all batches
}

// Fit is the curves of the batches under a decision on what they share. Its
// methods are for one goroutine at a time.
type Fit struct {
	Model    Model
	Decision pooling.Decision
	Status   Status  // that of the first curve that is not converged, else converged
	Curves   []Curve // one a batch, also where they are one
	RSS      float64 // least sum of squares, also where it is that of an edge
	DF       int
	S        float64 // residual standard deviation
	// StraightF compares the curves with straight lines that share as much, on
	// StraightDF and DF degrees of freedom, and StraightP is its p-value,
	// approximate as that of any nonlinear model. Where P is not small the
	// plateau may as well be none.
	StraightF, StraightP float64
	StraightDF           int

	groups  []*group
	place   [][2]int // of each batch: its group and its member there
	longest float64
}

// FitCurves fits the curves that batches have under a decision: separate, each
// its own; common-slope, each its own start but one change D·x(t) for all, which
// are parallel curves as common-slope lines are parallel; or pooled, one curve.
//
// It needs measurable values (pooling.Measurable), times of 0 or more of which the
// longest is from 1e-3 to 1e7, three different times in each batch that has its
// own curve and of all together where they share one, and more values than
// parameters (3 a batch, the batches and 2, or 3); anything less is an error.
// Curves at the edge of what the model can be are told by their Status.
//
// The shape is searched over all that the times can tell, with starts and change
// eliminated (Golub & Pereyra, SIAM J. Numer. Anal. 10, 1973, 413–432), so that
// no starting values are asked for and no local minimum is taken for the least;
// from there nonlinear.Fit finds all parameters.
func FitCurves(batches []pooling.Batch, model Model, decision pooling.Decision) (*Fit, error) {
	f := &Fit{Model: model, Decision: decision, Status: Converged}
	if err := f.load(batches); err != nil {
		return nil, err
	}
	results := make([]*nonlinear.Result, len(f.groups))
	statuses := make([]Status, len(f.groups))
	straight := 0.0
	for i, g := range f.groups {
		straight += g.look(model.straight())
		statuses[i], results[i] = g.solve()
		f.RSS += g.sse
		if statuses[i] != Converged && f.Status == Converged {
			f.Status = statuses[i]
		}
	}
	f.S = math.Sqrt(f.RSS / float64(f.DF))
	f.StraightDF = len(f.groups)
	f.StraightF, f.StraightP = linear.ExtraSumOfSquares(straight-f.RSS, f.StraightDF, f.RSS, f.DF)
	f.Curves = make([]Curve, len(batches))
	for i := range batches {
		group, member := f.place[i][0], f.place[i][1]
		if f.Curves[i].Status = statuses[group]; statuses[group] == Converged {
			f.Curves[i].Parameters, f.Curves[i].SE = f.parameters(results[group], member)
		}
	}
	return f, nil
}

// latest is beyond the longest duration a study can state, in months.
const latest = 1e7

// load checks the batches and puts them into groups.
func (f *Fit) load(batches []pooling.Batch) error {
	if f.Model != Approach && f.Model != Power {
		return fmt.Errorf("%q is no model of this kind", f.Model)
	}
	if len(batches) == 0 {
		return errors.New("there are no batches")
	}
	for i, b := range batches {
		if len(b.X) == 0 || len(b.X) != len(b.Y) {
			return fmt.Errorf("batch %d has %d times and %d values", i+1, len(b.X), len(b.Y))
		}
		for j := range b.X {
			if !pooling.Measurable(b.X[j]) || !pooling.Measurable(b.Y[j]) || b.X[j] < 0 {
				return errOutOfRange
			}
			f.longest = max(f.longest, b.X[j])
		}
	}
	if !(f.longest >= 1e-3 && f.longest <= latest) {
		return errOutOfRange
	}
	members := make([]member, len(batches))
	for i, b := range batches {
		members[i] = member{s: make([]float64, len(b.X)), y: b.Y}
		for j, x := range b.X {
			members[i].s[j] = x / f.longest
		}
	}
	f.place = make([][2]int, len(batches))
	switch f.Decision {
	case pooling.Pooled:
		all := member{}
		for _, m := range members {
			all.s, all.y = append(all.s, m.s...), append(all.y, m.y...)
		}
		f.groups = []*group{newGroup(f.Model, []member{all})}
	case pooling.CommonSlope:
		f.groups = []*group{newGroup(f.Model, members)}
		for i := range members {
			f.place[i] = [2]int{0, i}
		}
	default:
		for i := range members {
			f.groups = append(f.groups, newGroup(f.Model, members[i:i+1]))
			f.place[i] = [2]int{i, 0}
		}
	}
	for _, g := range f.groups {
		if distinct(g.members) < 3 {
			return errors.New("a curve needs results at three different times")
		}
		f.DF += g.n - len(g.members) - 2
	}
	if f.DF < 1 {
		return errors.New("there are no more values than the curves have parameters")
	}
	return nil
}

// parameters takes a member's parameters, and their errors by the delta method,
// from those that were fitted.
func (f *Fit) parameters(r *nonlinear.Result, member int) (p, se Parameters) {
	n := len(r.Parameters)
	start, change, shape := r.Parameters[member], r.Parameters[n-2], r.Parameters[n-1]
	// errorOf gives the error of a sum of the start, the change and the shape.
	errorOf := func(a, b, c float64) float64 {
		at, g := [3]int{member, n - 2, n - 1}, [3]float64{a, b, c}
		v := 0.0
		for i := range g {
			for j := range g {
				v += g[i] * g[j] * r.Unscaled[at[i]*n+at[j]]
			}
		}
		return f.S * math.Sqrt(max(0, v))
	}
	p.Start, se.Start = start, errorOf(1, 0, 0)
	if f.Model == Power {
		scale := math.Pow(f.longest, -shape)
		p.Factor, p.Exponent = change*scale, shape
		se.Factor, se.Exponent = errorOf(0, scale, -p.Factor*math.Log(f.longest)), errorOf(0, 0, 1)
		return p, se
	}
	whole := -math.Expm1(-shape) // the part of the change that is over at the longest time
	p.Plateau, p.Rate = start+change/whole, shape/f.longest
	se.Plateau, se.Rate = errorOf(1, 1/whole, -change*math.Exp(-shape)/(whole*whole)), errorOf(0, 0, 1/f.longest)
	return p, se
}

// Mean is a batch's curve at a time, also where it stands at an edge.
func (f *Fit) Mean(batch int, t float64) float64 {
	g := f.groups[f.place[batch][0]]
	return g.line(f.place[batch][1]).Mean(f.Model.progress(g.shape, t/f.longest))
}

// distinct counts the times that differ by more than a billionth of the longest.
func distinct(members []member) int {
	seen := map[float64]bool{}
	for _, m := range members {
		for _, s := range m.s {
			seen[math.Round(s*1e9)] = true
		}
	}
	return len(seen)
}

var errOutOfRange = errors.New("a number is out of the range of numbers reckoned with")
