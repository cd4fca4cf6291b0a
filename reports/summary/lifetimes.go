package summary

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot/vg/draw"

	"shelfspan/analysis"
	"shelfspan/analysis/lifetime"
	"shelfspan/reports/chart"
	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
)

// lifetimes writes what the looks at single units of an attribute say: how many
// failed at which condition, the distributions of their lifetimes, and how far
// those who graded agree.
func (x *writer) lifetimes(attribute int) {
	var of []*analysis.Lifetime
	for _, l := range x.e.Lifetimes {
		if l.Attribute == attribute {
			of = append(of, l)
		}
	}
	if len(of) > 0 {
		x.unitsTable(of)
		x.jointTable(of)
		for _, l := range of {
			for i, t := range words.Lifetime(x.e, l, func(int) bool { return true }) {
				if pack := words.PackName(x.s, l.Pack, l.Orientation); pack != "" && i == 0 {
					t = "In " + pack + ": " + t
				}
				x.Paragraph(t)
			}
		}
		if t := words.NoFailure(x.e, of); t != "" {
			x.Paragraph(t)
		}
		x.lifetimeCharts(of)
	}
	for _, g := range x.e.Agreements {
		if g.Attribute == attribute {
			x.Paragraph(words.Agreement(x.e, g))
		}
	}
}

// unitsTable tabulates the units by condition.
func (x *writer) unitsTable(of []*analysis.Lifetime) {
	t := pdf.Table{
		Caption: fmt.Sprintf("Units of %s against the criterion, and the time in months by which %s of them miss it", x.s.Attributes[of[0].Attribute].ID, words.Percent(of[0].Share)),
		Wide:    true,
		Fixed:   2,
		Columns: columns(2, "Condition", "Pack", "Units", "Failed", "By the last pull", "At most", "Seen", "Estimate", "Bound", "Wald bound", "Distribution"),
	}
	t.Columns[10].Align = pdf.Left
	fits, others := false, false
	for _, l := range of {
		for i := range l.Conditions {
			u := &l.Conditions[i]
			if !words.Tells(x.e, u) {
				others = true
				continue
			}
			last, most, wald := "–", "–", "–"
			if n := len(u.Pulls); n > 0 {
				p := &u.Pulls[n-1]
				last, most = fmt.Sprintf("%d of %d at %s", p.Failed, p.Units, words.PullTime(p)), words.AtMost(p.AtMost)
			}
			estimate, bound, distribution := words.LifeFit(u.Own, 0)
			if u.Own.Fitted() {
				fits, wald = true, words.Bound(u.Own.Candidates[0].Bounds[0].Wald)
			}
			t.Rows = append(t.Rows, pdf.Texts(x.s.Conditions[u.Condition].ID, x.place(l.Pack, l.Orientation), strconv.Itoa(u.Units), strconv.Itoa(u.Failed),
				last, most, words.Bracket(u.After, u.By), estimate, bound, wald, dash(distribution)))
		}
	}
	t.Notes = []string{words.LifetimeNote(of[0], fits || slices.ContainsFunc(of, func(l *analysis.Lifetime) bool { return l.Joint.Fitted() }), others)}
	if !fits {
		for range 4 {
			t = without(t, 7)
		}
	}
	if len(t.Rows) > 0 {
		x.Table(t)
	}
}

// jointTable sets both distributions over all temperatures side by side.
func (x *writer) jointTable(of []*analysis.Lifetime) {
	t := pdf.Table{
		Caption: "Lifetimes of " + x.s.Attributes[of[0].Attribute].ID + " over all temperatures",
		Wide:    true,
		Fixed:   2,
		Columns: columns(2, "Pack", "Distribution", "AICc", "Spread of ln t", "Ea, kJ/mol", "Interval", "°C", words.Percent(of[0].Share)+" failed, months", "Bound", "Wald bound"),
	}
	for _, l := range of {
		if !l.Joint.Fitted() {
			continue
		}
		for i := range l.Joint.Candidates {
			c := &l.Joint.Candidates[i]
			if c.Status != lifetime.Fitted {
				continue
			}
			bounds := c.Bounds
			if len(bounds) == 0 {
				bounds = []analysis.UnitBound{{}}
			}
			for k := range bounds {
				b := &bounds[k]
				row := pdf.Texts(x.place(l.Pack, l.Orientation), words.DistributionName(c.Distribution), fixed(c.AICc, 1), fixed(c.Scale, 3), fixed(c.EaKJ, 1),
					open(c.EaLow)+" to "+open(c.EaHigh), "–", "–", "–", "–")
				if b.Confidence > 0 {
					for j, v := range []string{fitted(b.Celsius, 4), words.Estimate(b.Estimate), words.LifeBound(b), words.Bound(b.Wald)} {
						row.Cells[6+j].Text = v
					}
				}
				if k > 0 {
					for j := range 6 {
						row.Cells[j].Text = ""
					}
				}
				for j := range row.Cells {
					row.Cells[j].Bold = i == 0
				}
				t.Rows = append(t.Rows, row)
			}
		}
	}
	if len(t.Rows) > 0 {
		t.Notes = []string{"Bold: the distribution with the lower AICc, which governs."}
		x.Table(t)
	}
}

// open writes an end of an interval, which may be open.
func open(v float64) string {
	if math.IsInf(v, 0) {
		return "open"
	}
	return fixed(v, 1)
}

// lifetimeCharts draws the share failed over time at each condition that a
// distribution speaks for.
func (x *writer) lifetimeCharts(of []*analysis.Lifetime) {
	var charts []func(draw.Canvas)
	var captions []string
	var drawn []*chart.Chart
	for _, l := range of {
		for i := range l.Conditions {
			u := &l.Conditions[i]
			if c, ok := chart.Lifetimes(x.d, l, u); ok {
				charts, drawn = append(charts, c.Draw), append(drawn, c)
				captions = append(captions, joinBy(" · ", words.Condition(&x.s.Conditions[u.Condition]), words.PackName(x.s, l.Pack, l.Orientation)))
			}
		}
	}
	if len(drawn) == 0 {
		return
	}
	height, key := chart.Key(drawn, x.Width())
	x.Need(height + smallHeight + 50)
	x.Figure(height, "", key)
	x.pairs(smallHeight, captions, charts)
	x.Note("Curves: the fit over all temperatures, or, where there is none, that of the condition alone. The bound is that of the distribution that governs.")
}
