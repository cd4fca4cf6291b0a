package protocol

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"

	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/spelling"
	"shelfspan/study/unitid"
)

// draft is a study file as bound, before its sections are joined.
type draft struct {
	*reader
	head       head
	calendar   *node
	conditions []condition
	chambers   []chamber
	batches    []batch
	packs      []pack
	attributes []attribute

	conditionIDs, chamberIDs, batchIDs, packIDs, attributeIDs []string // in the order of the file
}

func idsOf[T any](list []T, id func(*T) string) []string {
	out := make([]string, len(list))
	for i := range list {
		out[i] = id(&list[i])
	}
	return out
}

// check tests what keys say of each other and joins the sections.
func (d *draft) check() {
	d.checkIDs()
	d.checkWindows()
	for i := range d.conditions {
		d.checkCondition(&d.conditions[i])
	}
	d.checkStorage()
	for i := range d.batches {
		d.checkBatch(&d.batches[i])
	}
	d.checkControl()
	for i := range d.attributes {
		d.checkAttribute(&d.attributes[i])
	}
}

// study joins the checked sections.
func (d *draft) study() *study.Study {
	s := &d.head.Study
	for i := range d.conditions {
		s.Conditions = append(s.Conditions, d.conditions[i].Condition)
	}
	for i := range d.chambers {
		s.Chambers = append(s.Chambers, d.chambers[i].Chamber)
	}
	for i := range d.batches {
		s.Batches = append(s.Batches, d.batches[i].Batch)
	}
	for i := range d.packs {
		s.Packs = append(s.Packs, d.packs[i].Pack)
	}
	if len(s.Packs) == 0 {
		s.Packs = []study.Pack{newPack(nil).Pack}
	}
	for i := range d.attributes {
		s.Attributes = append(s.Attributes, d.attributes[i].Attribute)
	}
	return s
}

// mostIDs bounds the entries of a section, whose places results keep in 16 bits.
const mostIDs = math.MaxInt16

// resultColumns are the headers of a results file that an attribute's own
// column could be taken for.
var resultColumns = []string{
	"batch", "condition", "pack", "orientation", "time", "pulled", "attribute", "value", "tested",
	"replicate", "unit", "tare", "unit_of_measure", "analyst", "method", "comment",
}

// deviceName is what Windows takes for a device, whatever follows the point.
var deviceName = regexp.MustCompile(`(?i)^(?:con|prn|aux|nul|com[0-9]|lpt[0-9])(?:\.|$)`)

func (d *draft) checkIDs() {
	d.conditionIDs = idsOf(d.conditions, func(c *condition) string { return c.ID })
	d.chamberIDs = idsOf(d.chambers, func(c *chamber) string { return c.ID })
	d.batchIDs = idsOf(d.batches, func(b *batch) string { return b.ID })
	d.packIDs = idsOf(d.packs, func(p *pack) string { return p.ID })
	d.attributeIDs = idsOf(d.attributes, func(a *attribute) string { return a.ID })
	d.unique("condition", d.conditionIDs, func(i int) *node { return d.conditions[i].table })
	d.unique("chamber", d.chamberIDs, func(i int) *node { return d.chambers[i].table })
	d.unique("batch", d.batchIDs, func(i int) *node { return d.batches[i].table })
	d.unique("pack", d.packIDs, func(i int) *node { return d.packs[i].table })
	d.unique("attribute", d.attributeIDs, func(i int) *node { return d.attributes[i].table })
	switch id := d.head.ID; {
	case strings.HasPrefix(id, "-") || strings.HasPrefix(id, "."):
		d.fault(d.head.table.lineOf("id"), "id", "%q begins with %q, and files are named for their study; begin it with a letter or a digit", id, id[:1])
	case deviceName.MatchString(id):
		d.fault(d.head.table.lineOf("id"), "id", "%q is a device to Windows, and files are named for their study; choose another id", id)
	}
	for i, id := range d.attributeIDs {
		if slices.Contains(resultColumns, strings.ToLower(id)) {
			d.fault(d.attributes[i].table.lineOf("id"), "id", "%q is the name of a column in results files; call the attribute something else", id)
		}
		_, err := study.ParseDuration(id)
		if d.attributes[i].Sampling == study.Returned && (err == nil || strings.EqualFold(id, unitid.Reserve)) {
			d.fault(d.attributes[i].table.lineOf("id"), "id", "%q is what the ids of other units have in its place; call an attribute whose units are returned something else", id)
		}
	}
}

// sameNumber gives what spreadsheets make of an id that is a number to them: 007
// and 7 are one, and so are 1E5 and 100000. Other ids stand for themselves.
func sameNumber(id string) string {
	if v, err := strconv.ParseFloat(id, 64); err == nil && strings.Trim(id, "0123456789.eE+-") == "" {
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return id
}

// unique reports ids given twice, or told apart by case alone, which people
// and spreadsheets do not see, or only as 007 and 7 are, which are one to a
// spreadsheet.
func (d *draft) unique(what string, ids []string, table func(int) *node) {
	first := map[string]int{}
	for i, id := range ids {
		line := table(i).lineOf("id")
		if i == mostIDs {
			d.fault(line, "", "is the %dth %s; a study takes %d", i+1, what, mostIDs)
			return
		}
		if id == "" {
			continue
		}
		low := sameNumber(strings.ToLower(id))
		j, seen := first[low]
		switch {
		case !seen:
			first[low] = i
		case ids[j] == id:
			d.fault(line, "id", "%q is also the %s on line %d; give each an id of its own", id, what, table(j).lineOf("id"))
		case !strings.EqualFold(ids[j], id):
			d.fault(line, "id", "%q and the %s %q on line %d are one number to a spreadsheet; choose ids that differ more", id, what, ids[j], table(j).lineOf("id"))
		default:
			d.fault(line, "id", "%q differs only in case from the %s %q on line %d; choose ids that differ more", id, what, ids[j], table(j).lineOf("id"))
		}
	}
}

// lookup finds an id, reporting one that is not there.
func (d *draft) lookup(what, id string, ids []string, line int, key string) int {
	i := slices.Index(ids, id)
	if i >= 0 {
		return i
	}
	const most = 20
	right := "the file has none"
	if near := spelling.Nearest(id, ids[:min(len(ids), 1000)]); near != "" {
		right = "did you mean " + strconv.Quote(near) + "?"
	} else if len(ids) > most {
		right = "there are " + strings.Join(ids[:most], ", ") + " and more"
	} else if len(ids) > 0 {
		right = "there are " + strings.Join(ids, ", ")
	}
	d.fault(line, key, "there is no %s %s; %s", what, quote(id), right)
	return -1
}

func (d *draft) checkWindows() {
	w := d.head.Calendar.Windows
	for i := 1; i < len(w); i++ {
		if w[i].UpTo.Months(0) <= w[i-1].UpTo.Months(0) {
			d.fault(d.calendar.lineOf("windows"), "windows", "up_to %q comes after %q but is no longer; write the windows from short to long", w[i].UpTo, w[i-1].UpTo)
		}
	}
}

func (d *draft) checkCondition(c *condition) {
	t := c.table
	cycling := c.Role == study.Cycling
	switch {
	case c.Role != "" && !cycling && !t.has("temperature"):
		d.fault(t.line, "temperature", "is missing; write temperature = 25.0")
	case c.Role != "" && !cycling && t.has("cycle_hours"):
		d.fault(t.lineOf("cycle_hours"), "cycle_hours", `belongs to a cycling condition; leave it out or write role = "cycling"`)
	}
	if t.has("humidity_tolerance") && !t.has("humidity") {
		d.fault(t.lineOf("humidity_tolerance"), "humidity_tolerance", "stands without a humidity; write humidity = 60.0 too")
	}
	if math.IsNaN(c.TemperatureTolerance) {
		c.TemperatureTolerance = 2
		if c.Temperature >= 2 && c.Temperature <= 8 {
			c.TemperatureTolerance = 3 // refrigerated storage, 5 °C ± 3 °C (ICH Q1A(R2) 2.2.7.3)
		}
	}
	if d.sound(t, "chamber") {
		c.Chamber = d.lookup("chamber", c.chamber, d.chamberIDs, t.lineOf("chamber"), "chamber")
	}
	d.checkPulls(c)
}

func (d *draft) checkPulls(c *condition) {
	line := c.table.lineOf("pulls")
	for i, p := range c.Pulls {
		if p.Unit == study.Cycles {
			switch {
			case c.Role != "" && c.Role != study.Cycling:
				d.fault(line, "pulls", `%q counts cycles at a condition that is not cycling; write days, weeks, months or years, or role = "cycling"`, p)
				return
			case !c.table.has("cycle_hours"):
				d.fault(line, "pulls", "%q counts cycles of unknown length; write cycle_hours = 48", p)
				return
			case c.CycleHours == 0: // faulty and reported
				return
			case c.Months(p) > maxMonths:
				d.fault(line, "pulls", "%q is longer than 100 years", p)
			}
		}
		if i == 0 {
			continue
		}
		switch last := c.Pulls[i-1]; {
		case c.Months(p) == c.Months(last):
			d.fault(line, "pulls", "%q and %q are the same time; keep one of them", last, p)
		case d.sameDay(last, p, c.CycleHours) != study.NoDate:
			d.fault(line, "pulls", "%q and %q fall on the same day, %s; keep one of them", last, p, d.sameDay(last, p, c.CycleHours))
		case c.Months(p) < c.Months(last):
			d.fault(line, "pulls", "%q comes after %q but is earlier; write the pulls from early to late", p, last)
		}
	}
}

// sameDay gives the day on which two pulls both fall, for some batch: 12M and
// 365D are different times and, but for a leap day between, the same day. It is
// NoDate where there is none.
func (d *draft) sameDay(a, b study.Duration, cycleHours float64) study.Date {
	for i := range d.batches {
		zero := d.batches[i].Placed
		if zero == study.NoDate {
			zero = d.head.Start
		}
		if zero != study.NoDate && a.AddTo(zero, cycleHours) == b.AddTo(zero, cycleHours) {
			return a.AddTo(zero, cycleHours)
		}
	}
	return study.NoDate
}

// checkStorage finds the condition of labelled storage.
func (d *draft) checkStorage() {
	s, t := &d.head.Study, d.head.table
	var longTerm []string
	for i, c := range d.conditions {
		if c.Role == study.LongTerm {
			longTerm = append(longTerm, c.ID)
			s.StoreAt = i
		}
	}
	switch {
	case t.has("store_at"):
		s.StoreAt = -1
		if !d.sound(t, "store_at") {
			break
		}
		s.StoreAt = d.lookup("condition", d.head.storeAt, d.conditionIDs, t.lineOf("store_at"), "store_at")
	case len(longTerm) > 1 && t.line == 0: // there is no [study], which is reported
	case len(longTerm) > 1:
		s.StoreAt = -1
		d.fault(t.line, "store_at", "is missing and there are several long-term conditions, %s; say which one is storage as labelled: store_at = %q",
			strings.Join(longTerm, ", "), longTerm[0])
	}
	if s.StoreAt >= 0 {
		store := &d.conditions[s.StoreAt]
		if r := store.Role; r == study.Accelerated || r == study.Stress || r == study.Cycling {
			d.fault(t.lineOf("store_at"), "store_at", "%q is a condition of role %s; storage as labelled needs one that is long-term or intermediate", store.ID, r)
		} else {
			d.checkAccelerated(store)
		}
	}
	if d.sound(t, "claim") && s.Claim.IsZero() {
		d.fault(t.lineOf("claim"), "claim", "a shelf life of 0 claims nothing; write claim = \"30M\" or leave it out")
	}
}

// checkAccelerated refuses an accelerated condition that is no hotter than
// storage: what it shows would be taken for the effect of heat.
func (d *draft) checkAccelerated(store *condition) {
	for _, c := range d.conditions {
		if c.Role == study.Accelerated && c.Temperature <= store.Temperature {
			d.fault(c.table.lineOf("temperature"), "temperature", "%s °C is not above the %s °C of storage at %q, though the role is accelerated; correct the temperature or the role",
				plain(c.Temperature), plain(store.Temperature), store.ID)
		}
	}
}

// sound reports whether a table gives a key and its value was not complained
// about.
func (d *draft) sound(t *node, key string) bool {
	f := t.get(key)
	if f == nil || f.value.kind == unstable.Invalid {
		return false
	}
	return !slices.ContainsFunc(d.faults.List, func(x finding.Fault) bool {
		return x.Column == key && x.Line >= f.line && x.Line <= f.value.lastLine()
	})
}

func (d *draft) checkBatch(b *batch) {
	placed, what := b.Placed, "was placed"
	if placed == study.NoDate {
		placed, what = d.head.Start, "enters storage at the study's start"
	}
	if b.Made != study.NoDate && placed != study.NoDate && b.Made > placed {
		d.fault(b.table.lineOf("made"), "made", "%s is later than %s, when the batch %s", b.Made, placed, what)
	}
}

func (d *draft) checkControl() {
	first := -1
	for i, p := range d.packs {
		switch {
		case p.Control && first < 0:
			first = i
		case p.Control:
			d.fault(p.table.lineOf("control"), "control", "%q is already the control on line %d; only one pack can be the reference",
				d.packs[first].ID, d.packs[first].table.lineOf("control"))
		}
	}
}
