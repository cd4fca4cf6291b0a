// Package study holds the words of the stability trade as types: the study and
// its conditions, batches, packs and attributes, and the results measured on
// it, with the rules that belong to the words. It fits nothing and reads no files.
package study

import (
	"math"
	"slices"
)

// Study is a stability protocol: what is stored where, what is measured when,
// and which shelf life is sought.
type Study struct {
	ID, Title, Product string
	Start              Date     // time zero of every batch without its own
	Claim              Duration // zero where no shelf life is sought
	StoreAt            int      // index into Conditions of labelled storage; -1 where there is none
	Rules              Rules
	Confidence         float64 // of the bounds, 0.95 by default
	PoolAlpha          float64 // significance level of the poolability tests, 0.25 by default

	Calendar   Calendar
	Samples    Samples
	Conditions []Condition
	Chambers   []Chamber
	Batches    []Batch
	Packs      []Pack // never empty: a study without packs has one unnamed pack
	Attributes []Attribute
}

// Rules names the limits on a claim that reaches past the data.
type Rules string

// The rules known.
const (
	ICHQ1E  Rules = "ich-q1e"
	NoRules Rules = "none"
)

// Calendar says on which days samples can be pulled.
type Calendar struct {
	Workdays [7]bool // by time.Weekday
	Holidays []Date  // ascending
	Shift    Shift
	Windows  []Window // ascending by UpTo
}

// Shift says where a pull goes that falls on a day without work.
type Shift string

// The ways to shift; a tie of ShiftNearest goes to the earlier day.
const (
	ShiftNearest Shift = "nearest"
	ShiftEarlier Shift = "earlier"
	ShiftLater   Shift = "later"
	ShiftNone    Shift = "none"
)

// Window allows a pull planned at up to UpTo to be made Days early or late.
type Window struct {
	UpTo Duration
	Days int
}

// Samples says how many units are stored or kept back beyond those planned.
type Samples struct {
	ReservePercent float64
	Retain         int
}

// Role is what a condition is for.
type Role string

// The roles of a condition.
const (
	LongTerm     Role = "long-term"
	Intermediate Role = "intermediate"
	Accelerated  Role = "accelerated"
	Stress       Role = "stress"
	Cycling      Role = "cycling"
)

// Condition is one storage climate with its pulls.
type Condition struct {
	ID                   string
	Role                 Role
	Temperature          float64 // °C; NaN for a cycling condition without one
	Humidity             float64 // % RH; NaN where none is stated
	TemperatureTolerance float64 // ± °C
	HumidityTolerance    float64 // ± % RH
	Pulls                []Duration
	CycleHours           float64 // length of one cycle; 0 where not cycling
	Chamber              int     // index into Chambers; -1 where none
}

// Months gives a planned time at this condition in months.
func (c *Condition) Months(d Duration) float64 { return d.Months(c.CycleHours) }

// Chamber is a place samples are stored in.
type Chamber struct {
	ID             string
	Capacity       int // units; 0 where not stated
	RatedFlammable bool
}

// Batch is one making of the product.
type Batch struct {
	ID        string
	Scale     string
	Lot, Size string
	Made      Date // NoDate where not stated
	Placed    Date // its own time zero; NoDate where it is the study's start
	Factors   []Factor
}

// Factor is one thing that differs in a batch's formula, with its level.
type Factor struct{ Name, Level string }

// Pack is one container and closure.
type Pack struct {
	ID, Description                              string
	Pressurised, Flammable, Glass, SemiPermeable bool
	Control                                      bool    // the inert reference
	NetFill                                      float64 // g; NaN where not stated
	WaterPercent                                 float64 // NaN where not stated
	Tare                                         float64 // g; NaN where not stated
	Orientations                                 []Orientation
}

// Orientation is how a pack stands in storage.
type Orientation string

// The orientations.
const (
	Upright    Orientation = "upright"
	Inverted   Orientation = "inverted"
	Horizontal Orientation = "horizontal"
)

// Kind is the way an attribute is measured and judged.
type Kind string

// The kinds of attribute.
const (
	Measure  Kind = "measure"
	Weighing Kind = "weighing"
	Grade    Kind = "grade"
	PassFail Kind = "pass-fail"
)

// Basis is what the limits of an attribute apply to.
type Basis string

// The bases.
const (
	BasisValue   Basis = "value"
	BasisPercent Basis = "percent-of-initial"
	BasisChange  Basis = "change-from-initial"
)

// Model names a model of the change over time, or auto for the choice among them.
type Model string

// The models a study file may ask for.
const (
	Auto           Model = "auto"
	ZeroOrder      Model = "zero-order"
	FirstOrder     Model = "first-order"
	SecondOrder    Model = "second-order"
	SquareRootTime Model = "square-root-time"

	// Curves that no transformation makes straight.
	ApproachToPlateau Model = "approach-to-plateau"
	PowerOfTime       Model = "power-of-time"
)

// Models lists those that can be asked for, auto first.
var Models = []Model{Auto, ZeroOrder, FirstOrder, SecondOrder, SquareRootTime, ApproachToPlateau, PowerOfTime}

// Curved reports whether the model is a curve that no transformation makes straight.
func (m Model) Curved() bool { return m == ApproachToPlateau || m == PowerOfTime }

// Direction is the way an attribute can go.
type Direction string

// The directions.
const (
	Either Direction = "either"
	Falls  Direction = "falls"
	Rises  Direction = "rises"
)

// Sampling says what becomes of the units an attribute is measured on.
type Sampling string

// The ways of sampling.
const (
	Destructive Sampling = "destructive"
	Shared      Sampling = "shared"
	Returned    Sampling = "returned"
)

// Attribute is one thing measured, with its acceptance criterion.
type Attribute struct {
	ID, Unit  string
	Kind      Kind
	Lower     float64 // -Inf where there is none
	Upper     float64 // +Inf where there is none; 0 for pass-fail (pass is 0, fail is 1)
	Basis     Basis
	Model     Model
	Direction Direction
	Grades    []string // names of grade 0, 1, 2 …

	ExpectedAtAccelerated string   // reason why a change when hot is expected; empty where none is
	Baseline              Duration // the trend counts from here
	TestWithin            Duration // longest wait from pull to test; zero where not stated
	SignificantChange     float64  // percent of the initial value; NaN where none is stated

	Sampling   Sampling
	Units      int
	Replicates int
	Decimals   int   // -1 where not stated
	Conditions []int // indices; nil: all
	Packs      []int // indices; nil: all
}

// HasLimit reports whether the attribute has an acceptance criterion.
func (a *Attribute) HasLimit() bool {
	return !math.IsInf(a.Lower, -1) || !math.IsInf(a.Upper, 1)
}

// At reports whether the attribute is tested at a condition and in a pack.
func (a *Attribute) At(condition, pack int) bool {
	return in(a.Conditions, condition) && in(a.Packs, pack)
}

// in reports whether a list names an index; one that is nil names all.
func in(list []int, i int) bool { return list == nil || slices.Contains(list, i) }

// TimeZero gives the day a batch entered storage.
func (s *Study) TimeZero(batch int) Date {
	if p := s.Batches[batch].Placed; p != NoDate {
		return p
	}
	return s.Start
}

// WindowOf gives the days a pull planned at d may be early or late.
func (s *Study) WindowOf(d Duration, cycleHours float64) int {
	w := s.Calendar.Windows
	m := d.Months(cycleHours)
	for i := range w {
		if m <= w[i].UpTo.Months(0)+1e-9 {
			return w[i].Days
		}
	}
	if len(w) == 0 {
		return 0
	}
	return w[len(w)-1].Days
}
