package analysis_test

import (
	"fmt"
	"strings"
	"testing"

	"shelfspan/analysis"
)

// lookedAt writes a unit that is looked at for leaks and leaks by the pull at a place of
// 3, 6, 9 and 12 months; −1: it does not.
func lookedAt(table *strings.Builder, batch, pack string, unit, leaks int) {
	for i, pull := range []string{"3M", "6M", "9M", "12M"} {
		value := "pass"
		if i == leaks {
			value = "fail"
		}
		fmt.Fprintf(table, "%s,25C60,%s,%s,%s-%s-%d,leak,%s\n", batch, pack, pull, batch, pack, unit, value)
		if i == leaks {
			return
		}
	}
}

// Which batches keep out of a comparison of units, and which keep out of its p-value, is
// told, and by what it was judged.
func TestBatchesOfUnits(t *testing.T) {
	const attribute = `
[[pack]]
id      = "jar"
control = true

[[pack]]
id = "tube"

[[attribute]]
id       = "leak"
kind     = "pass-fail"
units    = 8
sampling = "returned"
`
	spread, early, none := []int{0, 1, 1, 2, 3, -1, 2, 1}, []int{0, 0, 1, 1, 2, -1, 0, 3}, []int{-1, -1, -1, -1, -1, -1, -1, -1}
	type arm struct {
		batch, pack string
		units       []int
	}
	both := func(batch string) []arm {
		return []arm{{batch, "jar", spread}, {batch, "tube", early}}
	}
	join := func(of ...[]arm) (out []arm) {
		for _, a := range of {
			out = append(out, a...)
		}
		return out
	}
	silent := func(batch string) []arm {
		return []arm{{batch, "jar", none}, {batch, "tube", none}}
	}
	few := func(batch string) []arm {
		return []arm{{batch, "jar", none}, {batch, "tube", []int{0, 1, 1, 2, 2, -1, -1, -1}}}
	}
	clay := strings.NewReplacer("id = \"B1\"\n", "id = \"B1\"\nfactors = {gum = \"no\"}\n", "id = \"B2\"\n", "id = \"B2\"\nfactors = {gum = \"no\"}\n",
		"id = \"B3\"\n", "id = \"B3\"\nfactors = {gum = \"yes\"}\n")
	for _, c := range []struct {
		name     string
		batches  string
		arms     []arm
		by       analysis.ErrorOf
		telling  int
		warnings map[string]string // code, and what its text says; of those about batches
	}{
		{"two in both", batches(2), join(both("B1"), both("B2")), analysis.ErrorLifetimesWithin, 2, nil},
		{"one in one pack, one in which none failed", batches(4), join(both("B1"), both("B2"), both("B3")[1:], silent("B4")), analysis.ErrorLifetimesWithin, 2,
			map[string]string{"batch-of-one": "tube against jar: of one of the two alone are the units of B3,", "batch-left-out": "tube against jar: in B4 no unit is known to have failed,"}},
		{"few fail, in one batch", batches(3), join(few("B1"), silent("B2"), silent("B3")), analysis.ErrorCountsWithin, 1,
			map[string]string{"one-batch-fails": "All 5 failures in storage are of batch B1: what units show may be that batch's alone."}},
		{"one in both", batches(2), join(both("B1"), both("B2")[1:]), analysis.ErrorLifetimes, 0,
			map[string]string{"batches-together": "tube against jar: fewer than two batches have units of both,"}},
		{"one batch", batches(1), both("B1"), analysis.ErrorLifetimes, 0, nil},
		{"by what they are made of", clay.Replace(batches(3)), []arm{{"B1", "jar", spread}, {"B2", "jar", spread}, {"B3", "jar", early}}, analysis.ErrorLifetimes, 0,
			map[string]string{"batches-together": "What batches declare under gum is compared by their units, those of all batches of a level together: how batches of one level vary is not in the p-values,"}},
	} {
		var table strings.Builder
		table.WriteString("batch,condition,pack,time,unit,attribute,value\n")
		for _, a := range c.arms {
			for u, leaks := range a.units {
				lookedAt(&table, a.batch, a.pack, u, leaks)
			}
		}
		x := analysis.Evaluate(dataset(t, head+attribute+c.batches, table.String()), analysis.Options{Interactions: analysis.InteractionOptions{Wanted: true}}).Interactions
		if len(x.Comparisons) != 1 {
			t.Fatalf("%s: %d comparisons", c.name, len(x.Comparisons))
		}
		if y := x.Comparisons[0]; y.Error != c.by || y.Strata.Telling != c.telling {
			t.Errorf("%s: by %s, %d telling (%s)", c.name, y.Error, y.Strata.Telling, y.Thin)
		}
		for _, code := range []string{"batch-of-one", "batch-left-out", "batches-together", "one-batch-fails"} {
			text := ""
			for _, w := range x.Warnings {
				if w.Code == code {
					text += w.Text
				}
			}
			if want := c.warnings[code]; !strings.HasPrefix(text, want) || want == "" && text != "" {
				t.Errorf("%s: of %s it is told %q", c.name, code, text)
			}
		}
	}
}
