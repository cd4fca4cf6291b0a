package csv

import (
	"io"

	"shelfspan/study"
	"shelfspan/study/schedule"
)

type dueRow struct {
	Study     string `csv:"study"`
	Pull      string `csv:"pull"`
	Condition string `csv:"condition"`
	Time      string `csv:"time"`
	Chamber   string `csv:"chamber"`
	Date      string `csv:"date"`
	Earliest  string `csv:"earliest"`
	Latest    string `csv:"latest"`
	Days      int    `csv:"days"`
	Units     int    `csv:"units"`
	Returned  int    `csv:"returned"`
	Part      bool   `csv:"part"`
}

// Due writes a row for each pull that is due; days are those from the day asked
// for to the planned one, negative where it is overdue.
func Due(w io.Writer, on study.Date, list []schedule.Due) error {
	rows := make([]dueRow, 0, len(list))
	for _, d := range list {
		rows = append(rows, dueRow{d.Study, d.Pull, d.Condition, d.Time, d.Chamber, d.Date.String(), d.Earliest.String(), d.Latest.String(),
			int(d.Date - on), d.Units, d.Returned, d.Part})
	}
	return write(w, rows)
}

type eventRow struct {
	Number  int64  `csv:"number"`
	At      string `csv:"at"`
	By      string `csv:"by"`
	Kind    string `csv:"kind"`
	Study   string `csv:"study"`
	Subject string `csv:"subject"`
	Reason  string `csv:"reason"`
	File    string `csv:"file"`
	Detail  string `csv:"detail"`
	Account string `csv:"account"`
	Hash    string `csv:"hash"`
}

// Events writes a row for each event.
func Events(w io.Writer, events []study.Event) error {
	rows := make([]eventRow, 0, len(events))
	for i := range events {
		e := &events[i]
		rows = append(rows, eventRow{e.Seq, e.At, e.By, string(e.Kind), e.Study, e.Subject, e.Reason, e.File, e.Detail, e.Account, e.Hash})
	}
	return write(w, rows)
}

// Results writes a row for each result.
func Results(w io.Writer, rows []study.ResultRow) error {
	return write(w, rows)
}

type statusRow struct {
	Study     string `csv:"study"`
	Pull      string `csv:"pull"`
	Condition string `csv:"condition"`
	Time      string `csv:"time"`
	Date      string `csv:"date"`
	State     string `csv:"state"`
	Late      int    `csv:"late_days"`
	First     string `csv:"pulled_first"`
	Last      string `csv:"pulled_last"`
	Units     int    `csv:"units_planned"`
	Taken     int    `csv:"units_taken"`
	Expected  int    `csv:"values_expected"`
	Measured  int    `csv:"values_measured"`
	Missing   int    `csv:"values_missing"`
}

// Status writes a row for each pull of each study.
func Status(w io.Writer, studies []*schedule.Standing) error {
	rows := []statusRow{}
	for _, x := range studies {
		plan := x.Progress.Schedule
		for i := range x.Points {
			t := &x.Points[i]
			p := &plan.Pulls[t.Pull]
			row := statusRow{plan.Study.ID, p.ID, "", p.Time.String(), p.Date.String(), string(t.State), t.Late, t.First.String(), t.Last.String(),
				p.Units(), t.Taken, t.Expected, t.Measured, t.Missing()}
			if p.Condition >= 0 {
				row.Condition = plan.Study.Conditions[p.Condition].ID
			}
			rows = append(rows, row)
		}
	}
	return write(w, rows)
}
