package ledger

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"

	"shelfspan/study"
)

// inTurn runs a test against either engine, one after the other: these tests change
// which layouts the program knows.
func inTurn(t *testing.T, test func(t *testing.T, where string)) {
	t.Run("sqlite", func(t *testing.T) { test(t, sqlitePlace(t)) })
	t.Run("postgres", func(t *testing.T) { test(t, postgresPlace(t)) })
}

// released is how many layouts there are without those that tests make up.
var released = len(migrations)

// layouts lists the layouts released and some more.
func layouts(more int) (out []string) {
	for i := range released + more {
		out = append(out, fmt.Sprint(i+1))
	}
	return out
}

// knows makes the program one that knows these steps behind those released, until
// the test ends.
func knows(t *testing.T, steps ...[]string) {
	t.Helper()
	before := migrations
	t.Cleanup(func() { migrations = before })
	migrations = append(slices.Clone(before[:released]), steps...)
}

// seals is a made-up second layout: a table of its own, a column more, and what is
// there counted into it.
var seals = []string{
	`CREATE TABLE seal (seq BIGINT NOT NULL PRIMARY KEY REFERENCES event (seq), mark TEXT NOT NULL)`,
	`INSERT INTO seal (seq, mark) SELECT seq, kind FROM event`,
	`ALTER TABLE event ADD COLUMN place TEXT`,
}

// rows reads what a query finds, past the program.
func rows(t *testing.T, where, query string) (out []string) {
	t.Helper()
	driver := "sqlite"
	if strings.HasPrefix(where, "postgres") {
		driver = "pgx"
	}
	db, err := sql.Open(driver, where)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	found, err := db.Query(query)
	if err != nil {
		t.Fatal(err)
	}
	defer found.Close()
	for found.Next() {
		var text string
		if err := found.Scan(&text); err != nil {
			t.Fatal(err)
		}
		out = append(out, text)
	}
	if err := found.Err(); err != nil {
		t.Fatal(err)
	}
	return out
}

// kept writes all that a ledger keeps, past the program.
func kept(t *testing.T, where string) string {
	t.Helper()
	var out []string
	for _, query := range []string{
		"SELECT version FROM ledger_layout ORDER BY version",
		"SELECT seq || ' ' || at || who || kind || study || subject || reason || coalesce(file, '') || detail || hash FROM event ORDER BY seq",
		"SELECT sha256 || ' ' || size FROM stored_file ORDER BY sha256",
		"SELECT content FROM stored_file ORDER BY sha256",
	} {
		out = append(out, strings.Join(rows(t, where, query), "\n"))
	}
	return strings.Join(out, "\n\n")
}

// events reads all events by the program.
func events(t *testing.T, l *Ledger) string {
	t.Helper()
	list, err := l.Events(context.Background(), Filter{})
	if err != nil {
		t.Fatal(err)
	}
	return fmt.Sprint(list)
}

// A ledger of an older layout is brought up when it is opened: its events and files
// stay as they are, and are gone on from.
func TestOlderLayoutIsBroughtUp(t *testing.T) {
	inTurn(t, func(t *testing.T, where string) {
		old := lived(t, where)
		before, history := kept(t, where), events(t, old)
		old.Close()
		knows(t, seals, []string{`CREATE TABLE shelf (id TEXT NOT NULL PRIMARY KEY)`})

		l := opened(t, where)
		after := kept(t, where)
		if want := strings.Replace(before, strings.Join(layouts(0), "\n"), strings.Join(layouts(2), "\n"), 1); after != want {
			t.Errorf("%s\nwant %s", after, want)
		}
		if events(t, l) != history {
			t.Error("the events are not as they were")
		}
		if n := rows(t, where, "SELECT count(*) FROM seal"); n[0] != fmt.Sprint(livedEvents) {
			t.Errorf("%v of %d events counted in", n, livedEvents)
		}
		v, err := l.Verify(context.Background(), "", nil)
		if err != nil || len(v.Faults) > 0 || v.Events != livedEvents {
			t.Errorf("%+v, %v", v, err)
		}
		// It is gone on from, and the rows of old are still only added to.
		d := &desk{T: t, l: l, who: ada(noon)}
		d.pull(PullRequest{Pull: "SB-25C60-3M", Day: study.NoDate})
		if v := d.stands(); v.Events != livedEvents+1 {
			t.Errorf("%+v", v)
		}
		if err := exec(t, where, "UPDATE event SET who = 'x'"); err == nil || !strings.Contains(err.Error(), "only added to") {
			t.Errorf("changed: %v", err)
		}
		// Opened again nothing is done twice.
		again := kept(t, where)
		opened(t, where)
		d.same("kept", kept(t, where), again)
	})
}

// The events of a ledger of the first layout have no account. They stand as they
// were, their hashes too, and it is gone on from.
func TestFirstLayoutGoesOn(t *testing.T) {
	ctx := context.Background()
	source, where := sqlitePlace(t), sqlitePlace(t)
	nobody := Author{By: "A. Technician", Now: noon}
	l := create(t, source)
	if _, err := l.Register(ctx, nobody, "study.toml", []byte(smallStudy), ""); err != nil {
		t.Fatal(err)
	}
	if _, err := l.TakeIn(ctx, nobody, "SB", File{"a.csv", results("B1 3M 1 99.1")}); err != nil {
		t.Fatal(err)
	}
	l.Close()
	now := migrations
	migrations = now[:1]
	create(t, where).Close()
	migrations = now
	if err := exec(t, where, `ATTACH '`+source+`' AS other;
		INSERT INTO stored_file SELECT * FROM other.stored_file;
		INSERT INTO event SELECT seq, at, who, kind, study, subject, reason, file, detail, hash FROM other.event`); err != nil {
		t.Fatal(err)
	}
	d := &desk{T: t, l: opened(t, where), who: ada(noon)}
	if v := d.stands(); v.Events != 2 || v.Head.Account != "" {
		t.Errorf("%+v", v)
	}
	d.amend(AmendRequest{ID: "R2-2-assay-E", Value: "98.9", Reason: "misread"})
	if v := d.stands(); v.Events != 3 || v.Head.Account != "ada" {
		t.Errorf("%+v", v)
	}
}

// exec runs a statement past the program.
func exec(t *testing.T, where, statement string) error {
	t.Helper()
	driver := "sqlite"
	if strings.HasPrefix(where, "postgres") {
		driver = "pgx"
	}
	db, err := sql.Open(driver, where)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	_, err = db.Exec(statement)
	return err
}

// A step that fails half-way, or a later one, leaves layout and data as they were,
// and a program that knows better brings it up.
func TestStepThatFailsLeavesTheLayout(t *testing.T) {
	inTurn(t, func(t *testing.T, where string) {
		old := lived(t, where)
		history := events(t, old)
		before := kept(t, where)
		tables := rows(t, where, old.kind.tables())
		slices.Sort(tables)
		for name, steps := range map[string][][]string{
			"half-way":   {append(slices.Clone(seals), `INSERT INTO no_such_table (x) VALUES (1)`)},
			"afterwards": {seals, {`CREATE TABLE shelf (id TEXT NOT NULL PRIMARY KEY)`, `CREATE TABLE event (x TEXT)`}},
			"guarded":    {append(slices.Clone(seals), `UPDATE event SET place = 'here'`)},
		} {
			t.Run(name, func(t *testing.T) {
				knows(t, steps...)
				for _, open := range []func(context.Context, string) (*Ledger, error){Open, Create} {
					l, err := open(context.Background(), where)
					var trouble *Trouble
					if err == nil || !errors.As(err, &trouble) {
						t.Fatalf("%v, %v", l, err)
					}
				}
			})
			if after := kept(t, where); after != before {
				t.Errorf("%s\nwant %s", after, before)
			}
			now := rows(t, where, old.kind.tables())
			slices.Sort(now)
			if !slices.Equal(now, tables) {
				t.Errorf("%s: tables %v, were %v", name, now, tables)
			}
			// Who has it open goes on with it, and the program of old opens it.
			if events(t, old) != history || events(t, opened(t, where)) != history {
				t.Errorf("%s: the events are not as they were", name)
			}
		}
		knows(t, seals)
		if events(t, opened(t, where)) != history {
			t.Error("the events are not as they were")
		}
		if got := rows(t, where, "SELECT version FROM ledger_layout ORDER BY version"); !slices.Equal(got, layouts(1)) {
			t.Errorf("layouts %v", got)
		}
	})
}

// The first layout, too, is there whole or not at all; what failed can be done again.
func TestFirstLayoutWholeOrNot(t *testing.T) {
	inTurn(t, func(t *testing.T, where string) {
		t.Run("fails", func(t *testing.T) {
			knows(t, []string{`CREATE TABLE event (x TEXT)`}) // which is there
			if l, err := Create(context.Background(), where); err == nil {
				t.Fatal(l)
			}
			_, err := Open(context.Background(), where)
			var trouble *Trouble
			if !errors.As(err, &trouble) || !strings.Contains(trouble.Text, "there is no ledger") {
				t.Errorf("%v", err)
			}
		})
		at(t, where).register(smallStudy, "")
	})
}

// Programs that come at once, to a ledger that is not there yet or is of an older
// layout, each find it made, and it is made once.
func TestLayoutsMadeAtOnce(t *testing.T) {
	const programs = 6
	together := func(t *testing.T, open func(context.Context, string) (*Ledger, error), where string) {
		t.Helper()
		var all sync.WaitGroup
		for range programs {
			all.Add(1)
			go func() {
				defer all.Done()
				l, err := open(context.Background(), where)
				if err != nil {
					t.Error(err)
					return
				}
				l.Close()
			}()
		}
		all.Wait()
	}
	inTurn(t, func(t *testing.T, where string) {
		together(t, Create, where)
		if got := rows(t, where, "SELECT version FROM ledger_layout ORDER BY version"); !slices.Equal(got, layouts(0)) {
			t.Errorf("layouts %v", got)
		}
		l := lived(t, where)
		history := events(t, l)
		knows(t, seals, []string{`CREATE TABLE shelf (id TEXT NOT NULL PRIMARY KEY)`})
		together(t, Open, where)
		if got := rows(t, where, "SELECT version FROM ledger_layout ORDER BY version"); !slices.Equal(got, layouts(2)) {
			t.Errorf("layouts %v", got)
		}
		if n := rows(t, where, "SELECT count(*) FROM seal"); n[0] != fmt.Sprint(livedEvents) || events(t, l) != history {
			t.Errorf("%v of %d events counted in, or they are not as they were", n, livedEvents)
		}
	})
}

// A ledger of a newer layout is left to the program that knows it.
func TestNewerLayoutIsRefused(t *testing.T) {
	inTurn(t, func(t *testing.T, where string) {
		t.Run("newer", func(t *testing.T) {
			knows(t, seals)
			lived(t, where).Close()
		})
		before := kept(t, where)
		for _, open := range []func(context.Context, string) (*Ledger, error){Open, Create} {
			_, err := open(context.Background(), where)
			var trouble *Trouble
			if !errors.As(err, &trouble) || !strings.Contains(trouble.Text, fmt.Sprintf("has layout %d, and this shelfspan knows layouts up to %d", released+1, released)) || !strings.Contains(trouble.Hint, "newer version") {
				t.Errorf("%v", err)
			}
		}
		if after := kept(t, where); after != before {
			t.Error("it was changed")
		}
	})
}

// Tables of the same names that are something else's are not written into.
func TestTablesOfSomethingElse(t *testing.T) {
	for _, name := range []string{"event", "stored_file"} {
		where := postgresPlace(t)
		if err := exec(t, where, "CREATE TABLE "+name+" (x TEXT)"); err != nil {
			t.Fatal(err)
		}
		_, err := Create(context.Background(), where)
		var trouble *Trouble
		if !errors.As(err, &trouble) || !strings.Contains(trouble.Text, "has a table "+name+" of something else") {
			t.Errorf("%v", err)
		}
		if got := rows(t, where, "SELECT tablename FROM pg_tables WHERE schemaname = 'public'"); !slices.Equal(got, []string{name}) {
			t.Errorf("tables %v", got)
		}
	}
}

// What replaces a row deletes it; that is refused like a change.
func TestRowsAreNeverReplaced(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		lived(t, where)
		before := kept(t, where)
		statements := []string{
			`INSERT INTO stored_file SELECT sha256, 1, content FROM stored_file WHERE true ON CONFLICT (sha256) DO UPDATE SET size = 1`,
			`INSERT INTO event SELECT * FROM event WHERE seq = 5 ON CONFLICT (seq) DO UPDATE SET who = 'x'`,
		}
		if !strings.HasPrefix(where, "postgres") {
			statements = append(statements,
				`INSERT OR REPLACE INTO stored_file SELECT sha256, 1, content FROM stored_file`,
				`INSERT OR REPLACE INTO event SELECT seq, at, 'x', kind, study, subject, reason, file, detail, 'a hash of its own', account FROM event WHERE seq = 5`,
				`INSERT OR REPLACE INTO event SELECT 99, at, 'x', kind, study, subject, reason, file, detail, hash, account FROM event WHERE seq = 5`,
				`UPDATE OR REPLACE event SET seq = 6 WHERE seq = 5`)
		}
		for _, statement := range statements {
			if err := exec(t, where, statement); err == nil || !strings.Contains(err.Error(), "only added to") {
				t.Errorf("%s: %v", statement, err)
			}
		}
		if after := kept(t, where); after != before {
			t.Errorf("%s\nwant %s", after, before)
		}
	})
}
