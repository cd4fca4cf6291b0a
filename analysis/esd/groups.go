package esd

import (
	"errors"
	"fmt"
	"math"

	"shelfspan/analysis/linear"
)

// TestGroups looks for up to `most` outliers as Test does, among values that come
// in groups with a mean each and one spread: units of several batches. groups
// names each value's group by any number.
//
// Every step takes the groups' means anew, of the values left. With m values in b
// groups of two or more, ν = m − b, s² their mean square about the groups' means
// and n a value's group, it takes off the value with the greatest
// R = |x − x̄|/(s·√(1 − 1/n)) and compares it with
//
//	λ = t·√ν / √(ν − 1 + t²),  t = t(1 − α/(2m), ν − 1)
//
// so that an outlier in a small group, which draws the group's mean along, is
// measured by what it leaves. A value alone in its group says nothing, is never
// taken off and does not count; of a group of two that lie apart the upper one is
// taken. The steps end where ν is below 2. With one group it is Test, R and λ each
// by √(1 − 1/m) greater. At least one degree of freedom more than `most` is needed.
//
// Of Few, ν + 1 takes the place of the number of values.
//
// Source: Paul & Fung, A generalized extreme studentized residual multiple-outlier
// detection procedure in linear regression, Technometrics 33, 1991, 339–348, for
// the line that is a mean for each group (from memory).
func TestGroups(values []float64, groups []int, most int, alpha float64) (Result, error) {
	if len(groups) != len(values) {
		return Result{}, errors.New("each value has a group")
	}
	if err := suitable(values, alpha); err != nil {
		return Result{}, err
	}
	left := make([]bool, len(values))
	for i := range left {
		left[i] = true
	}
	g := grouping{values: values, groups: groups, left: left, of: map[int]*group{}}
	if g.reckon(); most < 1 || g.df < most+1 {
		return Result{}, fmt.Errorf("%d values about the means of their groups are too few to look for up to %d outliers", g.n, most)
	}
	r := Result{Steps: make([]Step, 0, most)}
	for i := 1; i <= most && g.df >= 2 && g.s > 0; i++ {
		step := g.farthest()
		step.Critical = g.critical(alpha)
		r.Steps = append(r.Steps, step)
		if step.R > step.Critical {
			r.Outliers = i
		}
		left[step.Index] = false
		g.reckon()
	}
	return r, nil
}

// grouping is the values left, with the means and the spread they have.
type grouping struct {
	values []float64
	groups []int
	left   []bool
	of     map[int]*group
	n, df  int // values in groups of two or more, and their degrees of freedom
	s      float64
}

type group struct {
	n    int
	mean float64
}

// reckon takes the means and the spread of what is left; the spread is zero
// where it is no more than rounding.
func (g *grouping) reckon() {
	clear(g.of)
	for i, v := range g.values {
		if !g.left[i] {
			continue
		}
		x := g.of[g.groups[i]]
		if x == nil {
			x = &group{}
			g.of[g.groups[i]] = x
		}
		x.n++
		x.mean += v
	}
	for _, x := range g.of {
		x.mean /= float64(x.n)
	}
	g.n, g.df = 0, 0
	squares, size := 0.0, 0.0
	for i, v := range g.values {
		if x := g.of[g.groups[i]]; g.left[i] && x.n > 1 {
			g.n++
			squares += (v - x.mean) * (v - x.mean)
			size = max(size, math.Abs(v))
		}
	}
	g.df = g.n
	for _, x := range g.of {
		if x.n > 1 {
			g.df--
		}
	}
	g.s = 0
	if g.df > 0 {
		if g.s = math.Sqrt(squares / float64(g.df)); g.s <= float64(g.n)*0x1p-52*size {
			g.s = 0
		}
	}
}

// farthest is the value with the greatest R, of equals an upper one.
func (g *grouping) farthest() Step {
	best := Step{Index: -1}
	for i, v := range g.values {
		x := g.of[g.groups[i]]
		if !g.left[i] || x.n < 2 {
			continue
		}
		r := math.Abs(v-x.mean) / (g.s * math.Sqrt(1-1/float64(x.n)))
		above := v > x.mean
		const tie = 1e-9 // two values of one group are as far from their mean but for rounding
		if best.Index < 0 || r > best.R*(1+tie) || above && !best.Above && r > best.R*(1-tie) {
			best = Step{Index: i, Above: above, R: r}
		}
	}
	return best
}

func (g *grouping) critical(alpha float64) float64 {
	df := float64(g.df)
	t := -linear.StudentQuantile(alpha/(2*float64(g.n)), g.df-1)
	return math.Sqrt(df / (1 + (df-1)/(t*t)))
}
