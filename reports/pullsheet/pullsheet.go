// Package pullsheet sets the paper that goes along to the chamber: for each
// pull what to take, what is put back, the units to tick, and where to write
// what was done and what was not as planned.
//
// Each pull begins on a new page and is a part by itself, with its own head,
// foot and page numbers, so that it can be filed with the study's records.
package pullsheet

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"shelfspan/reports/codes"
	"shelfspan/reports/pdf"
	"shelfspan/study"
	"shelfspan/study/schedule"
)

// Input is what pull sheets are made of.
type Input struct {
	Schedule *schedule.Schedule
	Pulls    []int  // indices into Schedule.Pulls, in the order to be printed; those at which nothing is taken are left out
	Version  string // of the program
}

// least is the size in points below which nothing is set, for arm's length.
const (
	least     = 8.0
	tableSize = 10.0
)

// Write sets pull sheets as PDF. The same input gives the same bytes.
func Write(w io.Writer, in Input) error {
	p := in.Schedule
	var pulls []int
	var ids []string
	for _, i := range in.Pulls {
		if len(p.Pulls[i].Lines) > 0 {
			pulls = append(pulls, i)
			ids = append(ids, p.Pulls[i].ID)
		}
	}
	if len(pulls) == 0 {
		return errors.New("nothing is taken at these pulls")
	}
	symbols, bad, err := codes.QRs(ids)
	if err != nil {
		return fmt.Errorf("pull %.60q: %w", ids[bad], err)
	}
	title := "Pull sheets " + p.Study.ID
	if len(pulls) == 1 {
		title = "Pull sheet " + ids[0]
	}
	doc := pdf.New(pdf.Info{Title: title, Date: p.Study.Start.Time(), Least: least})
	for n, i := range pulls {
		x := writer{Document: doc, plan: p, s: p.Study, pull: &p.Pulls[i], code: symbols[n], version: in.Version}
		for j := range x.pull.Lines {
			x.units = append(x.units, p.UnitsOf(i, j))
		}
		x.sheet()
	}
	_, err = doc.WriteTo(w)
	return err
}

// writer sets the sheet of one pull.
type writer struct {
	*pdf.Document
	plan    *schedule.Schedule
	s       *study.Study
	pull    *schedule.Pull
	code    codes.Symbol
	units   [][]schedule.Unit // by line
	version string
}

func (x *writer) sheet() {
	x.Part(x.pull.ID, "Pull sheet",
		strings.TrimSpace("study "+x.s.ID+" · shelfspan "+x.version)+" · recorded in the ledger with: shelfspan pull "+x.pull.ID)
	x.head()
	x.cautions()
	x.take()
	x.tick()
	x.deviations()
	x.signatures()
}

// head names the pull, with its code, and says when and where it is due.
func (x *writer) head() {
	const codeSide, gap, most = 68.0, 30.0, 3 // points; lines of a title, beyond which it is cut visibly
	module := codeSide / float64(x.code.Columns)
	name, title := x.Line(x.pull.ID, true), x.Line(x.s.Title, false)
	product := x.Line(x.s.Product, false)
	facts := x.facts()
	width := x.Width() - codeSide - gap
	size := 22.0
	for size > 13 && name.Width(size) > width {
		size--
	}
	type text struct {
		line pdf.Line
		size float64
	}
	var lines []text
	for _, l := range x.Break(name, size, width) {
		lines = append(lines, text{l, size})
	}
	for _, t := range []pdf.Line{title, product} {
		if t.Empty() {
			continue
		}
		broken := x.Break(t, 10.5, width)
		if len(broken) > most {
			broken = append(broken[:most-1], x.Line(broken[most-1].Text()+" …", false))
		}
		for _, l := range broken {
			lines = append(lines, text{l, 10.5})
		}
	}
	height := 0.0
	for _, t := range lines {
		height += t.size * 1.3
	}
	x.Block(max(height, codeSide+6), func(left, top, whole float64) {
		x.Rects(left+whole-codeSide, top, module, module, x.code.Rects)
		y := top
		for _, t := range lines {
			x.Place(t.line, left, y+t.size*0.95, t.size)
			y += t.size * 1.3
		}
	})
	x.factTable(facts)
}

// fact is one thing the head says.
type fact struct{ name, value string }

// factTable sets facts in two columns.
func (x *writer) factTable(facts []fact) {
	const nameWidth, size, lead, gutter = 62.0, 10.0, 14.0, 18.0
	rows := (len(facts) + 1) / 2
	column := (x.Width() - gutter) / 2
	broken := make([][]pdf.Line, len(facts))
	depth := make([]float64, rows)
	for i, f := range facts {
		broken[i] = x.Break(x.Line(f.value, true), size, column-nameWidth)
		depth[i%rows] = max(depth[i%rows], float64(len(broken[i]))*lead+3)
	}
	height := 14.0
	for _, d := range depth {
		height += d
	}
	x.Block(height, func(left, top, _ float64) {
		for i, f := range facts {
			at := left + float64(i/rows)*(column+gutter)
			y := top + 4
			for _, d := range depth[:i%rows] {
				y += d
			}
			x.Place(x.Line(f.name, false), at, y+size*0.95, size)
			for _, l := range broken[i] {
				x.Place(l, at+nameWidth, y+size*0.95, size)
				y += lead
			}
		}
	})
}
