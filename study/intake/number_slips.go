package intake

import (
	"bytes"
	"regexp"
)

// What stands where a number belongs.
var (
	groupedDigits = regexp.MustCompile(`^[+-]?\d{1,3}(?:[.,'’ \x{a0}\x{2009}\x{202f}]\d{3})+(?:[.,]\d*)?$`)
	typesetMinus  = regexp.MustCompile(`^[\x{2010}-\x{2015}\x{2212}] ?([\d.,]+)$`)
	nothingFound  = regexp.MustCompile(`^(?i)(?:n\.? ?d\.?|(?:not|none) detected|bdl|bql|bloq|lod|loq|lloq)$`)
)

// explainNumber says what is wrong with a text that parseNumber refused, and
// what would be right.
func explainNumber(b []byte, comma bool) string {
	q := quote(b)
	points, commas := bytes.Count(b, []byte{'.'}), bytes.Count(b, []byte{','})
	plain, digit := true, false
	for _, c := range b {
		digit = digit || c-'0' <= 9
		plain = plain && (c-'0' <= 9 || bytes.IndexByte([]byte("+-.,eE "), c) >= 0)
	}
	minus := typesetMinus.FindSubmatch(b)
	switch {
	case b[0] == '#':
		return q + " is what a spreadsheet shows for an error; mend it there, or leave the field empty where it was not tested"
	case nothingFound.Match(b):
		return q + " is no number; leave the field empty where it was not tested, and write <5, with the limit, where nothing was found"
	case !digit:
		return q + " is no number; leave the field empty where it was not tested"
	case minus != nil:
		return q + " has a dash for its minus sign; write -" + string(minus[1])
	case bytes.HasPrefix(bytes.ToLower(b), []byte("0x")):
		return q + " is no decimal number; write it with the digits 0 to 9"
	case plain && !comma && commas == 1 && points == 0:
		whole, part, _ := bytes.Cut(b, []byte{','})
		text := q + " has a comma in it, and commas separate the columns; write "
		if len(part) == 3 {
			return text + string(whole) + string(part) + " or " + string(whole) + "." + string(part) + ", whichever is meant"
		}
		return text + string(whole) + "." + string(part)
	case groupedDigits.Match(b):
		return q + " looks grouped in thousands; write the digits without a separator, and one decimal sign"
	case !plain:
		return q + " is no number; write the number alone: its unit stands in the study file, a remark in the column comment"
	case points+commas > 1 || bytes.IndexByte(b, ' ') >= 0:
		return q + " is no number; write the digits together, with one decimal sign"
	case endsInDigit(b) && (bytes.ContainsAny(b, "eE") || !bytes.ContainsAny(b[1:], "+-")):
		return q + " is beyond the numbers a computer holds (1e-308 to 1e308)"
	}
	return q + " is no number; write it as -12.5 or 1.25e4"
}

func endsInDigit(b []byte) bool { return b[len(b)-1]-'0' <= 9 }

// inThrees reports whether a number with one decimal sign might as well be one
// in thousands, as 21.500 or 21,500.
func inThrees(b []byte, sign byte) bool {
	b = bytes.TrimLeft(b, "+-")
	return len(b) >= 5 && len(b) <= 7 && b[len(b)-4] == sign && b[0] != '0'
}

// decimals is what one decimal sign was seen to do in a file.
type decimals struct {
	line      int    // of the first number with it
	plain     int    // of the first that cannot be one in thousands
	threes    int    // of the first that can, other than a mass
	threeText string // that number
	inThrees  int    // how many can
}

// see notes a number with the sign.
func (d *decimals) see(b []byte, sign byte, line int, mass bool) {
	if d.line == 0 {
		d.line = line
	}
	if mass || !inThrees(b, sign) {
		if d.plain == 0 {
			d.plain = line
		}
		return
	}
	if d.inThrees++; d.threes == 0 {
		d.threes, d.threeText = line, string(b)
	}
}

// checkDecimals looks, at the end of a file whose decimal sign may be a comma,
// for numbers that may have been meant in thousands: where the other sign is the
// file's decimal sign they are refused, else a warning says how they were taken.
func (r *reader) checkDecimals() {
	point, comma := &r.decimal[0], &r.decimal[1]
	for _, c := range []struct {
		own, other *decimals
		name, with string
	}{{point, comma, "decimal commas", "a point"}, {comma, point, "decimal points", "a comma"}} {
		switch {
		case c.own.threes == 0 || c.own.plain > 0:
		case c.other.plain > 0:
			r.line = c.own.threes
			r.fault("", func() string {
				text := quote([]byte(c.own.threeText)) + " has " + c.with + " where the file has " + c.name + " (first on line " + itoa(c.other.plain) + "): does it group thousands? Write all numbers with one decimal sign"
				if c.own.inThrees > 1 {
					text += " (" + itoa(c.own.inThrees) + " numbers of this kind)"
				}
				return text
			})
		case c.other.line == 0:
			r.notes.add(note{code: "three-decimals", input: r.input, line: c.own.threes, text: c.own.threeText, most: c.own.inThrees})
		}
	}
	if point.line > 0 && comma.line > 0 {
		r.notes.add(note{code: "mixed-decimals", input: r.input, line: point.line, most: comma.line})
	}
}
