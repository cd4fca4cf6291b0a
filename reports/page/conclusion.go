package page

import (
	"html/template"
	"strings"

	"shelfspan/reports/chart"
	"shelfspan/reports/dossier"
	"shelfspan/reports/words"
)

// conclusion writes what a reader looks for first: what is supported and by what
// it is limited, what must be kept in mind, and the trend that governs.
func (x *writer) conclusion() {
	failures := 0
	v := x.e.Supported
	if v != nil {
		for i := range v.Verdicts {
			if v.Verdicts[i].Failure != nil {
				failures++
			}
		}
	}
	for i, t := range words.Conclusion(x.e) {
		if i == 0 || i == failures { // the first failure, and the months
			first, rest, more := strings.Cut(t, ". ")
			if more {
				first += "."
			}
			x.put("lead", map[string]any{"First": x.text(first), "Rest": x.text(rest)})
		} else {
			x.paragraph("", t)
		}
	}
	if t := x.LeftOut(); t != "" {
		x.put("box", map[string]any{"ID": "left-out", "Plain": true, "Title": words.TitleLeftOut, "Lines": []template.HTML{x.text(t)}})
	}
	x.facts()
	x.put("box", map[string]any{"ID": "quote", "Plain": true, "Title": words.TitleQuote, "Lines": []template.HTML{x.text(words.Quote(x.e))}})
	if v != nil && dossier.Extrapolates(v) {
		x.paragraph("", words.Q1EConditions)
	}
	x.cautions()
	if v != nil && v.Analysis != nil && !dossier.AllAlike(x.s, v.Analysis) {
		if c, ok := chart.Of(x.d, v.Analysis, x.Claim()); ok {
			where := x.Where(v.Analysis)
			x.figure(wideHeight, "What governs: "+where+".", where, c)
		}
	}
}

// facts is the claim and its setting.
func (x *writer) facts() {
	type fact struct {
		Name  string
		Value template.HTML
	}
	var facts []fact
	for i, value := range x.Facts() {
		facts = append(facts, fact{words.HeadsFacts[i], x.text(value)})
	}
	x.put("facts", facts)
}

// cautions sets what is said about hazards, and what the page is.
func (x *writer) cautions() {
	title, lines := "Cautions, and what this document is", x.Cautions()
	if len(lines) == 0 {
		title = "What this document is"
	}
	var set []template.HTML
	for _, t := range append(lines, words.Disclaimer) {
		set = append(set, x.text(t))
	}
	x.put("box", map[string]any{"ID": "cautions", "Title": title, "Lines": set})
}

// limits writes the shelf life of each pack and what sets it, then of each
// attribute.
func (x *writer) limits() {
	v := x.e.Supported
	if v == nil || len(v.Verdicts) == 0 {
		return
	}
	if len(v.Packs) > 0 {
		var lines []template.HTML
		for i := range v.Packs {
			p := &v.Packs[i]
			t := words.Count(p.Months, "month") + ", by " + x.s.Attributes[p.Attribute].ID + ". " + words.Limit(x.e, p)
			if pack := words.PackName(x.s, p.Pack, p.Orientation); pack != "" {
				t = pack + ": " + t
			}
			lines = append(lines, x.text(t))
		}
		x.put("lines", lines)
		g := x.Verdicts("Supported shelf life by pack", v.Packs)
		g.Notes = []string{words.VerdictNote(x.e)} // which explains the columns once
		x.grid(g)
	}
	if len(v.Verdicts) != len(v.Packs) {
		x.grid(x.Verdicts("Supported shelf life by attribute", v.Verdicts))
	}
}

// place names pack and orientation; a study with one unnamed pack has none.
func (x *writer) place(pack, orientation int) string {
	return dash(words.PackName(x.s, pack, orientation))
}
