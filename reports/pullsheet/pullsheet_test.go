package pullsheet

import (
	"bytes"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"shelfspan/reports/codes/scantest"
	"shelfspan/reports/pdf/pdftest"
	"shelfspan/study/protocol"
	"shelfspan/study/schedule"
)

// demo plans the demo's study: three packs, one of them stored both ways.
func demo(t testing.TB) *schedule.Schedule {
	t.Helper()
	const path = "../../testdata/demo/study.toml"
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	s, err := protocol.Read(path, data)
	if err != nil {
		t.Fatal(err)
	}
	return schedule.Plan(s)
}

func pullOf(t testing.TB, p *schedule.Schedule, id string) int {
	t.Helper()
	i := slices.IndexFunc(p.Pulls, func(x schedule.Pull) bool { return x.ID == id })
	if i < 0 {
		t.Fatalf("the plan has no pull %s", id)
	}
	return i
}

func all(p *schedule.Schedule) []int {
	var out []int
	for i := range p.Pulls {
		out = append(out, i)
	}
	return out
}

func write(t testing.TB, in Input) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, in); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

var numbered = regexp.MustCompile(`page (\d+) of (\d+) `)

// TestEveryPull: each pull of the study begins on a new page, every page says
// which pull it is of and counts within it, and nothing is set small.
func TestEveryPull(t *testing.T) {
	p := demo(t)
	file := write(t, Input{Schedule: p, Pulls: all(p), Version: "9"})
	pages := pdftest.Pages(t, file)
	next := 0
	for i := range p.Pulls {
		id := p.Pulls[i].ID
		of := 0
		for n := 1; n == 1 || n <= of; n++ {
			if next == len(pages) {
				t.Fatalf("the pages end before pull %s does", id)
			}
			page := pages[next]
			next++
			m := numbered.FindStringSubmatch(page)
			if m == nil || m[1] != strconv.Itoa(n) {
				t.Fatalf("page %d of pull %s says %q", n, id, m)
			}
			of, _ = strconv.Atoi(m[2])
			if !strings.Contains(page, id+" Pull sheet study SB-25 · shelfspan 9 ") {
				t.Errorf("page %d of pull %s does not name it in its head: …%s", n, id, page[max(0, len(page)-80):])
			}
			if n == 1 && !strings.HasPrefix(page, id+" Stability of a skin-care balm in three packs Skin-care balm, thickened") {
				t.Errorf("pull %s begins with %.100q", id, page)
			}
			// Where the pull was not as planned, and who signed, stands once, at its end.
			for _, end := range []string{"Deviations", "outside the window", "What, and why:", "Taken by", "Checked by", "Signature"} {
				if strings.Contains(page, end+" ") != (n == of) {
					t.Errorf("page %d of %d of pull %s: %q stands there: %v", n, of, id, end, n != of)
				}
			}
			if strings.Contains(page, "Put back by") != (n == of && p.Pulls[i].Returned() > 0) {
				t.Errorf("page %d of %d of pull %s: a line for who put units back: %v", n, of, id, strings.Contains(page, "Put back by"))
			}
		}
	}
	if next != len(pages) {
		t.Errorf("%d pages, want %d", len(pages), next)
	}
	for i, content := range pdftest.Contents(t, file)[:len(pages)] {
		for _, w := range pdftest.Words(content) {
			if w.Size < 8 {
				t.Errorf("page %d: %q is set at %.1f points", i+1, w.Text, w.Size)
			}
			if w.X < 55 || w.X > 595-56 || w.Y < 33 || w.Y > 842-41 {
				t.Errorf("page %d: %q stands at %.0f, %.0f, in the margin", i+1, w.Text, w.X, w.Y)
			}
		}
	}
}

// TestSays: what a pull sheet says, with numbers from the study file: 2 units
// opened and 4 weighed of each of 12 arms.
func TestSays(t *testing.T) {
	p := demo(t)
	for id, want := range map[string][]string{
		"SB-25-25C60-18M": {
			"Pull on Tue 2026-08-04", "By calendar Mon 2026-08-03, a day off", "On time 2026-07-20 to 2026-08-17", "Planned 18M (18 months)",
			"Chamber room", "Condition 25C60, long-term", "Climate 25 ± 2 °C, 60 ± 5 % RH", "24 to open, 48 to put back",
			"Cautions Pack jar is glass", "Pack can is under pressure", "Local codes, the supplier's safety data sheet",
			"Batch Pack Orientation To open Opened To put back Put back Tests",
			"B1 jar upright 2 4 viscosity, assay, pH, weight-loss, appearance", "B3 can inverted 2 4",
			"B2 can inverted: 2 to open – viscosity, assay, pH, appearance", "B2 can inverted: 4 to measure and put back – weight-loss",
			"recorded in the ledger with: shelfspan pull SB-25-25C60-18M",
		},
		// 18 of 3 batches in 3 packs, and the 4 weighed of 36 arms.
		"SB-25-T0": {"Pull on Mon 2025-02-03", "On time 2025-01-31 to 2025-02-06", "Planned initial (time zero)", "Where before storage", "18 to open, 144 to put back", "B1 can – 2 24"},
		"SB-25-5C-6M": {
			"By calendar Sun 2025-08-03, a day off", "Climate 5 ± 3 °C", "24 to open", "Batch Pack Orientation To open Opened Tests", "B1 jar upright 2 viscosity, assay, appearance",
		},
	} {
		file := write(t, Input{Schedule: p, Pulls: []int{pullOf(t, p, id)}})
		said := strings.Join(pdftest.Pages(t, file), "")
		for _, w := range want {
			if !strings.Contains(said, w) {
				t.Errorf("%s does not say %q:\n%.900s", id, w, said)
			}
		}
		if id == "SB-25-T0" && strings.Contains(said, "By calendar") {
			t.Errorf("%s was not moved from its day, and the sheet says so", id)
		}
	}
}

// TestNoCautions: a pull of packs without danger has no box of cautions.
func TestNoCautions(t *testing.T) {
	p := demo(t)
	for i := range p.Study.Packs {
		p.Study.Packs[i].Glass, p.Study.Packs[i].Pressurised = false, false
	}
	said := strings.Join(pdftest.Pages(t, write(t, Input{Schedule: p, Pulls: []int{3}})), "")
	if strings.Contains(said, "Cautions") || !strings.Contains(said, "Deviations") {
		t.Errorf("the sheet says %s", said)
	}
}

// TestPlansCautions: what the plan warns of in storing a pack stands on the
// sheets of that condition, and who decides is said once.
func TestPlansCautions(t *testing.T) {
	p := demo(t)
	p.Study.Conditions[4].Temperature = 55
	p = schedule.Plan(p.Study)
	for id, want := range map[string]bool{"SB-25-45C-1M": true, "SB-25-40C75-1M": false} {
		said := strings.Join(pdftest.Pages(t, write(t, Input{Schedule: p, Pulls: []int{pullOf(t, p, id)}})), "")
		if strings.Contains(said, "can at 45C: pressurised packs are stored at 55 °C.") != want {
			t.Errorf("%s warns of the hot cans: %v, want %v", id, !want, want)
		}
		if n := strings.Count(said, "Local codes"); n != 1 {
			t.Errorf("%s says %d times who decides", id, n)
		}
	}
}

// TestUnits: each unit stands on its pull's sheet once, with a box beside it,
// whatever the length of the ids.
func TestUnits(t *testing.T) {
	p := demo(t)
	for _, study := range []string{"S", "SB-25", "SKIN-BALM-2025.STABILITY_EU", strings.Repeat("LONG-STUDY_", 9)} {
		p.Study.ID = study
		for i := range p.Pulls {
			if i%5 != 0 {
				continue
			}
			said, boxes := "", 0
			for _, content := range pdftest.Contents(t, write(t, Input{Schedule: p, Pulls: []int{i}})) {
				for _, w := range pdftest.Words(content) {
					said += w.Text
				}
				boxes += strings.Count(content, "14.50 -14.50 re S")
			}
			units := 0
			for j := range p.Pulls[i].Lines {
				for _, u := range p.UnitsOf(i, j) {
					units++
					if c := strings.Count(said, u.ID); c != 1 {
						t.Errorf("unit %s stands %d times", u.ID, c)
					}
				}
			}
			if want := units + len(p.Pulls[i].Lines) + 4; boxes != want { // a box for each unit, arm and kind of deviation
				t.Errorf("pull %s: %d boxes to tick, want %d", p.Pulls[i].ID, boxes, want)
			}
		}
	}
}

// TestHostile: text that means something elsewhere, and text without end, is
// set or visibly replaced.
func TestHostile(t *testing.T) {
	p := demo(t)
	for _, s := range []string{"=cmd|' /C calc'!A0", "\x00\x07\xff", "日本語 🧴", strings.Repeat("long ", 200), strings.Repeat("W", 500), ""} {
		x := *p.Study
		x.Title, x.Product = s, s
		x.Packs = slices.Clone(x.Packs)
		x.Attributes = slices.Clone(x.Attributes)
		x.Packs[0].ID, x.Batches[0].ID, x.Attributes[0].ID, x.Chambers[0].ID = s, s, s, s
		q := *p
		q.Study = &x
		q.Pulls = slices.Clone(q.Pulls)
		q.Pulls[1].ID = "x" + s
		file := write(t, Input{Schedule: &q, Pulls: []int{0, 1}})
		if !bytes.Equal(file, write(t, Input{Schedule: &q, Pulls: []int{0, 1}})) {
			t.Errorf("%.20q: other bytes the second time", s)
		}
		said := strings.Join(pdftest.Pages(t, file), "")
		if s == "=cmd|' /C calc'!A0" && !strings.Contains(said, s) {
			t.Errorf("%q does not stand there", s)
		}
		if strings.HasPrefix(s, "long ") && !strings.Contains(said, "long …") {
			t.Error("a title too long for its place is cut silently")
		}
		if s == "日本語 🧴" && !strings.Contains(said, "□□□ □") {
			t.Errorf("%q is not visibly replaced", s)
		}
	}
}

func TestRefused(t *testing.T) {
	p := demo(t)
	long := *p
	long.Pulls = slices.Clone(p.Pulls)
	long.Pulls[0].ID = strings.Repeat("x", 3000)
	empty := *p
	empty.Pulls = []schedule.Pull{{ID: "SB-25-X"}}
	for want, in := range map[string]Input{
		"nothing is taken at these pulls": {Schedule: &empty, Pulls: []int{0}},
		"3000 bytes are more than the 2":  {Schedule: &long, Pulls: []int{0}},
	} {
		var b bytes.Buffer
		if err := Write(&b, in); err == nil || !strings.Contains(err.Error(), want) || b.Len() > 0 {
			t.Errorf("%v with %d bytes written, want %q", err, b.Len(), want)
		}
	}
}

// TestCodeReadsBack: a scanner that is not ours reads the pull's id on the
// first page of each sheet.
func TestCodeReadsBack(t *testing.T) {
	p := demo(t)
	in := Input{Schedule: p, Pulls: []int{pullOf(t, p, "SB-25-T0"), pullOf(t, p, "SB-25-25C60-18M"), pullOf(t, p, "SB-25-45C-2M")}}
	p.Pulls[in.Pulls[2]].ID = "SB_25.x-45C/2M" // of all signs an id may have, and a slash
	var got, want []string
	for _, page := range scantest.Read(t, write(t, in), 150, "qrcode") {
		got = append(got, page...)
	}
	for _, i := range in.Pulls {
		want = append(want, p.Pulls[i].ID)
	}
	if !slices.Equal(got, want) {
		t.Errorf("read %q, want %q", got, want)
	}
}

func BenchmarkWrite(b *testing.B) {
	p := demo(b)
	in := Input{Schedule: p, Pulls: all(p)}
	for b.Loop() {
		write(b, in)
	}
}
