package pullsheet

import (
	"bytes"
	"os/exec"
	"strings"
	"testing"

	"shelfspan/reports/codes/scantest"
	"shelfspan/study/protocol"
	"shelfspan/study/schedule"
)

// plan is that of a starter study.
func plan(t testing.TB, template string) *schedule.Schedule {
	t.Helper()
	text, ok := protocol.Template(template)
	if !ok {
		t.Fatal("no template " + template)
	}
	s, err := protocol.Read(template, []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return schedule.Plan(s)
}

func written(t testing.TB, p *schedule.Schedule, pulls ...int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, Input{Schedule: p, Pulls: pulls, Version: "test"}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// A scanner that is not ours reads the pull's id on the first page of its sheet.
func TestCodeIsThePull(t *testing.T) {
	p := plan(t, "pressurised")
	for _, i := range []int{0} {
		pages := scantest.Read(t, written(t, p, i), 150, "qrcode")
		if len(pages[0]) != 1 || pages[0][0] != p.Pulls[i].ID {
			t.Errorf("pull %s: %q", p.Pulls[i].ID, pages[0])
		}
	}
}

// The sheet names every unit of the pull once, what is under pressure, and who
// decides.
func TestSheetNamesAll(t *testing.T) {
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Skip("pdftotext is missing (Debian: poppler-utils)")
	}
	p := plan(t, "pressurised")
	for i := range p.Pulls {
		if len(p.Pulls[i].Lines) == 0 {
			continue
		}
		cmd := exec.Command("pdftotext", "-layout", "-", "-")
		cmd.Stdin = bytes.NewReader(written(t, p, i))
		out, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		text := string(out)
		for j := range p.Pulls[i].Lines {
			for _, u := range p.UnitsOf(i, j) {
				if n := strings.Count(text, u.ID); n != 1 {
					t.Errorf("%s: unit %s stands %d times", p.Pulls[i].ID, u.ID, n)
				}
			}
		}
		for _, want := range []string{p.Pulls[i].ID, "under pressure", "safety data sheet", "Taken by", "Checked by", p.Pulls[i].Latest.String()} {
			if !strings.Contains(text, want) {
				t.Errorf("%s does not say %q", p.Pulls[i].ID, want)
			}
		}
	}
}

// The same plan gives the same bytes, and names that no font has do no harm.
func TestSameBytes(t *testing.T) {
	p := plan(t, "cream")
	all := make([]int, len(p.Pulls))
	for i := range all {
		all[i] = i
	}
	if !bytes.Equal(written(t, p, all...), written(t, p, all...)) {
		t.Error("two sheets of one plan differ")
	}
	p.Study.Product = "=cmd()\u202e 香膏 \U0001f9f4 " + strings.Repeat("long ", 60)
	written(t, p, 0)
}
