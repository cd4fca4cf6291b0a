package study

import (
	"fmt"
	"regexp"
	"strconv"
)

// Days as spreadsheets and habit write them.
var (
	yearFirst   = regexp.MustCompile(`^(\d{4})[-./](\d{1,2})[-./](\d{1,2})$`)
	yearLast    = regexp.MustCompile(`^(\d{1,2})([-./])(\d{1,2})[-./](\d{4})$`)
	dayWithTime = regexp.MustCompile(`^(\d{4}-\d\d-\d\d)[ T]\d{1,2}:\d\d`)
	dayNumber   = regexp.MustCompile(`^[34]\d{4}$`)
)

// spreadsheetEpoch is day 0 of the day numbers of spreadsheets from March 1900
// on (ECMA-376 part 1, 18.17.4.1): day 25569 is 1970-01-01.
const spreadsheetEpoch Date = -25569

// noDate says that a text is no date and, where that can be told, which day it
// was meant to be. Between dots the day is taken to stand before the month
// (common practice, no source); between slashes either may, and is so only
// where the other is no month.
func noDate(s string) error {
	right := "write it as 2025-01-31"
	day := func(y, m, d string) string {
		date, err := ParseDate(fmt.Sprintf("%s-%02s-%02s", y, m, d))
		if err != nil {
			return ""
		}
		return date.String()
	}
	if m := yearFirst.FindStringSubmatch(s); m != nil {
		if meant := day(m[1], m[2], m[3]); meant != "" {
			right = "write it as " + meant
		}
	} else if m := yearLast.FindStringSubmatch(s); m != nil {
		a, b := day(m[4], m[3], m[1]), day(m[4], m[1], m[3])
		switch {
		case m[2] == "." && a != "" || a != "" && (b == "" || a == b):
			right = "write it as " + a
		case m[2] != "." && a == "" && b != "":
			right = "write it as " + b
		case m[2] != "." && a != "" && b != "":
			right = "write it as " + a + " or " + b + ", whichever is meant"
		}
	} else if m := dayWithTime.FindStringSubmatch(s); m != nil {
		right = "write the day alone, as " + m[1]
	} else if dayNumber.MatchString(s) {
		if n, err := strconv.Atoi(s); err == nil {
			return fmt.Errorf("%q is a spreadsheet's number for a day, %s if it counts from 1900; write the day so", s, spreadsheetEpoch+Date(n))
		}
	}
	return fmt.Errorf("%q is no date; %s", s, right)
}
