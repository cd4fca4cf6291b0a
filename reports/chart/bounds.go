package chart

import "shelfspan/analysis"

// addToCome draws the bound for a batch to come where it governs.
func (c *Chart) addToCome(a *analysis.Analysis) {
	g := a.Governing()
	if a.ByMean() || g.Curve == nil {
		return
	}
	var low, high []xy
	const points = curvePoints / 3 // it bends little, and each takes a search
	for k := range points + 1 {
		t := c.x.max * float64(k) / points
		l, h := g.Curve(t)
		low, high = append(low, xy{t, l}), append(high, xy{t, h})
	}
	s := dashed(ink, 1, 5, 2.5)
	c.lines = append(c.lines, line{low, s}, line{high, s})
}
