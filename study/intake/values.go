package intake

import (
	"bytes"
	"math"
	"regexp"
	"strconv"
	"strings"

	"shelfspan/study"
	"shelfspan/study/spreadsheet"
)

// number reads a number of the file being read, a mass or not, and notes which
// decimal sign it has where that may be a comma.
func (r *reader) number(b []byte, mass bool) (float64, bool) {
	v, sign, ok := parseNumber(b, r.comma)
	if ok && r.comma && sign != 0 && !r.correcting {
		i := 0
		if sign == ',' {
			i = 1
		}
		r.decimal[i].see(b, sign, r.line, mass)
	}
	return v, ok
}

// thousands is a number whose comma may stand between thousands. In a table the
// other numbers tell which it is; one typed alone has none beside it.
var thousands = regexp.MustCompile(`^[-+]?[1-9][0-9]{0,2},[0-9]{3}$`)

// value reads the value of an attribute; column is where its faults are told.
func (r *reader) value(attribute int, column string, b []byte) (v float64, censor study.Censor, ok bool) {
	a := &r.study.Attributes[attribute]
	switch a.Kind {
	case study.Grade:
		v, ok = r.grade(attribute, column, b)
		return v, study.Exact, ok
	case study.PassFail:
		v, ok = r.passFail(a, column, b)
		return v, study.Exact, ok
	}
	digits := b
	if b[0] == '<' || b[0] == '>' {
		censor = study.BelowThat
		if b[0] == '>' {
			censor = study.AboveThat
		}
		digits = bytes.TrimLeft(b[1:], " \t")
		if a.Kind == study.Weighing {
			r.fault(column, func() string {
				return quote(b) + " is a limit, and " + a.ID + " is a weighing, which needs the mass itself in g"
			})
			return 0, 0, false
		}
		if !bytes.ContainsAny(digits, "0123456789") || digits[0] == '=' {
			r.fault(column, func() string {
				return quote(b) + " is no value; write <5 or >5 for a value below or above what could be measured"
			})
			return 0, 0, false
		}
	}
	v, ok = r.number(digits, a.Kind == study.Weighing)
	if !ok && (bytes.HasPrefix(b, []byte("≤")) || bytes.HasPrefix(b, []byte("≥"))) {
		r.fault(column, func() string {
			return quote(b) + " is no value; write <5 or >5 for a value below or above what could be measured"
		})
		return 0, 0, false
	}
	if ok && r.correcting && thousands.Match(digits) {
		r.fault(column, func() string {
			return quote(digits) + " may be meant with a sign between thousands or with three decimals; write it without the comma, or with a point"
		})
		return 0, 0, false
	}
	if !ok {
		r.fault(column, func() string { return explainNumber(digits, r.comma) })
		return 0, 0, false
	}
	if a.Kind == study.Weighing && v <= 0 {
		r.fault(column, func() string { return "a mass of " + string(b) + " g; a gross mass is above 0" })
		return 0, 0, false
	}
	return v, censor, true
}

// gradeNames gives the grades by their names in lower case.
func gradeNames(names []string) map[string]int {
	m := make(map[string]int, len(names))
	for i, n := range names {
		m[strings.ToLower(n)] = i
	}
	return m
}

// grade reads a grade by its name, else by its number. The name comes first: a
// study may name its grades with numbers of its own.
func (r *reader) grade(attribute int, column string, b []byte) (float64, bool) {
	if g, ok := r.grades[attribute][string(b)]; ok {
		return float64(g), true
	}
	b = spreadsheet.Plain(b) // of a grade as +
	if g, ok := r.grades[attribute][string(bytes.ToLower(b))]; ok {
		return float64(g), true
	}
	a := &r.study.Attributes[attribute]
	v, _, ok := parseNumber(b, r.comma)
	if ok && v == math.Trunc(v) && v >= 0 && v < float64(len(a.Grades)) {
		return math.Abs(v), true
	}
	r.fault(column, func() string {
		top := strconv.Itoa(len(a.Grades) - 1)
		if ok {
			return quote(b) + " is no grade of " + a.ID + "; grades are the whole numbers 0 to " + top + " (" + enumerate(a.Grades) + ")"
		}
		return unknown("grade", b, a.Grades, a.ID+" has") + " (0 to " + top + ")"
	})
	return 0, false
}

// passFail reads pass (0) or fail (1). The digits are refused, since labs use
// them both ways round.
func (r *reader) passFail(a *study.Attribute, column string, b []byte) (float64, bool) {
	switch {
	case bytes.EqualFold(b, []byte("pass")):
		return 0, true
	case bytes.EqualFold(b, []byte("fail")):
		return 1, true
	}
	r.fault(column, func() string {
		if string(b) == "0" || string(b) == "1" {
			return quote(b) + " may mean pass to one lab and fail to another; write pass or fail"
		}
		return quote(b) + " is neither pass nor fail, which " + a.ID + " takes; leave the field empty where it was not tested"
	})
	return 0, false
}

// duration reads the planned time of a row: a duration, or a bare whole number
// of months.
func (r *reader) duration(b []byte) (study.Duration, bool) {
	if d, ok := r.durations[string(b)]; ok {
		return d, true
	}
	d, err := study.ParseDuration(string(b[:min(len(b), 64)]))
	if v, _, ok := parseNumber(b, r.comma); ok {
		err = nil
		if v != math.Trunc(v) || v < 0 || v > 1e5 {
			r.fault("time", func() string {
				return quote(b) + " is no duration; a bare number is whole months; write 10D, 2W, 3M or 2Y"
			})
			return d, false
		}
		d = study.Duration{}
		if v > 0 {
			d = study.Duration{N: int32(v), Unit: study.Months}
		}
	}
	if err != nil {
		r.fault("time", func() string { return err.Error() })
		return d, false
	}
	if len(r.durations) < most {
		r.durations[string(b)] = d
	}
	return d, true
}

// unitMatches reports whether a row's unit of measure is the attribute's: of a
// weighing g, since the table has masses where the limits are in percent lost;
// of an attribute without a unit none, or 1, which is UCUM's for that.
func unitMatches(a *study.Attribute, b []byte) bool {
	switch {
	case a.Kind == study.Weighing:
		return string(b) == "g"
	case a.Unit == "":
		return string(b) == "1"
	}
	return string(b) == a.Unit
}
