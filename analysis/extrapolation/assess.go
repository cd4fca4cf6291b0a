package extrapolation

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"shelfspan/analysis/observed"
	"shelfspan/study"
	"shelfspan/study/finding"
)

// Assessment is what the warmer conditions say about one pack in one
// orientation, over all attributes measured there.
type Assessment struct {
	Pack, Orientation int
	Storage           study.Storage
	Accelerated       []int    // conditions at which significant change was judged
	Intermediate      []int    // those at which it was judged besides; none where the storage has none
	Changes           []Change // in the study's order of conditions, then of the series; counted and told ones
	Warnings          []finding.Warning

	study  *study.Study
	series []Series
}

// Assess judges significant change in one pack and orientation of a study that
// has a storage condition (StoreAt is not negative): at the accelerated
// conditions over 6 months, at the intermediate ones over 12.
//
// It is told and not counted where the attribute declares the change as
// expected when hot (at the accelerated conditions), and where a semi-permeable
// pack loses nothing but mass (ICH Q1A(R2) 2.2.7.3), which by itself calls for
// no intermediate testing and ends no extrapolation. A pressurised pack can
// lose propellant as well as water: there loss of mass counts as any change.
//
// There is at most one series for an attribute at a condition.
func Assess(s *study.Study, pack, orientation int, series []Series) *Assessment {
	class := study.StorageOf(s.Conditions[s.StoreAt].Temperature)
	a := &Assessment{Pack: pack, Orientation: orientation, Storage: class, study: s, series: series,
		Accelerated: s.AcceleratedConditions(), Intermediate: s.IntermediateConditions()}
	for _, c := range a.Accelerated {
		a.judge(c, sixMonthsMost, true)
	}
	for _, c := range a.Intermediate {
		a.judge(c, twelveMonthsMost, false)
	}
	a.warnOfConditions()
	return a
}

// judge looks for significant change in every series of a condition.
func (a *Assessment) judge(condition int, upTo float64, accelerated bool) {
	pack := &a.study.Packs[a.Pack]
	waterOnly := pack.SemiPermeable && !pack.Pressurised
	for _, s := range a.series {
		if s.Condition != condition {
			continue
		}
		attribute := &a.study.Attributes[s.Attribute]
		found, unjudged := changes(attribute, s, upTo)
		for i := range found {
			c := &found[i]
			switch {
			case waterOnly && attribute.Kind == study.Weighing && c.Value > 0:
				c.Counted, c.Note = false, "loss of mass alone in a semi-permeable pack (ICH Q1A(R2) 2.2.7.3)"
			case accelerated && attribute.ExpectedAtAccelerated != "":
				c.Counted, c.Note = false, "declared as expected: "+attribute.ExpectedAtAccelerated
			}
		}
		a.Changes = append(a.Changes, found...)
		if unjudged > 0 {
			a.warn("change-not-judged", s.Attribute, condition, "%s could not be compared with the initial value: there is none other than zero, or a value is censored; "+
				"significant change from the initial value was not judged there.", count(unjudged, "pull", "pulls"))
		}
		if accelerated && waterOnly && attribute.Kind == study.Weighing {
			a.judgeWater(s)
		}
		a.warnOfTold(s, found)
	}
}

// judgeWater adds the loss of water of a semi-permeable pack.
func (a *Assessment) judgeWater(s Series) {
	condition := &a.study.Conditions[s.Condition]
	losses, ok := WaterLosses(condition, &a.study.Packs[a.Pack], s.Samples)
	if !ok {
		a.warn("water-loss", s.Attribute, s.Condition, "the loss of water of a semi-permeable pack is judged at 40 °C and a stated humidity (ICH Q1A(R2) 2.2.7.3); %s does not allow it.", condition.ID)
		return
	}
	var lost []Change
	for _, w := range losses {
		if w.Significant {
			lost = append(lost, Change{Attribute: s.Attribute, Condition: s.Condition, Batch: w.Batch,
				Months: w.Months, Sign: WaterLoss, Value: w.Lost, Percent: w.Percent, Note: w.Note})
		}
	}
	if len(lost) == 0 {
		return
	}
	a.Changes = append(a.Changes, lost...)
	worst := slices.MaxFunc(lost, func(x, y Change) int { return cmp.Compare(x.Percent, y.Percent) })
	a.warn("water-loss", s.Attribute, s.Condition, "batch %s lost %.3g %% (%s) at %.3g months: a significant loss of water for a semi-permeable pack "+
		"(ICH Q1A(R2) 2.2.7.3: 5 %% in 3 months at 40 °C and 25 %% RH). By itself it does not limit the extrapolation, but the loss at storage humidity over the whole shelf life must be shown to be acceptable.",
		a.study.Batches[worst.Batch].ID, worst.Percent, worst.Note, worst.Months)
}

// warnOfTold tells of changes that do not count.
func (a *Assessment) warnOfTold(s Series, found []Change) {
	var batches []string
	note := ""
	for _, c := range found {
		if !c.Counted {
			batches = append(batches, fmt.Sprintf("%s at %.3g months", a.study.Batches[c.Batch].ID, c.Months))
			note = c.Note
		}
	}
	if note != "" {
		a.warn("change-not-counted", s.Attribute, s.Condition, "a significant change was seen (%s) and does not limit the extrapolation: %s.", strings.Join(batches, ", "), note)
	}
}

// warnOfConditions tells where the accelerated condition is not the one the
// rules were written for.
func (a *Assessment) warnOfConditions() {
	nominal := 40.0
	if a.Storage == study.Refrigerated {
		nominal = 25
	}
	for _, i := range a.Accelerated {
		if c := &a.study.Conditions[i]; !study.Near(c.Temperature, nominal) {
			a.warn("accelerated-other", -1, i, "ICH Q1A(R2) has %g °C as the accelerated condition of %s storage; this one, at %g °C, is taken in its place.",
				nominal, a.Storage, c.Temperature)
		}
	}
	if a.Storage == study.Freezer {
		return
	}
	for i := range a.study.Conditions {
		if c := &a.study.Conditions[i]; c.Role == study.Accelerated && i != a.study.StoreAt && !slices.Contains(a.Accelerated, i) {
			a.warn("accelerated-other", -1, i, "%s is not used as the accelerated condition of %s storage: it is less than %d °C warmer, or there is one at 25 °C.",
				c.ID, a.Storage, study.LeastStep)
		}
	}
}

func (a *Assessment) warn(code string, attribute, condition int, format string, args ...any) {
	a.Warnings = append(a.Warnings, a.warning(code, attribute, condition, format, args...))
}

func (a *Assessment) warning(code string, attribute, condition int, format string, args ...any) finding.Warning {
	var where []string
	if attribute >= 0 {
		where = append(where, a.study.Attributes[attribute].ID)
	}
	where = append(where, a.study.Conditions[condition].ID)
	p := &a.study.Packs[a.Pack]
	if p.ID != "" {
		where = append(where, p.ID)
	}
	if len(p.Orientations) > 1 {
		where = append(where, string(p.Orientations[a.Orientation]))
	}
	return finding.Warning{Code: code, Where: strings.Join(where, " "), Text: fmt.Sprintf(format, args...)}
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// samples gives those of an attribute at a condition; nil where there are none.
func (a *Assessment) samples(attribute, condition int) []observed.Sample {
	for _, s := range a.series {
		if s.Attribute == attribute && s.Condition == condition {
			return s.Samples
		}
	}
	return nil
}

// longest gives the longest planned time at which every batch has a result of
// an attribute, over some conditions, and the condition; −1 where none has any.
func (a *Assessment) longest(attribute int, conditions, batches []int) (months float64, condition int) {
	condition = -1
	for _, c := range conditions {
		if samples := a.samples(attribute, c); len(samples) > 0 {
			if x := Observed(samples, batches); condition < 0 || x > months {
				months, condition = x, c
			}
		}
	}
	return months, condition
}

// counted gives the changes that count at some conditions.
func (a *Assessment) counted(conditions []int) []Change {
	var out []Change
	for _, c := range a.Changes {
		if c.Counted && slices.Contains(conditions, c.Condition) {
			out = append(out, c)
		}
	}
	return out
}
