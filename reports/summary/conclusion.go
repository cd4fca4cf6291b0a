package summary

import (
	"math"

	"shelfspan/analysis"
	"shelfspan/reports/chart"
	"shelfspan/reports/dossier"
	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
)

// conclusion writes the first page: what is supported, by what it is limited,
// and what must be kept in mind.
func (x *writer) conclusion() {
	title := x.s.Title
	if title == "" {
		title = "Stability study " + x.s.ID
	}
	x.Title(title, joinBy(" · ", x.s.Product, "study "+x.s.ID, "started "+x.s.Start.String()))
	x.Section(words.SectionConclusion.Title())
	said := words.Conclusion(x.e)
	failures := 0
	if v := x.e.Supported; v != nil {
		for i := range v.Verdicts {
			if v.Verdicts[i].Failure != nil {
				failures++
			}
		}
	}
	for i, t := range said {
		if i == 0 || i == failures { // the first failure, and the months
			x.Lead(t)
		} else {
			x.Paragraph(t)
		}
	}
	if t := x.LeftOut(); t != "" {
		x.Box(words.TitleLeftOut, []string{t})
	}
	x.facts()
	x.Box(words.TitleQuote, []string{words.Quote(x.e)})
	v := x.e.Supported
	if v != nil {
		g := x.Verdicts(words.CaptionByPack, v.Packs)
		g.Notes = []string{words.VerdictNote(x.e)} // which explains the columns once
		x.grid(g)
		if dossier.Extrapolates(v) {
			x.Paragraph(words.Q1EConditions)
		}
	}
	if cautions := x.Cautions(); len(cautions) > 0 {
		x.Box("Cautions, and what this document is", append(cautions, words.Disclaimer))
	} else {
		x.Box("What this document is", []string{words.Disclaimer})
	}
	x.governing(v)
	x.Contents(words.TitleContents, x.listed)
	if v != nil && len(v.Verdicts) != len(v.Packs) {
		x.Need(math.Min(500, 80+16*float64(len(v.Verdicts))))
		x.grid(x.Verdicts(words.CaptionByAttribute, v.Verdicts))
	}
}

// governing draws the trend that sets the shelf life, where the first page has
// room for it; it stands among the others too.
func (x *writer) governing(v *analysis.Supported) {
	const least, most, caption = 150, 260, 30
	if v == nil || v.Analysis == nil || dossier.AllAlike(x.s, v.Analysis) || x.Room() < least+caption {
		return
	}
	if c, ok := chart.Of(x.d, v.Analysis, x.Claim()); ok {
		x.Figure(math.Min(most, x.Room()-caption), "What governs: "+x.Where(v.Analysis)+".", c.Draw)
	}
}

// facts is the claim and its setting in one small table.
func (x *writer) facts() {
	x.Table(pdf.Table{
		Wide:    true,
		Columns: columns(5, words.HeadsFacts...),
		Rows:    []pdf.Row{pdf.Texts(x.Facts()...)},
	})
}

func joinBy(sep string, parts ...string) string {
	out := ""
	for _, p := range parts {
		if p == "" {
			continue
		}
		if out != "" {
			out += sep
		}
		out += p
	}
	return out
}
