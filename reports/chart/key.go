package chart

import (
	"cmp"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Key draws the legend that charts side by side share: what any of them shows,
// in words that hold for all. It is as high as the width asks for, in points.
func Key(charts []*Chart, width float64) (height float64, drawn func(draw.Canvas)) {
	key := &Chart{legend: entriesOf(charts, true)}
	s := textStyle(7.5)
	_, h := key.placeLegend(vg.Length(width), s)
	return float64(h), func(dc draw.Canvas) { key.drawLegend(dc, s) }
}

// entriesOf are the entries of all charts, each once; shared, in words that hold
// for all.
func entriesOf(charts []*Chart, shared bool) []entry {
	var out []entry
	seen := map[string]bool{}
	for _, c := range charts {
		for _, e := range c.legend {
			if shared {
				e.text = cmp.Or(e.shared, e.text)
			}
			if !seen[e.text] {
				seen[e.text] = true
				out = append(out, e)
			}
		}
	}
	return out
}

// KeyEntry is one line of a legend that is set elsewhere than on the canvas.
type KeyEntry struct {
	Text          string
	Width, Height float64           // of its picture, in points; no width where it has none
	Draw          func(draw.Canvas) // the picture
}

// Entries gives the legend of charts, in words that hold for all where
// there are several.
func Entries(charts ...*Chart) []KeyEntry {
	const size, edge = 8, 2
	var out []KeyEntry
	for _, e := range entriesOf(charts, len(charts) > 1) {
		k := KeyEntry{Text: e.text}
		if w := e.sample(); w > 0 {
			k.Width, k.Height = float64(w)+2*edge, size*0.72+2*edge
			k.Draw = func(dc draw.Canvas) {
				e.drawSample(dc, vg.Point{X: dc.Min.X + edge, Y: dc.Min.Y + edge}, size)
			}
		}
		out = append(out, k)
	}
	return out
}

// WithoutLegend is the chart for where Entries stand beside it.
func (c *Chart) WithoutLegend() *Chart {
	bare := *c
	bare.legend = nil
	return &bare
}
