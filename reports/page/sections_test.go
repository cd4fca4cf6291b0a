package page

import (
	"cmp"
	"slices"
	"testing"

	"shelfspan/reports/words"
)

// TestAnchorsAreTheNamesOfSections: what --section takes is what a page is linked to
// by, but for a part that belongs to another.
func TestAnchorsAreTheNamesOfSections(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range sections {
		id := cmp.Or(s.id, string(s.part))
		if seen[id] {
			t.Errorf("two parts have the anchor %s", id)
		}
		seen[id] = true
		if !slices.Contains(words.Sections, s.part) {
			t.Errorf("%s belongs to no part that can be asked for", id)
		}
		if cmp.Or(s.title, s.part.Title()) == "" {
			t.Errorf("%s has no title", id)
		}
		if s.id != "" && slices.Contains(words.Sections, words.Section(s.id)) {
			t.Errorf("%s is also the name of a part", id)
		}
	}
}
