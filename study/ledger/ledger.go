// Package ledger keeps what a lab planned, pulled, measured and changed: by
// whom, when, and for what reason. Nothing in it is ever changed or deleted.
//
// A ledger holds two things. Events say what happened: a protocol registered,
// a pull made, a file of results taken in, a result amended. Stored files are
// the bytes the events speak of, under their SHA-256: study files, tables of
// results, and the plan of each version of a protocol as it was worked out then.
// Everything else (the protocol in force, the results as they stand, what is
// due) is worked out from these two each time it is asked for, by the same code
// that reads files; so no copy can come to differ from the record.
//
// The events are a chain. With hash(0) 32 zero bytes,
//
//	hash(n) = SHA-256(hash(n−1) ‖ canonical(n))
//
// where canonical(n) is the event's number, time, author, kind, study, subject,
// reason, file and detail in this order, and last the account where there is one
// (the first layout had none), each as a netstring: its length in
// bytes in decimal digits, a colon, the bytes, a comma. Text is UTF-8, a number
// its decimal digits, a file its SHA-256 in lower-case hex or nothing. A change
// of any event, one left out, one put between and two swapped all break the
// chain. That the last ones were cut off it cannot see: for that a hash is
// noted elsewhere, as on every report, and asked for again (Verify).
//
// The state of a ledger at event n is the events up to n. A date stands for the
// event before the first that was recorded on a later one, so what was seen then
// can be seen again.
//
// A ledger is an SQLite file, or a PostgreSQL database whose users need no more
// than to insert and read. Writers come one after the other, in both; readers
// see one state throughout and hold nobody up.
package ledger

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"time"
)

// Ledger is an open ledger. It may be used from several goroutines.
type Ledger struct {
	db   *sql.DB
	kind engine
	name string
}

// Author is who makes a change, and when.
type Author struct {
	By  string
	Now time.Time // with the zone of the place it is made in
	// Account is the login name on this machine, or empty. A server has its own word
	// for who this is, which is written down in its place.
	Account string
}

// Trouble is a ledger that cannot do what was asked of it: it is not there, not
// a ledger, damaged, full or out of reach. Nothing was changed.
type Trouble struct {
	Text string
	Hint string // what to do; may be empty
	Err  error  // beneath it; may be nil
}

func (t *Trouble) Error() string { return t.Text }
func (t *Trouble) Unwrap() error { return t.Err }

// Refusal is a request that the ledger's rules do not allow. Nothing was
// changed.
type Refusal struct {
	Text string
	Hint string // what to do; may be empty
}

func (r *Refusal) Error() string { return r.Text }

func refuse(hint, format string, args ...any) error {
	return &Refusal{Text: fmt.Sprintf(format, args...), Hint: hint}
}

// Open opens a ledger that is there: a file, or a server named by a postgres://
// address. Close closes it. The error is a *Trouble.
func Open(ctx context.Context, where string) (*Ledger, error) { return open(ctx, where, false) }

// Create opens a ledger and makes it where there is none.
func Create(ctx context.Context, where string) (*Ledger, error) { return open(ctx, where, true) }

func open(ctx context.Context, where string, create bool) (*Ledger, error) {
	kind, err := engineOf(where)
	if err != nil {
		return nil, err
	}
	l := &Ledger{kind: kind, name: kind.name()}
	if l.db, err = kind.open(ctx, create); err != nil {
		return nil, l.trouble(err)
	}
	if err := l.prepare(ctx, create); err != nil {
		l.db.Close()
		return nil, l.trouble(err)
	}
	return l, nil
}

// Name gives the ledger as it may be shown: a path, or a server without its
// password.
func (l *Ledger) Name() string { return l.name }

// Close closes the ledger.
func (l *Ledger) Close() error { return l.db.Close() }

// engine is what SQLite and PostgreSQL do differently.
type engine interface {
	name() string
	open(ctx context.Context, create bool) (*sql.DB, error)
	// change are the options of a transaction that writes.
	change() *sql.TxOptions
	// lock keeps other writers out until the transaction ends.
	lock(ctx context.Context, tx *sql.Tx) error
	// changed is told of a transaction that has written, before it ends.
	changed(ctx context.Context, tx *sql.Tx) error
	// account gives whom the system takes a writer for, who has this login name here.
	account(ctx context.Context, tx *sql.Tx, login string) (string, error)
	// snapshot are the options of a transaction that reads one state.
	snapshot() *sql.TxOptions
	// guards are the statements that keep rows from being changed or deleted.
	guards() []string
	// unguarded says what of the tables is not as migrations and guards made it,
	// and what was put to them, so that a row could be changed or kept from them.
	unguarded(ctx context.Context, tx *sql.Tx) ([]string, error)
	// tables is a query for the names of the tables that are there.
	tables() string
	// transient reports an error that may be gone when the transaction is
	// tried again.
	transient(error) bool
	// explain gives a Trouble for an error of the database; nil for one that
	// is not its own.
	explain(error) *Trouble
	// broken reports an error that says that the ledger is damaged.
	broken(error) bool
	// damage looks for damage beneath the tables and says what it finds.
	damage(ctx context.Context, db *sql.DB) ([]string, error)
}

func engineOf(where string) (engine, error) {
	if strings.HasPrefix(where, "postgres://") || strings.HasPrefix(where, "postgresql://") {
		return newPostgres(where)
	}
	if scheme, _, ok := strings.Cut(where, "://"); ok {
		return nil, &Trouble{Text: fmt.Sprintf("no ledger is reached by %s://", scheme), Hint: "name a file, or a server as postgres://user@host/database"}
	}
	if where == "" {
		return nil, &Trouble{Text: "the name of the ledger is empty", Hint: "name a file, or a server as postgres://user@host/database"}
	}
	return &sqlite{path: where}, nil
}

// patience is how long a transaction is tried again while others are in its way.
const patience = 2 * time.Minute

// transact runs f in a transaction, and again from its start while the database
// says that another was in its way.
func (l *Ledger) transact(ctx context.Context, o *sql.TxOptions, f func(*sql.Tx) error) error {
	return l.trouble(patiently(ctx, l.kind, func() error {
		tx, err := l.db.BeginTx(ctx, o)
		if err != nil {
			return err
		}
		defer tx.Rollback()
		if err := f(tx); err != nil {
			return err
		}
		return tx.Commit()
	}))
}

// patiently tries f again while others are in its way.
func patiently(ctx context.Context, kind engine, f func() error) error {
	until := time.Now().Add(patience)
	for wait := 5 * time.Millisecond; ; wait = min(2*wait, 200*time.Millisecond) {
		err := f()
		if err == nil || !kind.transient(err) {
			return err
		}
		if time.Now().After(until) {
			return &Trouble{
				Text: fmt.Sprintf("the ledger %s is kept busy by others; nothing was changed", kind.name()),
				Hint: "try again; if it stays so, look for a program that holds it open", Err: err,
			}
		}
		// A random share of the wait, so that those who wait do not all come back at once.
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(wait/2 + rand.N(wait/2)):
		}
	}
}

// read runs f on one state of the ledger.
func (l *Ledger) read(ctx context.Context, f func(*reading) error) error {
	return l.transact(ctx, l.kind.snapshot(), func(tx *sql.Tx) error {
		return f(&reading{ctx: ctx, tx: tx})
	})
}

// write runs f while no other writer is at the ledger; what it appends is kept
// whole or not at all.
func (l *Ledger) write(ctx context.Context, a Author, f func(*writing) error) error {
	if err := errors.Join(checkText("who does this", a.By, 200), checkText("the login name", a.Account, 200)); err != nil {
		return err
	}
	if a.By == "" {
		return refuse("name yourself with --by NAME", "who does this is not known")
	}
	// A time that is not read back would close the ledger to all who come after.
	if at := a.Now.Format(time.RFC3339); a.Now.Year() < 1970 {
		return refuse("set it right", "this machine's clock says %s", at)
	} else if _, err := time.Parse(time.RFC3339, at); err != nil {
		return refuse("set it and its time zone right", "this machine's clock says %s", at)
	}
	return l.transact(ctx, l.kind.change(), func(tx *sql.Tx) error {
		if err := l.kind.lock(ctx, tx); err != nil {
			return err
		}
		w := &writing{reading: reading{ctx: ctx, tx: tx}, author: a}
		var err error
		if w.account, err = l.kind.account(ctx, tx, a.Account); err != nil {
			return err
		}
		if err := w.findHead(); err != nil {
			return err
		}
		before := w.head.Seq
		if err := f(w); err != nil || w.head.Seq == before {
			return err
		}
		return l.kind.changed(ctx, tx)
	})
}

// trouble puts an error of the database into words; errors that are in words
// already stay as they are.
func (l *Ledger) trouble(err error) error {
	var t *Trouble
	if err == nil || errors.As(err, &t) {
		return err
	}
	if t := l.kind.explain(err); t != nil {
		return t
	}
	return err
}
