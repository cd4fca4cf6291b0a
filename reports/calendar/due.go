package calendar

import (
	"bytes"
	"fmt"
	"time"

	ics "github.com/arran4/golang-ical"

	"shelfspan/study/schedule"
)

// Due writes a calendar of the pulls that are due, of any studies. Its events
// have the UIDs of those of Render, so that a calendar which holds them updates
// them; now is their DTSTAMP, which makes the later of two files the newer one.
func Due(list []schedule.Due, now time.Time) ([]byte, error) {
	cal := ics.NewCalendar()
	cal.SetProductId(productID)
	cal.SetCalscale("GREGORIAN")
	cal.SetXWRCalName("Stability pulls due")
	for i := range list {
		d := &list[i]
		if y := d.Date.Time().Year(); y > lastYear {
			return nil, fmt.Errorf("pull %s falls in the year %d, and calendar files end with the year %d", d.Pull, y, lastYear)
		}
		what := "Initial tests"
		if d.Condition != "" {
			what = "Pull " + d.Condition + " " + d.Time
		}
		e := ics.NewEvent(d.Pull + "@" + d.Study + ".shelfspan")
		e.SetAllDayStartAt(d.Date.Time())
		e.SetAllDayEndAt((d.Date + 1).Time())
		e.SetSummary(plain(d.Study + ": " + what + ", " + amount(d.Units, d.Returned)))
		e.SetDescription(plain(fmt.Sprintf("Pull %s, window %s to %s", d.Pull, d.Earliest, d.Latest)))
		if d.Chamber != "" {
			e.SetLocation(plain("Chamber " + d.Chamber))
		}
		e.SetStatus(ics.ObjectStatusConfirmed)
		e.SetTimeTransparency(ics.TransparencyTransparent)
		e.SetSequence(0)
		e.SetDtStampTime(now.UTC())
		cal.AddVEvent(e)
	}
	var out bytes.Buffer
	err := cal.SerializeTo(&out, ics.WithNewLine("\r\n"))
	return out.Bytes(), err
}
