// Package lane reads what a product is to go through: the legs of a way, each a
// temperature and how long it lasts, or the months of a climate.
//
// A lane is a CSV with a header line. Its columns:
//
//	leg       the name of a leg; may be left away
//	month     instead of leg and duration: January, Jan or 1, with its days
//	celsius   the temperature in °C, steady
//	low, high instead of celsius: a temperature that goes up and down between them every day
//	duration  36H, 10D, 2W, 3M, 1Y; decimals are understood
//	comment   is not looked at
//
// Comma, semicolon and tab are told from the header, and a decimal comma is
// understood where the comma parts no columns.
package lane

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"shelfspan/study"
	"shelfspan/study/csvrecords"
	"shelfspan/study/finding"
	"shelfspan/study/spelling"
)

// Lane is what a product goes through, in the order of the file.
type Lane struct {
	Input   study.Input
	ByMonth bool // a climate: the legs are months
	Legs    []Leg
}

// Leg is a stretch of a lane. Where Low and High differ, the temperature swings
// between them once a day.
type Leg struct {
	Name      string
	Low, High float64 // °C
	Months    float64 // length
}

// columnNames are the columns, in the order of the documentation.
var columnNames = []string{"leg", "month", "celsius", "low", "high", "duration", "comment"}

const (
	colLeg = iota
	colMonth
	colCelsius
	colLow
	colHigh
	colDuration
	colComment
	numColumns
)

// The temperatures that a lane may have, in °C.
const coldest, hottest = -273.15, 200

// longest is the length, in months, that no lane has.
const longest = 12 * 1000

// Read takes in a lane. The error is a *finding.Faults.
func Read(name string, src io.Reader) (*Lane, error) {
	sum := sha256.New()
	r := &reader{name: name, rec: csvrecords.NewReader(src, sum), lane: Lane{Input: study.Input{Path: name}}}
	r.read()
	if err := r.faults.Err(); err != nil {
		return nil, err
	}
	r.lane.Input.SHA256, r.lane.Input.Rows = hex.EncodeToString(sum.Sum(nil)), len(r.lane.Legs)
	return &r.lane, nil
}

type reader struct {
	name   string
	rec    *csvrecords.Reader
	at     [numColumns]int // column of each name; −1 where there is none
	width  int
	months [13]int // line on which a month stands
	rows   int
	lane   Lane
	faults finding.Collector
}

func (r *reader) fault(line int, column, text string) {
	r.faults.Add(r.name, line, column, func() string { return text })
}

func (r *reader) read() {
	if err := r.rec.Begin(); err != nil {
		r.fault(0, "", unreadable(err))
		return
	}
	r.rec.Sep = separator(r.rec.FirstLine())
	headed := false
	for {
		fields, err := r.rec.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			bad, ok := err.(*csvrecords.BadRecord)
			if !ok {
				r.fault(0, "", unreadable(err))
				return
			}
			r.fault(r.rec.Line, "", err.Error())
			if bad.Fatal || !headed {
				return
			}
			continue
		}
		if !headed {
			headed = true
			if !r.header(fields) {
				return
			}
			continue
		}
		r.row(fields)
	}
	switch {
	case !headed:
		r.fault(0, "", "is empty; a lane begins with a header such as leg,celsius,duration or month,celsius")
	case r.rows == 0:
		r.fault(1, "", "has a header and no legs below it")
	}
}

// separator is the one that parts a header into the most known names.
func separator(line []byte) byte {
	best, most := byte(','), -1
	for _, sep := range []byte{',', ';', '\t'} {
		n := 0
		for _, name := range bytes.Split(bytes.TrimRight(line, "\r"), []byte{sep}) {
			if slices.Contains(columnNames, strings.ToLower(strings.Trim(strings.TrimSpace(string(name)), `"`))) {
				n++
			}
		}
		if n > most {
			best, most = sep, n
		}
	}
	return best
}

func (r *reader) header(fields [][]byte) bool {
	for i := range r.at {
		r.at[i] = -1
	}
	r.width = len(fields)
	known := 0
	for i, f := range fields {
		name := strings.ToLower(strings.TrimSpace(string(f)))
		c := slices.Index(columnNames, name)
		switch {
		case name == "":
		case c < 0:
			text := "no such column; known are " + strings.Join(columnNames, ", ")
			near := spelling.Nearest(name, columnNames)
			switch {
			case len(name) > 100:
			case strings.HasPrefix(name, "temp"):
				near = "celsius"
			case name == "days" || name == "hours" || name == "time":
				near = "duration"
			}
			if near != "" && len(name) <= 100 {
				text = "no such column; did you mean " + strconv.Quote(near) + "?"
			}
			r.fault(r.rec.Line, shown(f), text)
		case r.at[c] >= 0:
			r.fault(r.rec.Line, name, "this column stands twice in the header")
		default:
			r.at[c] = i
			known++
		}
	}
	if known == 0 {
		r.faults = finding.Collector{}
		r.fault(r.rec.Line, "", "is no header line; a lane begins with one, such as leg,celsius,duration or month,celsius")
		return false
	}
	if r.faults.Count() > 0 {
		return false
	}
	need := func(ok bool, text string) {
		if !ok {
			r.fault(r.rec.Line, "", text)
		}
	}
	has := func(c int) bool { return r.at[c] >= 0 }
	r.lane.ByMonth = has(colMonth)
	need(!has(colMonth) || !has(colLeg) && !has(colDuration), "the header has month beside leg or duration; a lane is either a way in legs or a climate by month")
	need(has(colMonth) || has(colDuration), "the header has neither duration (of each leg) nor month")
	need(has(colLow) == has(colHigh), "low and high stand together; the header has one of them")
	need(has(colCelsius) || has(colLow), "the header has no temperature: celsius, or low and high")
	return r.faults.Count() == 0
}

func (r *reader) row(fields [][]byte) {
	line := r.rec.Line
	text := func(c int) string {
		if i := r.at[c]; i >= 0 && i < len(fields) {
			return strings.TrimSpace(string(fields[i]))
		}
		return ""
	}
	said := false
	for _, f := range fields {
		said = said || len(bytes.TrimSpace(f)) > 0
	}
	if !said {
		return
	}
	r.rows++
	before := r.faults.Count()
	if len(fields) > r.width {
		r.fault(line, "", strconv.Itoa(len(fields))+" fields in a table of "+strconv.Itoa(r.width)+" columns; is a comma both separator and decimal sign?")
		return
	}
	leg := Leg{Name: shown([]byte(text(colLeg)))}
	if r.lane.ByMonth {
		m := monthOf(text(colMonth))
		switch {
		case m == 0:
			r.fault(line, "month", quoted(text(colMonth))+" is no month; write January, Jan or 1")
		case r.months[m] > 0:
			r.fault(line, "month", time.Month(m).String()+" stands on line "+strconv.Itoa(r.months[m])+" already")
		default:
			r.months[m] = line
			leg.Name, leg.Months = time.Month(m).String(), daysOf[m]/study.DaysPerMonth
		}
	} else {
		if leg.Name == "" {
			leg.Name = strconv.Itoa(r.rows)
		}
		months, ok := lengthOf(text(colDuration), r.rec.Sep != ',')
		switch {
		case !ok:
			r.fault(line, "duration", quoted(text(colDuration))+" is no duration; write 36H, 10D, 2W, 3M or 1Y")
		case !(months > 0) || months > longest:
			r.fault(line, "duration", quoted(text(colDuration))+" is no length of a leg")
		}
		leg.Months = months
	}
	r.temperatures(&leg, text)
	if r.faults.Count() == before {
		r.lane.Legs = append(r.lane.Legs, leg)
	}
}

// temperatures reads those of a leg.
func (r *reader) temperatures(leg *Leg, text func(int) string) {
	line := r.rec.Line
	read := func(c int) float64 {
		x, ok := numberOf(text(c), r.rec.Sep != ',')
		switch {
		case !ok:
			r.fault(line, columnNames[c], quoted(text(c))+" is no temperature")
		case x < coldest || x > hottest:
			r.fault(line, columnNames[c], quoted(text(c))+" is no temperature, in °C, that anything is stored at")
		}
		return x
	}
	steady, swings := text(colCelsius) != "", text(colLow) != "" || text(colHigh) != ""
	switch {
	case steady && swings:
		r.fault(line, "celsius", "a temperature beside low and high; a leg has either")
	case steady:
		leg.Low = read(colCelsius)
		leg.High = leg.Low
	case swings:
		before := r.faults.Count()
		leg.Low, leg.High = read(colLow), read(colHigh)
		if r.faults.Count() == before && leg.Low > leg.High {
			r.fault(line, "low", quoted(text(colLow))+" is above high, "+quoted(text(colHigh)))
		}
	default:
		r.fault(line, "", "the row has no temperature")
	}
}

// daysOf are the days of the months; 29 February comes once in four years.
var daysOf = [13]float64{0, 31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}

// monthOf gives the month that a name, its first three letters or a number stand
// for; 0 where there is none.
func monthOf(s string) int {
	if n, err := strconv.Atoi(s); err == nil && n >= 1 && n <= 12 {
		return n
	}
	for m := time.January; m <= time.December; m++ {
		if name := m.String(); strings.EqualFold(s, name) || strings.EqualFold(s, name[:3]) {
			return int(m)
		}
	}
	return 0
}

// lengthOf reads a duration in months.
func lengthOf(s string, comma bool) (months float64, ok bool) {
	if s == "" {
		return 0, false
	}
	x, ok := numberOf(strings.TrimSpace(s[:len(s)-1]), comma)
	switch s[len(s)-1] | 0x20 {
	case 'h':
		x /= 24 * study.DaysPerMonth
	case 'd':
		x /= study.DaysPerMonth
	case 'w':
		x *= 7 / study.DaysPerMonth
	case 'm':
	case 'y':
		x *= 12
	default:
		return 0, false
	}
	return x, ok
}

// numberOf reads a decimal number.
func numberOf(s string, comma bool) (float64, bool) {
	s = strings.Replace(s, "−", "-", 1)
	if comma {
		s = strings.Replace(s, ",", ".", 1)
	}
	if strings.Trim(s, "0123456789.+-") != "" {
		return 0, false
	}
	x, err := strconv.ParseFloat(s, 64)
	return x, err == nil && !math.IsInf(x, 0)
}

func unreadable(err error) string {
	if _, ok := err.(*csvrecords.BadRecord); ok {
		return err.Error()
	}
	return "cannot be read: " + err.Error()
}

// shown is a text of the file without what a terminal would obey, cut where it is
// long.
func shown(b []byte) string {
	s := strings.Map(func(c rune) rune {
		if unicode.IsControl(c) {
			return unicode.ReplacementChar
		}
		return c
	}, strings.TrimSpace(string(b)))
	const most = 60
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "…"
	}
	return s
}

func quoted(s string) string { return `"` + shown([]byte(s)) + `"` }
