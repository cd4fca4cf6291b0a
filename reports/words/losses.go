package words

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"shelfspan/analysis"
	"shelfspan/analysis/extrapolation"
	"shelfspan/analysis/pooling"
	"shelfspan/analysis/weightloss"
	"shelfspan/study"
)

// Table is a table in words: its heads, the cells of its rows, and how many
// columns from the left hold names.
type Table struct {
	Heads []string
	Names int
	Rows  [][]string
}

// ofLosses gives the analyses that have losses of units.
func ofLosses(as []*analysis.Analysis) []*analysis.Analysis {
	var out []*analysis.Analysis
	for _, a := range as {
		if a.Losses != nil {
			out = append(out, a)
		}
	}
	return out
}

// Losses is the table of what single units lose, over the analyses of an
// attribute: with all units, and below that without the leakers where there are
// any. It has no rows where there is nothing to tell.
func Losses(s *study.Study, as []*analysis.Analysis) Table {
	as = ofLosses(as)
	t := Table{Names: 2}
	var spreads, grams []float64
	for _, a := range as {
		for _, p := range []*weightloss.Population{a.Losses.With, a.Losses.Without} {
			if p != nil {
				spreads, grams = append(spreads, 12*p.SD), append(grams, 12*p.Limit().Grams)
			}
		}
	}
	decimals, places := Decimals(2, spreads...), Decimals(3, grams...)
	for _, a := range as {
		l := a.Losses
		t.Heads = []string{"condition", "pack", "units", "mean", "SD", "limit", "g/year", "bound", Percent(l.Coverage) + " until"}
		batch := "" // that the row above names
		row := func(p *weightloss.Population, condition, pack string, bound float64) {
			if p == nil {
				return
			}
			b := p.Limit()
			if p.Decision == pooling.Separate && len(p.Batches) > 1 && s.Batches[b.Batch].ID != batch {
				batch = s.Batches[b.Batch].ID
				pack = strings.TrimPrefix(pack+", ", ", ") + batch
			}
			t.Rows = append(t.Rows, []string{condition, pack, strconv.Itoa(p.Units), Fixed(12*b.Mean, decimals), Fixed(12*p.SD, decimals),
				Fixed(12*b.Upper, decimals), Fixed(12*b.Grams, places), stated(bound), stated(b.Within)})
		}
		row(l.With, s.Conditions[a.Condition].ID, PackName(s, a.Pack, a.Orientation), l.Bound)
		row(l.Without, "", "without "+leakers(len(l.Found.Leakers)), l.BoundWithout)
	}
	return t
}

// stated writes months of a bound, a dash where there is none.
func stated(months float64) string {
	if math.IsNaN(months) {
		return "–"
	}
	return Bound(months)
}

func leakers(n int) string {
	if n == 1 {
		return "leaker"
	}
	return "leakers"
}

// LossesRead says how the table of Losses is read.
func LossesRead(as []*analysis.Analysis) string {
	as = ofLosses(as)
	if len(as) == 0 {
		return ""
	}
	l := as[0].Losses
	t := fmt.Sprintf("Single units, in %% of the %s lost a year: mean, standard deviation, and the limit that %s of units stay below with %s confidence. "+
		"Bound: months until the confidence limit of the mean meets the criterion; %s until: by when so many units still meet it with that confidence. Both go on in a straight line beyond the data; a shelf life rests on the bound.",
		strings.Split(string(l.Base), ",")[0], Percent(l.Coverage), Percent(l.Confidence), Percent(l.Coverage))
	for _, a := range as {
		if p := a.Losses.With; p != nil && p.Decision == pooling.Separate && len(p.Batches) > 1 {
			return t + " Where batches differ, the one that limits is named."
		}
	}
	return t
}

// Leakers says which units were named as leakers, over the analyses of an
// attribute, where none was, and where it could not be told.
func Leakers(s *study.Study, as []*analysis.Analysis) []string {
	as = ofLosses(as)
	place := func(a *analysis.Analysis) string {
		return strings.TrimSpace(s.Conditions[a.Condition].ID + " " + PackName(s, a.Pack, a.Orientation))
	}
	var named, untold, alone []string
	searches := 0
	for _, a := range as {
		l := a.Losses
		if !l.Found.Tested {
			untold = append(untold, place(a))
			continue
		}
		searches++
		for _, i := range l.Found.Leakers {
			named = append(named, fmt.Sprintf("%s (%s, batch %s, %s %% a year)", l.Units[i].Label, place(a), s.Batches[l.Units[i].Batch].ID, Number(12*l.Units[i].Rate, 3)))
		}
		for _, i := range l.Found.Alone {
			alone = append(alone, l.Units[i].Label+" ("+place(a)+")")
		}
	}
	var out []string
	rate := fmt.Sprintf("Among sound units about one search in %.0f names one by chance", 1/weightloss.Level)
	if searches > 1 {
		rate += fmt.Sprintf("; %d were made here", searches)
	}
	switch {
	case len(named) > 0:
		out = append(out, fmt.Sprintf("Named as %s: %s. Every unit counts; what is said without a leaker stands for comparison alone. %s.", leakersOf(named), strings.Join(named, "; "), rate))
	case searches > 0:
		out = append(out, "No unit is shown to leak.")
	}
	if len(untold) > 0 {
		out = append(out, "Too few units to tell a leaker: "+strings.Join(untold, ", ")+".")
	}
	if len(alone) > 0 {
		out = append(out, "Batches differ, and a unit alone in its batch cannot be told to leak: "+strings.Join(alone, ", ")+".")
	}
	return out
}

func leakersOf(named []string) string {
	if len(named) == 1 {
		return "a leaker"
	}
	return "leakers"
}

// AtLowHumidity is the table of what units of semi-permeable packs lose at the low
// humidity that belongs to the temperature.
func AtLowHumidity(s *study.Study, as []*analysis.Analysis) Table {
	t := Table{Names: 3}
	var uppers []float64
	for _, a := range ofLosses(as) {
		if h := a.Losses.Humidity; h != nil && h.Refused == "" {
			uppers = append(uppers, 12*h.Mean)
		}
	}
	decimals := Decimals(3, uppers...)
	for _, a := range ofLosses(as) {
		h := a.Losses.Humidity
		if h == nil || h.Refused != "" {
			continue
		}
		t.Heads = []string{"condition", "pack", "% RH", "ratio", "mean", "limit", Percent(a.Losses.Coverage) + " until"}
		humidity := Number(h.From, 4) + " to " + Number(h.To, 4)
		if h.Ratio == 1 {
			humidity = Number(h.From, 4)
		}
		t.Rows = append(t.Rows, []string{s.Conditions[a.Condition].ID, PackName(s, a.Pack, a.Orientation), humidity, Number(h.Ratio, 3),
			Fixed(12*h.Mean, decimals), Fixed(12*h.Upper, decimals), stated(h.Within)})
	}
	return t
}

// LowHumidityRead says what the table of AtLowHumidity rests on.
const LowHumidityRead = "At low humidity, by the ratio of water-loss rates (ICH Q1A(R2) 2.2.7.3), in % a year. It holds where water alone is lost (no propellant or solvent) and loss is linear."

// Humidity says where a loss could not be expressed at low humidity, and what the
// packs lose in the test of 5 % of the water.
func Humidity(s *study.Study, as []*analysis.Analysis) []string {
	var out, untested []string
	refused := map[string][]string{}
	for _, a := range ofLosses(as) {
		l := a.Losses
		if l.Humidity == nil {
			continue
		}
		place := strings.TrimSpace(s.Conditions[a.Condition].ID + " " + PackName(s, a.Pack, a.Orientation))
		refused[l.Humidity.Refused] = append(refused[l.Humidity.Refused], place)
		if l.Humidity.Refused == "" && !l.Humidity.Tested {
			untested = append(untested, place)
		}
	}
	if len(untested) > 0 {
		out = append(out, "That loss is linear could not be tested: "+strings.Join(untested, ", ")+".")
	}
	for _, r := range []struct{ why, text string }{
		{analysis.NotWaterAlone, "the pack is pressurised and may lose propellant or solvent as well as water; nor is the test of 5 % of the water made"},
		{analysis.NotLinear, "the loss is not linear"},
		{analysis.NoHumidity, "the condition states no humidity below 100 %"},
		{analysis.NoReference, "the guideline has low humidities for 25, 30 and 40 °C alone"},
		{analysis.NoLoss, "no loss with a spread between units is known"},
	} {
		if places := refused[r.why]; len(places) > 0 {
			out = append(out, "Not expressed at low humidity: "+strings.Join(places, ", ")+". Of these "+r.text+".")
		}
	}
	for _, a := range ofLosses(as) {
		if t := water(s, a); t != "" {
			out = append(out, t)
		}
	}
	return out
}

// water says what the worst batch of an analysis lost in the test of 5 % of the
// water; "" where it was not made.
func water(s *study.Study, a *analysis.Analysis) string {
	l := a.Losses
	if len(l.Water) == 0 {
		return ""
	}
	w := &l.Water[0]
	for i := range l.Water {
		if x := &l.Water[i]; x.Significant && !w.Significant || x.Significant == w.Significant && x.Percent > w.Percent {
			w = x
		}
	}
	mass := strings.Split(string(l.Base), ",")[0]
	of := "the initial water"
	if !w.OfWater {
		of = "the " + mass + " (no water_percent is stated, and of the water it is more)"
	}
	converted := fmt.Sprintf("%s %% of the %s", Number(w.Lost, 3), mass)
	if c := &s.Conditions[a.Condition]; w.Ratio != 1 {
		converted += fmt.Sprintf(" at %s %% RH, × %s", Number(c.Humidity, 4), Number(w.Ratio, 3))
	}
	t := fmt.Sprintf("%s %s, 3 months at 40 °C and not more than 25 %% RH: batch %s loses %s %% of %s (at %s months it lost %s)",
		s.Conditions[a.Condition].ID, PackName(s, a.Pack, a.Orientation), s.Batches[w.Batch].ID, Number(w.Percent, 3), of, Number(w.Months, 3), converted)
	t = strings.Join(strings.Fields(t), " ")
	switch limit := Number(extrapolation.SignificantWaterLoss, 3); {
	case w.Significant:
		t += fmt.Sprintf(". That is a significant loss of water, %s %% or more (ICH Q1A(R2) 2.2.7.3).", limit)
	case w.Early:
		t += fmt.Sprintf(" so far; the test asks for less than %s %% at 3 months.", limit)
	default:
		t += fmt.Sprintf(". That is less than the %s %% of ICH Q1A(R2) 2.2.7.3.", limit)
	}
	if w.Ratio != 1 && !l.Course.Straight() {
		t += " The loss is not linear, which the conversion presupposes."
	}
	if strings.HasPrefix(mass, "gross") {
		t += " Referred to the content the loss is larger."
	}
	return t
}
