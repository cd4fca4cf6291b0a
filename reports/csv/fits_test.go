package csv

import (
	"bytes"
	"encoding/csv"
	"math"
	"testing"

	"shelfspan/analysis"
	"shelfspan/analysis/plateau"
	"shelfspan/study"
)

// Every number of a fit stands under its own name, and what is not finite stands
// nowhere.
func TestFitsWriteEveryNumber(t *testing.T) {
	s := balmStudy(t)
	nan, inf := math.NaN(), math.Inf(1)
	e := &analysis.Evaluation{Dataset: &study.Dataset{Study: s, Texts: []string{""}}, Analyses: []*analysis.Analysis{
		{
			Attribute: 0, Condition: 0, Pack: 1, Orientation: 1, Status: analysis.Fitted, Model: "approach-to-plateau",
			Candidates: []analysis.Candidate{{Model: study.ZeroOrder, AICc: 12.5}, {Model: study.ApproachToPlateau, AICc: -1.25}, {Model: study.SecondOrder, AICc: nan, Note: "no"}},
			Lower:      90, Upper: inf, OneSided: true, Confidence: 0.95, ObservedMonths: 12,
			Pooling:    analysis.Pooling{Alpha: 0.25, SlopesF: 1.5, SlopesP: 0.24, InterceptsF: 9.5, InterceptsP: 0.003, DF1: 1, DF2: 8, ChangesDF: 2, Decision: "common-slope"},
			ResidualSD: 0.5, DF: 9, Censored: 3, ShelfLife: 21.5, Estimate: 25.5, LimitingBatch: 1,
			Fits: []analysis.Fit{
				{Batch: 0, N: 7, Intercept: 100.5, Slope: -0.25, SlopeSE: 0.0625, Estimate: inf, ShelfLife: 30.5, LimitedBy: "lower"},
				{Batch: 1, N: 6, Intercept: 99.5, Slope: -0.375, SlopeSE: 0.125, Estimate: 25.5, ShelfLife: 21.5, LimitedBy: "lower"},
			},
			Curves: []analysis.Curve{
				{Batch: 0, Parameters: plateau.Parameters{Start: 101, Plateau: 92, Rate: 0.1}, SE: plateau.Parameters{Start: 1, Plateau: 2, Rate: 0.01}, StraightP: 0.04},
				{Batch: 1, Parameters: plateau.Parameters{Start: 102, Plateau: 93, Rate: 0.2}, SE: plateau.Parameters{Start: 3, Plateau: 4, Rate: 0.02}, StraightP: 0.04},
			},
			Samples: make([]analysis.Sample, 13),
		},
		{
			Attribute: 4, Condition: 2, Status: analysis.Observed, Model: "observed", Lower: math.Inf(-1), Upper: 0, Confidence: 0.95,
			Pooling:    analysis.Pooling{Alpha: 0.25, SlopesF: nan, SlopesP: nan, InterceptsF: nan, InterceptsP: nan},
			ResidualSD: nan, ShelfLife: 3, Estimate: nan, LimitingBatch: -1, FirstFailure: &analysis.Failure{Batch: 1, Planned: study.Duration{N: 5, Unit: study.Cycles}},
		},
	}}
	var b bytes.Buffer
	if err := Fits(&b, e); err != nil {
		t.Fatal(err)
	}
	records, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(records) != 4 {
		t.Fatalf("%d lines, want a head, two batches and one analysis without a fit", len(records))
	}
	shared := map[string]string{
		"study": "MB-26", "attribute": "assay", "condition": "25C60", "celsius": "25", "humidity": "60", "pack": "jar", "orientation": "inverted", "unit": "%", "basis": "value",
		"lower": "90", "upper": "", "status": "fitted", "model": "approach-to-plateau", "aicc_zero_order": "12.5", "aicc_first_order": "", "aicc_second_order": "",
		"aicc_square_root_time": "", "aicc_approach_to_plateau": "-1.25", "aicc_power_of_time": "", "confidence": "0.95", "one_sided": "yes", "observed_months": "12",
		"samples": "13", "censored": "3", "pool_alpha": "0.25", "slopes_f": "1.5", "slopes_p": "0.24", "intercepts_f": "9.5", "intercepts_p": "0.003",
		"tests_df1": "1", "changes_df1": "2", "tests_df2": "8", "decision": "common-slope", "residual_sd": "0.5", "df": "9",
		"analysis_estimate_months": "25.5", "analysis_shelf_life_months": "21.5", "first_failure": "",
		"curve_factor": "", "curve_factor_se": "", "curve_exponent": "", "curve_exponent_se": "", "curve_straight_p": "0.04",
	}
	own := []map[string]string{
		{"batch": "B1", "n": "7", "intercept": "100.5", "slope": "-0.25", "slope_se": "0.0625", "estimate_months": "", "shelf_life_months": "30.5", "limited_by": "lower", "limiting": "no",
			"curve_start": "101", "curve_start_se": "1", "curve_plateau": "92", "curve_plateau_se": "2", "curve_rate_per_month": "0.1", "curve_rate_per_month_se": "0.01"},
		{"batch": "B2", "n": "6", "intercept": "99.5", "slope": "-0.375", "slope_se": "0.125", "estimate_months": "25.5", "shelf_life_months": "21.5", "limited_by": "lower", "limiting": "yes",
			"curve_start": "102", "curve_start_se": "3", "curve_plateau": "93", "curve_plateau_se": "4", "curve_rate_per_month": "0.2", "curve_rate_per_month_se": "0.02"},
	}
	for i, head := range records[0] {
		for k, batch := range own {
			want, ok := shared[head]
			if v, of := batch[head]; of {
				want, ok = v, true
			}
			if !ok {
				t.Errorf("the column %s is not looked at", head)
			}
			if got := records[k+1][i]; got != want {
				t.Errorf("%s of batch %d is %q, want %q", head, k+1, got, want)
			}
		}
		want := map[string]string{"study": "MB-26", "attribute": "leak", "condition": "freeze", "pack": "tube", "orientation": "upright", "basis": "value", "upper": "0",
			"status": "observed", "model": "observed", "confidence": "0.95", "one_sided": "no", "observed_months": "0", "samples": "0", "censored": "0", "pool_alpha": "0.25",
			"tests_df1": "0", "changes_df1": "0", "tests_df2": "0", "df": "0", "analysis_shelf_life_months": "3", "first_failure": "B2 at 5C"}[head]
		if got := records[3][i]; got != want {
			t.Errorf("without a fit, %s is %q, want %q", head, got, want)
		}
	}
	if len(records[0]) != len(shared)+len(own[0]) {
		t.Errorf("%d columns, want %d", len(records[0]), len(shared)+len(own[0]))
	}
}
