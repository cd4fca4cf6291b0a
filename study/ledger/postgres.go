package ledger

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/stdlib"
)

// postgres keeps a ledger in a database of a server.
type postgres struct{ config *pgx.ConnConfig }

func newPostgres(where string) (*postgres, error) {
	config, err := pgx.ParseConfig(where)
	var file *fs.PathError
	switch {
	case err == nil:
	case errors.As(err, &file):
		return nil, &Trouble{
			Text: fmt.Sprintf("the file %s, which the address of the ledger or its environment names, cannot be read: %s", file.Path, cause(file)),
			Hint: "sslrootcert names the certificate authority of the server, sslcert and sslkey a certificate of your own",
		}
	case !slices.Contains(encryptions, encryptionOf(where)):
		return nil, &Trouble{
			Text: fmt.Sprintf("there is no sslmode=%s", encryptionOf(where)),
			Hint: "ask for encryption with sslmode=verify-full; the others are " + strings.Join(encryptions[1:6], ", "),
		}
	default:
		// The library's error may hold the address, and with it a password.
		return nil, &Trouble{Text: "the address of the ledger is not understood", Hint: "write it as postgres://user@host:5432/database; the password belongs into PGPASSWORD or a passfile"}
	}
	if config.RuntimeParams["application_name"] == "" {
		config.RuntimeParams["application_name"] = "shelfspan"
	}
	return &postgres{config: config}, nil
}

// encryptions are the values of sslmode, as PostgreSQL's own library has them; ""
// leaves it open.
var encryptions = []string{"", "disable", "allow", "prefer", "require", "verify-ca", "verify-full"}

// encryptionOf gives the sslmode of an address, "" where it has none.
func encryptionOf(where string) string {
	u, err := url.Parse(where)
	if err != nil {
		return ""
	}
	return u.Query().Get("sslmode")
}

func (e *postgres) name() string {
	host := e.config.Host
	if !strings.HasPrefix(host, "/") {
		host = net.JoinHostPort(host, strconv.Itoa(int(e.config.Port)))
	}
	return "postgres://" + host + "/" + e.config.Database
}

func (e *postgres) open(ctx context.Context, _ bool) (*sql.DB, error) {
	db := stdlib.OpenDB(*e.config)
	if err := db.PingContext(ctx); err != nil {
		db.Close()
		return nil, err
	}
	return db, nil
}

// writersKey is the key of the lock that writers hold, as PostgreSQL's advisory
// locks have them: any number that nothing else in the database uses. The
// number of an event being unique is what keeps the chain whole; the lock only
// spares writers from working in vain.
const writersKey = 0x5368656c66 // "Shelf"

func (e *postgres) lock(ctx context.Context, tx *sql.Tx) error {
	_, err := tx.ExecContext(ctx, `SELECT pg_advisory_xact_lock($1)`, int64(writersKey))
	return err
}

// account is the role that the server let in.
func (e *postgres) account(ctx context.Context, tx *sql.Tx, _ string) (role string, err error) {
	err = tx.QueryRowContext(ctx, `SELECT session_user`).Scan(&role)
	return role, err
}

// change lets each statement behind the lock see what the writer before kept,
// whatever the server does by itself.
func (e *postgres) change() *sql.TxOptions {
	return &sql.TxOptions{Isolation: sql.LevelReadCommitted}
}

// changed does nothing: a server keeps its files to itself.
func (e *postgres) changed(context.Context, *sql.Tx) error { return nil }

func (e *postgres) snapshot() *sql.TxOptions {
	return &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true}
}

func (e *postgres) tables() string {
	return `SELECT tablename FROM pg_tables WHERE schemaname = ANY (current_schemas(false))`
}

// guardBody is what the trigger of both tables does (tgtype 58 in pg_trigger:
// before a statement that updates, deletes or truncates).
const guardBody = `BEGIN RAISE EXCEPTION 'a ledger is only added to'; END`

func (e *postgres) guards() []string {
	out := []string{`CREATE FUNCTION ledger_only_added_to() RETURNS trigger LANGUAGE plpgsql AS
		$body$ ` + guardBody + ` $body$`}
	for _, table := range []string{"event", "stored_file"} {
		out = append(out, `CREATE TRIGGER `+table+`_only_added_to BEFORE UPDATE OR DELETE OR TRUNCATE ON `+table+
			` FOR EACH STATEMENT EXECUTE FUNCTION ledger_only_added_to()`)
	}
	return out
}

// Codes of PostgreSQL's errors (its manual, appendix A).
const (
	uniqueViolation       = "23505"
	serializationFailure  = "40001"
	deadlockDetected      = "40P01"
	insufficientPrivilege = "42501"
	readOnlyTransaction   = "25006"
	diskFull              = "53100"
	tooManyConnections    = "53300"
	dataCorrupted         = "XX001"
	indexCorrupted        = "XX002"
	undefinedTable        = "42P01"
	undefinedColumn       = "42703"
)

func (e *postgres) transient(err error) bool {
	var x *pgconn.PgError
	if !errors.As(err, &x) {
		return false
	}
	switch x.Code {
	case serializationFailure, deadlockDetected, tooManyConnections:
		return true
	case uniqueViolation: // another writer had the number or stored the file first
		return x.TableName == "event" || x.TableName == "stored_file"
	}
	return false
}

func (e *postgres) explain(err error) *Trouble {
	t := &Trouble{Err: err}
	if e.broken(err) {
		t.Text, t.Hint = "the ledger "+e.name()+" is damaged", "do not write to it; the server's keeper goes back to a backup"
		return t
	}
	var x *pgconn.PgError
	if !errors.As(err, &x) {
		var unreached *pgconn.ConnectError
		var network net.Error
		switch {
		case distrust(err) != nil:
			t.Text = fmt.Sprintf("the server of the ledger %s is not trusted: %v", e.name(), distrust(err))
			t.Hint = "sslrootcert names its certificate authority, and the address the host that its certificate is for; nothing was sent"
			return t
		case errors.As(err, &unreached) && strings.Contains(err.Error(), "refused TLS"): // the library has no error of its own for it
			t.Text = fmt.Sprintf("the server of the ledger %s offers no encryption, and the address asks for it", e.name())
			t.Hint = "its keeper turns TLS on; sslmode=disable does without, on a line that nobody else can read. Nothing was sent"
			return t
		}
		if errors.As(err, &unreached) || errors.As(err, &network) || pgconn.SafeToRetry(err) {
			t.Text = fmt.Sprintf("the server of the ledger %s is not reached", e.name())
			t.Hint = "is it running, and the address right? A change that was under way when the connection broke may or may not have been kept: shelfspan audit tells"
			return t
		}
		return nil
	}
	switch {
	case x.Code == insufficientPrivilege:
		t.Text = fmt.Sprintf("the user %s may not do this in the ledger %s", e.config.User, e.name())
		t.Hint = "its owner makes the tables once, with shelfspan register --prepare, and grants SELECT and INSERT on them"
	case x.Code == readOnlyTransaction:
		t.Text, t.Hint = "the ledger "+e.name()+" can only be read here", "is the server a standby? Name the one that is written to"
	case x.Code == diskFull:
		t.Text, t.Hint = "the disk of the ledger "+e.name()+" is full; nothing was changed", "make room on the server, then do it again"
	case strings.HasPrefix(x.Code, "28"), x.Code == "3D000":
		t.Text, t.Hint = fmt.Sprintf("the ledger %s refuses the user %s: %s", e.name(), e.config.User, x.Message), "check user, password (PGPASSWORD or a passfile) and database"
	default:
		t.Text = fmt.Sprintf("the ledger %s failed: %s (%s)", e.name(), x.Message, x.Code)
	}
	return t
}

// distrust gives why a server's certificate was not accepted; nil where it was not
// that. The library checks some certificates by itself (verify-ca), and its errors
// then have no common type.
func distrust(err error) error {
	var checked *tls.CertificateVerificationError
	var authority x509.UnknownAuthorityError
	var invalid x509.CertificateInvalidError
	switch {
	case errors.As(err, &checked):
		return checked.Err
	case errors.As(err, &authority):
		return authority
	case errors.As(err, &invalid):
		return invalid
	}
	return nil
}

func (e *postgres) broken(err error) bool {
	var x *pgconn.PgError
	if errors.As(err, &x) {
		switch x.Code {
		case dataCorrupted, indexCorrupted, undefinedTable, undefinedColumn:
			return true
		}
	}
	return misread(err)
}

// damage finds nothing: a server looks after its own pages.
func (e *postgres) damage(context.Context, *sql.DB) ([]string, error) { return nil, nil }

// unguarded looks for what keeps rows as they are and numbers single, and for
// what could keep a row out of sight: other triggers, rules, row security, a
// view in place of a table.
func (e *postgres) unguarded(ctx context.Context, tx *sql.Tx) ([]string, error) {
	wanted := []string{
		"the constraint PRIMARY KEY (seq) of event", "the constraint UNIQUE (hash) of event", "the constraint PRIMARY KEY (sha256) of stored_file",
		"the trigger event_only_added_to of event", "the trigger stored_file_only_added_to of stored_file",
	}
	rows, err := tx.QueryContext(ctx, `
		WITH tables AS (SELECT oid, relname, relkind, relrowsecurity FROM pg_class WHERE oid IN (to_regclass('event'), to_regclass('stored_file')))
		SELECT true, 'the constraint ' || pg_get_constraintdef(c.oid) || ' of ' || relname
			FROM pg_constraint c JOIN tables ON c.conrelid = tables.oid WHERE contype IN ('p', 'u')
		UNION ALL
		SELECT tgenabled IN ('O', 'A') AND tgtype = 58 AND tgqual IS NULL AND p.proname = 'ledger_only_added_to' AND btrim(p.prosrc, E' \n\t') = $1,
			'the trigger ' || tgname || ' of ' || relname
			FROM pg_trigger t JOIN tables ON t.tgrelid = tables.oid JOIN pg_proc p ON p.oid = t.tgfoid WHERE NOT tgisinternal
		UNION ALL
		SELECT false, 'the rule ' || rulename || ' of ' || relname FROM pg_rewrite r JOIN tables ON r.ev_class = tables.oid
		UNION ALL
		SELECT false, 'the row security of ' || relname FROM tables WHERE relrowsecurity
		UNION ALL
		SELECT false, 'what is no table and has the name ' || relname FROM tables WHERE relkind <> 'r'`, guardBody)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var found []string
	for rows.Next() {
		var sound bool
		var what string
		if err := rows.Scan(&sound, &what); err != nil {
			return nil, err
		}
		if i := slices.Index(wanted, what); sound && i >= 0 {
			wanted = slices.Delete(wanted, i, i+1)
			continue
		}
		found = append(found, what+" is none of a ledger's, or was changed")
	}
	for _, what := range wanted {
		found = append(found, what+" is missing, or was changed")
	}
	return found, rows.Err()
}
