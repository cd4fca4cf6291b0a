package analysis

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"shelfspan/analysis/censored"
	"shelfspan/analysis/fisher"
	"shelfspan/analysis/lifetime"
	"shelfspan/study"
)

// madeUp is studies of two packs made up to see how often a difference is found.
type madeUp struct {
	batches int
	units   [2]int // of each batch, of the first and of the other pack
	uneven  bool   // in every other batch the numbers change places
	once    bool   // each unit is opened once, at one of the pulls
	median  float64
	sigma   float64
	between float64 // standard deviation of the batches' ln of the median
	ratio   float64 // ln of the packs' times
	apart   float64 // standard deviation of that from batch to batch
	weibull bool
}

var pullsMadeUp = []float64{3, 6, 9, 12, 18, 24}

// draw gives a study's lifetimes, by batch, and who failed by the last pull.
func (m *madeUp) draw(r *rand.Rand) (strata []lifetime.Stratum, tables [][2][2]int) {
	for b := range m.batches {
		shift := m.between * r.NormFloat64()
		ratio := m.ratio + m.apart*r.NormFloat64()
		var groups [2][]censored.Interval
		var table [2][2]int
		for g := range groups {
			n := m.units[g]
			if m.uneven && b%2 == 1 {
				n = m.units[1-g]
			}
			for u := range n {
				z := r.NormFloat64()
				if m.weibull {
					z = math.Log(r.ExpFloat64())
				}
				life := math.Log(m.median) + shift + float64(1-g)*ratio + m.sigma*z
				x := censored.Interval{By: math.Inf(1), Units: 1}
				looks, last := pullsMadeUp, true
				if m.once {
					at := u % len(pullsMadeUp)
					looks, last = pullsMadeUp[at:at+1], at == len(pullsMadeUp)-1
				}
				for _, t := range looks {
					if life <= math.Log(t) {
						x.By = t
						break
					}
					x.After = t
				}
				groups[g] = append(groups[g], x)
				if last {
					if math.IsInf(x.By, 1) {
						table[g][1]++
					} else {
						table[g][0]++
					}
				}
			}
		}
		strata = append(strata, lifetime.Stratum{Other: censored.Merge(groups[0]), Reference: censored.Merge(groups[1])})
		tables = append(tables, table)
	}
	return strata, tables
}

func together(strata []lifetime.Stratum, tables [][2][2]int) ([]lifetime.Stratum, [][2][2]int) {
	var s lifetime.Stratum
	var t [2][2]int
	for k := range strata {
		s.Other, s.Reference = append(s.Other, strata[k].Other...), append(s.Reference, strata[k].Reference...)
		for i := range 2 {
			for j := range 2 {
				t[i][j] += tables[k][i][j]
			}
		}
	}
	s.Other, s.Reference = censored.Merge(s.Other), censored.Merge(s.Reference)
	return []lifetime.Stratum{s}, [][2][2]int{t}
}

// found is in how many of some studies a difference is found at 5 %, within batches and
// with batches together, and in how many by lifetimes within batches.
func (m *madeUp) found(studies int, seed uint64) (within, before, lives float64) {
	r := rand.New(rand.NewPCG(seed, 0))
	p := func(strata []lifetime.Stratum, tables [][2][2]int) (float64, bool) {
		if d, _ := lifetimesDiffer(lifetime.DifferenceInput{Strata: strata, Confidence: 0.95}); d != nil {
			return d.P, true
		}
		f, err := fisher.Stratified(tables, 0.95)
		if err != nil {
			panic(err)
		}
		return f.P, false
	}
	for range studies {
		strata, tables := m.draw(r)
		one, by := p(strata, tables)
		if one < 0.05 {
			within++
		}
		if by {
			lives++
		}
		if all, _ := p(together(strata, tables)); all < 0.05 {
			before++
		}
	}
	n := float64(studies)
	return within / n, before / n, lives / n
}

// Where batches differ and one pack has more units in some of them, batches together find
// a difference of the packs where there is none; within batches about as often as said.
// Where the packs have as many units in each, batches together hide one that is there. Of
// 600 studies a share of 5 % has a binomial error of 0.9 points, one of 50 % of 2.
func TestFoundWithinBatches(t *testing.T) {
	if testing.Short() {
		t.Skip("1,200 studies")
	}
	const studies = 600
	alike := madeUp{batches: 3, units: [2]int{18, 6}, uneven: true, median: 14, sigma: 0.5, between: 0.5}
	within, before, lives := alike.found(studies, 7)
	t.Logf("packs alike: found within batches in %.3f, with batches together in %.3f; by lifetimes in %.2f", within, before, lives)
	if !(within < 0.09 && before > 0.25 && lives > 0.95) {
		t.Errorf("packs alike: found within batches in %.3f, with batches together in %.3f; by lifetimes in %.2f", within, before, lives)
	}
	unlike := madeUp{batches: 3, units: [2]int{12, 12}, median: 14, sigma: 0.5, between: 0.5, ratio: math.Log(0.7)}
	within, before, _ = unlike.found(studies, 7)
	t.Logf("packs unlike: found within batches in %.3f, with batches together in %.3f", within, before)
	if !(within > before+0.1 && within > 0.7) {
		t.Errorf("packs unlike: found within batches in %.3f, with batches together in %.3f", within, before)
	}
}

// More units in several tables than are dealt with are told, not passed over.
func TestTooManyUnits(t *testing.T) {
	s := &study.Study{Batches: make([]study.Batch, 2), Attributes: []study.Attribute{{}}}
	f := &field{v: &evaluator{s: s, confidence: 0.95}}
	pack := func(odd int) (out []Sample) {
		for i := range fisher.MostStratified / 2 * 2 {
			out = append(out, Sample{Batch: i % 2, PlannedMonths: 6, OutOfCriterion: i%4 < odd})
		}
		return out
	}
	x := f.test(&Comparison{P: math.NaN()}, pack(1), pack(2))
	if x == nil || x.Outcome != NotCompared || x.Reason != "the counts of several tables add to more than 50000" || !math.IsNaN(x.P) {
		t.Errorf("%+v", x)
	}
}

// SHELFSPAN_STUDIES=4000 makes the table of DEVELOPERS.md.
func TestFoundAtLarge(t *testing.T) {
	studies, err := strconv.Atoi(os.Getenv("SHELFSPAN_STUDIES"))
	if err != nil {
		t.Skip("SHELFSPAN_STUDIES says how many studies a setting")
	}
	for _, base := range []madeUp{
		{batches: 3, units: [2]int{6, 6}, median: 14},
		{batches: 3, units: [2]int{12, 12}, median: 14},
		{batches: 3, units: [2]int{12, 12}, median: 30},
		{batches: 3, units: [2]int{12, 12}, median: 80},
		{batches: 3, units: [2]int{24, 24}, median: 14, once: true},
		{batches: 6, units: [2]int{6, 6}, median: 14},
		{batches: 6, units: [2]int{12, 12}, median: 14},
		{batches: 6, units: [2]int{12, 12}, median: 30},
		{batches: 6, units: [2]int{12, 12}, median: 80},
		{batches: 6, units: [2]int{12, 12}, median: 14, weibull: true},
		{batches: 3, units: [2]int{18, 6}, uneven: true, median: 14},
		{batches: 3, units: [2]int{18, 6}, uneven: true, median: 80},
		{batches: 6, units: [2]int{18, 6}, uneven: true, median: 14},
	} {
		line := fmt.Sprintf("| %d | %d", base.batches, base.units[0])
		if base.uneven {
			line += fmt.Sprintf(" and %d by turns", base.units[1])
		}
		line += map[bool]string{false: " put back", true: " opened once"}[base.once] + fmt.Sprintf(", median %g", base.median) + map[bool]string{true: ", Weibull"}[base.weibull]
		for _, x := range [][3]float64{{0.3, 0, 0}, {0, 0, 0}, {0.3, math.Log(0.7), 0}, {0, math.Log(0.7), 0}, {0.3, 0, 0.2}} {
			m := base
			m.sigma, m.between, m.ratio, m.apart = 0.5, x[0], x[1], x[2]
			within, before, lives := m.found(studies, 1)
			line += fmt.Sprintf(" | %.1f / %.1f", 100*before, 100*within)
			if x == [3]float64{0.3, 0, 0} {
				line += fmt.Sprintf(" (%.0f)", 100*lives)
			}
		}
		fmt.Println(line + " |")
	}
}
