package main

import (
	"bytes"
	"cmp"
	"slices"
	"strconv"

	"github.com/urfave/cli/v2"

	"shelfspan/reports/labels"
	"shelfspan/reports/pullsheet"
	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/study/schedule"
)

// labelFlags are the options of the commands that write labels.
func labelFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "label-size", Usage: "width and height of a label in mm, `WxH` (default: 63.5x38.1, three columns of seven on A4)"},
		&cli.StringFlag{Name: "columns", Usage: "`N` labels side by side (default: as many as fit)"},
		&cli.StringFlag{Name: "code", Value: string(labels.QR), Usage: "`KIND` of code on a label: qr or code128"},
		&cli.StringFlag{Name: "skip", Usage: "`N` labels of the first sheet are used up"},
		&cli.BoolFlag{Name: "cut-lines", Usage: "draw the edges of the labels, for plain paper"},
	}
}

// labelLayout reads the options of labelFlags.
func labelLayout(c *cli.Context) (labels.Layout, error) {
	var l labels.Layout
	if v := c.String("label-size"); v != "" {
		width, height, err := labels.ParseSize(v)
		if err != nil {
			return l, &usageError{text: "--label-size: " + err.Error(), hint: "as --label-size 63.5x38.1"}
		}
		l = labels.Of(width, height)
	}
	for option, to := range map[string]*int{"columns": &l.Columns, "skip": &l.Skip} {
		if v := c.String(option); v != "" {
			n, err := strconv.Atoi(v)
			if err != nil || n < 0 || n == 0 && option == "columns" {
				return l, &usageError{text: "--" + option + " " + v + " is no number of labels"}
			}
			*to = n
		}
	}
	l.Code, l.CutLines = labels.Code(c.String("code")), c.Bool("cut-lines")
	if known := []string{string(labels.QR), string(labels.Code128)}; !slices.Contains(known, string(l.Code)) {
		return l, notKnown("kind of code", string(l.Code), known)
	}
	return l, nil
}

// sheetAndLabels writes the pull sheets and labels of some pulls, or where none
// is named of all and of every unit that is stored; nil where there is none.
func sheetAndLabels(p *schedule.Schedule, pulls []int, l labels.Layout) (sheet, stickers []byte, err error) {
	list := pullLabels(p, pulls)
	if pulls == nil {
		for i := range p.Pulls {
			pulls = append(pulls, i)
		}
		for i := range p.Arms {
			for _, u := range p.ReserveOf(&p.Arms[i]) {
				list = append(list, label(p, u, "reserve", study.NoDate))
			}
		}
		// Arm by arm, as they are filled and placed.
		slices.SortStableFunc(list, func(a, b placedLabel) int {
			return cmp.Or(cmp.Compare(a.unit.Condition, b.unit.Condition), cmp.Compare(a.unit.Batch, b.unit.Batch),
				cmp.Compare(a.unit.Pack, b.unit.Pack), cmp.Compare(a.unit.Orientation, b.unit.Orientation))
		})
	}
	if len(list) == 0 {
		return nil, nil, nil
	}
	all := make([]labels.Label, len(list))
	for i := range list {
		all[i] = list[i].Label
	}
	var first, second bytes.Buffer
	if err := pullsheet.Write(&first, pullsheet.Input{Schedule: p, Pulls: pulls, Version: version}); err != nil {
		return nil, nil, err
	}
	if err := labels.Write(&second, all, l); err != nil {
		return nil, nil, &usageError{text: "labels: " + err.Error(), hint: "--label-size WxH, --columns N and --code KIND set them"}
	}
	return first.Bytes(), second.Bytes(), nil
}

// placedLabel is a label with the unit it is for.
type placedLabel struct {
	labels.Label
	unit schedule.Unit
}

// pullLabels gives a label for each unit of some pulls, or of all: one that is
// put back only once.
func pullLabels(p *schedule.Schedule, pulls []int) []placedLabel {
	var out []placedLabel
	seen := make(map[string]bool)
	for i := range p.Pulls {
		x := &p.Pulls[i]
		if pulls != nil && !slices.Contains(pulls, i) {
			continue
		}
		when := x.Time.String()
		if x.Condition < 0 {
			when = "initial"
		}
		for j := range x.Lines {
			for _, u := range p.UnitsOf(i, j) {
				switch {
				case seen[u.ID]:
				case u.Returned:
					out = append(out, label(p, u, "returned at every pull", study.NoDate))
				default:
					out = append(out, label(p, u, when, x.Date))
				}
				seen[u.ID] = true
			}
		}
	}
	return out
}

func label(p *schedule.Schedule, u schedule.Unit, when string, due study.Date) placedLabel {
	s := p.Study
	pack := &s.Packs[u.Pack]
	l := labels.Label{Study: s.ID, Batch: s.Batches[u.Batch].ID, Pack: pack.ID, Time: when, Due: due, Unit: u.ID, Cautions: words.Nature(pack)}
	if u.Condition >= 0 {
		l.Orientation = string(pack.Orientations[u.Orientation])
		l.Condition, l.Climate = s.Conditions[u.Condition].ID, words.Climate(&s.Conditions[u.Condition])
	} else {
		l.Condition = "before storage"
	}
	return placedLabel{l, u}
}
