package words

import (
	"fmt"

	"shelfspan/study/schedule"
)

// Plan says in a few sentences what a schedule asks for and when the claim can
// first be supported.
func Plan(p *schedule.Schedule) []string {
	if len(p.Pulls) == 0 {
		return []string{"The study file plans no pulls."}
	}
	first, last := &p.Pulls[0], &p.Pulls[len(p.Pulls)-1]
	u := p.Units
	units := fmt.Sprintf("The plan uses %s: %d at time zero and %d stored", Count(u.Needed(), "unit"), u.Initial, u.Stored)
	switch {
	case u.Reserve > 0 && u.Retained > 0:
		units += fmt.Sprintf("; with %d in reserve and %d retained, %d are to be filled", u.Reserve, u.Retained, u.Total())
	case u.Reserve > 0:
		units += fmt.Sprintf("; with %d in reserve, %d are to be filled", u.Reserve, u.Total())
	case u.Retained > 0:
		units += fmt.Sprintf("; with %d retained, %d are to be filled", u.Retained, u.Total())
	}
	out := []string{fmt.Sprintf("%s from %s to %s.", Count(len(p.Pulls), "pull"), first.Date, last.Date), units + "."}
	return append(out, PlannedClaim(p)...)
}

// PlannedClaim says which planned data the claim needs and when they are there;
// nothing where no shelf life is sought.
func PlannedClaim(p *schedule.Schedule) []string {
	c := p.Claim
	if c == nil {
		return nil
	}
	condition := p.Study.Conditions[c.Condition].ID
	if c.Support.Formula == "" {
		return []string{fmt.Sprintf("The claim is %s at %s. The study file sets no rule on how far it may reach past the data.", c.Sought, condition)}
	}
	best := fmt.Sprintf("The claim of %s at %s %s.", c.Sought, condition, planned(c.Support))
	if c.Support.Reached {
		best += " That is the earliest; whether it is supported, the results decide."
	}
	out := []string{best}
	if c.AfterChange.Rule != c.Support.Rule {
		out = append(out, fmt.Sprintf("If the accelerated condition shows a significant change%s, it %s.", provided(c), planned(c.AfterChange)))
	}
	return out
}

// planned says what a claim needs under a rule.
func planned(s schedule.Support) string {
	switch {
	case !s.Reached:
		return fmt.Sprintf("is out of this plan's reach, whose data support %s months at most (%s)", Planned(s.AtMost), ruleOf(s))
	case s.Observed:
		return fmt.Sprintf("needs data over its whole length, %s months: the %s pull, made by %s (%s)", Planned(s.X), s.Time, s.Date, ruleOf(s))
	}
	return fmt.Sprintf("needs %s months of data: the %s pull, made by %s (%s)", Planned(s.X), s.Time, s.Date, ruleOf(s))
}

// provided adds what the rule after a significant change rests on besides.
func provided(c *schedule.Claim) string {
	if c.AfterChange.Extends() {
		return " and the intermediate one none"
	}
	return ""
}

func ruleOf(s schedule.Support) string {
	if !s.Extends() {
		return s.Rule + ": as far as the data reach"
	}
	return s.Rule + ": " + s.Formula
}
