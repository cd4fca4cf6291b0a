package ledger

import (
	"context"
	"fmt"
	"slices"

	"shelfspan/study"
)

// Filter chooses events; its zero value chooses all.
type Filter struct {
	Studies      []string
	Kinds        []study.EventKind
	By           string
	Since, Until study.Date // by the day they were recorded on; NoDate for no limit
}

// DayOf gives the day an event was recorded on, by its recorder's clock.
func (l *Ledger) DayOf(ctx context.Context, event int64) (day study.Date, err error) {
	err = l.read(ctx, func(r *reading) error {
		if _, err := r.resolve(AsOf{Event: event}); err != nil {
			return err
		}
		found, err := r.events(`WHERE seq = $1`, event)
		if err != nil {
			return err
		}
		if len(found) == 1 {
			at := found[0].At
			day, err = study.ParseDate(at[:min(len(at), len("2006-01-02"))])
		}
		if len(found) != 1 || err != nil {
			return &Trouble{Text: fmt.Sprintf("event %d of the ledger is not understood", event), Hint: "shelfspan audit --verify says whether it is damaged", Err: err}
		}
		return nil
	})
	return day, err
}

// Events gives the events that a filter chooses, in their order.
func (l *Ledger) Events(ctx context.Context, f Filter) ([]study.Event, error) {
	var out []study.Event
	err := l.read(ctx, func(r *reading) error {
		last, err := r.resolve(AsOf{})
		if err != nil {
			return err
		}
		known, err := r.studies(last)
		if err != nil {
			return err
		}
		for _, id := range f.Studies {
			if !slices.Contains(known, id) {
				return r.unknownStudy(id, last)
			}
		}
		where, args := "WHERE substr(at, 1, 10) >= $1 AND substr(at, 1, 10) <= $2", []any{"0000-00-00", "9999-99-99"}
		if f.Since != study.NoDate {
			args[0] = f.Since.String()
		}
		if f.Until != study.NoDate {
			args[1] = f.Until.String()
		}
		if len(f.Studies) == 1 {
			where, args = where+" AND study = $3", append(args, f.Studies[0])
		}
		all, err := r.events(where+" ORDER BY seq", args...)
		if err != nil {
			return err
		}
		for _, e := range all {
			if (len(f.Studies) == 0 || slices.Contains(f.Studies, e.Study)) && (len(f.Kinds) == 0 || slices.Contains(f.Kinds, e.Kind)) &&
				(f.By == "" || f.By == e.By) {
				out = append(out, e)
			}
		}
		return nil
	})
	return out, err
}
