package dossier

import (
	"math"
	"strings"

	"shelfspan/reports/chart"
	"shelfspan/reports/words"
)

// Grid is a table in words, before a document sets it: rows under heads, with a
// caption above and notes below. One without rows is not set.
type Grid struct {
	Caption string
	Columns []Column
	Named   int // so many first columns name a row
	Again   int // so many first columns say nothing new where all are as in the row above
	Rows    [][]Field
	Notes   []string
	Ordered bool // its rows are few or have an order, by which they are read
}

// Column is a column of a grid.
type Column struct {
	Head, Under string // Under is a second line of it
	Number      bool   // its fields are numbers, set to the right
}

// Field is one field of a grid.
type Field struct {
	Text, Under string
	Bold        bool
}

// Framed is a chart with what stands over it, and what it is called.
type Framed struct {
	Caption, Title string
	Chart          *chart.Chart
}

// Texts are columns of texts.
func Texts(heads ...string) []Column {
	out := make([]Column, len(heads))
	for i, h := range heads {
		out[i].Head = h
	}
	return out
}

// Numbers are columns of numbers.
func Numbers(heads ...string) []Column {
	out := Texts(heads...)
	for i := range out {
		out[i].Number = true
	}
	return out
}

// add puts a row of plain fields below the others and gives it.
func (g *Grid) add(fields ...string) []Field {
	row := make([]Field, len(fields))
	for i, t := range fields {
		row[i].Text = t
	}
	g.Rows = append(g.Rows, row)
	return row
}

// without leaves columns from..to out.
func (g *Grid) without(from, to int) {
	g.Columns = append(g.Columns[:from:from], g.Columns[to:]...)
	for i, r := range g.Rows {
		g.Rows[i] = append(r[:from:from], r[to:]...)
	}
}

func bold(row []Field) {
	for i := range row {
		row[i].Bold = true
	}
}

// place names pack and orientation; a study with one unnamed pack has none.
func (in Input) place(pack, orientation int) string {
	return dash(words.PackName(in.Evaluation.Dataset.Study, pack, orientation))
}

func dash(t string) string {
	if t == "" {
		return "–"
	}
	return t
}

// minus gives a number its true minus sign.
func minus(t string) string { return strings.ReplaceAll(t, "-", "−") }

// fixed writes a number to so many decimals, fitted to so many digits.
func fixed(v float64, decimals int) string { return minus(words.Fixed(v, decimals)) }
func fitted(v float64, digits int) string  { return minus(words.Number(v, digits)) }

// months writes a time, where "none stated" is a dash.
func months(m float64, write func(float64) string) string {
	if math.IsNaN(m) {
		return "–"
	}
	return write(m)
}

func join(sep string, parts ...string) string {
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, sep)
}

// capital begins a head with a capital letter.
func capital(t string) string {
	if t == "" {
		return t
	}
	return strings.ToUpper(t[:1]) + t[1:]
}
