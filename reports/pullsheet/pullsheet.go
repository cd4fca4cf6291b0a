// Package pullsheet writes the sheet a technician takes along to the chambers:
// for each pull what to take, unit by unit with a square to tick, what to mind,
// room for what departs from the plan, and a line to sign.
package pullsheet

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"shelfspan/reports/codes"
	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/study/schedule"
)

// Input is what pull sheets are written from.
type Input struct {
	Schedule *schedule.Schedule
	Pulls    []int  // indices of its pulls, each a part of its own
	Version  string // of the program
}

// least is the smallest type on a sheet that is read at arm's length, in points.
const least = 8

// Write writes a pull sheet for each pull. The same input gives the same bytes.
func Write(w io.Writer, in Input) error {
	s := in.Schedule.Study
	doc := pdf.New(pdf.Info{Title: "Pull sheets " + s.ID, Kind: "Pull sheet", Date: s.Start.Time(), Least: least})
	x := &writer{in, s, doc}
	for _, i := range in.Pulls {
		if len(in.Schedule.Pulls[i].Lines) == 0 {
			continue
		}
		if err := x.pull(i); err != nil {
			return err
		}
	}
	_, err := doc.WriteTo(w)
	return err
}

type writer struct {
	in  Input
	s   *study.Study
	doc *pdf.Document
}

func (x *writer) pull(i int) error {
	p := &x.in.Schedule.Pulls[i]
	product := x.s.Product
	if product == "" {
		product = x.s.Title
	}
	x.doc.Part(p.ID, "Pull sheet", strings.TrimSpace(fmt.Sprintf("Study %s · shelfspan %s", x.s.ID, x.in.Version)))
	if err := x.head(p, product); err != nil {
		return err
	}
	if lines := x.cautions(p); len(lines) > 0 {
		x.doc.Box("Mind", lines)
	}
	x.units(i)
	x.closing(p)
	return nil
}

// head sets what the pull is beside its id as a code.
func (x *writer) head(p *schedule.Pull, product string) error {
	where, chamber := "before storage", ""
	if p.Condition >= 0 {
		c := &x.s.Conditions[p.Condition]
		where = c.ID
		if climate := words.Climate(c); climate != "" {
			where += ", " + climate
		}
		if c.Chamber >= 0 {
			chamber = x.s.Chambers[c.Chamber].ID
		}
	}
	when := p.Time.String()
	if p.Time.IsZero() {
		when = "time zero"
	}
	facts := [][2]string{
		{"Study", strings.TrimSuffix(x.s.ID+", "+product, ", ")},
		{"Condition", where},
		{"Chamber", chamber},
		{"Planned time", when},
		{"To be made on", fmt.Sprintf("%s, %s", p.Date.Weekday(), p.Date)},
		{"In time from", fmt.Sprintf("%s to %s", p.Earliest, p.Latest)},
		{"To take", words.ToTake(p.Units(), p.Returned())},
	}
	facts = slices.DeleteFunc(facts, func(f [2]string) bool { return f[1] == "" })
	symbol, err := codes.QR(p.ID)
	if err != nil {
		return err
	}
	const (
		titleSize, size, line = 20.0, 10.5, 16.0
		side                  = 78.0 // of the code, quiet zone and all
		label                 = 84.0
	)
	height := 34 + line*float64(len(facts))
	x.doc.Block(max(height, side)+8, func(left, top, width float64) {
		x.doc.Place(x.doc.Line(p.ID, true), left, top+titleSize, titleSize)
		for i, f := range facts {
			y := top + 34 + line*float64(i) + size
			x.doc.Place(x.doc.Line(f[0], false), left, y, size)
			for _, l := range x.doc.Break(x.doc.Line(f[1], true), size, width-label-side-10)[:1] {
				x.doc.Place(l, left+label, y, size)
			}
		}
		module := side / float64(symbol.Columns+2*codes.QuietQR)
		inset := module * codes.QuietQR
		x.doc.Rects(left+width-side+inset, top+inset, module, module, symbol.Rects)
	})
	return nil
}

// cautions says what to mind: what the plan says of this condition, and the nature
// of the packs.
func (x *writer) cautions(p *schedule.Pull) []string {
	var out []string
	seen := make(map[int]bool)
	for i := range p.Lines {
		k := p.Lines[i].Pack
		if seen[k] {
			continue
		}
		seen[k] = true
		pack := &x.s.Packs[k]
		out = append(out, words.Handling(pack)...)
		if p.Condition < 0 {
			continue
		}
		where := strings.TrimPrefix(pack.ID+" at "+x.s.Conditions[p.Condition].ID, " at ")
		for _, c := range x.in.Schedule.Cautions {
			if c.Where == where {
				out = append(out, strings.TrimSpace(strings.TrimSuffix(c.String(), schedule.Decides)))
			}
		}
	}
	if len(out) > 0 {
		out = append(out, schedule.Decides)
	}
	return out
}

// units lists what is taken, arm by arm.
func (x *writer) units(pull int) {
	p := &x.in.Schedule.Pulls[pull]
	t := pdf.Table{
		Columns: []pdf.Column{{Head: "Unit"}, {Head: "Open or put back"}, {Head: "Tests"}, {Head: "Note"}},
		Wide:    true, Size: 9,
	}
	for j := range p.Lines {
		l := &p.Lines[j]
		t.Rows = append(t.Rows, pdf.Row{Group: x.in.Schedule.ArmName(l.Batch, l.Pack, l.Orientation) + ": " + words.ToTake(l.Units, l.Returned)})
		for _, u := range x.in.Schedule.UnitsOf(pull, j) {
			what := "open"
			if u.Returned {
				what = "measure and put back"
			}
			var tests []string
			for _, a := range u.Attributes {
				tests = append(tests, x.s.Attributes[a].ID)
			}
			t.Rows = append(t.Rows, pdf.Row{Cells: []pdf.Cell{{Text: u.ID, Tick: true}, {Text: what}, {Text: strings.Join(tests, ", ")}, {Blank: true}}})
		}
	}
	x.doc.Table(t)
}

// closing leaves room for what departs from the plan, and for signatures.
func (x *writer) closing(p *schedule.Pull) {
	x.doc.Table(pdf.Table{
		Caption: "What departs from the plan: a day outside the window, units missing, leaking or taken from the reserve, and why",
		Columns: []pdf.Column{{}}, Wide: true,
		Rows: []pdf.Row{{Cells: []pdf.Cell{{Text: " "}}, Height: 64}},
	})
	sign := func(role string) pdf.Row {
		r := pdf.Texts(role)
		r.Height = 28
		return r
	}
	x.doc.Table(pdf.Table{
		Caption: "Signatures",
		Columns: []pdf.Column{{}, {Head: "Name"}, {Head: "Signature"}, {Head: "Day and time"}}, Wide: true,
		Rows:  []pdf.Row{sign("Taken by"), sign("Checked by")},
		Notes: []string{"Recorded in the ledger with: shelfspan pull " + p.ID},
		Size:  9,
	})
}
