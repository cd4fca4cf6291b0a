package summary

import (
	"slices"
	"strings"

	"shelfspan/analysis"
	"shelfspan/reports/chart"
	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// interactions writes what packs, orientations and ingredients do to the product:
// the conclusion and the matrix first, then every comparison at the storage
// condition.
func (x *writer) interactions() {
	i := x.e.Interactions
	if i == nil || len(i.Comparisons) == 0 {
		return
	}
	x.NewPage(false)
	x.Section("Packs, orientations and ingredients compared")
	for _, t := range words.InteractionsConclusion(i, x.s) {
		x.Paragraph(t)
	}
	if m := words.NewMatrix(x.s, i); len(m.Rows) > 0 && len(m.Columns) > 0 {
		height, draw := chart.Matrix(m, i.Horizon)
		x.Need(height + 40)
		x.Subsection("Months of shelf life lost, of " + words.Planned(i.Horizon))
		x.Figure(height, words.MatrixRead, draw)
	}
	for a := range x.s.Attributes {
		for condition := range x.s.Conditions {
			var of []*analysis.Comparison
			for _, c := range i.Comparisons {
				if c.Attribute == a && c.Condition == condition && (condition == x.s.StoreAt || c.ThroughArrhenius) {
					of = append(of, c)
				}
			}
			switch {
			case len(of) == 0:
			case x.s.Attributes[a].Kind == study.Grade || x.s.Attributes[a].Kind == study.PassFail:
				x.unitsCompared(a, of)
			default:
				x.compared(a, of)
			}
		}
	}
	if len(i.Parallel) > 0 {
		x.Need(80)
		x.Subsection("Across temperatures")
		for _, p := range i.Parallel {
			x.Paragraph(words.Parallel(x.s, p))
		}
	}
	x.Note(strings.TrimSpace(words.InteractionsRead(i, x.e.Confidence) + " " + words.MonthsBy(i, x.s)))
}

// compared tabulates the comparisons of one attribute.
func (x *writer) compared(attribute int, of []*analysis.Comparison) {
	var errors []float64
	for _, c := range of {
		if c.SE > 0 {
			errors = append(errors, c.SE)
		}
	}
	slices.Sort(errors)
	decimals := words.Decimals(2, errors...)
	t := pdf.Table{
		Caption: x.s.Attributes[attribute].ID + " at " + x.s.Conditions[of[0].Condition].ID, Wide: true,
		Columns: columns(2, "Compared", "With", "Rate differs by", "From", "To", "p", "Months lost", "At least", "At most", "Finding"),
	}
	t.Columns[9].Align = pdf.Left
	if _, unit := words.Scales(&x.s.Attributes[attribute], of[0].Model); unit != "" {
		t.Columns[2].Head = "Differs by, " + unit
	}
	for _, c := range of {
		least, most := words.LostRange(c)
		cells := []string{c.Level, c.Against, fixed(c.Difference, decimals), fixed(c.Low, decimals), fixed(c.High, decimals), words.P(c.PAdjusted),
			words.Lost(c.Lost), least, most, joinBy(" ", words.Outcome(c.Outcome), words.ErrorMark(c.Error))}
		if c.Outcome == analysis.NotCompared {
			cells[9] = words.Outcome(c.Outcome) + ": " + c.Reason
		}
		row := pdf.Texts(cells...)
		for j := range row.Cells {
			row.Cells[j].Bold = c.Outcome == analysis.Harm
		}
		t.Rows = append(t.Rows, row)
	}
	if m := words.ErrorMarks(of); m != "" {
		t.Notes = append(t.Notes, m)
	}
	x.Table(t)
}

// unitsCompared tabulates those of grades and pass/fail, by the units that failed.
func (x *writer) unitsCompared(attribute int, of []*analysis.Comparison) {
	t := pdf.Table{
		Caption: x.s.Attributes[attribute].ID + " at " + x.s.Conditions[of[0].Condition].ID, Wide: true,
		Columns: columns(2, "Compared", "With", "Failed", "Against", "By, months", "Time to a failure, times as long", "p", "Finding"),
	}
	t.Columns[7].Align = pdf.Left
	for _, c := range of {
		t.Rows = append(t.Rows, pdf.Texts(c.Level, c.Against, words.Failed(c.Failed), words.Failed(c.AgainstFailed), words.Planned(c.LastMonths),
			dash(words.TimeFactor(c)), words.P(c.PAdjusted), joinBy(" ", words.Outcome(c.Outcome), words.ErrorMark(c.Error))))
	}
	if m := words.ErrorMarks(of); m != "" {
		t.Notes = append(t.Notes, m)
	}
	x.Table(t)
}
