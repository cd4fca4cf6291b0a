package chart

import (
	"cmp"
	"fmt"
	"image/color"
	"math"
	"slices"

	"shelfspan/analysis"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// Grades draws, for each pull, the share of units in each grade (or passed and
// failed), stacked from the best below to the worst on top. Darker is worse.
func Grades(d *study.Dataset, a *analysis.Analysis) (*Chart, bool) {
	at := &d.Study.Attributes[a.Attribute]
	names := at.Grades
	if at.Kind == study.PassFail {
		names = []string{"pass", "fail"}
	}
	type pull struct {
		months float64
		text   string
		count  []int
		total  int
	}
	pulls := map[float64]*pull{}
	for i := range a.Samples {
		s := &a.Samples[i]
		g := int(math.Round(s.Value))
		if !finite(s.Value) || g < 0 || g >= len(names) {
			continue
		}
		p := pulls[s.PlannedMonths]
		if p == nil {
			p = &pull{months: s.PlannedMonths, text: s.Planned.String(), count: make([]int, len(names))}
			pulls[s.PlannedMonths] = p
		}
		p.count[g]++
		p.total++
	}
	if len(pulls) == 0 || len(names) == 0 {
		return nil, false
	}
	var order []*pull
	for _, p := range pulls {
		order = append(order, p)
	}
	slices.SortFunc(order, func(p, q *pull) int { return cmp.Compare(p.months, q.months) })

	c := &Chart{
		x: axis{label: "planned pull (units judged)", min: -0.7, max: math.Max(float64(len(order)), 6) - 0.3},
		y: axis{label: "share of units (%)", min: 0, max: 102},
	}
	c.y.ticks = []tick{{0, "0"}, {25, "25"}, {50, "50"}, {75, "75"}, {100, "100"}}
	for i, p := range order {
		c.x.ticks = append(c.x.ticks, tick{float64(i), fmt.Sprintf("%s (%d)", p.text, p.total)})
		from := 0.0
		for g, n := range p.count {
			if n == 0 {
				continue
			}
			to := from + 100*float64(n)/float64(p.total)
			c.bars = append(c.bars, bar{xy{float64(i) - 0.32, from}, xy{float64(i) + 0.32, to}, shadeOf(g, len(names)),
				fmt.Sprintf("%s: %d of %s %s", p.text, n, words.Count(p.total, "unit"), names[g])})
			from = to
		}
	}
	for g, text := range names {
		if float64(g) > at.Upper || float64(g) < at.Lower {
			text += " (outside the criterion)"
		}
		c.legend = append(c.legend, entry{text: text, fill: shadeOf(g, len(names))})
	}
	c.Description = fmt.Sprintf("Share of units in each grade by pull: %s at %s, criterion %s.",
		words.Place(d.Study, a.Attribute, a.Pack, a.Orientation), words.Condition(&d.Study.Conditions[a.Condition]), words.Criterion(at))
	return c, true
}

// shadeOf runs from nearly white to nearly black with the grade, through a
// cool blue, so that it reads alike in colour and in grey.
func shadeOf(grade, of int) color.RGBA {
	k := worse(grade, of)
	mix := func(from, to float64) uint8 { return uint8(math.Round(from + (to-from)*k)) }
	return color.RGBA{mix(238, 24), mix(242, 34), mix(246, 58), 255}
}

// worse is how far a grade lies from the best (0) to the worst (1).
func worse(grade, of int) float64 {
	if of < 2 {
		return 0
	}
	return float64(grade) / float64(of-1)
}
