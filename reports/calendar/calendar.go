// Package calendar writes the pulls of a schedule as an iCalendar file
// (RFC 5545), one all-day event a pull.
//
// A second import must update the events and not double them. Each event's UID
// is made of the pull's id and the study's, which stay as they are when the
// plan changes. Whether an event is newer than the one a calendar holds, it
// tells by SEQUENCE and, where that is equal, by DTSTAMP (RFC 5546 2.1.5).
// There is no clock to take them from, so they are counted on from the file
// that is being replaced: an event that changed gets the next SEQUENCE and a
// DTSTAMP one second later; one that did not change stays as it was; and one
// whose pull is no longer planned stays in the file as cancelled. Without a
// former file all start at SEQUENCE 0 and midnight UTC of the study's start. So
// the same study written over its own file gives the same bytes again.
package calendar

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	ics "github.com/arran4/golang-ical"

	"shelfspan/study"
	"shelfspan/study/schedule"
)

// productID is PRODID: what wrote the file.
const productID = "-//shelfspan//pull schedule//EN"

// lastYear is the last year that iCalendar's four-digit dates can hold.
const lastYear = 9999

// ErrForeign says that the file to be replaced was not written here for the
// same study.
var ErrForeign = errors.New("is not a calendar that shelfspan wrote for this study")

// Render writes the calendar of a schedule. Former is the file it replaces,
// from which revisions are counted on; nil where there is none. A former file
// of something else is ErrForeign.
func Render(p *schedule.Schedule, former []byte) ([]byte, error) {
	old, err := readFormer(p.Study, former)
	if err != nil {
		return nil, err
	}
	for i := range p.Pulls {
		if y := p.Pulls[i].Date.Time().Year(); y > lastYear {
			return nil, fmt.Errorf("pull %s falls in the year %d, and calendar files end with the year %d", p.Pulls[i].ID, y, lastYear)
		}
	}
	cal := ics.NewCalendar()
	cal.SetProductId(productID)
	cal.SetCalscale("GREGORIAN")
	cal.SetXWRCalName("Stability pulls " + p.Study.ID)
	first := p.Study.Start.Time()
	planned := make(map[string]bool, len(p.Pulls))
	for i := range p.Pulls {
		e := event(p, &p.Pulls[i])
		planned[e.Id()] = true
		sequence, stamp := 0, first
		if before := old[e.Id()]; before != nil {
			sequence, stamp = revision(before, first)
			if content(before) != content(e) {
				sequence, stamp = sequence+1, stamp.Add(time.Second)
			}
		}
		e.SetSequence(sequence)
		e.SetDtStampTime(stamp)
		cal.AddVEvent(e)
	}
	for _, uid := range slices.Sorted(maps.Keys(old)) {
		if planned[uid] {
			continue
		}
		e := old[uid]
		if status := e.GetProperty(ics.ComponentPropertyStatus); status == nil || status.Value != string(ics.ObjectStatusCancelled) {
			sequence, stamp := revision(e, first)
			e.SetStatus(ics.ObjectStatusCancelled)
			e.SetSequence(sequence + 1)
			e.SetDtStampTime(stamp.Add(time.Second))
		}
		cal.AddVEvent(e)
	}
	var out bytes.Buffer
	if err := cal.SerializeTo(&out, ics.WithNewLine("\r\n")); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// event writes one pull, without its revision.
func event(p *schedule.Schedule, pull *schedule.Pull) *ics.VEvent {
	e := ics.NewEvent(pull.ID + uidSuffix(p.Study))
	e.SetAllDayStartAt(pull.Date.Time())
	e.SetAllDayEndAt((pull.Date + 1).Time()) // the end is exclusive
	e.SetSummary(plain(summary(p, pull)))
	e.SetDescription(description(p, pull))
	if pull.Condition >= 0 {
		if chamber := p.Study.Conditions[pull.Condition].Chamber; chamber >= 0 {
			e.SetLocation(plain("Chamber " + p.Study.Chambers[chamber].ID))
		}
	}
	e.SetStatus(ics.ObjectStatusConfirmed)
	e.SetTimeTransparency(ics.TransparencyTransparent)
	return e
}

func uidSuffix(s *study.Study) string { return "@" + s.ID + ".shelfspan" }

func summary(p *schedule.Schedule, pull *schedule.Pull) string {
	what := "Initial tests"
	if pull.Condition >= 0 {
		what = "Pull " + p.ConditionName(pull.Condition) + " " + pull.Time.String()
	}
	return p.Study.ID + ": " + what + ", " + amount(pull.Units(), pull.Returned())
}

// amount says how many units are opened, and measured and put back.
func amount(opened, returned int) string {
	t := strconv.Itoa(opened) + " to open"
	if returned > 0 {
		t += ", " + strconv.Itoa(returned) + " to measure and put back"
	}
	return t
}

// description lists the units by batch, pack and orientation.
func description(p *schedule.Schedule, pull *schedule.Pull) string {
	var lines []string
	add := func(s string) { lines = append(lines, plain(s)) }
	add("Pull " + pull.ID)
	due := fmt.Sprintf("Due %s, window %s to %s", pull.Due, pull.Earliest, pull.Latest)
	if n := pull.Shifted(); n != 0 {
		due += fmt.Sprintf("; moved to %s, a day with work", pull.Date)
	}
	add(due)
	for _, l := range pull.Lines {
		add(p.ArmName(l.Batch, l.Pack, l.Orientation) + ": " + amount(l.Units, l.Returned))
	}
	tests := make(map[int]bool)
	for _, l := range pull.Lines {
		for _, a := range l.Attributes {
			tests[a] = true
		}
	}
	var names []string
	for _, a := range slices.Sorted(maps.Keys(tests)) {
		names = append(names, p.Study.Attributes[a].ID)
	}
	if len(names) > 0 {
		add("Tests: " + strings.Join(names, ", "))
	}
	return strings.Join(lines, "\n")
}

// plain replaces control characters, which the format does not allow in text.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, s)
}

// readFormer reads the events of the file to be replaced, by UID.
func readFormer(s *study.Study, former []byte) (map[string]*ics.VEvent, error) {
	events := make(map[string]*ics.VEvent)
	if former == nil {
		return events, nil
	}
	if !utf8.Valid(former) {
		return nil, ErrForeign
	}
	cal, err := ics.ParseCalendar(bytes.NewReader(former))
	if err != nil {
		return nil, ErrForeign
	}
	ours := slices.ContainsFunc(cal.CalendarProperties, func(x ics.CalendarProperty) bool {
		return x.IANAToken == string(ics.PropertyProductId) && x.Value == productID
	})
	if !ours || len(cal.Events()) != len(cal.Components) {
		return nil, ErrForeign
	}
	for _, e := range cal.Events() {
		if !strings.HasSuffix(e.Id(), uidSuffix(s)) {
			return nil, ErrForeign
		}
		events[e.Id()] = e
	}
	return events, nil
}

// revision gives the SEQUENCE and DTSTAMP of an event, those of a first issue
// where it lacks them.
func revision(e *ics.VEvent, first time.Time) (sequence int, stamp time.Time) {
	if x := e.GetProperty(ics.ComponentPropertySequence); x != nil {
		if n, err := strconv.Atoi(x.Value); err == nil && n >= 0 {
			sequence = n
		}
	}
	if t, err := e.GetDtStampTime(); err == nil {
		return sequence, t
	}
	return sequence, first
}

// content gives all of an event but its revision, for comparison.
func content(e *ics.VEvent) string {
	var lines []string
	for _, x := range e.Properties {
		switch ics.ComponentProperty(x.IANAToken) {
		case ics.ComponentPropertySequence, ics.ComponentPropertyDtstamp:
			continue
		}
		lines = append(lines, fmt.Sprintf("%s %v %q", x.IANAToken, x.ICalParameters, x.Value))
	}
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}
