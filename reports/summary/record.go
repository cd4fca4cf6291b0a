package summary

import (
	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
)

// deviations lists the pulls whose record departs from the plan.
func (x *writer) deviations() {
	t := pdf.Table{
		Caption: "Deviations of the pulls, and notes",
		Columns: columns(6, "Pull", "Day", "Recorded by", "What", "Reason", "Note"),
	}
	for i := range x.d.Pulls {
		r := &x.d.Pulls[i]
		if !words.Departs(r) {
			continue
		}
		t.Rows = append(t.Rows, pdf.Texts(r.Pull, r.Day.String(), r.By, dash(words.Departure(r)), dash(r.Reason), dash(r.Note)))
	}
	if len(t.Rows) > 0 {
		x.Table(t)
	}
}

// changes lists the results that were amended or taken out of the analysis.
func (x *writer) changes() {
	if len(x.d.Changes) == 0 {
		return
	}
	x.Section(words.SectionChanges.Title())
	t := pdf.Table{Columns: columns(7, "Result", "Of", "Change", "Was", "Is", "Reason", "Event, when, by")}
	t.Columns[3].Align, t.Columns[4].Align = pdf.Right, pdf.Right
	for i := range x.d.Changes {
		c := &x.d.Changes[i]
		t.Rows = append(t.Rows, pdf.Texts(c.ID, words.Result(x.d, &c.Result), string(c.Kind), c.Before, dash(c.After), c.Reason, words.Changed(x.d, c)))
	}
	t.Notes = []string{words.ChangesNote}
	x.Table(t)
}
