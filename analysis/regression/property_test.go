package regression

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/study"
)

var (
	models     = []study.Model{study.ZeroOrder, study.FirstOrder, study.SecondOrder, study.SquareRootTime}
	directions = []study.Direction{study.Either, study.Falls, study.Rises}
)

// drawn is an evaluation of positive values, one to four batches, any model
// and basis that go together, one limit or two.
func drawn(t *rapid.T, batches int) Input {
	in := Input{
		Lower: math.Inf(-1), Upper: math.Inf(1), Alpha: 0.25, Confidence: 0.95,
		Model:     rapid.SampledFrom(models).Draw(t, "model"),
		Direction: rapid.SampledFrom(directions).Draw(t, "direction"),
		Basis:     rapid.SampledFrom([]study.Basis{study.BasisValue, study.BasisPercent, study.BasisChange}).Draw(t, "basis"),
	}
	if in.Basis == study.BasisChange && (in.Model == study.FirstOrder || in.Model == study.SecondOrder) {
		in.Basis = study.BasisValue
	}
	slope := rapid.Float64Range(-1.5, 1.5).Draw(t, "slope")
	for range batches {
		n := rapid.IntRange(4, 9).Draw(t, "n")
		points := make([]Point, n)
		for i := range points {
			months := 3 * float64(i)
			points[i] = Point{Months: months, Value: 100 + slope*months + float64(rapid.IntRange(-300, 300).Draw(t, "error"))/100}
		}
		in.Batches = append(in.Batches, points)
	}
	width := rapid.Float64Range(5, 25).Draw(t, "width")
	centre := 100.0
	if in.Basis == study.BasisChange {
		centre = 0
	}
	if rapid.Bool().Draw(t, "lower limit") || in.Direction == study.Falls {
		in.Lower = centre - width
	}
	if math.IsInf(in.Lower, -1) || in.Direction == study.Rises || rapid.Bool().Draw(t, "upper limit") {
		in.Upper = centre + width
	}
	return in
}

func life(t *rapid.T, in Input) float64 {
	out, _ := Evaluate(in)
	if math.IsNaN(out.ShelfLife) {
		t.Fatalf("status %s", out.Status)
	}
	return out.ShelfLife
}

// equal allows for rounding, which is magnified where the limit is met at a
// flat angle or far out.
func equal(a, b float64) bool {
	return a == b || math.Abs(a-b) <= 1e-7*max(a, b) || far(a) && far(b)
}

// far is where it would be decided by rounding whether a limit is met at all.
func far(x float64) bool { return x > 1e7 }

func TestOrderOfRowsDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawn(t, rapid.IntRange(1, 4).Draw(t, "batches"))
		before := life(t, in)
		for i, b := range in.Batches {
			in.Batches[i] = rapid.Permutation(b).Draw(t, "order")
		}
		if after := life(t, in); !equal(before, after) {
			t.Fatalf("%v months, in another order %v", before, after)
		}
	})
}

func TestOrderOfBatchesDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawn(t, rapid.IntRange(2, 4).Draw(t, "batches"))
		before, _ := Evaluate(in)
		order := rapid.Permutation([]int{0, 1, 2, 3}[:len(in.Batches)]).Draw(t, "order")
		moved := in
		moved.Batches = nil
		for _, i := range order {
			moved.Batches = append(moved.Batches, in.Batches[i])
		}
		after, _ := Evaluate(moved)
		if !equal(before.ShelfLife, after.ShelfLife) || before.Pooling.Decision != after.Pooling.Decision {
			t.Fatalf("%v months, %s; in another order %v, %s", before.ShelfLife, before.Pooling.Decision, after.ShelfLife, after.Pooling.Decision)
		}
		for k, i := range order {
			if !equal(after.Fits[k].ShelfLife, before.Fits[i].ShelfLife) {
				t.Fatalf("a batch's %v months became %v", before.Fits[i].ShelfLife, after.Fits[k].ShelfLife)
			}
		}
	})
}

func TestUnitScalesNothingInMonths(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawn(t, rapid.IntRange(1, 4).Draw(t, "batches"))
		before := life(t, in)
		unit := math.Pow(10, rapid.Float64Range(-6, 6).Draw(t, "power of ten"))
		for i, b := range in.Batches {
			in.Batches[i] = slices.Clone(b)
			for j := range b {
				in.Batches[i][j].Value *= unit
			}
		}
		if in.Basis != study.BasisPercent {
			in.Lower *= unit
			in.Upper *= unit
		}
		if after := life(t, in); !equal(before, after) {
			t.Fatalf("%v months, in another unit %v", before, after)
		}
	})
}

func TestTighterLimitNeverLengthens(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawn(t, rapid.IntRange(1, 4).Draw(t, "batches"))
		before := life(t, in)
		if by := rapid.Float64Range(0, 4).Draw(t, "by"); math.IsInf(in.Upper, 1) || rapid.Bool().Draw(t, "lower") {
			in.Lower += by
		} else {
			in.Upper -= by
		}
		if after := life(t, in); after > before && !equal(before, after) {
			t.Fatalf("%v months, with a tighter limit %v", before, after)
		}
	})
}

func TestHigherConfidenceNeverLengthens(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawn(t, rapid.IntRange(1, 4).Draw(t, "batches"))
		in.Confidence = rapid.Float64Range(0.5, 0.99).Draw(t, "confidence")
		before, _ := Evaluate(in)
		if e := before.Estimate; before.ShelfLife > e && !equal(before.ShelfLife, e) {
			t.Fatalf("%v months, longer than the estimate of %v", before.ShelfLife, e)
		}
		in.Confidence += rapid.Float64Range(0, 0.009).Draw(t, "more")
		if after := life(t, in); after > before.ShelfLife && !equal(before.ShelfLife, after) {
			t.Fatalf("%v months, at a higher confidence %v", before.ShelfLife, after)
		}
	})
}

// Of one batch: a point on the line changes neither line nor residual, and adds
// a degree of freedom.
func TestPointOnTheLineNeverShortens(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawn(t, 1)
		before, _ := Evaluate(in)
		value := in
		value.Basis, value.Lower = study.BasisValue, 80 // Curve in the attribute's unit
		line, _ := Evaluate(value)
		at := rapid.Float64Range(0, 36).Draw(t, "at")
		mean, _, _ := line.Fits[0].Curve(at)
		if math.IsInf(mean, 0) || mean <= 0 {
			return // the line has left the model's domain there
		}
		in.Batches = [][]Point{append(slices.Clone(in.Batches[0]), Point{Months: at, Value: mean})}
		if after := life(t, in); after < before.ShelfLife && !equal(before.ShelfLife, after) {
			t.Fatalf("%v months, with a point on the line %v", before.ShelfLife, after)
		}
	})
}
