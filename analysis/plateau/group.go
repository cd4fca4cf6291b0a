package plateau

import (
	"math"

	"shelfspan/analysis/linear"
	"shelfspan/analysis/nonlinear"
)

// group is batches that share the shape and the size of their change. Each
// member has its own start; where batches are pooled there is one member.
type group struct {
	model   Model
	members []member
	n       int
	cover   []float64
	floor   float64 // the sum of squares that is rounding

	// What look found last.
	shape, change, sxx, sse float64
}

type member struct {
	s, y  []float64 // times in parts of the longest one, values
	meanY float64
	x     []float64 // progress at the shape last looked at
	meanX float64
}

func newGroup(model Model, members []member) *group {
	g := &group{model: model, members: members}
	square := 0.0
	var times []float64
	for i := range members {
		m := &members[i]
		m.x = make([]float64, len(m.s))
		for _, y := range m.y {
			m.meanY += y / float64(len(m.y))
			square += y * y
		}
		g.n += len(m.y)
		times = append(times, m.s...)
	}
	g.floor = math.Pow(float64(g.n)*epsilon, 2) * square
	g.cover = model.cover(times)
	return g
}

const epsilon = 0x1p-52

// look fits the starts and the change with the shape held, and gives the sum of
// squares.
func (g *group) look(shape float64) float64 {
	g.shape, g.sxx = shape, 0
	sxy := 0.0
	for i := range g.members {
		m := &g.members[i]
		g.model.fill(m.x, shape, m.s)
		m.meanX = 0
		for _, x := range m.x {
			m.meanX += x
		}
		m.meanX /= float64(len(m.x))
		for j, x := range m.x {
			g.sxx += (x - m.meanX) * (x - m.meanX)
			sxy += (x - m.meanX) * (m.y[j] - m.meanY)
		}
	}
	if g.change = 0; g.sxx > 0 {
		g.change = sxy / g.sxx
	}
	g.sse = 0
	for i := range g.members {
		m := &g.members[i]
		for j, x := range m.x {
			e := m.y[j] - m.meanY - g.change*(x-m.meanX)
			g.sse += e * e
		}
	}
	if g.sse <= g.floor {
		g.sse = 0
	}
	return g.sse
}

// line is a member's line in x at the shape last looked at, in units of S = 1.
func (g *group) line(member int) linear.Line {
	m := &g.members[member]
	return linear.Line{
		Centre: m.meanX, Level: m.meanY, Slope: g.change,
		LevelVar: 1 / float64(len(m.y)), SlopeVar: 1 / g.sxx, S: 1,
	}
}

// varies reports whether there is any change in a member.
func (g *group) varies() bool {
	square := 0.0
	for i := range g.members {
		for _, y := range g.members[i].y {
			square += (y - g.members[i].meanY) * (y - g.members[i].meanY)
		}
	}
	return square > g.floor
}

// fastest is the shape at which the change is over at once.
func (g *group) fastest() float64 {
	if g.model == Power {
		return g.cover[0]
	}
	return g.cover[len(g.cover)-1]
}

const (
	// edge is by how much of the sum of squares a bend has to be better than a
	// straight line to be one at all.
	edge = 1e-10
	// blur is the like for a change that takes its time and one that comes at once,
	// or at the end, which differ by little already near the last shape.
	blur = 1e-6
)

// solve finds the shape of the least sum of squares: first over the cover, with
// everything linear eliminated, then by the trust region method in all parameters.
// What look found last is then that of the solution.
func (g *group) solve() (Status, *nonlinear.Result) {
	if !g.varies() {
		g.look(g.model.straight())
		return NoChange, nil
	}
	shape, sse := least(g.look, g.cover)
	line, fast, late := g.look(g.model.straight()), g.look(g.fastest()), g.look(g.cover[len(g.cover)-1])
	if g.model == Approach && line <= sse*(1+edge) {
		g.look(g.model.straight())
		return NoBend, nil
	}
	g.look(shape)
	switch {
	case fast <= sse*(1+blur):
		return AtOnce, nil
	case g.model == Power && late <= sse*(1+blur):
		return AtTheEnd, nil
	}
	start := make([]float64, 0, len(g.members)+2)
	for i := range g.members {
		start = append(start, g.line(i).Intercept())
	}
	result := nonlinear.Fit(g.problem(), append(start, g.change, shape), nonlinear.Settings{})
	if result.Status.Converged() && g.look(result.Parameters[len(start)+1]) <= sse*(1+1e-9)+g.floor {
		return Converged, result
	}
	g.look(shape)
	return NotConverged, nil
}

// problem has the parameters starts, change, shape.
func (g *group) problem() nonlinear.Problem {
	k := len(g.members)
	return nonlinear.Problem{M: g.n, N: k + 2,
		Residuals: func(dst, p []float64) {
			at := 0
			for i := range g.members {
				for j, s := range g.members[i].s {
					dst[at] = p[i] + p[k]*g.model.progress(p[k+1], s) - g.members[i].y[j]
					at++
				}
			}
		},
		Jacobian: func(dst, p []float64) {
			clear(dst)
			at := 0
			for i := range g.members {
				for _, s := range g.members[i].s {
					row := dst[at*(k+2) : (at+1)*(k+2)]
					row[i], row[k], row[k+1] = 1, g.model.progress(p[k+1], s), p[k]*g.model.bend(p[k+1], s)
					at++
				}
			}
		},
	}
}
