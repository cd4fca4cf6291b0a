package dossier

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"shelfspan/reports/words"
	"shelfspan/study"
)

// Protocol tabulates what was to be done: conditions, batches, packs, attributes.
func (in Input) Protocol() []Grid {
	return []Grid{in.conditions(), in.batches(), in.packs(), in.attributes()}
}

// Facts are the claim and its setting, in the order of words.HeadsFacts.
func (in Input) Facts() []string {
	e := in.Evaluation
	s := e.Dataset.Study
	claim, storage, rules := "none stated", "none named", "ICH Q1E limits of extrapolation"
	if m := in.Claim(); !math.IsNaN(m) {
		claim = words.Planned(m) + " months"
	}
	if s.StoreAt >= 0 {
		storage = words.Storage(s)
	}
	if s.Rules == study.NoRules {
		rules = "none: extrapolation is not capped"
	}
	return []string{claim, storage, rules, words.Percent(e.Confidence), words.Planned(float64(len(s.Batches)))}
}

func (in Input) conditions() Grid {
	s := in.Evaluation.Dataset.Study
	g := Grid{
		Caption: words.CaptionConditions, Named: 1, Ordered: true,
		Columns: slices.Concat(Texts(words.HeadsConditions[:2]...), Numbers(words.HeadsConditions[2:4]...), Texts(words.HeadsConditions[4:]...)),
	}
	for i := range s.Conditions {
		c := &s.Conditions[i]
		var pulls []string
		for _, p := range c.Pulls {
			pulls = append(pulls, p.String())
		}
		id, chamber := c.ID, "–"
		if c.Chamber >= 0 {
			chamber = s.Chambers[c.Chamber].ID
		}
		if i == s.StoreAt {
			id += " *"
		}
		g.add(id, string(c.Role), words.Tolerated(c.Temperature, c.TemperatureTolerance), words.Tolerated(c.Humidity, c.HumidityTolerance),
			strings.Join(pulls, " "), chamber)
	}
	if s.StoreAt >= 0 {
		g.Notes = []string{"* stands for storage as labelled."}
	}
	return g
}

func (in Input) batches() Grid {
	s := in.Evaluation.Dataset.Study
	g := Grid{Caption: words.CaptionBatches, Named: 1, Ordered: true, Columns: Texts(words.HeadsBatches...)}
	for i := range s.Batches {
		b := &s.Batches[i]
		var factors []string
		for _, f := range b.Factors {
			factors = append(factors, f.Name+": "+f.Level)
		}
		g.add(b.ID, dash(b.Scale), dash(b.Lot), dash(b.Size), dash(b.Made.String()), s.TimeZero(i).String(), dash(strings.Join(factors, ", ")))
	}
	return g
}

// packs has no rows where the study has one pack without a name.
func (in Input) packs() Grid {
	s := in.Evaluation.Dataset.Study
	g := Grid{
		Caption: words.CaptionPacks, Named: 1, Ordered: true,
		Columns: slices.Concat(Texts(words.HeadsPacks[:4]...), Numbers(words.HeadsPacks[4:]...)),
	}
	for i := range s.Packs {
		p := &s.Packs[i]
		if len(s.Packs) == 1 && p.ID == "" {
			break
		}
		var orientations []string
		for _, o := range p.Orientations {
			orientations = append(orientations, string(o))
		}
		g.add(p.ID, dash(p.Description), strings.Join(orientations, ", "), dash(words.PackKinds(p)), months(p.NetFill, words.Planned), months(p.WaterPercent, words.Planned))
	}
	return g
}

func (in Input) attributes() Grid {
	s := in.Evaluation.Dataset.Study
	g := Grid{
		Caption: words.CaptionAttributes, Named: 1, Ordered: true,
		Columns: Texts(words.HeadsAttributes...),
	}
	for i := range s.Attributes {
		a := &s.Attributes[i]
		g.add(a.ID, dash(words.MeasuredIn(a)), string(a.Kind), words.Criterion(a), words.ModelAsked(a), words.Sampling(a), words.ReportedTo(a))
		g.Notes = append(g.Notes, words.Particulars(a)...)
	}
	return g
}

// PullsMade tabulates how far the plan has come; it has no rows without a plan.
func (in Input) PullsMade() Grid {
	all, note := in.Pulls()
	g := Grid{
		Caption: "Pulls, planned and made", Named: 2, Notes: []string{note},
		Columns: Texts(words.HeadsPulls...),
	}
	for _, p := range all {
		g.add(p.Time, p.Condition, p.Planned, p.Window, p.Pulled, p.Tested, p.State)
	}
	return g
}

// Deviations lists the pulls whose record departs from the plan.
func (in Input) Deviations() Grid {
	d := in.Evaluation.Dataset
	g := Grid{Caption: "Deviations of the pulls, and notes", Named: 1, Columns: Texts("Pull", "Day", "Recorded by", "What", "Reason", "Note")}
	for i := range d.Pulls {
		if r := &d.Pulls[i]; words.Departs(r) {
			g.add(r.Pull, r.Day.String(), r.By, dash(words.Departure(r)), dash(r.Reason), dash(r.Note))
		}
	}
	return g
}

// Versions lists the versions of the protocol; none where it comes from a file.
func (in Input) Versions() Grid {
	g := Grid{Caption: words.CaptionVersions, Named: 1, Ordered: true, Columns: Texts(words.HeadsVersions...)}
	for _, v := range in.Evaluation.Dataset.Protocols {
		g.add(fmt.Sprint(v.Version), v.Name, dash(v.Reason), words.Recorded(v.Event, v.At, v.By))
	}
	return g
}

// Changed lists the results that were amended or taken out of the analysis.
func (in Input) Changed() Grid {
	d := in.Evaluation.Dataset
	g := Grid{
		Caption: words.SectionChanges.Title(), Named: 1, Notes: []string{words.ChangesNote},
		Columns: slices.Concat(Texts("Result", "Of", "Change"), Numbers("Was", "Is"), Texts("Reason", "Event, when, by")),
	}
	for i := range d.Changes {
		c := &d.Changes[i]
		g.add(c.ID, words.Result(d, &c.Result), words.ChangeKind(c), dash(c.Before), dash(c.After), c.Reason, words.Changed(d, c))
	}
	return g
}
