package protocol

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2/unstable"

	"shelfspan/study"
)

// What a section gives, with what refers to other sections still by name, and
// the table it was read from.
type (
	head struct {
		study.Study
		storeAt string
		table   *node
	}
	condition struct {
		study.Condition
		chamber string
		table   *node
	}
	chamber struct {
		study.Chamber
		table *node
	}
	batch struct {
		study.Batch
		table *node
	}
	pack struct {
		study.Pack
		table *node
	}
	attribute struct {
		study.Attribute
		conditions, packs []string
		lower, upper      *node // as given: a number, or the name of a grade
		table             *node
	}
)

// section is one part of a study file; many says that [[it]] may repeat.
type section struct {
	name string
	many bool
	keys []string
}

// sections lists what a study file holds.
func sections() []section {
	return []section{
		{"study", false, names(studyKeys)},
		{"calendar", false, names(calendarKeys)},
		{"samples", false, names(samplesKeys)},
		{"condition", true, names(conditionKeys)},
		{"chamber", true, names(chamberKeys)},
		{"batch", true, names(batchKeys)},
		{"pack", true, names(packKeys)},
		{"attribute", true, names(attributeKeys)},
	}
}

// String writes a section as its header has it.
func (s section) String() string {
	if s.many {
		return "[[" + s.name + "]]"
	}
	return "[" + s.name + "]"
}

var studyKeys = []key[head]{
	id(`"MB-26"`, func(h *head) *string { return &h.ID }),
	text("title", `"Storage stability of a balm"`, func(h *head) *string { return &h.Title }),
	text("product", `"Hand balm"`, func(h *head) *string { return &h.Product }),
	day("start", "2025-01-13", func(h *head) *study.Date { return &h.Start }).required(),
	duration("claim", `"30M"`, func(h *head) *study.Duration { return &h.Claim }),
	text("store_at", `"25C60"`, func(h *head) *string { return &h.storeAt }),
	choice("rules", []study.Rules{study.ICHQ1E, study.NoRules}, func(h *head) *study.Rules { return &h.Rules }),
	number("confidence", "0.95", limits{low: 0.5, high: 1, strict: true}, func(h *head) *float64 { return &h.Confidence }),
	number("pool_alpha", "0.25", limits{low: 0, high: 1, strict: true}, func(h *head) *float64 { return &h.PoolAlpha }),
}

var calendarKeys = []key[study.Calendar]{
	list("workdays", `["mon", "tue", "wed", "thu", "fri"]`, false, workday, func(c *study.Calendar, days []time.Weekday) {
		c.Workdays = [7]bool{}
		for _, d := range days {
			c.Workdays[d] = true
		}
	}),
	list("holidays", "[2025-12-25, 2025-12-26]", true, holiday, func(c *study.Calendar, days []study.Date) {
		slices.Sort(days)
		c.Holidays = days
	}),
	choice("shift", []study.Shift{study.ShiftNearest, study.ShiftEarlier, study.ShiftLater, study.ShiftNone},
		func(c *study.Calendar) *study.Shift { return &c.Shift }),
	list("windows", `[{up_to = "1M", days = 3}]`, false, window, func(c *study.Calendar, w []study.Window) { c.Windows = w }),
}

var windowKeys = []key[study.Window]{
	duration("up_to", `"1M"`, func(w *study.Window) *study.Duration { return &w.UpTo }).required(),
	whole("days", "3", limits{low: 0, high: 366, unit: "days"}, func(w *study.Window) *int { return &w.Days }).required(),
}

var samplesKeys = []key[study.Samples]{
	number("reserve_percent", "10", limits{low: 0, high: 1000, unit: "%"}, func(s *study.Samples) *float64 { return &s.ReservePercent }),
	whole("retain", "0", limits{low: 0, high: 1e6, unit: "units"}, func(s *study.Samples) *int { return &s.Retain }),
}

var conditionKeys = []key[condition]{
	id(`"25C60"`, func(c *condition) *string { return &c.ID }),
	choice("role", []study.Role{study.LongTerm, study.Intermediate, study.Accelerated, study.Stress, study.Cycling},
		func(c *condition) *study.Role { return &c.Role }).required(),
	number("temperature", "25.0", limits{low: -273.15, high: 200, strict: true, unit: "°C"}, func(c *condition) *float64 { return &c.Temperature }),
	number("humidity", "60.0", limits{low: 0, high: 100, unit: "% RH"}, func(c *condition) *float64 { return &c.Humidity }),
	number("temperature_tolerance", "2.0", limits{low: 0, high: 50, unit: "°C"}, func(c *condition) *float64 { return &c.TemperatureTolerance }),
	number("humidity_tolerance", "5.0", limits{low: 0, high: 100, unit: "% RH"}, func(c *condition) *float64 { return &c.HumidityTolerance }),
	list("pulls", `["0", "3M", "6M"]`, false, pullTime, func(c *condition, p []study.Duration) { c.Pulls = p }).required(),
	number("cycle_hours", "48", limits{low: 0, high: 8760, strict: true, unit: "hours"}, func(c *condition) *float64 { return &c.CycleHours }),
	text("chamber", `"A"`, func(c *condition) *string { return &c.chamber }),
}

var chamberKeys = []key[chamber]{
	id(`"A"`, func(c *chamber) *string { return &c.ID }),
	whole("capacity", "480", limits{low: 1, high: 1e9, unit: "units"}, func(c *chamber) *int { return &c.Capacity }),
	flag("rated_flammable", func(c *chamber) *bool { return &c.RatedFlammable }),
}

var batchKeys = []key[batch]{
	id(`"B1"`, func(b *batch) *string { return &b.ID }),
	text("scale", `"pilot"`, func(b *batch) *string { return &b.Scale }),
	text("lot", `"L-0417"`, func(b *batch) *string { return &b.Lot }),
	text("size", `"40 kg"`, func(b *batch) *string { return &b.Size }),
	day("made", "2025-01-06", func(b *batch) *study.Date { return &b.Made }),
	day("placed", "2025-01-13", func(b *batch) *study.Date { return &b.Placed }),
	{name: "factors", example: `{thickener = "clay"}`, read: factors},
}

var packKeys = []key[pack]{
	id(`"tube"`, func(p *pack) *string { return &p.ID }),
	text("description", `"aluminium tube, 50 mL"`, func(p *pack) *string { return &p.Description }),
	flag("pressurised", func(p *pack) *bool { return &p.Pressurised }),
	flag("flammable", func(p *pack) *bool { return &p.Flammable }),
	flag("glass", func(p *pack) *bool { return &p.Glass }),
	flag("semi_permeable", func(p *pack) *bool { return &p.SemiPermeable }),
	flag("control", func(p *pack) *bool { return &p.Control }),
	number("net_fill", "150.0", limits{low: 0, high: 1e7, strict: true, unit: "g"}, func(p *pack) *float64 { return &p.NetFill }),
	number("water_percent", "62.0", limits{low: 0, high: 100, unit: "%"}, func(p *pack) *float64 { return &p.WaterPercent }),
	number("tare", "21.4", limits{low: 0, high: 1e7, unit: "g"}, func(p *pack) *float64 { return &p.Tare }),
	list("orientations", `["upright"]`, false, orientation, func(p *pack, o []study.Orientation) { p.Orientations = o }),
}

var attributeKeys = []key[attribute]{
	id(`"viscosity"`, func(a *attribute) *string { return &a.ID }),
	text("unit", `"mPa.s"`, func(a *attribute) *string { return &a.Unit }),
	choice("kind", []study.Kind{study.Measure, study.Weighing, study.Grade, study.PassFail}, func(a *attribute) *study.Kind { return &a.Kind }),
	{name: "lower", example: "18000.0", read: func(_ *reader, f field, _ string, a *attribute) { a.lower = f.value }},
	{name: "upper", example: "42000.0", read: func(_ *reader, f field, _ string, a *attribute) { a.upper = f.value }},
	choice("basis", []study.Basis{study.BasisValue, study.BasisPercent, study.BasisChange}, func(a *attribute) *study.Basis { return &a.Basis }),
	choice("model", study.Models,
		func(a *attribute) *study.Model { return &a.Model }),
	choice("direction", []study.Direction{study.Falls, study.Rises, study.Either}, func(a *attribute) *study.Direction { return &a.Direction }),
	text("expected_at_accelerated", `"the wax melts at 38 °C"`, func(a *attribute) *string { return &a.ExpectedAtAccelerated }),
	duration("baseline", `"7D"`, func(a *attribute) *study.Duration { return &a.Baseline }),
	duration("test_within", `"14D"`, func(a *attribute) *study.Duration { return &a.TestWithin }),
	{name: "significant_change", example: `"5%"`, read: significantChange},
	choice("sampling", []study.Sampling{study.Destructive, study.Shared, study.Returned}, func(a *attribute) *study.Sampling { return &a.Sampling }),
	whole("units", "1", limits{low: 1, high: 10000}, func(a *attribute) *int { return &a.Units }),
	whole("replicates", "3", limits{low: 1, high: 10000}, func(a *attribute) *int { return &a.Replicates }),
	whole("decimals", "0", limits{low: 0, high: 15}, func(a *attribute) *int { return &a.Decimals }),
	list("grades", `["none", "slight", "marked"]`, false, gradeName, func(a *attribute, g []string) { a.Grades = g }),
	list("conditions", `["25C60"]`, false, listed, func(a *attribute, ids []string) { a.conditions = ids }),
	list("packs", `["tube"]`, false, listed, func(a *attribute, ids []string) { a.packs = ids }),
}

// What stands where the file says nothing.

func newHead(table *node) head {
	return head{table: table, Study: study.Study{
		Start: study.NoDate, StoreAt: -1, Rules: study.ICHQ1E, Confidence: 0.95, PoolAlpha: 0.25,
		Calendar: study.Calendar{
			Workdays: [7]bool{time.Monday: true, time.Tuesday: true, time.Wednesday: true, time.Thursday: true, time.Friday: true},
			Shift:    study.ShiftNearest,
			Windows: []study.Window{
				{UpTo: study.Duration{N: 1, Unit: study.Months}, Days: 3},
				{UpTo: study.Duration{N: 12, Unit: study.Months}, Days: 7},
				{UpTo: study.Duration{N: 60, Unit: study.Months}, Days: 14},
			},
		},
		Samples: study.Samples{ReservePercent: 10},
	}}
}

// newCondition leaves the temperature's tolerance open until the temperature
// is known.
func newCondition(table *node) condition {
	return condition{table: table, Condition: study.Condition{
		Temperature: math.NaN(), Humidity: math.NaN(), TemperatureTolerance: math.NaN(), HumidityTolerance: 5, Chamber: -1,
	}}
}

func newChamber(table *node) chamber { return chamber{table: table} }

func newBatch(table *node) batch {
	return batch{table: table, Batch: study.Batch{Made: study.NoDate, Placed: study.NoDate}}
}

func newPack(table *node) pack {
	return pack{table: table, Pack: study.Pack{
		NetFill: math.NaN(), WaterPercent: math.NaN(), Tare: math.NaN(), Orientations: []study.Orientation{study.Upright},
	}}
}

func newAttribute(table *node) attribute {
	return attribute{table: table, Attribute: study.Attribute{
		Kind: study.Measure, Lower: math.Inf(-1), Upper: math.Inf(1), Basis: study.BasisValue, Model: study.Auto,
		Direction: study.Either, SignificantChange: math.NaN(), Sampling: study.Destructive, Units: 1, Replicates: 1, Decimals: -1,
	}}
}

// The items of lists, and the values of a kind of their own.

var workdayNames = []string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"} // by time.Weekday

func workday(r *reader, v *node, key string) (time.Weekday, bool) {
	name, ok := oneOf(r, v, key, workdayNames)
	return time.Weekday(slices.Index(workdayNames, name)), ok
}

func holiday(r *reader, v *node, key string) (study.Date, bool) { return r.day(v, key, "2025-12-25") }

func window(r *reader, v *node, key string) (w study.Window, ok bool) {
	const example = `{up_to = "1M", days = 3}`
	if v.kind != unstable.Table {
		r.wrongType(v, key, "a table in braces", example)
		return w, false
	}
	before := r.count()
	bind(r, v, "a window", windowKeys, &w)
	if r.count() > before {
		return w, false
	}
	if w.UpTo.IsZero() {
		r.fault(v.lineOf("up_to"), key, "a window up to time 0 is for no pull; write one as %s", example)
		return w, false
	}
	return w, true
}

func pullTime(r *reader, v *node, key string) (study.Duration, bool) {
	return r.duration(v, key, `"3M"`)
}

func orientation(r *reader, v *node, key string) (study.Orientation, bool) {
	return oneOf(r, v, key, []study.Orientation{study.Upright, study.Inverted, study.Horizontal})
}

func listed(r *reader, v *node, key string) (string, bool) { return r.text(v, key, `"25C60"`) }

// gradeName refuses what could be taken for the number of another grade.
func gradeName(r *reader, v *node, key string) (string, bool) {
	s, ok := r.text(v, key, `"slight"`)
	if !ok {
		return "", false
	}
	if _, err := strconv.ParseFloat(s, 64); err == nil || strings.TrimSpace(s) == "" {
		r.fault(v.line, key, "%s is no name of a grade; grades are numbered 0, 1, 2 … by their place in the list and need a word each", quote(s))
		return "", false
	}
	if t := strings.TrimSpace(s); t != s {
		r.fault(v.line, key, "%s has blanks around it, which do not count in a results table; write %s", quote(s), quote(t))
		return "", false
	}
	return s, true
}

// factors reads a table of texts, in the order of their names.
func factors(r *reader, f field, example string, b *batch) {
	if f.value.kind != unstable.Table {
		r.wrongType(f.value, f.name, "a table in braces", example)
		return
	}
	for _, level := range f.value.fields {
		if s, ok := r.text(level.value, f.name+"."+level.name, `"clay"`); ok {
			b.Factors = append(b.Factors, study.Factor{Name: level.name, Level: s})
		}
	}
	slices.SortFunc(b.Factors, func(x, y study.Factor) int { return strings.Compare(x.Name, y.Name) })
}

// significantChange reads a percentage written as "5%".
func significantChange(r *reader, f field, example string, a *attribute) {
	if f.value.kind != unstable.String {
		r.wrongType(f.value, f.name, "a percentage in quotes", example)
		return
	}
	digits, percent := strings.CutSuffix(strings.TrimSpace(f.value.text), "%")
	x, err := strconv.ParseFloat(strings.TrimSpace(digits), 64)
	if !percent || err != nil || !(x > 0 && x <= 1000) {
		r.fault(f.value.line, f.name, "%s is no percentage above 0; write it as %s", quote(f.value.text), example)
		return
	}
	a.SignificantChange = x
}
