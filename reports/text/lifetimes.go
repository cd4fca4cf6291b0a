package text

import (
	"fmt"
	"slices"
	"strconv"

	"shelfspan/analysis"
	"shelfspan/reports/words"
)

// lifetimes writes what the looks at single units say, attribute by attribute,
// at the conditions shown.
func (p *Printer) lifetimes(e *analysis.Evaluation, shown func(condition int) bool) {
	s := e.Dataset.Study
	told, fits, others := false, false, false
	for i := 0; i < len(e.Lifetimes); {
		j, head := i, e.Lifetimes[i]
		var rows [][]string
		for ; j < len(e.Lifetimes) && e.Lifetimes[j].Attribute == head.Attribute; j++ {
			rows = append(rows, unitRows(e, e.Lifetimes[j], shown)...)
		}
		if len(rows) > 0 {
			p.Heading(fmt.Sprintf("%s: when %s of the units miss the criterion, in months", s.Attributes[head.Attribute].ID, words.Percent(head.Share)))
			p.Table([]Column{{"condition", Left}, {"pack", Left}, {"units", Right}, {"failed", Right}, {"last pull", Right}, {"at most", Right},
				{"seen", Right}, {"fit", Right}, {"bound", Right}, {"", Left}}, blanked(rows))
			for _, l := range e.Lifetimes[i:j] {
				p.lifetime(e, l, shown)
				others = others || slices.ContainsFunc(l.Conditions, func(u analysis.UnitsAt) bool { return shown(u.Condition) && !words.Tells(e, &u) })
				fits = fits || l.Joint.Fitted() || slices.ContainsFunc(l.Conditions, func(u analysis.UnitsAt) bool { return shown(u.Condition) && u.Own.Fitted() })
			}
			if t := words.NoFailure(e, e.Lifetimes[i:j]); t != "" {
				p.Hanging("- ", t)
			}
			told = true
		}
		i = j
	}
	if told {
		p.Paragraph(words.LifetimeNote(e.Lifetimes[0], fits, others))
	}
	p.agreements(e)
}

// unitRows writes a row for each condition shown.
func unitRows(e *analysis.Evaluation, l *analysis.Lifetime, shown func(condition int) bool) [][]string {
	s := e.Dataset.Study
	var rows [][]string
	for i := range l.Conditions {
		u := &l.Conditions[i]
		if !shown(u.Condition) || !words.Tells(e, u) {
			continue
		}
		last, most := "–", "–"
		if n := len(u.Pulls); n > 0 {
			q := &u.Pulls[n-1]
			last, most = words.PullTime(q), words.AtMost(q.AtMost)
		}
		estimate, bound, distribution := words.LifeFit(u.Own, 0)
		rows = append(rows, []string{s.Conditions[u.Condition].ID, words.PackName(s, l.Pack, l.Orientation), strconv.Itoa(u.Units), strconv.Itoa(u.Failed),
			last, most, words.Bracket(u.After, u.By), estimate, bound, distribution})
	}
	return rows
}

// lifetime writes the sentences of one pack and orientation.
func (p *Printer) lifetime(e *analysis.Evaluation, l *analysis.Lifetime, shown func(condition int) bool) {
	s := e.Dataset.Study
	lead := words.PackName(s, l.Pack, l.Orientation)
	if lead != "" {
		lead += ": "
	}
	for i, t := range words.Lifetime(e, l, shown) {
		if i == 0 {
			t = lead + t
		}
		p.Hanging("- ", t)
	}
}

// agreements writes how far those who graded the same samples agree.
func (p *Printer) agreements(e *analysis.Evaluation) {
	for i, g := range e.Agreements {
		if i == 0 || e.Agreements[i-1].Attribute != g.Attribute {
			p.Heading(e.Dataset.Study.Attributes[g.Attribute].ID + ": those who graded it")
		}
		p.Hanging("- ", words.Agreement(e, g))
	}
}

// jointLifetimes writes the fits over the temperatures.
func (p *Printer) jointLifetimes(e *analysis.Evaluation) {
	s := e.Dataset.Study
	noted := false
	for _, l := range e.Lifetimes {
		said := words.LifetimeOverTemperatures(e, l)
		if len(said) == 0 {
			continue
		}
		p.Heading(words.Place(s, l.Attribute, l.Pack, l.Orientation) + ": lifetimes of units")
		for _, t := range said {
			p.Paragraph(t)
		}
		noted = noted || l.Joint.Fitted()
	}
	if noted {
		p.write("\n")
		p.Paragraph(words.LifetimesHangOn)
	}
}
