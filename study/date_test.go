package study

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// The calendar is checked against package time, which reckons days its own way.
func TestDateAgainstTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(-1_000_000, 3_000_000).Draw(t, "days since 1970-01-01")
		y, m, d := time.Unix(int64(n)*86400, 0).UTC().Date()
		if got := NewDate(y, m, d); got != Date(n) {
			t.Fatalf("NewDate(%d, %d, %d) = %d, want %d", y, m, d, got, n)
		}
	})
}

func TestParseDateGivesBackString(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Date(rapid.Int32Range(-719_528, 2_932_896).Draw(t, "day")) // 0000-01-01 to 9999-12-31
		got, err := ParseDate(d.String())
		if err != nil || got != d {
			t.Fatalf("%s read as %s, %v", d, got, err)
		}
	})
}

func TestParseDate(t *testing.T) {
	for _, s := range []string{"2024-02-29", "2000-02-29", "2025-01-31", "2025-12-31"} {
		if _, err := ParseDate(s); err != nil {
			t.Errorf("%s: %v", s, err)
		}
	}
	for s, want := range map[string]string{
		"2025-02-29": `"2025-02-29" does not exist in the calendar`,
		"1900-02-29": `"1900-02-29" does not exist in the calendar`, // a century that 400 does not divide
		"2025-04-31": `"2025-04-31" does not exist in the calendar`,
		"2025-00-10": `"2025-00-10" does not exist in the calendar`,
		"2025-13-01": `"2025-13-01" does not exist in the calendar`,
		"2025-01-00": `"2025-01-00" does not exist in the calendar`,
		"":           `"" is no date; write it as 2025-01-31`,
		"2025-1-3":   `"2025-1-3" is no date; write it as 2025-01-03`,
		"2025/04/14": `"2025/04/14" is no date; write it as 2025-04-14`,
		"31.01.2025": `"31.01.2025" is no date; write it as 2025-01-31`,
		"7.4.2025":   `"7.4.2025" is no date; write it as 2025-04-07`,
		"4.31.2025":  `"4.31.2025" is no date; write it as 2025-01-31`,
		"14/04/2025": `"14/04/2025" is no date; write it as 2025-04-14`,
		"4/14/2025":  `"4/14/2025" is no date; write it as 2025-04-14`,
		"07/04/2025": `"07/04/2025" is no date; write it as 2025-04-07 or 2025-07-04, whichever is meant`,
		"04-04-2025": `"04-04-2025" is no date; write it as 2025-04-04`,
		"31/31/2025": `"31/31/2025" is no date; write it as 2025-01-31`,
		"14/04/25":   `"14/04/25" has a year of two digits; write the day as 2025-01-31`,
		// 45761 = 25569 for 1970-01-01 and 55 years with 14 leap days and 103 days to 14 April.
		"45761":               `"45761" is a spreadsheet's number for a day, 2025-04-14 if it counts from 1900; write the day so`,
		"2025-04-14 00:00:00": `"2025-04-14 00:00:00" is no date; write the day alone, as 2025-04-14`,
		"2025-04-14T09:30Z":   `"2025-04-14T09:30Z" is no date; write the day alone, as 2025-04-14`,
		"2025-01-1x":          `"2025-01-1x" is no date; write it as 2025-01-31`,
		"-025-01-13":          `"-025-01-13" is no date; write it as 2025-01-31`,
		"2025-01-131":         `"2025-01-131" is no date; write it as 2025-01-31`,
	} {
		d, err := ParseDate(s)
		if err == nil || err.Error() != want || d != NoDate {
			t.Errorf("%q: %v, %v; want %s", s, d, err, want)
		}
	}
}

// A day in a table is taken in another order only where it can be one day.
func TestParseTableDate(t *testing.T) {
	for s, want := range map[string]string{
		"2025-04-14":   "2025-04-14",
		"14.04.2025":   "2025-04-14",
		"4.5.2025":     "2025-05-04",
		"14/04/2025":   "2025-04-14",
		"04/14/2025":   "2025-04-14",
		"4-14-2025":    "2025-04-14",
		"04/04/2025":   "2025-04-04",
		"2025/4/14":    "2025-04-14",
		"2025.04.05":   "2025-04-05",
		"29/02/2024":   "2024-02-29",
		"04/05/2025":   "", // may be two days
		"4-5-2025":     "",
		"29/02/2025":   "", // none
		"04.14.2025":   "",
		"14.04/2025":   "",
		"14.04.25":     "",
		"2025-14-04":   "",
		"45761":        "",
		" 14.04.2025":  "",
		"14.04.2025\n": "",
	} {
		d, err := ParseTableDate(s)
		if d.String() != want || (err == nil) != (want != "") {
			t.Errorf("%q: %v, %v; want %q", s, d, err, want)
		}
	}
}

// By hand, from a calendar.
func TestAddMonths(t *testing.T) {
	for _, c := range []struct {
		from   string
		months int
		want   string
	}{
		{"2025-01-31", 1, "2025-02-28"},
		{"2024-01-31", 1, "2024-02-29"},
		{"2025-01-31", 2, "2025-03-31"}, // from the start, not by way of February
		{"2025-01-31", 3, "2025-04-30"},
		{"2025-01-13", 3, "2025-04-13"},
		{"2024-02-29", 12, "2025-02-28"},
		{"2024-02-29", 48, "2028-02-29"},
		{"2025-11-30", 3, "2026-02-28"},
		{"2025-12-01", 1, "2026-01-01"},
		{"2025-12-31", 0, "2025-12-31"},
		{"1999-08-31", 18, "2001-02-28"},
	} {
		from, err := ParseDate(c.from)
		if err != nil {
			t.Fatal(err)
		}
		if got := from.AddMonths(c.months).String(); got != c.want {
			t.Errorf("%s + %dM = %s, want %s", c.from, c.months, got, c.want)
		}
	}
}

// The rule itself: n months on stands the same day of the month, or the last
// day of a month that is too short for it.
func TestAddMonthsKeepsTheDay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := Date(rapid.Int32Range(0, 80_000).Draw(t, "from"))
		n := rapid.IntRange(0, 1200).Draw(t, "months")
		got := from.AddMonths(n)
		fy, fm, fd := from.Time().Date()
		gy, gm, gd := got.Time().Date()
		if (gy-fy)*12+int(gm)-int(fm) != n {
			t.Fatalf("%s + %dM = %s, another month", from, n, got)
		}
		last := (got + 1).Time().Day() == 1
		if gd != fd && !(gd < fd && last) {
			t.Fatalf("%s + %dM = %s, neither the same day nor the month's last", from, n, got)
		}
		if later := (from + 1).AddMonths(n); later < got {
			t.Fatalf("a day later ends earlier: %s and %s", got, later)
		}
	})
}

func TestNoDate(t *testing.T) {
	if s := NoDate.String(); s != "" {
		t.Errorf("NoDate is written %q", s)
	}
	if d := NewDate(2025, 1, 13); d.Weekday() != time.Monday || d.String() != "2025-01-13" {
		t.Errorf("%s is a %s, want a Monday", d, d.Weekday())
	}
}
