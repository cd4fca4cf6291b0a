package ledger

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"
)

// migrations make the tables, each step from the layout before it. A step that
// has been released is never changed; what comes later is a step of its own.
// They are written so that both engines read them: SQLite keeps bytes as they
// are in a column of a type it does not know.
var migrations = [][]string{
	{
		`CREATE TABLE stored_file (
			sha256  TEXT   NOT NULL PRIMARY KEY,
			size    BIGINT NOT NULL,
			content BYTEA  NOT NULL
		)`,
		`CREATE TABLE event (
			seq     BIGINT NOT NULL PRIMARY KEY CHECK (seq > 0),
			at      TEXT   NOT NULL,
			who     TEXT   NOT NULL,
			kind    TEXT   NOT NULL,
			study   TEXT   NOT NULL,
			subject TEXT   NOT NULL,
			reason  TEXT   NOT NULL,
			file    TEXT   REFERENCES stored_file (sha256),
			detail  TEXT   NOT NULL,
			hash    TEXT   NOT NULL UNIQUE
		)`,
		`CREATE INDEX event_by_study ON event (study, seq)`,
		`CREATE INDEX event_by_kind ON event (kind, study, subject)`,
	},
	{
		`ALTER TABLE event ADD COLUMN account TEXT NOT NULL DEFAULT ''`,
	},
}

// layoutTable makes the table of the steps that were made.
const layoutTable = `CREATE TABLE ledger_layout (version BIGINT NOT NULL PRIMARY KEY, made TEXT NOT NULL)`

// prepare brings the tables to the layout this program knows. Where create is
// not set, a ledger without any is not there, and one of an older layout is
// still brought up: its data stay as they are.
func (l *Ledger) prepare(ctx context.Context, create bool) error {
	version, err := l.layout(ctx)
	if err != nil {
		return err
	}
	if version == len(migrations) {
		return nil
	}
	if version > len(migrations) {
		return &Trouble{
			Text: fmt.Sprintf("the ledger %s has layout %d, and this shelfspan knows layouts up to %d", l.name, version, len(migrations)),
			Hint: "use the newer version of shelfspan that wrote it",
		}
	}
	if version == 0 && !create {
		return l.missing()
	}
	return l.transact(ctx, l.kind.change(), func(tx *sql.Tx) error {
		if err := l.kind.lock(ctx, tx); err != nil {
			return err
		}
		version, tables, err := l.layoutIn(ctx, tx) // another may have done it meanwhile
		if err != nil || version >= len(migrations) {
			return err
		}
		if version == 0 {
			for _, name := range []string{"event", "stored_file"} {
				if slices.Contains(tables, name) {
					return &Trouble{Text: l.name + " has a table " + name + " of something else", Hint: "name another database with --ledger"}
				}
			}
			if _, err := tx.ExecContext(ctx, layoutTable); err != nil {
				return err
			}
		}
		for ; version < len(migrations); version++ {
			for _, statement := range migrations[version] {
				if _, err := tx.ExecContext(ctx, statement); err != nil {
					return err
				}
			}
			if version == 0 {
				for _, statement := range l.kind.guards() {
					if _, err := tx.ExecContext(ctx, statement); err != nil {
						return err
					}
				}
			}
			if _, err := tx.ExecContext(ctx, `INSERT INTO ledger_layout (version, made) VALUES ($1, $2)`, version+1, time.Now().Format(time.RFC3339)); err != nil {
				return err
			}
		}
		return l.kind.changed(ctx, tx)
	})
}

// layout gives the layout of the ledger, 0 where it has no tables.
func (l *Ledger) layout(ctx context.Context) (version int, err error) {
	err = l.transact(ctx, l.kind.snapshot(), func(tx *sql.Tx) error {
		version, _, err = l.layoutIn(ctx, tx)
		return err
	})
	return version, err
}

func (l *Ledger) layoutIn(ctx context.Context, tx *sql.Tx) (version int, tables []string, err error) {
	rows, err := tx.QueryContext(ctx, l.kind.tables())
	if err != nil {
		return 0, nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return 0, nil, err
		}
		tables = append(tables, name)
	}
	if err := rows.Err(); err != nil || !slices.Contains(tables, "ledger_layout") {
		return 0, tables, err
	}
	err = tx.QueryRowContext(ctx, `SELECT version FROM ledger_layout ORDER BY version DESC LIMIT 1`).Scan(&version)
	return version, tables, err
}

// missing is the Trouble of a ledger that is not there.
func (l *Ledger) missing() error {
	return &Trouble{
		Text: "there is no ledger " + l.name,
		Hint: "shelfspan register STUDY.toml makes one; --ledger or SHELFSPAN_LEDGER names another",
	}
}
