package logger

import (
	"fmt"
	"strconv"
	"time"
)

// Stamp is a time as a log has it.
type Stamp struct {
	Milli  int64 // on the log's own clock, counted from 1970-01-01 00:00 on it
	Offset int16 // minutes that the clock is east of UTC; only where Zoned
	Zoned  bool
}

// After gives the stamp some milliseconds later on the same clock.
func (s Stamp) After(milli float64) Stamp {
	s.Milli += int64(milli)
	return s
}

// String writes 2025-08-04 13:30, with the seconds where there are any, and how
// far that is from UTC where it is known.
func (s Stamp) String() string {
	layout := "2006-01-02 15:04:05"
	if s.seconds() == 0 {
		layout = "2006-01-02 15:04"
	}
	return s.format(layout)
}

// ISO writes 2025-08-04T13:30:00, with +02:00 behind it where it is known.
func (s Stamp) ISO() string { return s.format("2006-01-02T15:04:05") }

// Day writes 2025-08-04.
func (s Stamp) Day() string { return s.format("2006-01-02")[:10] }

func (s Stamp) seconds() int64 { return (s.rounded()/1000%60 + 60) % 60 }

// rounded is Milli to the whole second.
func (s Stamp) rounded() int64 {
	m := (s.Milli%1000 + 1000) % 1000
	if m >= 500 {
		return s.Milli - m + 1000
	}
	return s.Milli - m
}

func (s Stamp) format(layout string) string {
	t := time.UnixMilli(s.rounded()).UTC()
	if s.Zoned {
		return t.In(time.FixedZone("", int(s.Offset)*60)).Add(-time.Duration(s.Offset) * time.Minute).Format(layout + "Z07:00")
	}
	return t.Format(layout)
}

// slip is what is wrong with a time.
type slip int8

const (
	noSlip slip = iota
	noTime
	notATime
	shortYear
	noSuchDay
	noSuchTime
	zoneName
	timeAlone
	orderChanged
	mixedZones
)

// text says what is wrong and what would be right.
func (s slip) text(field []byte, d *dates) string {
	switch s {
	case noTime:
		return "the row has no time"
	case shortYear:
		return quote(field) + " has a year of two digits; write it with four, as 2025-08-04 13:30"
	case noSuchDay:
		return quote(field) + " is a day that is not in the calendar"
	case noSuchTime:
		return quote(field) + " is no time of day"
	case zoneName:
		return quote(field) + " names its time zone by letters, which mean different things in different places; write how far it is from UTC, as 2025-08-04T13:30:00+02:00"
	case timeAlone:
		return quote(field) + " is a time of day without a date; write both, as 2025-08-04 13:30"
	case orderChanged:
		first, second := "the month", "the day"
		if d.order == MonthFirst {
			first, second = second, first
		}
		why := "the other order was asked for"
		if d.told > 0 {
			why = fmt.Sprintf("the date on line %d has them the other way round", d.told)
		}
		return quote(field) + " has " + first + " before " + second + ", and " + why + "; write dates as 2025-08-04"
	}
	return quote(field) + " is no time that can be read; write it as 2025-08-04 13:30 or 2025-08-04T13:30:00+02:00"
}

// dates reads dates; the last one is kept, since rows of one day stand together.
type dates struct {
	order Order
	told  int // line of the date that told the order; 0 where the caller did or none has yet

	text       []byte // of the last date; nil before the first
	day, other int32
	slip       slip
	only       Order // by which alone it can be read; Untold where it says nothing
}

// readStamp reads date and time of day from one field.
func (d *dates) readStamp(b []byte, x *row) slip {
	if len(b) == 0 {
		return noTime
	}
	// The time of day begins with the hour before the first colon.
	colon := -1
	for i, c := range b {
		if c == ':' {
			colon = i
			break
		}
	}
	if colon < 0 {
		// A spreadsheet leaves the time of midnight away.
		return d.readDate(b, x)
	}
	from := colon
	for from > 0 && colon-from < 2 && b[from-1]-'0' <= 9 {
		from--
	}
	to := from
	for to > 0 && (b[to-1] == ' ' || b[to-1] == 'T' || b[to-1] == 't' || b[to-1] == ',') {
		if b[to-1]|0x20 == 't' && to > 1 && b[to-2]-'0' > 9 {
			break // the end of a month's name
		}
		to--
	}
	switch {
	case from == 0:
		return timeAlone
	case to == from:
		return notATime
	}
	if s := d.readDate(b[:to], x); s != noSlip {
		return s
	}
	return readClock(b[from:], x)
}

// readDate reads a date.
func (d *dates) readDate(b []byte, x *row) slip {
	if len(b) == 0 {
		return noTime
	}
	if string(b) != string(d.text) {
		d.text = append(d.text[:0], b...)
		d.only = Untold
		d.slip = d.parse(b)
	}
	if d.slip != noSlip {
		return d.slip
	}
	if d.only != Untold {
		switch d.order {
		case Untold:
			d.order, d.told = d.only, int(x.line)
		case d.only:
		default:
			return orderChanged
		}
	}
	x.day, x.other = d.day, d.other
	return noSlip
}

// parse reads the date's parts: numbers and letters, with what parts them.
func (d *dates) parse(b []byte) slip {
	var number [3]int
	var digits [3]int
	n, month, monthAt := 0, 0, -1
	var sign byte
	for i := 0; i < len(b); {
		switch c := b[i]; {
		case c-'0' <= 9:
			if n == 3 {
				return notATime
			}
			from := i
			for ; i < len(b) && b[i]-'0' <= 9; i++ {
				if i-from < 8 {
					number[n] = number[n]*10 + int(b[i]-'0')
				}
			}
			digits[n] = i - from
			n++
		case (c|0x20)-'a' < 26:
			from := i
			for ; i < len(b) && (b[i]|0x20)-'a' < 26; i++ {
			}
			if month != 0 {
				return notATime
			}
			if month = monthOf(b[from:i]); month == 0 {
				return notATime
			}
			monthAt = n
		case c == '-' || c == '/' || c == '.' || c == ' ' || c == ',':
			if sign == 0 {
				sign = c
			}
			i++
		default:
			return notATime
		}
	}
	exactly := func(year, month, day int) slip {
		v, ok := dayOf(year, month, day)
		if !ok {
			return noSuchDay
		}
		d.day, d.other = v, v
		return noSlip
	}
	switch {
	case n == 1 && digits[0] == 8 && month == 0: // the basic format of ISO 8601
		return exactly(number[0]/10000, number[0]/100%100, number[0]%100)
	case month > 0 && n == 2 && monthAt <= 1:
		switch {
		case digits[1] == 4 && digits[0] <= 2: // 4 Aug 2025, Aug 4, 2025
			return exactly(number[1], month, number[0])
		case digits[0] == 4 && monthAt == 1 && digits[1] <= 2: // 2025-Aug-04
			return exactly(number[0], month, number[1])
		case digits[0] <= 2 && digits[1] == 2:
			return shortYear
		}
		return notATime
	case n != 3 || month > 0:
		return notATime
	case digits[0] == 4 && digits[1] <= 2 && digits[2] <= 2:
		return exactly(number[0], number[1], number[2])
	case digits[2] == 2 && digits[0] <= 2 && digits[1] <= 2:
		return shortYear
	case digits[2] != 4 || digits[0] > 2 || digits[1] > 2:
		return notATime
	case sign == '.':
		return exactly(number[2], number[1], number[0])
	}
	byDay, dayOK := dayOf(number[2], number[1], number[0])
	byMonth, monthOK := dayOf(number[2], number[0], number[1])
	switch {
	case !dayOK && !monthOK:
		return noSuchDay
	case !monthOK:
		d.only, d.day, d.other = DayFirst, byDay, byDay
	case !dayOK:
		d.only, d.day, d.other = MonthFirst, byMonth, byMonth
	default:
		d.day, d.other = byDay, byMonth
	}
	return noSlip
}

// dayOf gives the days since 1970 of a day in the years a logger can write.
func dayOf(year, month, day int) (int32, bool) {
	if year < 1970 || year > 2199 || month < 1 || month > 12 || day < 1 || day > 31 {
		return 0, false
	}
	t := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
	if t.Day() != day {
		return 0, false
	}
	return int32(t.Unix() / 86400), true
}

var monthNames = [...]string{"january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november", "december"}

// monthOf gives the month that an English name or its first three letters stand
// for, 0 where there is none.
func monthOf(b []byte) int {
	if len(b) < 3 || len(b) > 9 {
		return 0
	}
	if len(b) == 4 && string(lower(b)) == "sept" {
		return 9
	}
	for i, name := range monthNames {
		if low := string(lower(b)); low == name[:3] || low == name {
			return i + 1
		}
	}
	return 0
}

func lower(b []byte) []byte {
	out := make([]byte, len(b))
	for i, c := range b {
		out[i] = c | 0x20
	}
	return out
}

// readClock reads a time of day: 13:30, 13:30:05.25, 1:30 PM, each with or
// without Z, +02:00, +0200, +02 or UTC behind it.
func readClock(b []byte, x *row) slip {
	if len(b) == 0 {
		return noTime
	}
	i := 0
	two := func(least int) (v int, ok bool) {
		from := i
		for i < len(b) && i-from < 2 && b[i]-'0' <= 9 {
			v = v*10 + int(b[i]-'0')
			i++
		}
		return v, i-from >= least
	}
	hour, ok := two(1)
	if !ok || i == len(b) || b[i] != ':' {
		return notATime
	}
	i++
	minute, ok := two(2)
	if !ok {
		return notATime
	}
	second, milli := 0, 0
	if i < len(b) && b[i] == ':' {
		i++
		if second, ok = two(2); !ok {
			return notATime
		}
		if i+1 < len(b) && (b[i] == '.' || b[i] == ',') && b[i+1]-'0' <= 9 {
			i++
			for scale := 100; i < len(b) && b[i]-'0' <= 9; i++ {
				milli += scale * int(b[i]-'0')
				scale /= 10
			}
		}
	}
	for i < len(b) && b[i] == ' ' {
		i++
	}
	half := byte(0) // of the day
	if i+1 < len(b) && (b[i]|0x20 == 'a' || b[i]|0x20 == 'p') {
		n := 0
		switch {
		case b[i+1]|0x20 == 'm':
			n = 2
		case len(b) >= i+4 && b[i+1] == '.' && b[i+2]|0x20 == 'm' && b[i+3] == '.':
			n = 4
		}
		if n > 0 {
			half = b[i] | 0x20
			i += n
			for i < len(b) && b[i] == ' ' {
				i++
			}
		}
	}
	switch {
	case minute > 59 || second > 60 || half == 0 && (hour > 24 || hour == 24 && (minute > 0 || second > 0)):
		return noSuchTime
	case half != 0 && (hour < 1 || hour > 12):
		return noSuchTime
	}
	if half != 0 {
		hour %= 12
		if half == 'p' {
			hour += 12
		}
	}
	x.milli = int32(((hour*60+minute)*60+second)*1000 + milli)
	rest := b[i:]
	switch {
	case len(rest) == 0:
		return noSlip
	case len(rest) == 1 && rest[0]|0x20 == 'z':
		x.zoned, x.offset = true, 0
		return noSlip
	case len(rest) == 3 && (string(lower(rest)) == "utc" || string(lower(rest)) == "gmt"):
		x.zoned, x.offset = true, 0
		return noSlip
	}
	if x.offset, x.zoned = readOffset(rest); x.zoned {
		return noSlip
	}
	if c := rest[0] | 0x20; c >= 'a' && c <= 'z' {
		return zoneName
	}
	return notATime
}

// readOffset reads how far a clock is from UTC: +02:00, +0200, +2.
func readOffset(b []byte) (minutes int16, ok bool) {
	negative := false
	switch {
	case len(b) > 1 && (b[0] == '+' || b[0] == '-'):
		negative, b = b[0] == '-', b[1:]
	case len(b) > 3 && b[0] == 0xe2 && b[1] == 0x88 && b[2] == 0x92: // the sign minus, which ISO 8601 prefers
		negative, b = true, b[3:]
	default:
		return 0, false
	}
	text := string(b)
	if len(text) > 3 && text[len(text)-3] == ':' {
		text = text[:len(text)-3] + text[len(text)-2:]
	}
	hours := text
	if len(text) > 2 {
		hours = text[:len(text)-2]
	}
	h, err := strconv.ParseUint(hours, 10, 8)
	m := uint64(0)
	if err == nil && len(text) > 2 {
		m, err = strconv.ParseUint(text[len(text)-2:], 10, 8)
	}
	if err != nil || h > 14 || m > 59 {
		return 0, false
	}
	minutes = int16(h*60 + m)
	if negative {
		minutes = -minutes
	}
	return minutes, true
}
