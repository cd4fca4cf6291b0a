// Package climate judges a history of temperatures: the mean kinetic temperature,
// the time outside limits, the excursions, and how long it was at which
// temperature.
//
// A history is a series of readings. Between two of them the temperature is taken
// to go in a straight line, but for a gap, of which nothing is known and nothing
// is counted. Each reading has half of each interval beside it as its weight.
//
// Everything is summed as the readings come, in constant memory.
package climate

import (
	"math"

	"shelfspan/analysis/arrhenius"
	"shelfspan/study/finding"
	"shelfspan/study/logger"
)

// Conventional is the energy, in kJ/mol, that a mean kinetic temperature is
// worked out with unless the data gave another: that of ICH Q1A(R2) and of the
// pharmacopoeias.
const Conventional = 83.144

// GapFactor is how many times the usual step an interval is long, at least, to be
// a gap unless the caller says how long that is. Common practice, no source.
const GapFactor = 5

// Settings says what to judge a history by.
type Settings struct {
	EnergyKJ     float64 // kJ/mol, positive
	Lower, Upper float64 // limits, °C; ±Inf where there is none
	Gap          int64   // ms; a longer interval is a gap. 0: GapFactor times the usual step about it
	Spells       bool    // keep how long it was at which temperature
}

// Record is what a history comes to. Temperatures are in °C.
type Record struct {
	EnergyKJ    float64
	MeanKinetic float64 // NaN where no time was counted
	Mean        float64 // over time; NaN where none was counted
	Min, Max    Extreme // of the readings
	Hours       float64 // counted: gaps are left out
	Span        float64 // hours from the first reading to the last
	Readings    int
	First, Last logger.Stamp

	Step     float64 // minutes: the most frequent interval; 0 where there is none
	Gap      float64 // minutes: what was asked for; 0: GapFactor times the usual step
	Gaps     []Gap   // the first ones
	GapCount int
	GapHours float64

	Above, Below Side // NaN limits where there is none
	Excursions   []Excursion
	MoreOutside  int // excursions that are counted only

	Strip    Strip
	Warnings []finding.Warning

	all, outside *spells
}

// Extreme is the lowest or highest reading, and when it was first.
type Extreme struct {
	Celsius float64
	At      logger.Stamp
}

// Gap is an interval without readings that is not counted.
type Gap struct {
	From, To logger.Stamp
	Hours    float64
}

// Side is the time on the far side of a limit.
type Side struct {
	Limit float64 // °C; NaN where there is none
	Hours float64
	Count int // excursions
}

// Excursion is a time without a break on the far side of a limit. A reading on
// the limit itself is within it.
type Excursion struct {
	Above       bool // the upper limit; else below the lower
	Start, End  logger.Stamp
	StartsKnown bool // else the log, or the time after a gap, begins with it
	EndsKnown   bool // else the log, or the time before a gap, ends with it
	Hours       float64
	Peak        Extreme // the reading farthest beyond the limit
	Mean        float64 // over time; of the reading where it lasted no time
	MeanKinetic float64

	begin float64 // ms since the first reading
}

// Spells gives how long it was at which temperature, ascending; nil where that was
// not asked for.
func (r *Record) Spells() []arrhenius.Spell { return r.all.list() }

// SpellsAbove is the part of Spells above the upper limit.
func (r *Record) SpellsAbove() []arrhenius.Spell { return r.outside.list() }

// kelvin is a temperature's absolute value.
func kelvin(celsius float64) float64 { return celsius + arrhenius.ZeroCelsius }

// warn adds a warning.
func (r *Record) warn(code, text string) {
	r.Warnings = append(r.Warnings, finding.Warning{Code: code, Text: text})
}

func isFinite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
