package protocol

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"

	"shelfspan/study"
)

func (d *draft) checkAttribute(a *attribute) {
	t := a.table
	if t.has("packs") {
		a.Packs = d.places("pack", a.packs, d.packIDs, t, "packs")
	}
	if t.has("conditions") {
		a.Conditions = d.places("condition", a.conditions, d.conditionIDs, t, "conditions")
	}
	if d.sound(t, "expected_at_accelerated") && a.ExpectedAtAccelerated == "" {
		d.fault(t.lineOf("expected_at_accelerated"), "expected_at_accelerated", "is empty; write the change that heat is expected to bring, and why")
	}
	d.checkKind(a)
	d.checkLimits(a)
	d.checkBaseline(a)
}

// places turns a list of ids into their places in the file, in that order.
func (d *draft) places(what string, ids, known []string, t *node, key string) []int {
	var out []int
	for _, id := range ids {
		if i := d.lookup(what, id, known, t.lineOf(key), key); i >= 0 {
			out = append(out, i)
		}
	}
	slices.Sort(out)
	return out
}

// misplaced says which keys mean nothing for a kind of attribute, and why.
var misplaced = []struct {
	key   string
	kinds []study.Kind
	why   string
}{
	{"grades", []study.Kind{study.Measure, study.Weighing, study.PassFail}, `belongs to kind = "grade"`},
	{"lower", []study.Kind{study.PassFail}, "a pass-fail attribute has no limits: a unit passes or fails"},
	{"upper", []study.Kind{study.PassFail}, "a pass-fail attribute has no limits: a unit passes or fails"},
	{"direction", []study.Kind{study.PassFail}, "a pass-fail attribute has no direction: a unit passes or fails"},
	{"baseline", []study.Kind{study.Grade, study.PassFail}, "no trend is fitted to a %s attribute"},
	{"significant_change", []study.Kind{study.Weighing, study.Grade, study.PassFail}, "a change in percent of the initial value means nothing for a %s attribute"},
	{"decimals", []study.Kind{study.Grade, study.PassFail}, "a %s attribute is not a number with decimals"},
}

// checkKind tests what only some kinds of attribute can have.
func (d *draft) checkKind(a *attribute) {
	t := a.table
	for _, m := range misplaced {
		if t.has(m.key) && slices.Contains(m.kinds, a.Kind) {
			d.fault(t.lineOf(m.key), m.key, "%s; leave it out", strings.ReplaceAll(m.why, "%s", string(a.Kind)))
		}
	}
	observed := a.Kind == study.Grade || a.Kind == study.PassFail
	switch {
	case observed && a.Model != study.Auto:
		d.fault(t.lineOf("model"), "model", "a %s attribute is judged by what was observed and fitted by no model; leave it out", a.Kind)
	case a.Kind == study.Weighing && a.Model != study.Auto && a.Model != study.ZeroOrder:
		d.fault(t.lineOf("model"), "model", `a weighing is fitted by a rate for each unit; write "zero-order" or leave it out`)
	case a.Basis == study.BasisChange && (a.Model == study.FirstOrder || a.Model == study.SecondOrder):
		d.fault(t.lineOf("model"), "model", `%q does not go with basis = "change-from-initial"; write "zero-order", "square-root-time" or "auto"`, a.Model)
	case a.Sampling == study.Returned && a.Model.Curved():
		d.fault(t.lineOf("model"), "model", `%q is no model for units that are measured and put back, each of which has a line of its own; write "auto" or one of the models of a line`, a.Model)
	}
	switch {
	case observed && a.Basis != study.BasisValue:
		d.fault(t.lineOf("basis"), "basis", `a %s attribute is judged as it is; write "value" or leave it out`, a.Kind)
	case a.Kind == study.Weighing && a.Basis != study.BasisValue:
		d.fault(t.lineOf("basis"), "basis", `the limits of a weighing are in percent lost already; write "value" or leave it out`)
	}
	if a.Kind == study.Grade {
		d.checkGrades(a)
	}
}

func (d *draft) checkGrades(a *attribute) {
	t := a.table
	if !t.has("grades") {
		d.fault(t.line, "grades", `is missing; write grades = ["none", "slight", "marked"], the best first`)
		return
	}
	if len(a.Grades) < 2 && d.sound(t, "grades") {
		d.fault(t.lineOf("grades"), "grades", "one grade tells nothing apart; write at least two, the best first")
	}
	first := map[string]string{}
	for _, g := range a.Grades {
		low := strings.ToLower(g)
		if h, seen := first[low]; seen {
			d.fault(t.lineOf("grades"), "grades", "%q and %q differ only in case; results could not tell them apart", h, g)
			continue
		}
		first[low] = g
	}
}

// checkLimits reads the acceptance criterion and tests it against the rest.
func (d *draft) checkLimits(a *attribute) {
	t := a.table
	if a.Kind == study.PassFail {
		a.Lower, a.Upper = math.Inf(-1), 0 // pass is 0, fail is 1
		return
	}
	low, lowOK := d.limit(a, a.lower, "lower")
	high, highOK := d.limit(a, a.upper, "upper")
	if lowOK {
		a.Lower = low
	}
	if highOK {
		a.Upper = high
	}
	if lowOK && highOK && low >= high {
		line := max(t.lineOf("lower"), t.lineOf("upper"))
		if low > high {
			d.fault(line, "upper", "%s is below the lower limit %s; write the lower limit below the upper", plain(high), plain(low))
		} else {
			d.fault(line, "upper", "%s is also the lower limit, which leaves no room between them", plain(high))
		}
		return
	}
	switch {
	case a.Direction == study.Falls && !t.has("lower") && t.has("upper"):
		d.fault(t.lineOf("direction"), "direction", `an attribute that falls never meets its only limit, an upper one; give a lower limit or write "rises" or "either"`)
	case a.Direction == study.Rises && !t.has("upper") && t.has("lower"):
		d.fault(t.lineOf("direction"), "direction", `an attribute that rises never meets its only limit, a lower one; give an upper limit or write "falls" or "either"`)
	}
	d.checkStart(a, lowOK, highOK)
	if a.Basis != study.BasisChange && (a.Model == study.FirstOrder || a.Model == study.SecondOrder) && a.Kind == study.Measure {
		for _, l := range []struct {
			key   string
			ok    bool
			value float64
		}{{"lower", lowOK, a.Lower}, {"upper", highOK, a.Upper}} {
			if l.ok && l.value <= 0 {
				d.fault(t.lineOf(l.key), l.key, "%s is not above 0, where the %s model has no values; give a limit above 0 or another model", plain(l.value), a.Model)
			}
		}
	}
}

// checkStart refuses limits that the initial value itself misses by its
// definition: 100 % of itself, or a change of 0.
func (d *draft) checkStart(a *attribute, lowOK, highOK bool) {
	var start float64
	var what string
	switch {
	case a.Kind != study.Measure:
		return
	case a.Basis == study.BasisPercent:
		start, what = 100, "percent of initial, where every batch starts at 100"
	case a.Basis == study.BasisChange:
		start, what = 0, "change from initial, where every batch starts at 0"
	default:
		return
	}
	if lowOK && a.Lower >= start {
		d.fault(a.table.lineOf("lower"), "lower", "%s is a limit on %s; write a lower limit below that", plain(a.Lower), what)
	}
	if highOK && a.Upper <= start {
		d.fault(a.table.lineOf("upper"), "upper", "%s is a limit on %s; write an upper limit above that", plain(a.Upper), what)
	}
}

// limit reads one limit: a number, for a weighing a percentage, for a grade
// the number or the name of one.
func (d *draft) limit(a *attribute, v *node, key string) (float64, bool) {
	if v == nil || v.kind == unstable.Invalid {
		return 0, false
	}
	switch a.Kind {
	case study.Weighing:
		return d.number(v, key, "a number, the percent lost", "3.0", limits{low: -100, high: 100, unit: "% lost"})
	case study.Grade:
		return d.gradeLimit(a, v, key)
	}
	return d.number(v, key, "a number", "95.0", anyNumber)
}

func (d *draft) gradeLimit(a *attribute, v *node, key string) (float64, bool) {
	if len(a.Grades) < 2 || !d.sound(a.table, "grades") {
		return 0, false // reported under grades
	}
	if v.kind == unstable.String {
		for i, g := range a.Grades {
			if strings.EqualFold(g, v.text) {
				return float64(i), true
			}
		}
		_, ok := oneOf(d.reader, v, key, a.Grades)
		return 0, ok
	}
	last := len(a.Grades) - 1
	n, ok := d.whole(v, key, strconv.Itoa(min(1, last)), limits{low: 0, high: float64(last), unit: "(" + a.Grades[last] + ")"})
	return float64(n), ok
}

// checkBaseline refuses a baseline that leaves no pull to fit.
func (d *draft) checkBaseline(a *attribute) {
	if a.Baseline.IsZero() {
		return
	}
	last, pulls := 0.0, 0
	for i := range d.conditions {
		c := &d.conditions[i]
		if a.Conditions != nil && !slices.Contains(a.Conditions, i) {
			continue
		}
		for _, p := range c.Pulls {
			last = max(last, c.Months(p))
			pulls++
		}
	}
	if pulls > 0 && a.Baseline.Months(0) >= last {
		d.fault(a.table.lineOf("baseline"), "baseline", "%q is not before the last pull, so that no trend is left to count", a.Baseline)
	}
}
