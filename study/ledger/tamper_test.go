package ledger

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"net/url"
	"strings"
	"testing"

	"shelfspan/study"
)

// lived makes a ledger with a little of everything in it: ten events.
func lived(t *testing.T, where string) *Ledger {
	t.Helper()
	ctx := context.Background()
	l := create(t, where)
	registered(t, l, smallStudy)
	check := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	one := 1
	_, err := l.Pull(ctx, ada(noon), PullRequest{Pull: "SB-25C60-3M", Arms: []string{"B1"}, Units: &one, Day: study.NoDate, Note: "first"})
	check(err)
	_, err = l.Pull(ctx, ada(noon), PullRequest{Pull: "SB-25C60-3M", Day: study.NoDate})
	check(err)
	in, err := l.TakeIn(ctx, ada(noon), "SB", File{"a.csv", []byte("batch,condition,time,attribute,unit,value\nB1,25C60,3M,assay,1,99.1\nB1,25C60,3M,assay,2,99.3\n")})
	check(err)
	table := in.Tables[0].Event
	_, err = l.Amend(ctx, ada(noon), AmendRequest{ID: resultID(table, 2, "assay"), Value: "98.9", Reason: "misread"})
	check(err)
	_, err = l.Amend(ctx, ada(noon), AmendRequest{ID: resultID(table, 3, "assay"), Exclude: true, Reason: "spilt"})
	check(err)
	_, err = l.Amend(ctx, ada(noon), AmendRequest{ID: resultID(table, 3, "assay"), Restore: true, Reason: "was not"})
	check(err)
	_, err = l.Register(ctx, ada(noon), "study.toml", []byte(strings.Replace(smallStudy, `"12M"`, `"9M", "12M"`, 1)), "one more pull")
	check(err)
	_, err = l.TakeIn(ctx, ada(noon), "SB", File{"b.csv", []byte("batch,condition,time,attribute,unit,value\nB2,25C60,3M,assay,1,99.4\n")})
	check(err)
	_, err = l.WithdrawPull(ctx, ada(noon), "SB-25C60-3M", "wrong chamber")
	check(err)
	return l
}

const livedEvents = 10

// unguarded gives a connection past the triggers that keep rows as they are.
func unguarded(t *testing.T, where string) *sql.DB {
	t.Helper()
	driver, drops := "sqlite", []string{"DROP TRIGGER event_no_update", "DROP TRIGGER event_no_delete", "DROP TRIGGER stored_file_no_update", "DROP TRIGGER stored_file_no_delete"}
	if strings.HasPrefix(where, "postgres") {
		driver, drops = "pgx", []string{"DROP TRIGGER event_only_added_to ON event", "DROP TRIGGER stored_file_only_added_to ON stored_file"}
	}
	db, err := sql.Open(driver, where)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	for _, drop := range drops {
		if _, err := db.Exec(drop); err != nil {
			t.Fatal(err)
		}
	}
	return db
}

func TestSoundLedgerIsFoundSound(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		l := lived(t, where)
		v, err := l.Verify(context.Background(), "", nil)
		if err != nil || len(v.Faults) > 0 || v.Events != livedEvents || v.Head.Seq != livedEvents {
			t.Errorf("%+v, %v", v, err)
		}
		// The hash of any event, noted earlier, is found.
		events, err := l.Events(context.Background(), Filter{})
		if err != nil || len(events) != livedEvents {
			t.Fatal(len(events), err)
		}
		for _, e := range events {
			v, err := l.Verify(context.Background(), strings.ToUpper(e.Hash[:12]), nil)
			if err != nil || len(v.Faults) > 0 || v.Witness != e.Seq {
				t.Errorf("the hash of event %d: %+v, %v", e.Seq, v, err)
			}
		}
	})
}

// The chain is what the package comment says, reckoned here by hand for the
// first event: SHA-256 over 32 zero bytes and netstrings, that of the account last
// where there is one.
func TestFirstHashByHand(t *testing.T) {
	for _, account := range []string{"ada", ""} {
		l := create(t, sqlitePlace(t))
		out, err := l.Register(context.Background(), Author{By: "A. Technician", Now: noon, Account: account}, "study.toml", []byte(smallStudy), "")
		if err != nil {
			t.Fatal(err)
		}
		e := out.Event
		canonical := ""
		for _, f := range []string{"1", "2025-04-14T12:00:00+02:00", "A. Technician", "register", "SB", "1", "", e.File, e.Detail} {
			canonical += fmt.Sprintf("%d:%s,", len(f), f)
		}
		if account != "" {
			canonical += fmt.Sprintf("%d:%s,", len(account), account)
		}
		want := fileSum(append(make([]byte, 32), canonical...))
		if e.Hash != want {
			t.Errorf("%s, want %s", e.Hash, want)
		}
	}
}

// With each event stands whom the system took its writer for: a file's is told by
// who opens it, a server has its own word, whatever it is told.
func TestAccountOfTheWriter(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		want := "ada"
		if u, err := url.Parse(where); err == nil && u.Scheme == "postgres" {
			want = u.User.Username()
		}
		l := lived(t, where)
		events, err := l.Events(context.Background(), Filter{})
		if err != nil || len(events) != livedEvents {
			t.Fatal(len(events), err)
		}
		for _, e := range events {
			if e.By != "A. Technician" || e.Account != want {
				t.Errorf("event %d: by %q, account %q, want %q", e.Seq, e.By, e.Account, want)
			}
		}
	})
}

// Whatever is changed is found, and the first event named that does not fit;
// TestTamperingWithAnyEvent does the simple changes to every event.
func TestTampering(t *testing.T) {
	type tampering struct {
		name  string
		do    []string
		event int64  // that the first fault names; 0: none
		says  string // in the text of some fault
	}
	cases := []tampering{
		{"one letter of a detail", []string{"UPDATE event SET detail = replace(detail, '98.9', '89.9') WHERE seq = 5"}, 5, "not as it was written"},
		{"a file of an event", []string{"UPDATE event SET file = NULL WHERE seq = 4"}, 4, "not as it was written"},
		{"a hash", []string{"UPDATE event SET hash = '" + strings.Repeat("0", 64) + "' WHERE seq = 6"}, 6, "not as it was written"},
		{"a hash cut short", []string{"UPDATE event SET hash = 'ab' WHERE seq = 6"}, 6, "not as it was written"},
		{"the first deleted", []string{"DELETE FROM event WHERE seq = 1"}, 1, "event 1 is missing"},
		{"one deleted", []string{"DELETE FROM event WHERE seq = 5"}, 5, "event 5 is missing"},
		{"one deleted, the others moved up", []string{"DELETE FROM event WHERE seq = 5", "UPDATE event SET seq = seq + 99 WHERE seq > 5", "UPDATE event SET seq = seq - 100 WHERE seq > 99"}, 5, "not as it was written"},
		{"two swapped", []string{"UPDATE event SET seq = 99 WHERE seq = 5", "UPDATE event SET seq = 5 WHERE seq = 6", "UPDATE event SET seq = 6 WHERE seq = 99"}, 5, "not as it was written"},
		{"one put in", []string{"UPDATE event SET seq = seq + 100 WHERE seq > 5", "UPDATE event SET seq = seq - 99 WHERE seq > 100",
			"INSERT INTO event SELECT 6, at, who, kind, study, subject, reason, file, detail, 'made up', account FROM event WHERE seq = 5"}, 6, "not as it was written"},
		{"the last with a file cut off", []string{"DELETE FROM event WHERE seq >= 9"}, 0, "belongs to no event"},
		{"a stored file", []string{"UPDATE stored_file SET content = $1 WHERE sha256 = (SELECT file FROM event WHERE seq = 4)"}, 4, "not as it was stored"},
		{"the size of a stored file", []string{"UPDATE stored_file SET size = size + 1 WHERE sha256 = (SELECT file FROM event WHERE seq = 9)"}, 9, "not as it was stored"},
		{"a file put in", []string{"INSERT INTO stored_file VALUES ('00ff', 1, $1)"}, 0, "belongs to no event"},
		{"the plan", []string{"DELETE FROM stored_file WHERE sha256 NOT IN (SELECT file FROM event WHERE file IS NOT NULL)"}, 1, "is missing"},
	}
	onBoth(t, func(t *testing.T, where string) {
		l := lived(t, where)
		db := unguarded(t, where)
		exec := func(statement string, args ...any) {
			t.Helper()
			if _, err := db.Exec(statement, args...); err != nil {
				t.Fatalf("%s: %v", statement, err)
			}
		}
		for _, table := range []string{"event", "stored_file"} {
			exec("CREATE TABLE sound_" + table + " AS SELECT * FROM " + table)
		}
		for _, c := range cases {
			// Each begins with the ledger as it was.
			exec("DELETE FROM event")
			exec("DELETE FROM stored_file")
			exec("INSERT INTO stored_file SELECT * FROM sound_stored_file")
			exec("INSERT INTO event SELECT * FROM sound_event")
			for _, statement := range c.do {
				var args []any
				if strings.Contains(statement, "$1") {
					args = append(args, []byte("batch\n"))
				}
				exec(statement, args...)
			}
			v, err := l.Verify(context.Background(), "", nil)
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
				continue
			}
			said := ""
			for _, f := range v.Faults {
				said += f.Text + "\n"
			}
			if len(v.Faults) == 0 || v.Faults[0].Event != c.event || !strings.Contains(said, c.says) {
				t.Errorf("%s: %+v", c.name, v.Faults)
			}
		}
	})
}

// The last events cut off leave a chain that holds; a hash noted before tells.
func TestTailCutOffIsFoundByItsHash(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		l := lived(t, where)
		v, err := l.Verify(context.Background(), "", nil)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := unguarded(t, where).Exec("DELETE FROM event WHERE seq = 10"); err != nil {
			t.Fatal(err)
		}
		cut, err := l.Verify(context.Background(), v.Head.Hash, nil)
		if err != nil || len(cut.Faults) == 0 || !strings.Contains(cut.Faults[0].Text, "cut off") {
			t.Errorf("%+v, %v", cut, err)
		}
	})
}

// A chain that was made anew from a change on, hashes and all, holds by itself,
// and not against a hash noted before.
func TestRewrittenChainIsFoundByItsHash(t *testing.T) {
	where := sqlitePlace(t)
	l := lived(t, where)
	v, err := l.Verify(context.Background(), "", nil)
	if err != nil {
		t.Fatal(err)
	}
	events, err := l.Events(context.Background(), Filter{})
	if err != nil {
		t.Fatal(err)
	}
	db := unguarded(t, where)
	var before [32]byte
	for i := range events {
		e := &events[i]
		if e.Seq == 2 {
			e.By = "Nobody"
		}
		before = chained(before, canonical(e, nil))
		if _, err := db.Exec("UPDATE event SET who = $1, hash = $2 WHERE seq = $3", e.By, hex.EncodeToString(before[:]), e.Seq); err != nil {
			t.Fatal(err)
		}
	}
	again, err := l.Verify(context.Background(), v.Head.Hash, nil)
	if err != nil || len(again.Faults) == 0 || !strings.Contains(again.Faults[0].Text, "no event has the hash") {
		t.Errorf("%+v, %v", again, err)
	}
}

// The triggers keep rows as they are.
func TestRowsAreNeverChanged(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		lived(t, where)
		driver := "sqlite"
		if strings.HasPrefix(where, "postgres") {
			driver = "pgx"
		}
		db, err := sql.Open(driver, where)
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		for _, statement := range []string{"UPDATE event SET who = 'x'", "DELETE FROM event WHERE seq = 10", "UPDATE stored_file SET size = 0", "DELETE FROM stored_file"} {
			if _, err := db.Exec(statement); err == nil || !strings.Contains(err.Error(), "only added to") {
				t.Errorf("%s: %v", statement, err)
			}
		}
	})
}

// An index that has lost an entry hides an event from its study; the counts tell.
func TestDamagedIndex(t *testing.T) {
	where := sqlitePlace(t)
	l := lived(t, where)
	db, err := sql.Open("sqlite", where)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	// An index that is made over a part of the table and then said to be whole.
	for _, statement := range []string{
		"DROP INDEX event_by_study",
		"CREATE INDEX event_by_study ON event (study, seq) WHERE seq <> 5",
		"PRAGMA writable_schema = ON",
		"UPDATE sqlite_schema SET sql = 'CREATE INDEX event_by_study ON event (study, seq)' WHERE name = 'event_by_study'",
		"PRAGMA writable_schema = OFF",
	} {
		if _, err := db.Exec(statement); err != nil {
			t.Fatal(err)
		}
	}
	db.Close()
	l.Close()
	if l, err = Open(context.Background(), where); err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	v, err := l.Verify(context.Background(), "", nil)
	if err != nil || len(v.Faults) == 0 || !strings.Contains(v.Faults[0].Text, "index of events by study") && !strings.Contains(v.Faults[0].Text, "damaged") {
		t.Errorf("%+v, %v", v, err)
	}
}

// A stored file comes back byte for byte, by its event and by its hash; one that was
// changed since does not.
func TestStoredFile(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		ctx := context.Background()
		l := lived(t, where)
		events, err := l.Events(ctx, Filter{Kinds: []study.EventKind{study.EventRegister, study.EventIntake}})
		if err != nil || len(events) < 2 {
			t.Fatal(len(events), err)
		}
		for _, e := range events {
			for _, which := range []string{fmt.Sprint(e.Seq), e.File, strings.ToUpper(e.File[:12])} {
				f, err := l.StoredFile(ctx, which)
				if err != nil || fileSum(f.Data) != e.File || f.Event.Seq > e.Seq || f.Name == "" {
					t.Errorf("%s: %+v, %v", which, f, err)
				}
			}
		}
		last := events[len(events)-1]
		db := unguarded(t, where)
		if _, err := db.Exec(`UPDATE stored_file SET content = $1 WHERE sha256 = $2`, []byte("batch,condition\n"), last.File); err != nil {
			t.Fatal(err)
		}
		var trouble *Trouble
		if _, err := l.StoredFile(ctx, fmt.Sprint(last.Seq)); !errors.As(err, &trouble) || !strings.Contains(trouble.Text, "is not as it was stored") {
			t.Errorf("a changed file: %v", err)
		}
	})
}
