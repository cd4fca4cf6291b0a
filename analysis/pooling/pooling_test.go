package pooling

import (
	"math"
	"testing"
)

// The models themselves are held against R's lm and anova in package
// regression; here stands what is refused, and one batch.
func TestTooLittleToFit(t *testing.T) {
	for name, batches := range map[string][]Batch{
		"no batch":                 nil,
		"two values of one batch":  {{[]float64{0, 3}, []float64{1, 2}}},
		"no value beyond two each": {{[]float64{0, 3}, []float64{1, 2}}, {[]float64{0, 3}, []float64{1, 2}}},
		"one time in a batch":      {{[]float64{0, 3, 6, 9}, []float64{1, 2, 3, 5}}, {[]float64{3, 3, 3}, []float64{1, 2, 3}}},
	} {
		if _, err := Fit(batches, 0.25); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

// A p-value at the level itself does not say that the batches differ: equal exact
// lines have p = 1 in both tests.
func TestLevelItselfPools(t *testing.T) {
	line := Batch{[]float64{0, 1, 2, 3}, []float64{4, 3, 2, 1}}
	if r, err := Fit([]Batch{line, line}, 1); err != nil || r.Decision != Pooled {
		t.Errorf("%s, p %v and %v, %v", r.Decision, r.SlopesP, r.InterceptsP, err)
	}
}

func TestOneBatchIsNotTested(t *testing.T) {
	r, err := Fit([]Batch{{[]float64{0, 1, 2, 3}, []float64{1, 3, 2, 4}}}, 0.25)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []float64{r.SlopesF, r.SlopesP, r.InterceptsF, r.InterceptsP} {
		if !math.IsNaN(p) {
			t.Errorf("a test of one batch gave %v", p)
		}
	}
	// By hand: x̄ 1.5, ȳ 2.5, Sxx 5, Sxy 4, slope 0.8, RSS 5 − 0.8·4 = 1.8 on 2.
	if r.Decision != Separate || r.DF != 2 || r.DF2 != 0 || math.Abs(r.S-math.Sqrt(0.9)) > 1e-15 || math.Abs(r.Lines[0].Slope-0.8) > 1e-15 {
		t.Errorf("%+v", r)
	}
}
