package csv

import (
	"io"

	"shelfspan/study/schedule"
)

type pullRow struct {
	Study     string `csv:"study"`
	Pull      string `csv:"pull"`
	Condition string `csv:"condition"`
	Time      string `csv:"time"`
	Months    Number `csv:"months"`
	Placed    string `csv:"placed"`
	Due       string `csv:"due"`
	Date      string `csv:"date"`
	Earliest  string `csv:"earliest"`
	Latest    string `csv:"latest"`
	Chamber   string `csv:"chamber"`
	Units     int    `csv:"units"`
	Returned  int    `csv:"returned"`
}

// PullsHead is what the first line of a pulls table begins with.
const PullsHead = "study,pull,condition,time,"

// Pulls writes a row for each pull; the condition is empty at time zero.
func Pulls(w io.Writer, p *schedule.Schedule) error {
	rows := make([]pullRow, 0, len(p.Pulls))
	for i := range p.Pulls {
		rows = append(rows, newPullRow(p, &p.Pulls[i]))
	}
	return write(w, rows)
}

func newPullRow(p *schedule.Schedule, x *schedule.Pull) pullRow {
	row := pullRow{
		Study: p.Study.ID, Pull: x.ID, Time: x.Time.String(), Months: Number(x.Months), Placed: x.Placed.String(),
		Due: x.Due.String(), Date: x.Date.String(), Earliest: x.Earliest.String(), Latest: x.Latest.String(),
		Units: x.Units(), Returned: x.Returned(),
	}
	if x.Condition >= 0 {
		c := &p.Study.Conditions[x.Condition]
		row.Condition = c.ID
		if c.Chamber >= 0 {
			row.Chamber = p.Study.Chambers[c.Chamber].ID
		}
	}
	return row
}

type sampleRow struct {
	Study       string `csv:"study"`
	Pull        string `csv:"pull"`
	Date        string `csv:"date"`
	Condition   string `csv:"condition"`
	Time        string `csv:"time"`
	Chamber     string `csv:"chamber"`
	Batch       string `csv:"batch"`
	Pack        string `csv:"pack"`
	Orientation string `csv:"orientation"`
	Units       int    `csv:"units"`
	Returned    int    `csv:"returned"`
	Attributes  string `csv:"attributes"`
}

// SamplesHead is what the first line of a samples table begins with.
const SamplesHead = "study,pull,date,condition,time,"

// Samples writes a row for each arm of each pull, what is opened and what is
// tested; the attributes stand apart by spaces.
func Samples(w io.Writer, p *schedule.Schedule) error {
	s := p.Study
	rows := []sampleRow{}
	for i := range p.Pulls {
		head := newPullRow(p, &p.Pulls[i])
		for _, l := range p.Pulls[i].Lines {
			row := sampleRow{
				Study: head.Study, Pull: head.Pull, Date: head.Date, Condition: head.Condition, Time: head.Time, Chamber: head.Chamber,
				Batch: s.Batches[l.Batch].ID, Pack: s.Packs[l.Pack].ID, Units: l.Units, Returned: l.Returned,
			}
			if l.Orientation >= 0 {
				row.Orientation = string(s.Packs[l.Pack].Orientations[l.Orientation])
			}
			for n, a := range l.Attributes {
				if n > 0 {
					row.Attributes += " "
				}
				row.Attributes += s.Attributes[a].ID
			}
			rows = append(rows, row)
		}
	}
	return write(w, rows)
}
