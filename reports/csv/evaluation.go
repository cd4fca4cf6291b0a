// Package csv writes answers as tables for spreadsheets: RFC 4180, comma,
// points in numbers, an empty field where there is no finite value.
package csv

import (
	"io"
	"math"
	"strconv"

	"shelfspan/analysis"
	"shelfspan/study"
)

// Number is a float64 that is written as an empty field where it is not finite.
type Number float64

// MarshalCSV writes the shortest text that reads back as the same number.
func (n Number) MarshalCSV() (string, error) {
	if x := float64(n); !math.IsNaN(x) && !math.IsInf(x, 0) {
		return strconv.FormatFloat(x, 'g', -1, 64), nil
	}
	return "", nil
}

// Count is a number of things, written as an empty field where it is negative.
type Count int

// MarshalCSV writes the number.
func (n Count) MarshalCSV() (string, error) {
	if n < 0 {
		return "", nil
	}
	return strconv.Itoa(int(n)), nil
}

type analysisRow struct {
	Attribute   string `csv:"attribute"`
	Condition   string `csv:"condition"`
	Pack        string `csv:"pack"`
	Orientation string `csv:"orientation"`
	Unit        string `csv:"unit"`
	Basis       string `csv:"basis"`
	Lower       Number `csv:"lower"`
	Upper       Number `csv:"upper"`
	Status      string `csv:"status"`
	Model       string `csv:"model"`
	Observed    Number `csv:"observed_months"`
	Samples     int    `csv:"samples"`
	SlopesP     Number `csv:"slopes_p"`
	InterceptsP Number `csv:"intercepts_p"`
	Decision    string `csv:"decision"`
	ResidualSD  Number `csv:"residual_sd"`
	DF          int    `csv:"df"`
	Batch       string `csv:"batch"`
	Intercept   Number `csv:"intercept"`
	Slope       Number `csv:"slope"`
	SlopeSE     Number `csv:"slope_se"`
	Estimate    Number `csv:"estimate_months"`
	ShelfLife   Number `csv:"shelf_life_months"`
}

// Trend writes a row for each batch of each analysis, and one row for an
// analysis without a fit.
func Trend(w io.Writer, e *analysis.Evaluation) error {
	rows := []analysisRow{}
	s := e.Dataset.Study
	for _, a := range e.Analyses {
		at := &s.Attributes[a.Attribute]
		row := analysisRow{
			Attribute: at.ID, Condition: s.Conditions[a.Condition].ID, Pack: s.Packs[a.Pack].ID, Orientation: orientation(s, a.Pack, a.Orientation),
			Unit: at.Unit, Basis: string(at.Basis), Lower: Number(a.Lower), Upper: Number(a.Upper), Status: string(a.Status), Model: a.Model,
			Observed: Number(a.ObservedMonths), Samples: len(a.Samples), SlopesP: Number(a.Pooling.SlopesP), InterceptsP: Number(a.Pooling.InterceptsP),
			Decision: a.Pooling.Decision, ResidualSD: Number(a.ResidualSD), DF: a.DF,
			Intercept: Number(math.NaN()), Slope: Number(math.NaN()), SlopeSE: Number(math.NaN()),
			Estimate: Number(a.Estimate), ShelfLife: Number(a.ShelfLife),
		}
		if len(a.Fits) == 0 {
			rows = append(rows, row)
		}
		for _, f := range a.Fits {
			row.Batch, row.Intercept, row.Slope, row.SlopeSE = s.Batches[f.Batch].ID, Number(f.Intercept), Number(f.Slope), Number(f.SlopeSE)
			row.Estimate, row.ShelfLife = Number(f.Estimate), Number(f.ShelfLife)
			rows = append(rows, row)
		}
	}
	return write(w, rows)
}

type verdictRow struct {
	Attribute   string `csv:"attribute"`
	Pack        string `csv:"pack"`
	Orientation string `csv:"orientation"`
	Months      *int   `csv:"supported_months"`
	Governs     string `csv:"governs"`
	LimitedBy   string `csv:"limited_by"`
	Rule        string `csv:"rule"`
	Regression  Number `csv:"regression_months"`
	Observed    Number `csv:"observed_months"`
	Cap         Number `csv:"cap_months"`
	Failure     string `csv:"first_failure"`
	Reason      string `csv:"not_judged_because"`
}

// ShelfLife writes a row for each attribute, pack and orientation: the months
// supported, and which one governs; those that could not be judged come last.
func ShelfLife(w io.Writer, e *analysis.Evaluation) error {
	rows := []verdictRow{}
	s := e.Dataset.Study
	if p := e.Supported; p != nil {
		for i := range p.Verdicts {
			v := &p.Verdicts[i]
			row := verdictRow{
				Attribute: s.Attributes[v.Attribute].ID, Pack: s.Packs[v.Pack].ID, Orientation: orientation(s, v.Pack, v.Orientation),
				Months: &v.Months, Governs: "no", LimitedBy: v.LimitedBy, Rule: v.Rule, Regression: Number(v.Regression), Observed: Number(v.Observed), Cap: Number(v.Cap),
			}
			if v.Attribute == p.Attribute && v.Pack == p.Pack && v.Orientation == p.Orientation {
				row.Governs = "yes"
			}
			if v.Failure != nil {
				row.Failure = s.Batches[v.Failure.Batch].ID + " at " + v.Failure.Planned.String()
			}
			rows = append(rows, row)
		}
		none := Number(math.NaN())
		for _, u := range p.Undecided {
			rows = append(rows, verdictRow{
				Attribute: s.Attributes[u.Attribute].ID, Pack: s.Packs[u.Pack].ID, Orientation: orientation(s, u.Pack, u.Orientation),
				Governs: "no", Regression: none, Observed: none, Cap: none, Reason: u.Reason,
			})
		}
	}
	return write(w, rows)
}

type predictionRow struct {
	Attribute    string `csv:"attribute"`
	Pack         string `csv:"pack"`
	Orientation  string `csv:"orientation"`
	Status       string `csv:"status"`
	Model        string `csv:"model"`
	Energy       Number `csv:"activation_energy_kj_per_mol"`
	Low          Number `csv:"activation_energy_low"`
	High         Number `csv:"activation_energy_high"`
	LinearityP   Number `csv:"linearity_p"`
	Celsius      Number `csv:"celsius"`
	Estimate     Number `csv:"estimate_months"`
	ShelfLife    Number `csv:"shelf_life_months"`
	Delta        Number `csv:"delta_months"`
	Extrapolated bool   `csv:"extrapolated"`
}

// Arrhenius writes a row for each prediction, and one row for a fit without any.
func Arrhenius(w io.Writer, e *analysis.Evaluation) error {
	rows := []predictionRow{}
	s := e.Dataset.Study
	for _, r := range e.Arrhenius {
		none := Number(math.NaN())
		row := predictionRow{
			Attribute: s.Attributes[r.Attribute].ID, Pack: s.Packs[r.Pack].ID, Orientation: orientation(s, r.Pack, r.Orientation),
			Status: string(r.Status), Model: r.Model, Energy: Number(r.EaKJ), Low: Number(r.EaLow), High: Number(r.EaHigh), LinearityP: Number(r.LinearityP),
			Celsius: none, Estimate: none, ShelfLife: none, Delta: none,
		}
		if len(r.Predictions) == 0 {
			rows = append(rows, row)
		}
		for _, p := range r.Predictions {
			row.Celsius, row.Estimate, row.ShelfLife, row.Delta, row.Extrapolated = Number(p.Celsius), Number(p.Estimate), Number(p.ShelfLife), Number(p.Delta), p.Extrapolated
			rows = append(rows, row)
		}
	}
	return write(w, rows)
}

func orientation(s *study.Study, pack, o int) string { return string(s.Packs[pack].Orientations[o]) }
