package json

import (
	"math"

	"shelfspan/analysis"
	"shelfspan/study"
)

// Trend is the answer of trend, and the part of shelf-life's that it shares.
type Trend struct {
	Answer
	Study      string     `json:"study"`
	Confidence float64    `json:"confidence"`
	Analyses   []Analysis `json:"analyses"`
	Units
}

// ShelfLife is the answer of shelf-life.
type ShelfLife struct {
	Trend
	Supported *Supported `json:"supported"`
}

// Analysis is one attribute at one condition in one pack and orientation.
type Analysis struct {
	Attribute      string       `json:"attribute"`
	Condition      string       `json:"condition"`
	Pack           string       `json:"pack"`
	Orientation    string       `json:"orientation"`
	Model          string       `json:"model"`
	ModelChoice    []Candidate  `json:"model_choice,omitempty"`
	Basis          string       `json:"basis"`
	Unit           string       `json:"unit"`
	Lower          Number       `json:"lower"`
	Upper          Number       `json:"upper"`
	ObservedMonths Number       `json:"observed_months"`
	Status         string       `json:"status"`
	Pooling        Pooling      `json:"pooling"`
	ResidualSD     Number       `json:"residual_sd"`
	DF             int          `json:"df"`
	OneSided       bool         `json:"one_sided"`
	Samples        int          `json:"samples"`
	Fits           []Fit        `json:"fits"`
	Curves         []Curve      `json:"curves,omitempty"`
	Censored       int          `json:"censored"`
	Estimate       Number       `json:"estimate_months"`
	ShelfLife      Number       `json:"shelf_life_months"`
	LimitingBatch  *string      `json:"limiting_batch"`
	FirstFailure   *Failure     `json:"first_failure"`
	Losses         *Losses      `json:"losses,omitempty"`
	Diagnostics    *Diagnostics `json:"diagnostics"`
	Bounds         []Bound      `json:"bounds"`
}

// Candidate is one model in the comparison of auto.
type Candidate struct {
	Model string `json:"model"`
	AICc  Number `json:"aicc"`
	Note  string `json:"note,omitempty"`
}

// Pooling is the outcome of the poolability tests.
type Pooling struct {
	Alpha       Number  `json:"alpha"`
	SlopesP     Number  `json:"slopes_p"`
	InterceptsP Number  `json:"intercepts_p"`
	Decision    *string `json:"decision"`
}

// Fit is the line of one batch.
type Fit struct {
	Batch     string `json:"batch"`
	N         int    `json:"n"`
	Intercept Number `json:"intercept"`
	Slope     Number `json:"slope"`
	SlopeSE   Number `json:"slope_se"`
	Estimate  Number `json:"estimate_months"`
	ShelfLife Number `json:"shelf_life_months"`
	LimitedBy string `json:"limited_by,omitempty"`
}

// Failure is a result outside its criterion.
type Failure struct {
	Batch       string `json:"batch"`
	Unit        string `json:"unit,omitempty"`
	Time        string `json:"time"`
	Months      Number `json:"months"`
	Value       Number `json:"value"`
	LastPassing Number `json:"last_passing_months"`
}

// Supported is the shelf life the study supports; months, attribute, pack and
// orientation are null where nothing could be judged.
type Supported struct {
	Months      *int        `json:"months"`
	Attribute   *string     `json:"attribute"`
	Pack        *string     `json:"pack"`
	Orientation *string     `json:"orientation"`
	Regression  Number      `json:"regression_months"`
	Observed    Number      `json:"observed_months"`
	Cap         Number      `json:"cap_months"`
	Rule        string      `json:"rule"`
	MeetsClaim  bool        `json:"meets_claim"`
	Claim       Number      `json:"claim_months"`
	LimitedBy   string      `json:"limited_by"`
	Failure     *Failure    `json:"first_failure"`
	Verdicts    []Verdict   `json:"verdicts"`
	Packs       []Verdict   `json:"packs"`
	Undecided   []Undecided `json:"undecided"`
}

// Verdict is the shelf life of one attribute in one pack and orientation.
type Verdict struct {
	Months      int      `json:"months"`
	Attribute   string   `json:"attribute"`
	Pack        string   `json:"pack"`
	Orientation string   `json:"orientation"`
	Regression  Number   `json:"regression_months"`
	Observed    Number   `json:"observed_months"`
	Cap         Number   `json:"cap_months"`
	Rule        string   `json:"rule"`
	RuleText    string   `json:"rule_text"`
	LimitedBy   string   `json:"limited_by"`
	Failure     *Failure `json:"first_failure"`
}

// Undecided is what no shelf life can be stated for.
type Undecided struct {
	Attribute   string `json:"attribute"`
	Pack        string `json:"pack"`
	Orientation string `json:"orientation"`
	Reason      string `json:"reason"`
}

// NewTrend builds the answer of trend from an evaluation.
func NewTrend(head Answer, e *analysis.Evaluation) Trend {
	t := Trend{Answer: head, Study: e.Dataset.Study.ID, Confidence: e.Confidence, Analyses: []Analysis{}, Units: newUnits(e)}
	for _, a := range e.Analyses {
		t.Analyses = append(t.Analyses, newAnalysis(e.Dataset.Study, a))
	}
	return t
}

// NewShelfLife builds the answer of shelf-life from an evaluation.
func NewShelfLife(head Answer, e *analysis.Evaluation) ShelfLife {
	return ShelfLife{Trend: NewTrend(head, e), Supported: newSupported(e.Dataset.Study, e.Supported)}
}

func newAnalysis(s *study.Study, a *analysis.Analysis) Analysis {
	at := &s.Attributes[a.Attribute]
	out := Analysis{
		Attribute: at.ID, Condition: s.Conditions[a.Condition].ID,
		Pack: s.Packs[a.Pack].ID, Orientation: orientation(s, a.Pack, a.Orientation),
		Model: a.Model, Basis: string(at.Basis), Unit: at.Unit,
		Lower: Number(a.Lower), Upper: Number(a.Upper),
		ObservedMonths: Number(a.ObservedMonths), Status: string(a.Status),
		Pooling:    Pooling{Alpha: Number(a.Pooling.Alpha), SlopesP: Number(a.Pooling.SlopesP), InterceptsP: Number(a.Pooling.InterceptsP)},
		ResidualSD: Number(a.ResidualSD), DF: a.DF, OneSided: a.OneSided, Samples: len(a.Samples),
		Fits: []Fit{}, Estimate: Number(a.Estimate), ShelfLife: Number(a.ShelfLife),
		FirstFailure: newFailure(s, a.FirstFailure), Losses: newLosses(s, a.Losses),
		Diagnostics: newDiagnostics(s, a),
		Bounds:      newBounds(a),
	}
	if a.Pooling.Decision != "" {
		out.Pooling.Decision = &a.Pooling.Decision
	}
	if a.LimitingBatch >= 0 {
		out.LimitingBatch = &s.Batches[a.LimitingBatch].ID
	}
	for _, c := range a.Candidates {
		out.ModelChoice = append(out.ModelChoice, Candidate{string(c.Model), Number(c.AICc), c.Note})
	}
	for _, f := range a.Fits {
		out.Fits = append(out.Fits, Fit{
			Batch: s.Batches[f.Batch].ID, N: f.N, Intercept: Number(f.Intercept), Slope: Number(f.Slope), SlopeSE: Number(f.SlopeSE),
			Estimate: Number(f.Estimate), ShelfLife: Number(f.ShelfLife), LimitedBy: f.LimitedBy,
		})
	}
	out.Curves, out.Censored = newCurves(s, a), a.Censored
	return out
}

func newFailure(s *study.Study, f *analysis.Failure) *Failure {
	if f == nil {
		return nil
	}
	return &Failure{
		Batch: s.Batches[f.Batch].ID, Unit: f.Unit, Time: f.Planned.String(),
		Months: Number(f.Months), Value: Number(f.Value), LastPassing: Number(f.LastPassing),
	}
}

func newVerdict(s *study.Study, v *analysis.Verdict) Verdict {
	return Verdict{
		Months: v.Months, Attribute: s.Attributes[v.Attribute].ID, Pack: s.Packs[v.Pack].ID,
		Orientation: orientation(s, v.Pack, v.Orientation), Regression: Number(v.Regression), Observed: Number(v.Observed),
		Cap: Number(v.Cap), Rule: v.Rule, RuleText: v.RuleText, LimitedBy: v.LimitedBy, Failure: newFailure(s, v.Failure),
	}
}

func newSupported(s *study.Study, p *analysis.Supported) *Supported {
	if p == nil {
		return nil
	}
	out := &Supported{
		MeetsClaim: p.MeetsClaim, Claim: Number(p.ClaimMonths),
		Regression: Number(math.NaN()), Observed: Number(math.NaN()), Cap: Number(math.NaN()),
		Verdicts: []Verdict{}, Packs: []Verdict{}, Undecided: []Undecided{},
	}
	if p.Analysis != nil {
		v := newVerdict(s, &p.Verdict)
		out.Months, out.Attribute, out.Pack, out.Orientation = &v.Months, &v.Attribute, &v.Pack, &v.Orientation
		out.Regression, out.Observed, out.Cap = v.Regression, v.Observed, v.Cap
		out.Rule, out.LimitedBy, out.Failure = v.Rule, v.LimitedBy, v.Failure
	}
	for i := range p.Verdicts {
		out.Verdicts = append(out.Verdicts, newVerdict(s, &p.Verdicts[i]))
	}
	for i := range p.Packs {
		out.Packs = append(out.Packs, newVerdict(s, &p.Packs[i]))
	}
	for _, u := range p.Undecided {
		out.Undecided = append(out.Undecided, Undecided{s.Attributes[u.Attribute].ID, s.Packs[u.Pack].ID, orientation(s, u.Pack, u.Orientation), u.Reason})
	}
	return out
}

func orientation(s *study.Study, pack, o int) string { return string(s.Packs[pack].Orientations[o]) }

// ArrheniusAnswer is the answer of arrhenius.
type ArrheniusAnswer struct {
	Answer
	Study      string      `json:"study"`
	Confidence float64     `json:"confidence"`
	Analyses   []Arrhenius `json:"analyses"`
	Units
}

// Arrhenius is the fit over all temperatures of one attribute in one pack and
// orientation.
type Arrhenius struct {
	Attribute    string       `json:"attribute"`
	Pack         string       `json:"pack"`
	Orientation  string       `json:"orientation"`
	Model        string       `json:"model"`
	Status       string       `json:"status"`
	Energy       Energy       `json:"activation_energy"`
	Rates        []Rate       `json:"rates"`
	LinearityP   Number       `json:"linearity_p"`
	ResidualSD   Number       `json:"residual_sd"`
	DF           int          `json:"df"`
	Samples      int          `json:"samples"`
	Iterations   int          `json:"iterations"`
	Convergence  string       `json:"convergence"`
	OneSided     bool         `json:"one_sided"`
	Humidity     Number       `json:"humidity_per_percent"`
	Q10          Number       `json:"q10"`
	BendsAt      *string      `json:"bends_at"`
	LeftOut      []string     `json:"left_out"`
	ByBatch      bool         `json:"by_batch"`
	Predictions  []Prediction `json:"predictions"`
	Temperatures int          `json:"temperatures"`
}

// Energy is an activation energy with its interval.
type Energy struct {
	KJPerMol Number `json:"kj_per_mol"`
	Low      Number `json:"low"`
	High     Number `json:"high"`
}

// Rate is the rate at one condition, of all batches or of the one that is named.
type Rate struct {
	Condition string  `json:"condition"`
	Batch     *string `json:"batch,omitempty"`
	Celsius   Number  `json:"celsius"`
	PerMonth  Number  `json:"per_month"`
	SE        Number  `json:"se"`
}

// Prediction is the life predicted at one temperature.
type Prediction struct {
	Celsius      Number  `json:"celsius"`
	Estimate     Number  `json:"estimate_months"`
	ShelfLife    Number  `json:"shelf_life_months"`
	Delta        Number  `json:"delta_months"`
	Batch        *string `json:"limiting_batch"`
	Extrapolated bool    `json:"extrapolated"`
	Storage      bool    `json:"storage"`
	Q10Life      Number  `json:"q10_2_months"`

	Bootstrap *Bootstrap `json:"bootstrap,omitempty"`
}

// Bootstrap is what made-up studies say of a prediction's bounds.
type Bootstrap struct {
	Studies       int    `json:"studies"`
	Failed        int    `json:"failed"`
	Bound         Number `json:"bound_months"`
	Level         Number `json:"level"`
	ProfileCovers Number `json:"profile_covers"`
	DeltaCovers   Number `json:"delta_covers"`
}

// NewArrhenius builds the answer of arrhenius from an evaluation.
func NewArrhenius(head Answer, e *analysis.Evaluation) ArrheniusAnswer {
	s := e.Dataset.Study
	out := ArrheniusAnswer{Answer: head, Study: s.ID, Confidence: e.Confidence, Analyses: []Arrhenius{}, Units: newUnits(e)}
	for _, r := range e.Arrhenius {
		a := Arrhenius{
			Attribute: s.Attributes[r.Attribute].ID, Pack: s.Packs[r.Pack].ID, Orientation: orientation(s, r.Pack, r.Orientation),
			Model: r.Model, Status: string(r.Status), Energy: Energy{Number(r.EaKJ), Number(r.EaLow), Number(r.EaHigh)},
			Rates: []Rate{}, LinearityP: Number(r.LinearityP), ResidualSD: Number(r.ResidualSD), DF: r.DF,
			Samples: r.Samples, Iterations: r.Iterations, Convergence: r.Convergence, OneSided: r.OneSided, Humidity: Number(r.Humidity), Q10: Number(r.Q10),
			LeftOut: []string{}, ByBatch: r.ByBatch, Predictions: []Prediction{}, Temperatures: r.Temperatures,
		}
		if r.BendsAt >= 0 {
			a.BendsAt = &s.Conditions[r.BendsAt].ID
		}
		for _, c := range r.LeftOut {
			a.LeftOut = append(a.LeftOut, s.Conditions[c].ID)
		}
		for _, x := range r.Rates {
			rate := Rate{Condition: s.Conditions[x.Condition].ID, Celsius: Number(x.Celsius), PerMonth: Number(x.PerMonth), SE: Number(x.SE)}
			if x.Batch >= 0 {
				rate.Batch = &s.Batches[x.Batch].ID
			}
			a.Rates = append(a.Rates, rate)
		}
		for _, p := range r.Predictions {
			q := Prediction{
				Celsius: Number(p.Celsius), Estimate: Number(p.Estimate), ShelfLife: Number(p.ShelfLife), Delta: Number(p.Delta),
				Extrapolated: p.Extrapolated, Storage: p.Storage, Q10Life: Number(p.Q10Life),
			}
			if b := p.Bootstrap; b != nil {
				q.Bootstrap = &Bootstrap{b.Studies, b.Failed, Number(b.Bound), Number(b.Level), Number(b.ProfileCovers), Number(b.DeltaCovers)}
			}
			if p.Batch >= 0 {
				q.Batch = &s.Batches[p.Batch].ID
			}
			a.Predictions = append(a.Predictions, q)
		}
		out.Analyses = append(out.Analyses, a)
	}
	return out
}
