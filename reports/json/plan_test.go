package json_test

import (
	"bytes"
	stdjson "encoding/json"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"shelfspan/reports/json"
	"shelfspan/study"
	"shelfspan/study/schedule"
)

// TestPlanNulls: what does not apply is null, and lists are never null: a study
// without a claim, a chamber without a capacity that nothing is stored in, and
// time zero of a pack with two orientations.
func TestPlanNulls(t *testing.T) {
	s := &study.Study{
		ID: "MB-26", Start: study.NewDate(2025, time.January, 13), StoreAt: 0, Rules: study.ICHQ1E,
		Calendar:   study.Calendar{Shift: study.ShiftNone},
		Conditions: []study.Condition{{ID: "25C60", Role: study.LongTerm, Temperature: 25, Chamber: -1, Pulls: []study.Duration{{}}}},
		Chambers:   []study.Chamber{{ID: "A"}},
		Batches:    []study.Batch{{ID: "B1", Placed: study.NoDate}},
		Packs:      []study.Pack{{ID: "tube", Orientations: []study.Orientation{study.Upright, study.Inverted}}},
		Attributes: []study.Attribute{{ID: "assay", Sampling: study.Destructive, Units: 2}},
	}
	read := func() map[string]any {
		t.Helper()
		var out bytes.Buffer
		if err := json.Write(&out, json.NewPlan(json.NewAnswer("1", "plan", nil, nil), schedule.Plan(s))); err != nil {
			t.Fatal(err)
		}
		var got map[string]any
		if err := stdjson.Unmarshal(out.Bytes(), &got); err != nil {
			t.Fatal(err)
		}
		return got
	}
	got := read()
	want := map[string]any{
		"tool": "shelfspan", "version": "1", "command": "plan", "inputs": []any{}, "warnings": []any{}, "study": "MB-26",
		"pulls": []any{map[string]any{
			"id": "MB-26-T0", "condition": nil, "chamber": nil, "time": "0", "months": 0.0, "placed": "2025-01-13", "due": "2025-01-13", "date": "2025-01-13",
			"earliest": "2025-01-13", "latest": "2025-01-13", "units": 2.0, "returned": 0.0,
			"lines": []any{map[string]any{"batch": "B1", "pack": "tube", "orientation": nil, "units": 2.0, "returned": 0.0, "attributes": []any{"assay"}}},
		}},
		"units": map[string]any{
			"needed": 2.0, "initial": 2.0, "stored": 0.0, "reserve": 0.0, "retained": 0.0, "total": 2.0,
			"by_condition":      map[string]any{"25C60": 0.0},
			"by_batch_and_pack": []any{map[string]any{"batch": "B1", "pack": "tube", "initial": 2.0, "stored": 0.0, "reserve": 0.0, "retained": 0.0, "total": 2.0}},
			"arms":              []any{},
		},
		"chambers": []any{map[string]any{"id": "A", "peak": 0.0, "peak_date": nil, "capacity": nil, "levels": []any{}}},
		"claim":    nil,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}

	// Out of the plan's reach, and without a rule: no X, no day, no most.
	s.Claim = study.Duration{N: 24, Unit: study.Months}
	claim := read()["claim"].(map[string]any)
	if claim["needs"] != nil || claim["needs_months"] != nil || claim["date"] != nil || claim["at_most_months"] != 0.0 {
		t.Errorf("out of reach: %v", claim)
	}
	s.Rules = study.NoRules
	claim = read()["claim"].(map[string]any)
	if claim["rule"] != "none" || claim["needs"] != nil || claim["at_most_months"] != nil {
		t.Errorf("without rules: %v", claim)
	}
}
