package residuals

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis/linear"
	"shelfspan/analysis/pooling"
)

var months = []float64{0, 3, 6, 9, 12, 18, 24}

// study draws batches about a mean course with an error of standard deviation 1.
func study(random *rand.Rand, batches int, times []float64, mean func(t float64) float64) []pooling.Batch {
	all := make([]pooling.Batch, batches)
	for i := range all {
		for _, t := range times {
			all[i].X, all[i].Y = append(all[i].X, t), append(all[i].Y, mean(t)+random.NormFloat64())
		}
	}
	return all
}

// The deleted residual is what a fit without the observation says of it: the
// distance from its prediction over the error of that distance.
func TestExternalIsAFitWithoutThePoint(t *testing.T) {
	random := rand.New(rand.NewPCG(2026, 4))
	b := study(random, 1, months, func(t float64) float64 { return 100 - 0.4*t })[0]
	columns, y := pooling.Columns([]pooling.Batch{b}, pooling.Separate)
	r, err := Of(columns, y)
	if err != nil {
		t.Fatal(err)
	}
	for i := range y {
		x, rest := append(append([]float64{}, b.X[:i]...), b.X[i+1:]...), append(append([]float64{}, y[:i]...), y[i+1:]...)
		line, _, err := linear.Straight(x, rest)
		if err != nil {
			t.Fatal(err)
		}
		want := (y[i] - line.Mean(b.X[i])) / math.Hypot(line.S, line.SE(b.X[i]))
		if math.Abs(r.Points[i].External-want) > 1e-11*(1+math.Abs(want)) {
			t.Errorf("%d: %v, want %v", i, r.Points[i].External, want)
		}
	}
}

// Leverages add up to the number of coefficients, and residuals are at right
// angles to every column.
func TestHatMatrix(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(5, 20).Draw(t, "n")
		x := rapid.SliceOfNDistinct(rapid.IntRange(0, 60), n, n, rapid.ID[int]).Draw(t, "x")
		b := pooling.Batch{Y: rapid.SliceOfN(rapid.Float64Range(1, 200), n, n).Draw(t, "y")}
		for _, v := range x {
			b.X = append(b.X, float64(v))
		}
		columns, y := pooling.Columns([]pooling.Batch{b}, pooling.Pooled)
		r, err := Of(columns, y)
		if err != nil {
			t.Fatal(err)
		}
		trace := 0.0
		for _, q := range r.Points {
			trace += q.Leverage
		}
		if math.Abs(trace-2) > 1e-12 {
			t.Fatalf("leverages add up to %v", trace)
		}
		for _, c := range columns {
			s, size := 0.0, 0.0
			for i, q := range r.Points {
				s += q.Residual * c.Values[i]
				size += y[i] * y[i] * c.Values[i] * c.Values[i]
			}
			if math.Abs(s) > 1e-13*math.Sqrt(size)*float64(n) {
				t.Fatalf("%s: residuals are not at right angles: %v", c.Name, s)
			}
		}
	})
}

// What cannot be told is not told.
func TestWhatCannotBeTested(t *testing.T) {
	line := func(x, y []float64) Residuals {
		t.Helper()
		columns, y := pooling.Columns([]pooling.Batch{{X: x, Y: y}}, pooling.Separate)
		r, err := Of(columns, y)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	if r := line([]float64{0, 1, 2, 3}, []float64{7, 7, 7, 7}); r.SD != 0 || r.Tested != 0 || r.Farthest != -1 {
		t.Errorf("equal values: %+v", r)
	}
	if r := line([]float64{0, 1, 2}, []float64{1, 5, 2}); r.DF != 1 || r.Tested != 0 || r.Points[0].P != 1 {
		t.Errorf("one degree of freedom: %+v", r)
	}
	// Only the last stands at another time: the line goes through it.
	if r := line([]float64{0, 0, 0, 9}, []float64{1, 2, 4, 50}); r.Tested != 3 || r.Points[3].Tested || r.Points[3].External != 0 {
		t.Errorf("full leverage: %+v", r.Points[3])
	}
	// All but one lie on a line.
	if r := line([]float64{0, 1, 2, 3, 4}, []float64{1, 2, 3.5, 4, 5}); !math.IsInf(r.Points[2].External, 1) || r.Points[2].P != 0 || r.Farthest != 2 {
		t.Errorf("one off a line: %+v", r.Points[2])
	}
	for name, f := range map[string]func() error{
		"no residual": func() error {
			_, err := Of([]linear.Column{{Name: "one", Values: []float64{1}}}, []float64{2})
			return err
		},
		"no number": func() error {
			_, err := Of([]linear.Column{{Name: "one", Values: []float64{1, 1}}}, []float64{2, math.NaN()})
			return err
		},
		"uneven columns": func() error {
			_, err := Of([]linear.Column{{Name: "one", Values: []float64{1}}}, []float64{2, 3})
			return err
		},
		"no spread": func() error {
			_, err := ChangingSpread([]float64{0, 0, 0}, []linear.Column{{Name: "x", Values: []float64{1, 2, 3}}})
			return err
		},
		"two times": func() error {
			_, err := CourseOf([]pooling.Batch{{X: []float64{0, 0, 0, 0, 1, 1}, Y: []float64{1, 2, 3, 4, 5, 6}}})
			return err
		},
		"nothing": func() error { _, err := CourseOf(nil); return err },
		"as many coefficients as settings": func() error {
			columns, y := pooling.Columns([]pooling.Batch{{X: []float64{0, 0, 1, 1}, Y: []float64{1, 2, 3, 5}}}, pooling.Pooled)
			_, err := AgainstReplicates(columns, y)
			return err
		},
	} {
		if f() == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// Residuals of one size have a spread that does not change.
func TestEvenSpread(t *testing.T) {
	s, err := ChangingSpread([]float64{1, -1, -1, 1, 1, -1}, []linear.Column{{Name: "x", Values: []float64{0, 1, 2, 3, 4, 5}}})
	if err != nil || s.Statistic != 0 || s.P != 1 || s.OriginalP != 1 {
		t.Errorf("%+v, %v", s, err)
	}
}

// Times that are a rounding apart are one.
func TestReplicatesAreFoundInSpiteOfRounding(t *testing.T) {
	third := 1.0 / 3
	columns, y := pooling.Columns([]pooling.Batch{{X: []float64{0, 0, 1, third * 3, 2, 6 * third}, Y: []float64{1, 2, 3, 5, 4, 4.5}}}, pooling.Pooled)
	l, err := AgainstReplicates(columns, y)
	if err != nil || l.DF1 != 1 || l.DF2 != 3 {
		t.Errorf("%+v, %v", l, err)
	}
}

// The rates at which straight lines with a normal error are found wanting, at
// 0.05, in 2000 studies of three batches. Three standard errors of a binomial
// share are 0.0146. The test of a changing spread rests on large numbers and is
// a little timid here; runs are more so.
func TestRatesOfFalseFinds(t *testing.T) {
	const studies = 2000
	random := rand.New(rand.NewPCG(2026, 5))
	var outlier, spread, bend, runs, turn int
	for range studies {
		b := study(random, 3, months, func(t float64) float64 { return 100 - 0.4*t })
		columns, y := pooling.Columns(b, pooling.Separate)
		r, err := Of(columns, y)
		if err != nil {
			t.Fatal(err)
		}
		var e, x []float64
		for i, q := range r.Points {
			e, x = append(e, q.Residual), append(x, months[i%len(months)])
		}
		s, errSpread := ChangingSpread(e, []linear.Column{{Name: "months", Values: x}})
		c, errCourse := CourseOf(b)
		if errSpread != nil || errCourse != nil {
			t.Fatal(errSpread, errCourse)
		}
		for _, test := range []struct {
			count *int
			p     float64
		}{{&outlier, r.Points[r.Farthest].P}, {&spread, s.P}, {&bend, c.Bend.P}, {&runs, c.Runs.P}, {&turn, c.Turn.P}} {
			if test.p < 0.05 {
				*test.count++
			}
		}
	}
	for _, c := range []struct {
		name      string
		count     int
		low, high float64
	}{
		{"outlier", outlier, 0.0354, 0.0646},
		{"changing spread", spread, 0.03, 0.06},
		{"bend", bend, 0.0354, 0.0646},
		{"runs", runs, 0, 0.015},
		{"turn", turn, 0, 0.005},
	} {
		if share := float64(c.count) / studies; share < c.low || share > c.high {
			t.Errorf("%s: found in %.4f of the studies without, want %v to %v", c.name, share, c.low, c.high)
		}
	}
}

// A spread that changes is told from long tails: with errors of Student's t on 5
// degrees of freedom the original test finds one in 14 % of studies, the
// studentized one in 5 %.
func TestLongTailsAreNoChangingSpread(t *testing.T) {
	const studies = 2000
	random := rand.New(rand.NewPCG(2026, 6))
	x := make([]float64, 63)
	for i := range x {
		x[i] = months[i%len(months)]
	}
	studentized, original := 0, 0
	for range studies {
		e := make([]float64, len(x))
		for i := range e {
			square := 0.0
			for range 5 {
				z := random.NormFloat64()
				square += z * z
			}
			e[i] = random.NormFloat64() / math.Sqrt(square/5)
		}
		s, err := ChangingSpread(e, []linear.Column{{Name: "months", Values: x}})
		if err != nil {
			t.Fatal(err)
		}
		if s.P < 0.05 {
			studentized++
		}
		if s.OriginalP < 0.05 {
			original++
		}
	}
	if a, b := float64(studentized)/studies, float64(original)/studies; a > 0.0646 || b < 0.1 {
		t.Errorf("studentized %.4f, original %.4f", a, b)
	}
}

// Where the truth does not turn, a turn is found at no more than about the
// level; where it does, the more surely the higher it rises. A quadratic's
// vertex would find a plateau to be a break in nearly all of these studies.
func TestTurn(t *testing.T) {
	const studies = 500 // three standard errors at 0.05: 0.029
	plateau := func(height, months float64) func(float64) float64 {
		return func(t float64) float64 { return height * min(1, t/months) }
	}
	peak := func(height, months float64) func(float64) float64 {
		return func(t float64) float64 {
			if t < months {
				return height * t / months
			}
			return height * (24 - t) / (24 - months)
		}
	}
	for _, c := range []struct {
		name      string
		batches   int
		mean      func(float64) float64
		low, high float64
	}{
		{"flat", 3, func(float64) float64 { return 0 }, 0, 0.079},
		{"line", 3, func(t float64) float64 { return t / 4 }, 0, 0.01},
		{"low plateau", 3, plateau(2, 6), 0, 0.079},
		{"plateau", 1, plateau(3, 7), 0, 0.079},
		{"high plateau", 3, plateau(10, 9), 0, 0.079},
		{"exponential plateau", 3, func(t float64) float64 { return -10 * math.Expm1(-0.5*t) }, 0, 0.079},
		{"rise by 3 in 12 months, one batch", 1, peak(3, 12), 0.2, 0.4},
		{"rise by 3 in 6 months", 3, peak(3, 6), 0.88, 1},
		{"rise by 10 in 6 months", 1, peak(10, 6), 0.97, 1},
	} {
		random := rand.New(rand.NewPCG(2026, 7))
		found := 0
		for range studies {
			r, err := CourseOf(study(random, c.batches, months, c.mean))
			if err != nil {
				t.Fatal(err)
			}
			if r.Turn.P < 0.05 && r.Turn.Direction == RisesThenFalls {
				found++
			}
		}
		if share := float64(found) / studies; share < c.low || share > c.high {
			t.Errorf("%s: a turn in %.3f of the studies, want %v to %v", c.name, share, c.low, c.high)
		}
	}
}

// A peak without error is found where it stands, and a line has neither bend nor
// turn.
func TestExactCourses(t *testing.T) {
	exact := func(mean func(float64) float64) []pooling.Batch {
		b := pooling.Batch{X: months}
		for _, t := range months {
			b.Y = append(b.Y, mean(t))
		}
		return []pooling.Batch{b, b}
	}
	c, err := CourseOf(exact(func(t float64) float64 { return 10 - math.Abs(t-9) }))
	if err != nil || c.Turn.Direction != RisesThenFalls || c.Turn.At != 9 || c.Turn.P != 0 || math.Abs(c.Turn.Before-1) > 1e-12 || math.Abs(c.Turn.After+1) > 1e-12 {
		t.Errorf("peak: %+v, %v", c.Turn, err)
	}
	c, err = CourseOf(exact(func(t float64) float64 { return 100.1 - 0.3*t }))
	if err != nil || c.Bend.P != 1 || c.Turn.P != 1 || c.Runs.Runs != 0 {
		t.Errorf("line: %+v, %v", c, err)
	}
	c, err = CourseOf(exact(func(t float64) float64 { return 0.1 }))
	if err != nil || c.Bend.P != 1 || c.Turn.P != 1 {
		t.Errorf("equal values: %+v, %v", c, err)
	}
	// t² fits without residual: t is infinite, and its sign that of the bend.
	c, err = CourseOf(exact(func(t float64) float64 { return 5 - t*t }))
	if err != nil || !math.IsInf(c.Bend.T, -1) || c.Bend.P != 0 {
		t.Errorf("parabola: %+v, %v", c.Bend, err)
	}
}

// Another unit, turned upside down, and another unit of time change no test.
func TestInvariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		scale, shift := rapid.Float64Range(0.01, 100).Draw(t, "scale"), rapid.Float64Range(-100, 100).Draw(t, "shift")
		month := rapid.Float64Range(0.01, 100).Draw(t, "month")
		plain := study(random, 2, months, func(t float64) float64 { return 10 + t/5 })
		moved := make([]pooling.Batch, len(plain))
		for i, b := range plain {
			for j := range b.X {
				moved[i].X, moved[i].Y = append(moved[i].X, month*b.X[j]), append(moved[i].Y, shift-scale*b.Y[j])
			}
		}
		a, errA := CourseOf(plain)
		b, errB := CourseOf(moved)
		if errA != nil || errB != nil {
			t.Fatal(errA, errB)
		}
		opposite := map[Direction]Direction{NoTurn: NoTurn, RisesThenFalls: FallsThenRises, FallsThenRises: RisesThenFalls}
		if math.Abs(a.Bend.T+b.Bend.T) > 1e-8*(1+math.Abs(a.Bend.T)) || a.Runs != b.Runs ||
			math.Abs(a.Turn.P-b.Turn.P) > 1e-8 || b.Turn.Direction != opposite[a.Turn.Direction] {
			t.Fatalf("%+v\nand upside down %+v", a, b)
		}
	})
}

func FuzzResiduals(f *testing.F) {
	seed := func(values ...float64) (b []byte) {
		for i, v := range values {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(float64(i/2)))
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
		return b
	}
	f.Add(seed(1, 2, 4, 3, 5, 5, 6, 7, 4, 2, 1, 0, 3, 9), uint8(0), uint8(0))
	f.Add(seed(1, 2, 4, 3, 5, 5, 6, 7, 4, 2, 1, 0, 3, 9, 1, 1, 1, 1, 1, 1), uint8(1), uint8(1))
	f.Add(seed(7, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7), uint8(1), uint8(2))
	f.Fuzz(func(t *testing.T, data []byte, count, decision uint8) {
		if len(data) > 16*60 {
			return
		}
		batches := make([]pooling.Batch, 1+count%3)
		for i := 0; len(data) >= 16; i++ {
			b := &batches[i%len(batches)]
			b.X = append(b.X, math.Float64frombits(binary.LittleEndian.Uint64(data)))
			b.Y = append(b.Y, math.Float64frombits(binary.LittleEndian.Uint64(data[8:])))
			data = data[16:]
		}
		columns, y := pooling.Columns(batches, []pooling.Decision{pooling.Separate, pooling.CommonSlope, pooling.Pooled}[decision%3])
		chance := func(name string, p float64) {
			if !(p >= 0 && p <= 1) {
				t.Fatalf("p of %s is %v", name, p)
			}
		}
		number := func(name string, x float64) {
			if math.IsNaN(x) {
				t.Fatalf("%s is NaN", name)
			}
		}
		if r, err := Of(columns, y); err == nil {
			e := make([]float64, len(y))
			for i, q := range r.Points {
				chance("a point", q.P)
				chance("a leverage", q.Leverage)
				number("a point", q.Fitted+q.Residual+q.Internal)
				number("an external residual", q.External)
				e[i] = q.Residual
			}
			if s, err := ChangingSpread(e, columns[:1]); err == nil {
				chance("the spread", s.P)
				chance("the spread", s.OriginalP)
			}
		}
		if l, err := AgainstReplicates(columns, y); err == nil {
			chance("the lack of fit", l.P)
			number("F", l.F)
		}
		if c, err := CourseOf(batches); err == nil {
			chance("the bend", c.Bend.P)
			chance("the runs", c.Runs.P)
			chance("the turn", c.Turn.P)
			number("a number of the course", c.Bend.T)
			number("a number of the course", c.Turn.F)
			number("a number of the course", c.Turn.At+c.Turn.Before+c.Turn.After)
		}
	})
}

func BenchmarkCourse(b *testing.B) {
	batches := study(rand.New(rand.NewPCG(1, 2)), 3, months, func(t float64) float64 { return 100 - 0.4*t })
	b.ReportAllocs()
	for b.Loop() {
		if _, err := CourseOf(batches); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkOf(b *testing.B) {
	columns, y := pooling.Columns(study(rand.New(rand.NewPCG(1, 2)), 3, months, func(t float64) float64 { return 100 - 0.4*t }), pooling.Separate)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Of(columns, y); err != nil {
			b.Fatal(err)
		}
	}
}

// Batch by batch comes to the same as with all columns at once.
func TestBatchByBatch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		b := study(random, rapid.IntRange(1, 4).Draw(t, "batches"), append(months, months[:rapid.IntRange(0, 7).Draw(t, "twice")]...),
			func(t float64) float64 { return 100 - 0.4*t })
		columns, y := pooling.Columns(b, pooling.Separate)
		want, errWant := Of(columns, y)
		got, err := OfBatches(b)
		if err != nil || errWant != nil {
			t.Fatal(err, errWant)
		}
		near := func(what string, got, want float64) {
			if math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
				t.Fatalf("%s: %v, with all columns %v", what, got, want)
			}
		}
		if got.DF != want.DF || got.Tested != want.Tested || got.Farthest != want.Farthest {
			t.Fatalf("%+v, with all columns %+v", got, want)
		}
		for i, p := range got.Points {
			near("residual", p.Residual, want.Points[i].Residual)
			near("leverage", p.Leverage, want.Points[i].Leverage)
			near("external", p.External, want.Points[i].External)
			near("p", p.P, want.Points[i].P)
		}
		lackWant, errWant := AgainstReplicates(columns, y)
		lack, err := BatchesAgainstReplicates(b)
		if (err == nil) != (errWant == nil) || lack.DF1 != lackWant.DF1 || lack.DF2 != lackWant.DF2 {
			t.Fatalf("%+v, %v, with all columns %+v, %v", lack, err, lackWant, errWant)
		}
		near("lack of fit", lack.F, lackWant.F)
	})
}

// BenchmarkCourseOfManyBatches is 40 batches of 70 values.
func BenchmarkCourseOfManyBatches(b *testing.B) {
	batches := study(rand.New(rand.NewPCG(1, 2)), 40, slices.Repeat(months, 10), func(t float64) float64 { return 100 - 0.4*t })
	b.ReportAllocs()
	for b.Loop() {
		if _, err := CourseOf(batches); err != nil {
			b.Fatal(err)
		}
	}
}
