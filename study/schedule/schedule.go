// Package schedule works out what a study asks of the lab: which samples are
// pulled on which day, how many units that takes, how full the chambers get,
// and when the data the claim needs will be there. It looks at no clock and
// reads no files: the same study always gives the same schedule.
//
// Counting units, by the sampling of each attribute:
//
//   - destructive: opens its units at every pull, time zero among them;
//   - shared: is measured on units that destructive tests open anyway, and on
//     those of other shared tests; so a pull opens the larger of the sum of the
//     destructive and the largest of the shared needs;
//   - returned: measures the same units every time and puts them back. Each
//     returned attribute has units of its own, stored once per arm. They are
//     read at time zero before they enter storage, so they are listed there as
//     returned, in the line of their batch and pack, but belong to the stored
//     units and not to the initial ones.
//
// An arm is one batch in one pack and orientation at one condition; it exists
// where some attribute is tested at a pull after time zero.
package schedule

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"shelfspan/study"
	"shelfspan/study/finding"
)

// Schedule is the plan of a study.
type Schedule struct {
	Study    *study.Study
	Pulls    []Pull // by date, then due date, condition and time
	Arms     []Arm  // by condition, batch, pack, orientation in the study's order
	Units    Units
	Chambers []Load // as the study lists them
	Claim    *Claim // nil where no shelf life is sought or no condition stands for storage
	Warnings []finding.Warning
	Cautions []finding.Warning // of safety; they defer to local codes, safety data sheets and qualified people
}

// Pull is one visit to a condition: the samples of one planned time, of the
// batches that were placed on the same day.
type Pull struct {
	ID        string // MB-26-25C60-3M; see ID
	Condition int    // index into the Study; -1 at time zero, which is before storage
	Time      study.Duration
	Months    float64    // planned
	Placed    study.Date // time zero of its batches
	Due       study.Date // by the calendar, before any shift
	Date      study.Date // after the shift onto a day with work
	Earliest  study.Date // Due less the days of its window
	Latest    study.Date // Due and the days of its window
	Lines     []Line     // by batch, pack, orientation; empty where nothing is tested
}

// Units gives the units opened at a pull.
func (p *Pull) Units() (n int) {
	for i := range p.Lines {
		n += p.Lines[i].Units
	}
	return n
}

// Returned gives the units measured at a pull and put back.
func (p *Pull) Returned() (n int) {
	for i := range p.Lines {
		n += p.Lines[i].Returned
	}
	return n
}

// Shifted gives the days from the due date to the date, negative where earlier.
func (p *Pull) Shifted() int { return int(p.Date - p.Due) }

// Line is what a pull takes from one arm; at time zero, from one batch and pack.
type Line struct {
	Batch, Pack int   // indices into the Study
	Orientation int   // index into the pack's Orientations; -1 at time zero of a pack with several
	Units       int   // opened
	Returned    int   // measured and put back
	Attributes  []int // indices of what is tested, ascending; shared between lines, not to be changed
}

// Arm is one batch in one pack and orientation at one condition.
type Arm struct {
	Condition, Batch, Pack, Orientation int
	Opened                              int // over all pulls after time zero
	Returned                            int // measured again and again, stored once
	Reserve                             int // stored beyond those planned
}

// Stored gives the units of the arm's plan: those opened and those returned,
// without the reserve.
func (a *Arm) Stored() int { return a.Opened + a.Returned }

// Units is what the whole study takes.
type Units struct {
	Initial     int   // opened at time zero, never stored
	Stored      int   // in the arms, without the reserve
	Reserve     int   // beyond them in the arms
	Retained    int   // kept back, neither stored in a chamber of the study nor pulled
	ByCondition []int // stored, by condition of the Study
}

// Needed gives the units the plan uses: initial and stored.
func (u Units) Needed() int { return u.Initial + u.Stored }

// Total gives the units to have at hand: needed, reserve and retained.
func (u Units) Total() int { return u.Initial + u.Stored + u.Reserve + u.Retained }

// Plan works out the schedule of a study.
func Plan(s *study.Study) *Schedule {
	p := &Schedule{Study: s}
	days := placementDays(s)
	p.pulls(days)
	p.arms()
	p.timeZero(days)
	p.Units.Retained = s.Samples.Retain * len(s.Batches) * len(s.Packs)
	slices.SortStableFunc(p.Pulls, func(a, b Pull) int {
		return cmp.Or(cmp.Compare(a.Date, b.Date), cmp.Compare(a.Due, b.Due),
			cmp.Compare(a.Condition, b.Condition), cmp.Compare(a.Months, b.Months))
	})
	p.loads()
	p.Claim = p.claim()
	p.checkPulls()
	p.checkChambers()
	p.checkDesign()
	p.caution()
	return p
}

// placementDays gives the distinct days batches enter storage, ascending.
func placementDays(s *study.Study) []study.Date {
	var days []study.Date
	for b := range s.Batches {
		days = append(days, s.TimeZero(b))
	}
	slices.Sort(days)
	return slices.Compact(days)
}

// ID names a pull so that people can read and type it: the study, the
// condition and the planned time, MB-26-25C60-3M; at time zero MB-26-T0. Pulls
// of batches placed on another day than the study's start end in that day,
// MB-26-25C60-3M-20250217. An id depends on nothing but these, so it stays as
// it is when conditions, times or batches are added.
func ID(s *study.Study, condition int, time study.Duration, placed study.Date) string {
	parts := []string{s.ID}
	if condition < 0 {
		parts = append(parts, "T0")
	} else {
		parts = append(parts, s.Conditions[condition].ID, time.String())
	}
	if placed != s.Start {
		parts = append(parts, strings.ReplaceAll(placed.String(), "-", ""))
	}
	return strings.Join(parts, "-")
}

// pulls lays out the pulls after time zero, with their dates and lines.
func (p *Schedule) pulls(days []study.Date) {
	s := p.Study
	w := newWorkdays(&s.Calendar)
	for c := range s.Conditions {
		condition := &s.Conditions[c]
		needs := needsOfPacks(s, func(pack, attribute int) bool {
			return s.Attributes[attribute].At(c, pack)
		})
		for _, time := range distinct(condition.Pulls) {
			if time.IsZero() {
				continue
			}
			window := study.Date(s.WindowOf(time, condition.CycleHours))
			for _, placed := range days {
				due := time.AddTo(placed, condition.CycleHours)
				pull := Pull{
					ID: ID(s, c, time, placed), Condition: c, Time: time, Months: condition.Months(time),
					Placed: placed, Due: due, Date: w.shift(due, placed+1),
					Earliest: due - window, Latest: due + window,
				}
				for b := range s.Batches {
					if s.TimeZero(b) != placed {
						continue
					}
					for k := range s.Packs {
						n := needs[k]
						if len(n.attributes) == 0 {
							continue
						}
						for o := range s.Packs[k].Orientations {
							pull.Lines = append(pull.Lines, Line{
								Batch: b, Pack: k, Orientation: o,
								Units: n.opened, Returned: n.returned, Attributes: n.attributes,
							})
						}
					}
				}
				p.Pulls = append(p.Pulls, pull)
			}
		}
	}
}

// arms adds up what the pulls laid out so far take from each arm.
func (p *Schedule) arms() {
	s := p.Study
	at := make(map[[4]int]int)
	for i := range p.Pulls {
		pull := &p.Pulls[i]
		for _, l := range pull.Lines {
			key := [4]int{pull.Condition, l.Batch, l.Pack, l.Orientation}
			j, known := at[key]
			if !known {
				j = len(p.Arms)
				at[key] = j
				p.Arms = append(p.Arms, Arm{
					Condition: pull.Condition, Batch: l.Batch, Pack: l.Pack, Orientation: l.Orientation,
					Returned: l.Returned,
				})
			}
			p.Arms[j].Opened += l.Units
		}
	}
	slices.SortFunc(p.Arms, func(a, b Arm) int {
		return cmp.Or(cmp.Compare(a.Condition, b.Condition), cmp.Compare(a.Batch, b.Batch),
			cmp.Compare(a.Pack, b.Pack), cmp.Compare(a.Orientation, b.Orientation))
	})
	p.Units.ByCondition = make([]int, len(s.Conditions))
	for i := range p.Arms {
		a := &p.Arms[i]
		a.Reserve = reserve(a.Stored(), s.Samples.ReservePercent)
		p.Units.Stored += a.Stored()
		p.Units.Reserve += a.Reserve
		p.Units.ByCondition[a.Condition] += a.Stored()
	}
}

// reserve gives percent of the stored units, rounded up; what floating point
// adds to a whole number does not round it up once more.
func reserve(stored int, percent float64) int {
	return int(math.Ceil(float64(stored)*percent/100 - 1e-9))
}

// timeZero adds the pull at time zero of each placement day: the tests of every
// attribute that some condition listing time zero asks for, once for each batch
// and pack.
func (p *Schedule) timeZero(days []study.Date) {
	s := p.Study
	var listed []int
	for c := range s.Conditions {
		if slices.ContainsFunc(s.Conditions[c].Pulls, study.Duration.IsZero) {
			listed = append(listed, c)
		}
	}
	if len(listed) == 0 {
		return
	}
	initially := func(pack, attribute int) bool {
		return slices.ContainsFunc(listed, func(c int) bool { return s.Attributes[attribute].At(c, pack) })
	}
	needs := needsOfPacks(s, initially)

	// The returned units of all arms of a batch and pack are read as they are placed.
	returned := make(map[[2]int]int)
	for i := range p.Arms {
		a := &p.Arms[i]
		for j := range s.Attributes {
			attribute := &s.Attributes[j]
			if attribute.Sampling == study.Returned && attribute.At(a.Condition, a.Pack) && initially(a.Pack, j) {
				returned[[2]int{a.Batch, a.Pack}] += attribute.Units
			}
		}
	}

	w := newWorkdays(&s.Calendar)
	window := study.Date(s.WindowOf(study.Duration{}, 0))
	for _, placed := range days {
		pull := Pull{
			ID: ID(s, -1, study.Duration{}, placed), Condition: -1, Placed: placed,
			Due: placed, Date: w.shift(placed, placed-farthest), Earliest: placed - window, Latest: placed + window,
		}
		for b := range s.Batches {
			if s.TimeZero(b) != placed {
				continue
			}
			for k := range s.Packs {
				n := needs[k]
				if len(n.attributes) == 0 {
					continue
				}
				orientation := -1
				if len(s.Packs[k].Orientations) == 1 {
					orientation = 0
				}
				line := Line{
					Batch: b, Pack: k, Orientation: orientation,
					Units: n.opened, Returned: returned[[2]int{b, k}], Attributes: n.attributes,
				}
				p.Units.Initial += line.Units
				pull.Lines = append(pull.Lines, line)
			}
		}
		p.Pulls = append(p.Pulls, pull)
	}
}

// needs is what one pull takes from one arm.
type needs struct {
	opened, returned int
	attributes       []int
}

// needsOfPacks gives, by pack, what a pull takes at which the attributes are
// tested that tested names.
func needsOfPacks(s *study.Study, tested func(pack, attribute int) bool) []needs {
	out := make([]needs, len(s.Packs))
	for k := range s.Packs {
		n := &out[k]
		destructive, shared := 0, 0
		for j := range s.Attributes {
			if !tested(k, j) {
				continue
			}
			n.attributes = append(n.attributes, j)
			a := &s.Attributes[j]
			switch a.Sampling {
			case study.Shared:
				shared = max(shared, a.Units)
			case study.Returned:
				n.returned += a.Units
			default:
				destructive += a.Units
			}
		}
		n.opened = max(destructive, shared)
	}
	return out
}

// distinct leaves out repeats of a planned time.
func distinct(times []study.Duration) []study.Duration {
	out := make([]study.Duration, 0, len(times))
	for _, t := range times {
		if !slices.Contains(out, t) {
			out = append(out, t)
		}
	}
	return out
}

// ArmName gives the words that name what a line is taken from, as far as they
// tell it apart: "B1 tube inverted".
func (p *Schedule) ArmName(batch, pack, orientation int) string {
	parts := []string{p.Study.Batches[batch].ID}
	k := &p.Study.Packs[pack]
	if k.ID != "" {
		parts = append(parts, k.ID)
	}
	if orientation >= 0 && len(k.Orientations) > 1 {
		parts = append(parts, string(k.Orientations[orientation]))
	}
	return strings.Join(parts, " ")
}

// ConditionName gives a condition's id, or "initial" for time zero.
func (p *Schedule) ConditionName(condition int) string {
	if condition < 0 {
		return "initial"
	}
	return p.Study.Conditions[condition].ID
}

func (p *Schedule) warn(code, where, format string, args ...any) {
	p.Warnings = append(p.Warnings, finding.Warning{Code: code, Where: where, Text: fmt.Sprintf(format, args...)})
}
