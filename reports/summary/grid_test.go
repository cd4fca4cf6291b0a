package summary

import (
	"testing"

	"shelfspan/reports/dossier"
)

// TestSaidOnce: what names a row and is as in the row above is not said again, but
// only where all of it is.
func TestSaidOnce(t *testing.T) {
	g := dossier.Grid{Columns: append(dossier.Texts("Pack", "Kind"), dossier.Numbers("n")...), Named: 2, Again: 2}
	for _, r := range [][3]string{{"jar", "a", "1"}, {"jar", "a", "1"}, {"jar", "b", "2"}, {"tube", "b", "2"}, {"tube", "b", "3"}} {
		g.Rows = append(g.Rows, []dossier.Field{{Text: r[0]}, {Text: r[1]}, {Text: r[2], Under: "x", Bold: true}})
	}
	set := tableOf(g)
	for i, want := range [][2]string{{"jar", "a"}, {"", ""}, {"jar", "b"}, {"tube", "b"}, {"", ""}} {
		c := set.Rows[i].Cells
		if c[0].Text != want[0] || c[1].Text != want[1] {
			t.Errorf("row %d begins %q, %q; want %q", i, c[0].Text, c[1].Text, want)
		}
		if c[2].Text != g.Rows[i][2].Text || c[2].Under != "x" || !c[2].Bold {
			t.Errorf("row %d ends with %+v", i, c[2])
		}
	}
	if set.Fixed != 2 || set.Columns[2].Align == set.Columns[1].Align {
		t.Errorf("the columns are %+v, of which %d name a row", set.Columns, set.Fixed)
	}
	g.Again = 0
	if tableOf(g).Rows[1].Cells[0].Text != "jar" {
		t.Error("a name is left out that was not to be")
	}
}
