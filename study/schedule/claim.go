package schedule

import (
	"cmp"
	"math"
	"slices"

	"shelfspan/study"
)

// Claim is what the shelf life sought asks of the plan.
type Claim struct {
	Sought      study.Duration
	Months      float64
	Condition   int           // that stands for storage as labelled
	Storage     study.Storage // its class
	Support     Support       // where the accelerated condition shows no significant change
	AfterChange Support       // where it does, as far as the plan goes
}

// Support is the long-term data a claim needs under one rule: the smallest
// planned pull X whose data may be extended to the claim.
type Support struct {
	Rule     string         // the source: "ICH Q1E 2.4.1"
	Formula  string         // of the months supported at most: "2X, and at most X + 12"; empty where no rule limits it
	Reached  bool           // the plan has such a pull
	Time     study.Duration // X as planned; zero where not reached
	X        float64        // months; NaN where not reached
	AtMost   float64        // months that X supports at most; where not reached, those of the plan's last pull
	Date     study.Date     // the day the last batch is pulled for it, the accelerated data it rests on included; NoDate where not reached
	Observed bool           // X reaches the claim itself, nothing is extrapolated
}

// observedOnly is the formula of the rules that extend nothing.
const observedOnly = "X"

// Extends reports whether the rule lets a claim reach past the data.
func (s *Support) Extends() bool { return s.Formula != observedOnly }

// reach is how far beyond X a rule lets a claim go: factor·X, and at most X + beyond.
type reach struct {
	rule, formula  string
	factor, beyond float64
	accelerated    bool // it rests on six months at the accelerated condition
}

func (r reach) months(x float64) float64 { return min(r.factor*x, x+r.beyond) }

// claim works out which X the claim needs by ICH Q1E (2003) 2.4, 2.5 and
// Appendix A: room temperature 2X and at most X + 12 months with no significant
// change at the accelerated condition; with it, 1.5X and at most X + 6 where an
// intermediate condition shows none, else X; refrigerated 1.5X and at most
// X + 6, with significant change X; freezer X. Without six planned months at an
// accelerated condition nothing reaches beyond X, nor with significant change
// where storage itself is at about 30 °C.
func (p *Schedule) claim() *Claim {
	s := p.Study
	if s.Claim.IsZero() || s.StoreAt < 0 {
		return nil
	}
	storage := &s.Conditions[s.StoreAt]
	c := &Claim{Sought: s.Claim, Months: s.Claim.Months(0), Condition: s.StoreAt, Storage: study.StorageOf(storage.Temperature)}
	if s.Rules == study.NoRules {
		c.Support = Support{Rule: string(study.NoRules), X: math.NaN(), AtMost: math.Inf(1), Date: study.NoDate}
		c.AfterChange = c.Support
		return c
	}
	observed := func(rule string) reach { return reach{rule: rule, formula: observedOnly, factor: 1} }
	section := "ICH Q1E 2.4"
	if c.Storage == study.Refrigerated {
		section = "ICH Q1E 2.5.1"
	}
	var best, changed reach
	switch {
	case c.Storage == study.Freezer:
		best = observed("ICH Q1E 2.5.2")
		changed = best
	case p.sixMonthsAccelerated() == study.NoDate:
		best = observed(section)
		changed = best
	case c.Storage == study.Refrigerated:
		best = reach{section + ".1", "1.5X, and at most X + 6", 1.5, 6, true}
		changed = observed(section + ".2")
	default:
		best = reach{section + ".1", "2X, and at most X + 12", 2, 12, true}
		changed = observed(section + ".2")
		if len(s.IntermediateConditions()) > 0 {
			changed = reach{section + ".2.1", "1.5X, and at most X + 6", 1.5, 6, true}
		}
	}
	c.Support = p.support(c, best)
	c.AfterChange = p.support(c, changed)
	return c
}

// support finds the smallest planned X that reaches the claim under a rule.
func (p *Schedule) support(c *Claim, r reach) Support {
	condition := &p.Study.Conditions[c.Condition]
	times := slices.SortedFunc(slices.Values(condition.Pulls), func(a, b study.Duration) int {
		return cmp.Compare(condition.Months(a), condition.Months(b))
	})
	out := Support{Rule: r.rule, Formula: r.formula, X: math.NaN(), Date: study.NoDate}
	for _, t := range times {
		x := condition.Months(t)
		out.AtMost = r.months(x)
		if t.IsZero() || out.AtMost < c.Months-1e-9 {
			continue
		}
		out.Reached, out.Time, out.X, out.Observed = true, t, x, x >= c.Months-1e-9
		for i := range p.Pulls {
			if pull := &p.Pulls[i]; pull.Condition == c.Condition && pull.Time == t {
				out.Date = max(out.Date, pull.Date)
			}
		}
		if r.accelerated && !out.Observed {
			out.Date = max(out.Date, p.sixMonthsAccelerated())
		}
		break
	}
	return out
}

// sixMonthsAccelerated gives the day by which every batch has been pulled after
// at least six months at an accelerated condition, the earliest such; NoDate
// where the plan has none.
func (p *Schedule) sixMonthsAccelerated() study.Date {
	first := study.NoDate
	for _, c := range p.Study.AcceleratedConditions() {
		byBatches := make(map[study.Date]study.Date) // placement day → first pull at six months or later
		for i := range p.Pulls {
			pull := &p.Pulls[i]
			if pull.Condition != c || pull.Months < study.SixMonths {
				continue
			}
			if known, ok := byBatches[pull.Placed]; !ok || pull.Date < known {
				byBatches[pull.Placed] = pull.Date
			}
		}
		last := study.NoDate
		for _, d := range byBatches {
			last = max(last, d)
		}
		if last != study.NoDate && (first == study.NoDate || last < first) {
			first = last
		}
	}
	return first
}

func (p *Schedule) has(role study.Role) bool {
	return slices.ContainsFunc(p.Study.Conditions, func(c study.Condition) bool { return c.Role == role })
}
