package main

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"shelfspan/analysis/simulate"
	"shelfspan/study"
)

// The journey of the demonstration, from its file to the JSON, against the plain
// formulas on its rows, and what it used of the active's lives against
// the truth that the study is made from.
func TestJourneyAgainstTheTruth(t *testing.T) {
	path := filepath.Join("..", "..", "testdata", "demo", simulate.JourneyFile)
	var got struct {
		MeanKinetic float64 `json:"mean_kinetic_celsius"`
		Mean        float64 `json:"mean_celsius"`
		Hours       float64
		Above       struct{ Hours float64 }
		Life        []struct {
			Pack, Orientation string
			Histories         []struct {
				Of             string
				Used           float64
				Bound          float64 `json:"used_bound"`
				Equivalent     float64 `json:"equivalent_months"`
				EquivalentLow  float64 `json:"equivalent_low_months"`
				EquivalentHigh float64 `json:"equivalent_high_months"`
				LeftBound      float64 `json:"left_bound_months"`
			}
		}
	}
	if err := json.Unmarshal(answerOf(t, append(demoCall("mkt", path, "--limit", "25", "--attribute", "assay"), "--format", "json")...), &got); err != nil {
		t.Fatal(err)
	}

	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	table := csv.NewReader(f)
	table.Comma, table.FieldsPerRecord = ';', -1
	rows, err := table.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	const gasConstant, conventional, trueEnergy = 8.314462618, 83144, 95000
	var truth simulate.Path
	for _, x := range simulate.Balm() {
		if x.Attribute == "assay" {
			truth = x
		}
	}
	if truth.Ea*1000 != trueEnergy {
		t.Fatalf("the truth is %v kJ/mol", truth.Ea)
	}
	var before time.Time
	var last, hours, sum, mean, worth, above float64
	for _, row := range rows {
		if len(row) != 4 {
			continue
		}
		x, err := strconv.ParseFloat(row[2], 64)
		if err != nil {
			continue
		}
		at, err := time.Parse("2006-01-02 15:04", row[0]+" "+row[1])
		if err != nil {
			t.Fatal(err)
		}
		if step := at.Sub(before).Hours(); !before.IsZero() && step <= 2.5 { // five half hours
			hours += step
			for _, c := range []float64{last, x} {
				sum += step / 2 * math.Exp(-conventional/gasConstant/(c+273.15))
				mean += step / 2 * c
				worth += step / 2 * math.Exp(-trueEnergy/gasConstant*(1/(c+273.15)-1/298.15))
			}
			if a, b := last-25, x-25; a > 0 && b > 0 {
				above += step
			} else if a > 0 || b > 0 {
				above += step * math.Max(a, b) / math.Abs(b-a)
			}
		}
		before, last = at, x
	}
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-9*math.Abs(want) {
			t.Errorf("%s = %.12g, want %.12g", what, got, want)
		}
	}
	near("kinetic mean", got.MeanKinetic, conventional/gasConstant/-math.Log(sum/hours)-273.15)
	near("mean", got.Mean, mean/hours)
	near("hours", got.Hours, hours)
	near("hours above", got.Above.Hours, above)

	// In the tube the interval of the activation energy, 95.8 to 104.7 kJ/mol, misses
	// the true 95, as one in twenty does, and what rests on it is off with it.
	months := worth / 24 / study.DaysPerMonth
	if len(got.Life) != 4 {
		t.Fatalf("%d lives", len(got.Life))
	}
	for _, l := range got.Life {
		life, _ := truth.Life(l.Pack, study.Orientation(l.Orientation), simulate.Climate{Celsius: 25, Humidity: 60}, 90, math.Inf(1))
		h := l.Histories[0]
		covered := h.EquivalentLow <= months && months <= h.EquivalentHigh && h.Bound >= months/life && h.LeftBound <= life-months
		if h.Of != "log" || covered != (l.Pack != "tube") || math.Abs(h.Used/(months/life)-1) > 0.25 {
			t.Errorf("%s: %+v; in truth worth %.4f months, %.5f of the life of %.1f", l.Pack, h, months, months/life, life)
		}
	}
}
