package analysis_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"shelfspan/analysis"
	"shelfspan/analysis/agreement"
	"shelfspan/analysis/lifetime"
	"shelfspan/study"
)

// studyOfUnits evaluates the study of testdata/reference/lifetimes-study.
func studyOfUnits(t *testing.T, o analysis.Options) *analysis.Evaluation {
	t.Helper()
	dir := filepath.Join("..", "testdata", "reference", "lifetimes-study")
	toml, err := os.ReadFile(filepath.Join(dir, "study.toml"))
	if err != nil {
		t.Fatal(err)
	}
	results, err := os.ReadFile(filepath.Join(dir, "results.csv"))
	if err != nil {
		t.Fatal(err)
	}
	return analysis.Evaluate(dataset(t, string(toml), string(results)), o)
}

// TestLifetimesAgainstR holds every number to what R makes of the same table:
// survreg, isoreg and survfit, binom.test, vcd's Kappa
// (testdata/reference/lifetimes-study/lifetimes-study.R).
func TestLifetimesAgainstR(t *testing.T) {
	e := studyOfUnits(t, analysis.Options{Trends: true, Supported: true, Arrhenius: true})
	got := make(map[string]float64)
	put := func(v float64, name ...string) { got[strings.Join(name, "|")] = v }
	fit := func(name string, f *analysis.LifetimeFit) {
		for i := range f.Candidates {
			c := &f.Candidates[i]
			d := string(c.Distribution)
			put(c.Scale, name, d, "scale")
			put(c.LogLikelihood, name, d, "loglik")
			put(c.AICc, name, d, "aicc")
			put(c.EaKJ, name, d, "ea")
			put(c.EaLow, name, d, "ea_low")
			put(c.EaHigh, name, d, "ea_high")
			put(c.Bounds[0].Estimate, name, d, "estimate")
			put(c.Bounds[0].Wald, name, d, "wald")
			put(c.Bounds[0].Profile, name, d, "profile")
			put(c.Bounds[0].Calibrated, name, d, "calibrated")
		}
		// Of the governing distribution.
		put(f.CommonChi, name, string(f.Candidates[0].Distribution), "common_chi")
		put(f.CommonP, name, string(f.Candidates[0].Distribution), "common_p")
	}
	for _, l := range e.Lifetimes {
		name := e.Dataset.Study.Attributes[l.Attribute].ID
		if l.Joint.Fitted() {
			fit(name, l.Joint)
		}
		for i := range l.Conditions {
			u := &l.Conditions[i]
			here := name + " " + e.Dataset.Study.Conditions[u.Condition].ID
			put(float64(u.Units), here, "", "units")
			put(float64(u.Failed), here, "", "failed")
			put(u.Pulls[len(u.Pulls)-1].AtMost, here, "", "at_most")
			if u.Own.Fitted() {
				fit(here, u.Own)
			}
		}
	}
	for _, g := range e.Agreements {
		put(float64(g.Result.Units), "agreement", "", "samples")
		put(float64(g.Same()), "agreement", "", "same")
		put(g.Result.Kappa, "agreement", "", "kappa")
		put(g.Result.SE, "agreement", "", "se")
	}

	f, err := os.Open(filepath.Join("..", "testdata", "reference", "lifetimes-study", "lifetimes-study.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	compared := 0
	for _, r := range rows[1:] {
		want, err := strconv.ParseFloat(r[3], 64)
		if err != nil {
			t.Fatal(err)
		}
		name := strings.Join(r[:3], "|")
		var have float64
		switch by, steps := strings.CutPrefix(r[2], "failed_by_"); {
		case steps:
			have = failedBy(t, e, r[0], by)
		case strings.HasPrefix(r[2], "common_") && r[1] == "weibull":
			continue // it does not govern
		default:
			var ok bool
			if have, ok = got[name]; !ok {
				t.Errorf("%s is not in the evaluation", name)
				continue
			}
		}
		compared++
		// At 30 °C the bound by lognormal lies where the profile is all but flat.
		if want > 0 && want < 1e-6 {
			have, want = math.Log(have), math.Log(want)
		}
		if math.Abs(have-want) > 1e-6*math.Abs(want) {
			t.Errorf("%s: %.9g, R has %.9g", name, have, want)
		}
	}
	if compared < 80 {
		t.Errorf("%d numbers compared", compared)
	}
}

// failedBy is the share failed by a time, without a model.
func failedBy(t *testing.T, e *analysis.Evaluation, name, by string) float64 {
	t.Helper()
	time, err := strconv.ParseFloat(by, 64)
	if err != nil {
		t.Fatal(err)
	}
	attribute, condition, _ := strings.Cut(name, " ")
	for _, l := range e.Lifetimes {
		for i := range l.Conditions {
			u := &l.Conditions[i]
			if e.Dataset.Study.Attributes[l.Attribute].ID != attribute || e.Dataset.Study.Conditions[u.Condition].ID != condition {
				continue
			}
			share := 0.0
			for _, j := range u.Steps.Jumps {
				if j.By <= time+1e-4 {
					share += j.Share
				}
			}
			return share
		}
	}
	t.Fatalf("no units of %s", name)
	return 0
}

// TestUnitsFailSooner: the rule supports the 9 months before the first failure;
// by R the 25 °C units alone, of which 4 failed, have no lower bound above zero, by
// neither distribution, where by the profile likelihood it would be 4.876 and 4.306
// months. The verdict is none of its business. Over all temperatures the shorter
// bound is 4.616, by Weibull, which fits about as well as lognormal (5.845).
func TestUnitsFailSooner(t *testing.T) {
	e := studyOfUnits(t, analysis.Options{Supported: true})
	if e.Supported.Months != 9 || e.Supported.LimitedBy != analysis.ByFailure {
		t.Fatalf("supported %d by %s, want 9 by the failure", e.Supported.Months, e.Supported.LimitedBy)
	}
	if !hasWarning(e, "units-fail-sooner") {
		t.Errorf("no warning that units fail sooner: %v", e.Warnings)
	}
	w, c := e.Sooner(e.Lifetimes[0])
	if w == nil || w.Months != 9 || !c.Bounds[0].Open || c.Bounds[0].Calibrated != 0 || math.Abs(c.Bounds[0].Profile-4.876) > 1e-3 {
		t.Errorf("%+v, %+v", w, c)
	}
	if c, ok := e.Lifetimes[0].Joint.Cautious(0); !ok || c.Distribution != lifetime.Weibull || math.Abs(c.Bounds[0].Calibrated-4.615704) > 1e-5 {
		t.Errorf("over all temperatures %+v", c)
	}
	// No unit leaks at 25 °C, and none of the bounds there is a shelf life.
	if w, _ := e.Sooner(e.Lifetimes[1]); w != nil {
		t.Errorf("leaking units at storage: %+v", w)
	}
}

// leaking is a pass/fail attribute of the same units put back.
const leaking = `
[[attribute]]
id       = "leak"
kind     = "pass-fail"
sampling = "returned"
units    = 3
`

// looking is a grade whose units are opened.
const looking = `
[[attribute]]
id     = "look"
kind   = "grade"
grades = ["none", "slight", "marked"]
upper  = 1
units  = 2
`

// at gives the units at a condition of the only lifetime.
func at(t *testing.T, e *analysis.Evaluation, condition int) *analysis.UnitsAt {
	t.Helper()
	if len(e.Lifetimes) != 1 || e.Lifetimes[0].At(condition) == nil {
		t.Fatalf("%d lifetimes, units at condition %d are wanted", len(e.Lifetimes), condition)
	}
	return e.Lifetimes[0].At(condition)
}

// steps writes the nonparametric estimate: "3-6:0.5 9-:0.5".
func steps(u *analysis.UnitsAt) string {
	var out []string
	for _, j := range u.Steps.Jumps {
		by := ""
		if !math.IsInf(j.By, 1) {
			by = fmt.Sprintf("%.4g", j.By)
		}
		out = append(out, fmt.Sprintf("%.4g-%s:%.4g", j.After, by, j.Share))
	}
	return strings.Join(out, " ")
}

// TestReturnedUnitsHaveSeveralLooks: unit a fails between 3 and 6 months, b
// passes to 9, c fails at 3, passes at 6 and is not looked at at 9. So after 0 by
// 3, after 3 by 6 and after 9 have a third each; of the three at 9 months two
// had failed, c though it was not looked at.
func TestReturnedUnitsHaveSeveralLooks(t *testing.T) {
	e := supported(t, head+batches(1)+leaking, `batch,condition,time,attribute,unit,value
B1,25C60,0,leak,a,pass
B1,25C60,0,leak,b,pass
B1,25C60,0,leak,c,pass
B1,25C60,3M,leak,a,pass
B1,25C60,3M,leak,b,pass
B1,25C60,3M,leak,c,fail
B1,25C60,6M,leak,a,fail
B1,25C60,6M,leak,b,pass
B1,25C60,6M,leak,c,pass
B1,25C60,9M,leak,a,fail
B1,25C60,9M,leak,b,pass
`)
	u := at(t, e, 0)
	if u.Units != 3 || u.Failed != 2 || u.Recovered != 1 || !hasWarning(e, "recovered") {
		t.Errorf("%d units, %d failed, %d recovered", u.Units, u.Failed, u.Recovered)
	}
	if got, want := steps(u), "0-3:0.3333 3-6:0.3333 9-:0.3333"; got != want {
		t.Errorf("steps %s, want %s", got, want)
	}
	if len(u.Pulls) != 3 || u.Pulls[0].Units != 3 || u.Pulls[0].Failed != 1 || u.Pulls[2].Units != 3 || u.Pulls[2].Failed != 2 {
		t.Errorf("pulls %+v", u.Pulls)
	}
}

// TestOpenedUnitsHaveOneLook: the same label at another pull is another unit, and
// of the two readings of a unit the worst counts. 1 of 2 fails at 3 months, 0 of 2
// at 6: the isotonic shares are 1/4 and 1/4, by pooling. At 3 months 1 of 2: the
// exact 95 % bound is √0.95 (p² = 0.95 is left for both to fail).
func TestOpenedUnitsHaveOneLook(t *testing.T) {
	e := supported(t, head+batches(1)+looking+"replicates = 2\n", `batch,condition,time,attribute,unit,replicate,value
B1,,0,look,1,1,none
B1,25C60,3M,look,1,1,none
B1,25C60,3M,look,1,2,marked
B1,25C60,3M,look,2,1,none
B1,25C60,6M,look,1,1,none
B1,25C60,6M,look,2,1,slight
`)
	u := at(t, e, 0)
	if u.Units != 4 || u.Failed != 1 {
		t.Errorf("%d units, %d failed, want 4 and 1: time zero says nothing of storage", u.Units, u.Failed)
	}
	if got, want := steps(u), "0-3:0.25 6-:0.75"; got != want {
		t.Errorf("steps %s, want %s", got, want)
	}
	if got := u.Pulls[0].AtMost; !near(got, math.Sqrt(0.95)) {
		t.Errorf("at most %v, want %v", got, math.Sqrt(0.95))
	}
	if e.Supported.Months != 0 {
		t.Errorf("supported %d", e.Supported.Months)
	}
}

// TestNoFailureIsABinomialStatement: of 2 units without a failure at most 1 −
// √0.05 fails by then. One was pulled 45 days early, on day 228 of storage: the
// two speak for 7.49 months, not 9. Nothing is fitted.
func TestNoFailureIsABinomialStatement(t *testing.T) {
	e := supported(t, head+batches(1)+looking, `batch,condition,time,pulled,attribute,unit,value
B1,25C60,9M,2025-08-29,look,1,none
B1,25C60,9M,2025-10-13,look,2,none
`)
	u := at(t, e, 0)
	if u.Own != nil || e.Lifetimes[0].Joint != nil {
		t.Errorf("fitted without a failure: %+v, %+v", u.Own, e.Lifetimes[0].Joint)
	}
	p := u.Pulls[0]
	if !near(p.AtMost, 1-math.Sqrt(0.05)) || !near(p.Months, 228/30.4375) {
		t.Errorf("%+v, want at most %v by %v months", p, 1-math.Sqrt(0.05), 228/30.4375)
	}
	if !near(u.After, 228/30.4375) && !near(u.After, 273/30.4375) || !math.IsInf(u.By, 1) {
		t.Errorf("seen after %v by %v", u.After, u.By)
	}
}

// TestFailedBeforeStorage: no lifetime begins so, and none is estimated.
func TestFailedBeforeStorage(t *testing.T) {
	e := supported(t, head+batches(1)+looking, `batch,condition,time,attribute,unit,value
B1,,0,look,1,marked
B1,25C60,3M,look,1,none
B1,25C60,3M,look,2,none
B1,25C60,6M,look,1,marked
`)
	u := at(t, e, 0)
	if u.AtStart != 1 || u.Failed != 2 || u.Units != 4 || u.Steps != nil || !math.IsNaN(u.By) || u.Own.Fitted() || u.Own.Candidates[0].Status != lifetime.AtStart {
		t.Errorf("%+v, %+v", u, u.Own)
	}
}

// TestCyclingIsLeftOut: it has no temperature to stand at.
func TestCyclingIsLeftOut(t *testing.T) {
	toml := head + `
[[condition]]
id          = "cycle"
role        = "cycling"
cycle_hours = 48
pulls       = ["5C"]
` + batches(1) + looking
	e := supported(t, toml, `batch,condition,time,attribute,unit,value
B1,25C60,6M,look,1,none
B1,25C60,9M,look,1,none
B1,cycle,5C,look,1,marked
`)
	u := at(t, e, 0)
	if len(e.Lifetimes[0].Conditions) != 1 || u.Units != 2 || u.Failed != 0 || len(u.Pulls) != 2 {
		t.Errorf("%d conditions, %+v", len(e.Lifetimes[0].Conditions), u)
	}
}

// TestOneBatchFails: three failures, all of B2.
func TestOneBatchFails(t *testing.T) {
	csv := "batch,condition,time,attribute,unit,value\n"
	for _, batch := range []string{"B1", "B2"} {
		for unit := range 4 {
			value := "none"
			if batch == "B2" && unit > 0 {
				value = "marked"
			}
			csv += fmt.Sprintf("%s,25C60,6M,look,%d,%s\n", batch, unit, value)
		}
	}
	if e := supported(t, head+batches(2)+looking, csv); !hasWarning(e, "one-batch-fails") {
		t.Errorf("%v", e.Warnings)
	}
	if e := supported(t, head+batches(2)+looking, strings.Replace(csv, "B1,25C60,6M,look,0,none", "B1,25C60,6M,look,0,marked", 1)); hasWarning(e, "one-batch-fails") {
		t.Errorf("%v", e.Warnings)
	}
}

// TestCoverage: the share is what the coverage leaves.
func TestCoverage(t *testing.T) {
	e := studyOfUnits(t, analysis.Options{Trends: true, Coverage: 0.5})
	l := e.Lifetimes[0]
	if l.Share != 0.5 {
		t.Fatalf("share %v", l.Share)
	}
	// Half of lognormal lifetimes are over at e^μ, μ = λ + Ea·u.
	c := &l.At(2).Own.Candidates[0]
	if !near(c.Bounds[0].Estimate, math.Exp(c.Location)) {
		t.Errorf("median %v, location %v", c.Bounds[0].Estimate, c.Location)
	}
	if e := studyOfUnits(t, analysis.Options{Trends: true}); e.Lifetimes[0].Share != 0.05 {
		t.Errorf("share %v where no coverage is asked for", e.Lifetimes[0].Share)
	}
}

// TestLeftOutOfLifetimes: without the hottest condition the fit over temperatures
// has the units of the other two, and that condition still speaks for itself; only
// the conditions asked for are told.
func TestLeftOutOfLifetimes(t *testing.T) {
	e := studyOfUnits(t, analysis.Options{Arrhenius: true, LeaveOut: []int{2}, Reason: "the wax melts"})
	l := e.Lifetimes[0]
	if l.Joint.Temperatures != 2 || l.Joint.Units != 108 || l.At(2) == nil || l.At(2).Units != 48 {
		t.Errorf("%d temperatures, %d units", l.Joint.Temperatures, l.Joint.Units)
	}
	e = studyOfUnits(t, analysis.Options{Trends: true, Conditions: []int{2}})
	if l := e.Lifetimes[0]; len(l.Conditions) != 1 || l.Conditions[0].Condition != 2 || l.Joint.Units != 156 {
		t.Errorf("%d conditions, %d units together", len(l.Conditions), l.Joint.Units)
	}
}

// graded writes a study of one pull graded by A and B, pair by pair.
func graded(pairs ...[2]string) string {
	csv := "batch,condition,time,attribute,unit,replicate,value,analyst\n"
	for i, p := range pairs {
		for k, who := range []string{"A", "B"} {
			csv += fmt.Sprintf("B1,25C60,3M,look,u%d,%d,%s,%s\n", i, k+1, p[k], who)
		}
	}
	return csv
}

// TestAgreement: kappa by hand. Linear weights of three grades are 1, 1/2, 0.
func TestAgreement(t *testing.T) {
	const n, s, m = "none", "slight", "marked"
	for _, c := range []struct {
		name   string
		pairs  [][2]string
		status agreement.Status
		kappa  float64
		poor   bool
	}{
		// Missed: half a grade of four is 1/8. By chance, A none 2/4, slight 1/4, marked
		// 1/4 and B none 1/4, slight 2/4, marked 1/4: 1/2·(2/4·2/4 + 1/4·1/4 + 1/4·1/4 +
		// 1/4·2/4) + (2/4·1/4 + 1/4·1/4) = 1/4 + 3/16 = 7/16. κ = 1 − (2/16)/(7/16) = 5/7.
		{"one of four a grade apart", [][2]string{{n, n}, {n, s}, {s, s}, {m, m}}, agreement.Computed, 5. / 7, false},
		{"alike and one grade only", [][2]string{{n, n}, {n, n}}, agreement.OneGrade, math.NaN(), false},
		{"alike", [][2]string{{n, n}, {m, m}}, agreement.NoError, 1, false},
		{"one gives everything the same", [][2]string{{n, n}, {n, m}, {n, s}}, agreement.ByMargins, math.NaN(), true},
		// Missed 2 of 4 by two grades and 1 by one: 5/8. By chance, A none and marked 1/2
		// each, B none 1/2, slight and marked 1/4 each: none–marked 1/8, none–slight 1/16,
		// marked–none 1/4, marked–slight 1/16, together 1/2. κ = 1 − 5/4.
		{"against each other", [][2]string{{n, m}, {n, n}, {m, n}, {m, s}}, agreement.Computed, 1 - (5./8)/(1./2), true},
	} {
		e := supported(t, head+batches(1)+looking, graded(c.pairs...))
		if len(e.Agreements) != 1 {
			t.Fatalf("%s: %d pairs of assessors", c.name, len(e.Agreements))
		}
		g := e.Agreements[0]
		if g.Assessors != [2]string{"A", "B"} || g.Result.Units != len(c.pairs) || g.Result.Status != c.status || !near(g.Result.Kappa, c.kappa) {
			t.Errorf("%s: %v, %+v, want kappa %v", c.name, g.Assessors, g.Result, c.kappa)
		}
		if g.Poor() != c.poor || hasWarning(e, "poor-agreement") != c.poor {
			t.Errorf("%s: poor is %v", c.name, g.Poor())
		}
	}
}

// TestAgreementNeedsTheSameSample: two who graded different units are not
// compared, nor one by himself; what one wrote twice counts once, by the worst.
func TestAgreementNeedsTheSameSample(t *testing.T) {
	csv := `batch,condition,time,attribute,unit,replicate,value,analyst
B1,25C60,3M,look,u1,1,none,A
B1,25C60,3M,look,u2,1,none,B
B1,25C60,6M,look,u3,1,none,A
B1,25C60,6M,look,u3,2,slight,A
B1,25C60,6M,look,u4,1,none,
`
	if e := supported(t, head+batches(1)+looking, csv); len(e.Agreements) != 0 {
		t.Errorf("%+v", e.Agreements[0])
	}
	e := supported(t, head+batches(1)+looking, csv+"B1,25C60,6M,look,u3,3,none,B\n")
	if len(e.Agreements) != 1 || e.Agreements[0].Result.Units != 1 || e.Agreements[0].Table[1][0] != 1 {
		t.Fatalf("%+v", e.Agreements)
	}
}

// TestNothingAskedForUnits: a dataset without grades has neither.
func TestNothingAskedForUnits(t *testing.T) {
	e := supported(t, head+batches(1)+assay, "batch,condition,time,attribute,value\nB1,25C60,3M,assay,99\n")
	if len(e.Lifetimes)+len(e.Agreements) != 0 || e.Dataset.Study.Attributes[0].Kind != study.Measure {
		t.Errorf("%v, %v", e.Lifetimes, e.Agreements)
	}
}
