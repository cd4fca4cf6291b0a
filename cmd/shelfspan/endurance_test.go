package main

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib"

	"shelfspan/study/ledger"
)

// built is the real program, built once for the tests that start processes of
// it: without the race detector, which would keep each a second.
var built = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "shelfspan-built")
	if err != nil {
		return "", err
	}
	path := filepath.Join(dir, "shelfspan")
	out, err := exec.Command("go", "build", "-o", path, ".").CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("%w: %s", err, out)
	}
	return path, os.Chmod(dir, 0o755)
})

func program(t testing.TB) string {
	t.Helper()
	path, err := built()
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// manyBatches is a study of eight batches, one for each of eight technicians.
func manyBatches() string {
	var b strings.Builder
	b.WriteString("[study]\nid = \"SB\"\nproduct = \"Skin-care balm\"\nstart = 2025-01-13\n[[condition]]\nid = \"25C60\"\nrole = \"long-term\"\ntemperature = 25.0\npulls = [\"0\", \"3M\", \"6M\"]\n")
	for i := range 8 {
		fmt.Fprintf(&b, "[[batch]]\nid = \"B%d\"\n", i+1)
	}
	b.WriteString("[[attribute]]\nid = \"assay\"\nunit = \"%\"\nlower = 90.0\nunits = 2\n")
	return b.String()
}

// table is n results of a batch.
func table(batch, n int) []byte {
	var b bytes.Buffer
	b.WriteString("batch,condition,time,attribute,unit,value\n")
	for i := range n {
		fmt.Fprintf(&b, "B%d,25C60,%s,assay,u%d,%.1f\n", batch, []string{"3M", "6M"}[i%2], i, 95+float64(i%50)/10)
	}
	return b.Bytes()
}

func writeFile(t testing.TB, path string, data []byte) string {
	t.Helper()
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// A program killed at any moment of an intake leaves a ledger that opens, whose
// chain holds, and that has the file whole or not at all.
func TestKilledAtAnyMoment(t *testing.T) {
	shelfspan, dir := program(t), t.TempDir()
	file := writeFile(t, filepath.Join(dir, "rows.csv"), table(1, 50_000))
	studyFile := writeFile(t, filepath.Join(dir, "study.toml"), []byte(manyBatches()))
	intake := func(where string) *exec.Cmd { return exec.Command(shelfspan, "intake", file, "--ledger", where) }
	register := func(where string) {
		if out, err := exec.Command(shelfspan, "register", studyFile, "--ledger", where).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
	}
	// How long it takes undisturbed says between which moments to kill.
	whole := filepath.Join(dir, "whole.db")
	register(whole)
	began := time.Now()
	if out, err := intake(whole).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	takes := time.Since(began)
	random := rand.New(rand.NewPCG(7, 40))
	in := 0
	for i := range 40 {
		where := filepath.Join(dir, fmt.Sprintf("%d.db", i))
		register(where)
		cmd := intake(where)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		kill := time.AfterFunc(time.Duration(random.Float64()*float64(takes)), func() { cmd.Process.Kill() })
		cmd.Wait()
		kill.Stop()
		in += checkWhole(t, where, 50_000)
	}
	t.Logf("an intake of %v was killed 40 times; the file was in %d times", takes, in)
}

// checkWhole checks a ledger of one study into which one file may have been taken,
// and counts the file.
func checkWhole(t *testing.T, where string, results int) int {
	t.Helper()
	ctx := context.Background()
	l, err := ledger.Open(ctx, where)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	v, err := l.Verify(ctx, "", nil)
	if err != nil || len(v.Faults) > 0 {
		t.Fatalf("%+v, %v", v, err)
	}
	x, err := l.Study(ctx, "SB", ledger.AsOf{})
	if err != nil {
		t.Fatal(err)
	}
	d, err := x.Dataset()
	if err != nil {
		t.Fatal(err)
	}
	switch {
	case v.Events == 1 && v.Files == 2 && len(d.Results) == 0:
		return 0
	case v.Events == 2 && v.Files == 3 && len(d.Results) == results:
		return 1
	}
	t.Fatalf("%d events, %d files and %d results: neither whole nor not at all", v.Events, v.Files, len(d.Results))
	return 0
}

// ofDatabases are words that no user should have to read.
var ofDatabases = regexp.MustCompile(`(?i)locked|busy|sqlite|sqlstate|deadlock|serializ|duplicate key|panic|goroutine`)

// Eight people at once: nothing is lost, nothing is there twice, nobody is told of
// databases, and the chain holds.
func TestManyHands(t *testing.T) {
	t.Run("file", func(t *testing.T) { manyHands(t, filepath.Join(t.TempDir(), "lab.db")) })
	t.Run("server", func(t *testing.T) { manyHands(t, newDatabase(t)) })
}

// postgresServer gives the server the tests may make databases on. Tests of it are
// skipped where none is named; the gate starts one.
func postgresServer(t *testing.T) string {
	t.Helper()
	server := os.Getenv("SHELFSPAN_TEST_POSTGRES")
	if server == "" {
		if os.Getenv("CI") != "" {
			t.Fatal("SHELFSPAN_TEST_POSTGRES names no server, and the gate starts one")
		}
		t.Skip("SHELFSPAN_TEST_POSTGRES names no server")
	}
	return server
}

// newDatabase makes an empty database on that server, for one test.
func newDatabase(t *testing.T) string {
	t.Helper()
	where, drop, err := makeDatabase(postgresServer(t))
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

var databases atomic.Int64

// makeDatabase makes an empty database on a server; drop removes it.
func makeDatabase(server string) (where string, drop func() error, err error) {
	u, err := url.Parse(server)
	if err != nil {
		return "", nil, err
	}
	db, err := sql.Open("pgx", server)
	if err != nil {
		return "", nil, err
	}
	name := fmt.Sprintf("shelfspan_cmd_%d_%d", os.Getpid(), databases.Add(1))
	if _, err := db.Exec("CREATE DATABASE " + name); err != nil {
		return "", nil, errors.Join(err, db.Close())
	}
	u.Path = "/" + name
	return u.String(), func() error {
		_, err := db.Exec("DROP DATABASE " + name + " WITH (FORCE)")
		return errors.Join(err, db.Close())
	}, nil
}

func manyHands(t *testing.T, where string) {
	shelfspan, dir := program(t), t.TempDir()
	studyFile := writeFile(t, filepath.Join(dir, "study.toml"), []byte(manyBatches()))
	shared := writeFile(t, filepath.Join(dir, "shared.csv"), []byte("batch,condition,time,attribute,unit,value\nB1,25C60,6M,assay,shared,97.5\n"))

	var mu sync.Mutex
	done := make(map[string]int) // how often each command was carried out
	play := func(who int, refused bool, name string, args ...string) string {
		cmd := exec.Command(shelfspan, append(args, "--ledger", where)...)
		var stdout, stderr bytes.Buffer
		cmd.Stdout, cmd.Stderr = &stdout, &stderr
		err := cmd.Run()
		if ofDatabases.MatchString(stdout.String() + stderr.String()) {
			t.Errorf("%d: %v: %s", who, args, &stderr)
		}
		if err != nil && !(refused && cmd.ProcessState.ExitCode() == statusRejected) {
			t.Errorf("%d: %v: %v: %s", who, args, err, &stderr)
		}
		if err == nil {
			mu.Lock()
			done[name]++
			mu.Unlock()
		}
		return stdout.String()
	}
	// All at once: the ledger is made, and the study registered, by one of them.
	together := func(f func(who int)) {
		var all sync.WaitGroup
		for who := 1; who <= 8; who++ {
			all.Add(1)
			go func() { defer all.Done(); f(who) }()
		}
		all.Wait()
	}
	together(func(who int) { play(who, false, "register", "register", studyFile) })
	id := regexp.MustCompile(`R\d+-2-assay-[0-9A-Z]`)
	together(func(who int) {
		file := filepath.Join(dir, fmt.Sprintf("own%d.csv", who))
		if err := os.WriteFile(file, table(who, 200), 0o644); err != nil {
			t.Error(err)
			return
		}
		play(who, false, "due", "due", "--on", "2025-04-20")
		play(who, false, "own pull", "pull", "SB-25C60-3M", "--date", "2025-04-14", "--arm", fmt.Sprintf("B%d", who), "--by", fmt.Sprintf("T%d", who))
		play(who, true, "same pull", "pull", "SB-25C60-6M", "--date", "2025-07-14", "--by", fmt.Sprintf("T%d", who))
		play(who, false, "intake", "intake", file, "--study", "SB", "--by", fmt.Sprintf("T%d", who))
		play(who, false, "shared", "intake", shared, "--study", "SB", "--by", fmt.Sprintf("T%d", who))
		ids := id.FindAllString(play(who, false, "results", "results", "--study", "SB", "--batch", fmt.Sprintf("B%d", who), "--unit", "u0", "--format", "csv"), -1)
		if len(ids) != 1 {
			t.Errorf("%d: results with ids %v", who, ids)
			return
		}
		play(who, false, "amend", "amend", ids[0], "--value", "91.5", "--reason", "misread", "--by", fmt.Sprintf("T%d", who))
		play(who, false, "status", "status", "--study", "SB")
		play(who, false, "verify", "audit", "--verify")
	})
	for name, want := range map[string]int{"register": 8, "due": 8, "own pull": 8, "same pull": 1, "intake": 8, "shared": 8, "results": 8, "amend": 8, "status": 8, "verify": 8} {
		if done[name] != want {
			t.Errorf("%s was carried out %d times, want %d", name, done[name], want)
		}
	}
	l, err := ledger.Open(context.Background(), where)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	v, err := l.Verify(context.Background(), "", nil)
	// One registration, eight pulls and one, eight tables and one, eight amendments.
	if err != nil || len(v.Faults) > 0 || v.Events != 1+8+1+8+1+8 {
		t.Errorf("%+v, %v", v, err)
	}
	x, err := l.Study(context.Background(), "SB", ledger.AsOf{})
	if err != nil {
		t.Fatal(err)
	}
	d, err := x.Dataset()
	if err != nil || len(d.Results) != 8*200+1 || len(d.Changes) != 8 || len(d.Pulls) != 9 {
		t.Errorf("%v: %d results, %d changes, %d pulls", err, len(d.Results), len(d.Changes), len(d.Pulls))
	}
}
