package calendar_test

import (
	"errors"
	"testing"

	"shelfspan/reports/calendar"
	"shelfspan/study/schedule"
)

// FuzzFormer: whatever lies where the calendar goes, it is either refused as
// foreign or replaced by a file that is then read back as our own.
func FuzzFormer(f *testing.F) {
	p := schedule.Plan(balm())
	first, err := calendar.Render(p, nil)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(first)
	f.Add([]byte("BEGIN:VCALENDAR\r\nPRODID:-//shelfspan//pull schedule//EN\r\nBEGIN:VEVENT\r\nUID:x@MB-26.shelfspan\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"))
	f.Add([]byte("BEGIN:VCALENDAR\nBEGIN:VEVENT\n"))
	f.Fuzz(func(t *testing.T, former []byte) {
		data, err := calendar.Render(p, former)
		switch {
		case errors.Is(err, calendar.ErrForeign):
		case err != nil:
			t.Error(err)
		default:
			if _, err := calendar.Render(p, data); err != nil {
				t.Errorf("what was written is not read back: %v", err)
			}
		}
	})
}
