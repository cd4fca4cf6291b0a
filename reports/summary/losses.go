package summary

import (
	"strings"

	"shelfspan/analysis"
	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
)

// losses writes what the single units of a weighing lose, with and without
// leakers, and what semi-permeable packs lose where it is dry.
func (x *writer) losses(of []*analysis.Analysis) {
	t := words.Losses(x.s, of)
	notes := words.Leakers(x.s, of)
	if len(t.Rows)+len(notes) == 0 {
		return
	}
	if len(t.Rows) == 0 {
		for _, n := range notes {
			x.Note(n)
		}
	} else {
		x.worded(t, "Single units, "+x.s.Attributes[of[0].Attribute].ID, append([]string{words.LossesRead(of)}, notes...))
	}
	dry, said := words.AtLowHumidity(x.s, of), words.Humidity(x.s, of)
	if len(dry.Rows) > 0 {
		x.worded(dry, "At low humidity, "+x.s.Attributes[of[0].Attribute].ID, append([]string{words.LowHumidityRead}, said...))
		return
	}
	for _, n := range said {
		x.Note(n)
	}
}

// worded sets a table that was put into words.
func (x *writer) worded(t words.Table, caption string, notes []string) {
	heads := make([]string, len(t.Heads))
	for i, h := range t.Heads {
		heads[i] = strings.ToUpper(h[:1]) + h[1:]
	}
	out := pdf.Table{Caption: caption, Columns: columns(t.Names, heads...), Fixed: t.Names, Wide: true, Notes: notes}
	for _, r := range t.Rows {
		cells := append([]string{}, r...)
		for i := t.Names; i < len(cells); i++ {
			cells[i] = strings.ReplaceAll(cells[i], "-", "−")
		}
		out.Rows = append(out.Rows, pdf.Texts(cells...))
	}
	x.Table(out)
}
