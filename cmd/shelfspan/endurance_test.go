package main

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib"

	"shelfspan/study/ledger"
	"shelfspan/study/ledger/ledgertest"
)

// built is the real program, built once for the tests that start processes of
// it: without the race detector, which would keep each a second. It lies in
// builtIn, which goes when all tests are done.
var built = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "shelfspan-built")
	if err != nil {
		return "", err
	}
	builtIn = dir
	path := filepath.Join(dir, "shelfspan")
	out, err := exec.Command("go", "build", "-o", path, ".").CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("%w: %s", err, out)
	}
	return path, os.Chmod(dir, 0o755)
})

var builtIn string

// program gives the program, built without the race detector, for which nothing is
// left to find in a test of it.
func program(t testing.TB) string {
	t.Helper()
	if racing {
		t.Skip("the program that this test starts has no race detector")
	}
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

// footprint is how large a file of a ledger and its log are; -1: not there.
type footprint struct{ file, log int64 }

func footprintOf(where string) footprint {
	size := func(path string) int64 {
		info, err := os.Stat(path)
		if err != nil {
			return -1
		}
		return info.Size()
	}
	return footprint{size(where), size(where + "-wal")}
}

// killable runs a command to its end or until f, which is told again and again of
// the footprint the ledger has, says that it is to be killed.
func killable(t *testing.T, cmd *exec.Cmd, where string, f func(footprint) bool) {
	t.Helper()
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan struct{})
	go func() { cmd.Wait(); close(ended) }()
	look := time.NewTicker(200 * time.Microsecond) // looking all the time would take a core from it
	defer look.Stop()
	for {
		select {
		case <-ended:
			return
		case <-look.C:
		}
		if f(footprintOf(where)) {
			cmd.Process.Kill()
			<-ended
			return
		}
	}
}

// A program killed at any moment of an intake leaves a ledger that opens, whose
// chain holds, and that has the file whole or not at all. Most of an intake is
// reading the file, so a part of the kills is aimed: at the log while it grows,
// and at what comes after, when it is kept, copied back and deleted.
func TestKilledAtAnyMoment(t *testing.T) {
	t.Parallel()
	shelfspan, dir := program(t), t.TempDir()
	file := writeFile(t, filepath.Join(dir, "rows.csv"), table(1, 50_000))
	studyFile := writeFile(t, filepath.Join(dir, "study.toml"), []byte(manyBatches()))
	intake := func(where string) *exec.Cmd { return exec.Command(shelfspan, "intake", file, "--ledger", where) }
	// How long it takes undisturbed, and what its log grows to, say where to aim.
	whole := filepath.Join(dir, "whole.db")
	if out, err := exec.Command(shelfspan, "register", studyFile, "--ledger", whole).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	empty := footprintOf(whole)
	registered, err := os.ReadFile(whole)
	if err != nil {
		t.Fatal(err)
	}
	began, logged := time.Now(), int64(0)
	killable(t, intake(whole), whole, func(now footprint) bool { logged = max(logged, now.log); return false })
	takes := time.Since(began)
	random := rand.New(rand.NewPCG(7, 40))
	in := 0
	fell := map[string]int{}
	for i := range 40 {
		where := writeFile(t, filepath.Join(dir, fmt.Sprintf("%d.db", i)), registered)
		began := time.Now()
		after, size := time.Duration(random.Float64()*float64(takes)), int64(random.Float64()*float64(logged))
		later := time.Duration(random.Float64() * float64(10*time.Millisecond))
		var full time.Time
		killable(t, intake(where), where, func(now footprint) bool {
			switch i % 4 {
			case 0:
				return time.Since(began) > after
			case 1:
				return now.log > size
			case 2: // soon after the log is whole
				if full.IsZero() && now.log >= logged {
					full = time.Now()
				}
				return !full.IsZero() && time.Since(full) > later
			}
			return now.file > empty.file // it is being copied back
		})
		switch now := footprintOf(where); {
		case now.log < 0 && now.file == empty.file:
			fell["before its log"]++
		case now.log >= 0 && now.log < logged:
			fell["in its log"]++
		case now.log >= 0 && now.file == empty.file:
			fell["with its log whole"]++
		case now.log >= 0:
			fell["copying back"]++
		default:
			fell["when it was done"]++
		}
		in += checkWhole(t, where, 50_000)
	}
	if fell["in its log"] == 0 || in == 0 || in == 40 {
		t.Error("the kills did not fall where they were aimed")
	}
	t.Logf("an intake of %v was killed 40 times, %v; the file was in %d times", takes, fell, in)
}

// The same for what takes a moment, from the making of the ledger on: killed, it
// was done whole or not at all, and done again it is done once.
func TestKilledInEveryCommand(t *testing.T) {
	onEither(t, killedInEveryCommand)
}

// onEither runs a test with the address of a ledger that is yet to be made, a file
// and a database of a server, side by side with other such tests: what they wait
// for is mostly the programs they start.
func onEither(t *testing.T, test func(t *testing.T, where string)) {
	t.Parallel()
	t.Run("file", func(t *testing.T) { t.Parallel(); test(t, filepath.Join(t.TempDir(), "lab.db")) })
	t.Run("server", func(t *testing.T) { t.Parallel(); test(t, ledgertest.Database(t)) })
}

func killedInEveryCommand(t *testing.T, where string) {
	shelfspan, dir := program(t), t.TempDir()
	studyFile := func(more string) string {
		return writeFile(t, filepath.Join(dir, "study"+more+".toml"), []byte(strings.Replace(manyBatches(), `"6M"`, `"6M"`+more, 1)))
	}
	rows := writeFile(t, filepath.Join(dir, "rows.csv"), table(1, 200))
	commands := [][]string{{"register", studyFile("")}, {"intake", rows}}
	for i := 1; i <= 6; i++ {
		own := writeFile(t, filepath.Join(dir, fmt.Sprintf("own%d.csv", i)), table(i, 200+i))
		commands = append(commands,
			[]string{"pull", "SB-25C60-3M", "--date", "2025-04-14", "--arm", fmt.Sprintf("B%d", i)},
			[]string{"amend", "ID", "--value", fmt.Sprintf("9%d.5", i), "--reason", "misread"},
			[]string{"intake", own},
			[]string{"register", studyFile(fmt.Sprintf(`, "%dM"`, 8+i)), "--reason", "a pull moved"})
	}
	random, longest := rand.New(rand.NewPCG(9, 1)), 35*time.Millisecond
	if strings.HasPrefix(where, "postgres") {
		longest = 70 * time.Millisecond
	}
	id, events, in := "", int64(0), 0
	for i, args := range commands {
		if i == 2 {
			id = regexp.MustCompile(`R2-2-assay-.`).FindString(say(t, nil, shelfspan, "results", "--unit", "u0", "--format", "csv", "--ledger", where).stdout)
		}
		if args[0] == "amend" {
			args[1] = id
		}
		args = append(args, "--ledger", where)
		rounds := 1
		if i == 0 {
			rounds = 12 // the making of the ledger
		}
		done := false
		for round := 0; round < rounds && !done; round++ {
			began, after := time.Now(), time.Duration(random.Float64()*float64(longest))
			killable(t, exec.Command(shelfspan, args...), where, func(now footprint) bool {
				if (i+round)%2 == 0 && now.file >= 0 {
					return now.log > int64(random.IntN(40_000)) // written to
				}
				return time.Since(began) > after
			})
			n := eventsIn(t, where)
			if n != events && n != events+1 {
				t.Fatalf("%v: %d events after %d", args, n, events)
			}
			done = n == events+1
		}
		if done {
			in++
		}
		s := say(t, nil, shelfspan, args...)
		events++
		if n := eventsIn(t, where); n != events || ofDatabases.MatchString(s.stderr) || !done && s.status != 0 {
			t.Fatalf("%v: %d events, want %d: %+v", args, n, events, s)
		}
	}
	t.Logf("%d commands killed, of which %d were done by then", len(commands), in)
}

// eventsIn verifies a ledger and counts its events; one that is not there has none.
func eventsIn(t *testing.T, where string) int64 {
	t.Helper()
	l, err := ledger.Open(context.Background(), where)
	if err != nil {
		if strings.Contains(err.Error(), "there is no ledger") {
			return 0
		}
		t.Fatal(err)
	}
	defer l.Close()
	v, err := l.Verify(context.Background(), "", nil)
	if err != nil || len(v.Faults) > 0 {
		t.Fatalf("%+v, %v", v, err)
	}
	return v.Events
}

// One of two is killed while the other waits for it, or is about to: the other
// does its work.
func TestKilledWhileAnotherWaits(t *testing.T) {
	t.Parallel()
	shelfspan, dir := program(t), t.TempDir()
	rows := writeFile(t, filepath.Join(dir, "rows.csv"), table(1, 20_000))
	studyFile := writeFile(t, filepath.Join(dir, "study.toml"), []byte(manyBatches()))
	for name, place := range map[string]func(*testing.T) string{
		"file": func(t *testing.T) string { return filepath.Join(t.TempDir(), "lab.db") }, "server": func(t *testing.T) string { return ledgertest.Database(t) },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			random := rand.New(rand.NewPCG(5, 5))
			for range 6 {
				where := place(t)
				if s := say(t, nil, shelfspan, "register", studyFile, "--ledger", where); s.status != 0 {
					t.Fatal(s)
				}
				first := exec.Command(shelfspan, "intake", rows, "--ledger", where)
				if err := first.Start(); err != nil {
					t.Fatal(err)
				}
				kill := time.AfterFunc(time.Duration(random.Float64()*float64(200*time.Millisecond)), func() { first.Process.Kill() })
				for i := range 3 {
					if s := say(t, nil, shelfspan, "pull", "SB-25C60-3M", "--date", "2025-04-14", "--arm", fmt.Sprintf("B%d", i+1), "--ledger", where); s.status != 0 {
						t.Errorf("%+v", s)
					}
				}
				first.Wait()
				kill.Stop()
				if n := eventsIn(t, where); n != 4 && n != 5 {
					t.Errorf("%d events", n)
				}
			}
		})
	}
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
	onEither(t, manyHands)
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
