package analysis_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/analysis"
	"shelfspan/testdata/reference"
)

// threePacks is a study of a jar, which is the control, a tube, and a can that
// stands and hangs.
const threePacks = `[study]
id       = "MB-31"
start    = 2025-01-13
claim    = "30M"
store_at = "25C60"

[[condition]]
id          = "25C60"
role        = "long-term"
temperature = 25.0
humidity    = 60.0
pulls       = ["0", "3M", "6M", "9M", "12M", "18M"]

[[pack]]
id      = "jar"
control = true

[[pack]]
id = "tube"

[[pack]]
id           = "can"
orientations = ["upright", "inverted"]

[[attribute]]
id    = "assay"
unit  = "%"
kind  = "measure"
lower = 90.0
model = "zero-order"
units = 2
`

// compared writes a set of the reference data of package comparison as the results
// of such a study, and compares.
func compared(t *testing.T, set string, o analysis.InteractionOptions) *analysis.Interactions {
	t.Helper()
	places := map[string]string{"1": "jar,upright", "2": "tube,upright", "3": "can,upright", "4": "can,inverted"}
	var table strings.Builder
	table.WriteString("batch,condition,pack,orientation,time,unit,attribute,value\n")
	n, unit := 0, 0
	for _, r := range reference.Table(t, "comparison/data.csv") {
		if r["set"] != set {
			continue
		}
		unit++
		n = max(n, int(number(t, r["batch"])))
		time, condition := r["months"]+"M", "25C60"
		if r["months"] == "0" {
			time, condition = "0", ""
		}
		fmt.Fprintf(&table, "B%s,%s,%s,%s,u%d,assay,%s\n", r["batch"], condition, places[r["combo"]], time, unit, r["z"])
	}
	o.Wanted = true
	e := analysis.Evaluate(dataset(t, threePacks+batches(n), table.String()), analysis.Options{Interactions: o})
	return e.Interactions
}

// The simultaneous intervals and p-values of a study are R's (mvtnorm, whose
// quantile is good to four digits).
func TestFamiliesOfAStudy(t *testing.T) {
	for _, set := range []string{"alike", "varies"} {
		for _, adjust := range []analysis.Adjust{analysis.Dunnett, analysis.Tukey} {
			x := compared(t, set, analysis.InteractionOptions{Adjust: adjust})
			found := 0
			for _, c := range x.Comparisons {
				for _, r := range reference.Table(t, "comparison/families.csv") {
					if r["set"] != set || r["family"] != string(adjust) || r["what"] != c.Level+" / "+c.Against || c.Factor != "pack" {
						continue
					}
					found++
					half := (number(t, r["high"]) - number(t, r["low"])) / 2
					if !near(c.Difference, number(t, r["value"])) || math.Abs((c.High-c.Low)/2-half) > 2e-4*half || math.Abs(c.PAdjusted-number(t, r["p"])) > 1e-5 {
						t.Errorf("%s, %s, %s: %g, %g to %g, p %g; R has %v", set, adjust, r["what"], c.Difference, c.Low, c.High, c.PAdjusted, r)
					}
				}
			}
			if want := map[analysis.Adjust]int{analysis.Dunnett: 2, analysis.Tukey: 6}[adjust]; found != want {
				t.Errorf("%s, %s: %d of %d comparisons found", set, adjust, found, want)
			}
		}
	}
}

// Against another reference the signs turn, and nothing else does.
func TestAgainstAnother(t *testing.T) {
	one := compared(t, "alike", analysis.InteractionOptions{})
	other := compared(t, "alike", analysis.InteractionOptions{Against: map[string]string{"pack": "tube"}})
	find := func(x *analysis.Interactions, level, against string) *analysis.Comparison {
		for _, c := range x.Comparisons {
			if c.Level == level && c.Against == against {
				return c
			}
		}
		t.Fatalf("no %s against %s", level, against)
		return nil
	}
	a, b := find(one, "tube", "jar"), find(other, "jar", "tube")
	if !near(a.Difference, -b.Difference) || !near(a.SE, b.SE) || !near(a.Rate, b.AgainstRate) || !near(a.P, b.P) {
		t.Errorf("%+v and %+v", a, b)
	}
}

// made is a study of packs with the rates given, each pull with two units; the scatter
// is 0.5.
func made(t rapid.TB, seed uint64, n int, rates map[string]float64, packs ...string) *analysis.Interactions {
	random := rand.New(rand.NewPCG(seed, 31))
	toml := threePacks[:strings.Index(threePacks, "[[pack]]")]
	var table strings.Builder
	table.WriteString("batch,condition,pack,time,unit,attribute,value\n")
	for i, p := range packs {
		toml += fmt.Sprintf("[[pack]]\nid = %q\ncontrol = %v\n", p, i == 0)
		for b := range n {
			start := 100 + random.NormFloat64()
			for _, m := range []int{0, 3, 6, 9, 12, 18} {
				for u := range 2 {
					time, condition := fmt.Sprintf("%dM", m), "25C60"
					if m == 0 {
						time, condition = "0", ""
					}
					fmt.Fprintf(&table, "B%d,%s,%s,%s,u%d,assay,%.4f\n", b+1, condition, p, time, u, start+rates[p]*float64(m)+0.5*random.NormFloat64())
				}
			}
		}
	}
	toml += threePacks[strings.Index(threePacks, "[[attribute]]"):] + batches(n)
	d := dataset(t, toml, table.String())
	return analysis.Evaluate(d, analysis.Options{Interactions: analysis.InteractionOptions{Wanted: true}}).Interactions
}

// A pack under other names is not found to differ from itself more often than
// stated, and a harm of a stated size is found as often as is computed: both by R's
// integrals over the test of additivity that comes first and the errors it chooses
// between (testdata/reference/comparison-power). In three batches that test has 6
// degrees of freedom, and where it takes the batches' own variation for the error it
// costs 13 points of power; in ten it has 27, and costs 3.
func TestErrorRateAndPower(t *testing.T) {
	alike := map[string]float64{"jar": -0.2, "tube": -0.2, "can": -0.2, "pump": -0.2}
	for _, r := range reference.Table(t, "comparison-power/power.csv") {
		n := int(number(t, r["batches"]))
		harmful := map[string]float64{"jar": -0.2, "tube": -0.2 - number(t, r["harm"]), "can": -0.2, "pump": -0.2}
		studies := map[int][2]int{3: {2000, 600}, 10: {0, 400}}[n]
		for i, what := range [...]struct {
			name  string
			rates map[string]float64
			any   bool // of the three, or the tube alone
		}{{"level", alike, true}, {"power", harmful, false}} {
			found := 0
			for seed := range uint64(studies[i]) {
				hit := false
				for j, c := range made(t, seed, n, what.rates, "jar", "tube", "can", "pump").Comparisons {
					hit = hit || c.PAdjusted < 0.05 && (what.any || j == 0)
				}
				if hit {
					found++
				}
			}
			if studies[i] == 0 {
				continue
			}
			share, want := float64(found)/float64(studies[i]), number(t, r[what.name])
			error := math.Sqrt(want * (1 - want) / float64(studies[i]))
			t.Logf("%s, %s: %.4f of %d, %.4f computed", r["design"], what.name, share, studies[i], want)
			if math.Abs(share-want) > 3*error {
				t.Errorf("%s: a difference is found in %.4f of studies, where %.4f ± %.4f is computed", r["design"], share, want, 3*error)
			}
		}
	}
}

func BenchmarkInteractions(b *testing.B) {
	// Five attributes, 48 arms of 8 pulls and 3 units.
	var toml, table strings.Builder
	toml.WriteString(strings.Replace(threePacks[:strings.Index(threePacks, "[[pack]]")], `"0", "3M", "6M", "9M", "12M", "18M"`, `"0", "3M", "6M", "9M", "12M", "15M", "18M", "21M", "24M"`, 1))
	table.WriteString("batch,condition,pack,orientation,time,unit,attribute,value\n")
	for p := range 4 {
		fmt.Fprintf(&toml, "[[pack]]\nid = \"p%d\"\ncontrol = %v\norientations = [\"upright\", \"inverted\"]\n", p, p == 0)
	}
	for a := range 5 {
		fmt.Fprintf(&toml, "[[attribute]]\nid = \"a%d\"\nunit = \"%%\"\nkind = \"measure\"\nlower = 90.0\nmodel = \"zero-order\"\nunits = 3\n", a)
	}
	random := rand.New(rand.NewPCG(5, 5))
	for i := range 6 {
		fmt.Fprintf(&toml, "[[batch]]\nid = \"B%d\"\nfactors = {thickener = %q}\n", i+1, []string{"clay", "gum"}[i%2])
		for p := range 4 {
			for _, o := range []string{"upright", "inverted"} {
				for a := range 5 {
					for m := 0; m <= 24; m += 3 {
						for u := range 3 {
							if m == 0 && o == "inverted" {
								continue
							}
							time, condition := fmt.Sprintf("%dM", m), "25C60"
							if m == 0 {
								time, condition = "0", ""
							}
							fmt.Fprintf(&table, "B%d,%s,p%d,%s,%s,u%d,a%d,%.4f\n", i+1, condition, p, o, time, u, a, 100-(0.2+0.02*float64(p))*float64(m)+0.5*random.NormFloat64())
						}
					}
				}
			}
		}
	}
	d := dataset(b, toml.String(), table.String())
	b.ResetTimer()
	for b.Loop() {
		if x := analysis.Evaluate(d, analysis.Options{Interactions: analysis.InteractionOptions{Wanted: true}}).Interactions; len(x.Comparisons) == 0 {
			b.Fatal("nothing compared")
		}
	}
	b.ReportMetric(float64(len(d.Results)), "results")
}

// What cannot be concluded is told.
func TestWhatCannotBeCompared(t *testing.T) {
	const one = "batch,condition,pack,time,unit,attribute,value\n"
	rows := func(batch, pack string, rate float64, times ...int) string {
		var b strings.Builder
		for _, m := range times {
			for u := range 2 {
				time, condition := fmt.Sprintf("%dM", m), "25C60"
				if m == 0 {
					time, condition = "0", ""
				}
				fmt.Fprintf(&b, "%s,%s,%s,%s,u%d,assay,%.3f\n", batch, condition, pack, time, u, 100+rate*float64(m)+0.1*float64(u)-0.03*float64(m%2))
			}
		}
		return b.String()
	}
	packs := func(control bool) string {
		s := threePacks[:strings.Index(threePacks, "[[pack]]")]
		return s + fmt.Sprintf("[[pack]]\nid = \"jar\"\ncontrol = %v\n[[pack]]\nid = \"tube\"\n[[pack]]\nid = \"pump\"\n", control) + threePacks[strings.Index(threePacks, "[[attribute]]"):]
	}
	formula := func(levels ...string) string {
		var b strings.Builder
		for i, l := range levels {
			fmt.Fprintf(&b, "\n[[batch]]\nid = \"B%d\"\nfactors = {thickener = %q}\n", i+1, l)
		}
		return b.String()
	}
	const confounded = "\n[[batch]]\nid = \"B1\"\nfactors = {thickener = \"clay\", scent = \"none\"}\n\n[[batch]]\nid = \"B2\"\nfactors = {thickener = \"gum\", scent = \"rose\"}\n"
	all := []int{0, 3, 6, 9, 12}
	for _, c := range []struct {
		name, toml, csv, code string
	}{
		{"no control", packs(false) + batches(1), one + rows("B1", "jar", -0.2, all...) + rows("B1", "tube", -0.3, all...), "no-control"},
		{"control in no arm", packs(true) + batches(1), one + rows("B1", "pump", -0.2, all...) + rows("B1", "tube", -0.3, all...), "control-without-results"},
		{"one batch a formula", packs(true) + formula("clay", "gum"), one + rows("B1", "jar", -0.2, all...) + rows("B2", "jar", -0.3, all...), "one-batch-a-formula"},
		{"one level", packs(true) + formula("clay", "clay"), one + rows("B1", "jar", -0.2, all...) + rows("B2", "jar", -0.3, all...), "one-level"},
		{"a reference nobody named", packs(true) + formula("clay", "gum"), one + rows("B1", "jar", -0.2, all...) + rows("B2", "jar", -0.3, all...), "reference-level"},
		{"one time", packs(true) + batches(1), one + rows("B1", "jar", -0.2, all...) + rows("B1", "tube", -0.3, 6), "arm-without-rate"},
		{"batches that no pack connects", packs(true) + batches(2), one + rows("B1", "jar", -0.2, all...) + rows("B2", "tube", -0.3, all...), "combination-apart"},
		{"two packs apart from the control", packs(true) + batches(2), one + rows("B1", "jar", -0.2, all...) + rows("B2", "tube", -0.2, all...) + rows("B2", "pump", -0.6, all...), "combination-apart"},
		{"one pack", strings.Replace(packs(true), "[[pack]]\nid = \"tube\"\n[[pack]]\nid = \"pump\"\n", "", 1) + batches(2), one + rows("B1", "jar", -0.2, all...) + rows("B2", "jar", -0.3, all...), "one-level"},
		{"two things in one", packs(true) + confounded, one + rows("B1", "jar", -0.2, all...) + rows("B2", "jar", -0.3, all...), "confounded"},
		{"batches known unlike", packs(true) + formula("clay", "gum", "clay", "gum"), one + rows("B1", "jar", -0.2, all...) + rows("B2", "jar", -0.3, all...) + rows("B3", "jar", -0.21, all...) + rows("B4", "jar", -0.33, 0, 3), "unlike-batches"},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := analysis.Evaluate(dataset(t, c.toml, c.csv), analysis.Options{Interactions: analysis.InteractionOptions{Wanted: true}})
			if !hasWarning(e, c.code) {
				t.Errorf("no %s among %v", c.code, e.Warnings)
			}
			for _, x := range e.Interactions.Comparisons {
				if x.Outcome == analysis.NotCompared && x.Reason == "" || x.Outcome == "" || x.Outcome != analysis.NotCompared && math.IsNaN(x.PAdjusted) {
					t.Errorf("%+v", x)
				}
			}
		})
	}
}

// What a thin or reduced design does not tell is not told; what it tells is right. The
// rates are made without scatter but for a pattern that is the same in all.
func TestWhatIsConcluded(t *testing.T) {
	rows := func(batch, pack string, rate float64, times ...int) string {
		var b strings.Builder
		for _, m := range times {
			for u, e := range []float64{0.1, -0.1} {
				time, condition := fmt.Sprintf("%dM", m), "25C60"
				if m == 0 {
					time, condition = "0", ""
				}
				fmt.Fprintf(&b, "%s,%s,%s,%s,u%d,assay,%.3f\n", batch, condition, pack, time, u, 100+rate*float64(m)+e)
			}
		}
		return b.String()
	}
	const head = "batch,condition,pack,time,unit,attribute,value\n"
	study := func(batches ...string) string {
		s := threePacks[:strings.Index(threePacks, "[[pack]]")] + "[[pack]]\nid = \"jar\"\ncontrol = true\n[[pack]]\nid = \"tube\"\n[[pack]]\nid = \"pump\"\n" +
			threePacks[strings.Index(threePacks, "[[attribute]]"):]
		for i, b := range batches {
			s += fmt.Sprintf("\n[[batch]]\nid = \"B%d\"\n%s\n", i+1, b)
		}
		return s
	}
	all := []int{0, 3, 6, 9, 12}
	const clay, gum = `factors = {thickener = "clay", scent = "none"}`, `factors = {thickener = "gum", scent = "rose"}`
	type want struct {
		level, against string
		difference     float64 // NaN: not compared
		of             analysis.ErrorOf
	}
	nan := math.NaN()
	for _, c := range []struct {
		name, toml, csv string
		want            []want
	}{
		{"one batch", study(""), rows("B1", "jar", -0.2, all...) + rows("B1", "tube", -0.3, all...), []want{{"tube", "jar", -0.1, analysis.ErrorThose}}},
		{"two packs apart from the control", study("", ""), rows("B1", "jar", -0.2, all...) + rows("B2", "tube", -0.2, all...) + rows("B2", "pump", -0.6, all...),
			[]want{{"tube", "jar", nan, ""}, {"pump", "jar", nan, ""}}},
		{"a chain of batches", study("", ""), rows("B1", "jar", -0.2, all...) + rows("B1", "tube", -0.3, 0, 6, 12) + rows("B2", "tube", -0.4, all...) + rows("B2", "pump", -0.6, 0, 3, 12),
			[]want{{"tube", "jar", -0.1, analysis.ErrorThose}, {"pump", "jar", -0.3, analysis.ErrorThose}}},
		{"unbalanced", study("", ""), rows("B1", "jar", -0.2, all...) + rows("B1", "tube", -0.3, 0, 12) + rows("B2", "jar", -0.25, 0, 3, 6) + rows("B2", "tube", -0.35, all...),
			[]want{{"tube", "jar", -0.1, analysis.ErrorResidual}}},
		{"a level with one time", study("", ""), rows("B1", "jar", -0.2, all...) + rows("B1", "tube", -0.3, 6) + rows("B2", "jar", -0.25, all...) + rows("B2", "pump", -0.35, all...),
			[]want{{"tube", "jar", nan, ""}, {"pump", "jar", -0.1, analysis.ErrorThose}}},
		{"confounded", study(clay, clay, gum, gum), rows("B1", "jar", -0.2, all...) + rows("B2", "jar", -0.22, all...) + rows("B3", "jar", -0.4, all...) + rows("B4", "jar", -0.42, all...),
			[]want{{"rose with gum", "none with clay", -0.2, analysis.ErrorBatches}, {"gum", "clay", nan, ""}}},
		{"a pack that acts with what is confounded", study(clay, clay, gum, gum), rows("B1", "jar", -0.2, all...) + rows("B2", "jar", -0.22, all...) + rows("B3", "jar", -0.4, all...) + rows("B4", "jar", -0.42, all...) +
			rows("B1", "tube", -0.2, all...) + rows("B2", "tube", -0.22, all...) + rows("B3", "tube", -0.5, all...) + rows("B4", "tube", -0.52, all...),
			[]want{{"tube with rose with gum", "tube with scent none", -0.1, analysis.ErrorResidual}}},
		{"one batch a formula", study(clay, gum), rows("B1", "jar", -0.2, all...) + rows("B2", "jar", -0.4, all...),
			[]want{{"rose with gum", "none with clay", -0.2, analysis.ErrorThose}, {"gum", "clay", nan, ""}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			x := analysis.Evaluate(dataset(t, c.toml, head+c.csv), analysis.Options{Interactions: analysis.InteractionOptions{Wanted: true}}).Interactions
			for _, w := range c.want {
				found := false
				for _, k := range x.Comparisons {
					if k.Level != w.level || k.Against != w.against {
						continue
					}
					found = true
					if math.IsNaN(w.difference) != (k.Outcome == analysis.NotCompared) || math.Abs(k.Difference-w.difference) > 1e-9 || k.Error != w.of {
						t.Errorf("%s against %s: %s (%s), %g by %q; want %g by %q", k.Level, k.Against, k.Outcome, k.Reason, k.Difference, k.Error, w.difference, w.of)
					}
				}
				if !found {
					t.Errorf("%s against %s is not among %d comparisons", w.level, w.against, len(x.Comparisons))
				}
			}
		})
	}
	// A scale that goes with an ingredient is not compared.
	toml := study(`scale = "bench"`+"\n"+clay, `scale = "bench"`+"\n"+clay, `scale = "pilot"`+"\n"+gum, `scale = "pilot"`+"\n"+gum)
	csv := rows("B1", "jar", -0.2, all...) + rows("B2", "jar", -0.22, all...) + rows("B3", "jar", -0.4, all...) + rows("B4", "jar", -0.42, all...)
	for _, u := range analysis.Evaluate(dataset(t, toml, head+csv), analysis.Options{Interactions: analysis.InteractionOptions{Wanted: true, Scale: true}}).Interactions.Scale {
		if u.Reason == "" {
			t.Errorf("pilot batches, which alone have gum, are compared: %+v", u)
		}
	}
}

// Packs compared by themselves have bounds of their own, and that is said.
func TestPartOfThePacks(t *testing.T) {
	toml := threePacks + batches(2)
	var table strings.Builder
	table.WriteString("batch,condition,pack,orientation,time,unit,attribute,value\n")
	random := rand.New(rand.NewPCG(3, 1))
	for _, arm := range []string{"jar,upright", "tube,upright", "can,upright", "can,inverted"} {
		for b := range 2 {
			for _, m := range []int{3, 6, 9, 12, 18} {
				fmt.Fprintf(&table, "B%d,25C60,%s,%dM,u,assay,%.3f\n", b+1, arm, m, 100-0.2*float64(m)+random.NormFloat64())
			}
		}
	}
	d := dataset(t, toml, table.String())
	for _, packs := range [][]int{nil, {2}} {
		e := analysis.Evaluate(d, analysis.Options{Packs: packs, Interactions: analysis.InteractionOptions{Wanted: true}})
		if hasWarning(e, "partial") != (packs != nil) {
			t.Errorf("packs %v: %v", packs, e.Warnings)
		}
	}
}
