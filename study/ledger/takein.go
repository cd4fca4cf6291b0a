package ledger

import (
	"bytes"
	"context"

	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/intake"
)

// File is a table of results that is handed in.
type File struct {
	Name string
	Data []byte
}

// maxFile bounds a file that is handed in; SQLite keeps no more than a billion
// bytes in one place.
const maxFile = 500 << 20

// IntakeOutcome is what became of the files.
type IntakeOutcome struct {
	Study    *study.Study
	Tables   []study.TakenTable // in the order they were handed in
	Warnings []finding.Warning  // those that these files brought
	Behind   bool               // the clock of this machine is behind the ledger's last event
}

// TakeIn takes tables of results in, all of them or none. The error is a
// *finding.Faults, a *Refusal or a *Trouble.
func (l *Ledger) TakeIn(ctx context.Context, a Author, studyID string, files ...File) (*IntakeOutcome, error) {
	for _, f := range files {
		if len(f.Data) > maxFile {
			return nil, refuse("hand it in in parts", "%s is larger than %d MB", f.Name, maxFile>>20)
		}
		if err := checkText("the name of the file", f.Name, 500); err != nil {
			return nil, err
		}
	}
	out := &IntakeOutcome{}
	err := l.write(ctx, a, func(w *writing) error {
		*out = IntakeOutcome{Behind: w.behind}
		return w.takeIn(out, studyID, files)
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

func (w *writing) takeIn(out *IntakeOutcome, studyID string, files []File) error {
	x, err := w.record(studyID, w.head.Seq)
	if err != nil {
		return err
	}
	if err := w.tables(x); err != nil {
		return err
	}
	out.Study = x.Study
	known := make(map[string]Event)
	for _, t := range x.Tables {
		known[t.Event.File] = t.Event
	}
	out.Tables = make([]study.TakenTable, len(files))
	var fresh []int // of files
	var sources []intake.Source
	given := make(map[string]bool)
	for i, f := range files {
		sum := fileSum(f.Data)
		if e, ok := known[sum]; ok {
			out.Tables[i] = study.TakenTable{File: f.Name, SHA256: sum, Event: e.Seq, Known: true, By: e.By, At: e.At}
			continue
		}
		if given[sum] {
			return refuse("name each file once", "%s has the same bytes as another of these files", f.Name)
		}
		given[sum] = true
		fresh = append(fresh, i)
		sources = append(sources, intake.Source{Name: f.Name, Reader: bytes.NewReader(f.Data)})
	}
	if len(fresh) == 0 {
		return nil
	}
	d, counts, err := x.read(x.Study, sources...)
	if err != nil {
		return err
	}
	var empty finding.Faults
	for k, i := range fresh {
		if c := counts[len(x.Tables)+k]; c.Results+c.Repeats == 0 {
			empty.List = append(empty.List, finding.Fault{File: files[i].Name, Text: "has no values; fill in the column value"})
		}
	}
	if len(empty.List) > 0 {
		return &empty
	}
	before, _, err := x.read(x.Study)
	if err != nil {
		return err
	}
	out.Warnings = added(before.Warnings, d.Warnings)
	for k, i := range fresh {
		f := files[i]
		sum, err := w.store(f.Data)
		if err != nil {
			return err
		}
		c := counts[len(x.Tables)+k]
		e, err := w.append(Event{Kind: study.EventIntake, Study: studyID, Subject: f.Name, File: sum},
			intakeDetail{Rows: c.Rows, Results: c.Results, Again: c.Repeats})
		if err != nil {
			return err
		}
		out.Tables[i] = study.TakenTable{
			File: f.Name, SHA256: sum, Event: e.Seq, Rows: c.Rows, Results: c.Results, Again: c.Repeats, Superseded: c.Superseded, By: e.By, At: e.At,
		}
	}
	return w.warnUnpulled(out, x, d)
}

// added gives the warnings that are not among those of before.
func added(before, now []finding.Warning) []finding.Warning {
	had := make(map[finding.Warning]bool, len(before))
	for _, w := range before {
		had[w] = true
	}
	var out []finding.Warning
	for _, w := range now {
		if !had[w] {
			out = append(out, w)
		}
	}
	return out
}

// warnUnpulled warns of results of pulls that are not recorded as made.
func (w *writing) warnUnpulled(out *IntakeOutcome, x *Record, d *study.Dataset) error {
	days := x.days(x.Study)
	told := make(map[string]bool)
	for i := range d.Results {
		r := &d.Results[i]
		if int(r.Input) < len(x.Tables) || r.OffPlan {
			continue
		}
		k := takenKey{int(r.Condition), int(r.Batch), int(r.Pack), int(r.Orientation), r.Planned}
		if r.Planned.IsZero() {
			k.condition, k.orientation = -1, -1
		}
		if _, ok := days[k]; ok {
			continue
		}
		for j := range x.Schedule.Pulls {
			p := &x.Schedule.Pulls[j]
			if p.Condition == k.condition && p.Time == r.Planned && p.Placed == x.Study.TimeZero(int(r.Batch)) && !told[p.ID] {
				told[p.ID] = true
				out.Warnings = append(out.Warnings, finding.Warning{Code: "pull-not-recorded", Where: p.ID,
					Text: "has results, and no record that it was made: shelfspan pull " + p.ID + " --date DAY records it"})
			}
		}
	}
	return nil
}
