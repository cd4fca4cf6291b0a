// Package unitid has the ids of physical units: the jars, tubes and cans of a
// study. They stand on labels, are scanned or typed back, and say by themselves
// where a unit belongs:
//
//	SB-25/B1/can/i/25C60/18M/2/K          the second unit to be opened at 18 months
//	SB-25/B1/can/i/25C60/weight-loss/1/3  measured at every pull and put back
//	SB-25/B1/can/i/25C60/reserve/1/7      kept in storage beyond those planned
//	SB-25/B1/can/T0/2/Q                   opened at time zero, before storage
//
// study, batch, pack, orientation (u upright, i inverted, h horizontal),
// condition, what the unit is for, its number there, and a check character (see
// CheckCharacter). A study with one unnamed pack leaves the pack out. A slash
// stands in no id of a study file, so the parts cannot be mistaken for others. An
// id is made of ids alone, and stays as it is when pulls, batches or conditions
// are added to the study.
package unitid

import (
	"slices"
	"strconv"
	"strings"

	"shelfspan/study"
)

// What a unit is for, where it is neither a planned time nor a returned
// attribute.
const (
	Reserve  = "reserve"
	TimeZero = "T0"
)

// ID is the id of a unit by its parts.
type ID struct {
	Study, Batch string
	Pack         string            // empty in a study with one unnamed pack
	Orientation  study.Orientation // empty at time zero
	Condition    string            // empty at time zero
	For          string            // a planned time (18M), a returned attribute, Reserve or TimeZero
	N            int               // from 1
}

// String writes the id with its check character.
func (id ID) String() string {
	parts := []string{id.Study, id.Batch}
	if id.Pack != "" {
		parts = append(parts, id.Pack)
	}
	if id.For != TimeZero {
		parts = append(parts, string(id.Orientation[:min(1, len(id.Orientation))]), id.Condition)
	}
	body := strings.Join(append(parts, id.For, strconv.Itoa(id.N)), "/")
	return body + "/" + string(CheckCharacter(body))
}

// Form says whether a label is the id of a unit.
type Form int

// The forms of a label.
const (
	Own      Form = iota // not of the shape of an id: a lab's own label
	Mistyped             // of the shape, and the check character does not fit
	Good
)

// Parse reads a label. The letters of an id may be of either case; they come
// out as they were typed, for the study to be asked what they name.
func Parse(label string) (ID, Form) {
	parts := strings.Split(label, "/")
	n := len(parts)
	if n < 5 || slices.ContainsFunc(parts, isNoID) || len(parts[n-1]) != 1 || valueOf(parts[n-1][0]) < 0 {
		return ID{}, Own
	}
	var id ID
	number, err := strconv.Atoi(parts[n-2])
	if err != nil || number < 1 || strconv.Itoa(number) != parts[n-2] {
		return ID{}, Own
	}
	id.Study, id.Batch, id.For, id.N = parts[0], parts[1], parts[n-3], number
	switch middle := parts[2 : n-3]; {
	case strings.EqualFold(id.For, TimeZero) && len(middle) <= 1:
		id.For = TimeZero
		if len(middle) == 1 {
			id.Pack = middle[0]
		}
	case len(middle) == 2 || len(middle) == 3:
		if id.Orientation = orientationOf(middle[len(middle)-2]); id.Orientation == "" {
			return ID{}, Own
		}
		id.Condition = middle[len(middle)-1]
		if len(middle) == 3 {
			id.Pack = middle[0]
		}
	default:
		return ID{}, Own
	}
	body := label[:len(label)-2]
	if alphabetOf(label[len(label)-1]) != CheckCharacter(body) {
		return id, Mistyped
	}
	return id, Good
}

// isNoID reports whether a part is not written as the ids of a study file are.
func isNoID(part string) bool {
	return part == "" || strings.ContainsFunc(part, func(c rune) bool {
		return c > 'z' || valueOf(byte(c)) < 0 && c != '.' && c != '_' && c != '-'
	})
}

// alphabetOf gives a digit or letter as check characters are written.
func alphabetOf(c byte) byte { return alphabet[valueOf(c)] }

func orientationOf(initial string) study.Orientation {
	for _, o := range []study.Orientation{study.Upright, study.Inverted, study.Horizontal} {
		if strings.EqualFold(initial, string(o[:1])) {
			return o
		}
	}
	return ""
}
