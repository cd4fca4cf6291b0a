package analysis

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"shelfspan/analysis/agreement"
	"shelfspan/study"
	"shelfspan/study/finding"
)

// Agreement is how far two people who graded the same samples of a grade or
// pass/fail attribute agree, over all its conditions and packs. Who graded is the
// analyst that the results name.
//
// The weights are linear: a disagreement counts by the number of grades it is
// apart. Grades are steps in order, so that neighbours are not as far apart as
// none and severe; squares would all but forgive neighbours, and kappa would rise
// with the number of grades (Brenner & Kliebsch, Epidemiology 7, 1996, 199–202; from memory).
type Agreement struct {
	Attribute int
	Assessors [2]string // in alphabetical order
	Result    agreement.Result
	Table     [][]int // samples by grade of the first, then of the second
	// Repeated: units are put back and graded several times, so that the samples
	// are not independent and the interval is too narrow.
	Repeated bool
	Warnings []finding.Warning
}

// poorKappa is the kappa below which agreement is called poor; common practice,
// no source.
const poorKappa = 0.4

// Poor reports whether kappa is low, or not told from chance by its interval.
func (g *Agreement) Poor() bool {
	switch g.Result.Status {
	case agreement.Computed:
		return g.Result.Kappa < poorKappa || g.Result.Low <= 0
	case agreement.NoError:
		return g.Result.Kappa < poorKappa
	case agreement.ByMargins:
		return true // whoever graded what, kappa is 0
	}
	return false
}

// Same counts the samples that both gave the same grade.
func (g *Agreement) Same() int {
	n := 0
	for i := range g.Table {
		n += g.Table[i][i]
	}
	return n
}

// grading is what one person gave one sample; of several readings the worst.
type grading struct {
	analyst uint32
	rank    int
}

// agreements compares, for each grade and pass/fail attribute, those who graded
// the same samples, pair by pair.
func (v *evaluator) agreements() []*Agreement {
	d := v.d
	named := make([][]int32, len(v.s.Attributes))
	for i := range d.Results {
		r := &d.Results[i]
		k := v.s.Attributes[r.Attribute].Kind
		if (k == study.Grade || k == study.PassFail) && r.Analyst != 0 && r.Censor == study.Exact && wanted(v.o.Attributes, int(r.Attribute)) {
			named[r.Attribute] = append(named[r.Attribute], int32(i))
		}
	}
	var out []*Agreement
	var rank []int32
	for a := range named {
		if several(d, named[a]) {
			if rank == nil {
				rank = textRanks(d.Texts)
			}
			out = append(out, v.agree(a, named[a], rank)...)
		}
	}
	return out
}

// several reports whether the results name more than one analyst.
func several(d *study.Dataset, results []int32) bool {
	return slices.ContainsFunc(results, func(i int32) bool { return d.Results[i].Analyst != d.Results[results[0]].Analyst })
}

// agree compares every pair of those who graded an attribute.
func (v *evaluator) agree(attribute int, results, rank []int32) []*Agreement {
	d, at := v.d, &v.s.Attributes[attribute]
	slices.SortFunc(results, func(i, j int32) int {
		a, b := &d.Results[i], &d.Results[j]
		return cmp.Or(compareSamples(v.s, a, b, rank), cmp.Compare(rank[a.Analyst], rank[b.Analyst]), cmp.Compare(a.Value, b.Value))
	})
	grades := max(len(at.Grades), 2)
	type pair struct{ first, second uint32 }
	ranks := make(map[pair][2][]int)
	for i := 0; i < len(results); {
		first := &d.Results[results[i]]
		var own []grading // of one sample, by analyst; results ascend, so that the worst comes last
		for ; i < len(results) && compareSamples(v.s, first, &d.Results[results[i]], rank) == 0; i++ {
			r := &d.Results[results[i]]
			g := grading{analyst: r.Analyst, rank: min(max(int(math.Round(r.Value)), 0), grades-1)}
			if n := len(own); n > 0 && own[n-1].analyst == g.analyst {
				own[n-1] = g
				continue
			}
			own = append(own, g)
		}
		for a := range own {
			for b := a + 1; b < len(own); b++ {
				p := pair{own[a].analyst, own[b].analyst}
				both := ranks[p]
				both[0], both[1] = append(both[0], own[a].rank), append(both[1], own[b].rank)
				ranks[p] = both
			}
		}
	}
	pairs := make([]pair, 0, len(ranks))
	for p := range ranks {
		pairs = append(pairs, p)
	}
	slices.SortFunc(pairs, func(a, b pair) int {
		return cmp.Or(cmp.Compare(rank[a.first], rank[b.first]), cmp.Compare(rank[a.second], rank[b.second]))
	})
	var out []*Agreement
	for _, p := range pairs {
		table, err := agreement.Table(ranks[p][0], ranks[p][1], grades)
		if err != nil {
			continue // no grade is off the scale
		}
		r, err := agreement.Kappa(table, agreement.Linear(grades), v.confidence)
		if err != nil {
			continue // the table is square, and the confidence one
		}
		g := &Agreement{Attribute: attribute, Assessors: [2]string{d.Text(p.first), d.Text(p.second)}, Result: r, Table: table,
			Repeated: at.Sampling == study.Returned}
		g.qualify(at.ID, v.confidence)
		out = append(out, g)
	}
	return out
}

// qualify warns of poor agreement.
func (g *Agreement) qualify(where string, confidence float64) {
	if !g.Poor() {
		return
	}
	t := fmt.Sprintf("%s and %s, who gave %d of the %d samples both graded the same grade, ", g.Assessors[0], g.Assessors[1], g.Same(), g.Result.Units)
	switch r := &g.Result; {
	case r.Status == agreement.ByMargins:
		t += "are not shown to agree by more than chance: one of them gave every sample the same grade, or their grades hardly overlap."
	case r.Kappa < poorKappa:
		t += fmt.Sprintf("agree poorly: weighted kappa is %.2f.", r.Kappa)
	default:
		t += fmt.Sprintf("are not shown to agree by more than chance: the %.4g %% interval of weighted kappa, %.2f, reaches zero.", 100*confidence, r.Kappa)
	}
	g.Warnings = append(g.Warnings, finding.Warning{Code: "poor-agreement", Where: where,
		Text: t + " Settle what each grade looks like before the grades are relied on; of one sample the worst grade counts."})
}
