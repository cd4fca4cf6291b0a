package ledger

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"

	"shelfspan/study"
)

// unlocked is PostgreSQL without the lock that keeps writers from one another's way.
type unlocked struct{ *postgres }

func (unlocked) lock(context.Context, *sql.Tx) error { return nil }

// Writers that the lock does not keep apart are kept apart by the number of an
// event: who comes second tries again behind the first, and is never told.
func TestWritersWithoutTheLock(t *testing.T) {
	where := postgresPlace(t)
	d := at(t, where)
	d.register(smallStudy, "")
	const writers, each = 4, 5
	table := results("B1 3M 1 99.1") // the same of all: one stores it, the others find it known
	var all sync.WaitGroup
	for w := range writers {
		l := openAgain(t, where)
		l.kind = unlocked{l.kind.(*postgres)}
		all.Add(1)
		go func() {
			defer all.Done()
			if _, err := l.TakeIn(context.Background(), ada(noon), "SB", File{"same.csv", table}); err != nil {
				t.Errorf("%d: %v", w, err)
			}
			for range each {
				q := PullRequest{Pull: "SB-T0", Arms: []string{"B1"}, Units: number(1), Day: day("2025-01-13"), Reason: "a trial", Note: fmt.Sprint(w)}
				if _, err := l.Pull(context.Background(), ada(noon), q); err != nil {
					t.Errorf("%d: %v", w, err)
				}
			}
		}()
	}
	all.Wait()
	if v := d.stands(); v.Events != 1+1+writers*each || v.Files != 3 {
		t.Errorf("%+v", v)
	}
	made := make(map[string]int)
	for _, p := range d.record("SB", AsOf{}).Pulls {
		made[p.Note]++
	}
	for w := range writers {
		if made[fmt.Sprint(w)] != each {
			t.Errorf("%d has %d records, want %d", w, made[fmt.Sprint(w)], each)
		}
	}
}

// What may be gone when it is tried again is tried again, and nothing else.
func TestTriedAgain(t *testing.T) {
	e := &postgres{}
	for name, c := range map[string]struct {
		err   error
		again bool
	}{
		"another had the number":  {&pgconn.PgError{Code: "23505", TableName: "event"}, true},
		"another stored the file": {&pgconn.PgError{Code: "23505", TableName: "stored_file"}, true},
		"another made the layout": {&pgconn.PgError{Code: "23505", TableName: "ledger_layout"}, false},
		"states do not agree":     {&pgconn.PgError{Code: "40001"}, true},
		"a deadlock":              {&pgconn.PgError{Code: "40P01"}, true},
		"too many at once":        {&pgconn.PgError{Code: "53300"}, true},
		"a full disk":             {&pgconn.PgError{Code: "53100"}, false},
		"a refusal":               {refuse("", "no"), false},
		"anything else":           {errors.New("broken"), false},
	} {
		tries := 0
		err := patiently(context.Background(), e, func() error {
			if tries++; tries < 3 {
				return fmt.Errorf("within: %w", c.err)
			}
			return nil
		})
		if c.again && (err != nil || tries != 3) || !c.again && (!errors.Is(err, c.err) || tries != 1) {
			t.Errorf("%s: %d tries, %v", name, tries, err)
		}
	}
	stopped, stop := context.WithCancel(context.Background())
	stop()
	if err := patiently(stopped, e, func() error { return &pgconn.PgError{Code: "40001"} }); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
}

// An event of a kind that this program does not know may be a correction: the study
// is not read without it, and the check of the ledger tells it.
func TestEventOfAnUnknownKind(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		d := at(t, where)
		d.register(smallStudy, "")
		d.takeIn("SB", File{"a.csv", results("B1 3M 1 99.1")})
		d.register(strings.Replace(smallStudy, `"SB"`, `"SC"`, 1), "")
		bulk(t, d.l, []Event{{At: "2025-04-14T12:00:00+02:00", By: "A. Technician", Kind: "recalibrated", Study: "SB", Subject: "R2-2-assay-E", Detail: "{}"}})
		for what, step := range map[string]func() error{
			"read": func() error { _, err := d.l.Study(context.Background(), "SB", AsOf{}); return err },
			"pull": func() error {
				_, err := d.l.Pull(context.Background(), d.who, PullRequest{Pull: "SB-25C60-3M", Day: study.NoDate})
				return err
			},
			"amend": func() error {
				_, err := d.l.Amend(context.Background(), d.who, AmendRequest{ID: "R2-2-assay-E", Value: "98.9", Reason: "misread"})
				return err
			},
		} {
			var trouble *Trouble
			if err := step(); !errors.As(err, &trouble) || !strings.Contains(trouble.Text, "event 4 of the ledger is not understood") {
				t.Errorf("%s: %v", what, err)
			}
		}
		v, err := d.l.Verify(context.Background(), "", nil)
		if err != nil || len(v.Faults) != 1 || !strings.Contains(v.Faults[0].Text, "study SB: event 4 of the ledger is not understood") {
			t.Errorf("%+v, %v", v, err)
		}
		// Before it, and of another study, all is read.
		d.same("before", values(d.dataset("SB", AsOf{Event: 3})), "B1 3M 1 99.1")
		d.pull(PullRequest{Pull: "SC-25C60-3M", Day: study.NoDate})
	})
}
