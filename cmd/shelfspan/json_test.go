package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"
)

// What the JSON of a command promises: word, number and truth are never null,
// and with a question mark they may be. An object promises its keys, and may
// have more; a list has one shape for all its entries.
type (
	object map[string]any
	list   struct{ of any }
)

const (
	word, wordOrNull     = "text", "text?"
	number, numberOrNull = "number", "number?"
	truth                = "truth"
)

// The promises, as the README makes them.
var (
	head = object{
		"tool": word, "version": word, "command": word,
		"inputs":   list{object{"path": word, "sha256": word, "rows": number}},
		"warnings": list{object{"code": word, "where": word, "text": word}},
	}
	planned = object{
		"pulls": list{object{
			"id": word, "condition": wordOrNull, "time": word, "months": number, "due": word, "date": word, "earliest": word, "latest": word, "units": number,
			"lines": list{object{"batch": word, "pack": word, "orientation": wordOrNull, "units": number, "returned": number}},
		}},
		"units":    object{"needed": number, "initial": number, "stored": number, "reserve": number, "retained": number, "by_condition": object{}},
		"chambers": list{object{"id": word, "peak": number, "peak_date": wordOrNull, "capacity": numberOrNull}},
	}
	fitted = object{
		"confidence": number,
		"analyses": list{object{
			"attribute": word, "condition": word, "pack": word, "orientation": word, "model": word,
			"lower": numberOrNull, "upper": numberOrNull, "observed_months": number, "status": word,
			"pooling":     object{"alpha": number, "slopes_p": numberOrNull, "intercepts_p": numberOrNull, "decision": wordOrNull},
			"residual_sd": numberOrNull, "df": number,
			"fits": list{object{
				"batch": word, "intercept": numberOrNull, "slope": number, "slope_se": number, "estimate_months": numberOrNull, "shelf_life_months": numberOrNull,
			}},
			"shelf_life_months": numberOrNull, "limiting_batch": wordOrNull,
		}},
	}
	judged = object{"supported": object{
		"months": numberOrNull, "attribute": wordOrNull, "pack": wordOrNull, "orientation": wordOrNull, "regression_months": numberOrNull,
		"observed_months": numberOrNull, "cap_months": numberOrNull, "rule": word, "meets_claim": truth,
	}}
	temperatures = object{"analyses": list{object{
		"attribute": word, "pack": word, "orientation": word, "model": word,
		"activation_energy": object{"kj_per_mol": numberOrNull, "low": numberOrNull, "high": numberOrNull},
		"rates":             list{object{"condition": word, "celsius": number, "per_month": number, "se": number}},
		"linearity_p":       numberOrNull, "residual_sd": numberOrNull, "df": number,
		"predictions": list{object{"celsius": number, "estimate_months": numberOrNull, "shelf_life_months": numberOrNull, "delta_months": numberOrNull}},
	}}}
	// The study of a history may be none.
	ofStudy, studyless = object{"study": word}, object{"study": wordOrNull}
	exposed            = object{
		"of": word, "energy_kj_per_mol": number, "mean_kinetic_celsius": numberOrNull, "mean_celsius": numberOrNull, "min_celsius": number, "max_celsius": number, "hours": number,
		"excursions": list{object{
			"side": word, "leg": wordOrNull, "start": wordOrNull, "end": wordOrNull, "start_known": truth, "end_known": truth, "hours": number,
			"peak_celsius": number, "peak_at": wordOrNull, "mean_celsius": numberOrNull, "mean_kinetic_celsius": numberOrNull,
		}},
		"excursions_not_listed": number, "confidence": numberOrNull,
		"life": list{object{
			"attribute": word, "pack": word, "orientation": word, "model": word, "status": word,
			"activation_energy": object{"kj_per_mol": numberOrNull, "low": numberOrNull, "high": numberOrNull}, "linearity_p": numberOrNull,
			"histories": list{object{
				"of": word, "months": numberOrNull, "mean_kinetic_celsius": numberOrNull, "equivalent_months": numberOrNull, "equivalent_low_months": numberOrNull,
				"equivalent_high_months": numberOrNull, "used": numberOrNull, "used_bound": numberOrNull, "unbounded": truth, "limiting_batch": wordOrNull,
				"left_months": numberOrNull, "left_bound_months": numberOrNull, "supported_months": numberOrNull, "supported_left_months": numberOrNull,
				"share_above_studied": numberOrNull, "share_of_ageing_above_studied": numberOrNull, "share_below_studied": numberOrNull,
			}},
		}},
	}
	sides  = object{"above": object{"limit_celsius": number, "hours": number, "excursions": number}, "below": object{}}
	logged = object{"log": object{
		"readings": number, "missing": number, "start": word, "end": word, "zone_stated": truth, "unit": word, "column": word, "span_hours": number, "step_minutes": number,
		"min_at": word, "max_at": word,
		"gaps": object{"count": number, "hours": number, "longer_than_minutes": numberOrNull, "times_usual_step": number, "list": list{object{"start": word, "end": word, "hours": number}}},
	}}
	laned = object{"lane": object{
		"mean_kinetic_celsius": number, "mean_celsius": number, "min_celsius": number, "max_celsius": number, "hours": number,
		"legs": list{object{"leg": word, "low_celsius": number, "high_celsius": number, "hours": number, "mean_kinetic_celsius": number, "hours_above": number, "hours_below": number}},
	}}
	stored = object{"storage": object{"condition": word, "celsius": number}}
)

// breaches lists where a value is not as promised.
func breaches(at string, got, promised any) []string {
	var out []string
	kind := func(ok bool) {
		if !ok {
			out = append(out, fmt.Sprintf("%s is %T (%v), promised %v", at, got, got, promised))
		}
	}
	switch p := promised.(type) {
	case object:
		m, ok := got.(map[string]any)
		kind(ok)
		for key, of := range p {
			v, ok := m[key]
			if !ok {
				out = append(out, at+" has no "+key)
				continue
			}
			out = append(out, breaches(at+"."+key, v, of)...)
		}
	case list:
		entries, ok := got.([]any)
		kind(ok)
		for i, v := range entries {
			out = append(out, breaches(fmt.Sprintf("%s[%d]", at, i), v, p.of)...)
		}
	case string:
		if got == nil {
			kind(strings.HasSuffix(p, "?"))
			break
		}
		ok := false
		switch strings.TrimSuffix(p, "?") {
		case word:
			_, ok = got.(string)
		case number:
			_, ok = got.(json.Number)
		case truth:
			_, ok = got.(bool)
		}
		kind(ok)
	}
	return out
}

// mktCall is mkt without a study.
func mktCall(options ...string) []string {
	return append([]string{"shelfspan", "mkt", "--format", "json"}, options...)
}

// TestJSONKeepsItsPromises: every key is there with its type, on a whole study
// and on one that is all but empty.
func TestJSONKeepsItsPromises(t *testing.T) {
	dir := t.TempDir()
	for name, content := range map[string]string{"study.toml": smallStudy, "scant.csv": "batch,condition,time,attribute,value\nB1,25C60,0,pH,5.5\nB1,25C60,3M,pH,<5.2\n",
		"start.csv": "batch,condition,time,attribute,value\nB1,,0,pH,5.5\n",
		"lane.csv":  "leg,low,high,duration\ndepot,15,27,2M\n"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	scant := func(command string, results ...string) []string {
		args := []string{"shelfspan", command, "-s", filepath.Join(dir, "study.toml"), "--format", "json"}
		for _, r := range results {
			args = append(args, "-r", filepath.Join(dir, r))
		}
		return args
	}
	journey := filepath.Join("..", "..", "testdata", "demo", "journey.csv")
	plan := []string{"shelfspan", "plan", "--format", "json", "-s", filepath.Join("..", "..", "testdata", "demo", "study.toml")}
	for _, c := range []struct {
		name     string
		args     []string
		promises []object
		entries  string // a list that has to have entries
	}{
		{"plan", plan, []object{head, ofStudy, planned}, "pulls"},
		{"trend", demoCall("trend", "--format", "json"), []object{head, ofStudy, fitted}, "analyses"},
		{"shelf-life", demoCall("shelf-life", "--format", "json"), []object{head, ofStudy, fitted, judged}, "analyses"},
		{"arrhenius", demoCall("arrhenius", "--at", "30", "--format", "json"), []object{head, ofStudy, temperatures}, "analyses"},
		{"plan", scant("plan"), []object{head, ofStudy, planned}, "pulls"},
		{"trend", scant("trend", "scant.csv"), []object{head, ofStudy, fitted}, "warnings"},
		{"shelf-life", scant("shelf-life", "scant.csv"), []object{head, ofStudy, fitted, judged}, "warnings"},
		{"arrhenius", scant("arrhenius", "scant.csv"), []object{head, ofStudy, temperatures}, "warnings"},
		{"shelf-life", scant("shelf-life", "start.csv"), []object{head, ofStudy, fitted, judged}, "inputs"}, // nothing is judged
		{"mkt", mktCall(journey, "--limit", "25", "--low", "2"), []object{head, studyless, exposed, sides, logged}, "excursions"},
		{"mkt", mktCall("--lane", filepath.Join(dir, "lane.csv"), "--limit", "25", "--low", "2"), []object{head, studyless, exposed, sides, laned}, "excursions"},
		{"mkt", append(demoCall("mkt", journey, "--limit", "25", "--low", "2", "--lane", filepath.Join(dir, "lane.csv")), "--format", "json"), []object{head, ofStudy, exposed, sides, logged, laned, stored}, "life"},
		{"mkt", append(scant("mkt", "scant.csv"), journey), []object{head, ofStudy, exposed, logged}, "warnings"}, // no storage condition is named
	} {
		out := answerOf(t, c.args...)
		if bytes.Contains(out, []byte("NaN")) || bytes.Contains(out, []byte("Inf")) {
			t.Errorf("%s: a number that is none", c.name)
		}
		d := json.NewDecoder(bytes.NewReader(out))
		d.UseNumber()
		var got map[string]any
		if err := d.Decode(&got); err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		if d.More() {
			t.Errorf("%s: more than one answer", c.name)
		}
		if got["command"] != c.name || got["tool"] != "shelfspan" {
			t.Errorf("%s: calls itself %v of %v", c.name, got["command"], got["tool"])
		}
		if entries, _ := got[c.entries].([]any); len(entries) == 0 {
			t.Errorf("%s: no %s", c.name, c.entries)
		}
		for _, p := range c.promises {
			for _, b := range breaches(c.name, got, p) {
				t.Error(b)
			}
		}
	}
}

// TestReportDataAreTheAnswers: the evaluation beside a summary is what trend,
// shelf-life and arrhenius answer to the same inputs.
func TestReportDataAreTheAnswers(t *testing.T) {
	dir := t.TempDir()
	answerOf(t, demoCall("report", "--at", "30", "--out", dir)...)
	decode := func(data []byte) (m map[string]any) {
		d := json.NewDecoder(bytes.NewReader(data))
		d.UseNumber()
		if err := d.Decode(&m); err != nil {
			t.Fatal(err)
		}
		return m
	}
	whole := decode(read(t, filepath.Join(dir, "evaluation.json")))
	for _, p := range []object{head, ofStudy, fitted, judged, {"arrhenius": temperatures["analyses"], "options": list{word}, "fingerprint": word}} {
		for _, b := range breaches("report", whole, p) {
			t.Error(b)
		}
	}
	if diff := gocmp.Diff([]any{"--at 30"}, whole["options"]); diff != "" {
		t.Error(diff)
	}
	for key, of := range map[string][]string{
		"analyses": demoCall("trend", "--format", "json"), "inputs": demoCall("trend", "--format", "json"),
		"supported":    demoCall("shelf-life", "--format", "json"),
		"arrhenius":    demoCall("arrhenius", "--at", "30", "--format", "json"),
		"interactions": demoCall("interactions", "--format", "json"),
	} {
		answer := decode(answerOf(t, of...))
		switch key {
		case "arrhenius":
			answer[key] = answer["analyses"]
		case "interactions":
			compared := map[string]any{}
			for _, k := range []string{"horizon_months", "margin_months", "adjust", "comparisons", "ranking", "activation_energies", "scale", "pairs"} {
				if compared[k] = answer[k]; answer[k] == nil {
					t.Errorf("interactions has no %s", k)
				}
			}
			answer[key] = compared
		}
		if diff := gocmp.Diff(answer[key], whole[key]); diff != "" {
			t.Errorf("%s: %s", key, diff)
		}
	}

	// And the results beside it evaluate to the same again.
	second := filepath.Join(dir, "again")
	answerOf(t, "shelfspan", "report", "-s", filepath.Join("..", "..", "testdata", "demo", "study.toml"), "-r", filepath.Join(dir, "results.csv"), "--at", "30", "--out", second)
	again := decode(read(t, filepath.Join(second, "evaluation.json")))
	for _, key := range []string{"analyses", "supported", "arrhenius", "interactions"} {
		if diff := gocmp.Diff(whole[key], again[key]); diff != "" {
			t.Errorf("%s from results.csv: %s", key, diff)
		}
	}
}

// TestReadmeNamesTheColumns: every column of the data beside a summary stands in
// the README's section on them, or in that on the results CSV.
func TestReadmeNamesTheColumns(t *testing.T) {
	dir := t.TempDir()
	answerOf(t, demoCall("report", "--out", dir)...)
	readme := string(read(t, filepath.Join("..", "..", "README.md")))
	section := func(title string) string {
		_, text, ok := strings.Cut(readme, "\n## "+title+"\n")
		if !ok {
			t.Fatalf("the README has no section %q", title)
		}
		text, _, _ = strings.Cut(text, "\n## ")
		return text
	}
	described := section("The data beside a summary")
	for name, in := range map[string]string{"results.csv": described + section("The results CSV"), "fits.csv": described, "schedule.csv": described} {
		if !strings.Contains(described, "`"+name+"`") {
			t.Errorf("%s is not described", name)
		}
		heads, _, _ := strings.Cut(string(read(t, filepath.Join(dir, name))), "\n")
		for _, head := range strings.Split(strings.TrimSpace(heads), ",") {
			if !strings.Contains(in, "`"+head+"`") {
				t.Errorf("the column %s of %s is not described", head, name)
			}
		}
	}
}

// TestReadmeNamesTheJSON: every promised key stands in the README's section on
// the JSON.
func TestReadmeNamesTheJSON(t *testing.T) {
	readme, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, section, ok := strings.Cut(string(readme), "\n## The JSON\n")
	if !ok {
		t.Fatal("the README has no section on the JSON")
	}
	section, _, _ = strings.Cut(section, "\n## ")
	var walk func(p any)
	walk = func(p any) {
		switch p := p.(type) {
		case object:
			for key, of := range p {
				if !strings.Contains(section, "`"+key+"`") {
					t.Errorf("the README does not name %s", key)
				}
				walk(of)
			}
		case list:
			walk(p.of)
		}
	}
	for _, p := range []object{head, ofStudy, planned, fitted, judged, temperatures, exposed, sides, logged, laned, stored} {
		walk(p)
	}
}
