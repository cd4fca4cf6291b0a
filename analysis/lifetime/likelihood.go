package lifetime

import (
	"math"

	"shelfspan/analysis/censored"
)

// sample is the units that are fitted, as the likelihood needs them.
type sample struct {
	family   family
	kind     []censored.Kind
	low, top []float64 // ln of After and of By, less the line; only where the kind has them
	weight   []float64
	x        []float64 // 1000/R·(1/T − 1/Tref) over span, from −1 to 1; all zero where temperature does not enter
	stratum  []int     // whose location a unit has; nil where all have one
	centre   float64   // the median of the log times, roughly
	// line is a location for each column, in the order of the coefficients: through the
	// middle of the log times first, then through the fit.
	line     []float64
	invRef   float64 // 1/Tref
	span     float64 // greatest |1000/R·(1/T − 1/Tref)|, mol/kJ
	logTimes float64 // Σ units·ln t over the lifetimes known exactly: what a density in t has less than one in ln t
	spread   float64 // that of the log times, roughly
	// currentStatus says that every unit was only looked at once, so that the likelihood
	// is finite without a trend in time too.
	currentStatus bool
}

// The likelihood is taken in γ and φ = 1/σ,
//
//	z = φ·(ln t − origin) + Σ vⱼγⱼ + offset,
//
// in which its logarithm is concave, since the densities are log-concave (Burridge,
// J. R. Stat. Soc. B 43, 1981, 41–45): it has one top, and Newton's method gets
// there from anywhere. A linear condition on γ and φ, as that a quantile or the
// activation energy has a given value, leaves it concave in the rest.
type problem struct {
	*sample
	columns [][]float64 // v, one for each γ
	origin  []float64   // by unit
	offset  float64
}

// parameters is how many there are: the γ, and φ last.
func (p *problem) parameters() int { return len(p.columns) + 1 }

// look evaluates the log-likelihood, its gradient and its Hessian, row by row.
// Where the parameters lead beyond all numbers it is −Inf, and the rest is not set.
func (p *problem) look(at, gradient, hessian []float64) float64 {
	k := len(p.columns)
	n := k + 1
	phi := at[k]
	clear(gradient)
	clear(hessian)
	total, lnPhi := 0.0, math.Log(phi)
	for i, kind := range p.kind {
		eta := p.offset
		for j, v := range p.columns {
			eta += v[i] * at[j]
		}
		// The term's derivatives by η and φ.
		var l, e, f, ee, ef, ff float64
		if kind == censored.Between {
			width := p.top[i] - p.low[i]
			c := p.low[i] + width/2 - p.origin[i]
			t := p.family.between(eta+phi*c, phi*width)
			l, e, ee = t.l, t.m, t.mm
			f = c*t.m + width*t.w
			ef = c*t.mm + width*t.mw
			ff = c*c*t.mm + 2*c*width*t.mw + width*width*t.ww
		} else {
			var t slope
			var c float64
			switch kind {
			case censored.Exact:
				c = p.low[i] - p.origin[i]
				t = p.family.exact(eta + phi*c)
				l, f, ff = lnPhi, 1/phi, -1/(phi*phi)
			case censored.Left:
				c = p.top[i] - p.origin[i]
				t = p.family.left(eta + phi*c)
			case censored.Right:
				c = p.low[i] - p.origin[i]
				t = p.family.right(eta + phi*c)
			}
			l += t.l
			e, ee = t.z, t.zz
			f += c * t.z
			ef = c * t.zz
			ff += c * c * t.zz
		}
		w := p.weight[i]
		total += w * l
		gradient[k] += w * f
		hessian[k*n+k] += w * ff
		for j, v := range p.columns {
			wv := w * v[i]
			gradient[j] += wv * e
			hessian[j*n+k] += wv * ef
			for m := j; m < k; m++ {
				hessian[j*n+m] += wv * p.columns[m][i] * ee
			}
		}
	}
	for j := range n {
		for m := range j {
			hessian[j*n+m] = hessian[m*n+j]
		}
	}
	sum := total
	for _, g := range gradient {
		sum += g
	}
	for _, h := range hessian {
		sum += h
	}
	if math.IsNaN(sum) || math.IsInf(sum, 0) {
		return math.Inf(-1)
	}
	return total
}

// recentre moves the line to the fitted location, where location and scale are least entangled: with a small spread
// about a location elsewhere they cannot be told apart for rounding. Where the
// location is outside the data they are least so at the data. It reports whether
// it moved.
func (p *problem) recentre(at []float64) bool {
	phi := at[len(p.columns)]
	location := func(i int) float64 {
		sum := 0.0
		for j, v := range p.columns {
			sum -= v[i] * at[j] / phi
		}
		return sum
	}
	reach := 0.0
	for i, kind := range p.kind {
		if kind != censored.Left {
			reach = max(reach, math.Abs(p.low[i]))
		}
		if kind != censored.Right {
			reach = max(reach, math.Abs(p.top[i]))
		}
	}
	for i := range p.kind {
		if !(math.Abs(location(i)) <= reach) {
			return false
		}
	}
	for i := range p.kind {
		l := location(i)
		p.low[i] -= l
		p.top[i] -= l
	}
	for j := range p.columns {
		p.line[j] -= at[j] / phi
	}
	return true
}
