package analysis_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"shelfspan/analysis"
	"shelfspan/study"
)

// weighings is an invented study of tubes that are weighed and put back.
const weighings = head + `
[[pack]]
id             = "tube"
semi_permeable = true
water_percent  = 60.0
tare           = 20.0

[[attribute]]
id       = "loss"
unit     = "%"
kind     = "weighing"
upper    = 5.0
sampling = "returned"
units    = 6
decimals = 2
`

// tubes weighs units of 120 g, 100 g of it net, that lose so many grams a month,
// which is as many percent.
func tubes(condition string, times []int, batches ...[]float64) string {
	var b strings.Builder
	for i, rates := range batches {
		for j, r := range rates {
			for _, m := range times {
				fmt.Fprintf(&b, "B%d,%s,%dM,loss,%s-%d-%d,%.4f\n", i+1, condition, m, condition, i+1, j+1, 120-r*float64(m))
			}
		}
	}
	return b.String()
}

const tubeColumns = "batch,condition,time,attribute,unit,value\n"

// balm is the planted example of testdata/reference/losses/losses.R: unit 6 of
// batch B2 leaks.
var balm = tubeColumns + tubes("25C60", []int{0, 3, 6, 9}, []float64{0.15, 0.16, 0.17, 0.16, 0.15, 0.17}, []float64{0.16, 0.15, 0.17, 0.16, 0.15, 0.55}) +
	tubes("40C75", []int{0, 1, 3}, []float64{0.48, 0.50, 0.52}, []float64{0.49, 0.51, 0.50})

func losses(t *testing.T, toml, csv string, o analysis.Options) (*analysis.Evaluation, *analysis.Analysis) {
	t.Helper()
	o.Trends = true
	e := analysis.Evaluate(dataset(t, toml, csv), o)
	if len(e.Analyses) == 0 || e.Analyses[0].Losses == nil {
		t.Fatalf("no losses: %v", e.Warnings)
	}
	return e, e.Analyses[0]
}

// TestLossesOfTheBalm: the whole path, against R (testdata/reference/losses).
func TestLossesOfTheBalm(t *testing.T) {
	f, err := os.Open("../testdata/reference/losses/populations.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	number := func(row []string, column string) float64 {
		for i, name := range rows[0] {
			if name == column {
				x, err := strconv.ParseFloat(row[i], 64)
				if err != nil {
					t.Fatal(err)
				}
				return x
			}
		}
		t.Fatalf("no column %s", column)
		return 0
	}
	e, a := losses(t, weighings+batches(2), balm, analysis.Options{Supported: true})
	l := a.Losses
	seen := 0
	for _, row := range rows[1:] {
		if row[0] != "balm" {
			continue
		}
		seen++
		p := l.With
		if row[1] == "TRUE" {
			p = l.Without
		}
		if p == nil || string(p.Decision) != row[3] {
			t.Fatalf("%+v, want %v", p, row)
		}
		b := p.Limit()
		for _, c := range []struct {
			column string
			got    float64
		}{{"mean", b.Mean}, {"sd", p.SD}, {"factor", b.Factor}, {"upper", b.Upper}, {"within", b.Within}} {
			if want := number(row, c.column); math.Abs(c.got-want) > 1e-7*want {
				t.Errorf("without %s: %s %.12g, R has %.12g", row[1], c.column, c.got, want)
			}
		}
	}
	if seen != 4 || len(l.Units) != 12 || l.Base != "net mass" || l.Coverage != 0.95 || l.Confidence != 0.95 {
		t.Errorf("%d rows, %d units, %s, %v, %v", seen, len(l.Units), l.Base, l.Coverage, l.Confidence)
	}
	u := l.Units[11]
	if u.Label != "25C60-2-6" || u.Batch != 1 || u.N != 3 || u.Start != 120 || u.Whole != 100 || !near(u.Rate, 0.55) || !near(12*u.Grams(), 6.6) {
		t.Errorf("%+v", u)
	}
	if len(l.Found.Leakers) != 1 || l.Found.Leakers[0] != 11 {
		t.Errorf("%+v", l.Found)
	}
	// The with-number governs: the bound of the mean is the analysis' own and limits
	// nothing more nor less than it did; by R, mean 0.19167 + t(0.95, 11)·0.11312/√12.
	if l.Bound != a.ShelfLife || !near(a.ShelfLife, 5/(0.1916666666666667+1.7958848187036691*0.11312369202324370/math.Sqrt(12))) || e.Supported.Regression != a.ShelfLife {
		t.Errorf("bound %v, shelf life %v, supported by %v", l.Bound, a.ShelfLife, e.Supported.Regression)
	}
	// Without: 5/(0.15909 + t(0.95, 10)·0.0083121/√11).
	if !near(l.BoundWithout, 5/(0.1590909090909091+1.8124611228107335*0.00831209414593635/math.Sqrt(11))) {
		t.Errorf("bound without %v", l.BoundWithout)
	}
	if !l.Course.Tested() || !l.Course.Straight() {
		t.Errorf("%+v", l.Course)
	}
	for _, w := range e.Warnings {
		if w.Code == "leaker" && (w.Where != "loss 25C60 tube" || !strings.Contains(w.Text, "25C60-2-6 of batch B2") || !strings.Contains(w.Text, "6.6 % a year") || !strings.Contains(w.Text, "1.91 % a year on average")) {
			t.Errorf("%v", w)
		}
	}
	if !hasWarning(e, "leaker") || hasWarning(e, "loss-not-linear") {
		t.Errorf("%v", e.Warnings)
	}
	// From 60 to 40 % RH: × 60/40. At 40 °C from 75 to 25 %: × 3, and 1.5 % of net
	// mass in 3 months, 0.6 of it water, are 1.5/0.6·3 = 7.5 % of the water.
	h := l.Humidity
	if h == nil || h.Refused != "" || h.Ratio != 1.5 || h.From != 60 || h.To != 40 || !near(h.Mean, 1.5*l.With.Limit().Mean) || !near(h.Within, l.With.Limit().Within/1.5) || !h.Tested {
		t.Errorf("%+v", h)
	}
	hot := e.Analyses[1].Losses
	if hot.Humidity.Ratio != 3 || len(hot.Water) != 2 || !near(hot.Water[0].Percent, 7.5) || !hot.Water[0].Significant || len(l.Water) != 0 {
		t.Errorf("%+v, %+v, %+v", hot.Humidity, hot.Water, l.Water)
	}
}

// A wider coverage asks for more and gives less time.
func TestCoverageOption(t *testing.T) {
	_, usual := losses(t, weighings+batches(2), balm, analysis.Options{})
	_, wide := losses(t, weighings+batches(2), balm, analysis.Options{Coverage: 0.99})
	if wide.Losses.Coverage != 0.99 || !(wide.Losses.With.Limit().Within < usual.Losses.With.Limit().Within) || wide.ShelfLife != usual.ShelfLife {
		t.Errorf("%+v, %+v", wide.Losses.With.Limit(), usual.Losses.With.Limit())
	}
}

// TestHumidityRefused: what the conversion presupposes.
func TestHumidityRefused(t *testing.T) {
	one := weighings + batches(2)
	bent := tubeColumns
	for j, r := range []float64{0.10, 0.11, 0.12, 0.11} {
		for _, m := range []float64{0, 3, 6, 9} {
			bent += fmt.Sprintf("B1,25C60,%gM,loss,u%d,%.4f\n", m, j, 120-r*m-0.01*m*m)
		}
	}
	gain := tubeColumns + tubes("25C60", []int{0, 3, 6, 9}, []float64{-0.15, -0.16, -0.17})
	for _, c := range []struct{ name, toml, csv, refused string }{
		{"pressurised", replace(t, one, "semi_permeable = true", "semi_permeable = true\npressurised = true"), balm, analysis.NotWaterAlone},
		{"no humidity", replace(t, one, "humidity    = 60.0", ""), balm, analysis.NoHumidity},
		{"another temperature", replace(t, one, "temperature = 25.0", "temperature = 20.0"), balm, analysis.NoReference},
		{"a bend", one, bent, analysis.NotLinear},
		{"a gain", one, gain, analysis.NoLoss},
		{"dry already", replace(t, one, "humidity    = 60.0", "humidity    = 30.0"), balm, ""},
	} {
		e, a := losses(t, c.toml, c.csv, analysis.Options{})
		h := a.Losses.Humidity
		if h == nil || h.Refused != c.refused || c.refused != "" && !math.IsNaN(h.Mean) {
			t.Errorf("%s: %+v", c.name, h)
		}
		if c.refused == "" && (h.Ratio != 1 || h.Mean != a.Losses.With.Limit().Mean) {
			t.Errorf("%s: %+v, want it as measured", c.name, h)
		}
		if c.refused == analysis.NotWaterAlone && len(e.Analyses[1].Losses.Water) != 0 {
			t.Errorf("%s: the test of the water was made", c.name)
		}
		if (c.refused == analysis.NotLinear) != hasWarning(e, "loss-not-linear") {
			t.Errorf("%s: %v", c.name, e.Warnings)
		}
	}
	_, a := losses(t, replace(t, one, "semi_permeable = true", ""), balm, analysis.Options{})
	if a.Losses.Humidity != nil || a.Losses.Water != nil {
		t.Errorf("a tight pack: %+v", a.Losses.Humidity)
	}
}

// TestLeakerAtTheFirstWeighing: a leaker is told as soon as units were weighed once
// after the start, where no line and so no time can be had yet.
func TestLeakerAtTheFirstWeighing(t *testing.T) {
	e, a := losses(t, weighings+batches(2), tubeColumns+tubes("25C60", []int{0, 3}, []float64{0.15, 0.16, 0.17, 0.16, 0.15}, []float64{0.16, 0.15, 0.17, 0.16, 0.55}), analysis.Options{})
	if a.Status != analysis.TooFewTimes || !hasWarning(e, "leaker") || a.Losses.With == nil || !math.IsNaN(a.Losses.With.Limit().Within) || a.Losses.Course.Tested() {
		t.Errorf("%s, %v, %+v", a.Status, e.Warnings, a.Losses.With)
	}
}

// TestSuspectsAndStrangeUnits: two alike among twelve hide each other and are
// suspects; one that gains is strange; neither is left out of anything.
func TestSuspectsAndStrangeUnits(t *testing.T) {
	few := []float64{0.15, 0.16, 0.17, 0.16, 0.15, 0.17, 0.16, 0.15, 0.17, 0.16}
	for code, more := range map[string][]float64{"leaker-suspect": {0.60, 0.61}, "unit-strange": {-0.3}} {
		e, a := losses(t, weighings+batches(1), tubeColumns+tubes("25C60", []int{0, 3, 6}, append(append([]float64{}, few...), more...)), analysis.Options{})
		if !hasWarning(e, code) || hasWarning(e, "leaker") || a.Losses.Without != nil || a.Losses.With.Units != len(few)+len(more) {
			t.Errorf("%s: %v", code, e.Warnings)
		}
	}
}

// TestUnitsWithoutAStart stand in no list, and what is no weighing has no losses.
func TestUnitsWithoutAStart(t *testing.T) {
	d := dataset(t, weighings+batches(2), balm)
	d.Results = slices.DeleteFunc(d.Results, func(r study.Result) bool { return r.Planned.IsZero() && d.Text(r.Unit) == "25C60-1-1" }) // as one excluded
	e := analysis.Evaluate(d, analysis.Options{Trends: true})
	a := e.Analyses[0]
	if len(a.Losses.Units) != 11 || a.Losses.Units[0].Label != "25C60-1-2" || !hasWarning(e, "no-initial-mass") {
		t.Errorf("%d units, %v", len(a.Losses.Units), e.Warnings)
	}
	if e := supported(t, head+batches(1)+assay, tested); e.Analyses[0].Losses != nil {
		t.Errorf("losses of an assay: %+v", e.Analyses[0].Losses)
	}
	// The stated net fill stands where no tare is known.
	toml := replace(t, weighings+batches(2), "tare           = 20.0", "net_fill = 50.0")
	_, a = losses(t, toml, balm, analysis.Options{})
	if u := a.Losses.Units[11]; u.Whole != 50 || !near(u.Rate, 1.1) || !near(12*u.Grams(), 6.6) || a.Losses.Base != "stated net fill" {
		t.Errorf("%+v of %s", u, a.Losses.Base)
	}
}
