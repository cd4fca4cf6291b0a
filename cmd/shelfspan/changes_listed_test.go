package main

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"shelfspan/reports/pdf/pdftest"
)

// madeChange is a change of a result as every answer is to list it.
type madeChange struct{ line, before, after, reason, by, at string }

// changedLedger makes a ledger of the eventful study whose results were changed in
// every way, and gives what was changed.
func changedLedger(t *testing.T) []madeChange {
	t.Helper()
	t.Chdir(t.TempDir())
	t.Setenv("COLUMNS", "80")
	t.Setenv(ledgerVariable, ledgerFile)
	clock := now
	t.Cleanup(func() { now = clock })
	for name, text := range map[string]string{
		"study.toml": eventful,
		"log.csv":    "Time,Temperature °C\n2026-04-01 08:00,24\n2026-04-01 12:00,31\n2026-04-01 16:00,24\n2026-04-02 08:00,23\n",
		"t0.csv":     strings.ReplaceAll(eventfulTable(0, "25C60"), ",0M,", ",0,"),
		"m1.csv":     eventfulTable(1, "25C60", "32C60", "40C75"),
		"m3.csv":     eventfulTable(3, "25C60", "32C60", "40C75"),
		"m6.csv":     eventfulTable(6, "25C60", "32C60", "40C75"),
	} {
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	do := func(line string, more ...string) {
		t.Helper()
		if got := asked(t, line, more...); !strings.HasPrefix(got, "status 0\n") {
			t.Fatalf("%s: %s", line, got)
		}
	}
	at := time.Date(2026, 9, 2, 9, 0, 0, 0, time.UTC)
	now = func() time.Time { return at }
	do("register study.toml --by Ines")
	do("pull EV-1-25C60-3M --date 2026-06-03 --by Ines")
	do("intake t0.csv m1.csv m3.csv m6.csv --by Ines")
	changes := []madeChange{
		{"m3.csv,2 --value 25700", "25784", "25700", "digits swapped", "Bo", ""},
		{"m3.csv,2 --value 25710", "25700", "25710", "read once more", "Ines", ""},
		{"m3.csv,5 --exclude", "25754", "", "spindle slipped", "Bo", ""},
		{"m3.csv,5 --restore", "25754", "", "no cause was found", "Ines", ""},
		{"t0.csv,2 --value 25950", "26039", "25950", "zero misread", "Bo", ""},
		{"t0.csv,2 --exclude", "25950", "", "notebook is lost", "Bo", ""},
		{"t0.csv,2 --restore", "25950", "", "notebook was found", "Ines", ""},
		{"m6.csv,2 --exclude", "25449", "", "leaked from its seam", "Cleo", ""},
		{"m1.csv,2 --value 25890", "25965", "25890", "typed twice", "Bo", ""},
		{"m1.csv,2 --exclude", "25890", "", "the wrong jar", "Cleo", ""},
		{"m3.csv,8 --pulled 2026-06-05", "2026-06-03", "2026-06-05", "labelled the fifth", "Bo", ""},
		{"m3.csv,8 --tested 2026-06-09", "", "2026-06-09", "day left open", "Ines", ""},
		{"t0.csv,4 --tare 9.25", "9.5", "9.25", "tube of another make", "Cleo", ""},
	}
	for i := range changes {
		c := &changes[i]
		place, how, _ := strings.Cut(c.line, " ")
		at = at.Add(time.Minute)
		c.at = at.Format("2006-01-02T15:04")
		attribute := "viscosity"
		if strings.Contains(how, "--tare") {
			attribute = "weight-loss"
		}
		do("amend "+idOf(t, append(strings.Split(place, ","), attribute))+" "+how, "--reason", c.reason, "--by", c.by)
	}
	return changes
}

// oneSpace writes a text with single spaces for its line ends and indents.
func oneSpace(text string) string { return strings.Join(strings.Fields(text), " ") }

// Every answer that results go into lists each change of one, with what stood
// before and after, why, by whom and when: as text, beside a table in CSV, in
// JSON, and in the documents, whichever of their parts are asked for.
func TestEveryAnswerListsTheChanges(t *testing.T) {
	changes := changedLedger(t)
	for _, line := range append([]string{"status --study EV-1 --format csv", "trend --attribute appearance", "report -o OUT --section conclusion"}, asOfAnswers...) {
		if strings.HasPrefix(line, "results --pull") {
			continue // of one pull
		}
		dir := t.TempDir()
		said := asked(t, strings.ReplaceAll(line, "OUT", dir), "--ledger", ledgerFile)
		texts := map[string]string{line: said}
		if strings.HasPrefix(line, "report") {
			texts = map[string]string{"page": string(read(t, dir+"/report.html")), "evaluation.json": string(read(t, dir+"/evaluation.json"))}
			if pages := pdftest.Pages(t, read(t, dir+"/report.pdf")); pages != nil {
				texts["PDF"] = strings.Join(pages, "\n")
			}
		}
		for name, text := range texts {
			text = oneSpace(text)
			for _, c := range changes {
				at := strings.Index(text, c.reason)
				if at < 0 {
					t.Errorf("%s, %s: %q is not listed", line, name, c.reason)
					continue
				}
				around := strings.ReplaceAll(text[max(0, at-300):min(len(text), at+300)], c.at, strings.Replace(c.at, "T", " ", 1))
				for _, want := range []string{c.before, c.after, c.by, strings.Replace(c.at, "T", " ", 1)} {
					if !strings.Contains(around, want) {
						t.Errorf("%s, %s: beside %q is no %s: %s", line, name, c.reason, want, around)
					}
				}
			}
		}
	}
}

// The table that report writes gives, with the study file, the same numbers to the
// last digit, and lists what the table says of changes: who amended and excluded
// what, when and why.
func TestWrittenTableEvaluatesTheSame(t *testing.T) {
	changes := changedLedger(t)
	if got := asked(t, "report -o books --study EV-1"); !strings.HasPrefix(got, "status 0\n") {
		t.Fatal(got)
	}
	if got := asked(t, "report -o again -s study.toml -r books/results.csv"); !strings.HasPrefix(got, "status 0\n") {
		t.Fatal(got)
	}
	if string(read(t, "books/fits.csv")) != string(read(t, "again/fits.csv")) {
		t.Error("the fits are others")
	}
	answer := func(dir string) map[string]any {
		var x map[string]any
		if err := json.Unmarshal(read(t, dir+"/evaluation.json"), &x); err != nil {
			t.Fatal(err)
		}
		for _, own := range []string{"inputs", "ledger", "changes", "fingerprint"} {
			delete(x, own)
		}
		return x
	}
	if a, b := fmt.Sprint(answer("books")), fmt.Sprint(answer("again")); a != b {
		t.Errorf("the answers differ: %s", firstUnlike(strings.ReplaceAll(b, " ", "\n"), strings.ReplaceAll(a, " ", "\n")))
	}
	for _, name := range []string{"books/results.csv", "again/results.csv", "again/report.html", "again/evaluation.json"} {
		text := oneSpace(string(read(t, name)))
		for _, c := range changes {
			if strings.HasSuffix(c.line, "--restore") || strings.HasPrefix(c.line, "m3.csv,5") || strings.HasPrefix(c.line, "t0.csv,2 --exclude") {
				continue // put back: the table has no exclusion any more
			}
			at := strings.Index(text, c.reason)
			if at < 0 {
				t.Errorf("%s: %q is not listed", name, c.reason)
				continue
			}
			if around, want := text[at:min(len(text), at+300)], strings.Replace(c.at, "T", " ", 1)+", by "+c.by; !strings.Contains(around, want) {
				t.Errorf("%s: beside %q is no %q: %s", name, c.reason, want, around)
			}
		}
	}
}
