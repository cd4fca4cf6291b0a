package page

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"shelfspan/reports/pdf/pdftest"
	"shelfspan/reports/summary"
	"shelfspan/study"
	"shelfspan/testdata"
)

// otherwise are the headings and captions of the PDF that have another counterpart on
// the page, or none for a reason.
var otherwise = map[string]struct{ on, reason string }{
	"Contents":                        {"Contents", "it is the page's navigation"},
	"Trends at the storage condition": {"Trends", "the page keeps all of an attribute together"},
	"Trends at the other conditions":  {"Trends", "the page keeps all of an attribute together"},
	"Signatures":                      {"", "what is signed is the PDF"},
}

// byArm are how the PDF's tables of results begin, one for each batch, pack and
// condition, to be filed; on the page they stand by attribute, to be compared.
// TestEverySampleSpeaks holds that none is missing.
var byArm = []string{"Results at ", "Batch "}

// The sizes in points of the PDF's headings and captions (reports/pdf): of sections, of
// what stands below them, and of captions.
var headings = []float64{15, 11, 8.5}

// TestCounterparts: whatever stands over something in the PDF, its sections and the
// captions of tables and figures, stands over the same on the page, word for word, or
// is listed with the reason.
func TestCounterparts(t *testing.T) {
	for name, in := range map[string]Input{"demo": withRecord(demo(t)), "lifetimes": lifetimes(t)} {
		var pdf bytes.Buffer
		if err := summary.Write(&pdf, in); err != nil {
			t.Fatal(err)
		}
		root := parsed(t, written(t, in))
		over := " "
		for _, n := range elements(root, "h2", "h3", "h4", "caption", "figcaption", "summary", "p") {
			if n.Data != "p" || attribute(n, "class") != "" { // notes, and the line below the title
				over += textOf(n) + " | "
			}
		}
		seen := map[string]bool{}
		for _, content := range pdftest.Contents(t, pdf.Bytes()) {
			for _, w := range pdftest.Words(content) {
				line := strings.Join(strings.Fields(strings.NewReplacer(" (continued)", "", " (further columns)", "").Replace(w.Text)), " ")
				if !slices.Contains(headings, w.Size) || seen[line] || line == "" {
					continue
				}
				seen[line] = true
				if slices.ContainsFunc(byArm, func(head string) bool { return strings.HasPrefix(line, head) }) {
					continue
				}
				if other, listed := otherwise[line]; listed {
					if other.on != "" && !strings.Contains(over, " "+other.on+" |") {
						t.Errorf("%s: the page lacks %q, which is for %q", name, other.on, line)
					}
					continue
				}
				if !strings.Contains(over, line) {
					t.Errorf("%s: nothing on the page stands under %q", name, line)
				}
			}
		}
		if len(seen) < 40 {
			t.Errorf("%s: the PDF has %d headings and captions: are their sizes still %v?", name, len(seen), headings)
		}
	}
}

// withRecord adds a pull that departed from the plan and a result that was changed.
func withRecord(in Input) Input {
	d := in.Evaluation.Dataset
	d.Changes = []study.Change{{ID: "R4-806-viscosity-8", Kind: study.Amended, Result: d.Results[0], Before: "29942", After: "29924",
		Reason: "digits swapped in the notebook", By: "T1", At: "2026-07-14T10:11:12Z", Event: 9}}
	d.Pulls = []study.PullRecord{{Pull: "SB-25-45C-3M", Day: study.NewDate(2025, 5, 14), By: "T1", Reason: "oven being calibrated", Outside: 4}}
	d.Protocols = []study.ProtocolVersion{{Version: 1, Name: "study.toml", Event: 1, At: "2025-02-01T08:00:00Z", By: "T1"},
		{Version: 2, Name: "study.toml", Event: 7, At: "2026-01-15T08:00:00Z", By: "T2", Reason: "criterion as agreed with the customer"}}
	return in
}

// lifetimes is a study of grades and of a leak check in which units failed at several
// temperatures, as testdata has it.
func lifetimes(t testing.TB) Input {
	t.Helper()
	folder := filepath.Join("..", "..", "testdata", "reference", "lifetimes-study")
	read := func(name string) string {
		b, err := os.ReadFile(filepath.Join(folder, name))
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	return evaluated(t, read("study.toml"), testdata.Table("results.csv", read("results.csv")))
}
