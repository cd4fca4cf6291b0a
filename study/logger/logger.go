// Package logger reads what a temperature logger wrote: a CSV of times and
// temperatures, in one pass and in constant memory, however long it is.
//
// Lines above the header are passed over. The header is told by the names of
// its columns: one of times, or one of dates and one of times of day, and one of
// temperatures. Comma, semicolon and tab are told from it, °C and °F too; a
// decimal comma is understood. Other columns are not looked at.
//
// Times are ISO 8601, or such as 4.8.2025 13:30, 4 Aug 2025 1:30 PM, 13/08/2025
// 13:30 and 08/13/2025 1:30 PM. Which of day and month comes first is told by the
// first date that can be read one way only; where no date of the file tells, it
// is a fault, unless the caller knows. With dots the day comes first, as
// everywhere dots are used.
//
// Read takes in the whole file or, where it has a fault, nothing. What a logger
// does now and then and what makes no reading doubtful is a warning: rows without
// a reading, a time that is repeated, the hour that a clock goes back at the end
// of summer time, a unit that is not told, a reading far off both its neighbours.
package logger

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"math"
	"strconv"
	"unicode/utf8"

	"shelfspan/study"
	"shelfspan/study/csvrecords"
	"shelfspan/study/finding"
)

// Unit is the unit of temperatures.
type Unit string

// The units of temperatures.
const (
	Celsius    Unit = "C"
	Fahrenheit Unit = "F"
)

// String writes the unit as it stands behind a number.
func (u Unit) String() string { return "°" + string(u) }

// Order says which comes first in a date such as 04/03/2025.
type Order int8

// The orders of a date.
const (
	Untold Order = iota // told by the file or not at all
	DayFirst
	MonthFirst
)

// Options says what the file may leave untold; the zero value leaves all to it.
type Options struct {
	Unit   Unit   // of the temperatures; "": as the header has it, else °C
	Column string // header of the temperatures, where there are several
	Order  Order
}

// Reading is one temperature.
type Reading struct {
	Elapsed int64 // ms since the first reading; never less than before
	At      Stamp // the time as it was written
	Celsius float64
}

// Log is what is known of a file beside its readings.
type Log struct {
	Input       study.Input // Rows counts the readings
	Column      string      // header of the temperatures
	Unit        Unit
	UnitAssumed bool // nothing told the unit
	Zoned       bool // the times say how far they are from UTC
	Readings    int
	Missing     int // rows with a time and no reading
	First, Last Stamp
	Warnings    []finding.Warning
}

// Read gives every reading to take, in the order of the file. The error is a
// *finding.Faults; what was given to take is then to be thrown away.
func Read(name string, src io.Reader, o Options, take func(Reading)) (*Log, error) {
	r := &reader{name: name, options: o, take: take, log: Log{Unit: o.Unit, Input: study.Input{Path: name}}}
	r.dates.order = o.Order
	sum := sha256.New()
	r.rec = csvrecords.NewReader(src, sum)
	r.rec.AnyText = true // the degree sign of an old code page spoils no reading
	r.readTable()
	r.finish()
	if err := r.faults.Err(); err != nil {
		return nil, err
	}
	r.log.Input.SHA256, r.log.Input.Rows = hex.EncodeToString(sum.Sum(nil)), r.log.Readings
	r.log.Warnings = r.notes.warnings(&r.log)
	return &r.log, nil
}

// reader is the state of one Read.
type reader struct {
	name    string
	options Options
	take    func(Reading)
	rec     *csvrecords.Reader
	log     Log
	head    header
	dates   dates
	rows    int   // below the header that say anything
	valued  int   // rows among them with a reading
	zoneAt  int   // line of the first time; 0 before
	pending []row // kept until the order of day and month is told
	gaveUp  bool  // it is not, within mostPending rows
	order   sequence
	faults  finding.Collector
	notes   notes
}

// row is a reading that is not yet in the sequence.
type row struct {
	day, other int32 // days since 1970, with the day first and with the month first; the same where there is no doubt
	milli      int32 // of the day
	line       int32
	offset     int16 // minutes east of UTC
	zoned      bool
	celsius    float64 // NaN where there is no reading
}

func (r *reader) fault(column string, text func() string) { r.faultAt(r.rec.Line, column, text) }

func (r *reader) faultAt(line int, column string, text func() string) {
	r.faults.Add(r.name, line, column, text)
}

// mostAbove is how many lines may stand above the header.
const mostAbove = 200

func (r *reader) readTable() {
	if err := r.rec.Begin(); err != nil {
		r.faultAt(0, "", func() string { return unreadable(err) })
		return
	}
	if !r.findHeader() {
		return
	}
	for {
		fields, err := r.rec.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			line := r.rec.Line
			bad, ok := err.(*csvrecords.BadRecord)
			if !ok {
				line = 0
			}
			r.faultAt(line, "", func() string { return unreadable(err) })
			if !ok || bad.Fatal {
				return
			}
			r.rows++
			continue
		}
		r.readRow(fields)
	}
	switch {
	case r.rows == 0:
		r.faultAt(r.head.line, "", func() string { return "is a header with no rows below it" })
	case r.faults.Count() == 0 && r.valued < 2:
		r.faultAt(0, "", func() string {
			return "holds " + strconv.Itoa(r.valued) + " reading" + plural(r.valued) + "; a history needs two at least, with time between them"
		})
	}
}

// findHeader passes over what stands above the header and reads it.
func (r *reader) findHeader() bool {
	var near header // has columns of a header, but not all
	var first []byte
	for n := 0; n < mostAbove; n++ {
		head, ok := bestHeader(r.rec.FirstLine(), r.options.Column)
		r.rec.Sep = head.sep
		fields, err := r.rec.Read()
		bad, isBad := err.(*csvrecords.BadRecord)
		switch {
		case err == io.EOF:
			r.noHeader(near, first)
			return false
		case err != nil && !isBad:
			r.faultAt(0, "", func() string { return unreadable(err) })
			return false
		case isBad && bad.Fatal:
			r.fault("", func() string { return unreadable(err) })
			return false
		case isBad:
			continue
		}
		if first == nil {
			first = bytes.Join(fields, []byte(", "))
		}
		if ok {
			// The quotes are undone only now.
			head, ok = readHeader(fields, head.sep, r.options.Column)
		}
		head.line = r.rec.Line
		if ok {
			return r.takeHeader(head)
		}
		if head.isNear() && !near.isNear() {
			near = head
		}
	}
	r.noHeader(near, first)
	return false
}

// noHeader says what a file without a header lacks.
func (r *reader) noHeader(near header, first []byte) {
	line, text := 1, "no header line is found; it names a column of times (Time, Timestamp, or Date and Time) and one of temperatures (Temperature, °C), as Time,Temperature (°C)"
	switch {
	case len(first) == 0:
		line, text = 0, "is empty; it needs a header line such as Time,Temperature (°C) and readings below it"
	case near.isNear() && r.options.Column != "":
		line, text = near.line, "the header has no column "+strconv.Quote(r.options.Column)+"; it has "+near.listed()
	case near.isNear() && near.timed():
		line, text = near.line, "no column of this header is known for temperatures; name it with --column; there are "+near.listed()
	case near.isNear():
		line, text = near.line, "no column of this header is known for times; call it Time, or Date and Time; there are "+near.listed()
	}
	r.faultAt(line, "", func() string { return text })
}

// takeHeader sets what the header tells.
func (r *reader) takeHeader(h header) bool {
	r.head = h
	before := r.faults.Count()
	if len(h.celsius) > 1 {
		r.fault("", func() string {
			var names []string
			for _, i := range h.celsius {
				names = append(names, h.names[i])
			}
			return "there are several columns of temperatures; name one with --column: " + quoteAll(names)
		})
	}
	at := h.celsius[0]
	r.log.Column = h.names[at]
	switch unit := h.units[at]; {
	case unit == "K":
		r.fault(h.names[at], func() string { return "temperatures in kelvin are not read; give them in °C or °F" })
	case unit == "":
	case r.log.Unit == "":
		r.log.Unit = unit
	case r.log.Unit != unit:
		r.fault(h.names[at], func() string {
			return "the header says " + unit.String() + " and --unit says " + r.log.Unit.String()
		})
	}
	return r.faults.Count() == before
}

// readRow reads one row below the header.
func (r *reader) readRow(fields [][]byte) {
	h := &r.head
	said := false
	for _, f := range fields {
		said = said || len(trim(f)) > 0
	}
	if !said {
		return
	}
	at := func(i int) []byte {
		if i < 0 || i >= len(fields) {
			return nil
		}
		return trim(fields[i])
	}
	value := at(h.celsius[0])
	if r.rows == 0 && r.head.unitsBelow == 0 {
		// Some write the units into a row of their own below the names.
		if unit := unitSign(value); unit != "" && len(at(h.stamp)) == 0 && len(at(h.date)) == 0 && len(at(h.clock)) == 0 {
			r.head.unitsBelow = r.rec.Line
			r.setUnit(unit)
			return
		}
	}
	r.rows++
	if len(fields) > len(h.names) {
		for _, f := range fields[len(h.names):] {
			if len(trim(f)) > 0 {
				r.fault("", func() string {
					return strconv.Itoa(len(fields)) + " fields in a table of " + strconv.Itoa(len(h.names)) + " columns; is a comma both separator and decimal sign? then write points, or semicolons between the columns"
				})
				return
			}
		}
	}
	x := row{line: int32(r.rec.Line)}
	timed := r.readTime(at(h.stamp), at(h.date), at(h.clock), &x)
	v, ok := r.readCelsius(value)
	if !timed {
		return
	}
	if x.celsius = v; !ok {
		x.celsius = math.NaN() // its time is judged all the same
	} else if !math.IsNaN(v) {
		r.valued++
	}
	r.place(x)
}

// readTime reads the time of a row from its one field or its two.
func (r *reader) readTime(stamp, date, clock []byte, x *row) bool {
	h := &r.head
	field := stamp
	var what slip
	if h.stamp >= 0 {
		what = r.dates.readStamp(field, x)
	} else {
		field = date
		if what = r.dates.readDate(field, x); what == noSlip {
			field = clock
			what = readClock(field, x)
		}
	}
	if what != noSlip {
		r.badTime(what, field)
		return false
	}
	if !x.zoned && h.zoned {
		x.zoned, x.offset = true, h.offset
	}
	if r.zoneAt == 0 {
		r.zoneAt, r.log.Zoned = r.rec.Line, x.zoned
	} else if x.zoned != r.log.Zoned {
		r.badTime(mixedZones, field)
		return false
	}
	return true
}

func (r *reader) badTime(what slip, field []byte) {
	r.fault(r.head.timeName(), func() string {
		if what != mixedZones {
			return what.text(field, &r.dates)
		}
		says, other := "says", "does not"
		if r.log.Zoned {
			says, other = "does not say", "does"
		}
		return quote(field) + " " + says + " how far it is from UTC, and the time on line " + strconv.Itoa(r.zoneAt) + " " + other + "; write all times alike"
	})
}

// setUnit takes the unit from the rows.
func (r *reader) setUnit(unit Unit) {
	switch {
	case unit == "K":
		r.fault(r.log.Column, func() string { return "temperatures in kelvin are not read; give them in °C or °F" })
	case r.log.Unit == "" && !r.log.UnitAssumed:
		r.log.Unit = unit
	case r.log.Unit != unit && !(r.log.UnitAssumed && unit == Celsius):
		told := r.log.Unit
		if r.log.UnitAssumed {
			told = Celsius
		}
		r.fault(r.log.Column, func() string {
			return "a value in " + unit.String() + " in a column taken for " + told.String() + "; name the unit with --unit where the header is wrong, and write all values in it"
		})
	}
}

// unreadable says in words why a file or row cannot be read.
func unreadable(err error) string {
	if _, ok := err.(*csvrecords.BadRecord); ok {
		return err.Error()
	}
	return "cannot be read: " + err.Error()
}

// trim takes off blanks, the one that does not break lines among them.
func trim(b []byte) []byte {
	for len(b) > 0 {
		switch {
		case b[0] == ' ' || b[0] == '\t':
			b = b[1:]
			continue
		case b[0] == 0xc2 && len(b) > 1 && b[1] == 0xa0:
			b = b[2:]
			continue
		}
		break
	}
	for n := len(b); n > 0; n = len(b) {
		switch {
		case b[n-1] == ' ' || b[n-1] == '\t':
			b = b[:n-1]
			continue
		case b[n-1] == 0xa0 && n > 1 && b[n-2] == 0xc2:
			b = b[:n-2]
			continue
		}
		break
	}
	return b
}

// quote puts a field in quotes for a message, cut where it is long.
func quote(b []byte) string {
	const most = 60
	text := shown(b)
	if len(text) > most {
		cut := most
		for cut > 0 && !utf8.RuneStart(text[cut]) {
			cut--
		}
		text = text[:cut] + "…"
	}
	return `"` + text + `"`
}

func quoteAll(names []string) string {
	const most = 12
	out := ""
	for i, n := range names {
		if i == most {
			return out + " and " + strconv.Itoa(len(names)-most) + " more"
		}
		if i > 0 {
			out += ", "
		}
		out += quote([]byte(n))
	}
	return out
}

func plural(n int) string {
	if n == 1 {
		return ""
	}
	return "s"
}
