package text

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"shelfspan/analysis"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// Glyphs are the characters of a chart at a terminal.
type Glyphs struct {
	signs              []rune // of the batches, in the study's order
	several, notFitted rune
	limit, claim       rune
	left, corner, foot rune
	tick               rune
	mean, bound        rune // 0: lines are drawn in dots of braille
}

// Unicode draws lines in braille, whose characters hold 2 by 4 dots; Plain needs
// nothing but ASCII.
var (
	Unicode = Glyphs{signs: []rune("●■▲◆▼★"), several: '◉', notFitted: '○', limit: '━', claim: '┊', left: '│', corner: '└', foot: '─', tick: '┴'}
	Plain   = Glyphs{signs: []rune("ox*#@&"), several: '%', notFitted: '?', limit: '=', claim: ':', left: '|', corner: '+', foot: '-', tick: '+', mean: '-', bound: '.'}
)

// The size of a chart: lines of its frame, to which heads, scale and key come, and
// the columns it takes at the most, however wide the terminal is.
const (
	chartRows    = 8
	chartColumns = 100
)

// Charts draws each analysis: the samples by batch, the fitted mean with its
// confidence limits, acceptance limits and claim; of grades how many units had
// which at each pull.
func (p *Printer) Charts(e *analysis.Evaluation, g Glyphs) {
	s := e.Dataset.Study
	for _, a := range e.Analyses {
		at := &s.Attributes[a.Attribute]
		p.Heading(chartTitle(s, a))
		if at.Kind == study.Grade || at.Kind == study.PassFail {
			p.gradeCounts(at, a)
			continue
		}
		p.timeChart(s, a, g)
	}
}

func chartTitle(s *study.Study, a *analysis.Analysis) string {
	t := words.Place(s, a.Attribute, a.Pack, a.Orientation) + " at " + s.Conditions[a.Condition].ID
	if u := words.Unit(&s.Attributes[a.Attribute]); u != "" {
		t += ", " + u
	}
	return t
}

// grid is a frame of characters with a scale on both sides; lines are kept apart
// as dots, of which 2 by 4 make a braille character.
type grid struct {
	rows, columns int
	low, high     float64 // of y
	end           float64 // of x, which begins at 0
	cells         [][]rune
	dots          [][]byte
}

func newGrid(rows, columns int, low, high, end float64) *grid {
	c := &grid{rows: rows, columns: columns, low: low, high: high, end: end}
	for range rows {
		c.cells = append(c.cells, slices.Repeat([]rune{' '}, columns))
		c.dots = append(c.dots, make([]byte, columns))
	}
	return c
}

// place gives the column and the line, from the top, of a value in so many parts of
// each; ok is false outside the frame.
func (c *grid) place(x, y float64, parts, lines int) (column, line int, ok bool) {
	k := math.Floor(x / c.end * float64(c.columns*parts-1))
	l := math.Floor((c.high - y) / (c.high - c.low) * float64(c.rows*lines))
	if y == c.low {
		l--
	}
	if !(k >= 0 && k < float64(c.columns*parts) && l >= 0 && l < float64(c.rows*lines)) {
		return 0, 0, false
	}
	return int(k), int(l), true
}

// dot numbers of a braille character, by line and column (Unicode, block 2800).
var brailleDots = [4][2]byte{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}

// curve draws a line; every is the step in dots, 1 for one without gaps. In plain
// characters it has one in each column.
func (c *grid) curve(f func(months float64) float64, every int, plain rune) {
	if plain != 0 {
		for k := range c.columns {
			x := c.end * float64(k) / float64(c.columns-1)
			if _, l, ok := c.place(x, f(x), 1, 1); ok && c.cells[l][k] == ' ' {
				c.cells[l][k] = plain
			}
		}
		return
	}
	for k := 0; k < 2*c.columns; k += every {
		x := c.end * float64(k) / float64(2*c.columns-1)
		if _, l, ok := c.place(x, f(x), 2, 4); ok {
			c.dots[l/4][k/2] |= brailleDots[l%4][k%2]
		}
	}
}

// line is one line of the frame as it is printed: signs lie over lines of dots, and
// those over limits.
func (c *grid) line(l int) string {
	out := make([]rune, c.columns)
	for k, r := range c.cells[l] {
		if dots := c.dots[l][k]; dots != 0 && !isSign(r) {
			r = 0x2800 | rune(dots)
		}
		out[k] = r
	}
	return string(out)
}

func isSign(r rune) bool {
	return slices.Contains(Unicode.signs, r) || r == Unicode.several || r == Unicode.notFitted
}

// timeChart draws an attribute over time.
func (p *Printer) timeChart(s *study.Study, a *analysis.Analysis, g Glyphs) {
	at := &s.Attributes[a.Attribute]
	end, low, high := extent(s, a)
	if !(end > 0) {
		p.Paragraph("There is no number to draw.")
		return
	}
	scale := map[int]string{}
	margin := 0
	probe := newGrid(chartRows, 1, low, high, end)
	label := func(v float64, text string) {
		if _, l, ok := probe.place(0, v, 1, 1); ok && scale[l] == "" {
			scale[l] = text
			margin = max(margin, textWidth(text))
		}
	}
	for _, limit := range []float64{a.Lower, a.Upper} {
		label(limit, words.Number(limit, 6))
	}
	for _, v := range steps(low, high, 4) {
		label(v.at, v.text)
	}
	columns := max(min(p.width, chartColumns)-margin-2, 10)
	c := newGrid(chartRows, columns, low, high, end)
	claim := math.NaN()
	if !s.Claim.IsZero() {
		claim = s.Claim.Months(0)
	}
	for l := range c.rows {
		if k, _, ok := c.place(claim, high, 1, 1); ok {
			c.cells[l][k] = g.claim
		}
	}
	for _, limit := range []float64{a.Lower, a.Upper} {
		if _, l, ok := c.place(0, limit, 1, 1); ok {
			for k := range c.columns {
				c.cells[l][k] = g.limit
			}
		}
	}
	drawFits(c, a, g)
	notFitted, several := c.samples(at, a, g)

	for l := range c.rows {
		left := scale[l]
		p.write(strings.TrimRight(strings.Repeat(" ", margin-textWidth(left))+left+" "+string(g.left)+c.line(l), " ") + "\n")
	}
	p.months(c, margin, g)
	p.Paragraph(chartKey(s, a, g, claim, c, notFitted, several))
}

// extent is how far a chart reaches: over the samples, limits and fits, and as far
// as where the bound meets a limit and the claim, where those are not far off.
func extent(s *study.Study, a *analysis.Analysis) (end, low, high float64) {
	at := &s.Attributes[a.Attribute]
	low, high = math.Inf(1), math.Inf(-1)
	take := func(v float64) {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	for i := range a.Samples {
		end = math.Max(end, a.Samples[i].Months)
		take(a.OnBasis(at.Basis, &a.Samples[i]))
	}
	if low > high {
		return 0, 0, 1
	}
	end = math.Max(end, 1)
	data := end
	for _, m := range []float64{a.ShelfLife, s.Claim.Months(0)} {
		if m <= 3*data {
			end = math.Max(end, m)
		}
	}
	take(a.Lower)
	take(a.Upper)
	room := (high - low) / (2*chartRows - 2)
	if !(room > 0) {
		room = math.Max(math.Abs(high)*0.05, 0.5)
	}
	return end, low - room, high + room
}

// drawFits draws the fitted mean of the batch that limits, with its confidence
// limits; of pooled batches that of all, and where none limits all means.
func drawFits(c *grid, a *analysis.Analysis, g Glyphs) {
	leads := leading(a)
	for i := range a.Fits {
		f := &a.Fits[i]
		if f.Curve == nil || leads >= 0 && i != leads {
			continue
		}
		c.curve(func(m float64) float64 { mean, _, _ := f.Curve(m); return mean }, 1, g.mean)
		if i == leads {
			c.curve(func(m float64) float64 { _, lower, _ := f.Curve(m); return lower }, 3, g.bound)
			c.curve(func(m float64) float64 { _, _, upper := f.Curve(m); return upper }, 3, g.bound)
		}
	}
}

// leading is the fit that is drawn alone; -1 where none of several limits.
func leading(a *analysis.Analysis) int {
	if a.Pooling.Decision == "pooled" || len(a.Fits) == 1 {
		return 0
	}
	return slices.IndexFunc(a.Fits, func(f analysis.Fit) bool { return f.Batch == a.LimitingBatch })
}

// samples puts the signs of the samples; it tells whether some were not fitted, and
// whether some share a place.
func (c *grid) samples(at *study.Attribute, a *analysis.Analysis, g Glyphs) (notFitted, several bool) {
	signs := make(map[[2]int]rune)
	for i := range a.Samples {
		x := &a.Samples[i]
		k, l, ok := c.place(x.Months, a.OnBasis(at.Basis, x), 1, 1)
		if !ok {
			continue
		}
		sign := g.signs[x.Batch%len(g.signs)]
		if len(a.Fits) > 0 && !x.Fitted || x.Censor != study.Exact {
			sign, notFitted = g.notFitted, true
		}
		if was, taken := signs[[2]int{k, l}]; taken && was != sign {
			sign, several = g.several, true
		}
		signs[[2]int{k, l}] = sign
		c.cells[l][k] = sign
	}
	return notFitted, several
}

// months writes the scale of time below a chart.
func (p *Printer) months(c *grid, margin int, g Glyphs) {
	foot := slices.Repeat([]rune{g.foot}, c.columns)
	texts := slices.Repeat([]rune{' '}, c.columns+12)
	free := 0
	for _, m := range monthSteps(c.end) {
		k, _, _ := c.place(m, c.high, 1, 1)
		text := strconv.FormatFloat(m, 'f', -1, 64)
		from := max(0, k-len(text)/2)
		if from < free {
			continue
		}
		foot[k] = g.tick
		copy(texts[from:], []rune(text))
		free = from + len(text) + 1
	}
	p.write(strings.Repeat(" ", margin+1) + string(g.corner) + string(foot) + "\n")
	p.write(strings.TrimRight(strings.Repeat(" ", margin+2)+string(texts), " ") + "\n")
}

// monthSteps are the months that a scale shows: those of common pulls, and each
// year, as far as there is room for their texts.
func monthSteps(end float64) []float64 {
	steps := []float64{0, 3, 6, 9, 12, 18, 24, 30, 36}
	if end <= 6 {
		steps = []float64{0, 1, 2, 3, 4, 5, 6}
	}
	for m := 48.0; m <= end; m += 12 {
		steps = append(steps, m)
	}
	return slices.DeleteFunc(steps, func(m float64) bool { return m > end })
}

// step is a value of a scale with its text.
type step struct {
	at   float64
	text string
}

// steps puts about n values on a scale, at multiples of 1, 2 or 5 times a power of
// ten.
func steps(low, high float64, n int) (out []step) {
	raw := high/float64(n) - low/float64(n)
	if !(raw > 0) || math.IsInf(raw, 1) {
		return nil
	}
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	width := 10 * power
	for _, k := range []float64{5, 2, 1} {
		if k*power >= raw {
			width = k * power
		}
	}
	decimals := min(max(0, int(math.Ceil(-math.Log10(width)-1e-9))), 12)
	for i := math.Ceil(low / width); i*width <= high && len(out) < 2*n; i++ {
		text := words.Fixed(i*width, decimals)
		if len(text) > 9 { // too long for a scale
			text = words.Number(i*width, 4)
		}
		out = append(out, step{i * width, text})
	}
	return out
}

// chartKey says what the signs and lines are.
func chartKey(s *study.Study, a *analysis.Analysis, g Glyphs, claim float64, c *grid, notFitted, several bool) string {
	var parts []string
	for b := range s.Batches {
		if slices.ContainsFunc(a.Samples, func(x analysis.Sample) bool { return x.Batch == b }) {
			parts = append(parts, string(g.signs[b%len(g.signs)])+" "+s.Batches[b].ID)
		}
	}
	if several {
		parts = append(parts, string(g.several)+" several")
	}
	if notFitted {
		parts = append(parts, string(g.notFitted)+" not fitted")
	}
	if len(a.Fits) > 0 {
		mean, bound := "dotted line: mean", "dots apart: "
		if g.mean != 0 {
			mean, bound = string(g.mean)+" mean", string(g.bound)+" "
		}
		bound += words.Percent(a.Confidence) + " limit"
		switch leads := leading(a); {
		case leads < 0:
			mean, bound = mean+" of each batch", ""
		case len(a.Fits) > 1 && a.Pooling.Decision == "pooled":
			mean += " of all"
		case len(a.Fits) > 1:
			mean += " of " + s.Batches[a.Fits[leads].Batch].ID
		}
		parts = append(parts, strings.TrimSuffix(mean+", "+bound, ", "))
	}
	if !math.IsInf(a.Lower, 0) || !math.IsInf(a.Upper, 0) {
		parts = append(parts, string(g.limit)+" criterion")
	}
	if _, _, ok := c.place(claim, c.high, 1, 1); ok {
		parts = append(parts, string(g.claim)+" claim "+words.Planned(claim))
	}
	if !math.IsInf(a.ShelfLife, 1) && len(a.Fits) > 0 && a.ShelfLife > 0 {
		parts = append(parts, "bound at "+words.Bound(a.ShelfLife))
	}
	return "Months. " + strings.Join(parts, "; ") + "."
}

// gradeCounts writes how many units had which grade at each pull, the worst on top.
func (p *Printer) gradeCounts(at *study.Attribute, a *analysis.Analysis) {
	names := at.Grades
	if at.Kind == study.PassFail {
		names = []string{"pass", "fail"}
	}
	var pulls []study.Duration
	months := map[study.Duration]float64{}
	for i := range a.Samples {
		x := &a.Samples[i]
		if _, known := months[x.Planned]; !known {
			months[x.Planned] = x.PlannedMonths
			pulls = append(pulls, x.Planned)
		}
	}
	slices.SortStableFunc(pulls, func(a, b study.Duration) int {
		if months[a] < months[b] {
			return -1
		}
		return 1
	})
	columns := []Column{{"units", Left}}
	for _, t := range pulls {
		columns = append(columns, Column{t.String(), Right})
	}
	var rows [][]string
	for grade := len(names) - 1; grade >= 0; grade-- {
		row := []string{names[grade]}
		if v := float64(grade); v > at.Upper || v < at.Lower {
			row[0] += " (outside)"
		}
		for _, t := range pulls {
			n := 0
			for i := range a.Samples {
				if x := &a.Samples[i]; x.Planned == t && int(math.Round(x.Value)) == grade {
					n++
				}
			}
			cell := "·"
			if n > 0 {
				cell = fmt.Sprint(n)
			}
			row = append(row, cell)
		}
		rows = append(rows, row)
	}
	p.Table(columns, rows)
}
