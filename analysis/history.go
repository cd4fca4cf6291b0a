package analysis

import (
	"math"

	"shelfspan/analysis/arrhenius"
	"shelfspan/analysis/climate"
	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/lane"
	"shelfspan/study/logger"
)

// History is the whole answer to a history of temperatures: a log, a lane, or a
// log and the lane that is to follow it, and what a study's fits make of them.
type History struct {
	Log        *logger.Log // nil where there is no log
	Record     *climate.Record
	Lane       *lane.Lane // nil where there is no lane
	LaneRecord *climate.LaneRecord
	Evaluation *Evaluation // nil where there is no study
}

// The names of what is judged of a history.
const (
	TheLog     = "the log"
	TheLane    = "the lane"
	Together   = "the log with the lane"
	AboveLimit = "the time above the limit" // of the log, or of the lane where it is alone
)

// Parts lists what is judged of a history, for Options: the log, the lane, one
// after the other, and the time above the upper limit by itself.
func (h *History) Parts() []arrhenius.History {
	var out []arrhenius.History
	var log, above []arrhenius.Spell
	if h.Record != nil {
		log, above = h.Record.Spells(), h.Record.SpellsAbove()
		out = append(out, arrhenius.History{Name: TheLog, Spells: log})
	}
	if h.LaneRecord != nil {
		out = append(out, arrhenius.History{Name: TheLane, Spells: h.LaneRecord.Spells})
		if h.Record == nil {
			above = h.LaneRecord.SpellsAbove()
		} else {
			both := append(append([]arrhenius.Spell{}, log...), h.LaneRecord.Spells...)
			out = append(out, arrhenius.History{Name: Together, Spells: both, Part: true})
		}
	}
	if len(above) > 0 {
		out = append(out, arrhenius.History{Name: AboveLimit, Spells: above, Part: true})
	}
	return out
}

// Warnings gathers those of the log, of the record and of the study.
func (h *History) Warnings() []finding.Warning {
	out := []finding.Warning{}
	if h.Log != nil {
		out = append(out, h.Log.Warnings...)
		out = append(out, h.Record.Warnings...)
	}
	if h.Evaluation != nil {
		out = append(out, h.Evaluation.Warnings...)
	}
	return finding.Dedupe(out)
}

// Exposure is what one history does to one attribute in one pack and orientation,
// as the fit over temperatures has it.
type Exposure struct {
	arrhenius.Exposure
	Name string // of the history
	// Supported is the shelf life that the attribute supports in that pack and
	// orientation, in months, and SupportedLeft what the history leaves of it: less
	// the most that it may be worth at the storage temperature. NaN where no shelf
	// life is supported or no storage temperature is stated.
	Supported, SupportedLeft float64
}

// judgeHistories completes the exposures and says what is not in them.
func (v *evaluator) judgeHistories(e *Evaluation) {
	for _, r := range e.Arrhenius {
		for i := range r.Exposures {
			x := &r.Exposures[i]
			x.Supported, x.SupportedLeft = math.NaN(), math.NaN()
			if e.Supported == nil {
				continue
			}
			for _, w := range e.Supported.Verdicts {
				if w.Attribute == r.Attribute && w.Pack == r.Pack && w.Orientation == r.Orientation {
					x.Supported = float64(w.Months)
					x.SupportedLeft = max(0, x.Supported-x.EquivalentHigh)
				}
			}
		}
		if r.Status != Fitted {
			e.Warnings = append(e.Warnings, finding.Warning{Code: "history-not-judged", Where: v.place(cell{r.Attribute, -1, r.Pack, r.Orientation}),
				Text: "Without a fit over temperatures, what the history does is not judged."})
		}
	}
	for a := range v.s.Attributes {
		at := &v.s.Attributes[a]
		if wanted(v.o.Attributes, a) && at.Kind != study.Measure && at.Kind != study.Weighing {
			e.Warnings = append(e.Warnings, finding.Warning{Code: "history-not-judged", Where: at.ID,
				Text: "Grades, and pass or fail, have no rate: what the history does is not judged."})
		}
	}
	e.Warnings = append(e.Warnings, finding.Warning{Code: "steady-conditions",
		Text: "The study held its temperatures steady. That what happens at one temperature adds to what happens at another, without any harm of the change itself, is assumed; and so is the humidity of storage, of which the history says nothing."})
}
