package words

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"shelfspan/study"
	"shelfspan/study/schedule"
)

// When writes the time of an event for people: day and minute, as its recorder's
// clock had them. A text that is no time stays as it is.
func When(at string) string {
	if len(at) < len("2006-01-02T15:04") || at[10] != 'T' {
		return at
	}
	return at[:10] + " " + at[11:16]
}

// Overtaken says that a state asked for by its day does not have an event which
// is dated so: later is the first event of a later day, which stands before it.
func Overtaken(day study.Date, later, event *study.Event) string {
	return fmt.Sprintf("event %d is dated %s, but stands behind event %d of %s; as of %s the ledger is taken as it stood before that one. Were the clocks right? --as-of takes the number of an event too",
		event.Seq, When(event.At), later.Seq, When(later.At), day)
}

// Amount says how many units are opened, and how many measured and put back.
func Amount(opened, returned int) string {
	switch {
	case opened == 0 && returned == 0:
		return "no unit"
	case returned == 0:
		return Count(opened, "unit") + " opened"
	case opened == 0:
		return Count(returned, "unit") + " measured and put back"
	}
	return Count(opened, "unit") + " opened, " + fmt.Sprint(returned) + " measured and put back"
}

// ToTake says how many units are to be opened, and to be measured and put back.
func ToTake(units, returned int) string {
	t := Count(units, "unit") + " to open"
	switch {
	case returned > 0 && units == 0:
		t = Count(returned, "unit") + " to measure and put back"
	case returned > 0:
		t += ", " + fmt.Sprint(returned) + " to measure and put back"
	}
	return t
}

// Outside says by how much a pull missed its window.
func Outside(days int) string {
	if days < 0 {
		return Count(-days, "day") + " before its window opened"
	}
	return Count(days, "day") + " after its window closed"
}

// Window says how a pull's window stands on a day.
func Window(on, earliest, latest study.Date) string {
	switch {
	case on < earliest:
		return "opens " + earliest.String()
	case on == latest:
		return "closes today"
	case on < latest:
		return "open until " + latest.String()
	}
	return "closed " + Count(int(on-latest), "day") + " ago"
}

// Due says in a sentence what is to be pulled, of what was asked for: of some
// studies or from some chambers, or of all.
func Due(on study.Date, within study.Duration, studies, chambers []string, list []schedule.Due) string {
	var overdue, now, soon int
	for i := range list {
		switch d := list[i].Date; {
		case d < on:
			overdue++
		case d == on:
			now++
		default:
			soon++
		}
	}
	of := ""
	if len(studies) > 0 {
		of = " of " + strings.Join(studies, ", ")
	}
	switch len(chambers) {
	case 0:
	case 1:
		of += " from chamber " + chambers[0]
	default:
		of += " from chambers " + strings.Join(chambers, ", ")
	}
	if len(list) == 0 {
		return fmt.Sprintf("Nothing is to be pulled%s as of %s, nor within %s.", of, on, within)
	}
	return fmt.Sprintf("As of %s%s: %s overdue, %d today, %d more within %s.", on, of, Count(overdue, "pull"), now, soon, within)
}

// Mark says which state of a ledger results were read at.
func Mark(m *study.Mark) string {
	return fmt.Sprintf("From the ledger as of event %d of %s, protocol version %d; hash %s.", m.Event, When(m.At), m.Version, m.Hash)
}

// Changes says how many results were changed after they were taken in; empty
// where none was.
func Changes(d *study.Dataset) string {
	parts := changed(d)
	if parts == nil {
		return ""
	}
	return "Part of the record: " + strings.Join(parts, ", ") + "; each is listed with its reason."
}

// changed counts what was changed, each kind with its number; nil for nothing.
func changed(d *study.Dataset) []string {
	amended := make(map[string]bool)
	for i := range d.Changes {
		if d.Changes[i].Kind == study.Amended {
			amended[d.Changes[i].ID] = true
		}
	}
	var parts []string
	if n := len(d.Excluded); n > 0 {
		parts = append(parts, Count(n, "result")+" excluded from the analysis")
	}
	if n := len(amended); n > 0 {
		parts = append(parts, Count(n, "result")+" amended after intake")
	}
	return parts
}

// Change says what was changed of a result.
func Change(d *study.Dataset, c *study.Change) string {
	what := c.ID + ", " + Result(d, &c.Result)
	switch c.Kind {
	case study.Amended:
		return what + ": " + amended(c) + "."
	case study.Excluded:
		return fmt.Sprintf("%s: %s, excluded from the analysis.", what, c.Before)
	}
	return fmt.Sprintf("%s: %s, put back into the analysis.", what, c.Before)
}

// Together says what was changed of results by one event, in as many sentences as
// there are results; where more than three have changed alike, in one that names
// them all by their ids.
func Together(d *study.Dataset, changes []study.Change) []string {
	var out []string
	for len(changes) > 0 {
		c := &changes[0]
		n := 1
		for n < len(changes) && changes[n].Event == c.Event && c.Event > 0 && changes[n].Part == c.Part && changes[n].Before == c.Before && changes[n].After == c.After {
			n++
		}
		if n <= 3 {
			n = 1
			out = append(out, Change(d, c))
		} else {
			ids := make([]string, n)
			for i := range ids {
				ids[i] = changes[i].ID
			}
			out = append(out, fmt.Sprintf("%s (%s): %s.", Count(n, "result"), strings.Join(ids, ", "), amended(c)))
		}
		changes = changes[n:]
	}
	return out
}

// PartName names what was amended of a result; empty for its value.
func PartName(p study.Part) string {
	switch p {
	case study.PartPulled:
		return "day pulled"
	case study.PartTested:
		return "day tested"
	case study.PartTare:
		return "tare, g"
	}
	return ""
}

// amended says what a part of a result is now, and what it was: "29924, was 29942".
func amended(c *study.Change) string { return amendedTo(c.Part, c.After, c.Before) }

func amendedTo(p study.Part, after string, before ...string) string {
	t := after
	switch p {
	case study.PartPulled, study.PartTested:
		t = string(p) + " on " + after
	case study.PartTare:
		t = "tare " + after + " g"
	}
	for i, b := range before {
		if b == "" {
			b = "not stated"
		}
		t += [...]string{", was ", " or "}[min(i, 1)] + b
	}
	return t
}

// ChangeKind says in a word or two what was done to a result.
func ChangeKind(c *study.Change) string {
	if name := PartName(c.Part); name != "" {
		return string(c.Kind) + ": " + name
	}
	return string(c.Kind)
}

// Changed says by whom, when and where a result was changed: by an event of the
// ledger, or as a table has it that says so itself.
func Changed(d *study.Dataset, c *study.Change) string {
	if c.Event == 0 {
		t := fmt.Sprintf("as line %d of %s has it", c.Result.Line, d.Inputs[c.Result.Input].Path)
		if c.By != "" {
			t += ": " + c.By
		}
		return t
	}
	return Author(c)
}

// Author says by whom and when a result was changed, as far as it is known.
func Author(c *study.Change) string {
	if c.Event == 0 {
		return c.By
	}
	return Recorded(c.Event, c.At, c.By)
}

// Recorded says by which event, when and by whom something was recorded.
func Recorded(event int64, at, by string) string {
	return fmt.Sprintf("event %d, %s, by %s", event, When(at), by)
}

// TakenIn counts the results that were taken in, and those of them that are out of
// the analysis.
func TakenIn(d *study.Dataset) string {
	t := fmt.Sprint(len(d.Results) + len(d.Excluded))
	if n := len(d.Excluded); n > 0 {
		t += fmt.Sprintf(", of which %s out of the analysis", plainly(n, "is", "are"))
	}
	return t
}

// ChangesOf says all that was changed of one result, in order; empty for nothing.
func ChangesOf(changes []study.Change) string {
	parts := make([]string, len(changes))
	for i := range changes {
		c := &changes[i]
		t := c.Before + " excluded"
		switch c.Kind {
		case study.Amended:
			t = "amended to " + amended(c)
			if PartName(c.Part) != "" {
				t = "amended: " + amended(c)
			}
		case study.Restored:
			t = c.Before + " put back"
		}
		if c.Reason != "" {
			t += ": " + c.Reason
		}
		if by := Author(c); by != "" {
			t += " (" + by + ")"
		}
		parts[i] = t
	}
	return strings.Join(parts, "; ")
}

// Result names a result by what was measured on what: "viscosity of B1 tube at
// 25C60, 3M, unit 2, replicate 1".
func Result(d *study.Dataset, r *study.Result) string {
	s := d.Study
	t := s.Attributes[r.Attribute].ID + " of " + s.Batches[r.Batch].ID
	orientation := int(r.Orientation)
	if r.Planned.IsZero() && r.Condition < 0 {
		orientation = -1
	}
	if p := PackName(s, int(r.Pack), orientation); p != "" {
		t += " " + p
	}
	if r.Condition >= 0 {
		t += " at " + s.Conditions[r.Condition].ID
	}
	t += ", " + r.Planned.String()
	if u := d.Text(r.Unit); u != "" {
		t += ", unit " + u
	}
	if u := d.Text(r.Replicate); u != "" {
		t += ", replicate " + u
	}
	return t
}

// PullRecord says what was recorded of a pull, with its deviation and note.
func PullRecord(r *study.PullRecord) string {
	opened, back := 0, 0
	for _, l := range r.Lines {
		opened, back = opened+l.Units, back+l.Returned
	}
	t := fmt.Sprintf("%s, %s, by %s: %s", r.Pull, r.Day, r.By, Amount(opened, back))
	if r.Outside != 0 {
		t += ", " + Outside(r.Outside)
	}
	t += "."
	if r.Reason != "" {
		t += " Reason: " + r.Reason + "."
	}
	if r.Note != "" {
		t += " Note: " + r.Note + "."
	}
	if r.Withdrawn {
		t += " The record was taken back later."
	}
	return strings.ReplaceAll(t, "..", ".")
}

// Event says in a few words what an event is about.
func Event(e *study.Event) string {
	var d struct {
		Name          string
		Day           string
		Rows, Results int
		Again         int
		Before, After string
		Part          study.Part
		Touched       []struct{ Before string }
		Outside       int
		Lines         []study.TakenLine
		Note          string
		Records       []int64
	}
	_ = json.Unmarshal([]byte(e.Detail), &d) // of a damaged event the subject still tells something
	t := ""
	switch e.Kind {
	case study.EventRegister:
		t = "protocol version " + e.Subject + " (" + d.Name + stored(e) + ")"
	case study.EventPull, study.EventPullPart:
		opened, back := 0, 0
		for _, l := range d.Lines {
			opened, back = opened+l.Units, back+l.Returned
		}
		t = e.Subject + " on " + d.Day + ": " + Amount(opened, back)
		if e.Kind == study.EventPullPart {
			t += ", in part"
		}
		if d.Outside != 0 {
			t += ", " + Outside(d.Outside)
		}
		if d.Note != "" {
			t += "; " + d.Note
		}
	case study.EventPullWithdrawn:
		t = "records of " + e.Subject + " taken back"
		lead := ", those of event "
		if len(d.Records) > 1 {
			lead = ", those of events "
		}
		for _, n := range d.Records { // none where the event is from before it had them
			t += lead + fmt.Sprint(n)
			lead = ", "
		}
	case study.EventIntake:
		t = e.Subject + stored(e) + ": " + Count(d.Results, "value")
		if d.Again > 0 {
			t += fmt.Sprintf(", %d there already", d.Again)
		}
	case study.EventAmend:
		t = e.Subject + ": " + d.After + ", was " + d.Before
	case study.EventAmendRows:
		var before []string
		for _, r := range d.Touched {
			if !slices.Contains(before, r.Before) {
				before = append(before, r.Before)
			}
		}
		t = e.Subject + ": " + amendedTo(d.Part, d.After, before...)
		if n := len(d.Touched); n > 1 {
			t += ", of " + Count(n, "result")
		}
	case study.EventExclude:
		t = e.Subject + ": " + d.Before + " excluded"
	case study.EventRestore:
		t = e.Subject + ": " + d.Before + " put back"
	default:
		t = e.Subject
	}
	if e.Reason != "" {
		t += ". Reason: " + e.Reason
	}
	return t
}

// stored gives the start of the hash of an event's file, by which it is asked for.
func stored(e *study.Event) string {
	if len(e.File) < 12 {
		return ""
	}
	return ", " + e.File[:12]
}

// StoredFile says whose file was written where.
func StoredFile(path, name, sum string, size int, e *study.Event) string {
	return fmt.Sprintf("wrote %s: %d bytes, SHA-256 %s, as event %d stored them (%s, %s, by %s)", path, size, sum, e.Seq, name, When(e.At), e.By)
}

// Verified says what a check of a whole ledger found.
func Verified(v *study.LedgerCheck) string {
	if len(v.Faults) == 0 {
		t := fmt.Sprintf("The ledger %s is as it was written: %s and %s, each hash recomputed, every study read again.",
			v.Ledger, Count(int(v.Events), "event"), Count(int(v.Files), "stored file"))
		if v.Witness > 0 {
			t += fmt.Sprintf(" The hash asked for is that of event %d.", v.Witness)
		}
		if v.Behind > 0 {
			t += fmt.Sprintf(" %s stamped by a clock behind that of an event before, the first event %d: the order holds, the time may not.",
				plainly(int(v.Behind), "event is", "events are"), v.FirstBehind)
		}
		return t
	}
	return fmt.Sprintf("The ledger %s is not as it was written: %s.", v.Ledger, Count(len(v.Faults), "fault"))
}

func plainly(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// Standing says in a few sentences how a study stands.
func Standing(on study.Date, x *schedule.Standing) []string {
	count := map[schedule.PullState]int{}
	missing, short := 0, 0
	for i := range x.Points {
		count[x.Points[i].State]++
		missing += x.Points[i].Missing()
	}
	for i := range x.Arms {
		short += x.Arms[i].Short()
	}
	made := count[schedule.Made] + count[schedule.PartMeasured] + count[schedule.Measured]
	first := fmt.Sprintf("As of %s, %d of %s made, %d of them measured in full", on, made, Count(len(x.Points), "pull"), count[schedule.Measured])
	if n := count[schedule.Late]; n > 0 {
		first += fmt.Sprintf("; %d late", n)
	}
	if n := count[schedule.DueNow] + count[schedule.PartPulled]; n > 0 {
		first += fmt.Sprintf("; %d with an open window", n)
	}
	if n := count[schedule.NotTaken]; n > 0 {
		first += fmt.Sprintf("; %d ended with nothing taken", n)
	}
	out := []string{first + "."}
	if n := count[schedule.Unrecorded]; n > 0 {
		they := "they were"
		if n == 1 {
			they = "it was"
		}
		out = append(out, fmt.Sprintf("For %s there are results, but no record that %s made: shelfspan pull PULL --date DAY records it.", Count(n, "pull"), they))
	}
	if missing > 0 {
		out = append(out, fmt.Sprintf("Of pulls that were made, %s not taken in yet.", plainly(missing, "planned value is", "planned values are")))
	}
	if short > 0 {
		out = append(out, fmt.Sprintf("Storage holds %s too few for the pulls still planned.", Count(short, "unit")))
	}
	if m := x.Dataset.Ledger; m != nil {
		out = append(out, fmt.Sprintf("Protocol version %d; ledger event %d of %s.", m.Version, m.Event, When(m.At)))
	}
	return out
}
