package climate

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"shelfspan/study/logger"
)

// hour is an hour in milliseconds.
const hour = 60 * 60 * 1000

// Recorder takes in a history reading by reading.
type Recorder struct {
	settings Settings
	record   Record
	pace     steps
	held     [reach + 1]logger.Reading // the last readings, which are judged when the steps after them are known; by their number, from 0, modulo its length
	count    int                       // readings given
	at       logger.Reading            // the last one that is judged
	weight   float64                   // of it, so far, ms
	done     int                       // its number

	counted   int64 // ms
	frequent  frequency
	kinetic   kinetic
	mean      mean
	all       *spells
	sides     []*side
	gapsMilli int64
}

// NewRecorder starts a history.
func NewRecorder(s Settings) *Recorder {
	r := &Recorder{settings: s, kinetic: newKinetic(s.EnergyKJ)}
	r.record.EnergyKJ = s.EnergyKJ
	r.record.Min.Celsius, r.record.Max.Celsius = math.NaN(), math.NaN()
	r.record.Above.Limit, r.record.Below.Limit = math.NaN(), math.NaN()
	if s.Spells {
		r.all = newSpells()
	}
	if isFinite(s.Upper) {
		above := &side{limit: s.Upper, sign: 1, energy: s.EnergyKJ}
		if s.Spells {
			above.spells = newSpells()
		}
		r.sides = append(r.sides, above)
	}
	if isFinite(s.Lower) {
		r.sides = append(r.sides, &side{limit: s.Lower, sign: -1, energy: s.EnergyKJ})
	}
	return r
}

// Add takes the next reading, whose Elapsed is not less than that of the one
// before.
func (r *Recorder) Add(x logger.Reading) {
	c := &r.record
	if r.count == 0 {
		c.First = x.At
	} else {
		step := x.Elapsed - r.held[(r.count-1)%len(r.held)].Elapsed
		r.pace.push(step)
		r.frequent.add(step)
	}
	c.Last = x.At
	if !(x.Celsius >= c.Min.Celsius) {
		c.Min = Extreme{x.Celsius, x.At}
	}
	if !(x.Celsius <= c.Max.Celsius) {
		c.Max = Extreme{x.Celsius, x.At}
	}
	r.held[r.count%len(r.held)] = x
	if r.count++; r.count > reach {
		r.judge(false)
	}
}

// judge takes the next held reading into the sums. At the end the window of steps
// no longer moves by itself.
func (r *Recorder) judge(ending bool) {
	number := r.done
	x := r.held[number%len(r.held)]
	r.done++
	if number == 0 {
		r.start(x)
		return
	}
	if ending {
		r.pace.drop(number - reach - 1)
	}
	step := x.Elapsed - r.at.Elapsed
	limit := r.settings.Gap
	if limit == 0 {
		limit = GapFactor * r.pace.usual()
	}
	if step > limit && limit > 0 {
		r.gap(x, step)
		return
	}
	r.counted += step
	half := float64(step) / 2
	r.weight += half
	r.settle()
	for _, s := range r.sides {
		s.interval(&r.at, &x, float64(step))
	}
	r.record.Strip.put(x.Elapsed, x.Celsius)
	r.record.Strip.join(&r.at, &x)
	r.at, r.weight = x, half
}

// start begins with a reading before which nothing is known.
func (r *Recorder) start(x logger.Reading) {
	for _, s := range r.sides {
		s.first(&x)
	}
	r.record.Strip.put(x.Elapsed, x.Celsius)
	r.at, r.weight = x, 0
}

// settle counts the last reading, whose weight is known now.
func (r *Recorder) settle() {
	r.kinetic.add(r.kinetic.exponent(r.at.Celsius), r.weight)
	r.mean.add(r.at.Celsius, r.weight)
	r.all.add(r.at.Celsius, r.weight)
}

// gap leaves an interval out.
func (r *Recorder) gap(x logger.Reading, step int64) {
	c := &r.record
	c.GapCount++
	r.gapsMilli += step
	if len(c.Gaps) < mostListed {
		c.Gaps = append(c.Gaps, Gap{From: r.at.At, To: x.At, Hours: float64(step) / hour})
	}
	r.settle()
	for _, s := range r.sides {
		s.cut(&r.at)
	}
	r.start(x)
}

// Finish ends the history and gives what it comes to.
func (r *Recorder) Finish() *Record {
	c := &r.record
	c.Readings = r.count
	c.MeanKinetic, c.Mean = math.NaN(), math.NaN()
	if r.count > 0 {
		for r.done < r.count {
			r.judge(true)
		}
		c.Span = float64(r.at.Elapsed) / hour
		r.settle()
		for _, s := range r.sides {
			s.cut(&r.at)
		}
	}
	c.Hours, c.GapHours = float64(r.counted)/hour, float64(r.gapsMilli)/hour
	c.Step, c.Gap = float64(r.frequent.most())/60_000, float64(r.settings.Gap)/60_000
	if r.counted > 0 {
		c.MeanKinetic, c.Mean = r.kinetic.celsius(), r.mean.value()
	}
	total := 0
	for _, s := range r.sides {
		side := Side{Limit: s.limit, Hours: s.milli / hour, Count: s.count}
		if s.sign > 0 {
			c.Above, c.outside = side, s.spells
		} else {
			c.Below = side
		}
		c.Excursions = append(c.Excursions, s.list...)
		total += s.count
	}
	slices.SortStableFunc(c.Excursions, func(a, b Excursion) int { return cmp.Compare(a.begin, b.begin) })
	c.MoreOutside = total - len(c.Excursions)
	c.all = r.all
	r.warn()
	return c
}

// warn words what qualifies the record.
func (r *Recorder) warn() {
	c := &r.record
	if r.counted == 0 {
		c.warn("no-time-counted", "No time lies between the readings but what is left out as gaps, so that there is no mean.")
	}
	if c.GapCount > 0 {
		long := "longer than " + strconv.Itoa(GapFactor) + " times the usual step"
		if c.Gap > 0 {
			long = "longer than " + strconv.FormatFloat(c.Gap, 'f', -1, 64) + " min"
		}
		what, are := "An interval "+long+" is a gap and is", "it was"
		if c.GapCount > 1 {
			what, are = fmt.Sprintf("%d intervals %s are gaps and are", c.GapCount, long), "they were"
		}
		c.warn("gaps", fmt.Sprintf("%s left out, %s of %s in all: nothing is known of how warm %s.", what, hours(c.GapHours), hours(c.Span), are))
	}
	if c.MoreOutside > 0 {
		c.warn("many-excursions", fmt.Sprintf("There are %d excursions; the first %d are listed. A temperature that wavers about a limit crosses it again and again.", c.MoreOutside+len(c.Excursions), len(c.Excursions)))
	}
}

// hours writes a length of time.
func hours(h float64) string {
	if h < 1 {
		return strconv.FormatFloat(math.Round(h*600)/10, 'f', -1, 64) + " min"
	}
	return strconv.FormatFloat(math.Round(h*10)/10, 'f', -1, 64) + " h"
}
