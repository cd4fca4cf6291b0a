// Package analysis works out what the results of a study support. Evaluate
// composes the methods, each of which is a package of its own below this one;
// an Evaluation is the whole answer, from which every output is written.
//
// Nothing here reads files, looks at the clock, prints or draws hidden random
// numbers.
package analysis

import (
	"shelfspan/analysis/arrhenius"
	"shelfspan/study"
	"shelfspan/study/finding"
)

// Status says how an Analysis ended, so that a missing number is never a riddle.
type Status string

// How an Analysis ended.
const (
	Fitted          Status = "fitted"            // regression done, the limit is reached at ShelfLife
	NeverReached    Status = "never-reached"     // regression done, no limit is ever reached
	BreachedAtStart Status = "breached-at-start" // the confidence limit is beyond the acceptance limit at time zero
	Observed        Status = "observed"          // grades and pass/fail: judged by what was seen
	TooFewTimes     Status = "too-few-times"     // a batch has fewer than 3 distinct times
	NotFitted       Status = "not-fitted"        // the reason stands in a warning
	NoCriterion     Status = "no-criterion"      // regression done, but there is no acceptance limit to meet
)

// Evaluation is the whole answer to a dataset.
type Evaluation struct {
	Dataset      *study.Dataset
	Confidence   float64
	Analyses     []*Analysis  // by attribute, condition, pack, orientation in the study's order
	Arrhenius    []*Arrhenius // by attribute, pack, orientation; empty where not asked for
	Lifetimes    []*Lifetime  // of grades and pass/fail, by attribute, pack, orientation; empty where no result is in storage
	Agreements   []*Agreement // of those who graded the same units, by attribute and pair
	Supported    *Supported   // nil where not asked for or the study has no storage condition
	Warnings     []finding.Warning
	Interactions *Interactions // nil where not asked for
}

// Analysis is one attribute at one condition in one pack and orientation.
type Analysis struct {
	Attribute, Condition, Pack int // indices into the Study
	Orientation                int // index into the pack's Orientations

	Status       Status
	Model        string // a study.Model, "observed", "unit rates" for weighings, or "" where nothing was fitted
	Candidates   []Candidate
	Lower, Upper float64 // the acceptance limits on their basis; ±Inf where none
	OneSided     bool
	Confidence   float64

	ObservedMonths float64 // X: planned time of the last pull at which every batch has a result
	Pooling        Pooling
	ResidualSD     float64 // on the model's scale; NaN where nothing was fitted
	DF             int
	Fits           []Fit        // one a batch, in the study's order, also where pooled
	Curves         []Curve      // those of Fits where the model is a curve; nil otherwise
	Censored       int          // values known only to lie below or above another, where they were fitted by maximum likelihood
	ShelfLife      float64      // months: the shortest of the batches'; +Inf where no limit is ever reached; NaN where nothing was fitted
	Estimate       float64      // months, where the fitted mean of the limiting batch crosses; +Inf, NaN as above
	LimitingBatch  int          // index; -1 where none or pooled
	FirstFailure   *Failure     // first result outside its criterion; nil where there is none
	Diagnostics    *Diagnostics // what the results say of the lines; nil where nothing was fitted or units are put back

	Losses *Losses // of weighings; nil otherwise, and where no unit was weighed again
	Bounds []Bound // side by side, that of the mean first; nil where there is none but it

	Samples  []Sample // what was analysed, repeat readings averaged, in order of batch and time
	Warnings []finding.Warning
}

// Candidate is one model in the comparison of auto.
type Candidate struct {
	Model study.Model
	AICc  float64 // NaN where it could not be fitted
	Note  string  // why it was left out; empty otherwise
}

// Pooling is the result of the batch poolability tests (ICH Q1E appendix B).
type Pooling struct {
	Alpha       float64
	SlopesP     float64 // NaN where not tested
	SlopesF     float64
	InterceptsP float64 // NaN where not tested, as where the slopes already differ
	InterceptsF float64
	DF1, DF2    int    // of the tests; DF2 the separate model's
	ChangesDF   int    // DF1 of the test of slopes where a curve's change stands in their place, which has more than one parameter; else 0
	Decision    string // pooled | common-slope | separate; "" where nothing was fitted
}

// Fit is the fitted line of one batch on its model's scale, and its life.
type Fit struct {
	Batch            int
	Intercept, Slope float64 // NaN intercept for weighings, which go through the origin
	SlopeSE          float64
	N                int
	Estimate         float64 // months where the mean meets the limit; +Inf where never
	ShelfLife        float64 // months where the confidence limit meets it; +Inf where never; 0 where breached at the start
	LimitedBy        string  // "lower" | "upper" | ""

	// Curve gives the fitted mean and its confidence limits at a time in months,
	// in the attribute's own unit and basis; a limit that is not judged is NaN.
	Curve func(months float64) (mean, lower, upper float64)
}

// Sample is one unit at one time, its repeat readings averaged.
type Sample struct {
	Batch          int
	Unit           string
	Months         float64 // elapsed
	Planned        study.Duration
	PlannedMonths  float64
	Pulled         study.Date
	Condition      int     // index; -1 at time zero without one
	Value          float64 // in the attribute's unit; percent lost for weighings; on the basis "value" otherwise
	Readings       int
	Tare           float64 // g, weighings; NaN where unknown
	Method         string  // the methods of its readings
	Low, High      float64 // range of the readings
	Censor         study.Censor
	InWindow       bool
	Fitted         bool // it entered the regression
	OutOfCriterion bool // rounded to the attribute's decimals it misses the criterion

	bothSides bool // one reading lies below a limit of measurement and another above one
}

// Failure is a result outside its acceptance criterion.
type Failure struct {
	Batch       int
	Unit        string
	Months      float64 // planned
	Planned     study.Duration
	Value       float64
	LastPassing float64 // planned months of the last pull before it; 0 where none
}

// Arrhenius is the fit over all temperatures of one attribute in one pack and orientation.
type Arrhenius struct {
	Attribute, Pack, Orientation int
	Model                        string
	Status                       Status  // fitted, not-fitted, too-few-times
	EaKJ, EaLow, EaHigh          float64 // kJ/mol with its profile-likelihood interval; an open end is ±Inf
	Rising                       bool    // the sign of the change, on the model's scale as seen in the attribute
	ByBatch                      bool    // each batch has a rate of its own; Ea is common
	Rates                        []Rate  // one a condition, or a batch and condition, from the free-rate fit
	LinearityF, LinearityP       float64 // NaN with two temperatures
	LinearityDF1, LinearityDF2   int
	ResidualSD                   float64
	DF                           int
	Iterations                   int
	Convergence                  string  // how the fit ended
	OneSided                     bool    // the bounds of the predictions are
	Temperatures                 int     // distinct
	Humidity                     float64 // B per % RH; NaN where not fitted
	HumiditySE                   float64
	Q10                          float64 // from 25 to 35 °C by the fit; the conventional shortcut only
	Predictions                  []Prediction
	Exposures                    []Exposure // to the histories asked for, in their order; nil where nothing was fitted
	BendsAt                      int        // index of the condition that bends the line where linearity fails; -1 otherwise
	LeftOut                      []int      // conditions left out
	// LnRate gives ln of the fitted rate per month at a temperature in °C (and the
	// reference humidity), for charts.
	LnRate   func(celsius float64) float64
	Samples  int // that entered
	Warnings []finding.Warning
}

// Bent reports whether one activation energy does not fit all temperatures, so
// that no prediction is to be relied on.
func (r *Arrhenius) Bent() bool { return r.LinearityP < arrhenius.LinearityLevel }

// Rate is the rate of one condition by the free-rate fit.
type Rate struct {
	Condition int
	Batch     int // whose rate it is; -1 where the batches share it
	Celsius   float64
	PerMonth  float64 // signed, on the model's scale
	SE        float64
}

// Prediction is the life the Arrhenius fit predicts at a temperature.
type Prediction struct {
	Celsius      float64
	Storage      bool                 // the storage condition's own temperature
	Estimate     float64              // months; +Inf where never
	ShelfLife    float64              // profile-likelihood bound, months
	Delta        float64              // delta-method bound, months
	Batch        int                  // the batch that limits; -1 where none
	Extrapolated bool                 // outside the temperatures studied
	Bootstrap    *arrhenius.Bootstrap // what made-up studies say of the bounds; nil where not asked for
	Q10Life      float64              // by the conventional Q10 = 2 shortcut from the hottest condition's rate; NaN where not meaningful
}

// Supported is the shelf life the whole study supports.
type Supported struct {
	Verdict     // the governing one
	MeetsClaim  bool
	Partial     bool      // only some attributes or packs were asked for, and nothing is said of the others
	ClaimMonths float64   // NaN where no claim is stated
	Verdicts    []Verdict // one for each attribute, pack and orientation with a criterion, in the study's order
	Packs       []Verdict // the governing one of each pack and orientation
	Undecided   []Undecided
}

// Undecided is an attribute, pack and orientation of the study for which no
// shelf life can be stated.
type Undecided struct {
	Attribute, Pack, Orientation int
	Reason                       string
}

// Verdict is the shelf life one attribute supports in one pack and orientation.
type Verdict struct {
	Months                       int // supported: whole months, rounded down
	Attribute, Pack, Orientation int
	Regression                   float64  // months by regression; +Inf where no limit is reached; NaN where not amenable
	Observed                     float64  // X, months
	Cap                          float64  // months; +Inf where rules = "none"
	Failure                      *Failure // observed at the storage condition; nil where none
	Rule                         string   // "ICH Q1E 2.4.1.2"
	RuleText                     string   // the rule in one sentence, with what it was applied to
	LimitedBy                    string   // regression | extrapolation | failure
	Analysis                     *Analysis
}
