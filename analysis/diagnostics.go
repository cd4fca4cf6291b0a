package analysis

import (
	"math"

	"shelfspan/analysis/residuals"
	"shelfspan/analysis/shapiro"
	"shelfspan/study"
)

// The levels of the tests of an analysis, each taken by itself: at the first a
// finding is noted, at the second it is a warning. Where all is in order each test
// finds something by chance in about 5 and 1 of 100 analyses, and the judgement of
// the latest results in as many of 100 results; DEVELOPERS.md has what simulation
// finds. Common practice, no source.
const (
	NoteLevel    = 0.05
	WarningLevel = 0.01
)

// MostLeverage is the leverage of a pull, summed over its results, above which the
// line is warned to hang on it: the line then keeps less than a tenth of the
// distance at which the other results would have put it. Pulls at 0, 3, 6 and 12
// months stay below, those at 0, 1, 2 and 12 do not. Our own rule, no source.
const MostLeverage = 0.9

// What a finding is.
const (
	CodeOutlier    = "outlier"
	CodeLeverage   = "leverage"
	CodeOutOfTrend = "out-of-trend"
	CodeLackOfFit  = "lack-of-fit"
	CodeNotNormal  = "not-normal"
	CodeSpread     = "changing-spread"
	CodeBends      = "bends"
	CodeTurns      = "turns-round"
)

// Diagnostics is what the results of an analysis say of its lines: which results
// lie far off, and whether straight lines with an even, normal scatter describe
// them at all. Only analyses of units that are opened have it: readings of units
// that are weighed or measured and put back are not independent, and no test here
// would keep its level on them.
//
// All tests stand on the model's scale and on a line for each batch by itself,
// whatever the poolability tests decided: lines that these chose by the same
// results would be tighter, but the rates of false alarms no longer those stated
// (see outoftrend.OfBatches), and a difference between batches would pass for a
// fault of single results. Leverage alone is that of the lines in use. A test that
// could not be made is nil. What the scatter and the course show is a finding only
// where it shows without the outlier too, where there is one, and without the one
// latest pull that is out of trend.
type Diagnostics struct {
	N, DF      int     // results, and degrees of freedom about the batches' own lines
	ResidualSD float64 // about them, on the model's scale
	Tests      int     // tests that were made, each result judged for its trend counted as one

	Outlier    *Outlier
	Leverage   *Leverage
	OutOfTrend []OutOfTrend         // the latest pull of each batch, and what it was held against
	LackOfFit  *residuals.LackOfFit // against results of one batch at one time
	Normality  *shapiro.Result      // of the internally studentized residuals
	Spread     *Spread
	Course     *Course

	Findings []Finding
}

// Outlier is the result that lies farthest from its batch's line without it.
type Outlier struct {
	Sample   int     // index into the analysis' Samples
	External float64 // studentized deleted residual
	DF       int     // its degrees of freedom
	P        float64 // by Bonferroni, among all results
	Expectation
}

// Expectation is a value with what was to be expected of it, in the attribute's own
// unit; means and limits are made on the model's scale and taken back.
type Expectation struct {
	Value, Expected float64
	Lower, Upper    [2]float64 // limits at 95 and 99 %, two-sided; ±Inf where the scale ends
}

// OutOfTrend is the judgement of the latest pull of a batch. It is out of trend
// beyond the limits of 99 % and noted beyond those of 95 %.
//
// Each batch has one pull judged in an analysis, its latest: against the line of
// its batch without it, and against earlier batches at the same planned time where
// there are two of them or more, each the mean of its results. Batches are in the
// order they were made where all say when, else in that of the study file. The
// rates of both judgements are exact under a normal error; with two earlier batches
// the limits are so wide that only the grossest difference is seen.
type OutOfTrend struct {
	Batch   int
	Samples []int // of the pull
	Planned study.Duration
	Earlier []int // batches it was held against; nil where against its own line
	P       float64
	DF      int
	Expectation
}

// Leverage is the pull on which its line hangs most.
type Leverage struct {
	Batch    int
	Planned  study.Duration
	Samples  []int
	Leverage float64 // of the lines in use, summed over the pull's results
}

// Spread is the test of a scatter that changes with time.
type Spread struct {
	residuals.Spread      // of the squared residuals on the months
	Grows            bool // with time
}

// Course is how the batches go over time.
type Course struct {
	BendT, BendP float64 // of the quadratic term that the batches have in common
	Steeper      bool    // the bend makes the change faster with time
	RunsP        float64 // of the signs of the residuals; in the numbers only, as it is weak

	Rises        bool    // the course that turns first rises; in the attribute's own unit
	TurnsAt      float64 // months; NaN where the best broken line does not turn
	TurnF, TurnP float64 // either way round: twice the p-value of one way
}

// Finding is what a test found.
type Finding struct {
	Code    string
	Warned  bool    // at WarningLevel; else it is noted
	P       float64 // NaN where there is none, as of a leverage
	Batch   int     // −1 where it is about all
	Planned study.Duration
	Samples []int // the results it is about, as indices; nil where it is about all
	*Expectation
}

// Suspect reports whether a sample was found an outlier or out of trend, so that it
// was warned of.
func (d *Diagnostics) Suspect(sample int) bool {
	if d == nil {
		return false
	}
	for _, f := range d.Findings {
		if f.Warned && (f.Code == CodeOutlier || f.Code == CodeOutOfTrend) {
			for _, i := range f.Samples {
				if i == sample {
					return true
				}
			}
		}
	}
	return false
}

// Found reports whether there is a finding of a code, and whether one is warned of.
func (d *Diagnostics) Found(code string) (found, warned bool) {
	for i := range d.Findings {
		if d.Findings[i].Code == code {
			found = true
			warned = warned || d.Findings[i].Warned
		}
	}
	return found, warned
}

// found gives the finding of a code; nil where there is none.
func (d *Diagnostics) found(code string) *Finding {
	if d != nil {
		for i := range d.Findings {
			if d.Findings[i].Code == code {
				return &d.Findings[i]
			}
		}
	}
	return nil
}

// TurnsRound reports whether the course was found to rise and then fall, or the
// reverse, so that no straight line describes it and no bound from one is to be
// relied on.
func (a *Analysis) TurnsRound() bool {
	f := a.Diagnostics.found(CodeTurns)
	return f != nil && f.Warned
}

// either doubles a p-value for a direction that the data chose.
func either(p float64) float64 { return math.Min(1, 2*p) }
