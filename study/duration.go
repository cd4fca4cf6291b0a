package study

import (
	"errors"
	"fmt"
	"strconv"
)

// DaysPerMonth is the length of a month in every computation: 365.25/12.
const DaysPerMonth = 30.4375

// Unit is the unit of a Duration: D days, W weeks, M months, Y years, C cycles.
type Unit byte

// The units of a Duration.
const (
	Days   Unit = 'D'
	Weeks  Unit = 'W'
	Months Unit = 'M'
	Years  Unit = 'Y'
	Cycles Unit = 'C'
)

// Duration is a storage time as the study file writes it: 0, 10D, 2W, 3M, 2Y,
// or 5C for a cycling condition. The zero value is time zero.
type Duration struct {
	N    int32
	Unit Unit // 0 only where N is 0
}

// maxDuration bounds N so that calendar arithmetic cannot overflow.
const maxDuration = 100_000

// ParseDuration reads 0, 10D, 2W, 3M, 2Y or 5C; units in either case.
func ParseDuration(s string) (Duration, error) {
	if s == "0" {
		return Duration{}, nil
	}
	if s == "" {
		return Duration{}, errors.New("an empty duration; write 0, 10D, 2W, 3M or 2Y")
	}
	unit := Unit(s[len(s)-1] &^ 0x20)
	switch unit {
	case Days, Weeks, Months, Years, Cycles:
	default:
		return Duration{}, fmt.Errorf("%q is no duration; write 0, 10D, 2W, 3M or 2Y", s)
	}
	n, err := strconv.ParseUint(s[:len(s)-1], 10, 31)
	if err != nil {
		return Duration{}, fmt.Errorf("%q is no duration; write 0, 10D, 2W, 3M or 2Y", s)
	}
	if n > maxDuration {
		return Duration{}, fmt.Errorf("%q is longer than any study", s)
	}
	if n == 0 {
		return Duration{}, nil
	}
	return Duration{N: int32(n), Unit: unit}, nil
}

// IsZero reports whether the duration is time zero.
func (d Duration) IsZero() bool { return d.N == 0 }

// String writes the duration as it was read.
func (d Duration) String() string {
	if d.N == 0 {
		return "0"
	}
	return strconv.Itoa(int(d.N)) + string(d.Unit)
}

// Months gives the planned length in months: D/30.4375, 7·W/30.4375, M, 12·Y,
// and for cycles C·hours/24/30.4375. Cycle hours are used only for C.
func (d Duration) Months(cycleHours float64) float64 {
	n := float64(d.N)
	switch d.Unit {
	case Days:
		return n / DaysPerMonth
	case Weeks:
		return 7 * n / DaysPerMonth
	case Months:
		return n
	case Years:
		return 12 * n
	case Cycles:
		return n * cycleHours / 24 / DaysPerMonth
	}
	return 0
}

// AddTo gives the calendar date the duration ends on: days and weeks add days,
// months and years keep the day of the month or take the month's last, cycles
// add whole days, rounded up.
func (d Duration) AddTo(start Date, cycleHours float64) Date {
	switch d.Unit {
	case Days:
		return start + Date(d.N)
	case Weeks:
		return start + 7*Date(d.N)
	case Months:
		return start.AddMonths(int(d.N))
	case Years:
		return start.AddMonths(12 * int(d.N))
	case Cycles:
		hours := float64(d.N) * cycleHours
		days := Date(hours / 24)
		if float64(days)*24 < hours {
			days++
		}
		return start + days
	}
	return start
}
