package finding

import "testing"

func TestFaultsReadAsFileLineColumn(t *testing.T) {
	f := &Faults{
		List: []Fault{
			{File: "b.csv", Line: 3, Column: "value", Text: "is no number"},
			{File: "a.csv", Text: "there is no such file"},
			{File: "b.csv", Line: 2, Text: "has 4 fields"},
		},
		More: 7,
	}
	f.Sort()
	want := "a.csv: there is no such file\nb.csv:2: has 4 fields\nb.csv:3: value: is no number\nand 7 more"
	if got := f.Error(); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func TestGatherJoinsPlacesThatSayTheSame(t *testing.T) {
	got := Gather([]Warning{
		{"few-points", "assay jar", "Only 3 times."},
		{"late-pull", "", "A pull was late."},
		{"few-points", "assay tube", "Only 3 times."},
		{"few-points", "pH jar", "Only 4 times."},
		{"other", "pH tube", "Only 4 times."},
	})
	want := []Warning{
		{"few-points", "assay jar, assay tube", "Only 3 times."},
		{"late-pull", "", "A pull was late."},
		{"few-points", "pH jar", "Only 4 times."},
		{"other", "pH tube", "Only 4 times."},
	}
	if len(got) != len(want) {
		t.Fatalf("got %v", got)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("%d: got %v, want %v", i, got[i], want[i])
		}
	}
}

func TestDedupeKeepsTheFirst(t *testing.T) {
	a, b := Warning{"a", "x", "1"}, Warning{"a", "y", "1"}
	got := Dedupe([]Warning{a, b, a})
	if len(got) != 2 || got[0] != a || got[1] != b {
		t.Errorf("got %v", got)
	}
}
