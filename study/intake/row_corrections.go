package intake

import (
	"slices"
	"strconv"

	"shelfspan/study"
)

// past is what results of an amended row had before.
type past struct {
	pulled, tested []study.Date
	tare           []float64
}

// pastOf gives what the results of the row being read had before it was amended;
// nil where it was not.
func (r *reader) pastOf() *past {
	list := r.rows[r.line]
	if list == nil {
		return nil
	}
	r.rowsMet[r.input][r.line] = true
	p := &past{}
	for _, c := range list {
		for _, text := range c.Had {
			if c.Part == study.PartTare {
				if v, err := strconv.ParseFloat(text, 64); err == nil {
					p.tare = append(p.tare, v)
				}
				continue
			}
			day, err := study.ParseDate(text)
			switch {
			case err != nil: // it had none
			case c.Part == study.PartPulled:
				p.pulled = append(p.pulled, day)
			default:
				p.tested = append(p.tested, day)
			}
		}
	}
	return p
}

// rowText gives a column of the row as it was amended last, else as it stands.
func (r *reader) rowText(fields [][]byte, c column, part study.Part) (text []byte, corrected bool) {
	if r.rows == nil {
		return r.field(fields, c), false
	}
	return r.amendedText(fields, c, part)
}

func (r *reader) amendedText(fields [][]byte, c column, part study.Part) (text []byte, corrected bool) {
	for _, x := range slices.Backward(r.rows[r.line]) {
		if x.Part == part {
			return trim([]byte(x.Text)), true
		}
	}
	return r.field(fields, c), false
}

// pulledBefore reports whether the day of result i, of a later table, is one that
// result j of the same key had before it was amended. In one table two days for
// one pull stay a fault.
func (r *reader) pulledBefore(i, j uint32) bool {
	if len(r.past) == 0 || r.results[i].Input == r.results[j].Input {
		return false
	}
	day := r.dayRow(i).Pulled
	said, other := r.daySaid[j]
	return slices.Contains(r.past[j].pulled, day) || other && slices.Contains(r.past[said].pulled, day)
}

// outdated reports whether a row that repeats result k has a day or a tare of it
// from before an amendment.
func (r *reader) outdated(i, k uint32) bool {
	if len(r.past) == 0 {
		return false
	}
	x, kept := &r.results[i], &r.results[k]
	return x.Pulled != kept.Pulled && r.dated(i) && r.pulledBefore(i, k) ||
		x.Tested != kept.Tested && slices.Contains(r.past[k].tested, x.Tested) ||
		x.Tare != kept.Tare && slices.Contains(r.past[k].tare, x.Tare)
}
