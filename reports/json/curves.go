package json

import (
	"math"

	"shelfspan/analysis"
	"shelfspan/study"
)

// Curve is what the fitted curve of a batch is made of; of an approach to a
// plateau and a power of time the other's numbers are null.
type Curve struct {
	Batch      string `json:"batch"`
	Start      Number `json:"start"`
	StartSE    Number `json:"start_se"`
	Plateau    Number `json:"plateau"`
	PlateauSE  Number `json:"plateau_se"`
	Rate       Number `json:"rate_per_month"`
	RateSE     Number `json:"rate_per_month_se"`
	Factor     Number `json:"factor"`
	FactorSE   Number `json:"factor_se"`
	Exponent   Number `json:"exponent"`
	ExponentSE Number `json:"exponent_se"`
	StraightP  Number `json:"straight_p"`
}

func newCurves(s *study.Study, a *analysis.Analysis) []Curve {
	var out []Curve
	none := Number(math.NaN())
	for _, c := range a.Curves {
		x := Curve{
			Batch: s.Batches[c.Batch].ID, Start: Number(c.Start), StartSE: Number(c.SE.Start),
			Plateau: none, PlateauSE: none, Rate: none, RateSE: none, Factor: none, FactorSE: none, Exponent: none, ExponentSE: none,
			StraightP: Number(c.StraightP),
		}
		if study.Model(a.Model) == study.PowerOfTime {
			x.Factor, x.FactorSE, x.Exponent, x.ExponentSE = Number(c.Factor), Number(c.SE.Factor), Number(c.Exponent), Number(c.SE.Exponent)
		} else {
			x.Plateau, x.PlateauSE, x.Rate, x.RateSE = Number(c.Plateau), Number(c.SE.Plateau), Number(c.Rate), Number(c.SE.Rate)
		}
		out = append(out, x)
	}
	return out
}
