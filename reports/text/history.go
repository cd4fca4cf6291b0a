package text

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"shelfspan/analysis"
	"shelfspan/analysis/climate"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// mostExcursions is how many are told one by one.
const mostExcursions = 20

// History writes the answer of mkt.
func (p *Printer) History(h *analysis.History) {
	if h.Evaluation != nil {
		p.title(h.Evaluation.Dataset.Study)
	}
	for _, line := range words.History(h) {
		p.Paragraph(line)
	}
	if r := h.Record; r != nil {
		if r.Hours > 0 {
			p.strip(r)
		}
		p.excursions(r)
	}
	if h.LaneRecord != nil {
		p.legs(h)
	}
	if h.Evaluation != nil {
		p.lives(h.Evaluation)
	}
	p.Heading("How to read this")
	p.Paragraph(words.KineticMeaning)
	if h.Record != nil {
		p.Paragraph(words.BetweenLines)
	}
	if h.Lane != nil && slices.ContainsFunc(h.LaneRecord.Legs, func(l climate.LegRecord) bool { return l.Low < l.High }) {
		p.Paragraph(words.DailySwing)
	}
	if e := h.Evaluation; e != nil {
		p.Paragraph(words.LifeMeaning)
		p.Paragraph(words.Disclaimer)
		for _, c := range words.Cautions(e.Dataset.Study) {
			p.Hanging("- ", c)
		}
	}
	p.countWarnings(h.Warnings())
}

// excursions lists the longest excursions in the order of time.
func (p *Printer) excursions(r *climate.Record) {
	list := slices.Clone(r.Excursions)
	if len(list) == 0 {
		return
	}
	p.Heading("Excursions")
	if len(list) > mostExcursions {
		slices.SortStableFunc(list, func(a, b climate.Excursion) int { return cmp.Compare(b.Hours, a.Hours) })
		list = list[:mostExcursions]
		slices.SortStableFunc(list, func(a, b climate.Excursion) int { return cmp.Compare(a.Start.Milli, b.Start.Milli) })
	}
	var rows [][]string
	cut := false
	for _, e := range list {
		side, start, end := "below", e.Start.String(), e.End.String()
		if e.Above {
			side = "above"
		}
		if !e.StartsKnown {
			start, cut = "≤ "+start, true
		}
		if !e.EndsKnown {
			end, cut = "≥ "+end, true
		}
		rows = append(rows, []string{side, start, end, words.Hours(e.Hours), words.Celsius(e.Peak.Celsius), words.Kinetic(e.MeanKinetic)})
	}
	p.Table([]Column{{"", Left}, {"from", Left}, {"to", Left}, {"for", Right}, {"peak °C", Right}, {"kinetic °C", Right}}, rows)
	if n := len(r.Excursions) + r.MoreOutside; n > len(list) {
		p.Paragraph(fmt.Sprintf("The %d longest of %d; --format csv lists them.", len(list), n))
	}
	if cut {
		p.Paragraph("≤, ≥: the log, or a gap, cuts it there.")
	}
}

// legs lists the legs of the lane.
func (p *Printer) legs(h *analysis.History) {
	r := h.LaneRecord
	head := "leg"
	if h.Lane.ByMonth {
		head = "month"
	}
	hours := func(x float64, side climate.Side) string {
		if math.IsNaN(side.Limit) || x == 0 {
			return ""
		}
		return words.Hours(x)
	}
	var rows [][]string
	for _, l := range r.Legs {
		celsius := words.Celsius(l.Low)
		if l.High > l.Low {
			celsius += " to " + words.Celsius(l.High)
		}
		rows = append(rows, []string{l.Name, celsius, words.Kinetic(l.MeanKinetic), words.Hours(l.Hours), hours(l.Above, r.Above), hours(l.Below, r.Below)})
	}
	p.Heading("The lane")
	p.Table([]Column{{head, Left}, {"°C", Right}, {"kinetic °C", Right}, {"for", Right}, {"above the limit", Right}, {"below the limit", Right}}, rows)
}

// lives lists what the histories use of the lives.
func (p *Printer) lives(e *analysis.Evaluation) {
	s := e.Dataset.Study
	var names []string
	for _, r := range e.Arrhenius {
		for _, x := range r.Exposures {
			if !slices.Contains(names, x.Name) {
				names = append(names, x.Name)
			}
		}
	}
	for _, name := range names {
		var rows [][]string
		bent, hot := false, false
		for _, r := range e.Arrhenius {
			for i := range r.Exposures {
				if x := &r.Exposures[i]; x.Name == name {
					rows = append(rows, life(s, r, x))
					bent, hot = bent || r.Bent(), hot || x.Above > 0 && name != analysis.AboveLimit
				}
			}
		}
		head := "What " + name + " does"
		if s.StoreAt >= 0 {
			head += ", in months at " + words.Storage(s)
		}
		p.Heading(head)
		p.Table([]Column{{"attribute", Left}, {"pack", Left}, {"worth", Right}, {"≤", Right}, {"used", Right}, {"≤", Right}, {"left ≥", Right}, {"supported", Right}, {"left ≥", Right}, {"", Left}}, blanked(rows))
		if bent {
			p.Paragraph("*: one activation energy does not fit all temperatures; not to be relied on.")
		}
		if hot {
			p.Paragraph("+: some of it was hotter than anything studied.")
		}
	}
}

func life(s *study.Study, r *analysis.Arrhenius, x *analysis.Exposure) []string {
	dash := func(v float64, text string) string {
		if math.IsNaN(v) {
			return "–"
		}
		return text
	}
	row := []string{
		s.Attributes[r.Attribute].ID, words.PackName(s, r.Pack, r.Orientation),
		dash(x.Equivalent, words.Fixed(x.Equivalent, 2)), dash(x.EquivalentHigh, words.WorthBound(x.EquivalentHigh)),
		dash(x.Used, words.Used(x.Used)), dash(x.UsedBound, words.UsedBound(x.UsedBound)), "–", "–", "–", "",
	}
	if r.Bent() {
		row[9] = "*"
	}
	if x.Name != analysis.AboveLimit { // which is a part, and leaves nothing by itself
		row[6], row[7], row[8] = dash(x.LeftBound, words.Bound(x.LeftBound)), dash(x.Supported, words.Planned(x.Supported)), dash(x.SupportedLeft, words.Bound(x.SupportedLeft))
		if x.Above > 0 {
			row[9] += "+"
		}
	}
	return row
}

// stripHeight is the number of lines of a strip.
const stripHeight = 8

// strip draws the temperature over time: in each column the range that it had in
// that stretch. A line of dots stands at each limit.
func (p *Printer) strip(r *climate.Record) {
	low, high := r.Min.Celsius, r.Max.Celsius
	// A limit that lies near is shown, one far off would flatten the picture.
	for _, limit := range []float64{r.Below.Limit, r.Above.Limit} {
		if reach := max(high-low, 1); limit > low-reach/2 && limit < high+reach/2 {
			low, high = min(low, limit), max(high, limit)
		}
	}
	if high-low < 1 {
		low, high = low-0.5, high+0.5
	}
	row := func(celsius float64) int { // from the bottom
		return min(max(int(math.Floor((celsius-low)/(high-low)*stripHeight)), 0), stripHeight-1)
	}
	labels := make([]string, stripHeight)
	dotted := make([]bool, stripHeight)
	labels[0], labels[stripHeight-1] = words.Celsius(low), words.Celsius(high)
	for _, limit := range []float64{r.Below.Limit, r.Above.Limit} {
		if limit >= low && limit <= high {
			labels[row(limit)], dotted[row(limit)] = words.Celsius(limit), true
		}
	}
	margin := 0
	for _, l := range labels {
		margin = max(margin, textWidth(l))
	}
	bands := r.Strip.Bands
	width := min(p.width-margin-2, len(bands), 72)
	lows, highs := make([]int, width), make([]int, width)
	for c := range width {
		lows[c], highs[c] = stripHeight, -1
		for i := c * len(bands) / width; i < max((c+1)*len(bands)/width, c*len(bands)/width+1); i++ {
			if b := bands[i]; !math.IsNaN(b.Low) {
				lows[c], highs[c] = min(lows[c], row(b.Low)), max(highs[c], row(b.High))
			}
		}
	}
	p.Heading("Temperature over time, °C")
	for y := stripHeight - 1; y >= 0; y-- {
		var line strings.Builder
		line.WriteString(strings.Repeat(" ", margin-textWidth(labels[y])) + labels[y] + " ")
		for c := range width {
			switch {
			case y >= lows[c] && y <= highs[c]:
				line.WriteRune('█')
			case dotted[y]:
				line.WriteRune('·')
			default:
				line.WriteRune(' ')
			}
		}
		p.write(strings.TrimRight(line.String(), " ") + "\n")
	}
	first, last := r.First.Day(), r.Last.Day()
	if room := width - textWidth(first) - textWidth(last); room > 0 && first != last {
		p.write(strings.Repeat(" ", margin+1) + first + strings.Repeat(" ", room) + last + "\n")
	}
	column := words.Hours(float64(r.Strip.Milli) * float64(len(bands)) / float64(width) / 3.6e6)
	p.Paragraph("A column is " + column + "; dots stand at the limits, and a column without a mark is a gap. Usual step: " + strconv.FormatFloat(math.Round(r.Step*100)/100, 'f', -1, 64) + " min.")
}
