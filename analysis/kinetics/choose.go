package kinetics

import (
	"math"
	"slices"

	"shelfspan/analysis/linear"
	"shelfspan/study"
)

// Point is one result: the elapsed time in months and the value.
type Point struct{ Months, Value float64 }

// Candidate is one model in a comparison.
type Candidate struct {
	Model Model
	AICc  float64 // NaN where it was left out, −Inf where a group lies on it without residual
	Note  string  // why it was left out; empty otherwise
}

// Notes on candidates that were left out.
const (
	NotPositive    = "a value is zero or negative"
	WrongBasis     = "a change in the attribute's unit cannot be judged on this scale"
	BeforeBaseline = "a result is from before the trend counts"
	TooFewToTell   = "too few results for the comparison"
)

// advantage is by how much AICc has to be better before another model replaces
// zero-order. A difference of 2 or less leaves the models all but equally
// supported (Burnham & Anderson, Model Selection and Multimodel Inference, 2.6).
const advantage = 2

// Choose compares the models on one or several groups of batches and names the
// one to use for all of them. A group is what is evaluated together: one
// attribute at one condition in one pack and orientation; each of its batches
// gets its own line. Time counts from baseline, in months. On the basis
// change-from-initial, which is judged in the attribute's own unit, first and
// second order do not stand.
//
// For one group of N values in b batches, with k = 2b + 1 parameters,
//
//	AICc = N·ln(2π·SSE/N) + N − 2·Σ ln|g′(y)| + 2k + 2k(k+1)/(N−k−1)
//
// (Hurvich & Tsai, Biometrika 76, 1989, 297; the Jacobian as in Box & Cox,
// J. R. Stat. Soc. B 26, 1964, 211). Groups have their own lines and their own
// variance, so their likelihoods multiply, and their AICc, correction and all,
// adds up. The time-zero results that groups share count in each. A group with
// N − k − 1 ≤ 0, or with fewer than three distinct times in a batch, tells
// nothing of any model and is left out; a value out of a model's domain
// anywhere leaves the model out.
//
// The lowest AICc replaces zero-order only if it is lower by more than 2; of
// equals the one first in Models is taken. Where nothing can be compared it is
// zero-order.
func Choose(groups [][][]Point, baseline float64, basis study.Basis) (Model, []Candidate) {
	var telling [][][]Point
	for _, g := range groups {
		if tells(g) {
			telling = append(telling, g)
		}
	}
	candidates := make([]Candidate, len(Models))
	var line scratch
	for i, m := range Models {
		c := Candidate{Model: m, Note: m.reasonAgainst(groups, baseline, basis)}
		if c.Note == "" && len(telling) == 0 {
			c.Note = TooFewToTell
		}
		if c.Note != "" {
			c.AICc = math.NaN()
		}
		for _, g := range telling {
			c.AICc += m.aicc(g, baseline, &line)
		}
		candidates[i] = c
	}
	return Models[Preferred(candidates)], candidates
}

// Preferred is the index of the candidate to be used, of those in the order of
// Models: the one of lowest AICc, where it is lower than that of zero-order by
// more than 2, else zero-order.
func Preferred(candidates []Candidate) int {
	best := 0
	for i, c := range candidates {
		if c.AICc < candidates[best].AICc { // never true of NaN
			best = i
		}
	}
	if candidates[best].AICc < candidates[0].AICc-advantage {
		return best
	}
	return 0
}

// AICc is the criterion of n values fitted with k parameters, the variance among
// them, for the residual sum of squares on a scale g and Σ ln|g′(y)|; NaN where
// n − k − 1 ≤ 0. See Choose.
func AICc(n, k int, sse, logDerivatives float64) float64 {
	if n-k-1 <= 0 {
		return math.NaN()
	}
	size, parameters := float64(n), float64(k)
	return size*math.Log(2*math.Pi*sse/size) + size - 2*logDerivatives + 2*parameters + 2*parameters*(parameters+1)/(size-parameters-1)
}

// tells reports whether every batch that has results has times enough for a
// line, and the group more values than the comparison has parameters.
func tells(group [][]Point) bool {
	n, batches := 0, 0
	for _, b := range group {
		if len(b) == 0 {
			continue
		}
		if DistinctTimes(b) < 3 {
			return false
		}
		n += len(b)
		batches++
	}
	return n-parameters(batches)-1 > 0
}

// parameters of separate lines with one variance.
func parameters(batches int) int { return 2*batches + 1 }

func (m Model) reasonAgainst(groups [][][]Point, baseline float64, basis study.Basis) string {
	if !m.Judges(basis) {
		return WrongBasis
	}
	for _, g := range groups {
		for _, b := range g {
			for _, p := range b {
				switch {
				case !m.InDomain(p.Value):
					return NotPositive
				case !(p.Months >= baseline):
					return BeforeBaseline
				}
			}
		}
	}
	return ""
}

// scratch is room for one batch's line, used again for the next.
type scratch struct{ x, z []float64 }

// aicc is a telling group's AICc; NaN where a line could not be fitted after
// all, as where times are too close together to be told apart.
func (m Model) aicc(group [][]Point, baseline float64, line *scratch) float64 {
	n, batches := 0, 0
	sse, jacobian := 0.0, 0.0
	for _, batch := range group {
		if len(batch) == 0 {
			continue
		}
		line.x, line.z = line.x[:0], line.z[:0]
		for _, p := range batch {
			line.x = append(line.x, m.Time(p.Months-baseline))
			line.z = append(line.z, m.Transform(p.Value))
			jacobian += m.LogDerivative(p.Value)
		}
		_, rss, err := linear.Straight(line.x, line.z)
		if err != nil {
			return math.NaN()
		}
		sse += rss
		n += len(batch)
		batches++
	}
	return AICc(n, parameters(batches), sse, jacobian)
}

const second = 1 / (86400 * study.DaysPerMonth) // months

// DistinctTimes counts the different times of a batch; below three no line is
// fitted. Times less than a second apart are one.
func DistinctTimes(batch []Point) int {
	var room [64]float64
	times := room[:0]
	for _, p := range batch {
		times = append(times, p.Months)
	}
	slices.Sort(times)
	distinct := 0
	for i, t := range times {
		if i == 0 || t-times[i-1] >= second {
			distinct++
		}
	}
	return distinct
}
