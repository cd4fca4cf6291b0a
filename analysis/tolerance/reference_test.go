package tolerance

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/pooling"
)

const reference = "../../testdata/reference/"

// testdata/reference/tolerance/tolerance.R fits by lm, takes k from R's qt(ncp=)
// and finds the times by uniroot.
func TestAgainstR(t *testing.T) {
	data := map[string]map[string]*pooling.Batch{}
	for _, row := range readTable(t, "pooling/data.csv") {
		if data[row["data"]] == nil {
			data[row["data"]] = map[string]*pooling.Batch{}
		}
		b := data[row["data"]][row["batch"]]
		if b == nil {
			b = &pooling.Batch{}
			data[row["data"]][row["batch"]] = b
		}
		b.X, b.Y = append(b.X, number(t, row["months"])), append(b.Y, number(t, row["value"]))
	}
	answers := readTable(t, "tolerance/answers.csv")
	seen := map[pooling.Decision]bool{}
	for _, c := range readTable(t, "tolerance/cases.csv") {
		t.Run(c["case"], func(t *testing.T) {
			in := Input{
				Limits: []kinetics.Limit{{Share: number(t, c["share"]), Level: number(t, c["level"]), Above: c["above"] == "TRUE"}},
				Alpha:  number(t, c["alpha"]),
				Level:  Level{number(t, c["coverage"]), number(t, c["confidence"])},
			}
			for i := range len(data[c["data"]]) {
				b := data[c["data"]]["B"+strconv.Itoa(i+1)]
				y := append([]float64(nil), b.Y...)
				if c["scale"] == "log" {
					for j := range y {
						y[j] = math.Log(y[j])
					}
				}
				in.Batches = append(in.Batches, pooling.Batch{X: b.X, Y: y})
			}
			out, _ := Evaluate(in)
			if len(out.Fits) != len(in.Batches) {
				t.Fatalf("%d fits: %+v", len(out.Fits), out)
			}
			seen[out.Pooling.Decision] = true
			for i, f := range out.Fits {
				want := answers[0]
				answers = answers[1:]
				if want["case"] != c["case"] || want["batch"] != "B"+strconv.Itoa(i+1) {
					t.Fatalf("answers.csv is at %v", want)
				}
				if string(out.Pooling.Decision) != want["decision"] {
					t.Fatalf("decision %s, want %s", out.Pooling.Decision, want["decision"])
				}
				line := out.Pooling.Lines[i].AgainstInitial(in.Limits[0].Share)
				same(t, "residual sd", line.S, number(t, want["s"]))
				same(t, "degrees of freedom", float64(line.DF), number(t, want["df"]))
				same(t, "leverage at 10", leverage(line, 10), number(t, want["leverage10"]))
				same(t, "k at 10", in.Factor(number(t, want["leverage10"]), line.DF), number(t, want["k10"]))
				same(t, "estimate", f.Estimate, number(t, want["estimate"]))
				same(t, "shelf life", f.ShelfLife, number(t, want["shelf_life"]))
			}
		})
	}
	if len(answers) > 0 || len(seen) != 3 {
		t.Errorf("%d answers left; decisions seen: %v", len(answers), seen)
	}
}

func same(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(got == want || math.Abs(got-want) <= 1e-9*math.Abs(want)) {
		t.Errorf("%s %.14g, want %.14g", what, got, want)
	}
}

func readTable(t testing.TB, name string) []map[string]string {
	f, err := os.Open(reference + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var table []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for j, s := range row {
			m[rows[0][j]] = s
		}
		table = append(table, m)
	}
	return table
}

func number(t testing.TB, s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}
