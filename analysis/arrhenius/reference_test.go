package arrhenius

import (
	"math"
	"strconv"
	"testing"

	"shelfspan/study"
	"shelfspan/testdata/reference"
)

var nan, inf = math.NaN(), math.Inf(1)

func dry(celsius ...float64) []Condition {
	var cs []Condition
	for _, c := range celsius {
		cs = append(cs, Condition{Name: strconv.FormatFloat(c, 'g', -1, 64) + " °C", Celsius: c, Humidity: nan})
	}
	return cs
}

// referenceCases are those of testdata/reference/arrhenius/arrhenius.R.
var referenceCases = map[string]Input{
	"zero3":    {Model: study.ZeroOrder, Conditions: dry(30, 40, 50), Lower: 90, Upper: inf},
	"first4":   {Model: study.FirstOrder, Conditions: dry(25, 30, 40, 45), Lower: 90, Upper: inf},
	"zero4":    {Model: study.ZeroOrder, Conditions: dry(25, 30, 40, 45), Lower: -inf, Upper: 1.5},
	"first3":   {Model: study.FirstOrder, Conditions: dry(40, 45, 50), Lower: 45, Upper: 60},
	"second3":  {Model: study.SecondOrder, Conditions: dry(30, 40, 50), Lower: 16, Upper: inf},
	"root3":    {Model: study.SquareRootTime, Conditions: dry(30, 40, 50), Lower: -inf, Upper: 13},
	"percent0": {Model: study.ZeroOrder, Conditions: dry(30, 40, 50), Lower: 92, Upper: inf, Basis: study.BasisPercent},
	"percent1": {Model: study.FirstOrder, Conditions: dry(30, 40, 50), Lower: 92, Upper: inf, Basis: study.BasisPercent},
	"percent2": {Model: study.SecondOrder, Conditions: dry(30, 40, 50), Lower: 85, Upper: inf, Basis: study.BasisPercent},
	"change0":  {Model: study.ZeroOrder, Conditions: dry(40, 45, 50), Lower: -1, Upper: 1, Basis: study.BasisChange},
	// Each batch with a factor of its own; in own0 the last one was not stored at 30 °C.
	"own1": {Model: study.FirstOrder, Conditions: dry(25, 30, 40, 45), Lower: 90, Upper: inf, ByBatch: true},
	"own0": {Model: study.ZeroOrder, Conditions: dry(30, 40, 50), Lower: 92, Upper: 108, Basis: study.BasisPercent, ByBatch: true},
	// Here the data do not rule out that Ea is negative, which shortens the bounds.
	"wide": {Model: study.ZeroOrder, Conditions: dry(40, 45, 50), Lower: 85, Upper: inf},
	"humid": {Model: study.FirstOrder, Lower: 90, Upper: inf, Conditions: []Condition{
		{"25C60", 25, 60}, {"30C65", 30, 65}, {"40C75", 40, 75}, {"40C25", 40, 25}},
		At: []Target{{25, 60}, {20, 40}}},
}

func referenceInput(t testing.TB, name string) Input {
	t.Helper()
	in, ok := referenceCases[name]
	if !ok {
		t.Fatalf("no case %q", name)
	}
	in.Confidence = 0.95
	if in.At == nil {
		in.At = []Target{{25, nan}, {5, nan}}
	}
	for _, row := range reference.Rows(t, "arrhenius/points.csv") {
		if row[0] == name {
			in.Points = append(in.Points, Point{Batch: int(reference.Number(t, row[1])), Condition: int(reference.Number(t, row[2])),
				Months: reference.Number(t, row[3]), Value: reference.Number(t, row[4])})
		}
	}
	if len(in.Points) == 0 {
		t.Fatalf("no points for %q", name)
	}
	return in
}

// quantities maps a result onto the names of the R output.
func quantities(r *Result) map[string]float64 {
	q := map[string]float64{"ea": r.EaKJ, "ea_se": r.EaSE, "lambda": r.LogRate, "ea_low": r.EaLow, "ea_high": r.EaHigh,
		"sse": r.SSE, "sd": r.ResidualSD, "df": float64(r.DF), "F": r.LinearityF, "P": r.LinearityP,
		"B": r.Humidity, "B_se": r.HumiditySE}
	for _, rate := range r.Rates {
		of := strconv.Itoa(rate.Condition)
		if rate.Batch >= 0 {
			of += "of" + strconv.Itoa(rate.Batch)
		}
		q["rate"+of], q["se"+of] = rate.PerMonth, rate.SE
	}
	for _, p := range r.Predictions {
		at := "at" + strconv.FormatFloat(p.Celsius, 'g', -1, 64)
		q[at+"_estimate"], q[at+"_bound"], q[at+"_delta"], q[at+"_batch"] = p.Estimate, p.ShelfLife, p.Delta, float64(p.Batch)
	}
	return q
}

// The whole fit against R's nls, lm and profiles built from lm (R 4.2.2; the
// script and its output stand in testdata/reference/arrhenius).
func TestReference(t *testing.T) {
	got := map[string]map[string]float64{}
	for name := range referenceCases {
		r := Fit(referenceInput(t, name))
		if r.Status != Fitted {
			t.Fatalf("%s: %s, %s", name, r.Status, r.Reason)
		}
		got[name] = quantities(r)
		// By the sign and scale they are made with in the script: 1/y rises where y falls.
		if want := name == "zero4" || name == "root3"; r.Rising != want {
			t.Errorf("%s: rising %v", name, r.Rising)
		}
		in := referenceInput(t, name)
		in.Model = study.Auto
		for _, c := range Fit(in).Candidates {
			got[name]["aicc_"+string(c.Model)] = c.AICc
		}
	}
	worst := 0.0
	for _, row := range reference.Rows(t, "arrhenius/arrhenius.csv") {
		value, ok := got[row[0]][row[1]]
		want := reference.Number(t, row[2])
		if !ok {
			t.Errorf("%s has no %s", row[0], row[1])
			continue
		}
		if want != 0 {
			worst = max(worst, math.Abs(value/want-1))
		}
		if !(math.Abs(value-want) <= 5e-7*math.Abs(want)) {
			t.Errorf("%s %s = %.10g, R has %.10g", row[0], row[1], value, want)
		}
	}
	t.Logf("largest relative difference %.1e", worst)
}
