package ledger

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"shelfspan/study/ledger/ledgertest"
)

// sqlitePlace and postgresPlace give the address of a ledger that is not there
// yet.
func sqlitePlace(t testing.TB) string { return filepath.Join(t.TempDir(), "lab.db") }

func postgresPlace(t testing.TB) string { t.Helper(); return ledgertest.Database(t) }

// onBoth runs a test against either engine.
func onBoth(t *testing.T, test func(t *testing.T, where string)) {
	t.Run("sqlite", func(t *testing.T) { t.Parallel(); test(t, sqlitePlace(t)) })
	t.Run("postgres", func(t *testing.T) { t.Parallel(); test(t, postgresPlace(t)) })
}

// create opens a new ledger and closes it when the test ends.
func create(t testing.TB, where string) *Ledger {
	t.Helper()
	l, err := Create(context.Background(), where)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l
}

// opened opens a ledger that is there.
func opened(t *testing.T, where string) *Ledger {
	t.Helper()
	l, err := Open(context.Background(), where)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l
}

var noon = time.Date(2025, 4, 14, 12, 0, 0, 0, time.FixedZone("", 2*3600))

func ada(now time.Time) Author { return Author{By: "A. Technician", Now: now, Account: "ada"} }

const smallStudy = `[study]
id = "SB"
product = "Skin-care balm"
start = 2025-01-13
claim = "24M"
[[condition]]
id = "25C60"
role = "long-term"
temperature = 25.0
humidity = 60.0
pulls = ["0", "3M", "6M", "12M"]
chamber = "room"
[[chamber]]
id = "room"
[[batch]]
id = "B1"
[[batch]]
id = "B2"
[[attribute]]
id = "assay"
unit = "%"
kind = "measure"
lower = 90.0
units = 2
decimals = 1
`

func registered(t testing.TB, l *Ledger, text string) *RegisterOutcome {
	t.Helper()
	out, err := l.Register(context.Background(), ada(noon), "study.toml", []byte(text), "")
	if err != nil {
		t.Fatal(err)
	}
	return out
}
