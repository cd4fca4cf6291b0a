package json

import (
	"math"

	"shelfspan/analysis"
	"shelfspan/analysis/lifetime"
)

// Lifetime is what the looks at the units of a grade or pass/fail attribute in
// one pack and orientation say of the time at which one misses its criterion.
type Lifetime struct {
	Attribute   string       `json:"attribute"`
	Pack        string       `json:"pack"`
	Orientation string       `json:"orientation"`
	Share       Number       `json:"share"`
	Confidence  Number       `json:"confidence"`
	Conditions  []UnitsAt    `json:"conditions"`
	Joint       *LifetimeFit `json:"over_temperatures"`
	LeftOut     []string     `json:"left_out"`
}

// UnitsAt is the units at one condition.
type UnitsAt struct {
	Condition string         `json:"condition"`
	Celsius   Number         `json:"celsius"`
	Units     int            `json:"units"`
	Failed    int            `json:"failed"`
	AtStart   int            `json:"failed_at_start"`
	Recovered int            `json:"recovered"`
	Pulls     []PullSeen     `json:"pulls"`
	Steps     []LifetimeStep `json:"nonparametric"`
	After     Number         `json:"share_failed_after_months"`
	By        Number         `json:"share_failed_by_months"`
	Fit       *LifetimeFit   `json:"fit"`
}

// PullSeen is what was seen at one pull.
type PullSeen struct {
	Time   string `json:"time"`
	Months Number `json:"months"`
	Units  int    `json:"units"`
	Failed int    `json:"failed"`
	AtMost Number `json:"at_most"`
}

// LifetimeStep is a share of the lifetimes that ended between two looks; by is
// null where it ends after the last.
type LifetimeStep struct {
	After Number `json:"after_months"`
	By    Number `json:"by_months"`
	Share Number `json:"share"`
}

// LifetimeFit is both distributions fitted to the same units, the governing one first.
type LifetimeFit struct {
	Governing     *string        `json:"distribution"`
	Units         int            `json:"units"`
	Failed        int            `json:"failed"`
	Temperatures  int            `json:"temperatures"`
	CommonP       Number         `json:"common_p"`
	Distributions []Distribution `json:"distributions"`
}

// Distribution is one of them; its numbers are null where it was not fitted.
type Distribution struct {
	Distribution string      `json:"distribution"`
	Status       string      `json:"status"`
	Reason       string      `json:"reason,omitempty"`
	AICc         Number      `json:"aicc"`
	Likelihood   Number      `json:"log_likelihood"`
	Location     Number      `json:"location"`
	LocationSE   Number      `json:"location_se"`
	Reference    Number      `json:"reference_celsius"`
	Scale        Number      `json:"scale"`
	LogScaleSE   Number      `json:"log_scale_se"`
	Energy       *Energy     `json:"activation_energy"`
	Bounds       []UnitBound `json:"share_failed"`
}

// UnitBound is the time by which the share of units has failed at a temperature.
type UnitBound struct {
	Celsius      Number `json:"celsius"`
	Storage      bool   `json:"storage"`
	Estimate     Number `json:"estimate_months"`
	Profile      Number `json:"profile_months"`
	Calibrated   Number `json:"calibrated_months"` // the one that governs
	Wald         Number `json:"wald_months"`
	Extrapolated bool   `json:"extrapolated"`
}

// Agreement is how far two assessors agree.
type Agreement struct {
	Attribute string    `json:"attribute"`
	Assessors [2]string `json:"assessors"`
	Samples   int       `json:"samples"`
	Same      int       `json:"same_grade"`
	Status    string    `json:"status"`
	Weights   string    `json:"weights"`
	Kappa     Number    `json:"kappa"`
	SE        Number    `json:"se"`
	Low       Number    `json:"low"`
	High      Number    `json:"high"`
	Observed  Number    `json:"observed_agreement"`
	Expected  Number    `json:"expected_agreement"`
	Repeated  bool      `json:"units_repeated"`
	Table     [][]int   `json:"table"`
}

// Units is the part of an answer that is about single units.
type Units struct {
	Lifetimes  []Lifetime  `json:"lifetimes"`
	Agreements []Agreement `json:"agreements"`
}

func newUnits(e *analysis.Evaluation) Units {
	s := e.Dataset.Study
	out := Units{Lifetimes: []Lifetime{}, Agreements: []Agreement{}}
	for _, l := range e.Lifetimes {
		x := Lifetime{
			Attribute: s.Attributes[l.Attribute].ID, Pack: s.Packs[l.Pack].ID, Orientation: orientation(s, l.Pack, l.Orientation),
			Share: Number(l.Share), Confidence: Number(l.Confidence), Conditions: []UnitsAt{}, Joint: newLifetimeFit(l.Joint), LeftOut: []string{},
		}
		for _, c := range l.LeftOut {
			x.LeftOut = append(x.LeftOut, s.Conditions[c].ID)
		}
		for i := range l.Conditions {
			x.Conditions = append(x.Conditions, newUnitsAt(e, &l.Conditions[i]))
		}
		out.Lifetimes = append(out.Lifetimes, x)
	}
	for _, g := range e.Agreements {
		r := &g.Result
		out.Agreements = append(out.Agreements, Agreement{
			Attribute: s.Attributes[g.Attribute].ID, Assessors: g.Assessors, Samples: r.Units, Same: g.Same(), Status: string(r.Status), Weights: "linear",
			Kappa: Number(r.Kappa), SE: Number(r.SE), Low: Number(r.Low), High: Number(r.High), Observed: Number(r.Observed), Expected: Number(r.Expected),
			Repeated: g.Repeated, Table: g.Table,
		})
	}
	return out
}

func newUnitsAt(e *analysis.Evaluation, u *analysis.UnitsAt) UnitsAt {
	c := &e.Dataset.Study.Conditions[u.Condition]
	out := UnitsAt{
		Condition: c.ID, Celsius: Number(c.Temperature), Units: u.Units, Failed: u.Failed, AtStart: u.AtStart, Recovered: u.Recovered,
		Pulls: []PullSeen{}, Steps: []LifetimeStep{}, After: Number(u.After), By: Number(u.By), Fit: newLifetimeFit(u.Own),
	}
	for _, p := range u.Pulls {
		out.Pulls = append(out.Pulls, PullSeen{p.Planned.String(), Number(p.Months), p.Units, p.Failed, Number(p.AtMost)})
	}
	if u.Steps != nil {
		for _, j := range u.Steps.Jumps {
			out.Steps = append(out.Steps, LifetimeStep{Number(j.After), Number(j.By), Number(j.Share)})
		}
	}
	return out
}

func newLifetimeFit(f *analysis.LifetimeFit) *LifetimeFit {
	if f == nil {
		return nil
	}
	out := &LifetimeFit{Units: f.Units, Failed: f.Failed, Temperatures: f.Temperatures, CommonP: Number(f.CommonP), Distributions: []Distribution{}}
	none := Number(math.NaN())
	for i := range f.Candidates {
		c := &f.Candidates[i]
		d := Distribution{Distribution: string(c.Distribution), Status: string(c.Status), Reason: c.Reason, AICc: none, Likelihood: none,
			Location: none, LocationSE: none, Reference: none, Scale: none, LogScaleSE: none, Bounds: []UnitBound{}}
		if c.Status == lifetime.Fitted {
			if i == 0 {
				out.Governing = &d.Distribution
			}
			d.AICc, d.Likelihood = Number(c.AICc), Number(c.LogLikelihood)
			d.Location, d.LocationSE, d.Scale, d.LogScaleSE = Number(c.Location), Number(c.LocationSE), Number(c.Scale), Number(c.LogScaleSE)
			if c.Parameters == 3 { // with an Arrhenius term
				d.Reference = Number(c.Reference)
				d.Energy = &Energy{Number(c.EaKJ), Number(c.EaLow), Number(c.EaHigh)}
			}
		}
		for _, b := range c.Bounds {
			profile, calibrated := Number(b.Profile), Number(b.Calibrated)
			if b.Profile == 0 {
				profile = none
			}
			if b.Open {
				calibrated = none
			}
			d.Bounds = append(d.Bounds, UnitBound{Number(b.Celsius), b.Storage, Number(b.Estimate), profile, calibrated, Number(b.Wald), b.Extrapolated})
		}
		out.Distributions = append(out.Distributions, d)
	}
	return out
}
