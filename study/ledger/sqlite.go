package ledger

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"

	driver "modernc.org/sqlite"
	codes "modernc.org/sqlite/lib"
)

// sqlite keeps a ledger in one file.
type sqlite struct{ path string }

// applicationID marks an SQLite file as a ledger ("ShLf"), so that no other
// database is ever touched.
const applicationID = 0x53684c66

func (e *sqlite) name() string { return e.path }

func (e *sqlite) open(ctx context.Context, create bool) (*sql.DB, error) {
	isNew, err := e.look(create)
	if err != nil {
		return nil, err
	}
	// A path is no place for options; what would begin them is escaped. And no name
	// means anything but a file: SQLite would keep :memory: nowhere.
	path := filepath.Clean(e.path)
	if !filepath.IsAbs(path) {
		path = "." + string(filepath.Separator) + path
	}
	path = (&url.URL{Path: filepath.ToSlash(path)}).EscapedPath()
	db, err := sql.Open("sqlite", "file:"+path+"?_txlock=immediate&_pragma=busy_timeout(10000)&_pragma=synchronous(full)&_pragma=foreign_keys(1)&_pragma=cache_size(-131072)")
	if err != nil {
		return nil, err
	}
	db.SetMaxIdleConns(2)
	if isNew {
		if err := e.found(ctx, db); err != nil {
			db.Close()
			return nil, err
		}
	}
	return db, nil
}

// found makes an empty file a ledger's: first the mark, so that a program
// stopped in between leaves nothing that is taken for another's, then the
// write-ahead log, which lets readers and a writer be at it together. Several
// programs may do it at once, and one may end what another began.
func (e *sqlite) found(ctx context.Context, db *sql.DB) error {
	c, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer c.Close()
	for _, statement := range []string{fmt.Sprintf("PRAGMA application_id = %d", applicationID), "PRAGMA journal_mode = WAL"} {
		if err := patiently(ctx, e, func() error { _, err := c.ExecContext(ctx, statement); return err }); err != nil {
			return err
		}
	}
	return nil
}

// look says whether the file is yet to be made a ledger, and refuses one that
// is something else, without touching it.
func (e *sqlite) look(create bool) (isNew bool, err error) {
	// SQLite takes paths of up to 512 bytes, file systems names of up to 255, and
	// -journal comes behind.
	if path, err := filepath.Abs(e.path); err == nil && (len(path) > 500 || len(filepath.Base(path)) > 247) {
		return false, &Trouble{
			Text: fmt.Sprintf("the path of the ledger is too long: %d bytes, the name alone %d; a ledger's may have 500, and its name 247", len(path), len(filepath.Base(path))),
			Hint: "name a shorter place with --ledger",
		}
	}
	info, err := os.Stat(e.path)
	gone := errors.Is(err, fs.ErrNotExist)
	if target, err := os.Readlink(e.path); gone && err == nil {
		return false, &Trouble{
			Text: "the ledger " + e.path + " is a link to " + target + ", and that is not there",
			Hint: "is the disk there, and mounted? To make a new ledger, name the place itself with --ledger",
		}
	}
	switch {
	case gone && create:
		if dir, err := os.Stat(filepath.Dir(e.path)); err != nil || !dir.IsDir() {
			return false, &Trouble{Text: "there is no folder " + filepath.Dir(e.path) + " for the ledger", Hint: "make it, or name another place with --ledger", Err: err}
		}
		return true, e.lookAlone()
	case gone:
		if err := e.lookAlone(); err != nil {
			return false, err
		}
		return false, (&Ledger{name: e.path}).missing()
	case err != nil:
		return false, e.closed(err)
	case info.IsDir():
		return false, &Trouble{Text: e.path + " is a folder and no ledger", Hint: "name the file in it, as " + filepath.Join(e.path, "shelfspan.db")}
	case !info.Mode().IsRegular(): // a pipe would be waited at for ever
		return false, &Trouble{Text: e.path + " is a device or a pipe and no ledger", Hint: "name the ledger with --ledger"}
	}
	f, err := os.Open(e.path)
	if err != nil {
		return false, e.closed(err)
	}
	defer f.Close()
	h, n, err := readHeader(f)
	switch {
	case n == 0 && err == io.EOF:
		if create {
			return true, e.lookAlone()
		}
		return false, (&Ledger{name: e.path}).missing()
	case !h.isSQLite(n):
		return false, &Trouble{Text: e.path + " is no ledger", Hint: "name the ledger with --ledger; this file was not touched"}
	case err != nil:
		return false, e.damaged(err)
	case h.applicationID() != applicationID:
		return false, &Trouble{Text: e.path + " is a database of something else", Hint: "name the ledger with --ledger; this file was not touched"}
	}
	if err := e.lookBeside(f); err != nil {
		return false, err
	}
	return create && !h.hasLog(), nil
}

// closed is the Trouble of a file that is there and does not open.
func (e *sqlite) closed(err error) error {
	return &Trouble{Text: "the ledger " + e.path + " cannot be opened: " + cause(err), Hint: "ask whoever keeps it for permission to read and write it and its folder", Err: err}
}

// lock does nothing: a transaction that writes holds the file from its begin.
func (e *sqlite) lock(context.Context, *sql.Tx) error { return nil }

func (e *sqlite) account(_ context.Context, _ *sql.Tx, login string) (string, error) {
	return login, nil
}

func (e *sqlite) change() *sql.TxOptions { return nil }

func (e *sqlite) snapshot() *sql.TxOptions { return &sql.TxOptions{ReadOnly: true} }

func (e *sqlite) tables() string { return `SELECT name FROM sqlite_master WHERE type = 'table'` }

func (e *sqlite) guards() []string {
	var out []string
	for _, table := range []string{"event", "stored_file"} {
		for _, verb := range []string{"UPDATE", "DELETE"} {
			out = append(out, `CREATE TRIGGER `+table+`_no_`+strings.ToLower(verb)+` BEFORE `+verb+` ON `+table+
				` BEGIN SELECT RAISE(ABORT, 'a ledger is only added to'); END`)
		}
	}
	// INSERT OR REPLACE deletes, and runs no trigger of deletions.
	for _, t := range [][2]string{{"event", "seq = NEW.seq OR hash = NEW.hash"}, {"stored_file", "sha256 = NEW.sha256"}} {
		out = append(out, `CREATE TRIGGER `+t[0]+`_no_replace BEFORE INSERT ON `+t[0]+
			` WHEN EXISTS (SELECT 1 FROM `+t[0]+` WHERE `+t[1]+`) BEGIN SELECT RAISE(ABORT, 'a ledger is only added to'); END`)
	}
	return out
}

func (e *sqlite) transient(err error) bool {
	code, ok := primary(err)
	return ok && (code == codes.SQLITE_BUSY || code == codes.SQLITE_LOCKED || code == codes.SQLITE_PROTOCOL)
}

// primary gives the primary result code of an SQLite error.
func primary(err error) (int, bool) {
	var x *driver.Error
	if !errors.As(err, &x) {
		return 0, false
	}
	return x.Code() & 0xff, true
}

func (e *sqlite) explain(err error) *Trouble {
	if e.broken(err) {
		return e.damaged(err)
	}
	code, ok := primary(err)
	if !ok {
		return nil
	}
	t := &Trouble{Err: err}
	switch code {
	case codes.SQLITE_FULL:
		t.Text = "the disk is full; the ledger " + e.path + " was left as it was"
		t.Hint = "make room where the ledger is, then do it again"
	case codes.SQLITE_READONLY, codes.SQLITE_PERM, codes.SQLITE_CANTOPEN:
		t.Text = "the ledger " + e.path + " or its folder cannot be written to"
		t.Hint = "a ledger needs its file and its folder writable, even to be read, and with them FILE-wal and FILE-shm where they lie beside it; ask whoever keeps it, or name another with --ledger"
	case codes.SQLITE_NOTADB:
		t.Text, t.Hint = e.path+" is no ledger", "name the ledger with --ledger"
	case codes.SQLITE_IOERR:
		t.Text = "the disk of the ledger " + e.path + " failed or is full; the ledger was left as it was"
		t.Hint = "make room, or look after the disk, then do it again; shelfspan audit --verify says whether all is sound"
	default:
		t.Text = "the ledger " + e.path + " failed: " + err.Error()
	}
	return t
}

func (e *sqlite) damaged(err error) *Trouble {
	return &Trouble{
		Text: "the ledger " + e.path + " is damaged",
		Hint: "do not write to it; keep a copy as it is, go back to the last backup, and see what shelfspan audit --verify says of that",
		Err:  err,
	}
}

// broken: SQLite calls a statement wrong (SQLITE_ERROR) where the tables are not
// those it was written for.
func (e *sqlite) broken(err error) bool {
	code, ok := primary(err)
	return ok && (code == codes.SQLITE_CORRUPT || code == codes.SQLITE_ERROR) || misread(err)
}

// indexes are those that answers come from, besides that of the numbers of
// events, by which the chain is read.
var indexes = []struct{ name, table, has string }{
	{"event_by_study", "event", "b.study = a.study AND b.seq = a.seq"},
	{"event_by_kind", "event", "b.kind = a.kind AND b.study = a.study AND b.subject = a.subject"},
	{"sqlite_autoindex_stored_file_1", "stored_file", "b.sha256 = a.sha256"},
}

// damage looks at the pages, and whether each index says what its table does: one
// that says something else hides a row or answers for another. What SQLite has
// for that (integrity_check) takes twice as long, mostly for the index of hashes,
// from which no answer comes.
func (e *sqlite) damage(ctx context.Context, db *sql.DB) (found []string, err error) {
	err = patiently(ctx, e, func() error {
		found = nil
		tx, err := db.BeginTx(ctx, e.snapshot())
		if err != nil {
			return err
		}
		defer tx.Rollback()
		rows, err := tx.QueryContext(ctx, `PRAGMA quick_check(10)`)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var text string
			if err := rows.Scan(&text); err != nil {
				return err
			}
			if text != "ok" {
				found = append(found, text)
			}
		}
		if err := rows.Err(); err != nil {
			return err
		}
		for _, i := range indexes {
			var lost, other int64
			if err := tx.QueryRowContext(ctx, `SELECT count(*), (SELECT count(*) FROM `+i.table+` NOT INDEXED) - (SELECT count(*) FROM `+i.table+` INDEXED BY `+i.name+`)
				FROM `+i.table+` a NOT INDEXED WHERE NOT EXISTS (SELECT 1 FROM `+i.table+` b INDEXED BY `+i.name+` WHERE b.rowid = a.rowid AND `+i.has+`)`).Scan(&lost, &other); err != nil {
				return err
			}
			if lost != 0 || other != 0 {
				found = append(found, "the index "+i.name+" does not say what its table does")
			}
		}
		return nil
	})
	return found, err
}

// unguarded compares what is made of the tables with a ledger made anew in memory:
// SQLite keeps the text of the statements that made it. What a keeper put beside
// them, a table or a view of his own or what ANALYZE found, is none of the ledger's.
func (e *sqlite) unguarded(ctx context.Context, tx *sql.Tx) ([]string, error) {
	db, err := sql.Open("sqlite", ":memory:")
	if err != nil {
		return nil, err
	}
	defer db.Close()
	db.SetMaxOpenConns(1) // each would have a memory of its own
	for _, statement := range slices.Concat([]string{layoutTable}, slices.Concat(migrations...), e.guards()) {
		if _, err := db.ExecContext(ctx, statement); err != nil {
			return nil, err
		}
	}
	wanted, err := schema(ctx, db)
	if err != nil {
		return nil, err
	}
	there, err := schema(ctx, tx)
	if err != nil {
		return nil, err
	}
	tables := make(map[string]bool)
	for _, x := range wanted {
		tables[x.table] = true
	}
	var found []string
	for _, x := range there {
		if !tables[x.table] {
			continue
		}
		if i := slices.Index(wanted, x); i >= 0 {
			wanted = slices.Delete(wanted, i, i+1)
			continue
		}
		found = append(found, fmt.Sprintf("the %s %s of the table %s is none of a ledger's, or was changed", x.kind, x.name, x.table))
	}
	for _, x := range wanted {
		found = append(found, fmt.Sprintf("the %s %s is missing, or was changed", x.kind, x.name))
	}
	return found, nil
}

// made is a table, an index, a trigger or a view, and the statement that made it;
// its table in small letters, for a trigger keeps it as it was written.
type made struct{ kind, name, table, text string }

// schema gives all that statements made in a database.
func schema(ctx context.Context, q interface {
	QueryContext(context.Context, string, ...any) (*sql.Rows, error)
}) (all []made, err error) {
	rows, err := q.QueryContext(ctx, `SELECT type, name, lower(tbl_name), sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY rowid`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var x made
		if err := rows.Scan(&x.kind, &x.name, &x.table, &x.text); err != nil {
			return nil, err
		}
		all = append(all, x)
	}
	return all, rows.Err()
}

// cause leaves the operation and the path out of a file error.
func cause(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		err = p.Err
	}
	return err.Error()
}
