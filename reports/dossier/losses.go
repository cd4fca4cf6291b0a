package dossier

import (
	"shelfspan/analysis"
	"shelfspan/reports/words"
)

// Losses tells what the single units of a weighing lose, with and without leakers,
// and what semi-permeable packs lose where it is dry. Where a grid has no rows its
// notes stand alone; where nothing is to be said it has neither.
func (in Input) Losses(of []*analysis.Analysis) (units, dry Grid) {
	if len(of) == 0 {
		return units, dry
	}
	s := in.Evaluation.Dataset.Study
	id := s.Attributes[of[0].Attribute].ID
	return worded(words.Losses(s, of), "Single units, "+id, words.LossesRead(of), words.Leakers(s, of)),
		worded(words.AtLowHumidity(s, of), "At low humidity, "+id, words.LowHumidityRead, words.Humidity(s, of))
}

// worded makes a grid of a table that was put into words.
func worded(t words.Table, caption, read string, notes []string) Grid {
	g := Grid{Caption: caption, Named: t.Names, Notes: notes, Ordered: true}
	if len(t.Rows) > 0 {
		g.Notes = append([]string{read}, notes...)
	}
	for i, h := range t.Heads {
		g.Columns = append(g.Columns, Column{Head: capital(h), Number: i >= t.Names})
	}
	for _, r := range t.Rows {
		row := g.add(r...)
		for i := t.Names; i < len(row); i++ {
			row[i].Text = minus(row[i].Text)
		}
	}
	return g
}
