package arrhenius

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"shelfspan/study"
)

// Energies in common and apart, and the test between them, are those of R's nls
// and anova.
func TestParallel(t *testing.T) {
	read := func(file string) (rows []map[string]string) {
		f, err := os.Open("../../testdata/reference/arrhenius-parallel/" + file)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		records, err := csv.NewReader(f).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range records[1:] {
			row := map[string]string{}
			for i, h := range records[0] {
				row[h] = r[i]
			}
			rows = append(rows, row)
		}
		return rows
	}
	number := func(s string) float64 {
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	conditions := []Condition{{"25C", 25, nan}, {"30C", 30, nan}, {"40C", 40, nan}, {"45C", 45, nan}}
	for _, want := range read("tests.csv") {
		in := Input{Conditions: conditions, Lower: 90, Upper: math.Inf(1), Model: study.ZeroOrder, Confidence: 0.95, Groups: []int{5, 5, 7, 7, 9, 9}}
		for _, r := range read("data.csv") {
			if r["set"] != want["set"] {
				continue
			}
			p := Point{Batch: int(number(r["batch"])) - 1 + 2*(int(number(r["pack"]))-1), Condition: -1, Months: number(r["months"]), Value: number(r["y"])}
			for i, c := range conditions {
				if p.Months > 0 && c.Celsius == number(r["celsius"]) {
					p.Condition = i
				}
			}
			in.Points = append(in.Points, p)
		}
		got := FitParallel(in)
		if got.Status != Fitted || len(got.Own) != 3 || got.DF1 != int(number(want["df1"])) || got.DF2 != int(number(want["df2"])) {
			t.Fatalf("%s: %s %s, %d and %d degrees of freedom", want["set"], got.Status, got.Reason, got.DF1, got.DF2)
		}
		for what, pair := range map[string][2]float64{
			"Ea": {got.Common.EaKJ, number(want["ea"])}, "F": {got.F, number(want["f"])}, "p": {got.P, number(want["p"])},
			"Ea 1": {got.Own[0].EaKJ, number(want["ea1"])}, "Ea 2": {got.Own[1].EaKJ, number(want["ea2"])}, "Ea 3": {got.Own[2].EaKJ, number(want["ea3"])},
		} {
			if math.Abs(pair[0]-pair[1]) > 1e-6*math.Abs(pair[1])+1e-12 {
				t.Errorf("%s, %s: %.10g, R has %.10g", want["set"], what, pair[0], pair[1])
			}
		}
		if got.Own[0].Group != 5 || got.Own[2].Group != 9 {
			t.Errorf("groups %d, %d", got.Own[0].Group, got.Own[2].Group)
		}
	}
}
