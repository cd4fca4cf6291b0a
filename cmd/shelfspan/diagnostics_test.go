package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
)

// told is what the JSON says of an analysis' results.
type told struct {
	N          int     `json:"n"`
	DF         int     `json:"df"`
	ResidualSD float64 `json:"residual_sd"`
	Outlier    struct {
		Batch, Time string
		Studentized float64
		P, Expected float64
		Lower99     float64 `json:"lower_99"`
		Upper99     float64 `json:"upper_99"`
	}
	OutOfTrend []struct {
		Batch, Against string
		P, Expected    float64
		Lower95        float64 `json:"lower_95"`
		Upper95        float64 `json:"upper_95"`
		Lower99        float64 `json:"lower_99"`
		Upper99        float64 `json:"upper_99"`
	} `json:"out_of_trend"`
	Leverage  struct{ Leverage float64 }
	LackOfFit *struct{ F, P float64 } `json:"lack_of_fit"`
	Normality struct{ W, P float64 }
	Spread    struct{ Koenker, P float64 }
	Course    struct {
		BendT   float64  `json:"bend_t"`
		BendP   float64  `json:"bend_p"`
		TurnsAt *float64 `json:"turns_at_months"`
		TurnF   float64  `json:"turn_f"`
		TurnP   float64  `json:"turn_p"`
	}
}

// TestDiagnosticsAgainstR compares what is said of the results of the study played in
// testdata/diagnostics.txtar, from its files to the JSON, with what R works out; see
// testdata/reference/diagnostics/diagnostics.R.
func TestDiagnosticsAgainstR(t *testing.T) {
	a, err := txtar.ParseFile(filepath.Join("testdata", "diagnostics.txtar"))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for _, f := range a.Files {
		writeFile(t, filepath.Join(dir, f.Name), f.Data)
	}
	var answer struct {
		Analyses []struct {
			Attribute   string
			Diagnostics told
		}
	}
	out := answerOf(t, "shelfspan", "trend", "-s", filepath.Join(dir, "study.toml"), "-r", filepath.Join(dir, "results.csv"), "--condition", "25C60", "--format", "json")
	if err := json.Unmarshal(out, &answer); err != nil {
		t.Fatal(err)
	}
	got := map[string]float64{}
	for _, a := range answer.Analyses {
		d := a.Diagnostics
		put := func(name string, x float64) { got[a.Attribute+" "+name] = x }
		put("n", float64(d.N))
		put("df", float64(d.DF))
		put("residual_sd", d.ResidualSD)
		put("studentized", d.Outlier.Studentized)
		put("outlier p", d.Outlier.P)
		put("outlier expected", d.Outlier.Expected)
		put("outlier lower_99", d.Outlier.Lower99)
		put("outlier upper_99", d.Outlier.Upper99)
		for _, o := range d.OutOfTrend {
			if o.Against == "earlier-batches" {
				put("earlier expected "+o.Batch, o.Expected)
				put("earlier lower_99 "+o.Batch, o.Lower99)
				put("earlier p "+o.Batch, o.P)
				continue
			}
			put("own p "+o.Batch, o.P)
			put("own expected "+o.Batch, o.Expected)
			put("own lower_95 "+o.Batch, o.Lower95)
			put("own upper_95 "+o.Batch, o.Upper95)
			put("own lower_99 "+o.Batch, o.Lower99)
			put("own upper_99 "+o.Batch, o.Upper99)
		}
		put("leverage", d.Leverage.Leverage)
		if d.LackOfFit != nil {
			put("lack F", d.LackOfFit.F)
			put("lack p", d.LackOfFit.P)
		}
		put("w", d.Normality.W)
		put("normality p", d.Normality.P)
		put("koenker", d.Spread.Koenker)
		put("spread p", d.Spread.P)
		put("bend_t", d.Course.BendT)
		put("bend p", d.Course.BendP)
		if d.Course.TurnsAt != nil {
			put("turns_at_months", *d.Course.TurnsAt)
		}
		put("turn_f", d.Course.TurnF)
		put("turn p", d.Course.TurnP)
		if a.Attribute == "assay" {
			put("outlier row", 9) // the second batch's third, by its name
			if d.Outlier.Batch != "F2" || d.Outlier.Time != "6M" {
				t.Errorf("the outlier is that of %s at %s", d.Outlier.Batch, d.Outlier.Time)
			}
		}
	}
	f, err := os.Open(filepath.Join("..", "..", "testdata", "reference", "diagnostics", "answers.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 100 {
		t.Fatal(len(rows), err)
	}
	for _, row := range rows[1:] {
		name := fmt.Sprint(row[0], " ", row[1])
		want, err := strconv.ParseFloat(row[2], 64)
		if err != nil {
			t.Fatal(err)
		}
		x, ok := got[name]
		if row[1] == "outlier row" && row[0] != "assay" {
			continue // which one is farthest is told by its studentized residual
		}
		const tolerance = 1e-8
		if !ok || !(math.Abs(x-want) <= tolerance*math.Abs(want)+1e-11) {
			t.Errorf("%s: %.12g, R says %.12g", name, x, want)
		}
	}
}
