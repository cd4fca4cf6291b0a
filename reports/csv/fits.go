package csv

import (
	"io"
	"math"

	"shelfspan/analysis"
	"shelfspan/study"
)

type fitRow struct {
	Study          string `csv:"study"`
	Attribute      string `csv:"attribute"`
	Condition      string `csv:"condition"`
	Celsius        Number `csv:"celsius"`
	Humidity       Number `csv:"humidity"`
	Pack           string `csv:"pack"`
	Orientation    string `csv:"orientation"`
	Unit           string `csv:"unit"`
	Basis          string `csv:"basis"`
	Lower          Number `csv:"lower"`
	Upper          Number `csv:"upper"`
	Status         string `csv:"status"`
	Model          string `csv:"model"`
	ZeroOrder      Number `csv:"aicc_zero_order"`
	FirstOrder     Number `csv:"aicc_first_order"`
	SecondOrder    Number `csv:"aicc_second_order"`
	SquareRootTime Number `csv:"aicc_square_root_time"`
	Plateau        Number `csv:"aicc_approach_to_plateau"`
	Power          Number `csv:"aicc_power_of_time"`
	Confidence     Number `csv:"confidence"`
	OneSided       string `csv:"one_sided"`
	Observed       Number `csv:"observed_months"`
	Samples        int    `csv:"samples"`
	Censored       int    `csv:"censored"`
	Alpha          Number `csv:"pool_alpha"`
	SlopesF        Number `csv:"slopes_f"`
	SlopesP        Number `csv:"slopes_p"`
	InterceptsF    Number `csv:"intercepts_f"`
	InterceptsP    Number `csv:"intercepts_p"`
	DF1            int    `csv:"tests_df1"`
	ChangesDF      int    `csv:"changes_df1"`
	DF2            int    `csv:"tests_df2"`
	Decision       string `csv:"decision"`
	ResidualSD     Number `csv:"residual_sd"`
	DF             int    `csv:"df"`
	AllEstimate    Number `csv:"analysis_estimate_months"`
	AllShelfLife   Number `csv:"analysis_shelf_life_months"`
	Failure        string `csv:"first_failure"`
	Batch          string `csv:"batch"`
	N              Count  `csv:"n"`
	Intercept      Number `csv:"intercept"`
	Slope          Number `csv:"slope"`
	SlopeSE        Number `csv:"slope_se"`
	Estimate       Number `csv:"estimate_months"`
	ShelfLife      Number `csv:"shelf_life_months"`
	LimitedBy      string `csv:"limited_by"`
	Limiting       string `csv:"limiting"`
	CurveColumns
}

// CurveColumns are what a curve is made of, as columns.
type CurveColumns struct {
	Start       Number `csv:"curve_start"`
	StartSE     Number `csv:"curve_start_se"`
	PlateauAt   Number `csv:"curve_plateau"`
	PlateauAtSE Number `csv:"curve_plateau_se"`
	Rate        Number `csv:"curve_rate_per_month"`
	RateSE      Number `csv:"curve_rate_per_month_se"`
	Factor      Number `csv:"curve_factor"`
	FactorSE    Number `csv:"curve_factor_se"`
	Exponent    Number `csv:"curve_exponent"`
	ExponentSE  Number `csv:"curve_exponent_se"`
	StraightP   Number `csv:"curve_straight_p"`
}

// FitsHead is what the first line of a table of Fits begins with.
const FitsHead = "study,attribute,condition,celsius,humidity,pack,"

// Fits writes every number of the fits over time: a row for each batch of each
// analysis, which repeats what the batches share, and one row without a batch for
// an analysis without a fit.
func Fits(w io.Writer, e *analysis.Evaluation) error {
	rows := []fitRow{}
	s := e.Dataset.Study
	for _, a := range e.Analyses {
		row := newFitRow(e, a)
		if len(a.Fits) == 0 {
			rows = append(rows, row)
		}
		for i := range a.Fits {
			f := &a.Fits[i]
			row.Batch, row.N, row.Intercept, row.Slope, row.SlopeSE = s.Batches[f.Batch].ID, Count(f.N), Number(f.Intercept), Number(f.Slope), Number(f.SlopeSE)
			row.Estimate, row.ShelfLife, row.LimitedBy = Number(f.Estimate), Number(f.ShelfLife), f.LimitedBy
			row.Limiting = yes(f.Batch == a.LimitingBatch)
			if i < len(a.Curves) {
				row.CurveColumns = newCurveColumns(a, &a.Curves[i])
			}
			rows = append(rows, row)
		}
	}
	return write(w, rows)
}

// newFitRow fills what all batches of an analysis share.
func newFitRow(e *analysis.Evaluation, a *analysis.Analysis) fitRow {
	s := e.Dataset.Study
	at, c, none := &s.Attributes[a.Attribute], &s.Conditions[a.Condition], Number(math.NaN())
	row := fitRow{
		Study: s.ID, Attribute: at.ID, Condition: c.ID, Celsius: Number(c.Temperature), Humidity: Number(c.Humidity),
		Pack: s.Packs[a.Pack].ID, Orientation: orientation(s, a.Pack, a.Orientation), Unit: at.Unit, Basis: string(at.Basis),
		Lower: Number(a.Lower), Upper: Number(a.Upper), Status: string(a.Status), Model: a.Model,
		ZeroOrder: none, FirstOrder: none, SecondOrder: none, SquareRootTime: none, Plateau: none, Power: none,
		Confidence: Number(a.Confidence), OneSided: yes(a.OneSided), Observed: Number(a.ObservedMonths), Samples: len(a.Samples), Censored: a.Censored,
		Alpha: Number(a.Pooling.Alpha), SlopesF: Number(a.Pooling.SlopesF), SlopesP: Number(a.Pooling.SlopesP),
		InterceptsF: Number(a.Pooling.InterceptsF), InterceptsP: Number(a.Pooling.InterceptsP),
		DF1: a.Pooling.DF1, ChangesDF: a.Pooling.ChangesDF, DF2: a.Pooling.DF2, Decision: a.Pooling.Decision,
		ResidualSD: Number(a.ResidualSD), DF: a.DF, AllEstimate: Number(a.Estimate), AllShelfLife: Number(a.ShelfLife),
		Intercept: none, Slope: none, SlopeSE: none, Estimate: none, ShelfLife: none, N: -1,
		CurveColumns: CurveColumns{none, none, none, none, none, none, none, none, none, none, none},
	}
	if f := a.FirstFailure; f != nil {
		row.Failure = s.Batches[f.Batch].ID + " at " + f.Planned.String()
	}
	for _, x := range a.Candidates {
		switch v := Number(x.AICc); x.Model {
		case study.ZeroOrder:
			row.ZeroOrder = v
		case study.FirstOrder:
			row.FirstOrder = v
		case study.SecondOrder:
			row.SecondOrder = v
		case study.SquareRootTime:
			row.SquareRootTime = v
		case study.ApproachToPlateau:
			row.Plateau = v
		case study.PowerOfTime:
			row.Power = v
		}
	}
	return row
}

// newCurveColumns fills what a curve is made of; of an approach to a plateau and a
// power of time the other's numbers stay empty.
func newCurveColumns(a *analysis.Analysis, c *analysis.Curve) CurveColumns {
	none := Number(math.NaN())
	x := CurveColumns{Number(c.Start), Number(c.SE.Start), none, none, none, none, none, none, none, none, Number(c.StraightP)}
	if study.Model(a.Model) == study.PowerOfTime {
		x.Factor, x.FactorSE, x.Exponent, x.ExponentSE = Number(c.Factor), Number(c.SE.Factor), Number(c.Exponent), Number(c.SE.Exponent)
	} else {
		x.PlateauAt, x.PlateauAtSE, x.Rate, x.RateSE = Number(c.Plateau), Number(c.SE.Plateau), Number(c.Rate), Number(c.SE.Rate)
	}
	return x
}
