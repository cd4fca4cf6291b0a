package study

import (
	"math"
	"strconv"
)

// PartText writes a part of a result as a results table has it; empty where the
// result has no such day or tare.
func PartText(s *Study, r *Result, p Part) string {
	switch p {
	case PartPulled:
		return r.Pulled.String()
	case PartTested:
		return r.Tested.String()
	case PartTare:
		if math.IsNaN(r.Tare) {
			return ""
		}
		return strconv.FormatFloat(r.Tare, 'f', -1, 64)
	}
	return ValueText(s, r)
}

// ValueText writes the value of a result as a results table has it: a number in
// its shortest form, <5 or >5 where it is censored, the name of a grade, pass or
// fail.
func ValueText(s *Study, r *Result) string {
	a := &s.Attributes[r.Attribute]
	switch a.Kind {
	case Grade:
		if i := int(r.Value); float64(i) == r.Value && i >= 0 && i < len(a.Grades) {
			return a.Grades[i]
		}
	case PassFail:
		if r.Value == 0 {
			return "pass"
		}
		return "fail"
	}
	format := byte('f')
	if m := math.Abs(r.Value); m != 0 && (m < 1e-6 || m >= 1e15) {
		format = 'g'
	}
	text := strconv.FormatFloat(r.Value, format, -1, 64)
	switch r.Censor {
	case BelowThat:
		return "<" + text
	case AboveThat:
		return ">" + text
	}
	return text
}
