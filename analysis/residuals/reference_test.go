package residuals

import (
	"math"
	"strings"
	"testing"

	"shelfspan/analysis/linear"
	"shelfspan/analysis/pooling"
	"shelfspan/testdata/reference"
)

// The reference numbers are R's: testdata/reference/residuals/residuals.R.
// set is a model of a reference set: its columns and what Breusch–Pagan sets the
// squares against.
type set struct {
	columns, against []linear.Column
	y                []float64
}

func sets(t *testing.T) map[string]set {
	all := map[string]set{}
	batches := batchesOf(t)
	for name, b := range batches {
		var months []float64
		for _, batch := range b {
			months = append(months, batch.X...)
		}
		for _, d := range []pooling.Decision{pooling.Separate, pooling.CommonSlope, pooling.Pooled} {
			columns, y := pooling.Columns(b, d)
			all[name+" "+string(d)] = set{columns, []linear.Column{{Name: "months", Values: months}}, y}
		}
	}
	one := func(n int) linear.Column {
		v := make([]float64, n)
		for i := range v {
			v[i] = 1
		}
		return linear.Column{Name: "one", Values: v}
	}
	norris, longley := columnsOf(t, "norris.csv"), columnsOf(t, "linear/longley.csv")
	x := linear.Column{Name: "x", Values: norris["x"]}
	all["norris line"] = set{[]linear.Column{one(len(x.Values)), x}, []linear.Column{x}, norris["y"]}
	columns := []linear.Column{one(len(longley["y"]))}
	for _, name := range []string{"x1", "x2", "x3", "x4", "x5", "x6"} {
		columns = append(columns, linear.Column{Name: name, Values: longley[name]})
	}
	all["longley all"] = set{columns, []linear.Column{columns[2], columns[6]}, longley["y"]}
	return all
}

func batchesOf(t *testing.T) map[string][]pooling.Batch {
	all := map[string][]pooling.Batch{}
	for _, row := range reference.Table(t, "residuals/batches.csv") {
		name, k := row["set"], int(reference.Number(t, row["batch"]))
		if k > len(all[name]) {
			all[name] = append(all[name], pooling.Batch{})
		}
		b := &all[name][k-1]
		b.X, b.Y = append(b.X, reference.Number(t, row["months"])), append(b.Y, reference.Number(t, row["value"]))
	}
	return all
}

func TestPointsAgainstR(t *testing.T) {
	all, fits := sets(t), map[string]Residuals{}
	compared := 0
	for _, row := range reference.Table(t, "residuals/points.csv") {
		name := row["set"] + " " + row["model"]
		if _, done := fits[name]; !done {
			r, err := Of(all[name].columns, all[name].y)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			fits[name] = r
		}
		q := fits[name].Points[int(reference.Number(t, row["i"]))]
		// The collinearity of Longley's predictors costs R as many digits as us.
		tolerance := 1e-9
		if row["set"] == "longley" {
			tolerance = 1e-7
		}
		for what, got := range map[string]float64{"fitted": q.Fitted, "residual": q.Residual, "leverage": q.Leverage,
			"internal": q.Internal, "external": q.External, "p": q.P} {
			want := reference.Number(t, row[what])
			if math.Abs(got-want) > tolerance*(1+math.Abs(want)) {
				t.Errorf("%s, %s of %s: %.15g, want %.15g", name, what, row["i"], got, want)
			}
		}
		compared++
	}
	if compared < 400 {
		t.Errorf("%d points compared", compared)
	}
	// The one that was moved by six standard deviations is found, and no other set's.
	for name, r := range fits {
		if found := r.Points[r.Farthest].P < 0.05; strings.HasPrefix(name, "outlier") && (!found || r.Farthest != 16) {
			t.Errorf("%s: farthest %d, p %v", name, r.Farthest, r.Points[r.Farthest].P)
		}
	}
}

func TestTestsAgainstR(t *testing.T) {
	all := sets(t)
	withReplicates := 0
	for _, row := range reference.Table(t, "residuals/tests.csv") {
		name := row["set"] + " " + row["model"]
		s := all[name]
		r, err := Of(s.columns, s.y)
		if err != nil {
			t.Fatal(err)
		}
		same(t, name+": sd", r.SD, row["sd"])
		same(t, name+": df", float64(r.DF), row["df"])
		e := make([]float64, len(s.y))
		for i := range e {
			e[i] = r.Points[i].Residual
		}
		spread, err := ChangingSpread(e, s.against)
		if err != nil {
			t.Fatal(err)
		}
		same(t, name+": Koenker", spread.Statistic, row["koenker"])
		same(t, name+": Koenker's p", spread.P, row["koenker_p"])
		same(t, name+": Breusch–Pagan", spread.OriginalStatistic, row["original"])
		same(t, name+": Breusch–Pagan's p", spread.OriginalP, row["original_p"])
		lack, err := AgainstReplicates(s.columns, s.y)
		if row["lack_F"] == "NA" {
			if err != ErrNoReplicates {
				t.Errorf("%s: %+v, %v, want %v", name, lack, err, ErrNoReplicates)
			}
			continue
		}
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		withReplicates++
		same(t, name+": F of the lack of fit", lack.F, row["lack_F"])
		same(t, name+": p of the lack of fit", lack.P, row["lack_p"])
		same(t, name+": df1", float64(lack.DF1), row["lack_df1"])
		same(t, name+": df2", float64(lack.DF2), row["lack_df2"])
	}
	if withReplicates < 10 {
		t.Errorf("%d sets with replicates", withReplicates)
	}
}

func TestCourseAgainstR(t *testing.T) {
	batches := batchesOf(t)
	found := map[Direction]int{}
	for _, row := range reference.Table(t, "residuals/course.csv") {
		name := row["set"]
		c, err := CourseOf(batches[name])
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		same(t, name+": t of the bend", c.Bend.T, row["t"])
		same(t, name+": p of the bend", c.Bend.P, row["p"])
		same(t, name+": df of the bend", float64(c.Bend.DF), row["df"])
		if string(c.Turn.Direction) != row["direction"] {
			t.Errorf("%s: %q, want %q", name, c.Turn.Direction, row["direction"])
		}
		same(t, name+": break", c.Turn.At, row["at"])
		same(t, name+": slope before", c.Turn.Before, row["before"])
		same(t, name+": slope after", c.Turn.After, row["after"])
		same(t, name+": F of the turn", c.Turn.F, row["F"])
		same(t, name+": p of the turn", c.Turn.P, row["turn_p"])
		same(t, name+": df of the turn", float64(c.Turn.DF), row["turn_df"])
		if c.Turn.P < 0.05 {
			found[c.Turn.Direction]++
		}
	}
	if found[RisesThenFalls] != 1 || found[FallsThenRises] != 1 {
		t.Errorf("turns found: %v, want one of either way", found)
	}
}

// R wrote down every order of the signs and counted its runs.
func TestRunsAgainstR(t *testing.T) {
	for _, row := range reference.Table(t, "residuals/runs.csv") {
		var series [][]float64
		for _, signs := range strings.Fields(row["signs"]) {
			var e []float64
			for _, s := range signs {
				e = append(e, map[rune]float64{'+': 0.3, '-': -2}[s], 0) // zeros have no sign
			}
			series = append(series, e)
		}
		r := CountRuns(series...)
		same(t, row["signs"]+": runs", float64(r.Runs), row["runs"])
		same(t, row["signs"]+": expected", r.Expected, row["expected"])
		same(t, row["signs"]+": p", r.P, row["p"])
	}
}

func same(t *testing.T, what string, got float64, text string) {
	t.Helper()
	if want := reference.Number(t, text); !(math.Abs(got-want) <= 1e-8*math.Abs(want)+1e-13) {
		t.Errorf("%s: %.15g, want %.15g", what, got, want)
	}
}

func columnsOf(t *testing.T, name string) map[string][]float64 {
	t.Helper()
	columns := map[string][]float64{}
	for _, row := range reference.Table(t, name) {
		for c, v := range row {
			columns[c] = append(columns[c], reference.Number(t, v))
		}
	}
	return columns
}
