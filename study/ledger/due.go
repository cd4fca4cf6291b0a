package ledger

import (
	"cmp"
	"context"
	"encoding/json"
	"slices"
	"strings"

	"shelfspan/study"
	"shelfspan/study/schedule"
)

// Due gives the pulls planned up to a day, over all studies or those named, that
// are not wholly taken, by day, chamber and id.
func (l *Ledger) Due(ctx context.Context, upTo study.Date, studies ...string) ([]schedule.Due, error) {
	var out []schedule.Due
	err := l.read(ctx, func(r *reading) (err error) {
		out, err = r.due(upTo, studies)
		return err
	})
	return out, err
}

func (r *reading) due(upTo study.Date, only []string) ([]schedule.Due, error) {
	last, err := r.resolve(AsOf{})
	if err != nil {
		return nil, err
	}
	known, err := r.studies(last)
	if err != nil {
		return nil, err
	}
	for _, id := range only {
		if !slices.Contains(known, id) {
			return nil, r.unknownStudy(id, last)
		}
	}
	plans, err := r.plans()
	if err != nil {
		return nil, err
	}
	taken, err := r.taken()
	if err != nil {
		return nil, err
	}
	inPart, err := r.inPart()
	if err != nil {
		return nil, err
	}
	var out []schedule.Due
	for _, p := range plans {
		if len(only) > 0 && !slices.Contains(only, p.study) {
			continue
		}
		done := make(map[string]bool, len(taken[p.study]))
		for _, id := range taken[p.study] {
			done[id] = true
		}
		var partly []int // of out
		err := eachPlanned(p.plan, upTo, func(x plannedPull) {
			if done[x.pull] {
				return
			}
			if inPart[x.pull] {
				partly = append(partly, len(out))
			}
			out = append(out, x.due(p.study))
		})
		if err != nil {
			return nil, damagedPlan(p.study, err)
		}
		if len(partly) == 0 {
			continue
		}
		x, err := r.record(p.study, last)
		if err != nil {
			return nil, err
		}
		for _, i := range partly {
			out[i].Units, out[i].Returned, out[i].Part = x.progress().StillToTake(out[i].Pull)
		}
	}
	slices.SortFunc(out, func(a, b schedule.Due) int {
		return cmp.Or(cmp.Compare(a.Date, b.Date), strings.Compare(a.Chamber, b.Chamber), strings.Compare(a.Pull, b.Pull))
	})
	return out, nil
}

// Planned gives every pull of the protocols in force, taken or not, over all
// studies or those named, by study and day. Units and Returned are those planned.
func (l *Ledger) Planned(ctx context.Context, studies ...string) ([]schedule.Due, error) {
	var out []schedule.Due
	err := l.read(ctx, func(r *reading) error {
		plans, err := r.plans()
		if err != nil {
			return err
		}
		for _, p := range plans {
			if len(studies) > 0 && !slices.Contains(studies, p.study) {
				continue
			}
			err := eachPlanned(p.plan, farAway, func(x plannedPull) { out = append(out, x.due(p.study)) })
			if err != nil {
				return damagedPlan(p.study, err)
			}
		}
		return nil
	})
	return out, err
}

func (x plannedPull) due(id string) schedule.Due {
	return schedule.Due{
		Study: id, Pull: x.pull, Condition: x.condition, Chamber: x.chamber, Time: x.time,
		Date: x.date, Earliest: x.earliest, Latest: x.latest, Units: x.units, Returned: x.returned,
	}
}

func damagedPlan(id string, err error) error {
	return &Trouble{Text: "the stored plan of study " + id + " is damaged", Hint: "shelfspan audit --verify tells more", Err: err}
}

// studyPlan is the stored plan of a study's protocol in force.
type studyPlan struct{ study, plan string }

func (r *reading) plans() ([]studyPlan, error) {
	registered, err := r.events(`WHERE kind = $1 AND seq IN (SELECT max(seq) FROM event WHERE kind = $1 GROUP BY study)`, string(study.EventRegister))
	if err != nil {
		return nil, err
	}
	out := make([]studyPlan, 0, len(registered))
	for _, e := range registered {
		plan, err := r.plan(e)
		if err != nil {
			return nil, err
		}
		out = append(out, studyPlan{e.Study, plan})
	}
	return out, nil
}

// plan gives the plan that was stored when a version was registered.
func (r *reading) plan(registered Event) (string, error) {
	var d registerDetail
	if err := json.Unmarshal([]byte(registered.Detail), &d); err != nil {
		return "", err
	}
	data, err := r.file(d.Plan)
	return string(data), err
}

// inPart gives the pulls of which something was taken in part, at any time. The
// index alone answers it: a ledger that has lived has more parts than pulls due.
func (r *reading) inPart() (map[string]bool, error) {
	rows, err := r.tx.QueryContext(r.ctx, `SELECT DISTINCT study, subject FROM event WHERE kind = $1`, string(study.EventPullPart))
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	out := make(map[string]bool)
	for rows.Next() {
		var id, pull string
		if err := rows.Scan(&id, &pull); err != nil {
			return nil, err
		}
		out[pull] = true
	}
	return out, rows.Err()
}

// taken gives, by study, the pulls that are wholly taken and not withdrawn
// since.
func (r *reading) taken() (map[string][]string, error) {
	// One row a study: a row for each pull ever made would take the most of the time.
	rows, err := r.tx.QueryContext(r.ctx, `SELECT study, string_agg(subject, ',') FROM event WHERE kind = $1 GROUP BY study`, string(study.EventPull))
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	out := make(map[string][]string)
	for rows.Next() {
		var id, pulls string
		if err := rows.Scan(&id, &pulls); err != nil {
			return nil, err
		}
		out[id] = strings.Split(pulls, ",")
	}
	if err := rows.Err(); err != nil {
		return nil, err
	}
	withdrawn, err := r.events(`WHERE kind = $1 ORDER BY seq`, string(study.EventPullWithdrawn))
	if err != nil {
		return nil, err
	}
	for _, e := range withdrawn {
		var since int64
		if err := r.tx.QueryRowContext(r.ctx, `SELECT coalesce(max(seq), 0) FROM event WHERE kind = $1 AND study = $2 AND subject = $3`,
			string(study.EventPull), e.Study, e.Subject).Scan(&since); err != nil {
			return nil, err
		}
		if since < e.Seq {
			out[e.Study] = slices.DeleteFunc(out[e.Study], func(id string) bool { return id == e.Subject })
		}
	}
	return out, nil
}
