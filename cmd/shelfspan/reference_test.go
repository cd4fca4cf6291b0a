package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// demoCall is a command on the files of the demonstration study.
func demoCall(command string, options ...string) []string {
	dir := filepath.Join("..", "..", "testdata", "demo")
	args := []string{"shelfspan", command, "-s", filepath.Join(dir, "study.toml")}
	for _, table := range []string{"results-lab.csv", "rheometer.csv", "weighings.csv"} {
		args = append(args, "-r", filepath.Join(dir, table))
	}
	return append(args, options...)
}

// answerOf runs the program within the test and gives its standard output.
func answerOf(t testing.TB, args ...string) []byte {
	t.Helper()
	var out, errs bytes.Buffer
	if status := run(context.Background(), args, strings.NewReader(""), &out, &errs); status != 0 {
		t.Fatalf("%v: exit status %d\n%s", args, status, errs.String())
	}
	return out.Bytes()
}

// TestDemoAgainstR compares the program's answers, from its files to its JSON,
// with those that R works out from the same files by lm, anova, uniroot and
// nls; see testdata/reference/evaluation/evaluation.R.
func TestDemoAgainstR(t *testing.T) {
	f, err := os.Open(filepath.Join("..", "..", "testdata", "reference", "evaluation", "answers.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	type pooling struct {
		SlopesP     *float64 `json:"slopes_p"`
		InterceptsP *float64 `json:"intercepts_p"`
		Decision    string   `json:"decision"`
	}
	var trends struct {
		Analyses []struct {
			Attribute, Pack, Orientation string
			Pooling                      pooling
			ResidualSD                   float64 `json:"residual_sd"`
			DF                           int
			Fits                         []map[string]any
		}
	}
	if err := json.Unmarshal(answerOf(t, demoCall("trend", "--condition", "25C60", "--format", "json")...), &trends); err != nil {
		t.Fatal(err)
	}
	got := map[string]float64{}
	for _, a := range trends.Analyses {
		put := func(name string, x float64) {
			got[strings.Join([]string{a.Attribute, a.Pack, a.Orientation, name}, " ")] = x
		}
		number := func(p *float64) float64 {
			if p == nil {
				return math.NaN()
			}
			return *p
		}
		put("slopes_p", number(a.Pooling.SlopesP))
		put("intercepts_p", number(a.Pooling.InterceptsP))
		put("decision", map[string]float64{"separate": 0, "common-slope": 1, "pooled": 2}[a.Pooling.Decision])
		put("residual_sd", a.ResidualSD)
		put("df", float64(a.DF))
		for _, f := range a.Fits {
			for _, key := range []string{"intercept", "slope", "slope_se", "estimate_months", "shelf_life_months"} {
				if x, ok := f[key].(float64); ok {
					put(key+" "+f["batch"].(string), x)
				}
			}
		}
	}
	var temperatures struct {
		Analyses []struct {
			Energy struct {
				KJPerMol float64 `json:"kj_per_mol"`
				Low      float64
				High     float64
			} `json:"activation_energy"`
			Rates []struct {
				Condition string
				PerMonth  float64 `json:"per_month"`
				SE        float64
			}
			LinearityP  float64 `json:"linearity_p"`
			ResidualSD  float64 `json:"residual_sd"`
			DF          int
			Predictions []struct {
				Estimate  float64 `json:"estimate_months"`
				ShelfLife float64 `json:"shelf_life_months"`
			}
		}
	}
	if err := json.Unmarshal(answerOf(t, demoCall("arrhenius", "--attribute", "assay", "--pack", "tube", "--format", "json")...), &temperatures); err != nil {
		t.Fatal(err)
	}
	a := temperatures.Analyses[0]
	got["arrhenius kj_per_mol"], got["arrhenius low"], got["arrhenius high"] = a.Energy.KJPerMol, a.Energy.Low, a.Energy.High
	got["arrhenius linearity_p"], got["arrhenius residual_sd"], got["arrhenius df"] = a.LinearityP, a.ResidualSD, float64(a.DF)
	got["arrhenius estimate_months"], got["arrhenius shelf_life_months"] = a.Predictions[0].Estimate, a.Predictions[0].ShelfLife
	for _, r := range a.Rates {
		got["arrhenius rate "+r.Condition], got["arrhenius rate_se "+r.Condition] = r.PerMonth, r.SE
	}
	if len(rows) < 100 {
		t.Fatalf("only %d answers of R", len(rows)-1)
	}
	for _, row := range rows[1:] {
		name := row[0] + " " + row[1]
		x, ok := got[name]
		if row[2] == "NA" {
			if ok && !math.IsNaN(x) {
				t.Errorf("%s: %g, where R tests nothing", name, x)
			}
			continue
		}
		want, err := strconv.ParseFloat(row[2], 64)
		if err != nil {
			t.Fatal(err)
		}
		if !ok || !(math.Abs(x-want) <= 5e-7*math.Abs(want)) {
			t.Errorf("%s: %.9g, R says %.9g", name, x, want)
		}
	}
}
