package words

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"shelfspan/analysis"
	"shelfspan/analysis/climate"
	"shelfspan/study"
)

// Kinetic writes a mean kinetic temperature, or a mean, to two decimals.
func Kinetic(celsius float64) string {
	if math.IsNaN(celsius) {
		return "none"
	}
	return minus(Fixed(celsius, 2))
}

// Celsius writes a temperature as it was measured.
func Celsius(celsius float64) string { return minus(Number(celsius, 5)) }

func minus(s string) string { return strings.Replace(s, "-", "−", 1) }

// Hours writes a length of time: minutes below an hour, hours with a decimal, and
// days beside them from three on.
func Hours(h float64) string {
	if h < 1 {
		return strconv.FormatFloat(h*60, 'f', 0, 64) + " min"
	}
	return Fixed(h, 1) + " h" + bracketed(days(h))
}

// days writes the days that so many hours are, from three on; "" below.
func days(h float64) string {
	if h < 72 {
		return ""
	}
	return Fixed(h/24, 1) + " days"
}

// bracketed joins what is not empty in brackets, behind a space.
func bracketed(parts ...string) string {
	parts = slices.DeleteFunc(parts, func(s string) bool { return s == "" })
	if len(parts) == 0 {
		return ""
	}
	return " (" + strings.Join(parts, ", ") + ")"
}

// hoursOf writes a length of time and what share it is of another.
func hoursOf(part, whole float64) string {
	share := ""
	if whole > 0 {
		share = Number(100*part/whole, 2) + " % of the time"
	}
	if part < 1 {
		return Hours(part) + bracketed(share)
	}
	return Fixed(part, 1) + " h" + bracketed(days(part), share)
}

// UsedBound writes the most of a life that is used, in percent, raised and never
// rounded down to a decimal.
func UsedBound(share float64) string {
	switch {
	case math.IsNaN(share):
		return "none stated"
	case math.IsInf(share, 1):
		return "not bounded"
	}
	return strconv.FormatFloat(max(0, math.Ceil(share*1000-1e-9))/10, 'f', 1, 64) + " %"
}

// Used writes the estimate of it.
func Used(share float64) string {
	switch {
	case math.IsNaN(share):
		return "none stated"
	case math.IsInf(share, 1):
		return "all"
	}
	return strconv.FormatFloat(share*100, 'f', 1, 64) + " %"
}

// WorthBound writes the most that a history is worth, in months, raised to two
// decimals.
func WorthBound(months float64) string {
	switch {
	case math.IsNaN(months):
		return "none stated"
	case math.IsInf(months, 1):
		return "not bounded"
	}
	return strconv.FormatFloat(max(0, math.Ceil(months*100-1e-9))/100, 'f', 2, 64)
}

// History says what a history comes to: how warm it was, how long it was outside
// its limits, and what that is to the product.
func History(h *analysis.History) []string {
	var out []string
	if r := h.Record; r != nil {
		out = append(out, logged(h, r))
		if t := outside(r); t != "" {
			out = append(out, t)
		}
	}
	if r := h.LaneRecord; r != nil {
		out = append(out, laned(h, r))
		if t := outsideLane(r); t != "" {
			out = append(out, t)
		}
	}
	return append(out, lives(h)...)
}

func logged(h *analysis.History, r *climate.Record) string {
	from := fmt.Sprintf("from %s to %s, %s", r.First, r.Last, Count(r.Readings, "reading"))
	if math.IsNaN(r.MeanKinetic) {
		return fmt.Sprintf("No mean kinetic temperature can be stated: no time is counted %s. The readings are from %s to %s °C.", from, Celsius(r.Min.Celsius), Celsius(r.Max.Celsius))
	}
	t := fmt.Sprintf("Mean kinetic temperature of the log: %s °C, by %s kJ/mol. Mean %s °C, lowest %s °C, highest %s °C (%s). Over %s, %s.",
		Kinetic(r.MeanKinetic), Number(r.EnergyKJ, 6), Kinetic(r.Mean), Celsius(r.Min.Celsius), Celsius(r.Max.Celsius), r.Max.At, Hours(r.Hours), from)
	if r.GapCount > 0 {
		t += fmt.Sprintf(" Of %s in gaps nothing is known.", Hours(r.GapHours))
	}
	if !h.Log.Zoned {
		t += " The times name no zone and are taken as those of one clock."
	}
	return t
}

// outside says how long it was beyond the limits, "" where there are none.
func outside(r *climate.Record) string {
	var out []string
	tell := func(side climate.Side, above bool) {
		if math.IsNaN(side.Limit) {
			return
		}
		word := "below"
		if above {
			word = "above"
		}
		if side.Count == 0 {
			out = append(out, fmt.Sprintf("Never %s %s °C.", word, Celsius(side.Limit)))
			return
		}
		longest, peak := 0.0, math.NaN()
		for _, e := range r.Excursions {
			if e.Above == above {
				longest = max(longest, e.Hours)
				if math.IsNaN(peak) || above == (e.Peak.Celsius > peak) {
					peak = e.Peak.Celsius
				}
			}
		}
		t := fmt.Sprintf("%s %s °C for %s in %s", strings.ToUpper(word[:1])+word[1:], Celsius(side.Limit), hoursOf(side.Hours, r.Hours), Count(side.Count, "excursion"))
		if side.Count > 1 {
			t += fmt.Sprintf(", the longest of %s", Hours(longest))
		}
		out = append(out, t+fmt.Sprintf(", as far as %s °C.", Celsius(peak)))
	}
	tell(r.Above, true)
	tell(r.Below, false)
	if t := againstLimit(r.MeanKinetic, r.Above); t != "" {
		out = append(out, t)
	}
	return strings.Join(out, " ")
}

// againstLimit holds a mean kinetic temperature against the upper limit; "" where
// there is nothing to say.
func againstLimit(celsius float64, side climate.Side) string {
	switch {
	case math.IsNaN(side.Limit) || math.IsNaN(celsius):
		return ""
	case celsius > side.Limit:
		return "The mean kinetic temperature is above the limit itself."
	case side.Count > 0:
		return "The mean kinetic temperature is within the limit; that by itself excuses no time above it."
	}
	return ""
}

func laned(h *analysis.History, r *climate.LaneRecord) string {
	what := Count(len(r.Legs), "leg")
	if h.Lane.ByMonth {
		what = Count(len(r.Legs), "month") + " of a climate"
	}
	return fmt.Sprintf("Mean kinetic temperature of the lane: %s °C, by %s kJ/mol. Mean %s °C, lowest %s °C, highest %s °C. Over %s, in %s.",
		Kinetic(r.MeanKinetic), Number(r.EnergyKJ, 6), Kinetic(r.Mean), Celsius(r.Min), Celsius(r.Max), Hours(r.Hours), what)
}

func outsideLane(r *climate.LaneRecord) string {
	var out []string
	tell := func(side climate.Side, word string) {
		switch {
		case math.IsNaN(side.Limit):
		case side.Count == 0:
			out = append(out, fmt.Sprintf("Never %s %s °C.", strings.ToLower(word), Celsius(side.Limit)))
		default:
			out = append(out, fmt.Sprintf("%s %s °C for %s, in %s.", word, Celsius(side.Limit), hoursOf(side.Hours, r.Hours), Count(side.Count, "leg")))
		}
	}
	tell(r.Above, "Above")
	tell(r.Below, "Below")
	if t := againstLimit(r.MeanKinetic, r.Above); t != "" {
		out = append(out, t)
	}
	return strings.Join(out, " ")
}

// lives says what the history uses of the lives that the study's fits predict.
func lives(h *analysis.History) []string {
	e := h.Evaluation
	if e == nil {
		return nil
	}
	s := e.Dataset.Study
	var out []string
	for _, name := range []string{analysis.TheLog, analysis.TheLane, analysis.Together} {
		worst, left := governing(e, name)
		switch {
		case worst == nil:
			continue
		case worst.exposure.UsedBound == 0:
			out = append(out, fmt.Sprintf("By the fits over temperatures %s uses nothing of any life: no path meets its limit.", name))
			continue
		}
		if len(out) == 0 {
			out = append(out, fmt.Sprintf("Bounds are those of %s confidence.", Percent(e.Confidence)))
		}
		out = append(out, spent(s, name, worst))
		if left != nil && (name == analysis.Together || h.Lane == nil || h.Log == nil) {
			out = append(out, fmt.Sprintf("Of the shelf lives that the study supports, %s leaves least for %s: %s of %s months, at %s, the most that it may be worth being taken off.",
				name, place(s, left.fit), Bound(left.exposure.SupportedLeft), Planned(left.exposure.Supported), Storage(s)))
		}
	}
	if t := aboveLimit(e); t != "" {
		out = append(out, t)
	}
	if t := unjudged(e); t != "" && len(out) > 0 {
		out = append(out, t)
	}
	if len(out) == 0 {
		out = append(out, "What this does to the product cannot be said: no time is counted, or no attribute has a fit over temperatures with a limit to meet.")
	}
	return out
}

// unjudged names what no fit says anything of; "" where there is nothing.
func unjudged(e *analysis.Evaluation) string {
	var names []string
	for _, w := range e.Warnings {
		if w.Code == "history-not-judged" {
			names = append(names, w.Where)
		}
	}
	if len(names) == 0 {
		return ""
	}
	return "Not judged, and so not covered by the above: " + strings.Join(names, "; ") + "."
}

// exposed is an exposure with the fit it is by.
type exposed struct {
	fit      *analysis.Arrhenius
	exposure *analysis.Exposure
}

func place(s *study.Study, r *analysis.Arrhenius) string {
	return Place(s, r.Attribute, r.Pack, r.Orientation)
}

// governing gives the exposure to a history that may have used most of a life,
// and that which leaves least of a supported shelf life; nil where there is none.
func governing(e *analysis.Evaluation, name string) (used, left *exposed) {
	for _, r := range e.Arrhenius {
		for i := range r.Exposures {
			x := &r.Exposures[i]
			if x.Name != name {
				continue
			}
			if !math.IsNaN(x.UsedBound) && (used == nil || x.UsedBound > used.exposure.UsedBound) {
				used = &exposed{r, x}
			}
			if !math.IsNaN(x.SupportedLeft) && (left == nil || x.SupportedLeft < left.exposure.SupportedLeft) {
				left = &exposed{r, x}
			}
		}
	}
	return used, left
}

// spent says what a history uses of the life that it uses most of.
func spent(s *study.Study, name string, w *exposed) string {
	x := w.exposure
	t := "Of the lives that the fits over temperatures predict, " + name
	switch {
	case math.IsInf(x.UsedBound, 1) && math.IsInf(x.Used, 1):
		return t + fmt.Sprintf(" can take nothing: the limit of %s is met at the start.", place(s, w.fit))
	case math.IsInf(x.UsedBound, 1):
		t += fmt.Sprintf(" uses %s by estimate for %s, and nothing bounds how much it may be", Used(x.Used), place(s, w.fit))
	default:
		t += fmt.Sprintf(" uses at most %s, for %s (estimate %s)", UsedBound(x.UsedBound), place(s, w.fit), Used(x.Used))
	}
	if !math.IsNaN(x.Equivalent) {
		t += fmt.Sprintf("; it is worth %s months at storage (%s to %s) and %s long", Fixed(x.Equivalent, 2), Fixed(x.EquivalentLow, 2), WorthBound(x.EquivalentHigh), Fixed(x.Months, 2))
	}
	if !math.IsNaN(x.MeanKinetic) {
		t += fmt.Sprintf("; by its own activation energy, %s kJ/mol, the mean kinetic temperature is %s °C", Fixed(w.fit.EaKJ, 1), Kinetic(x.MeanKinetic))
	}
	if !math.IsNaN(x.LeftBound) {
		t += fmt.Sprintf("; at least %s months are left of that life", Bound(x.LeftBound))
	}
	t += "."
	if w.fit.Bent() {
		t += " One activation energy does not fit all of its temperatures: this is not to be relied on."
	}
	return t
}

// aboveLimit says what the time above the limit is worth by itself.
func aboveLimit(e *analysis.Evaluation) string {
	var worst *exposed
	for _, r := range e.Arrhenius {
		for i := range r.Exposures {
			if x := &r.Exposures[i]; x.Name == analysis.AboveLimit && !math.IsNaN(x.EquivalentHigh) && (worst == nil || x.EquivalentHigh > worst.exposure.EquivalentHigh) {
				worst = &exposed{r, x}
			}
		}
	}
	if worst == nil {
		return ""
	}
	x := worst.exposure
	hours := x.Months * 24 * study.DaysPerMonth
	most := "not bounded"
	if !math.IsInf(x.EquivalentHigh, 1) {
		most = "at most " + WorthBound(x.EquivalentHigh) + " months"
	}
	return fmt.Sprintf("The time above the limit, %s, is worth %s at storage for %s, for which it counts most (estimate %s months).",
		Hours(hours), most, place(e.Dataset.Study, worst.fit), Fixed(x.Equivalent, 2))
}

// The assumptions behind a history's numbers.
const (
	KineticMeaning = "The mean kinetic temperature is the steady one at which as much would have happened, by the activation energy that is stated (ICH Q1A(R2), glossary). It says nothing of what melts, freezes, parts or burst, and excuses no excursion."
	BetweenLines   = "Between two readings the temperature is taken to go in a straight line; each reading has half of each interval beside it as its weight."
	DailySwing     = "Where a leg has low and high, the temperature is taken to follow a sine between them, once a day."
	LifeMeaning    = "Worth: the time at the storage temperature in which as much would have happened, and the most that the interval of the activation energy allows. Used: the share of the predicted life, and the most it may be, by profile likelihood; left, the least that remains of it at storage. A predicted life is no shelf life: beside it stands the supported one, and the least that is left of that."
)
