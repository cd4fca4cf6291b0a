package words

import (
	"math"
	"regexp"
	"strings"
	"testing"

	"shelfspan/analysis"
	"shelfspan/analysis/arrhenius"
	"shelfspan/analysis/climate"
	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/logger"
)

// The most that a history uses or is worth is raised in the printing, never
// rounded down.
func TestMostIsRaised(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, c := range []struct {
		x                      float64
		used, estimate, months string
	}{
		{0.0131, "1.4 %", "1.3 %", "0.02"}, {0.02, "2.0 %", "2.0 %", "0.02"}, {1.0004, "100.1 %", "100.0 %", "1.01"}, {0, "0.0 %", "0.0 %", "0.00"},
		{1e-7, "0.1 %", "0.0 %", "0.01"}, {inf, "not bounded", "all", "not bounded"}, {nan, "none stated", "none stated", "none stated"},
	} {
		if UsedBound(c.x) != c.used || Used(c.x) != c.estimate || WorthBound(c.x) != c.months {
			t.Errorf("%v: %q, %q, %q", c.x, UsedBound(c.x), Used(c.x), WorthBound(c.x))
		}
	}
	for h, want := range map[float64]string{0.25: "15 min", 1.26: "1.3 h", 72: "72.0 h (3.0 days)"} {
		if got := Hours(h); got != want {
			t.Errorf("%v: %q", h, got)
		}
	}
	if got := Kinetic(-0.004) + Kinetic(-20.456) + Celsius(-18.5); got != "0.00−20.46−18.5" {
		t.Error(got)
	}
}

// history is a log of a study of one attribute with an exposure that the test
// sets.
func history(change func(*climate.Record, *analysis.Arrhenius, *analysis.Exposure)) string {
	s := &study.Study{ID: "MB-26", Conditions: []study.Condition{{ID: "25C60", Temperature: 25, Humidity: 60}}, Packs: []study.Pack{{ID: "tube", Orientations: []study.Orientation{study.Upright}}},
		Attributes: []study.Attribute{{ID: "assay"}}}
	nan := math.NaN()
	r := &climate.Record{EnergyKJ: climate.Conventional, MeanKinetic: 24.5, Mean: 23, Hours: 10, Readings: 11, Above: climate.Side{Limit: nan}, Below: climate.Side{Limit: nan}}
	a := &analysis.Arrhenius{Status: analysis.Fitted, EaKJ: 80, LinearityP: 0.5}
	x := analysis.Exposure{Name: analysis.TheLog, Supported: 18, SupportedLeft: 16.97, Exposure: arrhenius.Exposure{
		Months: 1, MeanKinetic: 24.4, Equivalent: 0.9, EquivalentLow: 0.81, EquivalentHigh: 1.021, Used: 0.05, UsedBound: 0.0701, Left: 19, LeftBound: 17.28, Batch: -1}}
	change(r, a, &x)
	a.Exposures = []analysis.Exposure{x}
	h := &analysis.History{Log: &logger.Log{}, Record: r, Evaluation: &analysis.Evaluation{
		Dataset: &study.Dataset{Study: s}, Confidence: 0.95, Arrhenius: []*analysis.Arrhenius{a},
		Warnings: []finding.Warning{{Code: "history-not-judged", Where: "appearance"}}}}
	return strings.Join(History(h), "\n")
}

// What is said of a life is what its numbers bear, with the bound beside every
// estimate.
func TestHistoryClaimsNoMore(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	type change = func(*climate.Record, *analysis.Arrhenius, *analysis.Exposure)
	for _, c := range []struct {
		name   string
		change change
		says   []string
		never  []string // and does not
	}{
		{"plain", func(*climate.Record, *analysis.Arrhenius, *analysis.Exposure) {}, []string{
			"the log uses at most 7.1 %, for assay in tube (estimate 5.0 %); it is worth 0.90 months at storage (0.81 to 1.03) and 1.00 long",
			"at least 17.2 months are left of that life", "leaves least for assay in tube: 16.9 of 18 months", "Not judged, and so not covered by the above: appearance.", "name no zone"}, []string{"not to be relied on", "Above"}},
		{"bent", func(_ *climate.Record, a *analysis.Arrhenius, _ *analysis.Exposure) { a.LinearityP = 0.001 }, []string{"at most 7.1 %", "this is not to be relied on"}, nil},
		{"not bounded", func(_ *climate.Record, _ *analysis.Arrhenius, x *analysis.Exposure) {
			x.UsedBound, x.EquivalentHigh, x.LeftBound, x.SupportedLeft = inf, inf, 0, 0
		}, []string{"uses 5.0 % by estimate for assay in tube, and nothing bounds how much it may be", "(0.81 to not bounded)", "at least 0.0 months are left", "0.0 of 18 months"}, []string{"at most"}},
		{"breached", func(_ *climate.Record, _ *analysis.Arrhenius, x *analysis.Exposure) { x.Used, x.UsedBound = inf, inf }, []string{"can take nothing: the limit of assay in tube is met at the start"}, nil},
		{"never", func(_ *climate.Record, _ *analysis.Arrhenius, x *analysis.Exposure) { x.Used, x.UsedBound = 0, 0 }, []string{"uses nothing of any life: no path meets its limit"}, []string{"at most"}},
		{"no limit", func(_ *climate.Record, _ *analysis.Arrhenius, x *analysis.Exposure) {
			x.Used, x.UsedBound, x.Left, x.LeftBound, x.Supported, x.SupportedLeft = nan, nan, nan, nan, nan, nan
		}, []string{"What this does to the product cannot be said"}, []string{"uses", "left"}},
		{"no storage", func(_ *climate.Record, _ *analysis.Arrhenius, x *analysis.Exposure) {
			x.Equivalent, x.EquivalentLow, x.EquivalentHigh, x.Left, x.LeftBound, x.Supported, x.SupportedLeft = nan, nan, nan, nan, nan, nan, nan
		}, []string{"uses at most 7.1 %"}, []string{"worth", "left"}},
		{"within", func(r *climate.Record, _ *analysis.Arrhenius, _ *analysis.Exposure) {
			r.Above = climate.Side{Limit: 25}
		}, []string{"Never above 25 °C."}, []string{"is within the limit"}},
		{"an excursion", func(r *climate.Record, _ *analysis.Arrhenius, _ *analysis.Exposure) {
			r.Above = climate.Side{Limit: 25, Hours: 2, Count: 1}
			r.Excursions = []climate.Excursion{{Above: true, Hours: 2, Peak: climate.Extreme{Celsius: 31.5}}}
		}, []string{"Above 25 °C for 2.0 h (20 % of the time) in 1 excursion, as far as 31.5 °C.", "is within the limit; that by itself excuses no time above it"}, nil},
		{"above itself", func(r *climate.Record, _ *analysis.Arrhenius, _ *analysis.Exposure) {
			r.Above = climate.Side{Limit: 24, Hours: 2, Count: 1}
			r.Excursions = []climate.Excursion{{Above: true, Hours: 2, Peak: climate.Extreme{Celsius: 31.5}}}
		}, []string{"The mean kinetic temperature is above the limit itself."}, []string{"is within the limit"}},
		{"gaps", func(r *climate.Record, _ *analysis.Arrhenius, _ *analysis.Exposure) { r.GapCount, r.GapHours = 1, 7.5 }, []string{"Of 7.5 h in gaps nothing is known."}, nil},
		{"nothing counted", func(r *climate.Record, _ *analysis.Arrhenius, _ *analysis.Exposure) {
			r.MeanKinetic, r.Mean, r.Hours = nan, nan, 0
		}, []string{"No mean kinetic temperature can be stated: no time is counted"}, []string{"Mean kinetic temperature of the log"}},
	} {
		got := history(c.change)
		for _, want := range c.says {
			if !strings.Contains(got, want) {
				t.Errorf("%s: %q is not said:\n%s", c.name, want, got)
			}
		}
		for _, not := range c.never {
			if strings.Contains(got, not) {
				t.Errorf("%s: %q is said:\n%s", c.name, not, got)
			}
		}
		if regexp.MustCompile(`NaN|Inf|–`).MatchString(got) {
			t.Errorf("%s: a number that is none:\n%s", c.name, got)
		}
	}
}

// The time above the limit is told by what it is worth at the most.
func TestAboveLimitIsTold(t *testing.T) {
	got := history(func(_ *climate.Record, _ *analysis.Arrhenius, x *analysis.Exposure) {
		x.Name, x.Months, x.Equivalent, x.EquivalentHigh = analysis.AboveLimit, 48/(24*study.DaysPerMonth), 0.1, 0.1201
	})
	if want := "The time above the limit, 48.0 h, is worth at most 0.13 months at storage for assay in tube, for which it counts most (estimate 0.10 months)."; !strings.Contains(got, want) {
		t.Error(got)
	}
}
