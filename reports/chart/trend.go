package chart

import (
	"fmt"
	"image/color"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"shelfspan/analysis"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// Of draws an analysis in the way that suits it: grades as shares, weighings
// by unit, everything else as a trend. The second value is false where there
// is nothing to draw. claim is the shelf life sought in months, NaN where it
// is not to be shown.
func Of(d *study.Dataset, a *analysis.Analysis, claim float64) (*Chart, bool) {
	switch d.Study.Attributes[a.Attribute].Kind {
	case study.Grade, study.PassFail:
		return Grades(d, a)
	case study.Weighing:
		return WeightLoss(d, a, claim)
	}
	return Trend(d, a, claim)
}

// Trend draws an attribute over time: the samples by batch, the fitted mean
// and its confidence limit, the acceptance limits, and where the two meet.
func Trend(d *study.Dataset, a *analysis.Analysis, claim float64) (*Chart, bool) {
	c, ok := timeChart(d, a, claim)
	if !ok {
		return nil, false
	}
	notFitted, censored := false, false
	at := &d.Study.Attributes[a.Attribute]
	for b := range d.Study.Batches {
		fitted, hollow := markerOf(b), markerOf(b)
		hollow.hollow = true
		in := points{marker: fitted, size: 3.2, shift: aside(b, len(d.Study.Batches))}
		out := points{marker: hollow, size: 3.2, shift: in.shift}
		var ofIn, ofOut []*analysis.Sample
		in.says = func(i int) string { return words.Sample(d.Study, a, ofIn[i]) }
		out.says = func(i int) string { return words.Sample(d.Study, a, ofOut[i]) }
		for i := range a.Samples {
			s := &a.Samples[i]
			if s.Batch != b || !finite(s.Value) {
				continue
			}
			p := xy{s.Months, a.OnBasis(at.Basis, s)}
			switch {
			case s.Censor != study.Exact:
				out.at, ofOut = append(out.at, p), append(ofOut, s)
				censored = true
			case s.Fitted || a.Model == "":
				in.at, ofIn = append(in.at, p), append(ofIn, s)
			default:
				out.at, ofOut = append(out.at, p), append(ofOut, s)
				notFitted = true
			}
		}
		// Samples not fitted lie beneath those that are.
		c.points = append([]points{out}, c.points...)
		c.points = append(c.points, in)
	}
	c.addFits(d, a)
	c.addBatches(d, a)
	c.addFitLegend(d, a)
	m := marker{color: grey, hollow: true}
	if censored {
		c.legend = append(c.legend, entry{text: "hollow: below or above a limit of measurement, which is shown", marker: &m})
	} else if notFitted {
		c.legend = append(c.legend, entry{text: "hollow: shown, not fitted", marker: &m})
	}
	return c, true
}

// aside moves the marks of a batch by no more than about their own size.
func aside(batch, of int) vg.Length {
	return vg.Length(math.Min(2.4, 12/float64(of)) * (float64(batch) - float64(of-1)/2))
}

// WeightLoss draws the loss of each unit as a line of its own, with the fitted
// mean, its bound and the acceptance limit.
func WeightLoss(d *study.Dataset, a *analysis.Analysis, claim float64) (*Chart, bool) {
	c, ok := timeChart(d, a, claim)
	if !ok {
		return nil, false
	}
	type key struct {
		batch int
		unit  string
	}
	var order []key
	lines := map[key][]xy{}
	of := map[key][]*analysis.Sample{}
	for i := range a.Samples {
		s := &a.Samples[i]
		if !finite(s.Value) {
			continue
		}
		u := key{s.Batch, s.Unit}
		if lines[u] == nil {
			order = append(order, u)
		}
		lines[u], of[u] = append(lines[u], xy{s.Months, s.Value}), append(of[u], s)
	}
	leaks := map[key]bool{}
	if l := a.Losses; l != nil {
		for _, i := range l.Found.Leakers {
			leaks[key{l.Units[i].Batch, l.Units[i].Label}] = true
		}
	}
	for _, u := range order {
		m, size := markerOf(u.batch), vg.Length(1.9)
		if leaks[u] {
			m.hollow, size = true, 2.6
		}
		c.lines = append(c.lines, line{lines[u], solid(tint(m.color), 0.5)})
		c.points = append(c.points, points{at: lines[u], marker: m, size: size,
			says: func(i int) string { return words.Sample(d.Study, a, of[u][i]) }})
	}
	c.addFits(d, a)
	c.addBatches(d, a)
	c.addFitLegend(d, a)
	if len(leaks) > 0 {
		c.legend = append(c.legend, entry{text: "hollow: a unit named as a leaker, which counts", marker: &marker{color: grey, hollow: true}})
	}
	return c, true
}

// tint is a colour half way to white.
func tint(c color.Color) color.Color {
	r, g, b, _ := c.RGBA()
	half := func(v uint32) uint8 { return uint8((v>>8 + 255) / 2) }
	return color.RGBA{half(r), half(g), half(b), 255}
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// unit is an attribute's unit as it stands at a scale.
func unit(at *study.Attribute) string {
	if u := words.Unit(at); u != "" {
		return " (" + u + ")"
	}
	return ""
}

// timeChart lays out what every chart over time has: the scales, the
// acceptance limits, the claim and the shelf life.
func timeChart(d *study.Dataset, a *analysis.Analysis, claim float64) (*Chart, bool) {
	at := &d.Study.Attributes[a.Attribute]
	data := 0.0
	var values []float64
	for i := range a.Samples {
		if s := &a.Samples[i]; finite(s.Value) {
			data = math.Max(data, s.Months)
			values = append(values, a.OnBasis(at.Basis, s))
		}
	}
	if len(values) == 0 {
		return nil, false
	}
	base := math.Max(data, 1)
	end := data
	if finite(a.ShelfLife) && a.ShelfLife <= 3.2*base {
		end = math.Max(end, a.ShelfLife)
	}
	if finite(claim) && claim <= 5*base {
		end = math.Max(end, claim)
	}
	if end <= 0 {
		end = 1
	}
	c := &Chart{x: axis{label: "time in storage (months)", min: -0.04 * end, max: end * 1.04}}
	c.x.ticks = monthTicks(c.x.max)

	style := solid(limit, 1.3)
	if finite(a.Lower) {
		c.levels = append(c.levels, level{a.Lower, "lower limit", words.Number(a.Lower, 6), style})
		values = append(values, a.Lower)
	}
	if finite(a.Upper) {
		c.levels = append(c.levels, level{a.Upper, "upper limit", words.Number(a.Upper, 6), style})
		values = append(values, a.Upper)
	}
	// The curves may leave the frame, but not far beyond what was measured.
	low, high := fitting(values)
	for i := range a.Fits {
		if a.Fits[i].Curve == nil {
			continue
		}
		for _, t := range []float64{0, end / 2, end} {
			for _, v := range three(a.Fits[i].Curve(t)) {
				if v > low-0.25*(high-low) && v < high+0.25*(high-low) {
					values = append(values, v)
				}
			}
		}
	}
	c.y.min, c.y.max = fitting(values)
	if at.Kind == study.Weighing {
		c.y.min = math.Min(c.y.min, -0.02*(c.y.max-c.y.min))
	}
	c.y.label, c.y.unit, c.y.ticks = at.ID, unit(at), niceTicks(c.y.min, c.y.max, 6)

	if len(a.Fits) > 0 && end > data*1.01 {
		c.shade = append(c.shade, span{data, c.x.max})
	}
	if finite(claim) && claim <= c.x.max {
		c.events = append(c.events, event{at: claim, text: "claim " + words.Planned(claim) + " months", line: dashed(grey, 0.8, 1, 2.5)})
	}
	if finite(a.ShelfLife) && a.ShelfLife <= c.x.max && a.ShelfLife > 0 {
		e := event{at: a.ShelfLife, text: words.BoundEvent(a), line: dashed(ink, 0.7, 4, 2)}
		if f := limiting(a); f != nil && a.ByMean() {
			switch f.LimitedBy {
			case "lower":
				e.ring = &a.Lower
			case "upper":
				e.ring = &a.Upper
			}
		}
		c.events = append(c.events, e)
	}
	c.Description = describe(d, a, claim)
	return c, true
}

func three(a, b, c float64) []float64 { return []float64{a, b, c} }

// limiting is the fit that sets the shelf life.
func limiting(a *analysis.Analysis) *analysis.Fit {
	for i := range a.Fits {
		if a.LimitingBatch < 0 || a.Fits[i].Batch == a.LimitingBatch {
			return &a.Fits[i]
		}
	}
	return nil
}

const curvePoints = 90

// boundStroke is the line of a confidence limit.
func boundStroke(c color.Color) draw.LineStyle { return dashed(c, 1, 3.5, 2.2) }

// addFits draws the fitted means and, of the batch that limits, the confidence
// limits; where none limits, those of all.
func (c *Chart) addFits(d *study.Dataset, a *analysis.Analysis) {
	pooled := a.Pooling.Decision == "pooled"
	c.addToCome(a)
	for i := range a.Fits {
		f := &a.Fits[i]
		if f.Curve == nil || pooled && i > 0 {
			continue
		}
		own := strokeOf(f.Batch, 1)
		if pooled {
			own = solid(ink, 1)
		}
		leads := pooled || len(a.Fits) == 1 || f.Batch == a.LimitingBatch
		if leads {
			own.Width = 1.6
		}
		var mean, low, high []xy
		for k := range curvePoints + 1 {
			t := c.x.max * float64(k) / curvePoints
			m, l, h := f.Curve(t)
			mean, low, high = append(mean, xy{t, m}), append(low, xy{t, l}), append(high, xy{t, h})
		}
		c.lines = append(c.lines, line{mean, own})
		if a.ByMean() && (leads || a.LimitingBatch < 0) {
			s := boundStroke(own.Color)
			c.lines = append(c.lines, line{low, s}, line{high, s})
		}
	}
}

// addBatches names the batches that have samples, with their marks and, where
// each has one of its own, their fitted lines.
func (c *Chart) addBatches(d *study.Dataset, a *analysis.Analysis) {
	has := make([]bool, len(d.Study.Batches))
	for i := range a.Samples {
		has[a.Samples[i].Batch] = true
	}
	for b, ok := range has {
		if ok {
			m := markerOf(b)
			e := entry{text: "batch " + d.Study.Batches[b].ID, marker: &m}
			if len(a.Fits) > 1 && a.Pooling.Decision != "pooled" && slices.ContainsFunc(a.Fits, func(f analysis.Fit) bool { return f.Batch == b }) {
				own := strokeOf(b, 1.2)
				e.line = &own
			}
			c.legend = append(c.legend, e)
		}
	}
}

func (c *Chart) addFitLegend(d *study.Dataset, a *analysis.Analysis) {
	if len(a.Fits) > 0 {
		mean, bound := solid(ink, 1.6), boundStroke(ink)
		kind := "two-sided"
		if a.OneSided {
			kind = "one-sided"
		}
		limitText := fmt.Sprintf("%s confidence limit, %s", words.Percent(a.Confidence), kind)
		shared := limitText
		if !a.ByMean() {
			limitText = words.Percent(a.Confidence) + " bound for a batch to come"
			shared = limitText
		} else if len(a.Fits) > 1 {
			shared += ", of the batch that limits"
		}
		means := entry{text: "fitted mean", shared: "fitted mean", line: &mean}
		switch {
		case a.Pooling.Decision == "pooled" && len(a.Fits) > 1:
			means.text += ", all batches"
		case len(a.Fits) > 1:
			means = entry{text: "line of a batch: its fitted mean", shared: means.shared}
			if a.LimitingBatch >= 0 {
				limitText += ", batch " + d.Study.Batches[a.LimitingBatch].ID
			}
		}
		c.legend = append(c.legend, means)
		if g := a.Governing(); a.ByMean() || g.Curve != nil {
			c.legend = append(c.legend, entry{text: limitText, shared: shared, line: &bound})
		}
	}
	if len(c.shade) > 0 {
		c.legend = append(c.legend, entry{text: "beyond the data", fill: wash})
	}
}

// describe says what a chart over time shows.
func describe(d *study.Dataset, a *analysis.Analysis, claim float64) string {
	s := d.Study
	var b strings.Builder
	fmt.Fprintf(&b, "%s at %s over time, %d samples.", words.Place(s, a.Attribute, a.Pack, a.Orientation),
		words.Condition(&s.Conditions[a.Condition]), len(a.Samples))
	if finite(a.ShelfLife) {
		fmt.Fprintf(&b, " The %s meets the acceptance limit at %s months.", words.LimitName(a), words.Bound(a.ShelfLife))
	}
	if finite(claim) {
		fmt.Fprintf(&b, " The claim is %s months.", words.Planned(claim))
	}
	return b.String()
}
