package simulate

import (
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"shelfspan/study"
)

// smallStudy has one pack lying two ways, one batch of each of three and one condition.
func smallStudy() *study.Study {
	return &study.Study{
		Start:      study.NewDate(2025, time.January, 6),
		Conditions: []study.Condition{{ID: "25C60", Temperature: 25, Humidity: 60}},
		Batches:    []study.Batch{{ID: "B1", Placed: study.NoDate}, {ID: "B2", Placed: study.NoDate}, {ID: "B3", Placed: study.NoDate}},
		Packs: []study.Pack{
			{ID: "tube", NetFill: 75, Tare: 9.5, Orientations: []study.Orientation{study.Upright}},
			{ID: "can", NetFill: 100, Tare: 41, Orientations: []study.Orientation{study.Upright, study.Inverted}},
		},
		Attributes: []study.Attribute{
			{ID: "viscosity", Kind: study.Measure, Units: 20, Replicates: 3, Decimals: 4},
			{ID: "assay", Kind: study.Measure, Units: 1, Replicates: 1, Decimals: 1, TestWithin: study.Duration{N: 30, Unit: study.Days}},
			{ID: "weight-loss", Kind: study.Weighing, Units: 40, Decimals: 2},
			{ID: "appearance", Kind: study.Grade, Units: 3, Grades: []string{"none", "slight"}, Decimals: -1},
		},
	}
}

func truthOf(t *testing.T, attributes ...string) []Path {
	var out []Path
	for _, a := range attributes {
		out = append(out, *path(t, a))
	}
	return out
}

func smallVisits() []Visit {
	return []Visit{
		{Time: study.Duration{}, Pulled: study.NewDate(2025, time.January, 6)},
		{Condition: "25C60", Time: study.Duration{N: 12, Unit: study.Months}, Pulled: study.NewDate(2026, time.January, 9), TestedAfter: 40},
	}
}

func generate(t *testing.T, seed uint64, attributes ...string) []Reading {
	t.Helper()
	out, err := Generate(smallStudy(), truthOf(t, attributes...), smallVisits(), seed)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestSameSeedSameReadings(t *testing.T) {
	a, b := generate(t, 1, "viscosity", "assay"), generate(t, 1, "viscosity", "assay")
	if len(a) == 0 || render(t, a) != render(t, b) {
		t.Error("the same seed gave other readings")
	}
	if render(t, a) == render(t, generate(t, 2, "viscosity", "assay")) {
		t.Error("another seed gave the same readings")
	}
	// each attribute has a stream of its own, so that one more leaves the rest alone
	more := generate(t, 1, "viscosity", "assay", "weight-loss")
	kept := more[:0:0]
	for _, r := range more {
		if r.Attribute != "weight-loss" {
			kept = append(kept, r)
		}
	}
	if render(t, kept) != render(t, a) {
		t.Error("one attribute more changed the readings of the others")
	}
}

func render(t *testing.T, rs []Reading) string {
	t.Helper()
	var b strings.Builder
	table := Table{Separator: ',', Columns: []string{"batch", "pack", "orientation", "condition", "time", "pulled", "tested", "attribute", "unit", "replicate", "tare", "value", "comment"}}
	if err := table.Write(&b, rs); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// Time zero is measured once for each batch and pack; a unit that is weighed is
// weighed every time.
func TestCounts(t *testing.T) {
	count := map[string]map[string]int{}
	units := map[string]int{}
	for _, r := range generate(t, 1, "viscosity", "assay", "weight-loss", "appearance") {
		if count[r.Attribute] == nil {
			count[r.Attribute] = map[string]int{}
		}
		count[r.Attribute][r.Time.String()]++
		if r.Attribute == "weight-loss" {
			units[r.Unit]++
		}
	}
	want := map[string]map[string]int{
		"viscosity":   {"0": 3 * 2 * 20 * 3, "12M": 3 * 3 * 20 * 3},
		"assay":       {"0": 3 * 2, "12M": 3 * 3},
		"weight-loss": {"0": 3 * 3 * 40, "12M": 3 * 3 * 40},
		"appearance":  {"0": 3 * 2 * 3, "12M": 3 * 3 * 3},
	}
	if !reflect.DeepEqual(count, want) {
		t.Errorf("readings: %v, want %v", count, want)
	}
	if len(units) != 3*3*40 {
		t.Errorf("%d units weighed, want %d", len(units), 3*3*40)
	}
	for u, n := range units {
		if n != 2 {
			t.Errorf("unit %s weighed %d times, want 2", u, n)
		}
	}
}

// Over many seeds, units and readings scatter about the true mean by the stated
// standard deviations; the bands are five standard errors wide.
func TestScatterIsAsStated(t *testing.T) {
	p := path(t, "viscosity")
	months := float64(smallVisits()[1].Pulled-smallStudy().Start) / study.DaysPerMonth
	truth := p.Mean(2, "can", study.Inverted, Climate{25, 60}, months)
	var n, sum, between, within float64
	const seeds = 100
	for seed := range uint64(seeds) {
		byUnit := map[string][]float64{}
		for _, r := range generate(t, seed, "viscosity") {
			if r.Batch == "B3" && r.Orientation == study.Inverted {
				byUnit[r.Unit] = append(byUnit[r.Unit], math.Log(r.Value/truth))
			}
		}
		for _, x := range byUnit {
			mean := (x[0] + x[1] + x[2]) / 3
			for _, v := range x {
				within += (v - mean) * (v - mean)
			}
			n++
			sum += mean
			between += mean * mean
		}
	}
	if n != seeds*20 {
		t.Fatalf("%g units, want %d", n, seeds*20)
	}
	unitVariance := 0.02*0.02 + 0.01*0.01/3
	if m := sum / n; math.Abs(m) > 5*math.Sqrt(unitVariance/n) {
		t.Errorf("mean log deviation %g", m)
	}
	if v := between / n; math.Abs(v/unitVariance-1) > 5*math.Sqrt(2/n) {
		t.Errorf("variance of units' means %g, want %g", v, unitVariance)
	}
	if v := within / (2 * n); math.Abs(v/1e-4-1) > 5*math.Sqrt(2/(2*n)) {
		t.Errorf("variance of readings %g, want 1e-4", v)
	}
}

// Weighed units lose at the true rate, each at its own.
func TestWeighedUnitsLoseAtTheTrueRate(t *testing.T) {
	start := map[string]Reading{}
	var n, sum, squares float64
	months := float64(smallVisits()[1].Pulled-smallStudy().Start) / study.DaysPerMonth
	for seed := range uint64(50) {
		for _, r := range generate(t, seed, "weight-loss") {
			if r.Pack != "tube" {
				continue
			}
			if r.Time.IsZero() {
				start[r.Unit] = r
				continue
			}
			rate := 100 * (start[r.Unit].Value - r.Value) / (start[r.Unit].Value - r.Tare) / months
			n++
			sum += rate/0.168 - 1
			squares += (rate/0.168 - 1) * (rate/0.168 - 1)
		}
	}
	if m := sum / n; n != 50*3*40 || math.Abs(m) > 5*0.06/math.Sqrt(n) {
		t.Errorf("%g units, mean deviation of the rate %g", n, m)
	}
	if v := squares / n; math.Abs(v/(0.06*0.06)-1) > 5*math.Sqrt(2/n) {
		t.Errorf("relative variance of the rates %g, want 0.0036", v)
	}
}

func TestTruthThatDoesNotFitTheStudy(t *testing.T) {
	unknown := truthOf(t, "assay")
	unknown[0].Attribute = "colour"
	short := truthOf(t, "assay")
	short[0].Initial = short[0].Initial[:2]
	elsewhere := smallVisits()
	elsewhere[1].Condition = "60C"
	for _, c := range []struct {
		truth  []Path
		visits []Visit
		want   string
	}{
		{unknown, smallVisits(), `the study has no attribute "colour"`},
		{short, smallVisits(), "the truth of assay is not stated for 3 batches"},
		{truthOf(t, "assay"), elsewhere, `the study has no condition "60C"`},
		{truthOf(t, "weight-loss"), elsewhere, `the study has no condition "60C"`},
	} {
		if _, err := Generate(smallStudy(), c.truth, c.visits, 1); err == nil || err.Error() != c.want {
			t.Errorf("error %v, want %q", err, c.want)
		}
	}
}

// The wide form puts the readings of one unit and replicate side by side.
func TestTableWide(t *testing.T) {
	day := study.NewDate(2025, time.January, 6)
	rs := []Reading{
		{Batch: "B1", Pulled: day, Attribute: "viscosity", Unit: "1", Replicate: 1, Value: 30000.4, Decimals: 1},
		{Batch: "B1", Pulled: day, Attribute: "viscosity", Unit: "1", Replicate: 2, Value: 30100, Decimals: 1},
		{Batch: "B1", Pulled: day, Attribute: "odour", Unit: "1", Grade: "none"},
		{Batch: "B1", Pulled: day, Attribute: "pH", Unit: "1", Value: 5.6, Decimals: 2},
	}
	table := Table{Separator: ';', DecimalComma: true, Spreadsheet: true, Columns: []string{"batch", "pulled", "unit", "replicate"}, Wide: []string{"viscosity", "pH"}}
	var b strings.Builder
	if err := table.Write(&b, rs); err != nil {
		t.Fatal(err)
	}
	want := "\ufeffbatch;pulled;unit;replicate;viscosity;pH\r\n" +
		"B1;2025-01-06;1;1;30000,4;5,60\r\n" +
		"B1;2025-01-06;1;2;30100,0;\r\n"
	if b.String() != want {
		t.Errorf("wrote %q\nwant  %q", b.String(), want)
	}
}

func TestTableQuotesAndUnknownColumn(t *testing.T) {
	var b strings.Builder
	table := Table{Separator: ',', Columns: []string{"batch", "comment"}}
	if err := table.Write(&b, []Reading{{Batch: "B1", Comment: `late, "again"`}}); err != nil {
		t.Fatal(err)
	}
	if want := "batch,comment\nB1,\"late, \"\"again\"\"\"\n"; b.String() != want {
		t.Errorf("wrote %q, want %q", b.String(), want)
	}
	table.Columns = []string{"colour"}
	if err := table.Write(&b, []Reading{{}}); err == nil || err.Error() != `no column "colour" can be written` {
		t.Errorf("error %v", err)
	}
}
