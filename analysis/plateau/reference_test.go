package plateau

import (
	"math"
	"testing"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/pooling"
	"shelfspan/testdata/reference"
)

// The reference numbers are R's nls: testdata/reference/plateau/plateau.R.
func sets(t *testing.T) map[string][]pooling.Batch {
	t.Helper()
	all := map[string][]pooling.Batch{}
	for _, row := range reference.Table(t, "plateau/data.csv") {
		name, k := row["set"], int(reference.Number(t, row["batch"]))
		if k > len(all[name]) {
			all[name] = append(all[name], pooling.Batch{})
		}
		b := &all[name][k-1]
		b.X, b.Y = append(b.X, reference.Number(t, row["months"])), append(b.Y, reference.Number(t, row["value"]))
	}
	return all
}

func TestFitsAgainstR(t *testing.T) {
	all := sets(t)
	for _, row := range reference.Table(t, "plateau/fits.csv") {
		name := row["set"] + " " + row["decision"] + ", batch " + row["batch"]
		f, err := FitCurves(all[row["set"]], Model(row["model"]), pooling.Decision(row["decision"]))
		if err != nil || f.Status != Converged {
			t.Fatalf("%s: %v %+v", name, err, f)
		}
		c := f.Curves[int(reference.Number(t, row["batch"]))-1]
		second, secondSE, shape, shapeSE := c.Plateau, c.SE.Plateau, c.Rate, c.SE.Rate
		if f.Model == Power {
			second, secondSE, shape, shapeSE = c.Factor, c.SE.Factor, c.Exponent, c.SE.Exponent
		}
		same(t, name+": residual sum of squares", f.RSS, row["rss"], 1e-9)
		same(t, name+": df", float64(f.DF), row["df"], 0)
		same(t, name+": start", c.Start, row["start"], 1e-6)
		same(t, name+": its error", c.SE.Start, row["start_se"], 1e-5)
		same(t, name+": shape", shape, row["shape"], 1e-6)
		same(t, name+": its error", shapeSE, row["shape_se"], 1e-5)
		if row["second"] != "NA" {
			same(t, name+": plateau or factor", second, row["second"], 1e-6)
			same(t, name+": its error", secondSE, row["second_se"], 1e-5)
		}
	}
}

func TestLivesAgainstR(t *testing.T) {
	all := sets(t)
	limits := reference.Table(t, "plateau/limits.csv")
	compared := map[string]int{}
	for _, row := range reference.Table(t, "plateau/lives.csv") {
		l := limits[int(reference.Number(t, row["limit"]))-1]
		f, err := FitCurves(all[row["set"]], Model(l["model"]), pooling.Decision(row["decision"]))
		if err != nil {
			t.Fatal(err)
		}
		life, err := f.Meets(int(reference.Number(t, row["batch"]))-1,
			kinetics.Limit{Share: reference.Number(t, l["share"]), Level: reference.Number(t, l["level"]), Above: l["above"] == "TRUE"}, reference.Number(t, l["confidence"]))
		if err != nil {
			t.Fatal(err)
		}
		name := row["set"] + " " + row["decision"] + ", batch " + row["batch"] + ", limit " + row["limit"]
		if row["estimate"] == "Inf" {
			if !math.IsInf(life.Estimate, 1) {
				t.Errorf("%s: estimate %v, want none", name, life.Estimate)
			}
			continue
		}
		same(t, name+": estimate", life.Estimate, row["estimate"], 1e-6)
		if row["bound"] != "NA" {
			same(t, name+": bound", life.Bound, row["bound"], 1e-5)
			compared[l["model"]+row["decision"]]++
		}
	}
	if len(compared) != 6 {
		t.Errorf("bounds compared: %v", compared)
	}
}

func same(t *testing.T, what string, got float64, text string, tolerance float64) {
	t.Helper()
	if want := reference.Number(t, text); got != want && !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s: %.12g, want %.12g", what, got, want)
	}
}
