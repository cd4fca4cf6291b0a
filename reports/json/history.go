package json

import (
	"math"

	"shelfspan/analysis"
	"shelfspan/analysis/climate"
	"shelfspan/study/logger"
)

// History is the answer of mkt. Its first numbers are those of the log, or of the
// lane where there is no log.
type History struct {
	Answer
	Study       *string     `json:"study"`
	Of          string      `json:"of"` // log | lane
	Energy      Number      `json:"energy_kj_per_mol"`
	MeanKinetic Number      `json:"mean_kinetic_celsius"`
	Mean        Number      `json:"mean_celsius"`
	Min         Number      `json:"min_celsius"`
	Max         Number      `json:"max_celsius"`
	Hours       Number      `json:"hours"`
	Log         *Log        `json:"log"`
	Above       *Side       `json:"above"`
	Below       *Side       `json:"below"`
	Excursions  []Excursion `json:"excursions"`
	NotListed   int         `json:"excursions_not_listed"`
	Lane        *Lane       `json:"lane"`
	Confidence  *float64    `json:"confidence"`
	Storage     *Storage    `json:"storage"`
	Life        []Life      `json:"life"`
}

// Log is what is known of a log beside its temperatures.
type Log struct {
	Readings    int    `json:"readings"`
	Missing     int    `json:"missing"`
	Start       string `json:"start"`
	End         string `json:"end"`
	Zoned       bool   `json:"zone_stated"`
	Unit        string `json:"unit"`
	Column      string `json:"column"`
	SpanHours   Number `json:"span_hours"`
	StepMinutes Number `json:"step_minutes"`
	MinAt       string `json:"min_at"`
	MaxAt       string `json:"max_at"`
	Gaps        Gaps   `json:"gaps"`
}

// Gaps are intervals that are left out.
type Gaps struct {
	Count  int    `json:"count"`
	Hours  Number `json:"hours"`
	Longer Number `json:"longer_than_minutes"` // null: Factor times the usual step
	Factor int    `json:"times_usual_step"`
	List   []Gap  `json:"list"`
}

// Gap is one of them.
type Gap struct {
	Start string `json:"start"`
	End   string `json:"end"`
	Hours Number `json:"hours"`
}

// Side is the time beyond a limit.
type Side struct {
	Limit Number `json:"limit_celsius"`
	Hours Number `json:"hours"`
	Count int    `json:"excursions"`
}

// Excursion is a time without a break beyond a limit, or the time of a leg of a
// lane beyond it, which has no clock.
type Excursion struct {
	Side        string  `json:"side"` // above | below
	Leg         *string `json:"leg"`
	Start       *string `json:"start"`
	End         *string `json:"end"`
	StartKnown  bool    `json:"start_known"`
	EndKnown    bool    `json:"end_known"`
	Hours       Number  `json:"hours"`
	Peak        Number  `json:"peak_celsius"`
	PeakAt      *string `json:"peak_at"`
	Mean        Number  `json:"mean_celsius"`
	MeanKinetic Number  `json:"mean_kinetic_celsius"`
}

// Lane is a lane and its legs.
type Lane struct {
	MeanKinetic Number `json:"mean_kinetic_celsius"`
	Mean        Number `json:"mean_celsius"`
	Min         Number `json:"min_celsius"`
	Max         Number `json:"max_celsius"`
	Hours       Number `json:"hours"`
	Above       *Side  `json:"above"`
	Below       *Side  `json:"below"`
	Legs        []Leg  `json:"legs"`
}

// Leg is one leg.
type Leg struct {
	Leg         string `json:"leg"`
	Low         Number `json:"low_celsius"`
	High        Number `json:"high_celsius"`
	Hours       Number `json:"hours"`
	MeanKinetic Number `json:"mean_kinetic_celsius"`
	Above       Number `json:"hours_above"`
	Below       Number `json:"hours_below"`
}

// Storage is what histories are held against.
type Storage struct {
	Condition string `json:"condition"`
	Celsius   Number `json:"celsius"`
}

// Life is what the histories do to one attribute in one pack and orientation.
type Life struct {
	Attribute   string     `json:"attribute"`
	Pack        string     `json:"pack"`
	Orientation string     `json:"orientation"`
	Model       string     `json:"model"`
	Status      string     `json:"status"`
	Energy      Energy     `json:"activation_energy"`
	LinearityP  Number     `json:"linearity_p"`
	Histories   []Exposure `json:"histories"`
}

// Exposure is what one history does.
type Exposure struct {
	Of             string  `json:"of"` // log | lane | together | above-limit
	Months         Number  `json:"months"`
	MeanKinetic    Number  `json:"mean_kinetic_celsius"`
	Equivalent     Number  `json:"equivalent_months"`
	EquivalentLow  Number  `json:"equivalent_low_months"`
	EquivalentHigh Number  `json:"equivalent_high_months"`
	Used           Number  `json:"used"`
	UsedBound      Number  `json:"used_bound"`
	Unbounded      bool    `json:"unbounded"` // nothing bounds used_bound
	Batch          *string `json:"limiting_batch"`
	Left           Number  `json:"left_months"`
	LeftBound      Number  `json:"left_bound_months"`
	Supported      Number  `json:"supported_months"`
	SupportedLeft  Number  `json:"supported_left_months"`
	Above          Number  `json:"share_above_studied"`
	AboveAgeing    Number  `json:"share_of_ageing_above_studied"`
	Below          Number  `json:"share_below_studied"`
}

// NewHistory builds the answer of mkt.
func NewHistory(head Answer, h *analysis.History) History {
	out := History{Answer: head, Of: "log", Excursions: []Excursion{}, Life: []Life{}}
	if r := h.LaneRecord; r != nil {
		out.Lane = newLane(r)
	}
	if r := h.Record; r != nil {
		out.Energy, out.MeanKinetic, out.Mean, out.Min, out.Max = Number(r.EnergyKJ), Number(r.MeanKinetic), Number(r.Mean), Number(r.Min.Celsius), Number(r.Max.Celsius)
		out.Hours, out.Above, out.Below, out.NotListed = Number(r.Hours), newSide(r.Above), newSide(r.Below), r.MoreOutside
		out.Log = newLog(h.Log, r)
		for _, e := range r.Excursions {
			out.Excursions = append(out.Excursions, newExcursion(e))
		}
	} else {
		r := h.LaneRecord
		out.Of = "lane"
		out.Energy, out.MeanKinetic, out.Mean, out.Min, out.Max = Number(r.EnergyKJ), Number(r.MeanKinetic), Number(r.Mean), Number(r.Min), Number(r.Max)
		out.Hours, out.Above, out.Below = Number(r.Hours), newSide(r.Above), newSide(r.Below)
		for i := range r.Legs {
			out.Excursions = append(out.Excursions, legExcursions(&r.Legs[i])...)
		}
	}
	if e := h.Evaluation; e != nil {
		s := e.Dataset.Study
		out.Study, out.Confidence = &s.ID, &e.Confidence
		if s.StoreAt >= 0 {
			c := &s.Conditions[s.StoreAt]
			out.Storage = &Storage{c.ID, Number(c.Temperature)}
		}
		for _, r := range e.Arrhenius {
			out.Life = append(out.Life, newLife(e, r))
		}
	}
	return out
}

func newLog(l *logger.Log, r *climate.Record) *Log {
	out := &Log{
		Readings: r.Readings, Missing: l.Missing, Start: r.First.ISO(), End: r.Last.ISO(), Zoned: l.Zoned, Unit: l.Unit.String(), Column: l.Column,
		SpanHours: Number(r.Span), StepMinutes: Number(r.Step), MinAt: r.Min.At.ISO(), MaxAt: r.Max.At.ISO(),
		Gaps: Gaps{Count: r.GapCount, Hours: Number(r.GapHours), Longer: Number(math.NaN()), Factor: climate.GapFactor, List: []Gap{}},
	}
	if r.Gap > 0 {
		out.Gaps.Longer = Number(r.Gap)
	}
	for _, g := range r.Gaps {
		out.Gaps.List = append(out.Gaps.List, Gap{g.From.ISO(), g.To.ISO(), Number(g.Hours)})
	}
	return out
}

func newSide(s climate.Side) *Side {
	if math.IsNaN(s.Limit) {
		return nil
	}
	return &Side{Number(s.Limit), Number(s.Hours), s.Count}
}

func newExcursion(e climate.Excursion) Excursion {
	side, start, end, peak := "below", e.Start.ISO(), e.End.ISO(), e.Peak.At.ISO()
	if e.Above {
		side = "above"
	}
	return Excursion{
		Side: side, Start: &start, End: &end, StartKnown: e.StartsKnown, EndKnown: e.EndsKnown, Hours: Number(e.Hours),
		Peak: Number(e.Peak.Celsius), PeakAt: &peak, Mean: Number(e.Mean), MeanKinetic: Number(e.MeanKinetic),
	}
}

func legExcursions(l *climate.LegRecord) (out []Excursion) {
	none := Number(math.NaN())
	if l.Above > 0 {
		out = append(out, Excursion{Side: "above", Leg: &l.Name, Hours: Number(l.Above), Peak: Number(l.High), Mean: none, MeanKinetic: none})
	}
	if l.Below > 0 {
		out = append(out, Excursion{Side: "below", Leg: &l.Name, Hours: Number(l.Below), Peak: Number(l.Low), Mean: none, MeanKinetic: none})
	}
	return out
}

func newLane(r *climate.LaneRecord) *Lane {
	out := &Lane{
		MeanKinetic: Number(r.MeanKinetic), Mean: Number(r.Mean), Min: Number(r.Min), Max: Number(r.Max), Hours: Number(r.Hours),
		Above: newSide(r.Above), Below: newSide(r.Below), Legs: []Leg{},
	}
	for _, l := range r.Legs {
		out.Legs = append(out.Legs, Leg{l.Name, Number(l.Low), Number(l.High), Number(l.Hours), Number(l.MeanKinetic), Number(l.Above), Number(l.Below)})
	}
	return out
}

// historyNames are the histories as scripts know them.
var historyNames = map[string]string{analysis.TheLog: "log", analysis.TheLane: "lane", analysis.Together: "together", analysis.AboveLimit: "above-limit"}

func newLife(e *analysis.Evaluation, r *analysis.Arrhenius) Life {
	s := e.Dataset.Study
	out := Life{
		Attribute: s.Attributes[r.Attribute].ID, Pack: s.Packs[r.Pack].ID, Orientation: orientation(s, r.Pack, r.Orientation),
		Model: r.Model, Status: string(r.Status), Energy: Energy{Number(r.EaKJ), Number(r.EaLow), Number(r.EaHigh)}, LinearityP: Number(r.LinearityP),
		Histories: []Exposure{},
	}
	for _, x := range r.Exposures {
		y := Exposure{
			Of: historyNames[x.Name], Months: Number(x.Months), MeanKinetic: Number(x.MeanKinetic),
			Equivalent: Number(x.Equivalent), EquivalentLow: Number(x.EquivalentLow), EquivalentHigh: Number(x.EquivalentHigh),
			Used: Number(x.Used), UsedBound: Number(x.UsedBound), Unbounded: math.IsInf(x.UsedBound, 1), Left: Number(x.Left), LeftBound: Number(x.LeftBound),
			Supported: Number(x.Supported), SupportedLeft: Number(x.SupportedLeft), Above: Number(x.Above), AboveAgeing: Number(x.AboveAgeing), Below: Number(x.Below),
		}
		if x.Batch >= 0 {
			y.Batch = &s.Batches[x.Batch].ID
		}
		out.Histories = append(out.Histories, y)
	}
	return out
}
