package text

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/study/schedule"
	"shelfspan/study/unitid"
)

// Registered writes what became of a study file that was handed in.
func (p *Printer) Registered(x *schedule.Schedule, r *study.Registration) {
	s := x.Study
	if r.Known {
		p.Paragraph(fmt.Sprintf("%s stands at version %d with these very bytes since %s (event %d). Nothing was changed.", s.ID, r.Version, words.When(r.Event.At), r.Event.Seq))
		return
	}
	pulls := slices.DeleteFunc(slices.Clone(x.Pulls), func(q schedule.Pull) bool { return len(q.Lines) == 0 })
	if r.Version == 1 {
		line := fmt.Sprintf("%s is registered in %s (event %d)", s.ID, r.Ledger, r.Event.Seq)
		if len(pulls) > 0 {
			line += fmt.Sprintf(": %s, the first %s on %s", words.Count(len(pulls), "pull"), pulls[0].ID, pulls[0].Date)
		}
		p.Paragraph(line + ".")
		return
	}
	p.Paragraph(fmt.Sprintf("%s is at version %d of its protocol now (event %d). Pulls already made stay as they are.", s.ID, r.Version, r.Event.Seq))
	for _, l := range []struct {
		what string
		ids  []string
	}{{"added", r.Added}, {"moved to another day", r.Moved}, {"dropped", r.Dropped}, {"dropped though something was taken of them; the records stay", r.DroppedTaken}} {
		if len(l.ids) > 0 {
			p.Hanging("- ", words.Count(len(l.ids), "pull")+" "+l.what+": "+strings.Join(l.ids, ", "))
		}
	}
	if len(r.Added)+len(r.Moved)+len(r.Dropped) == 0 {
		p.Paragraph("The pulls and their days are the same.")
	}
}

// NoStudy says that a ledger is empty.
func (p *Printer) NoStudy(name string) {
	p.Paragraph("The ledger " + name + " has no study yet: shelfspan register STUDY.toml takes one in.")
}

// Due writes what is to be pulled: overdue, today and soon, by chamber.
func (p *Printer) Due(on study.Date, within study.Duration, studies, chambers []string, list []schedule.Due) {
	p.Paragraph(words.Due(on, within, studies, chambers, list))
	groups := []struct {
		head  string
		holds func(*schedule.Due) bool
	}{
		{"Overdue", func(d *schedule.Due) bool { return d.Date < on }},
		{"Today", func(d *schedule.Due) bool { return d.Date == on }},
		{"Coming up", func(d *schedule.Due) bool { return d.Date > on }},
	}
	for _, g := range groups {
		var own []schedule.Due
		for i := range list {
			if g.holds(&list[i]) {
				own = append(own, list[i])
			}
		}
		if len(own) == 0 {
			continue
		}
		// By chamber first: that is the way somebody walks.
		slices.SortStableFunc(own, func(a, b schedule.Due) int { return strings.Compare(a.Chamber, b.Chamber) })
		p.Heading(g.head)
		var rows [][]string
		part := false
		for _, d := range own {
			id := d.Pull
			if d.Part {
				id, part = id+" *", true
			}
			rows = append(rows, []string{d.Chamber, day(d.Date), id, words.Window(on, d.Earliest, d.Latest), strconv.Itoa(d.Units), number(d.Returned)})
		}
		p.tableOrList([]Column{{"chamber", Left}, {"planned", Left}, {"pull", Left}, {"window", Left}, {"open", Right}, {"put back", Right}}, rows)
		if part {
			p.Paragraph("* some of it is taken; the units are those still to be taken.")
		}
	}
	if len(list) > 0 {
		p.Paragraph("Open: units used up. Put back: units measured and returned to storage.")
		p.Paragraph("Next: shelfspan worksheet PULL for what to take along and fill in, shelfspan pull PULL once it is taken.")
	}
}

// Pulled writes what was recorded of a pull, and what is still to be taken; options
// are those that the next command needs too.
func (p *Printer) Pulled(s *study.Study, r *study.PullRecord, units, returned int, options string) {
	if r.Withdrawn {
		p.Paragraph(fmt.Sprintf("The records of %s are taken back (event %d); they stay readable, and the pull is due again.", r.Pull, r.Event))
		return
	}
	opened, back := 0, 0
	for _, l := range r.Lines {
		opened += l.Units
		back += l.Returned
	}
	p.Paragraph(fmt.Sprintf("%s is recorded for %s by %s (event %d): %s.", r.Pull, r.Day, r.By, r.Event, words.Amount(opened, back)))
	if t := words.PullReason(r); t != "" {
		p.Paragraph(t)
	}
	switch {
	case !r.Complete:
		p.Paragraph("Still to be taken: " + words.ToTake(units, returned) + ".")
	case units > 0 || returned > 0:
		p.Paragraph("Nothing more will be taken of it, though " + words.ToTake(units, returned) + " were planned.")
	default:
		p.Paragraph(fmt.Sprintf("All of it is taken. Next: shelfspan worksheet %s%s", r.Pull, options))
	}
}

// TakenIn writes what became of tables that were handed in.
func (p *Printer) TakenIn(s *study.Study, tables []study.TakenTable) {
	for _, t := range tables {
		if t.Known {
			p.Paragraph(fmt.Sprintf("%s: these very bytes were taken in on %s by %s (event %d). Nothing was changed.", t.File, words.When(t.At), t.By, t.Event))
			continue
		}
		line := fmt.Sprintf("%s: %s taken in for %s (event %d)", t.File, words.Count(t.Results, "value"), s.ID, t.Event)
		if t.Again > 0 {
			line += fmt.Sprintf("; %s there already, the same", words.Count(t.Again, "value"))
		}
		if t.Superseded > 0 {
			line += fmt.Sprintf(", of which %d as before an amendment; what was amended stands", t.Superseded)
		}
		p.Paragraph(line + ".")
	}
}

// Amended writes what one event changed of results.
func (p *Printer) Amended(d *study.Dataset, changes []study.Change) {
	c := &changes[0]
	if told := words.Together(d, changes); len(told) == 1 {
		p.Paragraph(told[0])
	} else {
		p.Paragraph(words.Count(len(changes), "result") + " changed:")
		for _, t := range told {
			p.Hanging("- ", t)
		}
	}
	p.Paragraph(fmt.Sprintf("Reason: %s (event %d, by %s). What stood before stays readable, and every report lists the change.", c.Reason, c.Event, c.By))
}

// Audit lists events.
func (p *Printer) Audit(events []study.Event) {
	if len(events) == 0 {
		p.Paragraph("No event fits.")
		return
	}
	var rows [][]string
	for i := range events {
		e := &events[i]
		rows = append(rows, []string{strconv.FormatInt(e.Seq, 10), words.When(e.At), e.By, string(e.Kind), e.Study, words.Event(e)})
	}
	p.Table([]Column{{"event", Right}, {"when", Left}, {"by", Left}, {"kind", Left}, {"study", Left}, {"what", Left}}, rows)
	p.Paragraph("Times are those of the recorders' clocks; --format csv has them with their offsets, each hash whole, and the account each event was recorded from. Digits behind a file begin its SHA-256: audit --file gives it back.")
}

// Verified writes what a check of a whole ledger found.
func (p *Printer) Verified(v *study.LedgerCheck) {
	p.Paragraph(words.Verified(v))
	for _, f := range v.Faults {
		p.Hanging("- ", f.Text)
	}
	if v.Head.Seq > 0 {
		p.Paragraph(fmt.Sprintf("The last event is %d, of %s, by %s. Its hash, to be noted where the ledger's keepers cannot reach:", v.Head.Seq, words.When(v.Head.At), v.Head.By))
		p.write(v.Head.Hash + "\n")
	}
}

// Status writes how studies stand: one in full, several in a line each.
func (p *Printer) Status(on study.Date, studies []*schedule.Standing) {
	if len(studies) == 1 {
		p.standing(on, studies[0])
		return
	}
	var rows [][]string
	seen := map[string]bool{} // heads of columns that have an entry
	for _, x := range studies {
		s := x.Progress.Schedule.Study
		made, late, unrecorded, missing, deviations := 0, 0, 0, 0, 0
		changed := make(map[string]bool)
		for i := range x.Dataset.Changes {
			changed[x.Dataset.Changes[i].ID] = true
		}
		next := ""
		for i := range x.Points {
			t := &x.Points[i]
			switch t.State {
			case schedule.Made, schedule.PartMeasured, schedule.Measured:
				made++
			case schedule.Late:
				late++
			case schedule.Unrecorded:
				unrecorded++
			}
			missing += t.Missing()
			if next == "" && (t.State == schedule.Planned || t.State == schedule.DueNow || t.State == schedule.PartPulled) {
				next = day(x.Progress.Schedule.Pulls[t.Pull].Date)
			}
		}
		for i := range x.Progress.Records {
			if r := &x.Progress.Records[i]; !r.Withdrawn && words.Departure(r) != "" {
				deviations++
			}
		}
		seen["late"] = seen["late"] || late > 0
		seen["not recorded"] = seen["not recorded"] || unrecorded > 0
		seen["missing"] = seen["missing"] || missing > 0
		seen["changed"] = seen["changed"] || len(changed) > 0
		rows = append(rows, []string{s.ID, fmt.Sprintf("%d of %d", made, len(x.Points)), number(late), number(unrecorded), next, strconv.Itoa(len(x.Dataset.Results)), number(missing), number(deviations), number(len(changed))})
	}
	p.Table([]Column{{"study", Left}, {"pulled", Right}, {"late", Right}, {"not recorded", Right}, {"next", Left}, {"values", Right}, {"missing", Right}, {"deviations", Right}, {"changed", Right}}, rows)
	key := fmt.Sprintf("As of %s. ", on)
	for _, c := range []struct{ head, text string }{
		{"late", "Late: pulls whose window closed before all was taken. "},
		{"not recorded", "Not recorded: pulls with results, and no record that they were made. "},
		{"missing", "Missing: values planned at pulls that were made. "},
		{"changed", "Changed: results amended, excluded or put back. "},
	} {
		if seen[c.head] {
			key += c.text
		}
	}
	p.Paragraph(key + "shelfspan status --study ID shows one in full.")
}

func (p *Printer) standing(on study.Date, x *schedule.Standing) {
	plan := x.Progress.Schedule
	p.title(plan.Study)
	for _, line := range words.Standing(on, x) {
		p.Paragraph(line)
	}
	p.Heading("By time point")
	var rows [][]string
	for i := range x.Points {
		t := &x.Points[i]
		q := &plan.Pulls[t.Pull]
		state := string(t.State)
		if t.Late > 0 {
			state += ", " + words.Count(t.Late, "day")
		}
		pulled := ""
		if t.First != study.NoDate {
			pulled = t.First.String()
			if t.Last != t.First {
				pulled += " to " + t.Last.String()
			}
			if t.Outside != 0 {
				pulled += " *"
			}
		}
		rows = append(rows, []string{q.ID, q.Date.String(), pulled, fmt.Sprintf("%d of %d", t.Taken, q.Units()), fmt.Sprintf("%d of %d", t.Measured, t.Expected), state})
	}
	p.tableOrList([]Column{{"pull", Left}, {"planned", Left}, {"pulled", Left}, {"units", Right}, {"values", Right}, {"state", Left}}, rows)
	p.Paragraph("Units: opened, of those planned. Values: measured, of those planned. * outside the window.")
	p.armsLeft(x)
	p.deviations(x)
	p.changes(x.Dataset)
}

// armsLeft writes what the arms still hold, the ones that fall short first; arms
// of a condition that stand alike share a line.
func (p *Printer) armsLeft(x *schedule.Standing) {
	if len(x.Arms) == 0 {
		return
	}
	plan := x.Progress.Schedule
	p.Heading("Units in storage")
	type alike struct{ condition, placed, taken, needed, short int }
	of := make(map[alike][]string)
	var order []alike
	total := make(map[int]int) // arms by condition
	for i := range x.Arms {
		a := &x.Arms[i]
		k := alike{a.Arm.Condition, a.Placed, a.Taken, a.Needed + a.Back, a.Short()}
		if of[k] == nil {
			order = append(order, k)
		}
		of[k] = append(of[k], plan.ArmName(a.Arm.Batch, a.Arm.Pack, a.Arm.Orientation))
		total[a.Arm.Condition]++
	}
	others := func(k alike) int { // of a condition they come last
		if n := len(of[k]); n > 1 && n < total[k.condition] && n > total[k.condition]/2 && k.short == 0 {
			return 1
		}
		return 0
	}
	slices.SortStableFunc(order, func(a, b alike) int {
		return cmp.Or(b.short-a.short, a.condition-b.condition, others(a)-others(b))
	})
	var rows [][]string
	for _, k := range order {
		name := strings.Join(of[k], ", ")
		switch n := len(of[k]); {
		case n > 1 && n == total[k.condition]:
			name = fmt.Sprintf("each of %d arms", n)
		case others(k) > 0:
			name = fmt.Sprintf("each of %d others", n)
		}
		short := ""
		if k.short > 0 {
			short = fmt.Sprintf("%d short", k.short)
		}
		rows = append(rows, []string{plan.ConditionName(k.condition), name, strconv.Itoa(k.placed), strconv.Itoa(k.taken), strconv.Itoa(k.placed - k.taken), strconv.Itoa(k.needed), short})
	}
	p.Table([]Column{{"condition", Left}, {"arm", Left}, {"placed", Right}, {"opened", Right}, {"left", Right}, {"needed", Right}, {"", Left}}, rows)
	p.Paragraph("Placed: with the reserve. Needed: for the pulls still to be made, and those measured and put back.")
}

func (p *Printer) deviations(x *schedule.Standing) {
	head := false
	for i := range x.Progress.Records {
		r := &x.Progress.Records[i]
		if r.Reason == "" && r.Note == "" && !r.Withdrawn {
			continue
		}
		if !head {
			p.Heading("Deviations and notes")
			head = true
		}
		p.Hanging("- ", words.PullRecord(r))
	}
}

// Ledger writes what a ledger says of the results of an answer: the state it was
// read at, and the results that were changed; nothing where they come from files.
func (p *Printer) Ledger(d *study.Dataset) {
	p.changes(d)
	if d.Ledger != nil {
		p.Paragraph("")
		p.Paragraph(words.Mark(d.Ledger))
	}
}

// changes writes what was changed of results after they were taken in.
func (p *Printer) changes(d *study.Dataset) {
	if len(d.Changes) == 0 {
		return
	}
	p.Heading("Changed results")
	for rest := d.Changes; len(rest) > 0; {
		c, n := &rest[0], 1
		for n < len(rest) && c.Event > 0 && rest[n].Event == c.Event {
			n++
		}
		for _, t := range words.Together(d, rest[:n]) {
			p.Hanging("- ", fmt.Sprintf("%s Reason: %s (%s)", t, c.Reason, words.Changed(d, c)))
		}
		rest = rest[n:]
	}
}

// Results lists results with their ids.
func (p *Printer) Results(rows []study.ResultRow) {
	if len(rows) == 0 {
		p.Paragraph("No result fits.")
		return
	}
	var cells [][]string
	// A unit's id says where the unit belongs.
	told := !slices.ContainsFunc(rows, func(r study.ResultRow) bool { _, form := unitid.Parse(r.Unit); return form != unitid.Good })
	for _, r := range rows {
		if told {
			r.Condition, r.Time, r.Arm = "", "", ""
		}
		value := r.Value
		if r.State != "" {
			value += " *"
		}
		cells = append(cells, []string{r.ID, r.Condition, r.Time, r.Arm, r.Unit, r.Replicate, r.Attribute, value})
	}
	p.tableOrList([]Column{{"id", Left}, {"condition", Left}, {"time", Left}, {"arm", Left}, {"unit", Left}, {"replicate", Left}, {"attribute", Left}, {"value", Right}}, cells)
	for _, r := range rows {
		if r.State != "" {
			p.Hanging("* ", r.ID+": "+r.State)
		}
	}
}
