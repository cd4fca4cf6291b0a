package json

import (
	"shelfspan/analysis"
	"shelfspan/analysis/weightloss"
	"shelfspan/study"
)

// Losses is what the units of a weighing lose; a year has 12 months.
type Losses struct {
	RefersTo   string  `json:"refers_to"`
	Coverage   Number  `json:"coverage"`
	Confidence Number  `json:"confidence"`
	Units      []Unit  `json:"units"`
	Leakers    Leakers `json:"leakers"`
	All        *Lost   `json:"all_units"`
	Without    *Lost   `json:"without_leakers"`
	Linear     Linear  `json:"linear"`
	Humidity   *Dry    `json:"low_humidity"`
	Water      []Water `json:"water_loss"`
}

// Unit is what one unit loses.
type Unit struct {
	Unit         string `json:"unit"`
	Batch        string `json:"batch"`
	N            int    `json:"n"`
	Start        Number `json:"start_grams"`
	RefersTo     Number `json:"refers_to_grams"`
	PerMonth     Number `json:"percent_per_month"`
	PerYear      Number `json:"percent_per_year"`
	GramsPerYear Number `json:"grams_per_year"`
	Leaker       bool   `json:"leaker"`
}

// Leakers is the outcome of the search for leakers.
type Leakers struct {
	Tested   bool     `json:"tested"`
	OwnMeans bool     `json:"batch_means"`
	Most     int      `json:"up_to"`
	Alpha    Number   `json:"alpha"`
	Leakers  []string `json:"leakers"`
	Strange  []string `json:"strange"`
	Suspects []string `json:"suspects"`
	Alone    []string `json:"not_tested"`
}

// Lost is what the units of all batches lose; the numbers beside batches are those
// of the one that limits.
type Lost struct {
	Units    int         `json:"units"`
	Decision string      `json:"decision"`
	Batch    *string     `json:"limiting_batch"`
	SD       Number      `json:"sd_percent_per_month"`
	DF       int         `json:"df"`
	Bound    Number      `json:"bound_of_mean_months"`
	Within   Number      `json:"units_within_months"`
	Batches  []BatchLost `json:"batches"`
}

// BatchLost is what the units of one batch lose.
type BatchLost struct {
	Batch        string `json:"batch"`
	Units        int    `json:"units"`
	Mean         Number `json:"mean_percent_per_month"`
	PerYear      Number `json:"mean_percent_per_year"`
	GramsPerYear Number `json:"mean_grams_per_year"`
	Factor       Number `json:"factor"`
	Lower        Number `json:"lower_limit_percent_per_month"`
	Upper        Number `json:"upper_limit_percent_per_month"`
	Within       Number `json:"units_within_months"`
	LimitedBy    string `json:"limited_by,omitempty"`
}

// Linear is the outcome of the test whether loss bends.
type Linear struct {
	Units     int    `json:"units"`
	Curvature Number `json:"bend_percent_per_month2"`
	F         Number `json:"f"`
	DF        int    `json:"df"`
	P         Number `json:"p"`
	Alpha     Number `json:"alpha"`
	Departure Number `json:"departure_percent"`
	Months    Number `json:"departure_until_months"`
}

// Dry is the loss of a semi-permeable pack at low humidity.
type Dry struct {
	Refused string `json:"refused,omitempty"`
	From    Number `json:"from_percent_rh"`
	To      Number `json:"to_percent_rh"`
	Ratio   Number `json:"ratio"`
	Mean    Number `json:"mean_percent_per_month"`
	Upper   Number `json:"upper_limit_percent_per_month"`
	Within  Number `json:"units_within_months"`
	Tested  bool   `json:"linearity_tested"`
}

// Water is a batch's loss of water at 40 °C and 25 % RH in 3 months.
type Water struct {
	Batch       string `json:"batch"`
	Months      Number `json:"months"`
	Measured    Number `json:"measured_percent"`
	Percent     Number `json:"percent_in_3_months"`
	OfWater     bool   `json:"of_water"`
	Ratio       Number `json:"ratio"`
	Early       bool   `json:"before_3_months"`
	Significant bool   `json:"significant"`
}

func newLosses(s *study.Study, l *analysis.Losses) *Losses {
	if l == nil {
		return nil
	}
	f := &l.Found
	out := &Losses{
		RefersTo: string(l.Base), Coverage: Number(l.Coverage), Confidence: Number(l.Confidence),
		Leakers: Leakers{Tested: f.Tested, OwnMeans: f.OwnMeans, Most: f.Most, Alpha: weightloss.Level,
			Leakers: labels(l, f.Leakers), Strange: labels(l, f.Strange), Suspects: labels(l, f.Suspects), Alone: labels(l, f.Alone)},
		All: newLost(s, l.With, l.Bound), Without: newLost(s, l.Without, l.BoundWithout),
		Linear: Linear{Units: l.Course.Units, Curvature: Number(l.Course.Curvature), F: Number(l.Course.F), DF: l.Course.DF, P: Number(l.Course.P),
			Alpha: weightloss.Level, Departure: Number(l.Course.Departure), Months: Number(l.Course.Months)},
		Water: []Water{},
	}
	for i := range l.Units {
		u := &l.Units[i]
		out.Units = append(out.Units, Unit{
			Unit: u.Label, Batch: s.Batches[u.Batch].ID, N: u.N, Start: Number(u.Start), RefersTo: Number(u.Whole),
			PerMonth: Number(u.Rate), PerYear: Number(12 * u.Rate), GramsPerYear: Number(12 * u.Grams()),
		})
	}
	for _, i := range f.Leakers {
		out.Units[i].Leaker = true
	}
	if h := l.Humidity; h != nil {
		out.Humidity = &Dry{h.Refused, Number(h.From), Number(h.To), Number(h.Ratio), Number(h.Mean), Number(h.Upper), Number(h.Within), h.Tested}
	}
	for i := range l.Water {
		w := &l.Water[i]
		out.Water = append(out.Water, Water{s.Batches[w.Batch].ID, Number(w.Months), Number(w.Lost), Number(w.Percent), w.OfWater, Number(w.Ratio), w.Early, w.Significant})
	}
	return out
}

func labels(l *analysis.Losses, units []int) []string {
	out := []string{}
	for _, i := range units {
		out = append(out, l.Units[i].Label)
	}
	return out
}

func newLost(s *study.Study, p *weightloss.Population, bound float64) *Lost {
	if p == nil {
		return nil
	}
	limit := p.Limit()
	out := &Lost{Units: p.Units, Decision: string(p.Decision), SD: Number(p.SD), DF: p.DF, Bound: Number(bound), Within: Number(limit.Within)}
	if p.Decision != "pooled" {
		out.Batch = &s.Batches[limit.Batch].ID
	}
	for i := range p.Batches {
		b := &p.Batches[i]
		out.Batches = append(out.Batches, BatchLost{
			Batch: s.Batches[b.Batch].ID, Units: b.N, Mean: Number(b.Mean), PerYear: Number(12 * b.Mean), GramsPerYear: Number(12 * b.Grams),
			Factor: Number(b.Factor), Lower: Number(b.Lower), Upper: Number(b.Upper), Within: Number(b.Within), LimitedBy: b.LimitedBy,
		})
	}
	return out
}
