package lifetime

import "math"

// What ends a climb. The decrement is the length of Newton's step in standard
// errors, whatever the parameters' units.
const (
	enough     = 1e-7 // of the decrement: one more step, quadratic, is as good as rounding
	enoughFlat = 1e-5 // where the Hessian has to be damped: the height is as good as that
	steps      = 300  // at most
	halvings   = 80   // of one step
	steep      = 20   // of the log-likelihood along the ray from nought, per its length
	pivotFloor = 1e-11
)

// climbed is where a climb ended.
type climbed struct {
	at        []float64 // γ, and φ last
	height    float64   // log-likelihood
	decrement float64
	steps     int
	converged bool
	flat      bool      // the data do not tell the parameters apart there
	inverse   []float64 // of the Hessian, negative: the covariance of γ and φ; nil unless converged, not flat and φ above 0
}

// climber is a climb's memory, so that it takes none on its way.
type climber struct {
	*problem
	at, trial, gradient, step, scale []float64
	hessian, factor                  []float64
}

func newClimber(p *problem) *climber {
	n := p.parameters()
	return &climber{problem: p,
		at: make([]float64, n), trial: make([]float64, n), gradient: make([]float64, n), step: make([]float64, n), scale: make([]float64, n),
		hessian: make([]float64, n*n), factor: make([]float64, n*n)}
}

// climb makes the log-likelihood greatest over φ ≥ 0 from a start, by Newton's
// method. A step that leads down is halved; where the Hessian is not negative
// definite but for rounding it is damped as by Levenberg; where it would take φ
// below zero it is cut. φ = 0, no trend in time, is an answer where no likelihood
// of a trend is greater.
func (c *climber) climb(start []float64) climbed {
	copy(c.at, start)
	n := len(c.at)
	height := c.look(c.at, c.gradient, c.hessian)
	// Nearer to nought every z is a number, and none so great that e^z takes
	// Newton's method a step for each unit of it.
	for k := 0; k < halvings && (math.IsInf(height, -1) || c.outward() < -steep); k++ {
		for j := range c.at {
			c.at[j] /= 2
		}
		height = c.look(c.at, c.gradient, c.hessian)
	}
	r := climbed{at: c.at, height: height, decrement: math.Inf(1)}
	if math.IsInf(height, -1) {
		return r
	}
	for r.steps = 1; r.steps <= steps; r.steps++ {
		free := n
		r.flat = !c.newton(free)
		if c.at[n-1] == 0 && (c.gradient[n-1] <= 0 || c.step[n-1] <= 0) {
			free = n - 1
			r.flat = !c.newton(free)
		}
		square := 0.0
		for j := range free {
			square += c.gradient[j] * c.step[j]
		}
		r.decrement = math.Sqrt(max(0, square))
		last := r.decrement <= enough || r.flat && r.decrement <= enoughFlat
		moved := c.walk(&height, free, square, last)
		r.height = height
		if last {
			r.converged = true
			break
		}
		if !moved {
			break
		}
	}
	if r.converged && c.at[n-1] > 0 {
		if r.flat = !c.factorize(n, 0); !r.flat {
			r.inverse = c.invert()
		}
	}
	return r
}

// outward is the slope along the ray from nought to the parameters, per its length.
func (c *climber) outward() float64 {
	slope := 0.0
	for j, g := range c.gradient {
		slope += g * c.at[j]
	}
	return slope
}

// walk goes along the step as far as it leads up; a last one is so short that
// rounding hides where it leads, and is taken unless it leads plainly down.
func (c *climber) walk(height *float64, free int, square float64, last bool) (moved bool) {
	n := len(c.at)
	allowed := 1e-13 * (1 + math.Abs(*height))
	t, edge := 1.0, false
	if free == n && c.step[n-1] < 0 {
		to := -c.at[n-1] / c.step[n-1]
		switch {
		case c.currentStatus && to <= 1:
			t, edge = to, true
		case !c.currentStatus && to <= 1/0.95:
			t = 0.95 * to
		}
	}
	for range halvings {
		copy(c.trial, c.at)
		for j := range free {
			c.trial[j] += t * c.step[j]
		}
		if edge {
			c.trial[n-1] = 0
		}
		h := c.look(c.trial, c.gradient, c.hessian)
		if h >= *height+1e-4*t*square-allowed {
			copy(c.at, c.trial)
			*height = h
			return true
		}
		if last {
			break
		}
		t, edge = t/2, false
	}
	*height = c.look(c.at, c.gradient, c.hessian)
	return false
}

// newton solves for the step of the first parameters; the rest stand. It
// reports whether that needed no damping.
func (c *climber) newton(free int) bool {
	clear(c.step)
	sound := c.factorize(free, 0)
	for damping := 1e-10; ; damping *= 10 {
		if sound || c.factorize(free, damping) {
			break
		}
	}
	n := len(c.at)
	for j := range free {
		c.step[j] = c.gradient[j] * c.scale[j]
		for m := range j {
			c.step[j] -= c.factor[j*n+m] * c.step[m]
		}
		c.step[j] /= c.factor[j*n+j]
	}
	for j := free - 1; j >= 0; j-- {
		for m := j + 1; m < free; m++ {
			c.step[j] -= c.factor[m*n+j] * c.step[m]
		}
		c.step[j] /= c.factor[j*n+j]
	}
	for j := range free {
		c.step[j] *= c.scale[j]
	}
	return sound
}

// factorize makes Cholesky's factor of the negative Hessian, scaled to a
// diagonal of ones, plus a damping. It reports whether that is positive
// definite by more than rounding.
func (c *climber) factorize(free int, damping float64) bool {
	n := len(c.at)
	for j := range free {
		c.scale[j] = 1
		if d := -c.hessian[j*n+j]; d > 0 {
			c.scale[j] = 1 / math.Sqrt(d)
		}
	}
	for j := range free {
		for m := range j + 1 {
			v := -c.hessian[j*n+m] * c.scale[j] * c.scale[m]
			if m == j {
				v += damping
			}
			for k := range m {
				v -= c.factor[j*n+k] * c.factor[m*n+k]
			}
			if m < j {
				c.factor[j*n+m] = v / c.factor[m*n+m]
				continue
			}
			if !(v > pivotFloor) {
				return false
			}
			c.factor[j*n+j] = math.Sqrt(v)
		}
	}
	return true
}

// invert gives the inverse of what is factorized, on the parameters' scale.
func (c *climber) invert() []float64 {
	n := len(c.at)
	inverse := make([]float64, n*n)
	column := make([]float64, n)
	for k := range n {
		clear(column)
		column[k] = 1
		for j := range n {
			for m := range j {
				column[j] -= c.factor[j*n+m] * column[m]
			}
			column[j] /= c.factor[j*n+j]
		}
		for j := n - 1; j >= 0; j-- {
			for m := j + 1; m < n; m++ {
				column[j] -= c.factor[m*n+j] * column[m]
			}
			column[j] /= c.factor[j*n+j]
		}
		for j := range n {
			inverse[j*n+k] = column[j] * c.scale[j] * c.scale[k]
		}
	}
	return inverse
}
