package svg

import (
	"math"
	"regexp"
	"strconv"
	"testing"

	"gonum.org/v1/plot/vg"
)

// TestCirclesAreRound: a circle is two arcs between points that are rounded to a
// tenth. SVG fits a radius that is too short for its ends and takes one that is too
// long as it is, so that the halves would be flat: it must be no longer than half
// the way between them.
func TestCirclesAreRound(t *testing.T) {
	arc := regexp.MustCompile(`M([-\d.]+) ([-\d.]+)A([\d.]+) ([\d.]+) 0 0 0 ([-\d.]+) ([-\d.]+)A`)
	for _, radius := range []vg.Length{1.425, 1.95, 2.175, 2.6, 4.2} {
		for k := range 40 {
			x := vg.Length(50 + 0.0137*float64(k))
			c := New(100, 100, nil)
			var p vg.Path
			p.Move(vg.Point{X: x + radius, Y: 50})
			p.Arc(vg.Point{X: x, Y: 50}, radius, 0, 2*math.Pi)
			p.Close()
			c.Fill(p)
			m := arc.FindSubmatch(c.Append(nil, "c", "", "", ""))
			if m == nil {
				t.Fatalf("no circle in %s", c.out)
			}
			var v [6]float64
			for i := range v {
				v[i], _ = strconv.ParseFloat(string(m[i+1]), 64)
			}
			if half := math.Hypot(v[4]-v[0], v[5]-v[1]) / 2; v[2] > half+1e-9 || v[2] != v[3] {
				t.Errorf("a circle of %g at %g has arcs of a radius of %g over a chord of %g", radius, x, v[2], 2*half)
			}
		}
	}
}
