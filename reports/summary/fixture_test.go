package summary

import (
	"fmt"
	"math"

	"shelfspan/analysis"
	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/schedule"
)

// months makes the pulls 0, 3M, 6M …
func pullsAt(ms ...int32) []study.Duration {
	var out []study.Duration
	for _, m := range ms {
		d := study.Duration{N: m, Unit: study.Months}
		if m == 0 {
			d = study.Duration{}
		}
		out = append(out, d)
	}
	return out
}

// balm is an invented study: a skin-care balm in three packs.
func balm() *study.Study {
	nan := math.NaN()
	condition := func(id string, role study.Role, t, h float64, pulls ...int32) study.Condition {
		return study.Condition{ID: id, Role: role, Temperature: t, Humidity: h, TemperatureTolerance: 2, HumidityTolerance: 5, Pulls: pullsAt(pulls...), Chamber: -1}
	}
	inf := math.Inf(1)
	attribute := func(id, unit string, kind study.Kind, lower, upper float64, decimals int) study.Attribute {
		return study.Attribute{ID: id, Unit: unit, Kind: kind, Lower: lower, Upper: upper, Basis: study.BasisValue, Model: study.ZeroOrder,
			Direction: study.Either, Sampling: study.Destructive, Units: 1, Replicates: 3, Decimals: decimals, SignificantChange: nan}
	}
	grade := attribute("appearance", "", study.Grade, -inf, 2, -1)
	grade.Grades = []string{"none", "slight", "moderate", "marked", "severe"}
	return &study.Study{
		ID: "MB-26", Title: "Meadow balm, stability of the market pack", Product: "Meadow balm",
		Start: study.NewDate(2025, 1, 13), Claim: study.Duration{N: 30, Unit: study.Months}, StoreAt: 1, Rules: study.ICHQ1E,
		Confidence: 0.95, PoolAlpha: 0.25,
		Calendar: study.Calendar{Workdays: [7]bool{1: true, 2: true, 3: true, 4: true, 5: true}, Shift: study.ShiftNearest,
			Windows: []study.Window{{UpTo: study.Duration{N: 1, Unit: study.Months}, Days: 3}, {UpTo: study.Duration{N: 60, Unit: study.Months}, Days: 10}}},
		Samples: study.Samples{ReservePercent: 10},
		Conditions: []study.Condition{
			condition("5C", study.LongTerm, 5, nan, 0, 6, 12, 18),
			condition("25C60", study.LongTerm, 25, 60, 0, 3, 6, 9, 12, 18, 24),
			condition("30C65", study.Intermediate, 30, 65, 0, 3, 6, 9, 12),
			condition("40C75", study.Accelerated, 40, 75, 0, 1, 2, 3, 6),
			condition("45C", study.Stress, 45, nan, 0, 1, 2, 3),
		},
		Batches: []study.Batch{
			{ID: "B1", Scale: "bench", Made: study.NewDate(2025, 1, 6), Placed: study.NoDate, Factors: []study.Factor{{Name: "thickener", Level: "clay"}}},
			{ID: "P1", Scale: "pilot", Made: study.NewDate(2025, 1, 7), Placed: study.NoDate},
			{ID: "F1", Scale: "production", Lot: "0047", Size: "800 kg", Made: study.NewDate(2025, 1, 9), Placed: study.NoDate},
		},
		Packs: []study.Pack{
			{ID: "jar", Description: "glass jar with liner, the inert control", Glass: true, Control: true, NetFill: 50, WaterPercent: nan, Tare: nan, Orientations: []study.Orientation{study.Upright}},
			{ID: "can", Description: "aluminium can with bag-on-valve", Pressurised: true, Flammable: true, NetFill: 150, WaterPercent: 62, Tare: 21.4, Orientations: []study.Orientation{study.Upright, study.Inverted}},
		},
		Attributes: []study.Attribute{
			attribute("viscosity", "mPa.s", study.Measure, 18000, 42000, 0),
			attribute("assay", "%", study.Measure, 90, inf, 1),
			attribute("weight", "g", study.Weighing, -inf, 3, 2),
			grade,
		},
	}
}

// line is a fitted line with a confidence limit of the usual shape.
type lineFit struct{ a, b, s, n, mean, sxx float64 }

func (l lineFit) curve(t float64) (m, lo, hi float64) {
	m = l.a + l.b*t
	h := 2.0 * l.s * math.Sqrt(1/l.n+(t-l.mean)*(t-l.mean)/l.sxx)
	return m, m - h, m + h
}

func crossing(f func(float64) float64) float64 {
	if f(0) < 0 {
		return 0
	}
	for t := 0.0; t < 300; t += 0.01 {
		if f(t) < 0 {
			return t
		}
	}
	return math.Inf(1)
}

// trend is a hand-made analysis with samples around given lines.
func trend(s *study.Study, attribute, condition, pack int, decision string, lines []lineFit) *analysis.Analysis {
	at := &s.Attributes[attribute]
	a := &analysis.Analysis{
		Attribute: attribute, Condition: condition, Pack: pack, Status: analysis.Fitted, Model: "zero-order",
		Lower: at.Lower, Upper: at.Upper, OneSided: math.IsInf(at.Upper, 1), Confidence: 0.95, ObservedMonths: 18,
		Pooling:    analysis.Pooling{Alpha: 0.25, SlopesP: 0.04, SlopesF: 3.9, InterceptsP: math.NaN(), InterceptsF: math.NaN(), DF1: 2, DF2: 57, Decision: decision},
		ResidualSD: lines[0].s, DF: 57, ShelfLife: math.Inf(1), Estimate: math.Inf(1), LimitingBatch: -1,
	}
	wobble := 0
	for b, l := range lines {
		for _, p := range s.Conditions[condition].Pulls {
			months := p.Months(0)
			if months > 18 {
				continue
			}
			wobble++
			v := l.a + l.b*months + l.s*math.Sin(float64(wobble*7))
			x := analysis.Sample{Batch: b, Months: months * 0.999, Planned: p, PlannedMonths: months, Condition: condition, Value: v, Readings: 3,
				Low: v - l.s/2, High: v + l.s/2, InWindow: wobble%11 != 0, Fitted: wobble%13 != 0, OutOfCriterion: v < at.Lower || v > at.Upper}
			a.Samples = append(a.Samples, x)
		}
		f := analysis.Fit{Batch: b, Intercept: l.a, Slope: l.b, SlopeSE: l.s / math.Sqrt(l.sxx), N: 6, Curve: l.curve, LimitedBy: "lower"}
		f.ShelfLife = crossing(func(t float64) float64 { _, lo, _ := l.curve(t); return lo - at.Lower })
		f.Estimate = crossing(func(t float64) float64 { return l.a + l.b*t - at.Lower })
		if f.ShelfLife < a.ShelfLife {
			a.ShelfLife, a.Estimate = f.ShelfLife, f.Estimate
			if decision != "pooled" {
				a.LimitingBatch = b
			}
		}
		a.Fits = append(a.Fits, f)
	}
	if math.IsInf(a.ShelfLife, 1) {
		a.Status = analysis.NeverReached
	}
	return a
}

// weighings is a hand-made analysis of the units of a weighing.
func weighings(s *study.Study, attribute, condition, pack int) *analysis.Analysis {
	l := lineFit{0, 0.055, 0.1, 9, 9, 400}
	a := trend(s, attribute, condition, pack, "pooled", []lineFit{l})
	a.Model, a.Samples, a.Fits = "unit rates", nil, nil
	for b := range s.Batches {
		for u := range 4 {
			for _, p := range s.Conditions[condition].Pulls {
				m := p.Months(0)
				if m <= 18 {
					a.Samples = append(a.Samples, analysis.Sample{Batch: b, Unit: fmt.Sprintf("%d-%d", b, u), Months: m, Planned: p, PlannedMonths: m,
						Value: m * (0.05 + 0.004*float64(u) + 0.003*float64(b)), Readings: 1, InWindow: true, Fitted: true})
				}
			}
		}
		a.Fits = append(a.Fits, analysis.Fit{Batch: b, Intercept: math.NaN(), Slope: l.b, SlopeSE: 0.002, N: 4, Estimate: 54.5, ShelfLife: 49.8, LimitedBy: "upper",
			Curve: func(t float64) (float64, float64, float64) { return l.b * t, math.NaN(), (l.b + 0.005) * t }})
	}
	a.ShelfLife, a.Estimate, a.Status, a.OneSided = 49.8, 54.5, analysis.Fitted, true
	return a
}

func grades(s *study.Study, attribute, condition, pack int) *analysis.Analysis {
	a := &analysis.Analysis{Attribute: attribute, Condition: condition, Pack: pack, Status: analysis.Observed, Model: "observed",
		Lower: math.Inf(-1), Upper: 2, Confidence: 0.95, ObservedMonths: 18, ResidualSD: math.NaN(), ShelfLife: math.NaN(), Estimate: math.NaN(), LimitingBatch: -1}
	for b := range s.Batches {
		for i, p := range s.Conditions[condition].Pulls {
			for u := range 3 {
				if m := p.Months(0); m <= 18 {
					a.Samples = append(a.Samples, analysis.Sample{Batch: b, Unit: fmt.Sprint(u), Months: m, Planned: p, PlannedMonths: m, Value: float64((i*(u+1) + b) / 5), Readings: 1, InWindow: true})
				}
			}
		}
	}
	return a
}

// evaluated is the whole hand-made answer.
func evaluated() Input {
	s := balm()
	nan := math.NaN()
	d := &study.Dataset{Study: s, Texts: []string{""}, Inputs: []study.Input{{Path: "results.csv", SHA256: "9f2c4a6b8d0e1f3a5c7b9d1e3f5a7c9b1d3e5f7a9c1b3d5e7f9a1c3b5d7e9f1a", Rows: 812}}}
	e := &analysis.Evaluation{Dataset: d, Confidence: 0.95}
	assay := func(c int, k float64) []lineFit {
		return []lineFit{
			{101.4, -0.31 * k, 0.8, 6, 8, 220 / k}, {100.9, -0.22 * k, 0.8, 6, 8, 220 / k}, {101.1, -0.26 * k, 0.8, 6, 8, 220 / k},
		}
	}
	for pack := range s.Packs {
		for c, k := range []float64{0.2, 1, 1.8, 6.5, 8} {
			f := 30000 - 400*float64(pack)
			e.Analyses = append(e.Analyses,
				trend(s, 0, c, pack, "pooled", []lineFit{{f, -150 * k, 700, 18, 8, 600}, {f, -150 * k, 700, 18, 8, 600}, {f, -150 * k, 700, 18, 8, 600}}),
				trend(s, 1, c, pack, "separate", assay(c, k)))
			if c > 0 {
				e.Analyses = append(e.Analyses, grades(s, 3, c, pack))
			}
			if pack == 1 {
				e.Analyses = append(e.Analyses, weighings(s, 2, c, pack))
			}
		}
	}
	comparison := []analysis.Candidate{{Model: study.ZeroOrder, AICc: 48.21}, {Model: study.FirstOrder, AICc: 47.9}, {Model: study.SecondOrder, AICc: math.NaN(), Note: "a value is zero or negative"}}
	var governs *analysis.Analysis
	for _, a := range e.Analyses {
		if a.Attribute == 1 && a.Condition == 1 && a.Pack == 1 {
			governs = a
			a.Candidates = comparison
		}
	}
	verdict := func(months, attribute, pack int, regression float64, by string) analysis.Verdict {
		return analysis.Verdict{Months: months, Attribute: attribute, Pack: pack, Regression: regression, Observed: 18, Cap: 30, Rule: "ICH Q1E 2.4.1.2",
			RuleText: "no significant change at the accelerated condition and regression done, so 2X and at most X + 12", LimitedBy: by, Analysis: governs}
	}
	v := []analysis.Verdict{verdict(30, 0, 0, 61.2, "extrapolation"), verdict(29, 1, 0, 29.7, "regression"), verdict(30, 0, 1, 58.1, "extrapolation"),
		verdict(int(governs.ShelfLife), 1, 1, governs.ShelfLife, "regression"), verdict(30, 2, 1, 49.8, "extrapolation"), verdict(18, 3, 1, nan, "extrapolation")}
	e.Supported = &analysis.Supported{Verdict: v[3], ClaimMonths: 30, Verdicts: v, Packs: []analysis.Verdict{v[1], v[3]}}
	lnA := math.Log(0.31) // at 25 °C
	ln := func(c float64) float64 { return lnA - 83100/8.314462618*(1/(c+273.15)-1/298.15) }
	r := &analysis.Arrhenius{Attribute: 1, Pack: 1, Model: "zero-order", Status: analysis.Fitted, EaKJ: 83.1, EaLow: 70.2, EaHigh: 96.5,
		LinearityF: 0.91, LinearityP: 0.41, LinearityDF1: 3, LinearityDF2: 80, ResidualSD: 0.81, DF: 83, Temperatures: 5, Humidity: nan, HumiditySE: nan, Q10: 2.97,
		BendsAt: -1, LnRate: ln, Samples: 88,
		Predictions: []analysis.Prediction{{Celsius: 25, Storage: true, Estimate: 36.8, ShelfLife: 31.2, Delta: 31.9, Batch: 0, Q10Life: 30.1},
			{Celsius: 20, Estimate: 64.8, ShelfLife: 51.2, Delta: 53.9, Batch: 0, Q10Life: nan}}}
	for i, c := range []float64{5, 25, 30, 40, 45} {
		rate := -math.Exp(ln(c) + 0.12*math.Sin(float64(3*i)))
		r.Rates = append(r.Rates, analysis.Rate{Condition: i, Celsius: c, PerMonth: rate, SE: 0.012 + 0.05*math.Abs(rate)})
	}
	bad := *r
	bad.Pack, bad.Status, bad.LnRate, bad.Rates = 0, analysis.NotFitted, nil, nil
	bad.Warnings = []finding.Warning{{Code: "two-temperatures", Where: "assay jar", Text: "Linearity is untested with two temperatures."}}
	e.Arrhenius = []*analysis.Arrhenius{r, &bad}
	e.Warnings = []finding.Warning{
		{Code: "missing-pull", Where: "assay 25C60 can", Text: "Batch P1 has no result at 9M. The pull was planned and nothing says why it was not made; X is taken from the pulls at which every batch has a result."},
		{Code: "method-mix", Where: "viscosity 25C60 jar", Text: "Results by two methods stand in one trend."},
	}
	return Input{Evaluation: e, Schedule: schedule.Plan(s), StudyFile: study.Input{Path: "study.toml", SHA256: "1b3d5e7f9a1c3b5d7e9f1a9f2c4a6b8d0e1f3a5c7b9d1e3f5a7c9b1d3e5f7a9c"}, Version: "0.1.0"}
}
