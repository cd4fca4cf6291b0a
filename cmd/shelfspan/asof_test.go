package main

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/urfave/cli/v2"
)

// eventful is a study in whose ledger much happens.
const eventful = `[study]
id = "EV-1"
product = "Skin-care balm"
start = 2026-03-02
claim = "24M"

[[condition]]
id = "25C60"
role = "long-term"
temperature = 25.0
humidity = 60.0
pulls = ["0", "1M", "3M", "6M", "9M"]

[[condition]]
id = "32C60"
role = "intermediate"
temperature = 32.0
humidity = 60.0
pulls = ["0", "1M", "3M", "6M"]

[[condition]]
id = "40C75"
role = "accelerated"
temperature = 40.0
humidity = 75.0
pulls = ["0", "1M", "3M", "6M"]

[[batch]]
id = "B1"
factors = {thickener = "clay"}

[[batch]]
id = "B2"
factors = {thickener = "gum"}

[[pack]]
id = "tube"
control = true
tare = 9.5

[[pack]]
id = "jar"
tare = 30.0

[[attribute]]
id = "viscosity"
unit = "mPa.s"
kind = "measure"
lower = 18000.0
units = 2
decimals = 0

[[attribute]]
id = "appearance"
kind = "grade"
grades = ["none", "slight", "marked"]
upper = 1
units = 2

[[attribute]]
id = "weight-loss"
unit = "%"
kind = "weighing"
upper = 5.0
sampling = "returned"
units = 2
decimals = 2
conditions = ["25C60"]
`

// eventfulTable is a table of the study's results at one planned time, of made-up
// numbers: what is lost goes with the time, faster where it is hot, and a number
// that looks like chance but is the same every time.
func eventfulTable(months int, conditions ...string) string {
	rate := map[string]float64{"25C60": 90, "32C60": 210, "40C75": 520}
	t := "batch,condition,pack,time,unit,attribute,value,analyst\n"
	n := 0
	for _, condition := range conditions {
		for _, batch := range []string{"B1", "B2"} {
			for _, pack := range []string{"tube", "jar"} {
				for unit := 1; unit <= 2; unit++ {
					n++
					noise := 60 * math.Sin(float64(7*n+13*months))
					arm := fmt.Sprintf("%s,%s,%s,%dM,%d", batch, condition, pack, months, unit)
					t += fmt.Sprintf("%s,viscosity,%.0f,Ines\n", arm, 26000-rate[condition]*float64(months)+noise)
					grade := "none"
					if rate[condition]*float64(months) > 2000 && n%3 > 0 {
						grade = "slight"
					}
					t += fmt.Sprintf("%s,appearance,%s,Bo\n", arm, grade)
					if condition == "25C60" {
						gross := map[string]float64{"tube": 159.5, "jar": 180}[pack] - 0.1*float64(unit*months)
						t += fmt.Sprintf("%s,%s,%s,%dM,W%d,weight-loss,%.3f,Bo\n", batch, condition, pack, months, unit, gross)
					}
				}
			}
		}
	}
	return t
}

// asOfAnswers are the answers that are held: all that the commands give which read
// a state of the ledger, in all their formats. Of report, OUT stands for a
// directory.
var asOfAnswers = []string{
	"trend", "trend --format csv", "trend --format json", "trend --chart", "trend --chart --plain", "trend --batches random --coverage 0.9",
	"shelf-life", "shelf-life --format csv", "shelf-life --format json", "shelf-life --require-claim",
	"arrhenius", "arrhenius --format csv", "arrhenius --format json", "arrhenius --bootstrap 100 --attribute viscosity --pack tube",
	"interactions", "interactions --format csv", "interactions --format json --pairs --scale",
	"mkt log.csv --limit 25", "mkt log.csv --limit 25 --format csv", "mkt log.csv --limit 25 --format json",
	"results", "results --format csv", "results --format json", "results --changed", "results --pull EV-1-25C60-1M --format csv",
	"status", "status --format csv", "status --format json",
	"report -o OUT", "report -o OUT --section results,trends --attribute viscosity",
}

// asked gives what a command line answers: its output, its errors, and the files
// it writes, which are gone afterwards.
func asked(t *testing.T, line string, more ...string) string {
	t.Helper()
	dir := t.TempDir()
	args := append(strings.Fields("shelfspan "+strings.ReplaceAll(line, "OUT", dir)), more...)
	var out, errs bytes.Buffer
	status := run(context.Background(), args, strings.NewReader(""), &out, &errs)
	var all strings.Builder
	fmt.Fprintf(&all, "status %d\n%s\n%s\n", status, strings.ReplaceAll(out.String(), dir, "OUT"), errs.String())
	files, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range files {
		fmt.Fprintf(&all, "== %s\n%s\n", filepath.Base(path), read(t, path))
	}
	return all.String()
}

// What was asked of a ledger when an event was its last is answered byte for byte
// the same later, whatever happened since: by the number of the event, by its day
// where it was the last of one, by a clock that has gone on, and from a copy of the
// ledger in another place. The commands and formats are those of the program, so
// that a new one has to come in here.
func TestAsOfAnswersTheSame(t *testing.T) {
	everyAnswerIsHeld(t)
	t.Chdir(t.TempDir())
	t.Setenv("COLUMNS", "80")
	t.Setenv(ledgerVariable, ledgerFile)
	write := func(name, text string) {
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("log.csv", "Time,Temperature °C\n2026-04-01 08:00,24\n2026-04-01 12:00,31\n2026-04-01 16:00,24\n2026-04-02 08:00,23\n")
	write("v1.toml", eventful)
	// The second version asks for more and claims less; the third has a further
	// attribute, no more pulls at 9M, and another name of the product.
	second := strings.NewReplacer(`claim = "24M"`, `claim = "12M"`, "lower = 18000.0", "lower = 21000.0\nmodel = \"zero-order\"").Replace(eventful)
	write("v2.toml", second)
	write("v3.toml", strings.NewReplacer(`, "9M"]`, "]", "Skin-care balm", "Hand balm").Replace(second)+"\n[[attribute]]\nid = \"pH\"\nkind = \"measure\"\nlower = 5.0\n")
	write("other.toml", strings.Replace(smallStudy, "MB-26", "OTHER", 1))
	write("t0.csv", strings.ReplaceAll(eventfulTable(0, "25C60"), ",0M,", ",0,"))
	write("m1.csv", eventfulTable(1, "25C60", "32C60"))
	write("m1-hot.csv", eventfulTable(1, "40C75"))
	write("m3.csv", eventfulTable(3, "25C60", "32C60", "40C75"))
	write("m6.csv", eventfulTable(6, "25C60", "32C60", "40C75"))

	clock := now
	t.Cleanup(func() { now = clock })
	set := func(at string) {
		moment, err := time.Parse(time.RFC3339, at)
		if err != nil {
			t.Fatal(err)
		}
		now = func() time.Time { return moment }
	}
	type saved struct {
		event int64
		line  string
		more  []string
		want  string

		behind bool // an event that is dated on or before the day stands behind the next day's
	}
	var all []saved
	var lastOf []saved // answers of the last event of a day, by day
	kept := 0          // of all, those before this event
	day := ""
	event := int64(0)
	// Every event has a third of the answers, and the two behind it the others, for
	// the sake of time; under the race detector, which has nothing to find here, fewer.
	share := 3
	if racing {
		share = 16
	}
	keep := func() {
		kept = len(all)
		var more []string
		if event >= 8 { // before it the study was the only one, and need not be named later either
			more = []string{"--study", "EV-1"}
		}
		for i, line := range asOfAnswers {
			if (i+int(event))%share > 0 {
				continue
			}
			all = append(all, saved{event: event, line: line, more: more, want: asked(t, line, append(more, "--ledger", "shelfspan.db")...)})
		}
	}
	for _, step := range []struct {
		at, line string
		args     []string
	}{
		{"2026-03-02T09:00:00+01:00", "register v1.toml", nil},
		{"2026-03-02T10:00:00+01:00", "pull EV-1-T0", nil},
		{"2026-03-02T11:00:00+01:00", "intake t0.csv --study EV-1", nil},
		{"2026-04-02T09:00:00+02:00", "pull EV-1-25C60-1M", nil},
		{"2026-04-02T09:30:00+02:00", "intake m1.csv --study EV-1", nil},
		{"2026-04-20T09:00:00+02:00", "pull EV-1-40C75-1M", []string{"--reason", "chamber was locked"}},
		{"2026-04-20T09:10:00+02:00", "intake m1-hot.csv --study EV-1", nil},
		{"2026-04-21T09:10:00+02:00", "register other.toml", nil},
		{"2026-04-21T10:00:00+02:00", "pull EV-1-40C75-1M --withdraw", []string{"--reason", "the wrong day"}},
		{"2026-04-22T10:00:00+02:00", "pull EV-1-40C75-1M --date 2026-04-06", []string{"--reason", "as the chamber's log has it"}},
		{"2026-06-02T10:00:00+02:00", "pull EV-1-25C60-3M --units 1", []string{"--arm", "B1 tube", "--note", "the others tomorrow"}},
		{"2026-06-03T10:00:00+02:00", "intake m3.csv --study EV-1", nil},
		{"2026-06-04T10:00:00+02:00", "amend ID(m3.csv,2,viscosity) --value 25700", []string{"--reason", "digits swapped"}},
		{"2026-06-04T11:00:00+02:00", "amend ID(m3.csv,5,viscosity) --exclude", []string{"--reason", "spindle slipped"}},
		{"2026-06-10T11:00:00+02:00", "register v2.toml", []string{"--reason", "criterion asked for by the customer"}},
		{"2026-06-11T11:00:00+02:00", "amend ID(t0.csv,2,viscosity) --value 25950", []string{"--reason", "time zero read off the wrong scale"}},
		{"2026-06-12T11:00:00+02:00", "amend ID(m3.csv,5,viscosity) --restore", []string{"--reason", "no cause was found"}},
		{"2026-06-12T11:10:00+02:00", "amend ID(m3.csv,8,viscosity) --pulled 2026-06-05", []string{"--reason", "the label says the 5th"}},
		{"2026-06-12T11:20:00+02:00", "amend ID(m3.csv,8,viscosity) --tested 2026-06-09", []string{"--reason", "forgotten"}},
		{"2026-06-12T11:30:00+02:00", "amend ID(m3.csv,4,weight-loss) --tare 9.25", []string{"--reason", "weighed once more"}},
		{"2026-06-12T11:40:00+02:00", "amend --pull EV-1-40C75-3M --pulled 2026-06-01", []string{"--reason", "the oven's log has it"}},
		{"2026-06-12T12:00:00+02:00", "amend ID(m3.csv,2,viscosity) --exclude", []string{"--reason", "the notebook is lost"}},
		{"2026-09-02T12:00:00+02:00", "intake m6.csv --study EV-1", nil},
		{"2026-09-03T12:00:00+02:00", "register v3.toml", []string{"--reason", "pH from now on"}},
		// A clock that is months behind: its events belong to no earlier day.
		{"2026-04-03T12:00:00+02:00", "amend ID(m6.csv,2,viscosity) --exclude", []string{"--reason", "too good"}},
		{"2026-09-09T12:00:00+02:00", "amend ID(m6.csv,5,viscosity) --exclude", []string{"--reason", "the unit had leaked"}},
	} {
		if event > 0 && step.at[:10] > day {
			for _, s := range all[kept:] {
				if strings.HasPrefix(s.line, "report") && event%4 > 0 {
					continue
				}
				if strings.HasPrefix(s.line, "status") && now().Format(time.DateOnly) != day {
					continue // it went by the day of the clock that was behind
				}
				s.line += " --as-of " + day
				s.behind = day >= "2026-04-03" && day < "2026-09-03" && !strings.HasPrefix(s.want, "status 2")
				lastOf = append(lastOf, s)
			}
		}
		set(step.at)
		day = max(day, step.at[:10])
		line := step.line
		if before, rest, ok := strings.Cut(line, "ID("); ok {
			inside, after, _ := strings.Cut(rest, ")")
			line = before + idOf(t, strings.Split(inside, ",")) + after
		}
		if got := asked(t, line, append(step.args, "--by", "Ines")...); !strings.HasPrefix(got, "status 0\n") {
			t.Fatalf("%s: %s", line, got)
		}
		event++
		keep()
	}
	// Two years later, in another place.
	copied := filepath.Join(t.TempDir(), "moved.db")
	if err := os.WriteFile(copied, read(t, "shelfspan.db"), 0o644); err != nil {
		t.Fatal(err)
	}
	set("2028-09-03T12:00:00-05:00")
	var checks []saved
	for _, s := range all {
		s.line += " --as-of " + strconv.FormatInt(s.event, 10)
		checks = append(checks, s)
	}
	checks = append(checks, lastOf...)
	for _, s := range checks {
		got := asked(t, s.line, append(s.more, "--ledger", copied)...)
		// That the clock was set back later is told beside the answer.
		told := overtaken.FindString(got)
		if got = strings.Replace(got, told, "", 1); s.behind != (told != "") {
			t.Errorf("event %d, %s: that event 25 is dated before is told with %q", s.event, s.line, told)
		}
		if got != s.want {
			t.Errorf("event %d, %s: %s", s.event, s.line, firstUnlike(got, s.want))
		}
	}
}

// firstUnlike shows the first line in which two answers differ.
func firstUnlike(got, want string) string {
	a, b := strings.Split(got, "\n"), strings.Split(want, "\n")
	i := 0
	for i < len(a) && i < len(b) && a[i] == b[i] {
		i++
	}
	line := func(lines []string) string {
		if i >= len(lines) {
			return "its end"
		}
		return strconv.Quote(lines[i][:min(len(lines[i]), 300)])
	}
	return fmt.Sprintf("line %d is %s, and was %s", i+1, line(a), line(b))
}

// overtaken is the warning that a day leaves out an event dated before it.
var overtaken = regexp.MustCompile(`warning: event\s25[^?]*\?[^?]*too\n`)

// idOf gives the id of a result by its table, line and attribute.
func idOf(t *testing.T, place []string) string {
	t.Helper()
	for row := range strings.Lines(asked(t, "results --study EV-1 --format csv")) {
		if fields := strings.Split(row, ","); strings.Contains(row, ","+place[0]+","+place[1]+",") && slices.Contains(fields, place[2]) {
			return fields[0]
		}
	}
	t.Fatalf("no result of %v", place)
	return ""
}

// everyAnswerIsHeld fails where a command that reads a state of the ledger, or a
// format of it, is not among the answers held; and where one that reads the ledger
// knows no earlier state of it.
func everyAnswerIsHeld(t *testing.T) {
	t.Helper()
	has := func(c *cli.Command, name string) bool {
		return slices.ContainsFunc(c.Flags, func(f cli.Flag) bool { return slices.Contains(f.Names(), name) })
	}
	// These change the ledger, say what is to be done now, or list the events themselves.
	now := []string{"register", "due", "pull", "worksheet", "intake", "amend", "audit"}
	for _, c := range commands() {
		switch {
		case has(c, "results") && !has(c, "ledger"):
			t.Errorf("%s analyses results and does not read the ledger", c.Name)
		case has(c, "ledger") && !has(c, "as-of") && !slices.Contains(now, c.Name):
			t.Errorf("%s reads the ledger and takes no --as-of", c.Name)
		}
		if !has(c, "as-of") {
			continue
		}
		formats := []string{""}
		if has(c, "format") {
			formats = append(formats, "--format csv", "--format json")
		}
		for _, format := range formats {
			if !slices.ContainsFunc(asOfAnswers, func(line string) bool {
				return strings.Fields(line)[0] == c.Name && strings.Contains(line, format)
			}) {
				t.Errorf("no answer of %s %s is held", c.Name, format)
			}
		}
	}
}
