package lifetime

import "math"

// profile is the log-likelihood with one quantity held at a value and the rest
// at its best. The quantity is a ratio of linear functions of γ and φ, φ the
// divisor, so that the values at which the profile is above a level are those
// that a convex set of parameters takes, an interval: it has one top and falls
// from there on either side, and an end found is the end.
type profile struct {
	*climber
	hold  func(value float64)
	start []float64
	top   float64
	sound bool
}

// profile makes one of a problem in which hold sets the value. The start is that
// of the rest at the fit.
func (f *fitted) profile(p *problem, start []float64, hold func(value float64)) *profile {
	return &profile{climber: newClimber(p), hold: hold, start: start, top: f.top.height, sound: true}
}

// depth is how far the profile is below the top at a value, as the standard
// normal quantile that belongs to it: √(2·(top − profile)).
func (p *profile) depth(value float64) float64 {
	p.hold(value)
	r := p.climb(p.start)
	if !r.converged {
		p.sound = false
		return math.Inf(1)
	}
	copy(p.start, r.at)
	return math.Sqrt(2 * max(0, p.top-r.height))
}

// end is the value at which the depth is z, from the estimate in the direction
// of a standard error. It is open where the depth is not that great farther out
// than any value counts; not sound where a climb did not end.
func (p *profile) end(estimate, se, z, farthest float64) (at float64, open, sound bool) {
	return p.onward(estimate, 0, se, z, farthest)
}

// onward is the end from a value whose depth is known, which is where it ends if
// that is z or more.
func (p *profile) onward(from, depth, se, z, farthest float64) (at float64, open, sound bool) {
	if z <= depth {
		return from, false, true
	}
	near, nearDepth := from, depth
	// Not so short that it is lost in rounding.
	reach := math.Copysign(max(math.Abs(se)*(z-depth), 1e-9*(1+math.Abs(from))), se)
	for {
		far := from + reach
		depth := p.depth(far)
		if !p.sound {
			return from, false, false
		}
		if depth >= z {
			return p.between(near, nearDepth-z, far, depth-z, z)
		}
		if math.Abs(reach) > farthest {
			return far, true, true
		}
		near, nearDepth = far, depth
		reach *= 2
	}
}

// between finds where the depth is z, from a value at which it is less, by below
// zero, and one at which it is not, by above, on the secant through both
// (Illinois), halved where that is slow.
func (p *profile) between(near, below, far, above, z float64) (at float64, open, sound bool) {
	const tolerance = 1e-9
	width := math.Abs(far - near)
	side := 0
	for k := 0; k < 100 && math.Abs(far-near) > 1e-13*width; k++ {
		x := (near*above - far*below) / (above - below)
		if k%4 == 3 || !(min(near, far) < x && x < max(near, far)) {
			x = near + (far-near)/2
		}
		d := p.depth(x) - z
		if !p.sound {
			return near, false, false
		}
		if math.Abs(d) <= tolerance {
			return x, false, true
		}
		if d < 0 {
			near, below = x, d
			if side == -1 {
				above /= 2
			}
			side = -1
		} else {
			far, above = x, d
			if side == 1 {
				below /= 2
			}
			side = 1
		}
	}
	return near + (far-near)/2, false, true
}
