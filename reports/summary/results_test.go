package summary

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"shelfspan/reports/pdf/pdftest"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// TestEveryValueIsInTheTables: each sample's own value, in the table of its arm.
func TestEveryValueIsInTheTables(t *testing.T) {
	in := evaluated()
	in.Parts = []words.Section{words.SectionResults}
	all := strings.Join(pdftest.Pages(t, write(t, in)), "\n")
	s := in.Evaluation.Dataset.Study
	tables := map[string][]string{} // by caption, the words of its text
	captions := regexp.MustCompile(`Batch \S+ in (?:jar|can upright|can inverted) at \S+`).FindAllStringIndex(all, -1)
	for i, at := range captions {
		end := len(all)
		if i+1 < len(captions) {
			end = captions[i+1][0]
		}
		caption := all[at[0]:at[1]]
		tables[caption] = append(tables[caption], strings.FieldsFunc(all[at[1]:end], func(r rune) bool { return strings.ContainsRune(" \n\u00a0()–", r) })...)
	}
	n := 0
	for _, a := range in.Evaluation.Analyses {
		at := &s.Attributes[a.Attribute]
		for i := range a.Samples {
			x := &a.Samples[i]
			caption := fmt.Sprintf("Batch %s in %s at %s", s.Batches[x.Batch].ID, words.PackName(s, a.Pack, a.Orientation), s.Conditions[a.Condition].ID)
			value := words.Measured(at, x)
			if at.Kind == study.Grade {
				value = at.Grades[int(x.Value)]
			}
			if n++; !slices.Contains(tables[caption], value) {
				t.Fatalf("%s %s of %s is not in its table: %q", at.ID, value, caption, tables[caption])
			}
		}
	}
	if n < 500 {
		t.Errorf("only %d samples were looked for", n)
	}
}

// TestWideResultsBreakByTime: a study of 24 pulls has each table in parts that
// name their times, each with the attribute, unit and criterion.
func TestWideResultsBreakByTime(t *testing.T) {
	in := evaluated()
	in.Parts = []words.Section{words.SectionResults}
	s := in.Evaluation.Dataset.Study
	a := in.Evaluation.Analyses[0]
	a.Samples = a.Samples[:1]
	for m := int32(1); m < 24; m++ {
		x := a.Samples[0]
		x.Planned, x.PlannedMonths = study.Duration{N: m, Unit: study.Months}, float64(m)
		x.Value, x.Low, x.High = 30000+float64(m), 29000, 31000
		a.Samples = append(a.Samples, x)
	}
	in.Evaluation.Analyses = in.Evaluation.Analyses[:1]
	all := strings.Join(pdftest.Pages(t, write(t, in)), "\n")
	where := "Batch B1 in jar at " + s.Conditions[a.Condition].ID
	parts := regexp.MustCompile(regexp.QuoteMeta(where)+`, (\S+) to (\S+) Attribute Unit Criterion`).FindAllStringSubmatch(all, -1)
	if len(parts) < 2 || parts[0][1] != "0" || parts[len(parts)-1][2] != "23M" {
		t.Errorf("the parts are %q", parts)
	}
	for m := 1; m < 24; m++ {
		if !strings.Contains(all, fmt.Sprint(30000+m)) {
			t.Errorf("the value of month %d is not there", m)
		}
	}
	if n := strings.Count(all, "18000 to 42000"); n != len(parts) {
		t.Errorf("%d parts have the criterion, of %d", n, len(parts))
	}
}

// TestEachSectionCanBeAskedFor: the parts of the PDF are those that --section
// knows, in their order, and each has a title.
func TestEachSectionCanBeAskedFor(t *testing.T) {
	var parts []words.Section
	for _, s := range sections {
		parts = append(parts, s.part)
		if s.part.Title() == "" {
			t.Errorf("%s has no title", s.part)
		}
	}
	if !slices.Equal(parts, words.Sections) {
		t.Errorf("the parts are %q", parts)
	}
}

// TestPartsOfTheSummary: only what was asked for is in, with the conclusion, its
// cautions and the signatures, and page one says what is not.
func TestPartsOfTheSummary(t *testing.T) {
	in := evaluated()
	in.Parts = []words.Section{words.SectionArrhenius}
	ps := pdftest.Pages(t, write(t, in))
	all := strings.Join(ps, "\n")
	for _, want := range []string{"Supported shelf life at", "In one sentence, to be quoted whole", "Pressurised packs can burst", "it is no approval", "Arrhenius: assay", "Approved by"} {
		if !strings.Contains(all, want) {
			t.Errorf("the part lacks %q", want)
		}
	}
	for _, other := range []string{"Storage conditions", "Results at", "Trends at", "Methods and sources "} {
		if strings.Contains(all, other) {
			t.Errorf("the part has %q", other)
		}
	}
	if !strings.Contains(ps[0], "protocol; pulls; results; trends;") || !strings.Contains(ps[0], "warnings (") {
		t.Errorf("page 1 does not say what was left out: %s", ps[0])
	}
}
