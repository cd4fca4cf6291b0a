package tobit

import (
	"math"
	"testing"

	"shelfspan/analysis/kinetics"
	"shelfspan/analysis/pooling"
	"shelfspan/testdata/reference"
)

// The reference numbers are R's: testdata/reference/tobit/tobit.R fits by
// survival::survreg.
func sets(t *testing.T) map[string][]Batch {
	t.Helper()
	sides := map[string]Side{"exact": Exact, "below": Below, "above": Above}
	all := map[string][]Batch{}
	for _, row := range reference.Table(t, "tobit/data.csv") {
		name, k := row["set"], int(reference.Number(t, row["batch"]))
		if k > len(all[name]) {
			all[name] = append(all[name], Batch{})
		}
		b := &all[name][k-1]
		side, known := sides[row["side"]]
		if !known {
			t.Fatalf("side %q", row["side"])
		}
		b.X, b.Y, b.Side = append(b.X, reference.Number(t, row["months"])), append(b.Y, reference.Number(t, row["value"])), append(b.Side, side)
	}
	return all
}

func TestFitsAgainstR(t *testing.T) {
	all := sets(t)
	censored := map[Side]int{}
	for _, row := range reference.Table(t, "tobit/fits.csv") {
		name := row["set"] + " " + row["decision"]
		f, err := FitLines(all[row["set"]], pooling.Decision(row["decision"]))
		if err != nil || f.Status != Converged {
			t.Fatalf("%s: %v %+v", name, err, f)
		}
		line := f.Lines[int(reference.Number(t, row["batch"]))-1]
		// R's errors are Wald's without any correction for degrees of freedom.
		plain := math.Sqrt(float64(f.DF) / float64(f.Exact))
		same(t, name+": exact values", float64(f.Exact), row["exact"], 0)
		same(t, name+": log-likelihood", f.LogLikelihood, row["loglik"], 1e-9)
		same(t, name+": sigma", f.Sigma, row["sigma"], 1e-7)
		same(t, name+": intercept", line.Intercept(), row["intercept"], 1e-7)
		same(t, name+": slope", line.Slope, row["slope"], 1e-7)
		same(t, name+": error of the intercept", line.SE(0)*plain, row["se0"], 1e-6)
		same(t, name+": error at 12", line.SE(12)*plain, row["se12"], 1e-6)
		censored[Below] += f.Below
		censored[Above] += f.Above
	}
	if censored[Below] == 0 || censored[Above] == 0 {
		t.Errorf("censored values in the reference: %v", censored)
	}
}

func TestLivesAgainstR(t *testing.T) {
	all := sets(t)
	limits := reference.Table(t, "tobit/limits.csv")
	compared := 0
	for _, row := range reference.Table(t, "tobit/lives.csv") {
		l := limits[int(reference.Number(t, row["limit"]))-1]
		f, err := FitLines(all[row["set"]], pooling.Decision(row["decision"]))
		if err != nil {
			t.Fatal(err)
		}
		life, err := f.Meets(int(reference.Number(t, row["batch"]))-1,
			kinetics.Limit{Share: reference.Number(t, l["share"]), Level: reference.Number(t, l["level"]), Above: l["above"] == "TRUE"}, reference.Number(t, l["confidence"]))
		if err != nil {
			t.Fatal(err)
		}
		name := row["set"] + " " + row["decision"] + ", batch " + row["batch"] + ", limit " + row["limit"]
		same(t, name+": estimate", life.Estimate, row["estimate"], 1e-7)
		same(t, name+": bound", life.Bound, row["bound"], 1e-6)
		compared++
	}
	if compared < 50 {
		t.Errorf("%d bounds compared", compared)
	}
}

// R: pnorm(u, log.p = TRUE), and the derivative by dnorm.
func TestNormalTails(t *testing.T) {
	for _, row := range reference.Table(t, "tobit/normal.csv") {
		u := reference.Number(t, row["u"])
		lambda, _ := mills(u)
		for name, c := range map[string][2]float64{"ln Φ": {logPhi(u), reference.Number(t, row["log_phi"])}, "λ": {lambda, reference.Number(t, row["lambda"])}} {
			// An exponent of 5000 leaves R's derivative no more digits.
			if math.Abs(c[0]-c[1]) > 2e-12*math.Abs(c[1]) {
				t.Errorf("%s(%v) = %.15g, want %.15g", name, u, c[0], c[1])
			}
		}
	}
	for u := -60.0; u < 40; u += 0.25 {
		if _, w := mills(u); !(w >= 0 && w <= 1) {
			t.Errorf("weight at %v is %v", u, w)
		}
	}
	// The series takes over where the formula ends.
	_, low := mills(tail - 1e-9)
	_, high := mills(tail + 1e-9)
	if math.Abs(low-high) > 1e-9 {
		t.Errorf("weight leaps from %v to %v", low, high)
	}
}

func same(t *testing.T, what string, got float64, text string, tolerance float64) {
	t.Helper()
	if want := reference.Number(t, text); got != want && !(math.Abs(got-want) <= tolerance*(math.Abs(want)+1e-3)) {
		t.Errorf("%s: %.12g, want %.12g", what, got, want)
	}
}
