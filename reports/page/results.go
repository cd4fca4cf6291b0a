package page

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"shelfspan/analysis"
	"shelfspan/reports/dossier"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// openCells is how many fields of results a page shows at once; where there are
// more, each attribute's are behind its line.
const openCells = 1500

// results tabulates every result, an attribute at a time: batches down, pulls
// across; and behind a line each single value.
func (x *writer) results() {
	if len(x.e.Analyses) == 0 {
		x.paragraph("", words.NoResults(x.d))
		return
	}
	all := make([][]dossier.Table, len(x.s.Attributes))
	shown := 0
	for i := range all {
		all[i] = dossier.Results(x.e, i)
		for _, t := range all[i] {
			shown += len(t.Rows) * len(t.Times)
		}
	}
	for i, tables := range all {
		if len(tables) == 0 {
			continue
		}
		id := "results-" + strconv.Itoa(i+1)
		x.listed(id, x.s.Attributes[i].ID)
		line := x.named(i) + ", criterion: " + words.Criterion(&x.s.Attributes[i])
		x.fold(shown <= openCells, false, 3, id, line, func() { x.attributeResults(i, tables) })
	}
}

func (x *writer) attributeResults(attribute int, of []dossier.Table) {
	at := &x.s.Attributes[attribute]
	var used dossier.Signs
	var set []table
	for _, r := range of {
		set = append(set, x.conditionResults(at, r, &used))
	}
	for i, t := range set {
		if i == len(set)-1 {
			t.notes = []string{used.Notes(at)}
		}
		x.table(t)
	}
	for _, r := range of {
		x.values(attribute, r)
	}
}

// conditionResults is the table of one attribute at one condition.
func (x *writer) conditionResults(at *study.Attribute, of dossier.Table, used *dossier.Signs) table {
	t := table{caption: at.ID + " at " + words.Condition(&x.s.Conditions[of.Condition]), named: 2, columns: left("Pack", "Batch")}
	numbers := at.Kind != study.Grade && at.Kind != study.PassFail
	for _, p := range of.Times {
		t.columns = append(t.columns, dossier.Column{Head: p.Text, Number: numbers})
	}
	for _, r := range of.Rows {
		row := cells(x.place(r.Pack, r.Orientation), x.s.Batches[r.Batch].ID)
		for _, shown := range r.Shown {
			c := dossier.CellOf(at, shown, used)
			row = append(row, cell{text: c.Signed(), under: c.Under, bold: c.Outside})
		}
		t.rows = append(t.rows, row)
	}
	if len(x.s.Packs) == 1 && x.s.Packs[0].ID == "" {
		t.without(0)
		t.named = 1
	}
	return t
}

// values lists each single value of an attribute at a condition, those of one
// batch at one pull in a row: what the marks of the charts say when they are
// pointed at, for readers who cannot point.
func (x *writer) values(attribute int, of dossier.Table) {
	at := &x.s.Attributes[attribute]
	t := table{
		caption: "Every value: " + at.ID + " at " + x.s.Conditions[of.Condition].ID,
		named:   3,
		columns: left("Pack", "Batch", "Pull", "Pulled", "Values", "To mind"),
	}
	samples := 0
	for _, r := range of.Rows {
		a := x.analysisOf(attribute, of.Condition, r)
		for k, shown := range r.Shown {
			of_ := shown.Samples
			if len(of_) == 0 {
				continue
			}
			samples += len(of_)
			row := cells(x.place(r.Pack, r.Orientation), x.s.Batches[r.Batch].ID, of.Times[k].Text, pulledOn(of_), listed(at, of_), remarks(a, of_))
			row[2].key = strconv.FormatFloat(of.Times[k].Months, 'f', -1, 64)
			t.rows = append(t.rows, row)
		}
	}
	if len(x.s.Packs) == 1 && x.s.Packs[0].ID == "" {
		t.without(0)
		t.named = 2
	}
	x.fold(false, true, 0, "", fmt.Sprintf("%s (%d)", t.caption, samples), func() { x.table(t) })
}

// analysisOf finds the analysis that a row of results belongs to.
func (x *writer) analysisOf(attribute, condition int, r dossier.Row) *analysis.Analysis {
	i := slices.IndexFunc(x.e.Analyses, func(a *analysis.Analysis) bool {
		return a.Attribute == attribute && a.Condition == condition && a.Pack == r.Pack && a.Orientation == r.Orientation
	})
	return x.e.Analyses[i]
}

// pulledOn names the days on which samples were pulled; "–" where only the plan
// is known.
func pulledOn(samples []*analysis.Sample) string {
	var days []string
	for _, s := range samples {
		if s.Pulled != study.NoDate && !slices.Contains(days, s.Pulled.String()) {
			days = append(days, s.Pulled.String())
		}
	}
	slices.Sort(days)
	return cmp.Or(strings.Join(days, ", "), "–")
}

// listed writes the values, each with the unit it was measured on where that has
// a label.
func listed(at *study.Attribute, samples []*analysis.Sample) string {
	var parts []string
	for _, s := range samples {
		t := words.Measured(at, s)
		if s.Readings > 1 {
			t += " (" + words.Readings(at, s) + ")"
		}
		if s.Unit != "" {
			t = s.Unit + ": " + t
		}
		parts = append(parts, t)
	}
	return strings.Join(parts, "; ")
}

// remarks says what there is to mind of samples, and of how many of them.
func remarks(a *analysis.Analysis, samples []*analysis.Sample) string {
	count := map[string]int{}
	var order []string
	for _, s := range samples {
		r := words.Remarks(a, s)
		if r == "" {
			continue
		}
		if count[r] == 0 {
			order = append(order, r)
		}
		count[r]++
	}
	for i, r := range order {
		if n := count[r]; n < len(samples) {
			order[i] = fmt.Sprintf("%s (%d of %d)", r, n, len(samples))
		}
	}
	return cmp.Or(strings.Join(order, "; "), "–")
}
