package dossier

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"shelfspan/analysis"
	"shelfspan/analysis/lifetime"
	"shelfspan/reports/chart"
	"shelfspan/reports/words"
)

// Lifetimes gives what the looks at single units of an attribute say.
func (in Input) Lifetimes(attribute int) []*analysis.Lifetime {
	return slices.DeleteFunc(slices.Clone(in.Evaluation.Lifetimes), func(l *analysis.Lifetime) bool { return l.Attribute != attribute })
}

// LifetimesSaid says it in sentences, pack by pack.
func (in Input) LifetimesSaid(of []*analysis.Lifetime) []string {
	var out []string
	for _, l := range of {
		for i, t := range words.Lifetime(in.Evaluation, l, func(int) bool { return true }) {
			if pack := words.PackName(in.Evaluation.Dataset.Study, l.Pack, l.Orientation); pack != "" && i == 0 {
				t = "In " + pack + ": " + t
			}
			out = append(out, t)
		}
	}
	if len(of) > 0 {
		if t := words.NoFailure(in.Evaluation, of); t != "" {
			out = append(out, t)
		}
	}
	return out
}

// Agreements says how far those who graded an attribute agree.
func (in Input) Agreements(attribute int) []string {
	var out []string
	for _, g := range in.Evaluation.Agreements {
		if g.Attribute == attribute {
			out = append(out, words.Agreement(in.Evaluation, g))
		}
	}
	return out
}

// Units tabulates the units of an attribute by condition.
func (in Input) Units(of []*analysis.Lifetime) Grid {
	s := in.Evaluation.Dataset.Study
	g := Grid{
		Caption: fmt.Sprintf("Units of %s against the criterion, and the time in months by which %s of them miss it", s.Attributes[of[0].Attribute].ID, words.Percent(of[0].Share)),
		Named:   2,
		Columns: slices.Concat(Texts("Condition", "Pack"), Numbers("Units", "Failed", "By the last pull", "At most", "Seen", "Estimate", "Bound", "Wald bound"), Texts("Distribution")),
		Ordered: true,
	}
	fits, others := false, false
	for _, l := range of {
		for i := range l.Conditions {
			u := &l.Conditions[i]
			if !words.Tells(in.Evaluation, u) {
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
			g.add(s.Conditions[u.Condition].ID, in.place(l.Pack, l.Orientation), strconv.Itoa(u.Units), strconv.Itoa(u.Failed),
				last, most, words.Bracket(u.After, u.By), estimate, bound, wald, dash(distribution))
		}
	}
	g.Notes = []string{words.LifetimeNote(of[0], fits || slices.ContainsFunc(of, func(l *analysis.Lifetime) bool { return l.Joint.Fitted() }), others)}
	if !fits {
		g.without(7, 11)
	}
	return g
}

// Joint sets both distributions of lifetimes over all temperatures side by side; the
// one that governs is bold.
func (in Input) Joint(of []*analysis.Lifetime) Grid {
	g := Grid{
		Caption: "Lifetimes of " + in.Evaluation.Dataset.Study.Attributes[of[0].Attribute].ID + " over all temperatures",
		Named:   2, Again: 6,
		Columns: slices.Concat(Texts("Pack", "Distribution"), Numbers("AICc", "Spread of ln t", "Ea, kJ/mol", "Interval", "°C", words.Percent(of[0].Share)+" failed, months", "Bound", "Wald bound")),
		Notes:   []string{words.JointNote},
		Ordered: true,
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
				row := g.add(in.place(l.Pack, l.Orientation), words.DistributionName(c.Distribution), fixed(c.AICc, 1), fixed(c.Scale, 3), fixed(c.EaKJ, 1),
					open(c.EaLow)+" to "+open(c.EaHigh), "–", "–", "–", "–")
				if b.Confidence > 0 {
					for j, v := range []string{fitted(b.Celsius, 4), words.Estimate(b.Estimate), words.LifeBound(b), words.Bound(b.Wald)} {
						row[6+j].Text = v
					}
				}
				if i == 0 {
					bold(row)
				}
			}
		}
	}
	return g
}

// open writes an end of an interval, which may be open.
func open(v float64) string {
	if math.IsInf(v, 0) {
		return "open"
	}
	return fixed(v, 1)
}

// LifetimeCharts draws the share failed over time at each condition that a
// distribution speaks for.
func (in Input) LifetimeCharts(of []*analysis.Lifetime) []Framed {
	d := in.Evaluation.Dataset
	var out []Framed
	for _, l := range of {
		for i := range l.Conditions {
			u := &l.Conditions[i]
			if c, ok := chart.Lifetimes(d, l, u); ok {
				out = append(out, Framed{join(" · ", words.Condition(&d.Study.Conditions[u.Condition]), words.PackName(d.Study, l.Pack, l.Orientation)),
					"Units failed: " + words.Place(d.Study, l.Attribute, l.Pack, l.Orientation) + " at " + d.Study.Conditions[u.Condition].ID, c})
			}
		}
	}
	return out
}
