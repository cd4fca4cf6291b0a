package logger

import (
	"bytes"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// header says where in a row what stands.
type header struct {
	sep    byte
	line   int
	names  []string // of the columns, fit to be shown
	units  []Unit   // of the columns; "" where none is told, "K" for kelvin
	stamp  int      // column of date and time; −1 where they stand apart
	date   int
	clock  int
	offset int16 // minutes east of UTC that the header states
	zoned  bool  // it states them

	celsius    []int // columns of temperatures
	unitsBelow int   // line of a row that holds the units; 0 where there is none
}

// complete reports whether the header has all it needs.
func (h *header) complete() bool { return h.timed() && len(h.celsius) > 0 }

// timed reports whether the header has columns of times.
func (h *header) timed() bool { return h.stamp >= 0 || h.date >= 0 && h.clock >= 0 }

// isNear reports whether the header has some of what it needs.
func (h *header) isNear() bool {
	return len(h.names) > 1 && (h.timed() || h.date >= 0 || h.clock >= 0 || len(h.celsius) > 0)
}

func (h *header) listed() string { return quoteAll(h.names) }

// timeName is the header of the times.
func (h *header) timeName() string {
	if h.stamp >= 0 {
		return h.names[h.stamp]
	}
	return h.names[h.date]
}

// bestHeader tries the separators on a line and gives the one by which it is a
// header, if there is one.
func bestHeader(line []byte, column string) (best header, ok bool) {
	best = header{sep: ',', stamp: -1, date: -1, clock: -1}
	for _, sep := range []byte{',', ';', '\t'} {
		fields := bytes.Split(bytes.TrimRight(line, "\r"), []byte{sep})
		for i, f := range fields {
			fields[i] = bytes.Trim(trim(f), `"`)
		}
		h, complete := readHeader(fields, sep, column)
		if complete {
			return h, true
		}
		if h.isNear() && !best.isNear() {
			best = h
		}
	}
	return best, false
}

// readHeader tells columns by their names; ok is false where some are missing.
func readHeader(fields [][]byte, sep byte, column string) (h header, ok bool) {
	h = header{sep: sep, stamp: -1, date: -1, clock: -1, names: make([]string, len(fields)), units: make([]Unit, len(fields))}
	for i, f := range fields {
		name := shown(trim(f))
		h.names[i] = name
		words, unit := wordsOf(name)
		h.units[i] = unit
		switch phrase := strings.Join(words, " "); {
		case slices.Contains(stampNames, phrase):
			if h.stamp < 0 {
				h.stamp = i
				h.readZone(name)
			}
		case slices.Contains(dateNames, phrase):
			if h.date < 0 {
				h.date = i
			}
		case slices.Contains(clockNames, phrase):
			if h.clock < 0 {
				h.clock = i
				h.readZone(name)
			}
		case column != "":
			if strings.EqualFold(name, strings.TrimSpace(column)) {
				h.celsius = append(h.celsius, i)
			}
		case isTemperature(words, unit):
			h.celsius = append(h.celsius, i)
		}
	}
	if h.stamp < 0 && (h.date < 0) != (h.clock < 0) {
		// One column alone holds both.
		h.stamp, h.date, h.clock = max(h.date, h.clock), -1, -1
		h.readZone(h.names[h.stamp])
	}
	return h, h.complete()
}

// The names that columns of times go by, in English and a few other languages
// of loggers.
var (
	stampNames = []string{"timestamp", "time stamp", "datetime", "date time", "date and time", "time and date", "time date",
		"recorded", "recorded at", "recording time", "reading time", "measurement time", "sample time", "log time", "logged at",
		"local time", "date local time", "datum zeit", "datum uhrzeit", "zeitstempel", "date heure", "fecha hora", "fecha y hora", "data ora"}
	dateNames  = []string{"date", "day", "datum", "fecha"}
	clockNames = []string{"time", "time of day", "clock", "zeit", "uhrzeit", "heure", "temps", "hora", "ora", "tid"}
)

// temperatureWords begin the names of temperatures, and notTemperatures are the
// words of what has their unit and is something else.
var (
	temperatureWords = []string{"temp", "température"}
	notTemperatures  = []string{"dew", "dewpoint", "wet", "alarm", "alert", "limit", "limits", "threshold", "setpoint", "set", "min", "minimum",
		"max", "maximum", "high", "low", "mean", "average", "avg", "mkt", "kinetic", "status", "unit", "units", "diff", "difference", "delta"}
)

// isTemperature reports whether a column's words or unit are those of a
// temperature as it was measured.
func isTemperature(words []string, unit Unit) bool {
	if slices.ContainsFunc(words, func(w string) bool { return slices.Contains(notTemperatures, w) }) {
		return false
	}
	return unit != "" || slices.ContainsFunc(words, func(w string) bool {
		return slices.ContainsFunc(temperatureWords, func(t string) bool { return strings.HasPrefix(w, t) })
	})
}

// wordsOf parts a column's name into its words, in lower case and without what
// stands in brackets or behind a comma, and the unit that it names.
func wordsOf(name string) (words []string, unit Unit) {
	name = strings.ToLower(name)
	depth := 0
	plain := strings.Map(func(c rune) rune {
		switch c {
		case '(', '[', '{':
			depth++
		case ')', ']', '}':
			depth--
			return ' '
		}
		if depth > 0 {
			return ' '
		}
		return c
	}, name)
	plain, _, _ = strings.Cut(plain, ",")
	split := func(s string) []string {
		return strings.FieldsFunc(s, func(c rune) bool { return !unicode.IsLetter(c) && c != '°' && c != 'º' && c != '℃' && c != '℉' })
	}
	all := split(name)
	for i, w := range all {
		u := unitSign([]byte(w))
		bare := w == "c" || w == "f" || w == "k"
		// A bare letter is a unit in brackets, behind a comma, an underscore,
		// "deg" or "temp", and nothing else: "Probe C" is a name.
		if bare && !enclosed(name, w) && !(i > 0 && (strings.HasPrefix(all[i-1], "deg") || strings.HasPrefix(all[i-1], "temp"))) {
			u = ""
		}
		if u != "" {
			unit = u
		}
	}
	for _, w := range split(plain) {
		if unitSign([]byte(w)) == "" && w != "deg" && w != "degrees" {
			words = append(words, w)
		}
	}
	return words, unit
}

// enclosed reports whether a letter stands for itself in brackets, or behind a
// comma or an underscore at the end.
func enclosed(name, letter string) bool {
	return strings.Contains(name, "("+letter+")") || strings.Contains(name, "["+letter+"]") ||
		strings.HasSuffix(name, "_"+letter) || strings.HasSuffix(name, ", "+letter) || strings.HasSuffix(name, ","+letter)
}

// unitSign gives the unit that a sign stands for, "" for what is no unit.
func unitSign(b []byte) Unit {
	if len(b) == 0 || len(b) > 12 {
		return ""
	}
	switch strings.ToLower(shown(b)) {
	case "°c", "ºc", "℃", "c", "degc", "deg c", "celsius", "centigrade":
		return Celsius
	case "°f", "ºf", "℉", "f", "degf", "deg f", "fahrenheit":
		return Fahrenheit
	case "k", "°k", "kelvin":
		return "K"
	}
	return ""
}

// readZone takes from a column's name how far its times are from UTC, as
// "Time (UTC)" or "Date Time, GMT+01:00" say.
func (h *header) readZone(name string) {
	name = strings.ToLower(name)
	at := max(strings.Index(name, "utc"), strings.Index(name, "gmt"))
	if at < 0 {
		return
	}
	rest := strings.TrimLeft(name[at+3:], " ")
	h.zoned = true
	if rest != "" && (rest[0] == '+' || rest[0] == '-') {
		end := 1
		for end < len(rest) && (rest[end] == ':' || rest[end]-'0' <= 9) {
			end++
		}
		offset, ok := readOffset([]byte(rest[:end]))
		h.offset, h.zoned = offset, ok
	}
}

// shown makes text of a field as it can be printed: what is no UTF-8 is taken
// for the code page most loggers write, and control characters are escaped.
func shown(b []byte) string {
	if !utf8.Valid(b) {
		r := make([]rune, len(b))
		for i, c := range b {
			r[i] = rune(c)
		}
		b = []byte(string(r))
	}
	if bytes.IndexFunc(b, unicode.IsControl) < 0 {
		return string(b)
	}
	q := strconv.Quote(string(b))
	return q[1 : len(q)-1]
}
