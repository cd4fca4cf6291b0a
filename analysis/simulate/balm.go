package simulate

import (
	"io"
	"slices"
	"time"

	"shelfspan/study"
)

// BalmSeed is the seed of the demonstration study.
const BalmSeed = 25

// Balm is the truth behind the demonstration study of a made-up skin-care balm
// (batches B1 bench, B2 pilot, B3 production; packs jar, tube and can). It is
// made so that each pack tells a story of its own:
//
//   - jar: nothing much happens; how far the data may be extrapolated decides.
//   - tube: lets oxygen in, so that the active falls by more than 5 % at the
//     accelerated condition, though not at the intermediate one, which shortens
//     what may be extrapolated; it dries out, too, and above the wax's softening
//     point oil gathers at its nozzle, which is expected and not counted.
//   - can: the valve's gasket draws the thickener down, far more so when the
//     can stands inverted and the balm lies against it; there viscosity falls
//     below its limit within the shelf life sought.
//
// The structure softens above 42 °C, so that viscosity does not follow one
// Arrhenius line up to 45 °C; the active does.
func Balm() []Path {
	return []Path{{
		Attribute:  "viscosity",
		Order:      study.FirstOrder,
		Initial:    []float64{31500, 31000, 30000},
		Rate:       -0.0035,
		Ea:         72,
		BatchRate:  []float64{0.92, 1, 1.1},
		PackRate:   map[string]float64{"can/upright": 3.9, "can/inverted": 6.2},
		SoftAt:     42,
		SoftFactor: 2.2,
		UnitSD:     0.02,
		ReadingSD:  0.01,
	}, {
		Attribute: "assay",
		Order:     study.FirstOrder,
		Initial:   []float64{100.8, 100.2, 101.1},
		Rate:      -0.0009,
		Ea:        95,
		BatchRate: []float64{1, 1, 1},
		PackRate:  map[string]float64{"tube": 1.9},
		UnitSD:    0.003,
		ReadingSD: 0.0035,
	}, {
		Attribute: "pH",
		Order:     study.ZeroOrder,
		Initial:   []float64{5.62, 5.58, 5.60},
		Rate:      -0.004,
		Ea:        60,
		BatchRate: []float64{1, 1, 1},
		UnitSD:    0.02,
		ReadingSD: 0.02,
	}, {
		Attribute: "weight-loss",
		Order:     study.ZeroOrder,
		Initial:   []float64{0, 0, 0},
		Rate:      0.004,
		Ea:        45,
		BatchRate: []float64{1, 1, 1},
		PackRate:  map[string]float64{"tube": 42, "can": 5},
		Drying:    true,
		UnitSD:    0.06,
		ReadingSD: 0.002,
	}, {
		Attribute:  "appearance",
		Order:      study.ZeroOrder,
		Initial:    []float64{0, 0, 0},
		Rate:       0.002,
		Ea:         90,
		BatchRate:  []float64{1, 1, 1},
		PackRate:   map[string]float64{"tube": 14},
		SoftAt:     38,
		SoftFactor: 3,
		UnitSD:     0.08,
	}}
}

// Visit is one pull as it was made: what was due, and on which day it was done.
type Visit struct {
	Condition   string // empty at time zero
	Time        study.Duration
	Pulled      study.Date
	TestedAfter int // days from the pull to tests that must be timely; 0: the usual seven
	Comment     string
}

// BalmVisits is the history of the demonstration study's pulls up to 18 months.
// Some were late, one of them outside its window, and the 9-month pull at
// 30 °C was never made.
func BalmVisits() []Visit {
	day := study.NewDate
	months := func(n int32) study.Duration { return study.Duration{N: n, Unit: study.Months} }
	return []Visit{
		{Time: study.Duration{}, Pulled: day(2025, time.February, 3)},
		{Condition: "40C75", Time: months(1), Pulled: day(2025, time.March, 3)},
		{Condition: "45C", Time: months(1), Pulled: day(2025, time.March, 3)},
		{Condition: "45C", Time: months(2), Pulled: day(2025, time.April, 3)},
		{Condition: "25C60", Time: months(3), Pulled: day(2025, time.May, 2)},
		{Condition: "30C65", Time: months(3), Pulled: day(2025, time.May, 5), TestedAfter: 42, Comment: "waited for a column"},
		{Condition: "40C75", Time: months(3), Pulled: day(2025, time.May, 6)},
		{Condition: "45C", Time: months(3), Pulled: day(2025, time.May, 2)},
		{Condition: "5C", Time: months(6), Pulled: day(2025, time.August, 4)},
		{Condition: "25C60", Time: months(6), Pulled: day(2025, time.August, 7), Comment: "three days late"},
		{Condition: "30C65", Time: months(6), Pulled: day(2025, time.August, 4)},
		{Condition: "40C75", Time: months(6), Pulled: day(2025, time.August, 4)},
		{Condition: "25C60", Time: months(9), Pulled: day(2025, time.November, 14), Comment: "outside the window: chamber sealed for repair"},
		{Condition: "5C", Time: months(12), Pulled: day(2026, time.February, 3)},
		{Condition: "25C60", Time: months(12), Pulled: day(2026, time.February, 5)},
		{Condition: "30C65", Time: months(12), Pulled: day(2026, time.February, 3)},
		{Condition: "5C", Time: months(18), Pulled: day(2026, time.August, 4)},
		{Condition: "25C60", Time: months(18), Pulled: day(2026, time.August, 4)},
	}
}

// File is one results file of the demonstration study.
type File struct {
	Name       string
	About      string   // in words, for the people who open it
	Attributes []string // whose readings it holds
	Table      Table
}

// BalmFiles are the files a lab would hand in for the balm, each as another
// instrument or habit writes it.
func BalmFiles() []File {
	return []File{{
		Name:       "results-lab.csv",
		About:      "assay and appearance, one result a row, commas; grades by name",
		Attributes: []string{"assay", "appearance"},
		Table: Table{
			Separator: ',',
			Columns:   []string{"batch", "pack", "orientation", "condition", "time", "pulled", "tested", "attribute", "unit", "value", "comment"},
		},
	}, {
		Name:       "rheometer.csv",
		About:      "viscosity and pH side by side, semicolons and decimal commas, as a spreadsheet saves it",
		Attributes: []string{"viscosity", "pH"},
		Table: Table{
			Separator: ';', DecimalComma: true, Spreadsheet: true,
			Columns: []string{"batch", "pack", "orientation", "condition", "time", "pulled", "unit", "replicate"},
			Wide:    []string{"viscosity", "pH"},
		},
	}, {
		Name:       "weighings.csv",
		About:      "gross masses in g with each unit's own tare, from the balance",
		Attributes: []string{"weight-loss"},
		Table: Table{
			Separator: ',',
			Columns:   []string{"batch", "pack", "orientation", "condition", "time", "pulled", "attribute", "unit", "tare", "value"},
		},
	}}
}

// Write writes the file from all readings of the study.
func (f *File) Write(w io.Writer, readings []Reading) error {
	own := make([]Reading, 0, len(readings))
	for _, r := range readings {
		if slices.Contains(f.Attributes, r.Attribute) {
			own = append(own, r)
		}
	}
	return f.Table.Write(w, own)
}
