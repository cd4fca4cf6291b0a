package summary

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"shelfspan/analysis"
	"shelfspan/reports/dossier"
	"shelfspan/reports/pdf/pdftest"
	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/schedule"
)

func write(t testing.TB, in Input) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, in); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestSameBytes writes the same answer twice.
func TestSameBytes(t *testing.T) {
	if !bytes.Equal(write(t, evaluated()), write(t, evaluated())) {
		t.Error("the same input gave different bytes")
	}
}

// TestFingerprint: every input and option that bears on the answer changes it,
// where a file lies does not.
func TestFingerprint(t *testing.T) {
	base := evaluated().Fingerprint()
	for name, change := range map[string]func(*Input){
		"study file": func(in *Input) { in.StudyFile.SHA256 = "aa" },
		"results":    func(in *Input) { in.Evaluation.Dataset.Inputs[0].SHA256 = "aa" },
		"version":    func(in *Input) { in.Version = "9" },
		"option":     func(in *Input) { in.Options = []string{"--at 30"} },
	} {
		in := evaluated()
		if change(&in); in.Fingerprint() == base {
			t.Errorf("another %s has the same fingerprint", name)
		}
	}
	in := evaluated()
	if in.StudyFile.Path = "elsewhere/study.toml"; in.Fingerprint() != base {
		t.Error("moving a file changed the fingerprint")
	}
}

// TestConclusionFirst: page one has the months, what limits them, the rule, the
// claim, the cautions and the disclaimer; and failures stand in its first line.
func TestConclusionFirst(t *testing.T) {
	in := evaluated()
	first := pdftest.Pages(t, write(t, in))[0]
	for _, want := range []string{"Supported shelf life at 25C60 (25 °C, 60 % RH): 29 months, limited by assay in can upright", "ICH Q1E 2.4.1.2",
		"The claim of 30 months is not supported by these data.", "Supported shelf life by pack", "Pressurised packs can burst when warm",
		"Flammable contents can form", "Glass can break", "it is no approval", "1 of "} {
		if !strings.Contains(first, want) {
			t.Errorf("page 1 lacks %q; it says:\n%s", want, first)
		}
	}
	in = evaluated()
	in.Evaluation.Supported.Verdicts[0].Failure = &analysis.Failure{Batch: 1, Planned: study.Duration{N: 12, Unit: study.Months}, Months: 12, Value: 17000, LastPassing: 9}
	first = pdftest.Pages(t, write(t, in))[0]
	failure, months := strings.Index(first, "A failure was observed"), strings.Index(first, "Supported shelf life at")
	if failure < 0 || failure > months {
		t.Errorf("the failure stands at %d, after the months at %d", failure, months)
	}
}

// TestWholeDossier: every part is there, and every number that was worked out.
func TestWholeDossier(t *testing.T) {
	in := evaluated()
	in.Options = []string{"--at 20", "--confidence 0.95"}
	all := strings.Join(pdftest.Pages(t, write(t, in)), "\n")
	for _, want := range []string{
		"Protocol", "Storage conditions", "25 ± 2", "60 ± 5", "Batches", "thickener: clay", "aluminium can with bag-on-valve", "acceptance criteria", "≥ 90 %",
		"Pulls", "Results", "Results at 25C60 (25 °C, 60 % RH)", "Batch P1 in can upright at 25C60", "outside the acceptance criterion", "pulled outside its window",
		"Trends at the storage condition", "Fitted: zero-order", "−0.31", "29.1", "Poolability of batches", "3.9", "0.040", "differ", "Models compared", "a value is zero or negative",
		"Trends at the other conditions", "Arrhenius", "83.1", "70.2", "96.5", "−0.315 ± 0.028", "extrapolated", "36.8", "31.2",
		"Warnings", "Batch P1 has no result at 9M", "Methods and sources", "CODATA 2018", "USP General Notices 7.20", "Moré 1978",
		"Provenance", "results.csv", "9f2c4a6b8d0e1f3a5c7b9d1e3f5a7c9b1d3e5f7a9c1b3d5e7f9a1c3b5d7e9f1a", "812", "--at 20 --confidence 0.95", "shelfspan 0.1.0",
		"Prepared by", "Reviewed by", "Approved by", "Linearity is untested",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("the document lacks %q", want)
		}
	}
	if strings.Contains(all, "NaN") || strings.Contains(all, "Inf") {
		t.Error("the document shows a NaN or an infinity")
	}
}

// TestContentsNameEverySection: with the page it begins on.
func TestContentsNameEverySection(t *testing.T) {
	ps := pdftest.Pages(t, write(t, evaluated()))
	at := slices.IndexFunc(ps, func(p string) bool { return strings.Contains(p, "Contents") })
	if at < 0 {
		t.Fatal("there is no list of contents")
	}
	for _, section := range []string{"Conclusion", "Protocol", "Pulls", "Results", "Trends at the storage condition", "Trends at the other conditions",
		"Arrhenius: all temperatures at once", "Warnings", "Methods and sources", "Provenance"} {
		listed := regexp.MustCompile(regexp.QuoteMeta(section) + ` (\d+)`).FindStringSubmatch(ps[at][strings.Index(ps[at], "Contents"):])
		if listed == nil {
			t.Errorf("%s is not in the list", section)
			continue
		}
		n, err := strconv.Atoi(listed[1])
		if err != nil || n < 1 || n > len(ps) || !strings.Contains(ps[n-1], section) {
			t.Errorf("%s does not stand on page %s", section, listed[1])
		}
	}
}

// TestOutOfCriterionIsMarked: a sample beyond the criterion carries the sign,
// not bold type alone; one within does not.
func TestOutOfCriterionIsMarked(t *testing.T) {
	s := balm()
	used := dossier.Signs{}
	out := &analysis.Sample{Value: 89.4, Low: 89.1, High: 89.7, Readings: 2, InWindow: true, OutOfCriterion: true}
	c := resultCell(&s.Attributes[1], dossier.Shown{Samples: []*analysis.Sample{out}}, &used)
	if c.Text != "89.4\u00a0†" || c.Under != "89.1–89.7" || !c.Bold {
		t.Errorf("the cell is %+v", c)
	}
	used = dossier.Signs{}
	in := &analysis.Sample{Value: 95, Low: 95, High: 95, Readings: 1, InWindow: true}
	if c := resultCell(&s.Attributes[1], dossier.Shown{Samples: []*analysis.Sample{in}}, &used); c.Text != "95.0" || c.Bold || used.Notes(&s.Attributes[1]) != "" {
		t.Errorf("the cell is %+v", c)
	}
	censored := &analysis.Sample{Value: 5, Censor: study.BelowThat, InWindow: true, Readings: 1}
	if c := resultCell(&s.Attributes[1], dossier.Shown{Samples: []*analysis.Sample{in, censored}}, &used); c.Text != "95.0, <5" {
		t.Errorf("the cell is %+v; a censored value has no mean", c)
	}
	var graded []*analysis.Sample
	for _, g := range []float64{1, 0, 1} {
		graded = append(graded, &analysis.Sample{Value: g, InWindow: true})
	}
	if c := resultCell(&s.Attributes[3], dossier.Shown{Samples: graded}, &used); c.Text != "1 none, 2 slight" {
		t.Errorf("the cell is %+v", c)
	}
}

// bare is an evaluation of a study without a single result.
func bare(s *study.Study) Input {
	e := &analysis.Evaluation{Dataset: &study.Dataset{Study: s, Texts: []string{""}}, Confidence: s.Confidence}
	return Input{Evaluation: e, Schedule: schedule.Plan(s), Version: "0.1.0"}
}

// TestNothingMeasured: the document of a plan alone says that nothing is known.
func TestNothingMeasured(t *testing.T) {
	all := strings.Join(pdftest.Pages(t, write(t, bare(balm()))), "\n")
	for _, want := range []string{"No shelf life can be stated", "No results have been taken in", "Protocol", "Prepared by"} {
		if !strings.Contains(all, want) {
			t.Errorf("the document lacks %q", want)
		}
	}
	if strings.Contains(all, "Trends at") || strings.Contains(all, "Arrhenius:") {
		t.Error("the document has headings over nothing")
	}
	s := balm()
	s.StoreAt, s.Claim, s.Title, s.Product = -1, study.Duration{}, "", ""
	in := bare(s)
	in.Schedule = nil
	write(t, in)
}

// TestOneResult: a single sample gives a chart and a table and no line.
func TestOneResult(t *testing.T) {
	in := bare(balm())
	a := &analysis.Analysis{Attribute: 1, Condition: 1, Status: analysis.TooFewTimes, Lower: 90, Upper: math.Inf(1), Confidence: 0.95,
		ShelfLife: math.NaN(), Estimate: math.NaN(), ResidualSD: math.NaN(), LimitingBatch: -1,
		Samples: []analysis.Sample{{Value: 100.2, Low: 100.2, High: 100.2, Readings: 1, InWindow: true}}}
	in.Evaluation.Analyses = []*analysis.Analysis{a}
	in.Evaluation.Supported = &analysis.Supported{ClaimMonths: 30, Undecided: []analysis.Undecided{{Attribute: 1, Reason: "fewer than 3 distinct times"}}}
	all := strings.Join(pdftest.Pages(t, write(t, in)), "\n")
	for _, want := range []string{"100.2", "fewer than 3 distinct times", "No shelf life can be stated"} {
		if !strings.Contains(all, want) {
			t.Errorf("the document lacks %q", want)
		}
	}
}

// huge has 20 attributes in 12 arms at 10 times, all with long or hostile names.
func huge() Input {
	s := balm()
	name := func(kind string, i int) string {
		return fmt.Sprintf("%s %d %s", kind, i, strings.Repeat("with a very long name ", 4)) + "🧴\x00\xff" + strings.Repeat("W", 20)
	}
	s.Title, s.Product = name("title", 0), name("product", 0)
	s.Conditions = s.Conditions[:2]
	s.Conditions[1].Pulls = pullsAt(0, 1, 2, 3, 6, 9, 12, 15, 18, 24)
	s.Batches = nil
	for i := range 6 {
		s.Batches = append(s.Batches, study.Batch{ID: name("batch", i), Scale: "pilot", Placed: study.NoDate, Made: study.NoDate})
	}
	for i := range s.Packs {
		s.Packs[i].ID, s.Packs[i].Description = name("pack", i), name("description", i)
	}
	kinds := s.Attributes
	s.Attributes = nil
	for i := range 20 {
		a := kinds[i%4]
		a.ID, a.Unit = name("attribute", i), "mPa.s"
		s.Attributes = append(s.Attributes, a)
	}
	in := bare(s)
	in.StudyFile = study.Input{Path: name("path", 0), SHA256: strings.Repeat("ab", 32)}
	line := lineFit{30000, -150, 700, 18, 8, 600}
	e := in.Evaluation
	for i := range s.Attributes {
		for pack := range s.Packs {
			var a *analysis.Analysis
			switch s.Attributes[i].Kind {
			case study.Grade:
				a = grades(s, i, 1, pack)
			case study.Weighing:
				a = weighings(s, i, 1, pack)
			default:
				a = trend(s, i, 1, pack, "separate", []lineFit{line, line, line, line, line, line})
			}
			a.Warnings = []finding.Warning{{Code: "long", Where: name("where", i), Text: strings.Repeat(name("text", i), 20)}}
			e.Analyses = append(e.Analyses, a)
		}
	}
	return in
}

func TestHugeAndHostile(t *testing.T) {
	ps := pdftest.Pages(t, write(t, huge()))
	for i, p := range ps {
		if !strings.Contains(p, fmt.Sprintf("%d of %d", i+1, len(ps))) {
			t.Errorf("page %d of %d lacks its number", i+1, len(ps))
		}
		if strings.ContainsAny(p, "\x00\ufffd") {
			t.Errorf("page %d shows what has no glyph", i+1)
		}
	}
	if last := ps[len(ps)-1]; !strings.Contains(last, "are not in this document's fonts and are shown as □") {
		t.Errorf("the last page does not explain □: %s", last)
	}
}

func BenchmarkWrite(b *testing.B) {
	in := evaluated()
	for b.Loop() {
		if err := Write(io.Discard, in); err != nil {
			b.Fatal(err)
		}
	}
}
