package outoftrend

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"shelfspan/analysis/linear"
	"shelfspan/analysis/pooling"
	"shelfspan/analysis/residuals"
	"shelfspan/testdata/reference"
)

// The reference numbers are R's: testdata/reference/outoftrend/outoftrend.R.
func TestBatchesAgainstR(t *testing.T) {
	type suspect struct {
		batches      []pooling.Batch
		batch, point int
	}
	sets := map[string]*suspect{}
	for _, row := range reference.Table(t, "outoftrend/batches.csv") {
		s := sets[row["set"]]
		if s == nil {
			s = &suspect{}
			sets[row["set"]] = s
		}
		k := int(reference.Number(t, row["batch"])) - 1
		if k == len(s.batches) {
			s.batches = append(s.batches, pooling.Batch{})
		}
		b := &s.batches[k]
		if row["suspect"] == "TRUE" {
			s.batch, s.point = k, len(b.X)
		}
		b.X, b.Y = append(b.X, reference.Number(t, row["months"])), append(b.Y, reference.Number(t, row["value"]))
	}
	decisions := map[string]bool{}
	for _, row := range reference.Table(t, "outoftrend/answers.csv") {
		s := sets[row["set"]]
		j, err := OfBatches(s.batches, s.batch, s.point)
		if row["model"] == "shared" {
			j, err = shared(s.batches, s.batch, s.point)
			decisions[row["decision"]] = true
		}
		if err != nil {
			t.Fatalf("%s: %v", row["set"], err)
		}
		same(t, row["set"]+": expected", j.Expected, row["expected"])
		same(t, row["set"]+": se", j.SE, row["se"])
		same(t, row["set"]+": df", float64(j.DF), row["df"])
		compare(t, row["set"], j, row)
	}
	if len(decisions) != 3 {
		t.Errorf("decisions in the reference: %v", decisions)
	}
}

// shared judges a result against the line that its batch has without it under
// the poolability tests.
func shared(batches []pooling.Batch, batch, point int) (Judgement, error) {
	rest := slices.Clone(batches)
	x, y := rest[batch].X, rest[batch].Y
	rest[batch] = pooling.Batch{X: without(x, point), Y: without(y, point)}
	fit, err := pooling.Fit(rest, 0.25)
	if err != nil {
		return Judgement{}, err
	}
	return AgainstLine(fit.Lines[batch], x[point], y[point])
}

func TestEarlierAgainstR(t *testing.T) {
	earlier := map[string][]float64{}
	for _, row := range reference.Table(t, "outoftrend/earlier.csv") {
		earlier[row["n"]] = append(earlier[row["n"]], reference.Number(t, row["value"]))
	}
	for _, row := range reference.Table(t, "outoftrend/earlier-answers.csv") {
		j, err := AgainstEarlier(earlier[row["n"]], reference.Number(t, row["value"]))
		if err != nil {
			t.Fatal(err)
		}
		compare(t, row["n"]+" batches", j, row)
	}
}

func without(v []float64, i int) []float64 {
	return slices.Concat(v[:i], v[i+1:])
}

func compare(t *testing.T, name string, j Judgement, row map[string]string) {
	t.Helper()
	same(t, name+": t", j.T, row["t"])
	same(t, name+": p", j.P, row["p"])
	for i, c := range []string{"95", "99"} {
		same(t, name+": lower limit", j.Limits[i].Lower, row["lower"+c])
		same(t, name+": upper limit", j.Limits[i].Upper, row["upper"+c])
		if outside := j.P < 1-Confidences[i]; j.Limits[i].Outside != outside {
			t.Errorf("%s: outside at %s %% is %v, p %v", name, c, j.Limits[i].Outside, j.P)
		}
	}
}

// One batch's T is the studentized deleted residual.
func TestIsTheDeletedResidual(t *testing.T) {
	b := []pooling.Batch{{X: []float64{0, 3, 6, 9, 12}, Y: []float64{100, 98.1, 98.4, 96.2, 93}}}
	columns, y := pooling.Columns(b, pooling.Separate)
	r, err := residuals.Of(columns, y)
	if err != nil {
		t.Fatal(err)
	}
	for i := range y {
		j, err := OfBatches(b, 0, i)
		if err != nil || math.Abs(j.T-r.Points[i].External) > 1e-11*math.Abs(j.T) {
			t.Errorf("%d: %v, %v, want %v", i, j.T, err, r.Points[i].External)
		}
	}
}

// The rates at which a result that is in trend lies outside, and one that is off
// by so many standard deviations does. 4000 studies; three standard errors of a
// binomial share are 0.0103 at 0.05 and 0.0047 at 0.01.
func TestRates(t *testing.T) {
	const studies = 4000
	months := []float64{0, 3, 6, 9, 12, 18, 24}
	type rates struct{ low95, high95, low99, high99 float64 }
	exact := rates{0.0397, 0.0603, 0.0053, 0.0147}
	for _, c := range []struct {
		name   string
		judge  func([]pooling.Batch, int, int) (Judgement, error)
		slopes []float64
		off    float64
		want   rates
	}{
		{"one batch", OfBatches, []float64{-0.4}, 0, exact},
		{"three alike", OfBatches, []float64{-0.4, -0.4, -0.4}, 0, exact},
		{"three a little apart", OfBatches, []float64{-0.37, -0.4, -0.43}, 0, exact},
		{"one batch, off by 4", OfBatches, []float64{-0.4}, 4, rates{0.45, 0.55, 0.14, 0.21}},
		{"three alike, off by 4", OfBatches, []float64{-0.4, -0.4, -0.4}, 4, rates{0.6, 0.8, 0.3, 0.55}},
		// Where the poolability tests have looked at the data first.
		{"three alike, shared", shared, []float64{-0.4, -0.4, -0.4}, 0, rates{0.055, 0.08, 0.01, 0.022}},
		{"three a little apart, shared", shared, []float64{-0.37, -0.4, -0.43}, 0, rates{0.08, 0.12, 0.015, 0.03}},
	} {
		random := rand.New(rand.NewPCG(2026, 8))
		var beyond [2]int
		for range studies {
			batches := make([]pooling.Batch, len(c.slopes))
			for i, slope := range c.slopes {
				for _, m := range months {
					batches[i].X = append(batches[i].X, m)
					batches[i].Y = append(batches[i].Y, 100+slope*m+random.NormFloat64())
				}
			}
			last := len(batches) - 1
			batches[last].Y[len(months)-1] -= c.off
			j, err := c.judge(batches, last, len(months)-1)
			if err != nil {
				t.Fatal(err)
			}
			for i, l := range j.Limits {
				if l.Outside {
					beyond[i]++
				}
			}
		}
		a, b := float64(beyond[0])/studies, float64(beyond[1])/studies

		if a < c.want.low95 || a > c.want.high95 || b < c.want.low99 || b > c.want.high99 {
			t.Errorf("%s: outside in %.4f and %.4f of the studies, want %+v", c.name, a, b, c.want)
		}
	}
	for _, n := range []int{2, 3, 6} {
		random := rand.New(rand.NewPCG(2026, 9))
		var beyond [2]int
		earlier := make([]float64, n)
		for range studies {
			for i := range earlier {
				earlier[i] = 92 + random.NormFloat64()
			}
			j, err := AgainstEarlier(earlier, 92+random.NormFloat64())
			if err != nil {
				t.Fatal(err)
			}
			for i, l := range j.Limits {
				if l.Outside {
					beyond[i]++
				}
			}
		}
		if a, b := float64(beyond[0])/studies, float64(beyond[1])/studies; a < exact.low95 || a > exact.high95 || b < exact.low99 || b > exact.high99 {
			t.Errorf("%d earlier batches: outside in %.4f and %.4f, want %+v", n, a, b, exact)
		}
	}
}

func TestWithoutResidual(t *testing.T) {
	line := []pooling.Batch{{X: []float64{0, 3, 6, 9}, Y: []float64{10.1, 10.4, 10.7, 11}}}
	j, err := OfBatches(line, 0, 3)
	if err != nil || j.SE != 0 || j.T != 0 || j.P != 1 || j.Limits[0].Outside || j.Limits[1].Outside {
		t.Errorf("on the line: %+v, %v", j, err)
	}
	line[0].Y[3] = 10.9
	j, err = OfBatches(line, 0, 3)
	if err != nil || !math.IsInf(j.T, -1) || j.P != 0 || !j.Limits[0].Outside || !j.Limits[1].Outside {
		t.Errorf("off the line: %+v, %v", j, err)
	}
	j, err = AgainstEarlier([]float64{0.1, 0.1, 0.1}, 0.1)
	if err != nil || j.P != 1 || j.Limits[1].Outside {
		t.Errorf("as all before: %+v, %v", j, err)
	}
	j, err = AgainstEarlier([]float64{0.1, 0.1, 0.1}, 0.2)
	if err != nil || j.P != 0 || !j.Limits[1].Outside {
		t.Errorf("not as all before: %+v, %v", j, err)
	}
}

func TestRefused(t *testing.T) {
	line := []pooling.Batch{{X: []float64{0, 3, 6, 9}, Y: []float64{10, 11, 12, 14}}}
	for name, f := range map[string]func() (Judgement, error){
		"no such batch":  func() (Judgement, error) { return OfBatches(line, 1, 0) },
		"no such result": func() (Judgement, error) { return OfBatches(line, 0, 4) },
		"two results left": func() (Judgement, error) {
			return OfBatches([]pooling.Batch{{X: line[0].X[:3], Y: line[0].Y[:3]}}, 0, 2)
		},
		"one time left": func() (Judgement, error) {
			return OfBatches([]pooling.Batch{{X: []float64{0, 0, 0, 1}, Y: line[0].Y}}, 0, 3)
		},
		"uneven": func() (Judgement, error) {
			return OfBatches([]pooling.Batch{{X: line[0].X, Y: line[0].Y[:3]}}, 0, 2)
		},
		"no number":         func() (Judgement, error) { return AgainstEarlier([]float64{1, math.NaN()}, 2) },
		"infinite":          func() (Judgement, error) { return AgainstEarlier([]float64{1, 2}, math.Inf(1)) },
		"one batch earlier": func() (Judgement, error) { return AgainstEarlier([]float64{1}, 2) },
		"no error":          func() (Judgement, error) { return AgainstLine(linear.Line{S: math.NaN()}, 1, 2) },
	} {
		if j, err := f(); err == nil {
			t.Errorf("%s: %+v without an error", name, j)
		}
	}
	if line[0].Y[2] != 12 || len(line[0].X) != 4 {
		t.Error("the results were changed")
	}
}

func FuzzJudgements(f *testing.F) {
	f.Add([]byte("0123456789abcdefghijklmnopqrstuvwxyz0123456789abcdefghijklmnopqrstuvwxyz"), uint8(1), 0, 1)
	f.Fuzz(func(t *testing.T, data []byte, count uint8, batch, point int) {
		if len(data) > 16*60 {
			return
		}
		batches := make([]pooling.Batch, 1+count%3)
		var all []float64
		for i := 0; len(data) >= 16; i++ {
			b := &batches[i%len(batches)]
			b.X = append(b.X, math.Float64frombits(binary.LittleEndian.Uint64(data)))
			b.Y = append(b.Y, math.Float64frombits(binary.LittleEndian.Uint64(data[8:])))
			all = append(all, b.Y[len(b.Y)-1])
			data = data[16:]
		}
		check := func(j Judgement, err error) {
			if err != nil {
				return
			}
			if math.IsNaN(j.T) || !(j.P >= 0 && j.P <= 1) || !(j.SE >= 0) {
				t.Fatalf("%+v", j)
			}
			for _, l := range j.Limits {
				if !(l.Lower <= j.Expected && j.Expected <= l.Upper) {
					t.Fatalf("%+v", j)
				}
			}
		}
		check(OfBatches(batches, batch, point))
		if len(all) > 0 {
			check(AgainstEarlier(all[1:], all[0]))
		}
	})
}

func same(t *testing.T, what string, got float64, text string) {
	t.Helper()
	if want := reference.Number(t, text); !(math.Abs(got-want) <= 1e-9*math.Abs(want)+1e-13) {
		t.Errorf("%s: %.15g, want %.15g", what, got, want)
	}
}
