package analysis_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis"
)

// sixBatches is the study of testdata/reference/bounds/results.csv, with the
// attributes given.
func sixBatches(attributes string) string {
	return strings.Replace(head, `"12M"]`, `"12M", "18M"]`, 1) + batches(6) + attributes
}

const acid = `
[[attribute]]
id    = "pH"
unit  = "[pH]"
kind  = "measure"
lower = 5.0
upper = 6.2
model = "zero-order"
`

func boundResults(t testing.TB) string {
	t.Helper()
	text, err := os.ReadFile("../testdata/reference/bounds/results.csv")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// only keeps the rows of one attribute.
func only(results, attribute string) string {
	var out []string
	for i, row := range strings.Split(strings.TrimSpace(results), "\n") {
		if i == 0 || strings.Contains(row, ","+attribute+",") {
			out = append(out, row)
		}
	}
	return strings.Join(out, "\n") + "\n"
}

func bound(t rapid.TB, a *analysis.Analysis, kind analysis.BoundKind) *analysis.Bound {
	t.Helper()
	for i := range a.Bounds {
		if a.Bounds[i].Kind == kind {
			return &a.Bounds[i]
		}
	}
	t.Fatalf("no bound %s", kind)
	return nil
}

// Every bound in months, on every basis and scale, against R
// (testdata/reference/bounds/bounds.R), whose integrals are good to 1e-6 or so.
func TestBoundsAgainstR(t *testing.T) {
	f, err := os.Open("../testdata/reference/bounds/bounds.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	attributes := map[string]string{
		"assay":    assay + "direction = \"falls\"\n",
		"pH":       acid,
		"percent":  "\n[[attribute]]\nid = \"assay\"\nunit = \"%\"\nkind = \"measure\"\nlower = 92.0\nbasis = \"percent-of-initial\"\nmodel = \"first-order\"\n",
		"root":     strings.Replace(assay, "zero-order", "square-root-time", 1),
		"baseline": assay + "baseline = \"3M\"\n",
	}
	results := boundResults(t)
	if len(rows) != 1+len(attributes) {
		t.Fatalf("%d rows", len(rows))
	}
	for _, row := range rows[1:] {
		id := "assay"
		if row[0] == "pH" {
			id = "pH"
		}
		d := dataset(t, sixBatches(attributes[row[0]]), only(results, id))
		a := analysis.Evaluate(d, analysis.Options{Supported: true}).Analyses[0]
		for j, kind := range []analysis.BoundKind{analysis.BoundMean, analysis.BoundUnits, analysis.BoundBatchesMean, analysis.BoundToCome} {
			want, err := strconv.ParseFloat(row[1+j], 64)
			if err != nil {
				t.Fatal(err)
			}
			b := bound(t, a, kind)
			within := 1e-7
			if kind == analysis.BoundBatchesMean || kind == analysis.BoundToCome {
				within = 1e-5
			}
			if math.Abs(b.ShelfLife/want-1) > within || b.Status != analysis.Fitted || !(b.Estimate >= b.ShelfLife) {
				t.Errorf("%s: %s %.10g (%s, estimate %g), R has %.10g", row[0], kind, b.ShelfLife, b.Status, b.Estimate, want)
			}
			perSide := 0.95
			if row[0] == "pH" {
				perSide = 0.975
			}
			if b.ConfidencePerSide != perSide || b.Coverage > 0 && b.CoveragePerSide != perSide || b.Confidence != 0.95 {
				t.Errorf("%s: %s at %g and %g, want %g", row[0], kind, b.CoveragePerSide, b.ConfidencePerSide, perSide)
			}
		}
		if g := a.Governing(); g.Kind != analysis.BoundMean || a.ShelfLife != g.ShelfLife {
			t.Errorf("%s: %s governs unasked, the life is %g", row[0], g.Kind, a.ShelfLife)
		}
	}
}

// The study of the session bounds.txtar, of three batches and of five, with both
// coverages (testdata/reference/bounds/balm.R).
func TestBoundsOfBalmAgainstR(t *testing.T) {
	read := func(name string) string {
		text, err := os.ReadFile("../testdata/reference/bounds/" + name)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	rows, err := csv.NewReader(strings.NewReader(read("balm.csv"))).ReadAll()
	if err != nil || len(rows) != 9 {
		t.Fatal(len(rows), err)
	}
	kinds := []analysis.BoundKind{analysis.BoundMean, analysis.BoundUnits, analysis.BoundBatchesMean, analysis.BoundToCome}
	for _, row := range rows[1:] {
		toml := strings.Replace(sixBatches(strings.Replace(assay, "assay", "panthenol", 1)+"direction = \"falls\"\n"+acid), batches(6), batches(map[string]int{"three": 3, "five": 5}[row[0]]), 1)
		coverage, err := strconv.ParseFloat(row[2], 64)
		if err != nil {
			t.Fatal(err)
		}
		attribute := 0
		if row[1] == "pH" {
			attribute = 1
		}
		a := analysis.Evaluate(dataset(t, toml, read("balm-"+row[0]+".csv")), analysis.Options{Supported: true, RandomBatches: true, Coverage: coverage}).Analyses[attribute]
		for j, kind := range kinds {
			want, err := strconv.ParseFloat(row[3+j], 64)
			if err != nil {
				t.Fatal(err)
			}
			if got := bound(t, a, kind).ShelfLife; math.Abs(got/want-1) > 1e-5 {
				t.Errorf("%v: %s %.10g, R has %.10g", row[:3], kind, got, want)
			}
		}
		if a.Governing().Kind != analysis.BoundToCome {
			t.Errorf("%v: %s governs", row[:3], a.Governing().Kind)
		}
	}
}

// exact is three batches of 100, 102 and 104 at the start that lose 0.5 a month.
func exact() string {
	var b strings.Builder
	b.WriteString("batch,condition,time,attribute,value\n")
	for i, start := range []float64{100, 102, 104} {
		fmt.Fprintf(&b, "B%d,,0,assay,%g\nB%d,40C75,3M,assay,%g\nB%d,40C75,6M,assay,%g\n", i+1, start, i+1, start-3, i+1, start-5)
		for _, m := range []float64{3, 6, 9, 12} {
			fmt.Fprintf(&b, "B%d,25C60,%gM,assay,%g\n", i+1, m, start-0.5*m)
		}
	}
	return b.String()
}

// Lines without error are a sample: 100, 102 and 104 have the mean 102 and the
// standard deviation 2, and 95 % of batches are above 102 − 7.655·2 at 95 %
// (Natrella, Experimental Statistics, 1963, table A-7; from memory). They meet 80
// at (102 − 15.31 − 80)/0.5 = 13.38 months, where the worst batch's own line does at
// 40. Fewer batches than five are taken for a sample only where that is asked for.
func TestRandomBatchesGovern(t *testing.T) {
	toml := replace(t, head+batches(3)+assay, "90.0", "80.0")
	d := dataset(t, toml, exact())
	fixed := analysis.Evaluate(d, analysis.Options{Supported: true})
	if a := fixed.Analyses[0]; len(a.Bounds) != 2 || math.Abs(a.ShelfLife-40) > 1e-9 || fixed.Supported.Months != 24 {
		t.Errorf("unasked: %d bounds, life %g, supported %d", len(a.Bounds), a.ShelfLife, fixed.Supported.Months)
	}
	random := analysis.Evaluate(d, analysis.Options{Supported: true, RandomBatches: true})
	a := random.Analyses[0]
	if g := a.Governing(); g.Kind != analysis.BoundToCome || math.Abs(g.ShelfLife-13.38) > 0.01 || g.DF != 2 {
		t.Errorf("%+v governs", g)
	}
	v := random.Supported
	if a.ShelfLife != a.Governing().ShelfLife || a.Estimate != a.Governing().Estimate || a.LimitingBatch != -1 ||
		v.Regression != a.ShelfLife || v.Months != 13 || v.LimitedBy != analysis.ByRegression {
		t.Errorf("the life is %g by batch %d, supported %d by %g", a.ShelfLife, a.LimitingBatch, v.Months, v.Regression)
	}
	for _, code := range []string{"not-as-planned", "few-batches"} {
		if !hasWarning(random, code) {
			t.Errorf("no warning %s in %v", code, random.Warnings)
		}
		if hasWarning(fixed, code) {
			t.Errorf("unasked a warning %s", code)
		}
	}
}

// The bound of the mean stays where random batches have no answer or a longer one.
func TestMeanStays(t *testing.T) {
	one := analysis.Evaluate(dataset(t, head+batches(1)+assay, tested), analysis.Options{Supported: true, RandomBatches: true})
	a := one.Analyses[0]
	next := bound(t, a, analysis.BoundToCome)
	if !a.ByMean() || next.HasAnswer() || next.Status != analysis.TooFewTimes || next.Reason == "" || !math.IsNaN(next.ShelfLife) || !hasWarning(one, "no-bound-to-come") {
		t.Errorf("one batch: %+v", a.Bounds)
	}
	if one.Supported.Months != 18 || math.Abs(a.ShelfLife-18.5773697358) > 1e-9 {
		t.Errorf("one batch: %d months, life %g", one.Supported.Months, a.ShelfLife)
	}

	// One batch falls by 0.5 a month, the others by 0.1 with the least of spread:
	// the worst batch's own bound is shorter than that of half of batches to come.
	var b strings.Builder
	b.WriteString("batch,condition,time,attribute,value\n")
	for i := range 6 {
		slope := 0.1
		if i == 0 {
			slope = 0.5
		}
		fmt.Fprintf(&b, "B%d,,0,assay,100\n", i+1)
		for j, m := range []float64{3, 6, 9, 12} {
			fmt.Fprintf(&b, "B%d,25C60,%gM,assay,%.2f\n", i+1, m, 100-slope*m+0.05*float64(1-2*((i+j)%2)))
		}
	}
	e := analysis.Evaluate(dataset(t, head+batches(6)+assay, b.String()), analysis.Options{Supported: true, RandomBatches: true, Coverage: 0.501})
	a = e.Analyses[0]
	if next := bound(t, a, analysis.BoundToCome); !a.ByMean() || !(next.ShelfLife > a.ShelfLife) || !(a.ShelfLife < 21) || a.LimitingBatch != 0 {
		t.Errorf("a batch by itself: life %g by batch %d, a batch to come %g", a.ShelfLife, a.LimitingBatch, next.ShelfLife)
	}
}

// Where there is nothing to bound there are no bounds: no criterion, no
// regression, units that are put back; the last is told where a batch to come was
// asked for.
func TestNoBounds(t *testing.T) {
	returned := head + batches(1) + assay + "sampling = \"returned\"\n"
	var units strings.Builder
	units.WriteString("batch,condition,time,attribute,value,unit\n")
	for u := range 3 {
		for i, m := range []float64{0, 3, 6, 9, 12} {
			fmt.Fprintf(&units, "B1,25C60,%gM,assay,%g,u%d\n", m, 100-0.5*m+0.1*float64((i*(u+2))%3), u+1)
		}
	}
	for _, c := range []struct{ name, toml, csv, code string }{
		{"no criterion", replace(t, head+batches(1)+assay, "lower = 90.0\n", ""), tested, ""},
		{"censored", head + batches(1) + assay, replace(t, tested, "6M,assay,96.8", "6M,assay,>96.8"), ""},
		{"put back", returned, units.String(), "batches-not-random"},
	} {
		e := analysis.Evaluate(dataset(t, c.toml, c.csv), analysis.Options{Supported: true, RandomBatches: true})
		if a := e.Analyses[0]; len(a.Bounds) != 0 || !a.ByMean() || c.code != "" && !hasWarning(e, c.code) {
			t.Errorf("%s: %+v, %v", c.name, a.Bounds, e.Warnings)
		}
	}
}

// Asking for random batches never lengthens anything; exactly one bound governs;
// units keep for no longer than their mean is shown to; more coverage is shorter.
func TestBoundsNeverLengthen(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "batches")
		noise := rapid.SampledFrom([]float64{0, 0.1, 0.5, 2}).Draw(t, "noise")
		var b strings.Builder
		b.WriteString("batch,condition,time,attribute,value\n")
		for i := range n {
			start, slope := rapid.Float64Range(96, 104).Draw(t, "start"), rapid.Float64Range(-0.1, 0.8).Draw(t, "slope")
			for _, m := range []float64{0, 3, 6, 9, 12} {
				fmt.Fprintf(&b, "B%d,25C60,%gM,assay,%.4f\n", i+1, m, start-slope*m+noise*rapid.Float64Range(-1, 1).Draw(t, "error"))
			}
		}
		toml := head + batches(n) + assay
		if rapid.Bool().Draw(t, "two limits") {
			toml = strings.Replace(toml, "lower = 90.0\n", "lower = 90.0\nupper = 110.0\n", 1)
		}
		model := rapid.SampledFrom([]string{"zero-order", "first-order", "second-order", "square-root-time"}).Draw(t, "model")
		toml = strings.Replace(toml, `"zero-order"`, strconv.Quote(model), 1)
		d := dataset(t, toml, b.String())
		fixed := analysis.Evaluate(d, analysis.Options{Supported: true})
		random := analysis.Evaluate(d, analysis.Options{Supported: true, RandomBatches: true})
		more := analysis.Evaluate(d, analysis.Options{Supported: true, RandomBatches: true, Coverage: 0.99})
		if random.Supported.Months > fixed.Supported.Months || more.Supported.Months > random.Supported.Months {
			t.Fatalf("supported %d, with random batches %d, with more coverage %d", fixed.Supported.Months, random.Supported.Months, more.Supported.Months)
		}
		for _, e := range []*analysis.Evaluation{fixed, random, more} {
			for _, a := range e.Analyses {
				governing := 0
				for i := range a.Bounds {
					x := &a.Bounds[i]
					if x.Governs {
						governing++
					}
					if x.HasAnswer() && !(x.ShelfLife >= 0 && x.ShelfLife <= x.Estimate && x.DF > 0) {
						t.Fatalf("%+v", *x)
					}
					if !x.HasAnswer() && (x.Reason == "" || !math.IsNaN(x.ShelfLife)) {
						t.Fatalf("no reason: %+v", *x)
					}
				}
				if len(a.Bounds) > 0 && governing != 1 {
					t.Fatalf("%d bounds govern", governing)
				}
				if len(a.Bounds) > 0 && bound(t, a, analysis.BoundUnits).ShelfLife > a.Bounds[0].ShelfLife*(1+1e-9) {
					t.Fatalf("units %+v, mean %+v", a.Bounds[1], a.Bounds[0])
				}
			}
		}
	})
}
