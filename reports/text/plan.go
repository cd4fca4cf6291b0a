package text

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/jedib0t/go-pretty/v6/text"

	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/study/schedule"
)

// Plan writes the answer of plan: what the study asks for, the pulls by date,
// the units they take, how full the chambers get, the files written of it, and
// the cautions.
func (p *Printer) Plan(x *schedule.Schedule, written []string) {
	p.title(x.Study)
	for _, line := range words.Plan(x) {
		p.Paragraph(line)
	}
	p.pulls(x)
	p.unitsByPull(x)
	p.unitsToFill(x)
	p.chambers(x)
	if len(written) > 0 {
		p.Heading("Written")
		for _, path := range written {
			p.write(path + "\n") // a path is left whole, to be copied
		}
	}
	p.countWarnings(x.Warnings)
	if len(x.Cautions) > 0 {
		p.Heading("Cautions")
		for _, c := range x.Cautions {
			p.Hanging("- ", c.String())
		}
	}
}

func (p *Printer) pulls(x *schedule.Schedule) {
	if len(x.Pulls) == 0 {
		return
	}
	columns := []Column{{"date", Left}, {"pull", Left}, {"chamber", Left}, {"window", Left}, {"open", Right}, {"put back", Right}}
	var rows, full, brief [][]string
	for i := range x.Pulls {
		pull := &x.Pulls[i]
		due := ""
		if pull.Shifted() != 0 {
			due = day(pull.Due)
		}
		row := []string{
			day(pull.Date), pull.ID, chamberOf(x.Study, pull.Condition), monthDay(pull.Earliest) + " to " + monthDay(pull.Latest),
			strconv.Itoa(pull.Units()), number(pull.Returned()),
		}
		rows = append(rows, row)
		full = append(full, append(slices.Clone(row), due))
		row = slices.Clone(row)
		row[3] = "±" + strconv.Itoa(int(pull.Latest-pull.Due))
		brief = append(brief, row)
	}
	p.Heading("Pulls by date")
	window := "from the first to the last day, as month-day, on which the pull is on time"
	// The days that pulls were moved from are shown where there is room for
	// them, and windows are shortened where there is little.
	with := append(slices.Clone(columns), Column{"moved from", Left})
	switch {
	case tableWidth(filled(with, full)) <= p.width:
		columns, rows = with, full
	case tableWidth(filled(columns, rows)) > p.width:
		rows = brief
		window = "days before and after the due date"
	}
	p.tableOrList(columns, rows)
	p.Paragraph("Window: " + window + ". Open: units used up. Put back: units measured and returned to storage.")
}

// chamberOf gives the chamber of a condition, nothing where none is named or
// the samples are not in storage yet.
func chamberOf(s *study.Study, condition int) string {
	if condition < 0 || s.Conditions[condition].Chamber < 0 {
		return ""
	}
	return s.Chambers[s.Conditions[condition].Chamber].ID
}

// tableOrList writes a table where it fits in full, else one wrapped line for
// each row: an id that is cut to fit a column could not be typed.
func (p *Printer) tableOrList(columns []Column, rows [][]string) {
	columns, rows = filled(columns, rows)
	if tableWidth(columns, rows) <= p.width {
		p.Table(columns, rows)
		return
	}
	for _, row := range rows {
		var cells []string
		for i, cell := range row {
			switch {
			case cell == "":
			case i == 0:
				cells = append(cells, cell)
			default:
				cells = append(cells, columns[i].Head+" "+cell)
			}
		}
		p.Hanging("- ", strings.Join(cells, ", "))
	}
}

// tableWidth gives the width of a table no column of which wraps.
func tableWidth(columns []Column, rows [][]string) int {
	total := 2 * (len(columns) - 1)
	for i, c := range columns {
		widest := text.RuneWidthWithoutEscSequences(c.Head)
		for _, row := range rows {
			widest = max(widest, text.RuneWidthWithoutEscSequences(row[i]))
		}
		total += widest
	}
	return total
}

// day writes a day with its weekday.
func day(d study.Date) string { return d.String() + " " + d.Weekday().String()[:3] }

// monthDay writes a day without its year, which the date beside it has.
func monthDay(d study.Date) string { return d.String()[5:] }

// number writes a count, nothing for none.
func number(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// leastTests is the width below which the list of tests is not wrapped in a
// column, the gap before it included.
const leastTests = 22

// unitsByPull writes what a pull takes from one arm, by condition and pack:
// every pull of a condition tests the same.
func (p *Printer) unitsByPull(x *schedule.Schedule) {
	type place struct{ condition, pack int }
	first := make(map[place]schedule.Line)
	for i := range x.Pulls {
		for _, l := range x.Pulls[i].Lines {
			at := place{x.Pulls[i].Condition, l.Pack}
			if _, known := first[at]; !known {
				first[at] = l
			}
		}
	}
	var rows [][]string
	for c := -1; c < len(x.Study.Conditions); c++ {
		for k := range x.Study.Packs {
			l, ok := first[place{c, k}]
			if !ok {
				continue
			}
			var tests []string
			for _, a := range l.Attributes {
				tests = append(tests, x.Study.Attributes[a].ID)
			}
			rows = append(rows, []string{x.ConditionName(c), x.Study.Packs[k].ID, strconv.Itoa(l.Units), number(l.Returned), strings.Join(tests, ", ")})
		}
	}
	if len(rows) == 0 {
		return
	}
	p.Heading("Units at each pull, by arm")
	columns := []Column{{"condition", Left}, {"pack", Left}, {"open", Right}, {"put back", Right}, {"tests", Left}}
	if tableWidth(columns[:4], rows)+leastTests <= p.width {
		p.Table(columns, rows)
	} else {
		p.tableOrList(columns, rows)
	}
	p.Paragraph("An arm is one batch in one pack and orientation at one condition. Initial tests are made once for each batch and pack; what is put back then are the units of all its arms, measured as they are placed. The units of each arm at each pull are in samples.csv, which plan --out writes.")
}

func (p *Printer) unitsToFill(x *schedule.Schedule) {
	s := x.Study
	reserve := make([]int, len(s.Conditions))
	arms := make([]int, len(s.Conditions))
	for i := range x.Arms {
		arms[x.Arms[i].Condition]++
		reserve[x.Arms[i].Condition] += x.Arms[i].Reserve
	}
	var rows [][]string
	for c, n := range x.Units.ByCondition {
		rows = append(rows, []string{s.Conditions[c].ID, strconv.Itoa(arms[c]), strconv.Itoa(n), strconv.Itoa(reserve[c]), strconv.Itoa(n + reserve[c])})
	}
	p.Heading("Units stored, by condition")
	p.tableOrList([]Column{{"condition", Left}, {"arms", Right}, {"stored", Right}, {"reserve", Right}, {"together", Right}}, rows)

	rows = nil
	var sum schedule.Share
	for _, y := range x.Shares() {
		sum.Initial += y.Initial
		sum.Stored += y.Stored
		sum.Reserve += y.Reserve
		sum.Retained += y.Retained
		rows = append(rows, shareRow(s.Batches[y.Batch].ID, s.Packs[y.Pack].ID, y))
	}
	if len(rows) > 1 {
		rows = append(rows, shareRow("all", "", sum))
	}
	p.Heading("Units to fill, by batch and pack")
	p.tableOrList([]Column{{"batch", Left}, {"pack", Left}, {"initial", Right}, {"stored", Right}, {"reserve", Right}, {"retained", Right}, {"to fill", Right}}, rows)
}

func shareRow(batch, pack string, x schedule.Share) []string {
	return []string{batch, pack, strconv.Itoa(x.Initial), strconv.Itoa(x.Stored), strconv.Itoa(x.Reserve), strconv.Itoa(x.Retained), strconv.Itoa(x.Total())}
}

// bars are the eighths a load is drawn with.
var bars = []rune("▁▂▃▄▅▆▇█")

// barWidth is how many equal stretches of the plan's time a bar is drawn for.
const barWidth = 24

func (p *Printer) chambers(x *schedule.Schedule) {
	var rows [][]string
	for i := range x.Chambers {
		l := &x.Chambers[i]
		chamber := &x.Study.Chambers[l.Chamber]
		capacity, free := "", ""
		if chamber.Capacity > 0 {
			capacity, free = strconv.Itoa(chamber.Capacity), strconv.Itoa(chamber.Capacity-l.Peak)
		}
		rows = append(rows, []string{chamber.ID, strconv.Itoa(l.Peak), l.PeakDate.String(), capacity, free, bar(x, l, chamber.Capacity)})
	}
	if len(rows) == 0 {
		return
	}
	first, last := span(x)
	p.Heading("Chamber load, units")
	p.tableOrList([]Column{{"chamber", Left}, {"peak", Right}, {"on", Left}, {"capacity", Right}, {"free", Right}, {"over time", Left}}, rows)
	p.Paragraph(fmt.Sprintf("Over time: from %s to %s, full height is the larger of capacity and peak.", first, last))
	var without []string
	for c := range x.Study.Conditions {
		if x.Study.Conditions[c].Chamber < 0 {
			without = append(without, x.Study.Conditions[c].ID)
		}
	}
	if len(without) > 0 {
		p.Paragraph("Not counted, since no chamber is named for it: " + strings.Join(without, ", ") + ".")
	}
}

// bar draws the most a chamber holds in each of equal stretches of the plan.
func bar(x *schedule.Schedule, l *schedule.Load, capacity int) string {
	full := max(capacity, l.Peak)
	if full == 0 {
		return ""
	}
	first, last := span(x)
	out := make([]rune, barWidth)
	for i := range out {
		from := first + study.Date(int(last-first)*i/barWidth)
		to := first + study.Date(int(last-first)*(i+1)/barWidth)
		most := l.On(from - 1)
		for _, v := range l.Levels {
			if v.Date >= from && v.Date <= to {
				most = max(most, v.Held)
			}
		}
		out[i] = ' '
		if most > 0 {
			n := int(math.Ceil(float64(most*len(bars)) / float64(full)))
			out[i] = bars[n-1]
		}
	}
	return strings.TrimRight(string(out), " ")
}

// span gives the first day anything is placed or pulled and the last.
func span(x *schedule.Schedule) (first, last study.Date) {
	first, last = x.Study.Start, x.Study.Start
	for i := range x.Pulls {
		first = min(first, x.Pulls[i].Placed, x.Pulls[i].Date)
		last = max(last, x.Pulls[i].Date)
	}
	return first, last
}
