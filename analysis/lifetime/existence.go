package lifetime

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"shelfspan/analysis/censored"
)

// edge is what counts at one temperature of one stratum: the greatest time at which a
// unit passed and the least by which one had failed, as logarithms; −Inf and +Inf
// where none did.
type edge struct {
	stratum       int
	x, pass, fail float64
}

// edges gives those of the strata and temperatures, or one edge for all units.
func (s *sample) edges() []edge {
	var out []edge
	order := make([]int, len(s.kind))
	for i := range order {
		order[i] = i
	}
	of := func(i int) int {
		if s.stratum == nil {
			return 0
		}
		return s.stratum[i]
	}
	slices.SortFunc(order, func(i, j int) int {
		return cmp.Or(cmp.Compare(of(i), of(j)), cmp.Compare(s.x[i], s.x[j]))
	})
	for _, i := range order {
		if last := len(out) - 1; last < 0 || out[last].stratum != of(i) || out[last].x != s.x[i] {
			out = append(out, edge{of(i), s.x[i], math.Inf(-1), math.Inf(1)})
		}
		e := &out[len(out)-1]
		if s.kind[i] != censored.Left {
			e.pass = max(e.pass, s.low[i])
		}
		if s.kind[i] != censored.Right {
			e.fail = min(e.fail, s.top[i])
		}
	}
	return out
}

// nonexistent tells why the likelihood has no top, by its directions of
// recession: being concave, it has one unless there is a direction (dγ, dφ) other
// than nought, dφ ≥ 0, in which no unit's likelihood ever falls. None falls where
// no z of a pass grows and no z of a failure falls.
//
// Where dφ > 0 such a direction is a line m(x) in the log times that no pass is above and
// no failure below: σ goes to zero along it. Its intercept is eliminated: for
// every pass and every failure the slope b has to meet pass − fail ≤ b·(x_pass −
// x_fail). Where dφ = 0 it is a line that is not below zero where there is a pass
// and not above where there is a failure: Ea goes without bound.
//
// Strata have lines of one slope, each with an intercept of its own, so that passes and
// failures are held against each other within them, and the slope is to be one for all.
// A stratum in which none failed, or none passed, is not to be among them.
//
// A direction of dφ < 0 does not count: what is left is whether the top is at φ
// above zero, which the climb tells.
func (f *fitted) nonexistent() (Status, string) {
	edges := f.edges()
	passed, failed := false, false
	for _, e := range edges {
		passed = passed || !math.IsInf(e.pass, -1)
		failed = failed || !math.IsInf(e.fail, 1)
	}
	switch {
	case !failed:
		return NoFailure, "no unit is known to have failed"
	case !passed:
		return NoPass, "no unit is known to have passed at any time"
	case f.arrhenius && !slices.ContainsFunc(edges, func(e edge) bool { return e.x != edges[0].x }):
		return OneTemperature, "there are units at one temperature only"
	}
	if f.separated(edges) {
		return Separated, f.tellSeparation(edges)
	}
	if !f.arrhenius {
		return Fitted, ""
	}
	// x grows as it gets colder.
	hot, cold := true, true
	for i := 0; i < len(edges); {
		coldestFail, hottestFail := math.Inf(-1), math.Inf(1)
		coldestPass, hottestPass := math.Inf(-1), math.Inf(1)
		for stratum := edges[i].stratum; i < len(edges) && edges[i].stratum == stratum; i++ {
			e := &edges[i]
			if !math.IsInf(e.pass, -1) {
				coldestPass, hottestPass = max(coldestPass, e.x), min(hottestPass, e.x)
			}
			if !math.IsInf(e.fail, 1) {
				coldestFail, hottestFail = max(coldestFail, e.x), min(hottestFail, e.x)
			}
		}
		hot = hot && coldestFail <= hottestPass
		cold = cold && hottestFail >= coldestPass
	}
	switch {
	case hot:
		return EaOpen, "every unit that failed was as hot as any that passed, or hotter, so that the activation energy has no finite estimate"
	case cold:
		return EaOpen, "every unit that failed was as cold as any that passed, or colder, so that the activation energy has no finite estimate"
	}
	return Fitted, ""
}

// separated reports whether lines of one slope part the passes from the failures.
func (f *fitted) separated(edges []edge) bool {
	low, high := math.Inf(-1), math.Inf(1) // of the slope
	for _, p := range edges {
		if math.IsInf(p.pass, -1) {
			continue
		}
		for _, q := range edges {
			if math.IsInf(q.fail, 1) || q.stratum != p.stratum {
				continue
			}
			switch needed := p.pass - q.fail; {
			case p.x == q.x && needed > 0:
				return false
			case p.x > q.x:
				low = max(low, needed/(p.x-q.x))
			case p.x < q.x:
				high = min(high, needed/(p.x-q.x))
			}
		}
		if low > high {
			return false
		}
	}
	return true
}

func (f *fitted) tellSeparation(edges []edge) string {
	if len(edges) > 1 {
		return "one moment at each temperature, on one line, parts the units that passed from those that failed, so that the spread of the lifetimes is not told from zero"
	}
	pass, fail := math.Exp(edges[0].pass+f.centre), math.Exp(edges[0].fail+f.centre)
	if edges[0].pass == edges[0].fail {
		return fmt.Sprintf("all that passed did so by %.6g and all that failed did so later or were looked at then, so that the spread of the lifetimes is not told from zero", pass)
	}
	return fmt.Sprintf("all failures may have come at one moment between %.6g and %.6g, so that the spread of the lifetimes is not told from zero", pass, fail)
}
