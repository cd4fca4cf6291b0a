package ledger

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"shelfspan/study"
)

// answers is what a ledger says to those who ask.
type answers struct {
	Events, Due, Results, Record any
}

// asked asks a ledger of the study SB.
func asked(where string) (a answers, err error) {
	ctx := context.Background()
	l, err := Open(ctx, where)
	if err != nil {
		return a, err
	}
	defer l.Close()
	if a.Events, err = l.Events(ctx, Filter{}); err != nil {
		return a, err
	}
	if a.Due, err = l.Due(ctx, study.NewDate(2027, 1, 1)); err != nil {
		return a, err
	}
	x, err := l.Study(ctx, "SB", AsOf{})
	if err != nil {
		return a, err
	}
	d, err := x.Dataset()
	if err != nil {
		return a, err
	}
	a.Results, a.Record = fmt.Sprintf("%+v", x.Rows(d)), []any{x.Mark.Event, x.Pulls, x.changes}
	return a, nil
}

// verified opens a ledger and verifies it: what is wrong, or nothing.
func verified(where string) ([]study.LedgerFault, error) {
	l, err := Open(context.Background(), where)
	if err != nil {
		return nil, err
	}
	defer l.Close()
	v, err := l.Verify(context.Background(), "", nil)
	if err != nil {
		return nil, err
	}
	return v.Faults, nil
}

// One byte of the file changed, at any place, is found, or no answer shows it:
// it lies where nothing is stored, or in a number that only SQLite's own
// housekeeping reads. Indexes are pages too, and answers come from them.
func TestAnyByteOfTheFile(t *testing.T) {
	t.Parallel()
	where := sqlitePlace(t)
	l := lived(t, where)
	// More events, so that the indexes have pages below pages.
	more := make([]Event, 120)
	for i := range more {
		more[i] = Event{At: "2025-06-02T09:10:11+02:00", By: "A. Technician", Kind: study.EventPullPart, Study: "SB", Subject: "SB-25C60-6M",
			Detail: fmt.Sprintf(`{"day":"2025-07-14","condition":"25C60","time":"6M","note":"n%d"}`, i)}
	}
	bulk(t, l, more)
	l.Close()
	whole, err := os.ReadFile(where)
	if err != nil {
		t.Fatal(err)
	}
	sound, err := asked(where)
	if err != nil {
		t.Fatal(err)
	}
	random := rand.New(rand.NewPCG(3, 400))
	at := filepath.Join(t.TempDir(), "changed.db")
	found, unseen := 0, 0
	step := 1
	if racing {
		step = 20
	}
	for i := 0; i < 500; i += step {
		place := random.IntN(len(whole))
		if i < 100 {
			place = i // the header
		}
		changed := bytes.Clone(whole)
		changed[place] ^= byte(1 + random.IntN(255))
		if err := os.WriteFile(at, changed, 0o644); err != nil {
			t.Fatal(err)
		}
		faults, err := verified(at)
		var trouble *Trouble
		switch {
		case err != nil && !errors.As(err, &trouble):
			t.Errorf("byte %d: %v", place, err)
		case err != nil || len(faults) > 0:
			found++
		default:
			unseen++
			if now, err := asked(at); err != nil || !reflect.DeepEqual(now, sound) {
				t.Errorf("byte %d, %#02x for %#02x, is not found, and answers differ (%v)", place, changed[place], whole[place], err)
			}
		}
		os.Remove(at + "-wal") // of a file whose header was changed to have none
		os.Remove(at + "-shm")
	}
	t.Logf("%d found; of %d no answer shows anything", found, unseen)
}

// Any event deleted or changed in any column, any two swapped, any stored file
// changed: verify names the first that does not fit. Each is mended again before
// the next.
func TestTamperingWithAnyEvent(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		l := lived(t, where)
		events, err := l.Events(context.Background(), Filter{})
		if err != nil {
			t.Fatal(err)
		}
		head := events[len(events)-1].Hash
		db, random := unguarded(t, where), rand.New(rand.NewPCG(8, 1))
		do := func(statement string, args ...any) {
			t.Helper()
			if done, err := db.Exec(statement, args...); err != nil {
				t.Fatalf("%s: %v", statement, err)
			} else if n, err := done.RowsAffected(); err != nil || n != 1 {
				t.Fatalf("%s: %d rows, %v", statement, n, err)
			}
		}
		wrong := func(event int64, format string, args ...any) {
			t.Helper()
			v, err := l.Verify(context.Background(), head, nil)
			if err != nil || len(v.Faults) == 0 || v.Faults[0].Event != event {
				t.Errorf("%s: %+v, %v", fmt.Sprintf(format, args...), v, err)
			}
		}
		otherLetter := func(s string) string {
			b := []byte(s)
			i := random.IntN(len(b))
			for was := b[i]; b[i] == was; {
				b[i] = byte('0' + random.IntN(10))
			}
			return string(b)
		}
		for _, e := range events {
			file := sql.NullString{String: e.File, Valid: e.File != ""}
			do(`DELETE FROM event WHERE seq = $1`, e.Seq)
			gone := e.Seq
			if e.Seq == livedEvents {
				gone = 0 // nothing follows it: only the hash noted before tells
			}
			wrong(gone, "event %d deleted", e.Seq)
			do(`INSERT INTO event (`+eventColumns+`) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
				e.Seq, e.At, e.By, string(e.Kind), e.Study, e.Subject, e.Reason, file, e.Detail, e.Account, e.Hash)
			for column, was := range map[string]string{"at": e.At, "who": e.By, "kind": string(e.Kind), "study": e.Study, "subject": e.Subject, "reason": e.Reason, "detail": e.Detail, "account": e.Account, "hash": e.Hash} {
				changed := "x"
				if was != "" {
					changed = otherLetter(was)
				}
				do(`UPDATE event SET `+column+` = $1 WHERE seq = $2`, changed, e.Seq)
				wrong(e.Seq, "a letter of %s of event %d", column, e.Seq)
				do(`UPDATE event SET `+column+` = $1 WHERE seq = $2`, was, e.Seq)
			}
			for _, f := range events[:e.Seq-1] {
				swap := func() {
					do(`UPDATE event SET seq = 1000 WHERE seq = $1`, e.Seq)
					do(`UPDATE event SET seq = $1 WHERE seq = $2`, e.Seq, f.Seq)
					do(`UPDATE event SET seq = $1 WHERE seq = 1000`, f.Seq)
				}
				swap()
				wrong(f.Seq, "events %d and %d swapped", f.Seq, e.Seq)
				swap()
			}
			if e.File == "" {
				continue
			}
			var content []byte
			if err := db.QueryRow(`SELECT content FROM stored_file WHERE sha256 = $1`, e.File).Scan(&content); err != nil {
				t.Fatal(err)
			}
			do(`UPDATE stored_file SET content = $1 WHERE sha256 = $2`, []byte(otherLetter(string(content))), e.File)
			wrong(e.Seq, "a letter of the file of event %d", e.Seq)
			do(`UPDATE stored_file SET content = $1 WHERE sha256 = $2`, content, e.File)
		}
		v, err := l.Verify(context.Background(), head, nil)
		if err != nil || v.Events != livedEvents || slices.ContainsFunc(v.Faults, func(f study.LedgerFault) bool { return !strings.HasPrefix(f.Text, "the trigger ") }) {
			t.Errorf("mended, all but the triggers: %+v, %v", v, err)
		}
	})
}

// What keeps rows as they are and in sight is part of a ledger: verify tells what
// of it was taken away, changed or put in, and nothing once it is mended.
func TestGuardsTampered(t *testing.T) {
	type tampering struct{ do, undo, says string }
	cases := map[string][]tampering{
		"sqlite": {
			{"DROP TRIGGER event_no_update", sqliteGuard("event_no_update"), "event_no_update is missing"},
			{"DROP TRIGGER stored_file_no_replace", sqliteGuard("stored_file_no_replace"), "stored_file_no_replace is missing"},
			{"DROP TRIGGER event_no_delete; CREATE TRIGGER event_no_delete BEFORE DELETE ON event BEGIN SELECT 1; END", "DROP TRIGGER event_no_delete; " + sqliteGuard("event_no_delete"), "event_no_delete is missing, or was changed"},
			{"DROP INDEX event_by_kind", migrations[0][3], "event_by_kind"},
			{"CREATE TRIGGER quiet BEFORE INSERT ON event BEGIN SELECT RAISE(IGNORE); END", "DROP TRIGGER quiet", "the trigger quiet of the table event is none of a ledger's"},
			{"CREATE TRIGGER loud BEFORE INSERT ON EVENT BEGIN SELECT RAISE(IGNORE); END", "DROP TRIGGER loud", "the trigger loud of the table event is none of a ledger's"},
			{"CREATE INDEX by_day ON event (at)", "DROP INDEX by_day", "the index by_day of the table event is none of a ledger's"},
			{"ALTER TABLE event ADD COLUMN more TEXT", "ALTER TABLE event DROP COLUMN more", "the table event of the table event is none of a ledger's, or was changed"},
		},
		"pgx": {
			{"DROP TRIGGER event_only_added_to ON event", (&postgres{}).guards()[1], "the trigger event_only_added_to of event is missing"},
			{"ALTER TABLE event DISABLE TRIGGER event_only_added_to", "ALTER TABLE event ENABLE TRIGGER event_only_added_to", "the trigger event_only_added_to of event is none of a ledger's, or was changed"},
			{"CREATE OR REPLACE FUNCTION ledger_only_added_to() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NULL; END'", strings.Replace((&postgres{}).guards()[0], "CREATE", "CREATE OR REPLACE", 1), "the trigger stored_file_only_added_to of stored_file is none of a ledger's, or was changed"},
			{"CREATE RULE quiet AS ON INSERT TO event DO INSTEAD NOTHING", "DROP RULE quiet ON event", "the rule quiet of event is none"},
			{"ALTER TABLE event ENABLE ROW LEVEL SECURITY", "ALTER TABLE event DISABLE ROW LEVEL SECURITY", "the row security of event"},
			{"ALTER TABLE event DROP CONSTRAINT event_pkey", "ALTER TABLE event ADD PRIMARY KEY (seq)", "the constraint PRIMARY KEY (seq) of event is missing"},
			{"CREATE FUNCTION quiet() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NULL; END'; CREATE TRIGGER quiet BEFORE INSERT ON event FOR EACH ROW EXECUTE FUNCTION quiet()", "DROP TRIGGER quiet ON event", "the trigger quiet of event is none"},
		},
	}
	onBoth(t, func(t *testing.T, where string) {
		driver := "sqlite"
		if strings.HasPrefix(where, "postgres") {
			driver = "pgx"
		}
		lived(t, where).Close()
		db, err := sql.Open(driver, where)
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		for _, c := range cases[driver] {
			if _, err := db.Exec(c.do); err != nil {
				t.Fatalf("%s: %v", c.do, err)
			}
			if faults, err := verified(where); err != nil || !strings.Contains(fmt.Sprint(faults), c.says) {
				t.Errorf("%s: %v, %v", c.do, faults, err)
			}
			if _, err := db.Exec(c.undo); err != nil {
				t.Fatalf("%s: %v", c.undo, err)
			}
			if faults, err := verified(where); err != nil || len(faults) > 0 {
				t.Errorf("%s: %v, %v", c.undo, faults, err)
			}
		}
	})
}

// What a keeper does to a ledger in good faith is no fault: he makes a copy, lets
// the engine tidy up and count, and puts tables and views of his own beside it.
func TestWhatKeepersDo(t *testing.T) {
	where := sqlitePlace(t)
	lived(t, where).Close()
	copied := where + ".copy"
	for _, statement := range []string{
		"ANALYZE", "REINDEX", "VACUUM", "PRAGMA optimize", "PRAGMA wal_checkpoint(TRUNCATE)",
		"CREATE VIEW shown AS SELECT * FROM event WHERE seq < 5", "CREATE TABLE rooms (id TEXT)", "VACUUM INTO '" + copied + "'",
	} {
		if err := exec(t, where, statement); err != nil {
			t.Fatalf("%s: %v", statement, err)
		}
		if n := eventsOf(t, where); n != livedEvents {
			t.Errorf("%s: %d events", statement, n)
		}
	}
	grow(t, opened(t, copied), 1)
	if n := eventsOf(t, copied); n != livedEvents+1 {
		t.Errorf("the copy has %d events", n)
	}
	where = postgresPlace(t)
	lived(t, where).Close()
	for _, statement := range []string{
		"ANALYZE", "REINDEX TABLE event", "VACUUM FULL", "CREATE VIEW shown AS SELECT * FROM event WHERE seq < 5", "CREATE TABLE rooms (id TEXT)",
		"CREATE SCHEMA other", "CREATE TABLE other.event (id TEXT)", "CLUSTER event USING event_pkey",
		"CREATE STATISTICS counted ON kind, study FROM event", "CREATE PUBLICATION elsewhere FOR TABLE event, stored_file",
	} {
		if err := exec(t, where, statement); err != nil {
			t.Fatalf("%s: %v", statement, err)
		}
		if n := eventsOf(t, where); n != livedEvents {
			t.Errorf("%s: %d events", statement, n)
		}
	}
}

// sqliteGuard gives the statement of a trigger.
func sqliteGuard(name string) string {
	for _, text := range (&sqlite{}).guards() {
		if strings.Contains(text, " "+name+" ") {
			return text
		}
	}
	return ""
}

// What a trigger or a rule swallows is not said to be kept.
func TestSwallowedRows(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		l := lived(t, where)
		driver, statements := "sqlite", []string{"CREATE TRIGGER quiet BEFORE INSERT ON event BEGIN SELECT RAISE(IGNORE); END"}
		if strings.HasPrefix(where, "postgres") {
			driver, statements = "pgx", []string{
				"CREATE FUNCTION quiet() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NULL; END'",
				"CREATE TRIGGER quiet BEFORE INSERT ON event FOR EACH ROW EXECUTE FUNCTION quiet()",
			}
		}
		db, err := sql.Open(driver, where)
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		for _, statement := range statements {
			if _, err := db.Exec(statement); err != nil {
				t.Fatal(err)
			}
		}
		var trouble *Trouble
		if out, err := l.Pull(context.Background(), ada(noon), PullRequest{Pull: "SB-25C60-3M", Day: study.NoDate}); !errors.As(err, &trouble) || !strings.Contains(trouble.Text, "did not keep") {
			t.Errorf("%+v, %v", out, err)
		}
	})
}
