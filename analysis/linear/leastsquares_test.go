package linear

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"
)

// Certified values of NIST StRD, Norris (lower difficulty, straight line).
func TestNorris(t *testing.T) {
	names, table := read(t, "../../testdata/reference/norris.csv")
	fit := fitTable(t, names, table)
	near(t, "intercept", fit.Coefficients[0], -0.262323073774029)
	near(t, "slope", fit.Coefficients[1], 1.00211681802045)
	near(t, "sd of the intercept", fit.SE(0), 0.232818234301152)
	near(t, "sd of the slope", fit.SE(1), 0.429796848199937e-3)
	near(t, "residual sd", fit.ResidualSD(), 0.884796396144373)
	if fit.DF != 34 {
		t.Errorf("degrees of freedom %d, want 34", fit.DF)
	}
}

// Certified values of NIST StRD, Longley (higher difficulty, six nearly
// collinear predictors). The coefficients and their errors are from memory.
func TestLongley(t *testing.T) {
	names, table := read(t, "../../testdata/reference/linear/longley.csv")
	fit := fitTable(t, names, table)
	want := []struct{ b, se float64 }{
		{-3482258.63459582, 890420.383607373},
		{15.0618722713733, 84.9149257747669},
		{-0.358191792925910e-1, 0.334910077722432e-1},
		{-2.02022980381683, 0.488399681651699},
		{-1.03322686717359, 0.214274163161675},
		{-0.511041056535807e-1, 0.226073200069370},
		{1829.15146461355, 455.478499142212},
	}
	for i, w := range want {
		near(t, "coefficient "+strconv.Itoa(i), fit.Coefficients[i], w.b)
		near(t, "its sd "+strconv.Itoa(i), fit.SE(i), w.se)
	}
	near(t, "residual sd", fit.ResidualSD(), 304.854073561965)
}

func TestRankDeficiencyNamesEveryColumn(t *testing.T) {
	one := Column{"intercept", []float64{1, 1, 1, 1, 1}}
	x := Column{"time", []float64{0, 3, 6, 9, 12}}
	y := []float64{1, 2, 4, 3, 5}
	cases := []struct {
		name    string
		columns []Column
		want    []string
	}{
		{"a combination", []Column{one, x, {"twice", []float64{1, 7, 13, 19, 25}}}, []string{"twice"}},
		{"a column of zeros", []Column{one, {"zero", make([]float64, 5)}, x}, []string{"zero"}},
		{"two of them", []Column{one, {"constant", []float64{7, 7, 7, 7, 7}}, x, {"minus", []float64{0, -3, -6, -9, -12}}}, []string{"constant", "minus"}},
		{"units far apart", []Column{one, {"tiny", []float64{1e-200, 1e-200, 1e-200, 1e-200, 1e-200}}}, []string{"tiny"}},
	}
	for _, c := range cases {
		_, err := LeastSquares(c.columns, y)
		var rank *RankError
		if !errors.As(err, &rank) {
			t.Errorf("%s: error %v, want a rank error", c.name, err)
		} else if !slices.Equal(rank.Columns, c.want) {
			t.Errorf("%s: named %v, want %v", c.name, rank.Columns, c.want)
		}
	}
}

func TestUnsuitableObservations(t *testing.T) {
	one := Column{"intercept", []float64{1, 1, 1}}
	for name, c := range map[string]struct {
		columns []Column
		y       []float64
	}{
		"fewer observations than columns": {[]Column{{"a", []float64{1}}, {"b", []float64{2}}}, []float64{1}},
		"no column":                       {nil, []float64{1, 2}},
		"lengths that differ":             {[]Column{one}, []float64{1, 2}},
		"not a number in y":               {[]Column{one}, []float64{1, math.NaN(), 2}},
		"not a number in x":               {[]Column{{"a", []float64{1, math.NaN(), 2}}}, []float64{1, 2, 3}},
		"infinite x":                      {[]Column{{"a", []float64{1, math.Inf(1), 2}}}, []float64{1, 2, 3}},
	} {
		if _, err := LeastSquares(c.columns, c.y); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

// Units of 1e-150 and 1e150 square beyond the range of a float64.
func TestUnitsDoNotMatter(t *testing.T) {
	fit := func(ux, uy float64) *Fit {
		one := []float64{1, 1, 1, 1}
		x, y := []float64{0, 1, 2, 4}, []float64{1, 3, 2, 6}
		for i := range x {
			x[i] *= ux
			y[i] *= uy
		}
		f, err := LeastSquares([]Column{{"intercept", one}, {"time", x}}, y)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	// By hand: x̄ 7/4, ȳ 3, Sxx 35/4, Sxy 31 − 21 = 10, slope 8/7.
	near(t, "slope", fit(1, 1).Coefficients[1], 8.0/7)
	near(t, "slope of large x", fit(1e150, 1).Coefficients[1], 8.0/7*1e-150)
	near(t, "slope of small y", fit(1, 1e-150).Coefficients[1], 8.0/7*1e-150)
}

// All values equal, and values on a line up to rounding, leave no residual: the
// rounding itself is no variance.
func TestRoundingIsNoResidual(t *testing.T) {
	one := []float64{1, 1, 1, 1, 1, 1}
	x := []float64{0, 3.0123, 5.98, 9.1, 11.992, 18.03}
	equal, line := make([]float64, 6), make([]float64, 6)
	for i := range x {
		equal[i], line[i] = 100.1, 101.3-0.371*x[i]
	}
	for name, y := range map[string][]float64{"equal": equal, "line": line} {
		f, err := LeastSquares([]Column{{"intercept", one}, {"time", x}}, y)
		if err != nil || f.RSS != 0 {
			t.Errorf("%s: RSS %v, error %v, want 0", name, f.RSS, err)
		}
	}
	if f, _ := LeastSquares([]Column{{"intercept", one}, {"time", x}}, equal); f.Coefficients[1] != 0 {
		t.Errorf("equal values have a slope of %v", f.Coefficients[1])
	}
	line[2] += 1e-9
	if f, _ := LeastSquares([]Column{{"intercept", one}, {"time", x}}, line); f.RSS == 0 {
		t.Error("a departure of 1e-9 was taken for rounding")
	}
}

func fitTable(t *testing.T, names []string, table [][]float64) *Fit {
	t.Helper()
	columns := []Column{{"intercept", make([]float64, len(table[0]))}}
	for i := range table[0] {
		columns[0].Values[i] = 1
	}
	for j := 1; j < len(names); j++ {
		columns = append(columns, Column{names[j], table[j]})
	}
	fit, err := LeastSquares(columns, table[0])
	if err != nil {
		t.Fatal(err)
	}
	return fit
}

// near asks for 9 significant digits.
func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 5e-10*math.Abs(want)) {
		t.Errorf("%s: %.15g, want %.15g", what, got, want)
	}
}

func read(t *testing.T, path string) (names []string, columns [][]float64) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	columns = make([][]float64, len(rows[0]))
	for _, row := range rows[1:] {
		for j, s := range row {
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			columns[j] = append(columns[j], v)
		}
	}
	return rows[0], columns
}

// A column that all but points along one axis, either way: the reflection must
// not cancel. y = 3x exactly, by hand.
func TestReflectionDoesNotCancel(t *testing.T) {
	for _, sign := range []float64{1, -1} {
		x := []float64{sign * 1e7, 1, 2, 3, -1}
		y := []float64{sign * 3e7, 3, 6, 9, -3}
		f, err := LeastSquares([]Column{{"x", x}, {"intercept", []float64{1, 1, 1, 1, 1}}}, y)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "slope", f.Coefficients[0], 3)
		if math.Abs(f.Coefficients[1]) > 1e-9 {
			t.Errorf("intercept %v, want 0", f.Coefficients[1])
		}
	}
}
