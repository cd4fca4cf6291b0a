package logger

import (
	"math"
	"strings"
)

// The temperatures that a reading may have, in °C. Nothing is stored hotter, so
// that a mark for a missing reading, or another unit, is told from a temperature.
const (
	absoluteZero = -273.15
	hottest      = 200
)

// disconnected is what a common kind of digital sensor gives, in °C, when it
// does not answer; nothing is stored so cold.
const disconnected = -127

// codes are numbers that loggers write where they have no reading, of either
// sign: nines, and the ends of the range of integers, whole or in tenths and
// hundredths.
var codes = [...]float64{999, 999.9, 999.99, 9999, 9999.9, 99999, 32767, 32768, 3276.7, 3276.8, 327.67, 327.68, 65535, 6553.5, 655.35}

// marks are words for no reading, in lower case and without what stands at
// their ends.
var marks = []string{"", "nan", "n/a", "na", "null", "nil", "none", "no data", "nodata", "no reading", "missing", "lost", "no sensor", "no probe",
	"sensor error", "sensor fault", "probe error", "probe fault", "disconnected", "not connected", "fault", "fail", "failed", "failure",
	"open", "short", "invalid"}

// beyond are words for a reading out of the sensor's range.
var beyond = []string{"hi", "high", "over", "over range", "overrange", "ol", "over limit", "lo", "low", "under", "under range", "underrange"}

// readCelsius reads a temperature; NaN where the logger says that it has none. ok
// is false where it is a fault.
func (r *reader) readCelsius(b []byte) (celsius float64, ok bool) {
	v, unit, ok := parseTemperature(b)
	if !ok {
		return r.noNumber(b)
	}
	if unit != "" && unit != r.log.Unit {
		before := r.faults.Count()
		r.setUnit(unit)
		if r.faults.Count() > before {
			return 0, false
		}
	}
	celsius = v
	if r.log.Unit == Fahrenheit {
		celsius = (v - 32) * 5 / 9
	} else if r.log.Unit == "" {
		r.log.UnitAssumed = true
	}
	if celsius >= absoluteZero && celsius <= hottest && celsius != disconnected {
		return celsius, true
	}
	a := math.Abs(v)
	for _, c := range codes {
		if a == c {
			r.notes.missing(b, r.rec.Line)
			return math.NaN(), true
		}
	}
	switch {
	case celsius == disconnected:
		r.notes.missing(b, r.rec.Line)
		return math.NaN(), true
	case celsius < absoluteZero:
		r.fault(r.log.Column, func() string {
			return quote(b) + " is below absolute zero; leave the field empty where there was no reading"
		})
	default:
		r.fault(r.log.Column, func() string {
			return quote(b) + " is no temperature that anything is stored at; leave the field empty where there was no reading, and see that the unit is right"
		})
	}
	return 0, false
}

// noNumber judges a field that holds no number.
func (r *reader) noNumber(b []byte) (celsius float64, ok bool) {
	word := strings.Trim(strings.ToLower(shown(b)), " -*#.!<>_?")
	if strings.HasPrefix(word, "err") {
		word = ""
	}
	for _, m := range marks {
		if word == m {
			r.notes.missing(b, r.rec.Line)
			return math.NaN(), true
		}
	}
	for _, m := range beyond {
		if word == m {
			r.fault(r.log.Column, func() string {
				return quote(b) + " says that it was hotter or colder than the sensor can tell, which must not be left out unseen; judge it, and write a temperature or leave the field empty"
			})
			return 0, false
		}
	}
	r.fault(r.log.Column, func() string {
		return quote(b) + " is no temperature; leave the field empty where there was no reading"
	})
	return 0, false
}

// powers of ten that a float64 holds exactly.
var powers = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// parseTemperature reads [+-−]digits[sign digits] of at most 15 digits, the sign
// being a point or a comma, with or without a unit behind it. Of so many digits
// the quotient is the float64 nearest to what is written.
func parseTemperature(b []byte) (v float64, unit Unit, ok bool) {
	i, negative := 0, false
	switch {
	case len(b) > 0 && (b[0] == '-' || b[0] == '+'):
		negative, i = b[0] == '-', 1
	case len(b) > 3 && b[0] == 0xe2 && b[1] == 0x88 && b[2] == 0x92: // the sign minus
		negative, i = true, 3
	}
	whole, digits, decimals, point := int64(0), 0, 0, false
	for ; i < len(b); i++ {
		switch c := b[i]; {
		case c-'0' <= 9:
			if digits++; digits > 15 {
				return 0, "", false
			}
			whole = whole*10 + int64(c-'0')
			if point {
				decimals++
			}
			continue
		case (c == '.' || c == ',') && !point:
			point = true
			continue
		}
		break
	}
	if digits == 0 {
		return 0, "", false
	}
	if i < len(b) {
		if unit = unitSign(trim(b[i:])); unit == "" {
			return 0, "", false
		}
	}
	v = float64(whole) / powers[decimals]
	if negative {
		v = -v
	}
	return v, unit, true
}
