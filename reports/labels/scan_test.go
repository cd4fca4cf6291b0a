package labels

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"shelfspan/reports/codes/scantest"
	"shelfspan/study"
)

// some makes labels of a study as a plan would, with ids of about a length.
func some(n int, study_ string) []Label {
	due := study.NewDate(2026, time.August, 3)
	var out []Label
	for i := range n {
		l := Label{
			Study: study_, Batch: fmt.Sprintf("B%d", 1+i%3), Pack: []string{"jar", "tube", "can"}[i%3], Orientation: "upright",
			Condition: "25C60", Climate: "25 °C, 60 % RH", Time: fmt.Sprintf("%dM", 3*(i%9)), Due: due,
		}
		switch i % 7 {
		case 2:
			l.Cautions = []string{"pressurised", "flammable"}
		case 3:
			l.Cautions = []string{"glass"}
		case 4:
			l.Time, l.Due = "returned at every pull", study.NoDate
		case 5:
			l.Time, l.Due = "reserve", study.NoDate
		}
		l.Unit = strings.Join([]string{study_, l.Batch, l.Pack, l.Condition, fmt.Sprintf("%dM", 3*(i%9)), strconv.FormatInt(int64(i), 36), "K_." + fmt.Sprint(i%2)}, "/")
		out = append(out, l)
	}
	return out
}

func pdfOf(t testing.TB, labels []Label, l Layout) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, labels, l); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestCodesReadBack: a scanner that is not ours reads every code of a page, and
// reads the unit's id in it. The sizes are chosen so that the codes are large,
// and as small as is allowed.
func TestCodesReadBack(t *testing.T) {
	for name, c := range map[string]struct {
		labels []Label
		layout Layout
		dpi    int
		kind   string
		pages  int
	}{
		"qr on the usual sheet":  {some(21, "SB-25"), Layout{}, 200, "qrcode", 1},
		"qr, long ids":           {some(9, "SKIN-BALM-2025.STABILITY_EU"), Layout{CutLines: true, Skip: 18}, 200, "qrcode", 2},
		"qr, small labels":       {some(45, "SB-25"), Layout{Width: 42.5, Height: 24, Skip: 3}, 220, "qrcode", 1},
		"code 128, 21 on a page": {some(21, "S"), Layout{Width: 70, Height: 42, Code: Code128}, 300, "code128", 1},
		"code 128 with a gap":    {some(14, "SB-25"), Layout{Width: 99.1, Height: 38.1, GapX: 2.5, Code: Code128, CutLines: true}, 300, "code128", 1},
		"qr, one large label":    {some(1, "SB-25"), Layout{Width: 105, Height: 148, Columns: 1}, 150, "qrcode", 1},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()

			pages := scantest.Read(t, pdfOf(t, c.labels, c.layout), c.dpi, c.kind)
			if len(pages) != c.pages {
				t.Fatalf("%d pages, want %d", len(pages), c.pages)
			}
			var got, want []string
			for _, page := range pages {
				got = append(got, page...)
			}
			for _, l := range c.labels {
				want = append(want, l.Unit)
			}
			slices.Sort(got)
			slices.Sort(want)
			if !slices.Equal(got, want) {
				t.Errorf("read %d codes %q\nwant %d %q", len(got), got, len(want), want)
			}
		})
	}
}
