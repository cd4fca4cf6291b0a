package ledger

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"shelfspan/study"
	"shelfspan/study/spelling"
)

// Filter chooses events; its zero value chooses all.
type Filter struct {
	Studies []string
	Kinds   []study.EventKind
	By      string
	Subject string // a result, a pull or a file, as an event has it; letters in either case
	// Since and Until are the first and the last event, or day by the recorders'
	// clocks; the zero value is no limit.
	Since, Until AsOf
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

// Events gives the events that a filter chooses, in their order. A study, an author
// or a subject that no event of the ledger has is a *Refusal: a slip of the pen must
// not look like nothing having happened.
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
		if err := r.knows("who", f.By, "no event of the ledger is by %q"); err != nil {
			return err
		}
		if err := r.knows("subject", f.Subject, "no event of the ledger is about %q"); err != nil {
			return err
		}
		where, args := "WHERE substr(at, 1, 10) >= $1 AND substr(at, 1, 10) <= $2 AND seq >= $3 AND seq <= $4", []any{"0000-00-00", "9999-99-99", f.Since.Event, last}
		if f.Since.HasDay {
			args[0] = f.Since.Day.String()
		}
		if f.Until.HasDay {
			args[1] = f.Until.Day.String()
		}
		if f.Until.Event > 0 {
			args[3] = f.Until.Event
		}
		if len(f.Studies) == 1 {
			where, args = where+" AND study = $5", append(args, f.Studies[0])
		}
		all, err := r.events(where+" ORDER BY seq", args...)
		if err != nil {
			return err
		}
		for _, e := range all {
			if (len(f.Studies) == 0 || slices.Contains(f.Studies, e.Study)) && (len(f.Kinds) == 0 || slices.Contains(f.Kinds, e.Kind)) &&
				(f.By == "" || f.By == e.By) && (f.Subject == "" || strings.EqualFold(f.Subject, e.Subject)) {
				out = append(out, e)
			}
		}
		return nil
	})
	return out, err
}

// knows refuses a text that no event has in a column; an empty one asks for nothing.
// A subject may be written in either case, an author as it is.
func (r *reading) knows(column, text, refusal string) error {
	if text == "" {
		return nil
	}
	rows, err := r.tx.QueryContext(r.ctx, `SELECT DISTINCT `+column+` FROM event`)
	if err != nil {
		return err
	}
	defer rows.Close()
	var known []string
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return err
		}
		if name == text || column == "subject" && strings.EqualFold(name, text) {
			return nil
		}
		known = append(known, name)
	}
	if err := rows.Err(); err != nil {
		return err
	}
	slices.Sort(known)
	hint := "shelfspan audit lists the events"
	if near := spelling.Nearest(text, known); near != "" {
		hint = "did you mean " + near + "?"
	} else if column == "who" && len(known) > 0 {
		hint = "there are events by " + list(known, 12)
	}
	return refuse(hint, refusal, text)
}

// StoredFile is a file that a ledger keeps, byte for byte.
type StoredFile struct {
	Event  Event  // the first that speaks of it
	Name   string // as it was handed in
	SHA256 string // in hex; recomputed, and the same it is kept under
	Data   []byte
}

// StoredFile gives the file that an event speaks of, or the one of a SHA-256 in
// hex, of which the first 12 digits do. The error is a *Refusal, or a *Trouble
// where the bytes are not those that were stored.
func (l *Ledger) StoredFile(ctx context.Context, which string) (*StoredFile, error) {
	const hint = "shelfspan audit --kind register --kind intake lists the events that stored one, with its hash"
	var out *StoredFile
	err := l.read(ctx, func(r *reading) error {
		var found []Event
		var err error
		sum := strings.ToLower(which)
		if n, notNumber := strconv.ParseInt(strings.TrimPrefix(which, "#"), 10, 64); notNumber == nil && n > 0 && len(which) < 12 {
			if _, err := r.resolve(AsOf{Event: n}); err != nil {
				return err
			}
			if found, err = r.events(`WHERE seq = $1`, n); err != nil {
				return err
			}
			if len(found) == 1 && found[0].File == "" {
				return refuse(hint, "event %d (%s) stored no file", n, found[0].Kind)
			}
		} else {
			if len(sum) < 12 || len(sum) > 2*sha256.Size || strings.Trim(sum, "0123456789abcdef") != "" {
				return refuse(hint, "%q is neither the number of an event nor the hash of a file, 12 to 64 digits 0-9 and a-f", which)
			}
			if found, err = r.events(`WHERE substr(file, 1, $1) = $2 ORDER BY seq LIMIT 1`, len(sum), sum); err != nil {
				return err
			}
		}
		if len(found) == 0 {
			return refuse(hint, "the ledger has no file with the hash %s", which)
		}
		e := found[0]
		data, err := r.file(e.File)
		if err != nil {
			return err
		}
		if now := fileSum(data); now != e.File {
			return &Trouble{
				Text: fmt.Sprintf("the file stored by event %d is not as it was stored: its SHA-256 was %s and is %s", e.Seq, e.File, now),
				Hint: "shelfspan audit --verify says what else does not fit; go back to a backup",
			}
		}
		out = &StoredFile{Event: e, Name: e.Subject, SHA256: e.File, Data: data}
		if e.Kind == study.EventRegister {
			var d registerDetail
			if json.Unmarshal([]byte(e.Detail), &d) == nil {
				out.Name = d.Name
			}
		}
		return nil
	})
	return out, err
}
