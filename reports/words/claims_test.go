package words_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"shelfspan/analysis"
	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/testdata"
)

// forbidden are the words with which a sentence would claim more than a bound at a
// stated confidence can; "safety data sheet" is a thing's name, and that no
// difference is shown says what a test may say.
var (
	forbidden = regexp.MustCompile(`(?i)\b(prov(e|es|ed|en|ing)|proofs?|guarant\w*|safe|safely|certain(ly|ty)?|ensur\w*|assur\w*|definite(ly)?|undoubted(ly)?|no doubt|confirm(s|ed)?|demonstrat\w*|risk-free|no risk|harmless|perfect(ly)?|identical|no difference|no effect|always|will (last|keep|remain|stay)|is stable|are stable)\b`)
	allowed   = regexp.MustCompile(`no difference (is|of rates is) shown`)
)

func claimsTooMuch(t string) string { return forbidden.FindString(allowed.ReplaceAllString(t, "")) }

// TestForbiddenWordsAreFound: the list itself catches what it is for.
func TestForbiddenWordsAreFound(t *testing.T) {
	for _, bad := range []string{"This proves 24 months.", "Guaranteed to 24 months", "The product is safe.", "It is certain", "ensures", "there is no difference", "It will last", "Proof of"} {
		if claimsTooMuch(bad) == "" {
			t.Errorf("%q passes", bad)
		}
	}
	for _, good := range []string{"the supplier's safety data sheet", "no difference of rates is shown", "Approved by", "improves"} {
		if w := claimsTooMuch(good); w != "" {
			t.Errorf("%q fails by %q", good, w)
		}
	}
}

// TestNoTextOfTheSourceClaimsTooMuch reads every text in this package's source, so
// that no sentence escapes for want of an evaluation that calls it forth.
func TestNoTextOfTheSourceClaimsTooMuch(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(node ast.Node) bool {
			if l, ok := node.(*ast.BasicLit); ok && l.Kind == token.STRING {
				text, err := strconv.Unquote(l.Value)
				if err != nil {
					t.Fatal(err)
				}
				n++
				if w := claimsTooMuch(text); w != "" {
					t.Errorf("%s says %q: %s", set.Position(l.Pos()), w, text)
				}
			}
			return true
		})
	}
	if n < 500 {
		t.Errorf("only %d texts were read", n)
	}
}

// variant is the demonstration study in another shape.
type variant struct {
	name string
	keep func(*study.Study, *study.Result) bool // nil keeps all
	set  func(*study.Study)
	o    analysis.Options
}

func (x variant) evaluate(t *testing.T) *analysis.Evaluation {
	d := testdata.Demo(t)
	if x.set != nil {
		x.set(d.Study)
	}
	if x.keep != nil {
		d.Results = slices.DeleteFunc(d.Results, func(r study.Result) bool { return !x.keep(d.Study, &r) })
	}
	x.o.Trends, x.o.Supported, x.o.Arrhenius, x.o.Interactions.Wanted = true, true, true, true
	return analysis.Evaluate(d, x.o)
}

func attribute(s *study.Study, id string) uint16 {
	return uint16(slices.IndexFunc(s.Attributes, func(a study.Attribute) bool { return a.ID == id }))
}

func months(n int32) study.Duration { return study.Duration{N: n, Unit: study.Months} }

// variants are the cases that sentences have to be right in.
var variants = []variant{
	{name: "the demo"},
	{name: "claim met", set: func(s *study.Study) { s.Claim = months(19) }},
	{name: "claim well met", set: func(s *study.Study) { s.Claim = months(12) }},
	{name: "no claim", set: func(s *study.Study) { s.Claim = study.Duration{} }},
	{name: "no rule", set: func(s *study.Study) { s.Rules = study.NoRules }},
	{name: "no rule and no limit reached", set: func(s *study.Study) {
		s.Rules = study.NoRules
		for i := range s.Attributes {
			if s.Attributes[i].Kind == study.Measure {
				s.Attributes[i].Lower, s.Attributes[i].Upper = math.Inf(-1), 1e9
			}
		}
	}},
	{name: "no storage condition", set: func(s *study.Study) { s.StoreAt = -1 }},
	{name: "one batch", keep: func(_ *study.Study, r *study.Result) bool { return r.Batch == 0 }, set: func(s *study.Study) { s.Batches = s.Batches[:1] }},
	{name: "two batches", keep: func(_ *study.Study, r *study.Result) bool { return r.Batch < 2 }, set: func(s *study.Study) { s.Batches = s.Batches[:2] }},
	{name: "no results", keep: func(*study.Study, *study.Result) bool { return false }},
	{name: "one result", keep: func() func(*study.Study, *study.Result) bool {
		n := 0
		return func(s *study.Study, r *study.Result) bool {
			if int(r.Condition) != s.StoreAt || r.Planned.IsZero() {
				return false
			}
			n++
			return n == 1
		}
	}()},
	{name: "time zero alone", keep: func(_ *study.Study, r *study.Result) bool { return r.Planned.IsZero() }},
	{name: "three months", keep: func(_ *study.Study, r *study.Result) bool { return r.Planned.Months(0) <= 3 }},
	{name: "grades alone", keep: func(s *study.Study, r *study.Result) bool { return r.Attribute == attribute(s, "appearance") }},
	{name: "one attribute asked for", o: analysis.Options{Attributes: []int{1}}},
	{name: "storage alone", keep: func(s *study.Study, r *study.Result) bool { return int(r.Condition) == s.StoreAt || r.Condition < 0 }},
	{name: "breached at the start", set: func(s *study.Study) { s.Attributes[attribute(s, "assay")].Lower = 101.5 }},
	{name: "a failure observed", set: func(s *study.Study) { s.Attributes[attribute(s, "viscosity")].Lower = 25000 }},
	{name: "no grade allowed", set: func(s *study.Study) { s.Attributes[attribute(s, "appearance")].Upper = 0 }},
	{name: "batches to come", o: analysis.Options{RandomBatches: true}},
	{name: "99 %", o: analysis.Options{Confidence: 0.99, Coverage: 0.99}},
}

// spoken are the sentences of an evaluation.
func spoken(e *analysis.Evaluation) []string {
	s := e.Dataset.Study
	out := append(words.Conclusion(e), words.Quote(e), words.SideBySide(e), words.MeanAndBound(e), words.Tested(e), words.VerdictNote(e), words.NoResults(e.Dataset))
	out = append(out, words.Cautions(s)...)
	out = append(out, words.BoundNotes(e)...)
	out = append(out, words.Bounds(e, e.Analyses)...)
	out = append(out, words.Leakers(s, e.Analyses)...)
	out = append(out, words.Humidity(s, e.Analyses)...)
	for _, a := range e.Analyses {
		out = append(out, words.Trend(e, a), words.BoundNote(a), words.Analysis(e, a), words.Governs(a))
	}
	for _, r := range e.Arrhenius {
		out = append(out, words.Arrhenius(e, r)...)
	}
	for _, l := range e.Lifetimes {
		out = append(out, words.Lifetime(e, l, func(int) bool { return true })...)
	}
	if v := e.Supported; v != nil {
		for i := range v.Verdicts {
			out = append(out, words.Limit(e, &v.Verdicts[i]), words.Supports(&v.Verdicts[i]))
		}
	}
	if x := e.Interactions; x != nil {
		out = append(out, words.InteractionsConclusion(x, s)...)
		for _, c := range x.Comparisons {
			out = append(out, words.Verdict(x, s, c))
		}
		for _, p := range x.Parallel {
			out = append(out, words.Parallel(s, p))
		}
		out = append(out, words.InteractionsRead(x, e.Confidence))
	}
	methods, note := words.Methods(e)
	for _, m := range methods {
		out = append(out, m.What)
	}
	return append(out, note)
}

var (
	shelfLife = regexp.MustCompile(`(?i)(shelf life (of|at)\b[^;]*?|\bsupports )\d+ months?`)
	limit     = regexp.MustCompile(`limited by|limits? it|caps it`)
	rule      = regexp.MustCompile(`ICH Q1E 2\.[45]|no rule on extrapolation|sets no rule`)
	broken    = regexp.MustCompile(`NaN|Inf|%!|  |\.\.|;;|, ,| ,|, ;`)
)

// TestSentencesClaimNoMoreThanTheNumbers over the demonstration study in many
// shapes: no forbidden word, nothing broken, and no shelf life without what
// limits it and by which rule in the same breath.
func TestSentencesClaimNoMoreThanTheNumbers(t *testing.T) {
	stated := 0
	for _, x := range variants {
		e := x.evaluate(t)
		for _, text := range spoken(e) {
			if w := claimsTooMuch(text); w != "" {
				t.Errorf("%s: %q in %q", x.name, w, text)
			}
			if w := broken.FindString(text); w != "" {
				t.Errorf("%s: %q in %q", x.name, w, text)
			}
			if !shelfLife.MatchString(text) {
				continue
			}
			stated++
			if !limit.MatchString(text) || !rule.MatchString(text) {
				t.Errorf("%s: a shelf life without its limit and rule: %q", x.name, text)
			}
		}
	}
	if stated < 100 {
		t.Errorf("only %d shelf lives were stated", stated)
	}
}

// TestQuoteKeepsToTheNumbers: the months quoted are those supported, which no
// regression, rule or failure is shorter than; the claim is called met only
// where it is; and the ground is told.
func TestQuoteKeepsToTheNumbers(t *testing.T) {
	quoted := regexp.MustCompile(`support (?:a shelf life of (\d+) months?|no shelf life \((0) months\))`)
	for _, x := range variants {
		e := x.evaluate(t)
		q, v := words.Quote(e), e.Supported
		if strings.Count(q, ". ") > 0 || !strings.HasSuffix(q, ".") {
			t.Errorf("%s: %q is not one sentence", x.name, q)
		}
		m := quoted.FindStringSubmatch(q)
		if v == nil || v.Analysis == nil {
			if m != nil || !strings.HasPrefix(q, "No shelf life can be stated") {
				t.Errorf("%s: nothing is supported, and it says %q", x.name, q)
			}
			continue
		}
		if m == nil {
			t.Errorf("%s: no months in %q", x.name, q)
			continue
		}
		n, _ := strconv.Atoi(m[1] + m[2])
		for i := range v.Verdicts {
			w := &v.Verdicts[i]
			shortest := math.Inf(1)
			for _, bound := range []float64{w.Regression, w.Cap} {
				if !math.IsNaN(bound) {
					shortest = math.Min(shortest, bound)
				}
			}
			if w.Failure != nil {
				shortest = math.Min(shortest, w.Failure.LastPassing)
			}
			if float64(n) > shortest+1e-9 {
				t.Errorf("%s: %d months quoted, and %v is the bound of verdict %d: %q", x.name, n, shortest, i, q)
			}
		}
		met := strings.Contains(q, "as claimed") || strings.Contains(q, "within which the claim")
		if met != v.MeetsClaim {
			t.Errorf("%s: met is %v: %q", x.name, v.MeetsClaim, q)
		}
		if (float64(v.Months) > v.Observed) != strings.Contains(q, "extrapolated beyond") {
			t.Errorf("%s: of %d months %v were seen: %q", x.name, v.Months, v.Observed, q)
		}
		for _, want := range []string{words.Storage(e.Dataset.Study), words.Place(e.Dataset.Study, v.Attribute, v.Pack, v.Orientation), "batch", words.Planned(v.Observed) + " months of long-term data"} {
			if !strings.Contains(q, want) {
				t.Errorf("%s: %q lacks %q", x.name, q, want)
			}
		}
		if v.LimitedBy == "regression" && !strings.Contains(q, words.Percent(e.Confidence)) {
			t.Errorf("%s: %q lacks its confidence", x.name, q)
		}
		if v.Partial && !strings.Contains(q, "part of the study that was asked for") {
			t.Errorf("%s: %q does not say it is partial", x.name, q)
		}
		if len(v.Undecided) > 0 && !strings.Contains(q, "not judged") {
			t.Errorf("%s: %q does not say what was not judged", x.name, q)
		}
		t.Log(x.name + ": " + q)
	}
}

// TestQuoteOfTheDemo as it is meant to read.
func TestQuoteOfTheDemo(t *testing.T) {
	const want = "For Skin-care balm, thickened, with 5 % active (study SB-25) in jar, tube, can upright and can inverted stored at 25C60 (25 °C, 60 % RH), the data support a shelf life of 19 months, short of the claim of 30 months: it is limited by viscosity in can inverted, whose two-sided 95 % confidence limit of the mean meets the criterion (18000 to 42000 mPa.s) at 19.0 months; the rule (ICH Q1E 2.4.2.1) allows at most 24 months; it rests, for the attribute that governs, on 3 batches and 18 months of long-term data, and is extrapolated beyond them."
	if got := words.Quote(variants[0].evaluate(t)); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}
