package text

import (
	"shelfspan/analysis"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// losses writes what the single units of a weighing lose.
func (p *Printer) losses(s *study.Study, as []*analysis.Analysis, conditions bool) {
	t := words.Losses(s, as)
	said := words.Leakers(s, as)
	if len(t.Rows)+len(said) == 0 {
		return
	}
	p.write("\n")
	if len(t.Rows) > 0 {
		p.Paragraph(words.LossesRead(as))
		p.worded(t, conditions)
	}
	for _, line := range said {
		p.Paragraph(line)
	}
	if t := words.AtLowHumidity(s, as); len(t.Rows) > 0 {
		p.write("\n")
		p.Paragraph(words.LowHumidityRead)
		p.worded(t, conditions)
	}
	for _, line := range words.Humidity(s, as) {
		p.Paragraph(line)
	}
}

// worded writes a table that was put into words; without conditions its first
// column is left out.
func (p *Printer) worded(t words.Table, conditions bool) {
	columns := make([]Column, len(t.Heads))
	for i, head := range t.Heads {
		columns[i] = Column{head, Right}
		if i < t.Names {
			columns[i].Align = Left
		}
	}
	if !conditions {
		for _, r := range t.Rows {
			r[0] = ""
		}
	}
	p.Table(columns, blanked(t.Rows))
}
