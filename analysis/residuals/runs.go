package residuals

import "math"

// Runs is the test of the signs of residuals for runs: few and long ones are
// those of a bend.
type Runs struct {
	Runs     int     // unbroken rows of one sign, of all series
	Expected float64 // their number if the signs come in no order
	P        float64 // the chance of so few or fewer then
}

// CountRuns counts the runs of signs in series of residuals, each in the order
// of time, and compares them with all orders that each series' own signs may
// come in. Residuals of zero have no sign and are left out. The signs of
// residuals of a fitted line change a little more often than by chance, so that
// P errs towards finding nothing.
//
// Source: Swed & Eisenhart, Annals of Mathematical Statistics 14, 1943, 66–87,
// for one series; of several the distributions are convolved.
func CountRuns(series ...[]float64) Runs {
	r := Runs{}
	all := []float64{1} // the chance of so many runs in the series so far
	for _, e := range series {
		plus, minus, runs, before := 0, 0, 0, 0.0
		for _, v := range e {
			if v == 0 || math.IsNaN(v) {
				continue
			}
			if v > 0 {
				plus++
			} else {
				minus++
			}
			if runs == 0 || v > 0 != (before > 0) {
				runs++
			}
			before = v
		}
		if runs == 0 {
			continue
		}
		r.Runs += runs
		all = convolve(all, runsChances(plus, minus))
	}
	for k, p := range all {
		r.Expected += float64(k) * p
		if k <= r.Runs {
			r.P += p
		}
	}
	r.P = min(r.P, 1)
	return r
}

// runsChances gives the chance of each number of runs that so many plus and
// minus signs can have.
func runsChances(plus, minus int) []float64 {
	if plus == 0 || minus == 0 {
		return []float64{0, 1}
	}
	chances := make([]float64, 2*min(plus, minus)+2)
	ways := logChoose(plus+minus, plus)
	for k := range chances {
		half := k / 2
		if k%2 == 0 {
			if half > 0 {
				chances[k] = 2 * math.Exp(logChoose(plus-1, half-1)+logChoose(minus-1, half-1)-ways)
			}
			continue
		}
		if half > 0 {
			chances[k] = math.Exp(logChoose(plus-1, half)+logChoose(minus-1, half-1)-ways) +
				math.Exp(logChoose(plus-1, half-1)+logChoose(minus-1, half)-ways)
		}
	}
	return chances
}

func convolve(a, b []float64) []float64 {
	c := make([]float64, len(a)+len(b)-1)
	for i, x := range a {
		for j, y := range b {
			c[i+j] += x * y
		}
	}
	return c
}

// logChoose is ln of n over k; −Inf where k is more than n.
func logChoose(n, k int) float64 {
	if k < 0 || k > n {
		return math.Inf(-1)
	}
	lg := func(m int) float64 { v, _ := math.Lgamma(float64(m + 1)); return v }
	return lg(n) - lg(k) - lg(n-k)
}
