package randombatch

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"shelfspan/analysis/pooling"
	"shelfspan/testdata/reference"
)

// testdata/reference/randombatch/randombatch.R fits by nlme's lme and lme4's
// lmer, takes degrees of freedom from lmerTest and reckons the generalized limit
// by nested integrals and a search for the variance, none of it as it is done here.
// R's optimisers end within 1e-6 or so of the greatest likelihood; ours may be
// above theirs, but not below by more than rounding.
func TestFitAgainstR(t *testing.T) {
	data := readData(t)
	ranks := map[int]int{}
	for _, want := range reference.Table(t, "randombatch/fits.csv") {
		t.Run(want["data"], func(t *testing.T) {
			f, err := REML(data[want["data"]])
			if err != nil {
				t.Fatal(err)
			}
			ranks[f.Rank]++
			best := reference.Number(t, want["loglik_lmer"])
			if lme := want["loglik_lme"]; lme != "" {
				best = math.Max(best, reference.Number(t, lme))
			}
			if f.LogLikelihood < best-1e-8 || f.LogLikelihood > best+1e-6 {
				t.Errorf("log likelihood %.10f, R's best %.10f", f.LogLikelihood, best)
			}
			if singular := want["singular"] == "TRUE"; singular != (f.Rank < 2) {
				t.Errorf("rank %d, R says singular: %v", f.Rank, singular)
			}
			// Where the likelihood is flat R's parameters are less exact than its
			// likelihood: they are compared with what their own error is.
			check := func(what string, got float64, column string, within float64) {
				t.Helper()
				if want := reference.Number(t, want[column]); !(math.Abs(got-want) <= within) {
					t.Errorf("%s %.10g, R has %.10g", what, got, want)
				}
			}
			check("intercept", f.Intercept, "intercept", 1e-4*f.InterceptSE)
			check("slope", f.Slope, "slope", 1e-4*f.SlopeSE)
			check("intercept's error", f.InterceptSE, "intercept_se", 1e-3*f.InterceptSE)
			check("slope's error", f.SlopeSE, "slope_se", 1e-3*f.SlopeSE)
			check("residual sd", f.ResidualSD, "residual_sd", 1e-4*f.ResidualSD)
			check("intercept sd", f.InterceptSD, "intercept_sd", 1e-3*f.InterceptSD+1e-3*f.InterceptSE)
			check("slope sd", f.SlopeSD, "slope_sd", 1e-3*f.SlopeSD+1e-3*f.SlopeSE)
			if f.Rank > 0 {
				check("correlation", f.Correlation, "correlation", 2e-3)
			}
			_, se, df := f.Mean(20)
			check("error of the mean at 20", se, "mean20_se", 1e-3*se)
			check("df of the intercept", f.InterceptDF, "intercept_df", 2e-3*f.InterceptDF)
			check("df of the slope", f.SlopeDF, "slope_df", 2e-3*f.SlopeDF)
			check("df of the mean at 20", df, "mean20_df", 2e-3*df)
		})
	}
	for rank := range 3 {
		if ranks[rank] == 0 {
			t.Errorf("no reference case has rank %d", rank)
		}
	}
}

// Where lme is sure of its parameters ours are its own to six significant digits.
func TestSixDigitsOfLme(t *testing.T) {
	data := readData(t)
	rows := reference.Table(t, "randombatch/lme.csv")
	if len(rows) != 2 {
		t.Fatalf("%d rows", len(rows))
	}
	for _, row := range rows {
		name := row["data"]
		f, err := REML(data[name])
		if err != nil {
			t.Fatal(err)
		}
		for column, got := range map[string]float64{
			"intercept": f.Intercept, "slope": f.Slope, "intercept_se": f.InterceptSE, "slope_se": f.SlopeSE,
			"intercept_sd": f.InterceptSD, "slope_sd": f.SlopeSD, "correlation": f.Correlation, "residual_sd": f.ResidualSD,
		} {
			if want := reference.Number(t, row[column]); math.Abs(got/want-1) > 1e-6 {
				t.Errorf("%s: %s %.10g, lme has %.10g", name, column, got, want)
			}
		}
	}
}

// The integrals of the reference are good to 3e-7; ours change by less than 1e-9
// at half the steps (TestGeneralizedLimits).
func TestGeneralizedLimitAgainstR(t *testing.T) {
	data := readData(t)
	rows := reference.Table(t, "randombatch/limits.csv")
	if len(rows) < 15 {
		t.Fatalf("%d rows", len(rows))
	}
	for _, row := range rows {
		d, short := suitable(data[row["data"]])
		if short != "" {
			t.Fatal(short)
		}
		f := d.newFuture(distuv.UnitNormal.Quantile(0.95))
		got := f.below(d.at(reference.Number(t, row["time"])), (reference.Number(t, row["y"])-d.origin)/d.size)
		if want := reference.Number(t, row["below"]); math.Abs(got-want) > 5e-7 {
			t.Errorf("%s at %s: probability %.10f below %s, want %.10f", row["data"], row["time"], got, row["y"], want)
		}
	}
}

func readData(t testing.TB) map[string][]pooling.Batch {
	data := map[string][]pooling.Batch{}
	index := map[[2]string]int{}
	for _, row := range reference.Table(t, "randombatch/data.csv") {
		name := row["data"]
		i, ok := index[[2]string{name, row["batch"]}]
		if !ok {
			i = len(data[name])
			index[[2]string{name, row["batch"]}] = i
			data[name] = append(data[name], pooling.Batch{})
		}
		b := &data[name][i]
		b.X, b.Y = append(b.X, reference.Number(t, row["time"])), append(b.Y, reference.Number(t, row["y"]))
	}
	return data
}
