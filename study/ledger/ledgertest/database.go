// Package ledgertest makes databases on a server, for tests of ledgers.
package ledgertest

import (
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"sync/atomic"
	"testing"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver
)

// variable names a server the tests may make databases on, as
// postgres://user@host:port/postgres.
const variable = "SHELFSPAN_TEST_POSTGRES"

// Server gives the address of a server the tests may make databases on. A test is
// skipped where none is named, and fails in the gate, which starts one.
func Server(t testing.TB) string {
	t.Helper()
	server := os.Getenv(variable)
	if server == "" {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s names no server, and the gate starts one", variable)
		}
		t.Skipf("%s names no server", variable)
	}
	return server
}

// Database makes an empty database on the server, gone when the test ends, and
// gives its address.
func Database(t testing.TB) string {
	t.Helper()
	where, drop, err := Make(Server(t))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := drop(); err != nil {
			t.Error(err)
		}
	})
	return where
}

var made atomic.Int64

// Make makes an empty database on a server; drop removes it. Its name is always as
// long, so that answers which have it break their lines in the same places.
func Make(server string) (where string, drop func() error, err error) {
	u, err := url.Parse(server)
	if err != nil {
		return "", nil, err
	}
	db, err := sql.Open("pgx", server)
	if err != nil {
		return "", nil, err
	}
	name := fmt.Sprintf("shelfspan_test_%d_%04d", time.Now().UnixNano(), made.Add(1))
	if _, err := db.Exec("CREATE DATABASE " + name); err != nil {
		return "", nil, errors.Join(err, db.Close())
	}
	u.Path = "/" + name
	return u.String(), func() error {
		_, err := db.Exec("DROP DATABASE " + name + " WITH (FORCE)")
		return errors.Join(err, db.Close())
	}, nil
}
