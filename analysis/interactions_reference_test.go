package analysis_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"shelfspan/analysis"
	"shelfspan/testdata/reference"
)

// near6 asks for 6 significant digits.
func near6(got, want float64) bool {
	return math.Abs(got-want) <= 5e-7*math.Abs(want)
}

// crossed is a study of two packs, each upright and inverted, of four batches.
const crossed = `[study]
id       = "MB-32"
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
id           = "jar"
control      = true
orientations = ["upright", "inverted"]

[[pack]]
id           = "tube"
orientations = ["upright", "inverted"]

[[attribute]]
id    = "assay"
unit  = "%"
kind  = "measure"
lower = 90.0
model = "zero-order"
units = 2
`

// Rates by pack and orientation, crossed, and their contrasts are those of
// emtrends of R's emmeans, with its errors, intervals and p-values.
func TestRatesByFactor(t *testing.T) {
	var table strings.Builder
	table.WriteString("batch,condition,pack,orientation,time,unit,attribute,value\n")
	for _, r := range reference.Table(t, "rates-by-factor/data.csv") {
		time, condition := r["months"]+"M", "25C60"
		if r["months"] == "0" {
			time, condition = "0", ""
		}
		fmt.Fprintf(&table, "B%s,%s,%s,%s,%s,u%s,assay,%s\n", r["batch"], condition, r["pack"], r["orientation"], time, r["unit"], r["value"])
	}
	e := analysis.Evaluate(dataset(t, crossed+batches(4), table.String()), analysis.Options{
		Interactions: analysis.InteractionOptions{Wanted: true, Adjust: analysis.None}})
	rates := map[string]float64{}
	for _, r := range reference.Table(t, "rates-by-factor/rates.csv") {
		rates[r["pack"]+" "+r["orientation"]] = number(t, r["rate"])
	}
	contrasts := map[string]map[string]string{}
	for _, r := range reference.Table(t, "rates-by-factor/contrasts.csv") {
		contrasts[r["what"]] = r
	}
	if len(rates) != 4 || len(contrasts) != 5 || len(e.Interactions.Comparisons) != 5 {
		t.Fatalf("%d rates, %d contrasts of R, %d comparisons", len(rates), len(contrasts), len(e.Interactions.Comparisons))
	}
	for _, c := range e.Interactions.Comparisons {
		what := c.Factor + ": " + c.Level + " / " + c.Against
		r, known := contrasts[what]
		if !known {
			t.Errorf("%s is not among R's", what)
			continue
		}
		if !near6(c.Difference, number(t, r["value"])) || !near6(c.SE, number(t, r["se"])) || float64(c.DF) != number(t, r["df"]) ||
			!near6(c.Low, number(t, r["low"])) || !near6(c.High, number(t, r["high"])) || !near6(c.P, number(t, r["p"])) {
			t.Errorf("%s: %g, SE %g on %d, %g to %g, p %g; R has %v", what, c.Difference, c.SE, c.DF, c.Low, c.High, c.P, r)
		}
		if !near6(c.Rate, rates[c.Level]) {
			t.Errorf("%s: rate %g; R has %g", c.Level, c.Rate, rates[c.Level])
		}
		if c.Factor != "pack × orientation" && !near6(c.AgainstRate, rates[c.Against]) {
			t.Errorf("%s: rate %g; R has %g", c.Against, c.AgainstRate, rates[c.Against])
		}
	}
}

// Where only stress data exist, the months lost at the storage condition go by the
// activation energy of the control, as an independent reckoning in R has them, and
// it is said that they do.
func TestMonthsByActivationEnergy(t *testing.T) {
	const study = `[study]
id       = "MB-33"
start    = 2025-01-13
claim    = "92M"
store_at = "25C60"

[[condition]]
id          = "25C60"
role        = "long-term"
temperature = 25.0
pulls       = ["0", "24M"]

[[condition]]
id          = "40C"
role        = "stress"
temperature = 40.0
pulls       = ["0", "1M", "2M", "3M", "4M", "5M", "6M"]

[[condition]]
id          = "50C"
role        = "stress"
temperature = 50.0
pulls       = ["0", "1M", "2M", "3M", "4M", "5M", "6M"]

[[condition]]
id          = "60C"
role        = "stress"
temperature = 60.0
pulls       = ["0", "1M", "2M", "3M"]

[[pack]]
id      = "jar"
control = true

[[pack]]
id = "tube"

[[attribute]]
id    = "assay"
unit  = "%"
kind  = "measure"
lower = 90.0
model = "zero-order"
units = 2
`
	var table strings.Builder
	table.WriteString("batch,condition,pack,time,unit,attribute,value\n")
	for _, r := range reference.Table(t, "months-by-energy/data.csv") {
		time, condition := r["months"]+"M", r["celsius"]+"C"
		if r["months"] == "0" {
			time, condition = "0", ""
		}
		fmt.Fprintf(&table, "B%s,%s,%s,%s,u%s,assay,%s\n", r["batch"], condition, r["pack"], time, r["unit"], r["value"])
	}
	e := analysis.Evaluate(dataset(t, study+batches(3), table.String()), analysis.Options{Interactions: analysis.InteractionOptions{Wanted: true}})
	rows := reference.Table(t, "months-by-energy/months.csv")
	if len(rows) != 3 || len(e.Interactions.Comparisons) != 3 {
		t.Fatalf("%d rows of R, %d comparisons", len(rows), len(e.Interactions.Comparisons))
	}
	for i, c := range e.Interactions.Comparisons {
		r := rows[i]
		if !c.ThroughArrhenius || c.Level != "tube" || e.Dataset.Study.Conditions[c.Condition].ID != r["celsius"]+"C" {
			t.Errorf("%s: through Arrhenius %v, %s at %d", r["celsius"], c.ThroughArrhenius, c.Level, c.Condition)
		}
		for _, q := range []struct {
			name string
			got  float64
		}{
			{"difference", c.Difference}, {"low", c.Low}, {"high", c.High}, {"life", c.Life}, {"against_life", c.AgainstLife},
			{"lost", c.Lost}, {"lost_low", c.LostLow}, {"lost_high", c.Hidden},
		} {
			if want := number(t, r[q.name]); math.Abs(q.got-want) > 1e-6*math.Abs(want) {
				t.Errorf("%s °C, %s: %.9g; R has %.9g", r["celsius"], q.name, q.got, want)
			}
		}
	}
}

// declared writes batches with what the reference table states of them.
func declared(t *testing.T, file string, keep func(batch string) bool, write func(r map[string]string) string) string {
	t.Helper()
	var b strings.Builder
	for _, r := range reference.Table(t, file) {
		if keep(r["batch"]) {
			fmt.Fprintf(&b, "\n[[batch]]\nid = \"B%s\"\n%s\n", r["batch"], write(r))
		}
	}
	return b.String()
}

func all(string) bool { return true }

// twoPacks is a study of a jar and a tube with the pulls given, at one condition.
func twoPacks(t *testing.T, condition, pulls, model string) string {
	t.Helper()
	s := crossed[:strings.Index(crossed, "[[condition]]")] + condition + "pulls = [" + pulls + "]\n\n" + crossed[strings.Index(crossed, "[[pack]]"):]
	s = strings.ReplaceAll(s, "orientations = [\"upright\", \"inverted\"]\n", "")
	return replace(t, s, `"zero-order"`, `"`+model+`"`)
}

// Bench, pilot and production batches: rates and starts by two one-sided tests are R's,
// with margins by arithmetic there, and the poolability test beside them.
func TestScales(t *testing.T) {
	toml := twoPacks(t, "[[condition]]\nid = \"25C60\"\nrole = \"long-term\"\ntemperature = 25.0\nhumidity = 60.0\n", `"0", "3M", "6M", "9M", "12M", "18M"`, "zero-order") +
		declared(t, "scales/batches.csv", all, func(r map[string]string) string {
			return fmt.Sprintf("scale = %q\nfactors = {thickener = %q}", r["scale"], r["thickener"])
		})
	var table strings.Builder
	table.WriteString("batch,condition,pack,time,unit,attribute,value\n")
	for _, r := range reference.Table(t, "scales/data.csv") {
		time, condition := r["months"]+"M", "25C60"
		if r["months"] == "0" {
			time, condition = "0", ""
		}
		fmt.Fprintf(&table, "B%s,%s,%s,%s,u%s,assay,%s\n", r["batch"], condition, r["pack"], time, r["unit"], r["value"])
	}
	e := analysis.Evaluate(dataset(t, toml, table.String()), analysis.Options{Interactions: analysis.InteractionOptions{Wanted: true, Scale: true}})
	rows := reference.Table(t, "scales/scales.csv")
	if len(rows) != 4 || len(e.Interactions.Scale) != 4 {
		t.Fatalf("%d rows of R, %d comparisons of scales", len(rows), len(e.Interactions.Scale))
	}
	for i, u := range e.Interactions.Scale {
		r := rows[i]
		if u.Of != r["of"] || u.Level != r["level"] || string(u.Verdict) != r["verdict"] || u.Reason != "" {
			t.Errorf("%s of %s: %s %s; R has %v", u.Of, u.Level, u.Verdict, u.Reason, r)
		}
		for _, q := range []struct {
			name string
			got  float64
		}{
			{"value", u.Value}, {"against", u.AgainstValue}, {"low", u.Low}, {"high", u.High}, {"margin", u.Margin}, {"p", u.P},
			{"percent", u.MarginPercent}, {"poolability", u.PoolabilityP},
		} {
			if r[q.name] != "NA" && !near6(q.got, number(t, r[q.name])) {
				t.Errorf("%s of %s, %s: %.9g; R has %s", u.Of, u.Level, q.name, q.got, r[q.name])
			}
		}
	}
}

// What a pair of ingredients does beyond each alone, its error and interval are R's,
// with batches that have neither and without.
func TestPairs(t *testing.T) {
	for _, set := range []string{"all", "no-neither"} {
		keep := func(batch string) bool { return set == "all" || batch > "2" }
		toml := twoPacks(t, "[[condition]]\nid = \"25C60\"\nrole = \"long-term\"\ntemperature = 25.0\npulls = [\"0\"]\n\n[[condition]]\nid = \"50C\"\nrole = \"stress\"\ntemperature = 50.0\n", `"0", "1W", "2W", "3W", "4W"`, "first-order") +
			declared(t, "pairs/batches.csv", keep, func(r map[string]string) string {
				return fmt.Sprintf("factors = {fragrance = %q, iron = %q, peroxide = %q}", r["fragrance"], r["iron"], r["peroxide"])
			})
		var table strings.Builder
		table.WriteString("batch,condition,pack,time,unit,attribute,value\n")
		for _, r := range reference.Table(t, "pairs/data.csv") {
			time, condition := r["weeks"]+"W", "50C"
			if r["weeks"] == "0" {
				time, condition = "0", ""
			}
			if keep(r["batch"]) {
				fmt.Fprintf(&table, "B%s,%s,%s,%s,u%s,assay,%s\n", r["batch"], condition, r["pack"], time, r["unit"], r["value"])
			}
		}
		e := analysis.Evaluate(dataset(t, toml, table.String()), analysis.Options{Interactions: analysis.InteractionOptions{Wanted: true, Pairs: true}})
		found := 0
		for _, p := range e.Interactions.Pairs {
			for _, r := range reference.Table(t, "pairs/pairs.csv") {
				if r["set"] != set || r["one"] != p.One || r["other"] != p.Other {
					continue
				}
				found++
				if p.Reason != "" || p.Additive != (set == "all") || !near6(p.LnPair, number(t, r["pair"])) || !near6(p.LnOne, number(t, r["first"])) || !near6(p.LnOther, number(t, r["second"])) ||
					!near6(p.Excess, number(t, r["excess"])) || !near6(p.SE, number(t, r["se"])) || float64(p.DF) != number(t, r["df"]) || !near6(p.Low, number(t, r["low"])) || !near6(p.High, number(t, r["high"])) {
					t.Errorf("%s: %+v; R has %v", set, p, r)
				}
			}
		}
		if found != 3 {
			t.Errorf("%s: %d of 3 pairs found", set, found)
		}
		for i, p := range e.Interactions.Pairs[1:] {
			if p.Excess > e.Interactions.Pairs[i].Excess {
				t.Errorf("%s: not ranked by excess", set)
			}
		}
	}
}

// Packs compared within batches by the units that fail: by their lifetimes where enough
// did, else by the exact test of one ratio of odds, p-values adjusted together, as R has
// them (survreg, mantelhaen.test, p.adjust), and it is told which.
func TestUnitsCompared(t *testing.T) {
	const study = `[study]
id       = "MB-34"
start    = 2025-01-13
claim    = "24M"
store_at = "25C60"

[[condition]]
id          = "25C60"
role        = "long-term"
temperature = 25.0
pulls       = ["0", "3M", "6M", "9M", "12M", "18M"]

[[pack]]
id      = "jar"
control = true

[[pack]]
id = "tube"

[[pack]]
id = "can"

[[pack]]
id = "pump"

[[attribute]]
id       = "leak"
kind     = "pass-fail"
units    = 6
sampling = "returned"

[[attribute]]
id    = "blister"
kind  = "pass-fail"
units = 4
`
	var table strings.Builder
	table.WriteString("batch,condition,pack,time,unit,attribute,value\n")
	for _, r := range reference.Table(t, "lifetime-difference/looks.csv") {
		fmt.Fprintf(&table, "B%s,25C60,%s,%sM,u%s,%s,%s\n", r["batch"], r["pack"], r["months"], r["unit"], r["attribute"], r["value"])
	}
	e := analysis.Evaluate(dataset(t, study+batches(3), table.String()), analysis.Options{Interactions: analysis.InteractionOptions{Wanted: true}})
	fits := map[string]map[string]string{}
	for _, r := range reference.Table(t, "lifetime-difference/strata.csv") {
		fits[r["set"]+r["distribution"]] = r
	}
	rows := reference.Table(t, "lifetime-difference/tests.csv")
	if len(rows) != 6 || len(e.Interactions.Comparisons) != 6 {
		t.Fatalf("%d rows of R, %d comparisons", len(rows), len(e.Interactions.Comparisons))
	}
	for i, c := range e.Interactions.Comparisons {
		r := rows[i]
		of := r["attribute"] + " in the " + r["pack"]
		if c.Strata.Batches != 3 || c.Strata.Both != 3 || c.Strata.Telling != 3 {
			t.Errorf("%s: %+v", of, c.Strata)
		}
		outcome := analysis.NotShown
		if number(t, r["adjusted"]) < 0.05 {
			outcome = analysis.Differs
		}
		if e.Dataset.Study.Attributes[c.Attribute].ID != r["attribute"] || c.Level != r["pack"] || c.Outcome != outcome || !near6(c.P, number(t, r["p"])) || !near6(c.PAdjusted, number(t, r["adjusted"])) ||
			fmt.Sprint(c.Failed, c.AgainstFailed) != fmt.Sprintf("[%s %s] [%s %s]", r["failed"], r["units"], r["against_failed"], r["against_units"]) {
			t.Errorf("%s: %s, p %g and %g, failed %v against %v; R has %v", of, c.Outcome, c.P, c.PAdjusted, c.Failed, c.AgainstFailed, r)
		}
		if r["by"] == "fisher" {
			if c.Lifetimes != nil || c.Error != analysis.ErrorCountsWithin || c.Thin == "" {
				t.Errorf("%s: %s, %q", of, c.Error, c.Thin)
			}
			continue
		}
		d := c.Lifetimes
		if d == nil || c.Error != analysis.ErrorLifetimesWithin || c.Thin != "" || string(d.Distribution) != r["governs"] || c.Model != r["governs"] {
			t.Errorf("%s: %+v by %s, %q", of, d, c.Error, c.Thin)
			continue
		}
		f := fits[r["attribute"]+"-"+r["pack"]+r["governs"]]
		if !near6(d.LnRatio, number(t, f["ln_ratio"])) || !near6(d.SE, number(t, f["se"])) || !near6(d.Low, number(t, f["low_three"])) || !near6(d.High, number(t, f["high_three"])) || !near6(d.Scale, number(t, f["scale"])) {
			t.Errorf("%s: %+v; R has %v", of, d, f)
		}
	}
}

// Where the fit over temperatures has a term for humidity, the months at storage hold
// it. The results are those of k = 0.3·exp(−75/R·(1/T − 1/313.15) + 0.02·(RH − 75)) a
// month in the jar and 1.2 k in the tube, without scatter but for a pattern in the units,
// so that the life is 10/k at 25 °C and 60 %: 10/(0.3·exp(−1.4492 − 0.3)) = 191.6 months.
func TestMonthsHoldHumidity(t *testing.T) {
	const r = 8.314462618e-3
	k := func(celsius, humidity float64) float64 {
		return 0.3 * math.Exp(-75/r*(1/(celsius+273.15)-1/313.15)+0.02*(humidity-75))
	}
	toml := crossed[:strings.Index(crossed, "[[condition]]")]
	toml = replace(t, toml, `"30M"`, `"240M"`) + "[[condition]]\nid = \"25C60\"\nrole = \"long-term\"\ntemperature = 25.0\nhumidity = 60.0\npulls = [\"0\"]\n"
	var table strings.Builder
	table.WriteString("batch,condition,pack,time,unit,attribute,value\n")
	climates := [][2]float64{{40, 75}, {40, 30}, {50, 75}, {50, 30}, {60, 50}}
	for i, rate := range []float64{1, 1.2} {
		pack := []string{"jar", "tube"}[i]
		for u, e := range []float64{0.01, -0.01} {
			fmt.Fprintf(&table, "B1,,%s,0,u%d,assay,%.6f\n", pack, u, 100+e)
			for _, c := range climates {
				for m := 1; m <= 6; m++ {
					fmt.Fprintf(&table, "B1,%.0fC%.0f,%s,%dM,u%d,assay,%.6f\n", c[0], c[1], pack, m, u, 100-rate*k(c[0], c[1])*float64(m)+e)
				}
			}
		}
	}
	for _, c := range climates {
		toml += fmt.Sprintf("[[condition]]\nid = \"%.0fC%.0f\"\nrole = \"stress\"\ntemperature = %.1f\nhumidity = %.1f\npulls = [\"0\", \"1M\", \"2M\", \"3M\", \"4M\", \"5M\", \"6M\"]\n", c[0], c[1], c[0], c[1])
	}
	toml += "[[pack]]\nid = \"jar\"\ncontrol = true\n[[pack]]\nid = \"tube\"\n" + crossed[strings.Index(crossed, "[[attribute]]"):] + batches(1)
	x := analysis.Evaluate(dataset(t, toml, table.String()), analysis.Options{Interactions: analysis.InteractionOptions{Wanted: true}}).Interactions
	if len(x.Comparisons) != len(climates) {
		t.Fatalf("%d comparisons", len(x.Comparisons))
	}
	want := 10 / k(25, 60)
	if math.Abs(want-191.6) > 0.1 {
		t.Fatalf("by hand 191.6, here %g", want)
	}
	for i, c := range x.Comparisons {
		if !c.ThroughArrhenius || math.Abs(c.AgainstLife-want) > 1e-3*want || math.Abs(c.Life-want/1.2) > 1e-3*want {
			t.Errorf("%v: through %v, lives %g and %g; want %g and %g", climates[i], c.ThroughArrhenius, c.AgainstLife, c.Life, want, want/1.2)
		}
	}
}
