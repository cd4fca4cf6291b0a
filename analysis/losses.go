package analysis

import (
	"fmt"
	"math"
	"strings"

	"shelfspan/analysis/extrapolation"
	"shelfspan/analysis/tolerance"
	"shelfspan/analysis/units"
	"shelfspan/analysis/weightloss"
	"shelfspan/study"
)

// Losses is what the units of a weighing lose, one by one, and what that says of
// all units.
type Losses struct {
	Base                 units.Base // the weakest that any unit's percentage refers to
	Coverage, Confidence float64    // share of units, and the confidence with which it is stated
	Units                []weightloss.Unit
	Found                weightloss.Findings // its indices are into Units

	// With is of all units and governs. Without leaves the leakers out; it stands
	// beside With and nothing rests on it. Each is nil where no batch has two units,
	// and Without where no unit was named a leaker. No time is stated where the
	// bound of the mean could not be reckoned either.
	With, Without *weightloss.Population

	// Bound and BoundWithout are the months until the confidence limit of the mean
	// meets the criterion; Bound is the analysis' ShelfLife.
	Bound, BoundWithout float64

	Course   weightloss.Course // of the units that are no leakers
	Humidity *LowHumidity      // nil where the pack is not semi-permeable
	Water    []extrapolation.WaterLost
}

// What keeps a loss from being expressed at another humidity.
const (
	NotWaterAlone = "pressurised"  // the pack may lose propellant or solvent as well
	NoHumidity    = "no-humidity"  // the condition states none, or one of 100 %
	NoReference   = "no-reference" // no low humidity belongs to its temperature
	NoLoss        = "no-loss"      // nothing is lost, or no spread is known
	NotLinear     = "not-linear"   // the loss is shown not to be linear
)

// LowHumidity is the loss of a semi-permeable pack at the low humidity that
// belongs to the condition's temperature (ICH Q1A(R2) 2.2.7.3), by the ratio of
// extrapolation.WaterLossRatio from the humidity of the condition; as measured
// where that is no higher. It is of the batch that limits, all units counted.
type LowHumidity struct {
	Refused     string  // why nothing is expressed; "" where it is. The numbers below are then NaN
	From, To    float64 // % RH; NaN where not known
	Ratio       float64
	Mean, Upper float64 // rate and its tolerance limit, % a month
	Within      float64 // months; +Inf never, NaN where none is stated
	Tested      bool    // that loss is linear was tested, and no bend shown
}

// losses works out what the units of an evaluated weighing lose; nil where none
// was weighed after its start.
func (v *evaluator) losses(a *Analysis, where string) *Losses {
	k := cell{a.Attribute, a.Condition, a.Pack, a.Orientation}
	l := &Losses{
		Base: v.weighed[a.Attribute].base[k], Coverage: v.o.coverage(), Confidence: v.confidence,
		Bound: a.ShelfLife, BoundWithout: math.NaN(),
	}
	l.Units = v.unitLosses(a, k)
	if len(l.Units) == 0 {
		return nil
	}
	l.Found = weightloss.Leakers(l.Units, v.alpha)
	level := tolerance.Level{Coverage: l.Coverage, Confidence: l.Confidence}
	sound := weightloss.Without(l.Units, l.Found.Leakers)
	criterion := v.lossCriterion(a)
	l.With, _ = weightloss.Populate(l.Units, v.alpha, level, criterion)
	if len(l.Found.Leakers) > 0 {
		l.Without, _ = weightloss.Populate(sound, v.alpha, level, criterion)
		l.BoundWithout = v.boundWithout(a, l)
	}
	l.Course = weightloss.NewCourse(sound)
	l.warn(a, v.s, where)
	v.expressAtLowHumidity(a, l)
	return l
}

// unitLosses gives the rate of each unit of a cell with its masses.
func (v *evaluator) unitLosses(a *Analysis, k cell) []weightloss.Unit {
	type key struct {
		batch int
		label string
	}
	start := map[key]*Sample{}
	masses := v.cells[k]
	for i := range masses {
		if x := &masses[i]; x.Planned.IsZero() {
			start[key{x.Batch, x.Unit}] = x
		}
	}
	var out []weightloss.Unit
	for _, u := range byUnit(a.Samples, 0) {
		x := start[key{u.Batch, u.Label}]
		whole, _, _ := units.Whole(x.Value, x.Tare, v.s.Packs[k.pack].NetFill)
		if w, ok := weightloss.New(u, x.Value, whole); ok {
			out = append(out, w)
		}
	}
	return out
}

// lossCriterion is what units are held against, as the mean is; nothing where the
// mean could not be.
func (v *evaluator) lossCriterion(a *Analysis) weightloss.Criterion {
	c := weightloss.Criterion{Lower: math.Inf(-1), Upper: math.Inf(1)}
	at := &v.s.Attributes[a.Attribute]
	if len(a.Fits) == 0 {
		return c
	}
	if at.Direction != study.Rises {
		c.Lower = a.Lower
	}
	if at.Direction != study.Falls {
		c.Upper = a.Upper
	}
	return c
}

// boundWithout is the bound of the mean without the leakers.
func (v *evaluator) boundWithout(a *Analysis, l *Losses) float64 {
	out, _ := units.Rates(without(byUnit(a.Samples, 0), l), v.input(a))
	return out.ShelfLife
}

// without leaves out the units of a cell that leak.
func without(us []units.Unit, l *Losses) []units.Unit {
	out := make([]units.Unit, 0, len(us))
	for _, u := range us {
		leaks := false
		for _, i := range l.Found.Leakers {
			leaks = leaks || l.Units[i].Batch == u.Batch && l.Units[i].Label == u.Label
		}
		if !leaks {
			out = append(out, u)
		}
	}
	return out
}

// expressAtLowHumidity adds what a semi-permeable pack loses where it is dry.
func (v *evaluator) expressAtLowHumidity(a *Analysis, l *Losses) {
	pack, condition := &v.s.Packs[a.Pack], &v.s.Conditions[a.Condition]
	if !pack.SemiPermeable {
		return
	}
	nan := math.NaN()
	h := &LowHumidity{From: condition.Humidity, To: nan, Ratio: nan, Mean: nan, Upper: nan, Within: nan}
	l.Humidity = h
	to, known := extrapolation.LowHumidity(condition.Temperature)
	h.To = to
	switch {
	case pack.Pressurised:
		h.Refused = NotWaterAlone
	case !known:
		h.Refused = NoReference
	case !(condition.Humidity < 100):
		h.Refused = NoHumidity
	case !l.Course.Straight():
		h.Refused = NotLinear
	case l.With == nil || !(l.With.Limit().Mean > 0):
		h.Refused = NoLoss
	}
	if !pack.Pressurised {
		l.Water, _ = extrapolation.WaterLosses(condition, pack, observedSamples(a.Samples))
	}
	if h.Refused != "" {
		return
	}
	h.Ratio = 1
	if condition.Humidity > to {
		h.Ratio = extrapolation.WaterLossRatio(condition.Humidity, to)
	}
	b := l.With.Limit()
	h.Mean, h.Upper, h.Tested = b.Mean*h.Ratio, b.Upper*h.Ratio, l.Course.Tested()
	if b.LimitedBy != "lower" {
		h.Within = b.Within / h.Ratio
	}
}

// warn tells of leakers, of other units that stand apart and of loss that bends.
func (l *Losses) warn(a *Analysis, s *study.Study, where string) {
	if found := l.Found.Leakers; len(found) > 0 {
		a.warn("leaker", where, fmt.Sprintf("%s more than the spread of the other units explains (%s; %s): %s by the generalized ESD test at %g, the chance that it names one among sound units. "+
			"Every unit counts in the shelf life; one is left out only for a reason that is on file.",
			l.named(s, found, "loses", "lose"), l.rates(found), l.others(s, found), oneOrMany(found, "a leaker", "leakers"), weightloss.Level))
	}
	if found := l.Found.Suspects; len(found) > 0 {
		a.warn("leaker-suspect", where, fmt.Sprintf("%s conspicuously more than the other units (%s), but among %d units a search for several finds leakers too often where there are none: "+
			"%s called %s, but %s to be looked at.",
			l.named(s, found, "loses", "lose"), l.rates(found), len(l.Units), oneOrMany(found, "it is not", "they are not"), oneOrMany(found, "a leaker", "leakers"), oneOrMany(found, "is", "are")))
	}
	if found := l.Found.Strange; len(found) > 0 {
		a.warn("unit-strange", where, fmt.Sprintf("%s less than the spread of the other units explains, or %s (%s): no leaker, but perhaps mixed up or weighed amiss. It lowers the mean and widens the spread.",
			l.named(s, found, "loses", "lose"), oneOrMany(found, "gains", "gain"), l.rates(found)))
	}
	if c := &l.Course; !c.Straight() {
		way := "slows down: a straight line then states the later loss too high"
		if c.Curvature > 0 {
			way = "gathers pace: a straight line then states the later loss too low, and bounds beyond the data are too late"
		}
		text := fmt.Sprintf("The loss is not linear in time (a bend common to %d units; F-test, p %s). It %s. Half way to %.3g months it is %.2g %% of mass off its straight line",
			c.Units, probability(c.P), way, c.Months, math.Abs(c.Departure))
		if c.Relative < 1 {
			text += fmt.Sprintf(", %.2g %% of the loss there", 100*c.Relative)
		}
		a.warn("loss-not-linear", where, text+".")
	}
}

func probability(p float64) string {
	if p < 0.001 {
		return "< 0.001"
	}
	return fmt.Sprintf("= %.3f", p)
}

func oneOrMany(found []int, one, many string) string {
	if len(found) == 1 {
		return one
	}
	return many
}

// named lists units with their batches: "Unit W3 of batch B1 loses".
func (l *Losses) named(s *study.Study, found []int, one, many string) string {
	var t []string
	for _, i := range found {
		t = append(t, l.Units[i].Label+" of batch "+s.Batches[l.Units[i].Batch].ID)
	}
	if len(t) == 1 {
		return "Unit " + t[0] + " " + one
	}
	return "Units " + strings.Join(t[:len(t)-1], ", ") + " and " + t[len(t)-1] + " " + many
}

// rates lists the units' rates, in their order.
func (l *Losses) rates(found []int) string {
	var t []string
	for _, i := range found {
		t = append(t, fmt.Sprintf("%.3g", 12*l.Units[i].Rate))
	}
	return strings.Join(t, ", ") + " % a year"
}

// others says what the units lose that are no leakers: those of the batch, where
// units were compared with their own and one batch alone has leakers.
func (l *Losses) others(s *study.Study, found []int) string {
	of, batch := "the others", l.Units[found[0]].Batch
	one := l.Found.OwnMeans
	for _, i := range found {
		one = one && l.Units[i].Batch == batch
	}
	if one {
		of += " of batch " + s.Batches[batch].ID
	}
	sum, n := 0.0, 0.0
	for _, u := range weightloss.Without(l.Units, l.Found.Leakers) {
		if !one || u.Batch == batch {
			sum, n = sum+u.Rate, n+1
		}
	}
	return fmt.Sprintf("%s %.3g %% a year on average", of, 12*sum/n)
}
