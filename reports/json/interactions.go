package json

import (
	"math"

	"shelfspan/analysis"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// Interactions is the answer of interactions.
type Interactions struct {
	Answer
	Study      string  `json:"study"`
	Confidence float64 `json:"confidence"`
	Compared
}

// Compared is what packs, orientations, ingredients and scales do: the part of the
// answer that a report has too.
type Compared struct {
	Horizon      Number       `json:"horizon_months"`
	MarginMonths Number       `json:"margin_months"`
	Adjust       string       `json:"adjust"`
	Comparisons  []Comparison `json:"comparisons"`
	Ranking      []int        `json:"ranking"` // places in comparisons, worst first
	Parallel     []Parallel   `json:"activation_energies"`
	Scale        []ScaleUp    `json:"scale"`
	Pairs        []Pair       `json:"pairs"`
}

// Comparison is one level against another.
type Comparison struct {
	Attribute        string  `json:"attribute"`
	Condition        string  `json:"condition"`
	Factor           string  `json:"factor"`
	Level            string  `json:"level"`
	Against          string  `json:"against"`
	Difference       Number  `json:"difference_per_month"`
	SE               Number  `json:"se"`
	DF               int     `json:"df"`
	Low              Number  `json:"low"`
	High             Number  `json:"high"`
	P                Number  `json:"p"`
	PAdjusted        Number  `json:"p_adjusted"`
	Lost             Number  `json:"months_lost"`
	LostLow          Number  `json:"months_lost_low"`
	Hidden           Number  `json:"months_lost_high"`
	Verdict          string  `json:"verdict"`
	Text             string  `json:"text"`
	Model            string  `json:"model"`
	Rate             Number  `json:"rate_per_month"`
	AgainstRate      Number  `json:"against_rate_per_month"`
	Life             Number  `json:"life_months"`
	AgainstLife      Number  `json:"against_life_months"`
	LastMonths       Number  `json:"last_common_months"`
	Shift            Number  `json:"shift_at_last_common"`
	ThroughArrhenius bool    `json:"through_arrhenius"`
	Error            string  `json:"error"`
	MorePulls        int     `json:"more_pulls"`
	Failed           *[2]int `json:"failed,omitempty"`
	AgainstFailed    *[2]int `json:"against_failed,omitempty"`
	// Of grades and pass/fail: how the lifetimes of the units differ, or why Fisher's
	// exact test stands instead.
	Lifetimes     *UnitsDiffer `json:"lifetimes,omitempty"`
	FisherBecause string       `json:"fisher_because,omitempty"`
	Batches       *Batches     `json:"batches,omitempty"`
}

// Batches is the batches of two groups of units. They are strata, within which the
// groups are compared, where two or more have units of both.
type Batches struct {
	Total   int  `json:"total"`
	Both    int  `json:"of_both"`
	Telling int  `json:"telling"` // of those, in which some failed and some passed
	Strata  bool `json:"strata"`
}

// UnitsDiffer is how the lifetimes of the units of two packs, orientations or levels
// differ.
type UnitsDiffer struct {
	Distribution string `json:"distribution"`
	Factor       Number `json:"time_factor"` // of the time to a failure
	Low          Number `json:"low"`
	High         Number `json:"high"`
	LnFactor     Number `json:"ln_time_factor"`
	SE           Number `json:"se"` // of ln_time_factor
	Scale        Number `json:"scale"`
	ChiSquare    Number `json:"chi_square"` // of the likelihood ratio, on one degree of freedom
	Test         string `json:"test"`
}

// Parallel is the test of activation energies in common.
type Parallel struct {
	Attribute string  `json:"attribute"`
	Common    Number  `json:"common_kj_per_mol"`
	Own       []Own   `json:"own"`
	F         Number  `json:"f"`
	P         Number  `json:"p"`
	PAdjusted Number  `json:"p_adjusted"`
	DF1       int     `json:"df1"`
	DF2       int     `json:"df2"`
	Reason    *string `json:"not_tested_because"`
}

// Own is the energy of one pack.
type Own struct {
	Pack   string `json:"pack"`
	Energy Energy `json:"activation_energy"`
}

// ScaleUp is one scale against another.
type ScaleUp struct {
	Attribute     string  `json:"attribute"`
	Condition     string  `json:"condition"`
	Of            string  `json:"of"`
	Level         string  `json:"level"`
	Against       string  `json:"against"`
	Batches       int     `json:"batches"`
	Others        int     `json:"against_batches"`
	Value         Number  `json:"value"`
	AgainstValue  Number  `json:"against_value"`
	Difference    Number  `json:"difference"`
	Low           Number  `json:"low"`
	High          Number  `json:"high"`
	Margin        Number  `json:"margin"`
	MarginPercent Number  `json:"margin_percent"`
	P             Number  `json:"p"`
	Verdict       string  `json:"verdict"`
	PoolabilityP  Number  `json:"poolability_p"`
	Error         string  `json:"error"`
	Reason        *string `json:"not_compared_because"`
}

// Pair is a pair of ingredients against what they do alone.
type Pair struct {
	Attribute string  `json:"attribute"`
	Condition string  `json:"condition"`
	One       string  `json:"one"`
	Other     string  `json:"other"`
	LnPair    Number  `json:"ln_rate_pair"`
	LnOne     Number  `json:"ln_rate_one"`
	LnOther   Number  `json:"ln_rate_other"`
	LnNeither Number  `json:"ln_rate_neither"`
	Additive  bool    `json:"additive"`
	Excess    Number  `json:"excess"`
	SE        Number  `json:"se"`
	Low       Number  `json:"low"`
	High      Number  `json:"high"`
	Reason    *string `json:"not_judged_because"`
}

// NewInteractions builds the answer of interactions from an evaluation.
func NewInteractions(head Answer, e *analysis.Evaluation) Interactions {
	return Interactions{head, e.Dataset.Study.ID, e.Confidence, newCompared(e)}
}

func newCompared(e *analysis.Evaluation) Compared {
	s, x := e.Dataset.Study, e.Interactions
	out := Compared{
		Horizon: Number(x.Horizon), MarginMonths: Number(x.MarginMonths), Adjust: string(x.Adjust),
		Comparisons: []Comparison{}, Ranking: append([]int{}, x.Ranking...), Parallel: []Parallel{}, Scale: []ScaleUp{}, Pairs: []Pair{},
	}
	for _, c := range x.Comparisons {
		out.Comparisons = append(out.Comparisons, newComparison(s, x, c))
	}
	for _, p := range x.Parallel {
		q := Parallel{Attribute: s.Attributes[p.Attribute].ID, F: Number(p.F), P: Number(p.P), PAdjusted: Number(p.PAdjusted), DF1: p.DF1, DF2: p.DF2, Reason: reason(p.Reason), Own: []Own{}}
		if p.Reason == "" {
			q.Common = Number(p.Common.EaKJ)
			for _, o := range p.Own {
				q.Own = append(q.Own, Own{s.Packs[o.Group].ID, Energy{Number(o.EaKJ), Number(o.EaLow), Number(o.EaHigh)}})
			}
		}
		out.Parallel = append(out.Parallel, q)
	}
	for _, u := range x.Scale {
		out.Scale = append(out.Scale, ScaleUp{
			Attribute: s.Attributes[u.Attribute].ID, Condition: s.Conditions[u.Condition].ID, Of: u.Of, Level: u.Level, Against: u.Against,
			Batches: u.Batches[0], Others: u.Batches[1], Value: Number(u.Value), AgainstValue: Number(u.AgainstValue), Difference: Number(u.Value - u.AgainstValue),
			Low: Number(u.Low), High: Number(u.High), Margin: Number(u.Margin), MarginPercent: Number(u.MarginPercent), P: Number(u.P), Verdict: string(u.Verdict),
			PoolabilityP: Number(u.PoolabilityP), Error: string(u.Error), Reason: reason(u.Reason),
		})
	}
	for _, p := range x.Pairs {
		out.Pairs = append(out.Pairs, Pair{
			Attribute: s.Attributes[p.Attribute].ID, Condition: s.Conditions[p.Condition].ID, One: p.One, Other: p.Other,
			LnPair: Number(p.LnPair), LnOne: Number(p.LnOne), LnOther: Number(p.LnOther), LnNeither: Number(p.LnNeither), Additive: p.Additive,
			Excess: Number(p.Excess), SE: Number(p.SE), Low: Number(p.Low), High: Number(p.High), Reason: reason(p.Reason),
		})
	}
	return out
}

func newComparison(s *study.Study, x *analysis.Interactions, c *analysis.Comparison) Comparison {
	y := Comparison{
		Attribute: s.Attributes[c.Attribute].ID, Condition: s.Conditions[c.Condition].ID, Factor: c.Factor, Level: c.Level, Against: c.Against,
		Difference: Number(c.Difference), SE: Number(c.SE), DF: c.DF, Low: Number(c.Low), High: Number(c.High), P: Number(c.P), PAdjusted: Number(c.PAdjusted),
		Lost: Number(c.Lost), LostLow: Number(c.LostLow), Hidden: Number(c.Hidden), Verdict: string(c.Outcome), Text: words.Verdict(x, s, c), Model: c.Model,
		Rate: Number(c.Rate), AgainstRate: Number(c.AgainstRate), Life: Number(c.Life), AgainstLife: Number(c.AgainstLife),
		LastMonths: Number(c.LastMonths), Shift: Number(c.Shift), ThroughArrhenius: c.ThroughArrhenius, Error: string(c.Error), MorePulls: c.MorePulls,
	}
	if c.Failed[1] > 0 {
		y.Failed, y.AgainstFailed, y.FisherBecause = &c.Failed, &c.AgainstFailed, c.Thin
	}
	if s := c.Strata; s != nil {
		y.Batches = &Batches{Total: s.Batches, Both: s.Both, Telling: s.Telling, Strata: s.Within()}
	}
	if d := c.Lifetimes; d != nil {
		y.Lifetimes = &UnitsDiffer{Distribution: string(d.Distribution), Factor: Number(math.Exp(d.LnRatio)), Low: Number(math.Exp(d.Low)), High: Number(math.Exp(d.High)),
			LnFactor: Number(d.LnRatio), SE: Number(d.SE), Scale: Number(d.Scale), ChiSquare: Number(d.ChiSquare), Test: "likelihood-ratio"}
	}
	return y
}

func reason(t string) *string {
	if t == "" {
		return nil
	}
	return &t
}
