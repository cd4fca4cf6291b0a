package study

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
)

// Days as spreadsheets and habit write them.
var (
	yearFirst   = regexp.MustCompile(`^(\d{4})([-./])(\d{1,2})([-./])(\d{1,2})$`)
	yearLast    = regexp.MustCompile(`^(\d{1,2})([-./])(\d{1,2})([-./])(\d{4})$`)
	shortYear   = regexp.MustCompile(`^\d{1,2}([-./])\d{1,2}([-./])\d{2}$`)
	dayWithTime = regexp.MustCompile(`^(\d{4}-\d\d-\d\d)[ T]\d{1,2}:\d\d`)
	dayNumber   = regexp.MustCompile(`^[34]\d{4}$`)
)

// spreadsheetEpoch is day 0 of the day numbers of spreadsheets from March 1900
// on (ECMA-376 part 1, 18.17.4.1): day 25569 is 1970-01-01.
const spreadsheetEpoch Date = -25569

// ParseTableDate reads a day in a table, which a spreadsheet may have rewritten:
// as ParseDate does, and also in another order where it can be one day only.
// The year has four digits. Where it stands first, month and day follow; between
// dots the day stands before the month (common practice, no source); between
// slashes or hyphens either may, so that there one of the two must be no month,
// or both the same: 14/04/2025, but not 04/05/2025.
func ParseTableDate(s string) (Date, error) {
	d, err := ParseDate(s)
	if err != nil {
		if days := readings(s); len(days) == 1 {
			return days[0], nil
		}
	}
	return d, err
}

// readings gives the days that a text with a year of four digits may mean.
func readings(s string) []Date {
	var out []Date
	add := func(y, m, d string) {
		if date, err := ParseDate(fmt.Sprintf("%s-%02s-%02s", y, m, d)); err == nil && !slices.Contains(out, date) {
			out = append(out, date)
		}
	}
	if m := yearFirst.FindStringSubmatch(s); m != nil && m[2] == m[4] {
		add(m[1], m[3], m[5])
	} else if m := yearLast.FindStringSubmatch(s); m != nil && m[2] == m[4] {
		add(m[5], m[3], m[1])
		if m[2] != "." {
			add(m[5], m[1], m[3])
		}
	}
	return out
}

// noDate says that a text is no date and, where that can be told, which day it
// was meant to be.
func noDate(s string) error {
	right := "write it as 2025-01-31"
	switch days := readings(s); len(days) {
	case 1:
		right = "write it as " + days[0].String()
	case 2:
		right = "write it as " + days[0].String() + " or " + days[1].String() + ", whichever is meant"
	default:
		if m := shortYear.FindStringSubmatch(s); m != nil && m[1] == m[2] {
			return fmt.Errorf("%q has a year of two digits; write the day as 2025-01-31", s)
		}
		if m := dayWithTime.FindStringSubmatch(s); m != nil {
			right = "write the day alone, as " + m[1]
		} else if n, err := strconv.Atoi(s); err == nil && dayNumber.MatchString(s) {
			return fmt.Errorf("%q is a spreadsheet's number for a day, %s if it counts from 1900; write the day so", s, spreadsheetEpoch+Date(n))
		}
	}
	return fmt.Errorf("%q is no date; %s", s, right)
}
