package finding

import (
	"slices"
	"testing"
)

func TestWarnings(t *testing.T) {
	a := Warning{Code: "few-points", Where: "assay 25C60", Text: "Three times only."}
	b := Warning{Code: "few-points", Where: "pH 25C60", Text: "Three times only."}
	c := Warning{Code: "few-points", Text: "Three times only."}
	d := Warning{Code: "one-batch", Where: "pH 25C60", Text: "There is one batch."}
	if got := a.String(); got != "assay 25C60: Three times only." {
		t.Errorf("%q", got)
	}
	if got := c.String(); got != "Three times only." {
		t.Errorf("%q", got)
	}
	if got := Dedupe([]Warning{d, a, b, a, d}); !slices.Equal(got, []Warning{d, a, b}) {
		t.Errorf("without repeats: %v", got)
	}
	together := Warning{Code: "few-points", Where: "assay 25C60, pH 25C60", Text: "Three times only."}
	if got := Gather([]Warning{a, d, b, c}); !slices.Equal(got, []Warning{together, d}) {
		t.Errorf("gathered: %v", got)
	}
}

func TestFaults(t *testing.T) {
	f := &Faults{More: 7, List: []Fault{
		{File: "results.csv", Line: 9, Column: "value", Text: "no number"},
		{File: "results.csv", Line: 2, Text: "two fields are missing"},
		{File: "other.csv", Text: "no such file"},
		{File: "other.csv", Line: 5, Text: "an unknown batch"},
		{File: "results.csv", Line: 2, Column: "batch", Text: "after the fault of its line that was found first"},
	}}
	f.Sort()
	const want = "other.csv: no such file\n" +
		"other.csv:5: an unknown batch\n" +
		"results.csv:2: two fields are missing\n" +
		"results.csv:2: batch: after the fault of its line that was found first\n" +
		"results.csv:9: value: no number\n" +
		"and 7 more"
	if got := f.Error(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}
