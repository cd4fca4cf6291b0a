package extrapolation

import (
	"fmt"
	"math"

	"shelfspan/analysis/observed"
	"shelfspan/analysis/rounding"
	"shelfspan/study"
)

// The test for semi-permeable packs, ICH Q1A(R2) 2.2.7.3: this much of the
// initial water in 3 months at 40 °C and not more than 25 % RH.
const (
	SignificantWaterLoss = 5.0  // %
	waterLossCelsius     = 40.0 // °C
	waterLossHumidity    = 25.0 // % RH
)

// WaterLossRatio converts a loss of water at a humidity to the loss at another
// one, at the same temperature and over the same time: (100 − to)/(100 − from),
// both in % RH below 100; 3.0 from 75 to 25 %, 1.5 from 60 to 40 % (ICH Q1A(R2)
// 2.2.7.3). It holds for water alone and for loss that is linear in time.
func WaterLossRatio(from, to float64) float64 { return (100 - to) / (100 - from) }

// LowHumidity is the relative humidity in % at which semi-permeable packs are
// studied at a temperature in °C: 40 at 25 °C, 35 at 30 °C and, as not more than,
// 25 at 40 °C (ICH Q1A(R2) 2.2.7.3). ok is false at any other temperature.
func LowHumidity(celsius float64) (percent float64, ok bool) {
	switch {
	case study.Near(celsius, 25):
		return 40, true
	case study.Near(celsius, 30):
		return 35, true
	case study.Near(celsius, waterLossCelsius):
		return waterLossHumidity, true
	}
	return math.NaN(), false
}

// WaterLost is the loss of water of one batch in the test of a semi-permeable
// pack.
type WaterLost struct {
	Batch       int     // index into the study
	Months      float64 // planned, of the pull it rests on
	Lost        float64 // the batch's mean there, as measured, % of mass
	Percent     float64 // of the initial water (see OfWater), in 3 months at 40 °C and 25 % RH
	OfWater     bool    // false: the pack states no water content, and it is of the net mass
	Ratio       float64 // by which it was converted from the humidity of the condition; 1 where it was not
	Early       bool    // the pull is before 3 months, and there is none later: the loss so far
	Significant bool    // 5 % or more, after rounding
	Note        string  // how it was worked out
}

// WaterLosses gives the loss of water of each batch of a semi-permeable pack in
// 3 months at 40 °C and 25 % RH, the loss at another humidity converted to it.
// The loss is that of the pull at 3 months, or of the first one before it that is
// significant already; where a batch has none at 3 months, of the next later one
// in proportion. Without a declared water content the loss is of net mass. ok is
// false where the condition does not allow the test: it takes 40 °C and a stated
// humidity.
func WaterLosses(c *study.Condition, p *study.Pack, samples []observed.Sample) (lost []WaterLost, ok bool) {
	if !study.Near(c.Temperature, waterLossCelsius) || !(c.Humidity < 100) {
		return nil, false
	}
	ratio := 1.0
	if c.Humidity > waterLossHumidity {
		ratio = WaterLossRatio(c.Humidity, waterLossHumidity)
	}
	note := "of the initial water"
	share, ofWater := p.WaterPercent, true
	if !(share > 0) {
		note, share, ofWater = "of the net mass, since the pack states no water_percent", 100, false
	}
	if ratio != 1 {
		note += fmt.Sprintf(", × %.3g from %g to %g %% RH", ratio, c.Humidity, waterLossHumidity)
	}
	done := -1 // batch that is significant, or was seen at 3 months
	for _, q := range pulls(samples) {
		if q.batch == done || observed.SamePull(q.months, 0) {
			continue
		}
		w := WaterLost{Batch: q.batch, Months: q.months, Lost: q.mean, OfWater: ofWater, Ratio: ratio,
			Percent: q.mean * 100 / share * ratio, Early: q.months < threeMonthsLeast, Note: note}
		if q.months > threeMonthsMost {
			w.Percent *= 3 / q.months
			w.Note += fmt.Sprintf(", in proportion from %.3g months", q.months)
		}
		w.Significant = rounding.Reaches(w.Percent, SignificantWaterLoss)
		if w.Significant || !w.Early {
			done = q.batch
		}
		if n := len(lost); n > 0 && lost[n-1].Batch == q.batch {
			lost[n-1] = w
		} else {
			lost = append(lost, w)
		}
	}
	return lost, true
}
