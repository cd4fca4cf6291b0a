package pullsheet

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
	"shelfspan/study/schedule"
)

// cautions says what to mind: the nature of the packs taken, and what the plan
// says of storing them at this condition.
func (x *writer) cautions() {
	var lines []string
	seen := make(map[int]bool)
	for i := range x.pull.Lines {
		k := x.pull.Lines[i].Pack
		if seen[k] {
			continue
		}
		seen[k] = true
		pack := &x.s.Packs[k]
		lines = append(lines, words.Handling(pack)...)
		if x.pull.Condition < 0 {
			continue
		}
		where := strings.TrimPrefix(pack.ID+" at "+x.s.Conditions[x.pull.Condition].ID, " at ")
		for _, c := range x.plan.Cautions {
			if c.Where == where {
				lines = append(lines, strings.TrimSpace(strings.TrimSuffix(c.String(), schedule.Decides)))
			}
		}
	}
	if len(lines) > 0 {
		x.Box("Cautions", append(lines, schedule.Decides))
	}
}

// rowHeight leaves room to write a number by hand.
const rowHeight = 25.0

// take sets a row for each arm: what to take, and a frame for what was taken.
func (x *writer) take() {
	returned := x.pull.Returned() > 0
	columns := []pdf.Column{{Head: "Batch"}, {Head: "Pack"}, {Head: "Orientation"}, {Head: "To open", Align: pdf.Right}, {Head: "Opened"}}
	if returned {
		columns = append(columns, pdf.Column{Head: "To put back", Align: pdf.Right}, pdf.Column{Head: "Put back"})
	}
	columns = append(columns, pdf.Column{Head: "Tests"})
	t := pdf.Table{Caption: "What to take", Columns: columns, Fixed: 3, Wide: true, Size: tableSize}
	number := func(n int) (toDo, done pdf.Cell) {
		if n == 0 {
			return pdf.Cell{Text: "–"}, pdf.Cell{}
		}
		return pdf.Cell{Text: strconv.Itoa(n), Bold: true}, pdf.Cell{Blank: true}
	}
	for i := range x.pull.Lines {
		l := &x.pull.Lines[i]
		orientation := "–"
		if l.Orientation >= 0 {
			orientation = string(x.s.Packs[l.Pack].Orientations[l.Orientation])
		}
		pack := x.s.Packs[l.Pack].ID
		if pack == "" {
			pack = "–"
		}
		toDo, done := number(l.Units)
		cells := []pdf.Cell{{Text: x.s.Batches[l.Batch].ID, Bold: true, Tick: true}, {Text: pack, Bold: true}, {Text: orientation}, toDo, done}
		if returned {
			toDo, done = number(l.Returned)
			cells = append(cells, toDo, done)
		}
		t.Rows = append(t.Rows, pdf.Row{Cells: append(cells, pdf.Cell{Text: x.tests(l.Attributes)}), Height: rowHeight})
	}
	if returned {
		where := "Put back: measured and returned to storage."
		if x.pull.Condition < 0 {
			where = "Put back: the units of all arms that are measured at every pull, measured now as they are placed into storage."
		}
		t.Notes = append(t.Notes, where)
	}
	x.Table(t)
}

// tests gives the ids of attributes in the study's order.
func (x *writer) tests(attributes []int) string {
	list := slices.Clone(attributes)
	slices.Sort(list)
	var ids []string
	for _, a := range slices.Compact(list) {
		ids = append(ids, x.s.Attributes[a].ID)
	}
	return strings.Join(ids, ", ")
}

// group is units of one line that are handled alike, for the same tests.
type group struct {
	head  string
	units []schedule.Unit
}

// groups gathers the units of a line: those to open before those to put back.
func (x *writer) groups(line int) []group {
	l := &x.pull.Lines[line]
	arm := x.plan.ArmName(l.Batch, l.Pack, l.Orientation)
	var out []group
	for _, returned := range []bool{false, true} {
		from := len(out)
		for _, u := range x.units[line] {
			if u.Returned != returned {
				continue
			}
			tests := x.tests(u.Attributes)
			at := slices.IndexFunc(out[from:], func(g group) bool { return g.head == tests })
			if at < 0 {
				at = len(out) - from
				out = append(out, group{head: tests})
			}
			out[from+at].units = append(out[from+at].units, u)
		}
		for i := from; i < len(out); i++ {
			what := "to open"
			if returned {
				what = "to measure and put back"
			}
			head := fmt.Sprintf("%s: %d %s", arm, len(out[i].units), what)
			if out[i].head != "" {
				head += " – " + out[i].head
			}
			out[i].head = head
		}
	}
	return out
}

// tick sets the ids of the units, each with a box to tick, arm by arm.
func (x *writer) tick() {
	var groups []group
	widest := 0.0 // in em
	for i, units := range x.units {
		groups = append(groups, x.groups(i)...)
		for _, u := range units {
			widest = max(widest, x.Line(u.ID, false).Width(1))
		}
	}
	if len(groups) == 0 {
		return
	}
	across, size := x.across(groups, widest)
	t := pdf.Table{Caption: "Units", Columns: make([]pdf.Column, across), Even: true, Wide: true, Size: size}
	for _, g := range groups {
		t.Rows = append(t.Rows, pdf.Row{Group: g.head})
		for units := range slices.Chunk(g.units, across) {
			row := pdf.Row{Height: 20}
			for _, u := range units {
				row.Cells = append(row.Cells, pdf.Cell{Text: u.ID, Tick: true})
			}
			t.Rows = append(t.Rows, row)
		}
	}
	x.Table(t)
}

// across chooses how many units stand side by side, and their size: in as few
// rows as can be, then as large as can be. widest is the longest id in em.
func (x *writer) across(groups []group, widest float64) (columns int, size float64) {
	rows := func(columns int) (n int) {
		for _, g := range groups {
			n += (len(g.units) + columns - 1) / columns
		}
		return n
	}
	columns, size = 1, tableSize
	for _, smaller := range []float64{tableSize, 9, 8.5} {
		for n := 2; n <= 3 && float64(n)*(widest*smaller+tickRoom) <= x.Width(); n++ {
			if rows(n) < rows(columns) {
				columns, size = n, smaller
			}
		}
	}
	return columns, size
}

// tickRoom is the width a tick box and the gap between columns take.
const tickRoom = 29.0

// What the end of a sheet takes in points; it stands on one page.
const (
	deviationsHeight = 102.0
	signatureHeight  = 26.0 // of one
	signaturesHead   = 25.0
)

// deviations leaves room for what was not as planned.
func (x *writer) deviations() {
	const size, box, writing = 10.0, 14.5, 19.0
	choices := []string{"none", "outside the window", "units missing, damaged or from the reserve", "other"}
	x.Need(deviationsHeight + signaturesHead + signatureHeight*float64(len(x.roles())))
	x.Block(deviationsHeight, func(left, top, width float64) {
		x.Place(x.Line("Deviations", true), left, top+12, tableSize)
		at, y := left, top+20
		for _, c := range choices {
			l := x.Line(c, false)
			x.Frame(at, y, box, box, 0.9)
			x.Place(l, at+box+4, y+box-3.5, size)
			at += box + 4 + l.Width(size) + 15
		}
		x.Place(x.Line("What, and why:", false), left, y+box+writing-3, size)
		from := left + x.Line("What, and why:", false).Width(size) + 6
		for i := range 3 {
			line := y + box + writing*float64(i+1)
			x.Stroke(from, line, left+width, line, 0.3)
			from = left
		}
	})
}

// signatures leaves room for those who did it and who looked.
func (x *writer) signatures() {
	t := pdf.Table{
		Columns: []pdf.Column{{}, {Head: "Name"}, {Head: "Signature"}, {Head: "Date"}, {Head: "Time"}},
		Wide:    true, Size: tableSize,
	}
	for _, role := range x.roles() {
		t.Rows = append(t.Rows, pdf.Row{Cells: []pdf.Cell{{Text: role}}, Height: signatureHeight})
	}
	x.Table(t)
}

// roles are those who sign.
func (x *writer) roles() []string {
	if x.pull.Returned() > 0 {
		return []string{"Taken by", "Put back by", "Checked by"}
	}
	return []string{"Taken by", "Checked by"}
}
