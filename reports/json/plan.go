package json

import (
	"math"
	"slices"

	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/schedule"
)

// Plan is the answer of plan. Its warnings hold the cautions too.
type Plan struct {
	Answer
	Study    string        `json:"study"`
	Pulls    []Pull        `json:"pulls"`
	Units    PlannedUnits  `json:"units"`
	Chambers []ChamberLoad `json:"chambers"`
	Claim    *PlannedClaim `json:"claim"`
}

// Pull is one visit to a condition. Units of a line are opened, returned ones
// measured and put back; the pull at time zero has no condition, and so no
// chamber.
type Pull struct {
	ID        string     `json:"id"`
	Condition *string    `json:"condition"`
	Chamber   *string    `json:"chamber"`
	Time      string     `json:"time"`
	Months    Number     `json:"months"`
	Placed    string     `json:"placed"`
	Due       string     `json:"due"`
	Date      string     `json:"date"`
	Earliest  string     `json:"earliest"`
	Latest    string     `json:"latest"`
	Units     int        `json:"units"`
	Returned  int        `json:"returned"`
	Lines     []PullLine `json:"lines"`
}

// PullLine is what a pull takes from one arm; at time zero from one batch and
// pack, where a pack of several orientations has none yet.
type PullLine struct {
	Batch       string   `json:"batch"`
	Pack        string   `json:"pack"`
	Orientation *string  `json:"orientation"`
	Units       int      `json:"units"`
	Returned    int      `json:"returned"`
	Attributes  []string `json:"attributes"`
}

// PlannedUnits is what the study takes: needed is initial and stored, total
// adds the reserve and the retained.
type PlannedUnits struct {
	Needed      int             `json:"needed"`
	Initial     int             `json:"initial"`
	Stored      int             `json:"stored"`
	Reserve     int             `json:"reserve"`
	Retained    int             `json:"retained"`
	Total       int             `json:"total"`
	ByCondition map[string]int  `json:"by_condition"`
	ByBatch     []BatchAndPack  `json:"by_batch_and_pack"`
	Arms        []UnitsOfOneArm `json:"arms"`
}

// BatchAndPack is how many units of one batch are to be filled into one pack.
type BatchAndPack struct {
	Batch    string `json:"batch"`
	Pack     string `json:"pack"`
	Initial  int    `json:"initial"`
	Stored   int    `json:"stored"`
	Reserve  int    `json:"reserve"`
	Retained int    `json:"retained"`
	Total    int    `json:"total"`
}

// UnitsOfOneArm is what is stored of one batch in one pack and orientation at
// one condition.
type UnitsOfOneArm struct {
	Condition   string `json:"condition"`
	Batch       string `json:"batch"`
	Pack        string `json:"pack"`
	Orientation string `json:"orientation"`
	Stored      int    `json:"stored"`
	Returned    int    `json:"returned"`
	Reserve     int    `json:"reserve"`
}

// ChamberLoad is how full a chamber gets. A level is what it holds once a
// day's samples are placed, and what is left after that day's pulls.
type ChamberLoad struct {
	ID       string         `json:"id"`
	Peak     int            `json:"peak"`
	PeakDate *string        `json:"peak_date"`
	Capacity *int           `json:"capacity"`
	Levels   []ChamberLevel `json:"levels"`
}

// ChamberLevel is a chamber's load on one day.
type ChamberLevel struct {
	Date string `json:"date"`
	Held int    `json:"held"`
	Left int    `json:"left"`
}

// PlannedClaim is the data the claim needs: with no significant change at the
// accelerated condition, and with it.
type PlannedClaim struct {
	Sought      string  `json:"sought"`
	Months      Number  `json:"months"`
	Condition   string  `json:"condition"`
	Storage     string  `json:"storage"`
	Support             // with no significant change
	AfterChange Support `json:"after_significant_change"`
}

// Support is the smallest planned pull whose data may be extended to the claim;
// needs is null where the plan has none, or where no rule limits the claim.
type Support struct {
	Needs       *string `json:"needs"`
	NeedsMonths Number  `json:"needs_months"`
	AtMost      Number  `json:"at_most_months"`
	Rule        string  `json:"rule"`
	Formula     string  `json:"formula"`
	Date        *string `json:"date"`
}

// PlanWarnings joins the warnings of a schedule with its cautions.
func PlanWarnings(p *schedule.Schedule) []finding.Warning {
	return slices.Concat(p.Warnings, p.Cautions)
}

// NewPlan builds the answer of plan from a schedule.
func NewPlan(head Answer, p *schedule.Schedule) Plan {
	s := p.Study
	out := Plan{
		Answer: head, Study: s.ID, Pulls: make([]Pull, 0, len(p.Pulls)), Chambers: []ChamberLoad{},
		Units: PlannedUnits{
			Needed: p.Units.Needed(), Initial: p.Units.Initial, Stored: p.Units.Stored, Reserve: p.Units.Reserve,
			Retained: p.Units.Retained, Total: p.Units.Total(), ByCondition: map[string]int{}, ByBatch: []BatchAndPack{}, Arms: []UnitsOfOneArm{},
		},
	}
	for i := range p.Pulls {
		out.Pulls = append(out.Pulls, newPull(s, &p.Pulls[i]))
	}
	for c, n := range p.Units.ByCondition {
		out.Units.ByCondition[s.Conditions[c].ID] = n
	}
	for _, x := range p.Shares() {
		out.Units.ByBatch = append(out.Units.ByBatch, BatchAndPack{
			s.Batches[x.Batch].ID, s.Packs[x.Pack].ID, x.Initial, x.Stored, x.Reserve, x.Retained, x.Total(),
		})
	}
	for i := range p.Arms {
		a := &p.Arms[i]
		out.Units.Arms = append(out.Units.Arms, UnitsOfOneArm{
			s.Conditions[a.Condition].ID, s.Batches[a.Batch].ID, s.Packs[a.Pack].ID, orientation(s, a.Pack, a.Orientation),
			a.Stored(), a.Returned, a.Reserve,
		})
	}
	for i := range p.Chambers {
		out.Chambers = append(out.Chambers, newChamberLoad(s, &p.Chambers[i]))
	}
	if c := p.Claim; c != nil {
		out.Claim = &PlannedClaim{
			Sought: c.Sought.String(), Months: Number(c.Months), Condition: s.Conditions[c.Condition].ID, Storage: string(c.Storage),
			Support: newSupport(c.Support), AfterChange: newSupport(c.AfterChange),
		}
	}
	return out
}

func newPull(s *study.Study, x *schedule.Pull) Pull {
	out := Pull{
		ID: x.ID, Time: x.Time.String(), Months: Number(x.Months), Placed: x.Placed.String(),
		Due: x.Due.String(), Date: x.Date.String(), Earliest: x.Earliest.String(), Latest: x.Latest.String(),
		Units: x.Units(), Returned: x.Returned(), Lines: make([]PullLine, 0, len(x.Lines)),
	}
	if x.Condition >= 0 {
		c := &s.Conditions[x.Condition]
		out.Condition = &c.ID
		if c.Chamber >= 0 {
			out.Chamber = &s.Chambers[c.Chamber].ID
		}
	}
	for _, l := range x.Lines {
		line := PullLine{Batch: s.Batches[l.Batch].ID, Pack: s.Packs[l.Pack].ID, Units: l.Units, Returned: l.Returned, Attributes: []string{}}
		if l.Orientation >= 0 {
			o := orientation(s, l.Pack, l.Orientation)
			line.Orientation = &o
		}
		for _, a := range l.Attributes {
			line.Attributes = append(line.Attributes, s.Attributes[a].ID)
		}
		out.Lines = append(out.Lines, line)
	}
	return out
}

func newChamberLoad(s *study.Study, l *schedule.Load) ChamberLoad {
	chamber := &s.Chambers[l.Chamber]
	out := ChamberLoad{ID: chamber.ID, Peak: l.Peak, PeakDate: newDay(l.PeakDate), Levels: make([]ChamberLevel, 0, len(l.Levels))}
	if chamber.Capacity > 0 {
		out.Capacity = &chamber.Capacity
	}
	for _, v := range l.Levels {
		out.Levels = append(out.Levels, ChamberLevel{v.Date.String(), v.Held, v.Left})
	}
	return out
}

func newSupport(x schedule.Support) Support {
	out := Support{NeedsMonths: Number(math.NaN()), AtMost: Number(x.AtMost), Rule: x.Rule, Formula: x.Formula, Date: newDay(x.Date)}
	if x.Reached {
		needs := x.Time.String()
		out.Needs, out.NeedsMonths = &needs, Number(x.X)
	}
	return out
}

// newDay gives a day as text, null where there is none.
func newDay(d study.Date) *string {
	if d == study.NoDate {
		return nil
	}
	t := d.String()
	return &t
}
