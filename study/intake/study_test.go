package intake

import (
	"math"

	"shelfspan/study"
)

// balm is the study that the tests read results for: a made-up skin-care balm.
func balm() *study.Study {
	nan := math.NaN()
	months := func(n ...int32) (out []study.Duration) {
		for _, n := range n {
			d := study.Duration{N: n, Unit: study.Months}
			if n == 0 {
				d = study.Duration{}
			}
			out = append(out, d)
		}
		return out
	}
	window := func(n int32, days int) study.Window {
		return study.Window{UpTo: study.Duration{N: n, Unit: study.Months}, Days: days}
	}
	measure := func(id, unit string) study.Attribute {
		return study.Attribute{ID: id, Unit: unit, Kind: study.Measure, Lower: math.Inf(-1), Upper: math.Inf(1), Units: 1, Replicates: 1, SignificantChange: nan}
	}
	viscosity := measure("viscosity", "mPa.s")
	viscosity.Replicates = 3
	viscosity.TestWithin = study.Duration{N: 14, Unit: study.Days}
	ph := measure("pH", "")
	ph.Units = 3
	assay := measure("assay", "%")
	assay.Conditions = []int{0}
	weight := measure("weight", "%")
	weight.Kind, weight.Units, weight.Sampling = study.Weighing, 2, study.Returned
	look := measure("look", "")
	look.Kind, look.Grades = study.Grade, []string{"none", "slight", "moderate", "severe"}
	leak := measure("leak", "")
	leak.Kind = study.PassFail
	return &study.Study{
		ID:    "MB-26",
		Start: study.NewDate(2025, 1, 13),
		Calendar: study.Calendar{
			Windows: []study.Window{window(1, 3), window(12, 7), window(60, 14)},
		},
		Conditions: []study.Condition{
			{ID: "25C60", Role: study.LongTerm, Temperature: 25, Humidity: 60, Pulls: months(0, 3, 6, 9, 12, 18), Chamber: -1},
			{ID: "40C75", Role: study.Accelerated, Temperature: 40, Humidity: 75, Pulls: months(0, 1, 3, 6), Chamber: -1},
			{ID: "freeze", Role: study.Cycling, Temperature: nan, Humidity: nan, Pulls: []study.Duration{{N: 5, Unit: study.Cycles}}, CycleHours: 48, Chamber: -1},
		},
		Batches: []study.Batch{
			{ID: "B1", Made: study.NoDate, Placed: study.NoDate},
			{ID: "B2", Made: study.NoDate, Placed: study.NewDate(2025, 2, 3)},
		},
		Packs: []study.Pack{
			{ID: "tube", NetFill: nan, WaterPercent: nan, Tare: nan, Orientations: []study.Orientation{study.Upright}},
			{ID: "jar", NetFill: nan, WaterPercent: nan, Tare: 30, Orientations: []study.Orientation{study.Upright, study.Inverted}},
		},
		Attributes: []study.Attribute{viscosity, ph, assay, weight, look, leak},
	}
}
