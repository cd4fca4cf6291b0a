package regression

import (
	"math"
	"slices"
	"strings"
	"testing"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/pooling"
	"shelfspan/study"
	"shelfspan/testdata/reference"
)

var none = math.Inf(1)

// batch makes points of values at 0, 3, 6 … months.
func batch(values ...float64) []Point {
	points := make([]Point, len(values))
	for i, v := range values {
		points[i] = Point{Months: 3 * float64(i), Value: v}
	}
	return points
}

func assay(batches ...[]Point) Input {
	return Input{
		Batches: batches, Lower: 90, Upper: none, Basis: study.BasisValue, Direction: study.Either,
		Model: study.ZeroOrder, Alpha: 0.25, Confidence: 0.95,
	}
}

func TestStatusAndWarnings(t *testing.T) {
	good := batch(100.1, 99.0, 98.3, 97.1, 95.9)
	for _, c := range []struct {
		name   string
		in     Input
		status Status
		codes  []string
		text   string // of the first warning
	}{
		{"fitted", assay(good, batch(100.4, 99.3, 98.1, 97.4, 96.0)), Fitted, nil, ""},
		{"one batch", assay(good), Fitted, []string{"one-batch"},
			"There is one batch: whether batches may be pooled cannot be tested, and the limit says nothing of other batches."},
		{"an empty batch is passed over", assay(nil, good), Fitted, []string{"one-batch"}, ""},
		{"two times in one batch", with(assay(good, batch(100, 99)), func(in *Input) { in.Names = []string{"B7", "B8"} }),
			TooFewTimes, []string{"too-few-times"}, "A line is fitted to results at three or more times: B8 has 2."},
		{"many results at one time", assay([]Point{{Months: 0, Value: 1}, {Months: 0, Value: 2}, {Months: 0, Value: 3}, {Months: 0, Value: 4}}), TooFewTimes, []string{"too-few-times"},
			"A line is fitted to results at three or more times: batch 1 has 1."},
		{"no results", assay(nil), TooFewTimes, []string{"too-few-times"},
			"A line is fitted to results at three or more times: there are no results."},
		{"three times", assay(batch(100, 99.2, 98.1), batch(100, 99.1, 98.3)), Fitted, []string{"few-points"},
			"A batch has results at 3 times only: its line can hardly be checked, and the limit is wide."},
		{"all equal", assay(batch(100.1, 100.1, 100.1, 100.1), batch(100.1, 100.1, 100.1, 100.1)), NeverReached, []string{"no-variation"},
			"All 8 values are equal: no residual is left, and the confidence limit is the line itself. Values rounded that far hide both change and error."},
		{"exact lines", assay(batch(100, 99, 98, 97), batch(100, 98, 96, 94)), Fitted, []string{"no-residual"},
			"The values lie on their lines without residual: the confidence limit is the line itself."},
		{"breached at the start", assay(batch(90.0, 88.9, 88.3, 87.0), batch(90.1, 89.3, 88.0, 87.2)), BreachedAtStart, []string{"breached-at-start"},
			"At the start the confidence limit of the pooled batches is already at or beyond the lower acceptance limit."},
		{"zero under first order", with(assay(batch(3, 2, 1, 0, -1)), func(in *Input) { in.Model, in.Lower = study.FirstOrder, 0.5 }),
			NotFitted, []string{"non-positive"}, "2 of the results are zero or negative, where first-order is not defined."},
		{"change under first order", with(assay(good), func(in *Input) { in.Model, in.Basis, in.Lower = study.FirstOrder, study.BasisChange, -5 }),
			NotFitted, []string{"not-fitted"}, "A change from the initial value in the attribute's own unit is judged under zero-order or square-root-time, not under first-order."},
		{"percent of nothing", with(assay(batch(-1, 0, 1.1, 2)), func(in *Input) { in.Basis = study.BasisPercent }),
			NotFitted, []string{"initial-not-positive"}, "The fitted initial value of batch 1 is not above zero, so that nothing can be judged in percent of it."},
		{"said to rise but falls", with(assay(good, good), func(in *Input) { in.Direction, in.Upper = study.Rises, 110 }),
			NeverReached, []string{"direction-contradicted"}, "The attribute is said to rise, but the fitted line of the pooled batches goes the other way beyond its error."},
		{"1/y falls where y rises", with(assay(batch(10, 11, 12.2, 14), batch(10, 11, 12.2, 14.1)), func(in *Input) {
			in.Model, in.Direction, in.Lower, in.Upper = study.SecondOrder, study.Rises, -none, 20
		}), Fitted, nil, ""},
		{"no limit", with(assay(good, good), func(in *Input) { in.Lower = -none }), NoCriterion, nil, ""},
		{"a limit on the side that is not judged", with(assay(good, good), func(in *Input) { in.Direction = study.Rises }), NoCriterion,
			[]string{"direction-contradicted"}, ""},
		{"not a number", assay(batch(1, 2, math.NaN(), 4)), NotFitted, []string{"not-fitted"}, "A result of batch 1, NaN, is out of the range of numbers reckoned with."},
		{"an impossible limit", with(assay(good), func(in *Input) { in.Lower = -1e200 }), NotFitted, []string{"not-fitted"},
			"Limits of -1e+200 to +Inf are out of the range of numbers reckoned with."},
		{"an impossible time", assay([]Point{{Months: 0, Value: 1}, {Months: 1e9, Value: 2}, {Months: 2e9, Value: 3}}), NotFitted, []string{"not-fitted"},
			"A result of batch 1 is from 1e+09 months, which no study lasts."},
		{"an impossible baseline", with(assay(good), func(in *Input) { in.Baseline = -1 }), NotFitted, []string{"not-fitted"},
			"A trend cannot count from -1 months."},
		{"before the baseline", with(assay(good), func(in *Input) { in.Baseline = 1 }), NotFitted, []string{"not-fitted"},
			"A result of batch 1 is from before the trend counts."},
		{"a confidence that is none", with(assay(good), func(in *Input) { in.Confidence = 1 }), NotFitted, []string{"not-fitted"},
			"A confidence of 1 is not between 0.5 and 1."},
	} {
		t.Run(c.name, func(t *testing.T) {
			out, warnings := Evaluate(c.in)
			if out.Status != c.status {
				t.Errorf("status %s, want %s", out.Status, c.status)
			}
			var codes []string
			for _, w := range warnings {
				codes = append(codes, w.Code)
			}
			if !slices.Equal(codes, c.codes) {
				t.Errorf("warnings %v, want %v", codes, c.codes)
			}
			if c.text != "" && (len(warnings) == 0 || warnings[0].Text != c.text) {
				t.Errorf("warning %v, want %q", warnings, c.text)
			}
			fitted := out.Status != NotFitted && out.Status != TooFewTimes
			if fitted != (len(out.Fits) > 0) || fitted == math.IsNaN(out.ShelfLife) || fitted == math.IsNaN(out.ResidualSD) || fitted == math.IsNaN(out.Estimate) {
				t.Errorf("%d fits, shelf life %v, estimate %v, residual sd %v for status %s", len(out.Fits), out.ShelfLife, out.Estimate, out.ResidualSD, out.Status)
			}
		})
	}
}

// Nothing that was read may lead to a NaN where a number is promised, also
// where no residual is left for the tests to divide by.
func TestExactLines(t *testing.T) {
	// Two lines by hand: 100 − t/3 and 100 − 2t/3 meet 90 at 30 and 15.
	out, _ := Evaluate(assay(batch(100, 99, 98, 97), batch(100, 98, 96, 94)))
	if out.Pooling.Decision != pooling.Separate || out.Pooling.SlopesP != 0 || !math.IsInf(out.Pooling.SlopesF, 1) {
		t.Errorf("different exact lines: %s, F %v, p %v", out.Pooling.Decision, out.Pooling.SlopesF, out.Pooling.SlopesP)
	}
	same(t, "shelf life of the slower", out.Fits[0].ShelfLife, 30)
	same(t, "shelf life", out.ShelfLife, 15)
	if out.Limiting != 1 {
		t.Errorf("limiting batch %d, want 1", out.Limiting)
	}
	// A batch without results keeps its number.
	if out, _ = Evaluate(assay(batch(100, 99, 98, 97), nil, batch(100, 98, 96, 94))); out.Limiting != 2 {
		t.Errorf("limiting batch %d, want 2, after one without results", out.Limiting)
	}
	// Equal ones are pooled, parallel ones 1 apart share their slope: 91 + … meets 90 at 27.
	out, _ = Evaluate(assay(batch(100, 99, 98, 97), batch(100, 99, 98, 97)))
	if out.Pooling.Decision != pooling.Pooled || out.Pooling.SlopesP != 1 || out.Pooling.InterceptsP != 1 || out.Limiting != -1 {
		t.Errorf("equal exact lines: %+v", out.Pooling)
	}
	same(t, "shelf life of equal lines", out.ShelfLife, 30)
	out, _ = Evaluate(assay(batch(100, 99, 98, 97), batch(99, 98, 97, 96)))
	if out.Pooling.Decision != pooling.CommonSlope || out.Pooling.InterceptsP != 0 {
		t.Errorf("parallel exact lines: %+v", out.Pooling)
	}
	same(t, "shelf life of parallel lines", out.ShelfLife, 27)
}

func TestAllEqual(t *testing.T) {
	for _, model := range []study.Model{study.ZeroOrder, study.FirstOrder, study.SecondOrder, study.SquareRootTime, study.Auto} {
		in := assay(batch(100.1, 100.1, 100.1, 100.1), batch(100.1, 100.1, 100.1, 100.1), batch(100.1, 100.1, 100.1, 100.1))
		in.Model, in.Upper = model, 110
		for _, basis := range []study.Basis{study.BasisValue, study.BasisPercent} {
			in.Basis = basis
			out, warnings := Evaluate(in)
			if out.Status != NeverReached || out.ResidualSD != 0 || out.Pooling.Decision != pooling.Pooled || warnings[0].Code != "no-variation" {
				t.Errorf("%s, %s: %s, residual sd %v, %s, %v", model, basis, out.Status, out.ResidualSD, out.Pooling.Decision, warnings)
			}
			mean, lower, upper := out.Fits[0].Curve(12)
			want := map[study.Basis]float64{study.BasisValue: 100.1, study.BasisPercent: 100}[basis]
			same(t, "mean", mean, want)
			same(t, "lower", lower, want)
			same(t, "upper", upper, want)
		}
	}
}

func TestOneSided(t *testing.T) {
	for _, c := range []struct {
		lower, upper float64
		direction    study.Direction
		want         bool
		quantile     float64 // of t with 3 degrees of freedom, from the usual printed tables
	}{
		{90, none, study.Either, true, 2.353},
		{-none, 110, study.Either, true, 2.353},
		{90, 110, study.Either, false, 3.182},
		{90, 110, study.Falls, true, 2.353},
		{90, 110, study.Rises, true, 2.353},
	} {
		in := assay(batch(100.1, 99.9, 100.3, 99.8, 100.2))
		in.Lower, in.Upper, in.Direction = c.lower, c.upper, c.direction
		out, _ := Evaluate(in)
		if out.OneSided != c.want || math.Abs(out.Quantile-c.quantile) > 5e-4 {
			t.Errorf("%v to %v, %s: one-sided %v, quantile %v", c.lower, c.upper, c.direction, out.OneSided, out.Quantile)
		}
		_, lower, upper := out.Fits[0].Curve(6)
		if math.IsNaN(lower) == out.JudgedLower || math.IsNaN(upper) == out.JudgedUpper {
			t.Errorf("%v to %v, %s: limits %v and %v of the curve", c.lower, c.upper, c.direction, lower, upper)
		}
	}
}

// Limits that a model's scale has no place for: no positive value falls below
// zero, and every one is above it.
func TestLimitsOutsideTheModelsDomain(t *testing.T) {
	for _, model := range []study.Model{study.FirstOrder, study.SecondOrder} {
		for _, basis := range []study.Basis{study.BasisValue, study.BasisPercent} {
			for _, limit := range []float64{0, -5} {
				in := assay(batch(100.2, 96, 91.7, 88.4, 84.4))
				in.Model, in.Basis = model, basis
				in.Lower, in.Upper = limit, none
				if out, _ := Evaluate(in); out.Status != NeverReached {
					t.Errorf("%s, %s: lower limit %v is %s at %v", model, basis, limit, out.Status, out.ShelfLife)
				}
				in.Lower, in.Upper = -none, limit
				if out, _ := Evaluate(in); out.Status != BreachedAtStart {
					t.Errorf("%s, %s: upper limit %v is %s at %v", model, basis, limit, out.Status, out.ShelfLife)
				}
			}
		}
	}
}

// A structure that builds up for a week and then falls by 1 a month from 100:
// from the baseline at 1 month it is at 90 after 11 months of storage.
func TestBaselineIsAddedBack(t *testing.T) {
	in := assay([]Point{{Months: 1, Value: 100}, {Months: 2, Value: 99}, {Months: 3, Value: 98}, {Months: 4, Value: 97}})
	in.Baseline = 1
	out, _ := Evaluate(in)
	same(t, "shelf life", out.ShelfLife, 11)
	same(t, "initial value", out.Fits[0].Intercept, 100)
	mean, _, _ := out.Fits[0].Curve(6)
	same(t, "mean at 6 months", mean, 95)
	if mean, lower, upper := out.Fits[0].Curve(0.5); !math.IsNaN(mean) || !math.IsNaN(lower) || !math.IsNaN(upper) {
		t.Errorf("before the baseline the curve is %v, %v, %v", mean, lower, upper)
	}
	in.Basis = study.BasisPercent
	in.Lower = 80
	out, _ = Evaluate(in)
	same(t, "shelf life in percent", out.ShelfLife, 21)
	// What fails when the trend begins to count has no shelf life before it either.
	in.Basis, in.Lower = study.BasisValue, 101
	if out, _ = Evaluate(in); out.Status != BreachedAtStart || out.ShelfLife != 0 {
		t.Errorf("breached at the baseline: %s, %v months", out.Status, out.ShelfLife)
	}
}

func TestAutoKeepsItsComparison(t *testing.T) {
	in := assay(readData(t)["decay"]...)
	in.Model, in.Lower = study.Auto, 60
	out, _ := Evaluate(in)
	declared := in
	declared.Model = study.FirstOrder
	want, _ := Evaluate(declared)
	if out.Model != kinetics.FirstOrder || len(out.Candidates) != 4 || out.ShelfLife != want.ShelfLife {
		t.Errorf("model %s of %d candidates, shelf life %v, want first-order of 4, %v", out.Model, len(out.Candidates), out.ShelfLife, want.ShelfLife)
	}
	if want.Candidates != nil {
		t.Errorf("a declared model has candidates %v", want.Candidates)
	}
}

// Where the initial value is drowned in error nothing bounds a ratio to it.
func TestRatioToAnUncertainInitial(t *testing.T) {
	in := assay(batch(1, 40, -30, 25, 8))
	in.Basis, in.Lower, in.Upper = study.BasisPercent, 80, 120
	out, _ := Evaluate(in)
	if out.Status != BreachedAtStart {
		t.Errorf("status %s", out.Status)
	}
	if _, lower, upper := out.Fits[0].Curve(6); !math.IsInf(lower, -1) || !math.IsInf(upper, 1) {
		t.Errorf("limits %v to %v", lower, upper)
	}
}

func with(in Input, change func(*Input)) Input {
	change(&in)
	return in
}

// The limit on the curve is at the acceptance limit when the shelf life says so.
func TestCurveMeetsTheLimitAtTheShelfLife(t *testing.T) {
	data := readData(t)
	for _, c := range reference.Table(t, "pooling/cases.csv") {
		in := input(t, c, data)
		out, _ := Evaluate(in)
		for _, f := range out.Fits {
			if math.IsInf(f.ShelfLife, 1) {
				continue
			}
			_, lower, upper := f.Curve(f.ShelfLife)
			if f.LimitedBy == "lower" {
				same(t, c["case"]+" lower", lower, in.Lower)
			} else {
				same(t, c["case"]+" upper", upper, in.Upper)
			}
			mean, _, _ := f.Curve(f.Estimate)
			if at := strings.Contains(f.LimitedBy, "lower"); at && !math.IsInf(f.Estimate, 1) && in.Upper == none {
				same(t, c["case"]+" mean", mean, in.Lower)
			}
		}
	}
}
