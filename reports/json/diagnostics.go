package json

import (
	"math"

	"shelfspan/analysis"
	"shelfspan/study"
)

// Diagnostics is what the results of an analysis say of its lines; a test that was
// not made is null.
type Diagnostics struct {
	N          int          `json:"n"`
	DF         int          `json:"df"`
	ResidualSD Number       `json:"residual_sd"`
	Tests      int          `json:"tests"`
	Outlier    *outlier     `json:"outlier"`
	OutOfTrend []outOfTrend `json:"out_of_trend"`
	Leverage   *leverage    `json:"leverage"`
	LackOfFit  *lackOfFit   `json:"lack_of_fit"`
	Normality  *normality   `json:"normality"`
	Spread     *spread      `json:"spread"`
	Course     *course      `json:"course"`
	Findings   []found      `json:"findings"`
}

// expectation is a value with what was to be expected of it, in the attribute's own unit.
type expectation struct {
	Value    Number `json:"value"`
	Expected Number `json:"expected"`
	Lower95  Number `json:"lower_95"`
	Upper95  Number `json:"upper_95"`
	Lower99  Number `json:"lower_99"`
	Upper99  Number `json:"upper_99"`
}

type outlier struct {
	Batch       string `json:"batch"`
	Unit        string `json:"unit,omitempty"`
	Time        string `json:"time"`
	Studentized Number `json:"studentized"` // infinite, hence null, where the others fit without residual
	DF          int    `json:"df"`
	P           Number `json:"p"`
	expectation
}

type outOfTrend struct {
	Batch   string   `json:"batch"`
	Time    string   `json:"time"`
	Results int      `json:"results"`
	Against string   `json:"against"`
	Earlier []string `json:"earlier_batches,omitempty"`
	DF      int      `json:"df"`
	P       Number   `json:"p"`
	expectation
}

type leverage struct {
	Batch    string `json:"batch"`
	Time     string `json:"time"`
	Results  int    `json:"results"`
	Leverage Number `json:"leverage"`
}

type lackOfFit struct {
	F      Number `json:"f"`
	DF1    int    `json:"df1"`
	DF2    int    `json:"df2"`
	PureSD Number `json:"pure_sd"`
	P      Number `json:"p"`
}

type normality struct {
	W Number `json:"w"`
	P Number `json:"p"`
}

type spread struct {
	Koenker       Number `json:"koenker"`
	P             Number `json:"p"`
	BreuschPagan  Number `json:"breusch_pagan"`
	BreuschPaganP Number `json:"breusch_pagan_p"`
	DF            int    `json:"df"`
	Grows         bool   `json:"grows"`
}

type course struct {
	BendT   Number `json:"bend_t"`
	BendP   Number `json:"bend_p"`
	RunsP   Number `json:"runs_p"`
	Turns   string `json:"turns"` // rises-then-falls, falls-then-rises or none, of the best broken line
	TurnsAt Number `json:"turns_at_months"`
	TurnF   Number `json:"turn_f"`
	TurnP   Number `json:"turn_p"`
}

type found struct {
	Code  string  `json:"code"`
	Level string  `json:"level"` // warning or note
	Batch *string `json:"batch"`
	Time  *string `json:"time"`
	P     Number  `json:"p"`
}

// newDiagnostics is nil where an analysis has none.
func newDiagnostics(s *study.Study, a *analysis.Analysis) *Diagnostics {
	d := a.Diagnostics
	if d == nil {
		return nil
	}
	batch := func(i int) string { return s.Batches[i].ID }
	out := &Diagnostics{N: d.N, DF: d.DF, ResidualSD: Number(d.ResidualSD), Tests: d.Tests, OutOfTrend: []outOfTrend{}, Findings: []found{}}
	if o := d.Outlier; o != nil {
		x := &a.Samples[o.Sample]
		out.Outlier = &outlier{batch(x.Batch), x.Unit, x.Planned.String(), Number(o.External), o.DF, Number(o.P), newExpectation(&o.Expectation)}
	}
	for i := range d.OutOfTrend {
		o := &d.OutOfTrend[i]
		row := outOfTrend{Batch: batch(o.Batch), Time: o.Planned.String(), Results: len(o.Samples), Against: "own-line", DF: o.DF, P: Number(o.P), expectation: newExpectation(&o.Expectation)}
		for _, b := range o.Earlier {
			row.Against = "earlier-batches"
			row.Earlier = append(row.Earlier, batch(b))
		}
		out.OutOfTrend = append(out.OutOfTrend, row)
	}
	if l := d.Leverage; l != nil {
		out.Leverage = &leverage{batch(l.Batch), l.Planned.String(), len(l.Samples), Number(l.Leverage)}
	}
	if l := d.LackOfFit; l != nil {
		out.LackOfFit = &lackOfFit{Number(l.F), l.DF1, l.DF2, Number(l.PureSD), Number(l.P)}
	}
	if n := d.Normality; n != nil {
		out.Normality = &normality{Number(n.W), Number(n.P)}
	}
	if x := d.Spread; x != nil {
		out.Spread = &spread{Number(x.Statistic), Number(x.P), Number(x.OriginalStatistic), Number(x.OriginalP), x.DF, x.Grows}
	}
	if c := d.Course; c != nil {
		out.Course = &course{Number(c.BendT), Number(c.BendP), Number(c.RunsP), "none", Number(c.TurnsAt), Number(c.TurnF), Number(c.TurnP)}
		switch {
		case math.IsNaN(c.TurnsAt):
		case c.Rises:
			out.Course.Turns = "rises-then-falls"
		default:
			out.Course.Turns = "falls-then-rises"
		}
	}
	for i := range d.Findings {
		f := &d.Findings[i]
		row := found{Code: f.Code, Level: "note", P: Number(f.P)}
		if f.Warned {
			row.Level = "warning"
		}
		if f.Batch >= 0 {
			row.Batch = &s.Batches[f.Batch].ID
			at := f.Planned.String()
			row.Time = &at
		}
		out.Findings = append(out.Findings, row)
	}
	return out
}

func newExpectation(x *analysis.Expectation) expectation {
	return expectation{Number(x.Value), Number(x.Expected), Number(x.Lower[0]), Number(x.Upper[0]), Number(x.Lower[1]), Number(x.Upper[1])}
}
