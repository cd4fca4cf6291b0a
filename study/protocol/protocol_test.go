package protocol

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"shelfspan/study"
	"shelfspan/study/finding"
)

// base is a study file with one of each section, which the cases of
// faults_test.go spoil in one way each.
const base = `[study]
id = "MB-26"
start = 2025-01-13
claim = "30M"

[calendar]
holidays = [2025-12-25, 2025-12-26]

[samples]
retain = 2

[[condition]]
id = "25C60"
role = "long-term"
temperature = 25.0
humidity = 60.0
pulls = ["0", "3M", "6M", "12M"]
chamber = "A"

[[condition]]
id = "40C75"
role = "accelerated"
temperature = 40
humidity = 75
pulls = ["0", "3M", "6M"]

[[chamber]]
id = "A"
capacity = 480

[[batch]]
id = "B1"
scale = "pilot"
made = 2025-01-06

[[pack]]
id = "tube"

[[pack]]
id = "jar"
control = true

[[attribute]]
id = "viscosity"
lower = 18000.0
upper = 42000.0

[[attribute]]
id = "look"
kind = "grade"
grades = ["none", "slight", "marked"]
upper = 1
`

func mustRead(t *testing.T, text string) *study.Study {
	t.Helper()
	s, err := Read("study.toml", []byte(text))
	if err != nil {
		t.Fatalf("refused:\n%v", err)
	}
	return s
}

func TestReadGivesEveryValue(t *testing.T) {
	s := mustRead(t, `[study]
id         = "MB-26"
title      = "Three packs"
product    = "Balm"
start      = 2025-01-13
claim      = "30M"
store_at   = "30C65"
rules      = "none"
confidence = 0.9
pool_alpha = 0.05
[calendar]
workdays = ["sat", "sun"]
holidays = [2025-12-26, 2025-12-25]
shift    = "later"
windows  = [{up_to = "2W", days = 1}, {up_to = "1Y", days = 5}]
[samples]
reserve_percent = 12.5
retain          = 3
[[condition]]
id = "30C65"
role = "long-term"
temperature = 30.0
humidity = 65.0
temperature_tolerance = 1.5
humidity_tolerance = 4
pulls = ["0", "10D", "2w", "3M", "2Y"]
chamber = "A"
[[condition]]
id = "swing"
role = "cycling"
cycle_hours = 48
pulls = ["0", "5C", "10C"]
[[chamber]]
id = "A"
capacity = 4_80
rated_flammable = true
[[batch]]
id = "B1"
scale = "pilot"
lot = "L1"
size = "40 kg"
made = 2025-01-06
placed = 2025-01-20
[batch.factors]
thickener = "clay"
fragrance = "A"
[[pack]]
id = "can"
description = "can, 150 mL"
pressurised = true
flammable = true
glass = true
semi_permeable = true
net_fill = 150.0
water_percent = 62.0
tare = 21.4
control = true
orientations = ["inverted", "horizontal"]
[[attribute]]
id = "viscosity"
unit = "mPa.s"
kind = "measure"
lower = 18000
upper = 42e3
basis = "value"
model = "first-order"
direction = "falls"
expected_at_accelerated = "melts"
baseline = "7D"
test_within = "14D"
significant_change = "5%"
sampling = "shared"
units = 2
replicates = 3
decimals = 0
conditions = ["swing", "30C65"]
packs = ["can"]
[[attribute]]
id = "look"
kind = "grade"
grades = ["none", "slight", "marked"]
upper = "slight"
[[attribute]]
id = "loss"
kind = "weighing"
upper = 3
sampling = "returned"
[[attribute]]
id = "valve"
kind = "pass-fail"
`)
	months := func(n int32) study.Duration { return study.Duration{N: n, Unit: study.Months} }
	none, inf := math.NaN(), math.Inf(1)
	attribute := study.Attribute{
		Kind: study.Measure, Lower: -inf, Upper: inf, Basis: study.BasisValue, Model: study.Auto, Direction: study.Either,
		SignificantChange: none, Sampling: study.Destructive, Units: 1, Replicates: 1, Decimals: -1,
	}
	viscosity, look, loss, valve := attribute, attribute, attribute, attribute
	viscosity = study.Attribute{
		ID: "viscosity", Unit: "mPa.s", Kind: study.Measure, Lower: 18000, Upper: 42000, Basis: study.BasisValue,
		Model: study.FirstOrder, Direction: study.Falls, ExpectedAtAccelerated: "melts",
		Baseline: study.Duration{N: 7, Unit: study.Days}, TestWithin: study.Duration{N: 14, Unit: study.Days},
		SignificantChange: 5, Sampling: study.Shared, Units: 2, Replicates: 3, Decimals: 0,
		Conditions: []int{0, 1}, Packs: []int{0},
	}
	look.ID, look.Kind, look.Grades, look.Upper = "look", study.Grade, []string{"none", "slight", "marked"}, 1
	loss.ID, loss.Kind, loss.Upper, loss.Sampling = "loss", study.Weighing, 3, study.Returned
	valve.ID, valve.Kind, valve.Upper = "valve", study.PassFail, 0
	want := &study.Study{
		ID: "MB-26", Title: "Three packs", Product: "Balm", Start: study.NewDate(2025, 1, 13), Claim: months(30),
		StoreAt: 0, Rules: study.NoRules, Confidence: 0.9, PoolAlpha: 0.05,
		Calendar: study.Calendar{
			Workdays: [7]bool{time.Saturday: true, time.Sunday: true},
			Holidays: []study.Date{study.NewDate(2025, 12, 25), study.NewDate(2025, 12, 26)},
			Shift:    study.ShiftLater,
			Windows:  []study.Window{{UpTo: study.Duration{N: 2, Unit: study.Weeks}, Days: 1}, {UpTo: study.Duration{N: 1, Unit: study.Years}, Days: 5}},
		},
		Samples: study.Samples{ReservePercent: 12.5, Retain: 3},
		Conditions: []study.Condition{
			{ID: "30C65", Role: study.LongTerm, Temperature: 30, Humidity: 65, TemperatureTolerance: 1.5, HumidityTolerance: 4,
				Pulls:   []study.Duration{{}, {N: 10, Unit: study.Days}, {N: 2, Unit: study.Weeks}, months(3), {N: 2, Unit: study.Years}},
				Chamber: 0},
			{ID: "swing", Role: study.Cycling, Temperature: none, Humidity: none, TemperatureTolerance: 2, HumidityTolerance: 5,
				Pulls: []study.Duration{{}, {N: 5, Unit: study.Cycles}, {N: 10, Unit: study.Cycles}}, CycleHours: 48, Chamber: -1},
		},
		Chambers: []study.Chamber{{ID: "A", Capacity: 480, RatedFlammable: true}},
		Batches: []study.Batch{{ID: "B1", Scale: "pilot", Lot: "L1", Size: "40 kg", Made: study.NewDate(2025, 1, 6), Placed: study.NewDate(2025, 1, 20),
			Factors: []study.Factor{{Name: "fragrance", Level: "A"}, {Name: "thickener", Level: "clay"}}}},
		Packs: []study.Pack{{ID: "can", Description: "can, 150 mL", Pressurised: true, Flammable: true, Glass: true, SemiPermeable: true,
			Control: true, NetFill: 150, WaterPercent: 62, Tare: 21.4, Orientations: []study.Orientation{study.Inverted, study.Horizontal}}},
		Attributes: []study.Attribute{viscosity, look, loss, valve},
	}
	if diff := cmp.Diff(want, s, cmpopts.EquateNaNs()); diff != "" {
		t.Errorf("want - , got + :\n%s", diff)
	}
}

func TestReadDefaults(t *testing.T) {
	s := mustRead(t, `[study]
id = "S"
start = 2025-01-13
[[condition]]
id = "5C"
role = "stress"
temperature = 5
pulls = ["0", "6M"]
[[condition]]
id = "25C"
role = "long-term"
temperature = 25
pulls = ["0", "6M"]
[[batch]]
id = "B"
[[attribute]]
id = "pH"
`)
	want := study.Study{
		ID: "S", Start: study.NewDate(2025, 1, 13), StoreAt: 1, Rules: study.ICHQ1E, Confidence: 0.95, PoolAlpha: 0.25,
		Calendar: study.Calendar{
			Workdays: [7]bool{false, true, true, true, true, true, false}, Shift: study.ShiftNearest,
			Windows: []study.Window{
				{UpTo: study.Duration{N: 1, Unit: study.Months}, Days: 3},
				{UpTo: study.Duration{N: 12, Unit: study.Months}, Days: 7},
				{UpTo: study.Duration{N: 60, Unit: study.Months}, Days: 14},
			},
		},
		Samples: study.Samples{ReservePercent: 10},
	}
	got := *s
	got.Conditions, got.Batches, got.Packs, got.Attributes = nil, nil, nil, nil
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("want - , got + :\n%s", diff)
	}
	if tol := s.Conditions[0].TemperatureTolerance; tol != 3 {
		t.Errorf("tolerance at 5 °C %v, want 3", tol)
	}
	if tol := s.Conditions[1].TemperatureTolerance; tol != 2 {
		t.Errorf("tolerance at 25 °C %v, want 2", tol)
	}
	if len(s.Packs) != 1 || s.Packs[0].ID != "" || !cmp.Equal(s.Packs[0].Orientations, []study.Orientation{study.Upright}) {
		t.Errorf("packs %+v, want one unnamed, upright", s.Packs)
	}
	if len(s.Batches) != 1 || s.Batches[0].Placed != study.NoDate || s.TimeZero(0) != s.Start {
		t.Errorf("batch %+v, want time zero at the study's start", s.Batches)
	}
}

// TOML allows the same tables in other words; all mean the same study.
func TestReadOtherWordings(t *testing.T) {
	want := mustRead(t, base)
	for name, text := range map[string]string{
		"byte-order mark":     "\ufeff" + base,
		"carriage returns":    strings.ReplaceAll(base, "\n", "\r\n"),
		"no last line end":    strings.TrimSuffix(base, "\n"),
		"comments":            strings.ReplaceAll(base, "\n", " # a word\n"),
		"tabs":                strings.ReplaceAll(base, " = ", "\t=\t"),
		"another order":       strings.Replace(base, "[samples]\nretain = 2\n", "", 1) + "[samples]\nretain = 2\n",
		"dotted keys":         "samples.retain = 2\n" + strings.Replace(base, "[samples]\nretain = 2\n", "", 1),
		"inline table":        "samples = {retain = 2}\n" + strings.Replace(base, "[samples]\nretain = 2\n", "", 1),
		"array of tables":     "chamber = [{id = \"A\", capacity = 480}]\n" + strings.Replace(base, "[[chamber]]\nid = \"A\"\ncapacity = 480\n", "", 1),
		"quoted keys":         strings.Replace(base, "retain =", `"retain" =`, 1),
		"literal text":        strings.Replace(base, `"pilot"`, `'pilot'`, 1),
		"escapes":             strings.Replace(base, `"pilot"`, `"p\u0069lot"`, 1),
		"list on many lines":  strings.Replace(base, `["0", "3M", "6M", "12M"]`, "[\n  \"0\", # start\n  \"3M\",\n  \"6M\",\n  \"12M\",\n]", 1),
		"hexadecimal":         strings.Replace(base, "capacity = 480", "capacity = 0x1E0", 1),
		"whole as a fraction": strings.Replace(base, "capacity = 480", "capacity = 480.0", 1),
		"grade by name":       strings.Replace(base, "upper = 1\n", "upper = \"Slight\"\n", 1),
	} {
		t.Run(name, func(t *testing.T) {
			if diff := cmp.Diff(want, mustRead(t, text), cmpopts.EquateNaNs()); diff != "" {
				t.Errorf("want - , got + :\n%s", diff)
			}
		})
	}
}

func TestStoreAt(t *testing.T) {
	if s := mustRead(t, base); s.StoreAt != 0 {
		t.Errorf("the only long-term condition: %d, want 0", s.StoreAt)
	}
	none := strings.Replace(base, `"long-term"`, `"stress"`, 1)
	if s := mustRead(t, none); s.StoreAt != -1 {
		t.Errorf("no long-term condition: %d, want -1", s.StoreAt)
	}
	named := strings.Replace(strings.Replace(base, `"accelerated"`, `"long-term"`, 1), "start =", "store_at = \"40C75\"\nstart =", 1)
	if s := mustRead(t, named); s.StoreAt != 1 {
		t.Errorf("named: %d, want 1", s.StoreAt)
	}
}

func faultsOf(t *testing.T, text string) *finding.Faults {
	t.Helper()
	s, err := Read("study.toml", []byte(text))
	if err == nil {
		t.Fatal("accepted")
	}
	if s != nil {
		t.Error("a study came with the faults")
	}
	var faults *finding.Faults
	if !errors.As(err, &faults) {
		t.Fatalf("%T is no *finding.Faults", err)
	}
	return faults
}
