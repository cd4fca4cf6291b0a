package ledger

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/protocol"
	"shelfspan/study/schedule"
)

// RegisterOutcome is what became of a study file.
type RegisterOutcome struct {
	study.Registration
	Study    *study.Study
	Schedule *schedule.Schedule
	Behind   bool // the clock of this machine is behind the ledger's last event
}

// Register takes a study file in: the first version of a study's protocol, or the
// next one, which needs a reason. The results taken in so far must be readable
// under it. The error is a *finding.Faults of the study file, or of the results
// that do not fit it, a *Refusal or a *Trouble.
func (l *Ledger) Register(ctx context.Context, a Author, name string, data []byte, reason string) (*RegisterOutcome, error) {
	s, err := protocol.Read(name, data)
	if err != nil {
		return nil, err
	}
	if err := errors.Join(checkText("the name of the file", name, 500), checkText("the reason", reason, 1000)); err != nil {
		return nil, err
	}
	out := &RegisterOutcome{}
	err = l.write(ctx, a, func(w *writing) error {
		*out = RegisterOutcome{Study: s, Schedule: schedule.Plan(s), Behind: w.behind}
		out.Ledger, out.Version = l.name, 1
		return w.register(out, name, data, reason)
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

func (w *writing) register(out *RegisterOutcome, name string, data []byte, reason string) error {
	s := out.Study
	ids, err := w.studies(w.head.Seq)
	if err != nil {
		return err
	}
	for _, id := range ids {
		if id != s.ID && strings.EqualFold(id, s.ID) {
			return refuse("write the id as it is there, or give the study another", "the ledger has a study %s, which differs from %s only in its case", id, s.ID)
		}
	}
	plan := writePlan(out.Schedule)
	if err := w.checkPullIDs(s.ID, string(plan), ids); err != nil {
		return err
	}
	if slices.Contains(ids, s.ID) {
		x, err := w.record(s.ID, w.head.Seq)
		if err != nil {
			return err
		}
		current := x.Versions[len(x.Versions)-1]
		out.Version = current.Number
		if current.Event.File == fileSum(data) {
			out.Known, out.Event = true, current.Event
			return nil
		}
		if err := needReason(fmt.Sprintf("a change of the protocol of %s, which stands at version %d,", s.ID, current.Number), reason); err != nil {
			return err
		}
		if err := w.tables(x); err != nil {
			return err
		}
		var faults *finding.Faults
		if _, _, err := x.read(s); errors.As(err, &faults) {
			faults.Hint = "results that were taken in would not be read under this version; keep the ids and kinds they use, and change the rest"
			return faults
		} else if err != nil {
			return err
		}
		out.Version++
		if err := w.compare(out, x, current); err != nil {
			return err
		}
	}
	planSum, err := w.store(plan)
	if err != nil {
		return err
	}
	sum, err := w.store(data)
	if err != nil {
		return err
	}
	out.Event, err = w.append(Event{Kind: study.EventRegister, Study: s.ID, Subject: strconv.Itoa(out.Version), Reason: reason, File: sum}, registerDetail{
		Name: name, Version: out.Version, Pulls: strings.Count(string(plan), "\n") - 1, Plan: planSum,
	})
	return err
}

// checkPullIDs refuses a plan with a pull that another study plans under the same
// id: people name a pull without its study. It takes one id that begins the other,
// as SB with a condition 2-25C60 and SB-2 with a condition 25C60.
func (w *writing) checkPullIDs(id, plan string, others []string) error {
	begins := func(start, all string) bool {
		return len(all) > len(start) && all[len(start)] == '-' && strings.EqualFold(all[:len(start)], start)
	}
	for _, other := range others {
		if !begins(id, other) && !begins(other, id) {
			continue
		}
		in, err := w.events(`WHERE kind = $1 AND study = $2 ORDER BY seq DESC LIMIT 1`, string(study.EventRegister), other)
		if err != nil {
			return err
		}
		theirs, err := w.plan(in[0])
		if err != nil {
			return err
		}
		planned := make(map[string]bool)
		if err := eachPlanned(theirs, farAway, func(p plannedPull) { planned[strings.ToLower(p.pull)] = true }); err != nil {
			return err
		}
		both := ""
		if err := eachPlanned(plan, farAway, func(p plannedPull) {
			if both == "" && planned[strings.ToLower(p.pull)] {
				both = p.pull
			}
		}); err != nil {
			return err
		}
		if both != "" {
			return refuse("give the study or its condition another id", "the ledger has a pull %s of study %s, and %s would have it, too", both, other, id)
		}
	}
	return nil
}

// compare says how the pulls differ from those of the version before.
func (w *writing) compare(out *RegisterOutcome, x *Record, before Version) error {
	planned := make(map[string]plannedPull)
	old, err := w.plan(before.Event)
	if err != nil {
		return err
	}
	if err := eachPlanned(old, farAway, func(p plannedPull) { planned[p.pull] = p }); err != nil {
		return err
	}
	if err := eachPlanned(string(writePlan(out.Schedule)), farAway, func(p plannedPull) {
		was, known := planned[p.pull]
		switch {
		case !known:
			out.Added = append(out.Added, p.pull)
		case was.date != p.date:
			out.Moved = append(out.Moved, p.pull)
		}
		delete(planned, p.pull)
	}); err != nil {
		return err
	}
	for id := range planned {
		out.Dropped = append(out.Dropped, id)
		if x.already(id) != "" {
			out.DroppedTaken = append(out.DroppedTaken, id)
		}
	}
	slices.Sort(out.Dropped)
	slices.Sort(out.DroppedTaken)
	return nil
}
