package study

import (
	"fmt"
	"math"
	"time"
)

// Date is a calendar day without a time zone, counted in days from 1970-01-01.
type Date int32

// NoDate stands for a day that is not given.
const NoDate Date = math.MinInt32

// NewDate returns the day of a proleptic Gregorian year, month and day, which
// must exist.
func NewDate(year int, month time.Month, day int) Date {
	// Days from civil: the year is reckoned from 1 March, so that the leap day
	// is its last and the months follow a 153-day pattern.
	y := year
	m := int(month)
	if m <= 2 {
		y--
	}
	era := y
	if era < 0 {
		era -= 399
	}
	era /= 400
	yoe := y - era*400
	mp := (m + 9) % 12
	doy := (153*mp+2)/5 + day - 1
	doe := yoe*365 + yoe/4 - yoe/100 + doy
	return Date(era*146097 + doe - 719468)
}

// ParseDate reads an ISO 8601 calendar date, 2025-01-13. A day that does not
// exist is an error.
func ParseDate(s string) (Date, error) {
	if len(s) != 10 || s[4] != '-' || s[7] != '-' {
		return NoDate, noDate(s)
	}
	number := func(s string) (n int, ok bool) {
		for i := 0; i < len(s); i++ {
			if s[i] < '0' || s[i] > '9' {
				return 0, false
			}
			n = n*10 + int(s[i]-'0')
		}
		return n, true
	}
	y, ok1 := number(s[:4])
	m, ok2 := number(s[5:7])
	d, ok3 := number(s[8:])
	if !ok1 || !ok2 || !ok3 {
		return NoDate, noDate(s)
	}
	if m < 1 || m > 12 || d < 1 || d > daysIn(y, time.Month(m)) {
		return NoDate, fmt.Errorf("%q does not exist in the calendar", s)
	}
	return NewDate(y, time.Month(m), d), nil
}

func daysIn(year int, month time.Month) int {
	switch month {
	case time.February:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	case time.April, time.June, time.September, time.November:
		return 30
	}
	return 31
}

// Time returns midnight UTC of the day.
func (d Date) Time() time.Time { return time.Unix(int64(d)*86400, 0).UTC() }

// String gives 2025-01-13, or the empty string for NoDate.
func (d Date) String() string {
	if d == NoDate {
		return ""
	}
	return d.Time().Format("2006-01-02")
}

// Weekday returns the day of the week.
func (d Date) Weekday() time.Weekday { return d.Time().Weekday() }

// AddMonths moves n calendar months on, to the same day of the month or, where
// that month has none, to its last day (31 January + 1 month is 28 February).
func (d Date) AddMonths(n int) Date {
	y, m, day := d.Time().Date()
	months := y*12 + int(m) - 1 + n
	ny, nm := months/12, time.Month(months%12+1)
	return NewDate(ny, nm, min(day, daysIn(ny, nm)))
}
