package ledger

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"shelfspan/study"
)

// A state by date is the last event recorded on or before the day, by the clock
// and zone of whoever recorded it, also where clocks went back: the events before
// it are in it, whatever their clocks said.
func TestStateByDateWhereClocksGoBack(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		ctx := context.Background()
		l := create(t, where)
		zone := func(hours int) *time.Location { return time.FixedZone("", hours*3600) }
		for i, at := range []time.Time{
			time.Date(2024, 1, 10, 9, 0, 0, 0, zone(1)),
			time.Date(2024, 3, 1, 9, 0, 0, 0, zone(1)),       // a clock that is ahead
			time.Date(2024, 1, 20, 9, 0, 0, 0, zone(1)),      // and is set right
			time.Date(2024, 2, 29, 23, 30, 0, 0, zone(-5)),   // the first of March in Greenwich
			time.Date(2024, 3, 31, 2, 30, 0, 0, zone(1)),     // an hour that no clock of Europe showed
			time.Date(2024, 10, 27, 2, 30, 0, 0, zone(2)),    // and one that all showed twice
			time.Date(2024, 10, 27, 2, 15, 0, 0, zone(1)),    // later than it
			time.Date(9999, 12, 31, 23, 59, 59, 0, zone(14)), // as far as days go
		} {
			text := strings.Replace(smallStudy, `"SB"`, fmt.Sprintf(`"S%d"`, i+1), 1)
			out, err := l.Register(ctx, ada(at), "study.toml", []byte(text), "")
			if err != nil {
				t.Fatal(err)
			}
			if back := i == 2; out.Behind != back {
				t.Errorf("event %d: behind is %t", i+1, out.Behind)
			}
		}
		for day, last := range map[string]int{
			"2024-01-10": 1, "2024-01-19": 1, "2024-01-20": 1, "2024-02-28": 1, "2024-02-29": 1, "2024-03-01": 4, "2024-03-30": 4, "2024-03-31": 5,
			"2024-10-26": 5, "2024-10-27": 7, "2024-10-28": 7, "9999-12-31": 8,
		} {
			at, err := ParseAsOf(day)
			if err != nil {
				t.Fatal(err)
			}
			if ids, err := l.Studies(ctx, at); err != nil || len(ids) != last {
				t.Errorf("%s: %v, %v, want %d studies", day, ids, err, last)
			}
		}
		var refusal *Refusal
		if _, err := l.Studies(ctx, AsOf{Day: study.NewDate(2024, 1, 9), HasDay: true}); !errors.As(err, &refusal) {
			t.Errorf("before the first event: %v", err)
		}
	})
}

// A clock that is nowhere near writes nothing: a year of five digits would not be
// read again, and closed the ledger for good.
func TestClocksThatAreRefused(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		l := create(t, where)
		for _, at := range []time.Time{
			time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(1969, 12, 31, 23, 0, 0, 0, time.UTC), time.Date(-5, 1, 1, 0, 0, 0, 0, time.UTC),
			time.Date(2025, 1, 1, 0, 0, 0, 0, time.FixedZone("", 30*3600)),
		} {
			var refusal *Refusal
			if _, err := l.Register(context.Background(), ada(at), "study.toml", []byte(smallStudy), ""); !errors.As(err, &refusal) || !strings.Contains(refusal.Text, "clock says") {
				t.Errorf("%v: %v", at, err)
			}
		}
		registered(t, l, smallStudy)
	})
}
