package logger

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// stampOf reads one time.
func stampOf(text string, order Order) (Stamp, slip) {
	d, x := dates{order: order}, row{line: 2}
	s := d.readStamp([]byte(text), &x)
	day := x.day
	if order == MonthFirst {
		day = x.other
	}
	return Stamp{Milli: int64(day)*dayMilli + int64(x.milli), Offset: x.offset, Zoned: x.zoned}, s
}

func TestStamps(t *testing.T) {
	at := func(hour, minute, second, milli int) int64 {
		return time.Date(2025, 8, 4, hour, minute, second, milli*1e6, time.UTC).UnixMilli()
	}
	for text, want := range map[string]Stamp{
		"2025-08-04 13:30":               {Milli: at(13, 30, 0, 0)},
		"2025-08-04T13:30:05.125":        {Milli: at(13, 30, 5, 125)},
		"2025-08-04T13:30:05,5Z":         {Milli: at(13, 30, 5, 500), Zoned: true},
		"2025-08-04 13:30 +02:00":        {Milli: at(13, 30, 0, 0), Offset: 120, Zoned: true},
		"2025-08-04T13:30:00-0930":       {Milli: at(13, 30, 0, 0), Offset: -570, Zoned: true},
		"2025-08-04T13:30:00+02":         {Milli: at(13, 30, 0, 0), Offset: 120, Zoned: true},
		"2025-08-04T13:30:00\u221205:00": {Milli: at(13, 30, 0, 0), Offset: -300, Zoned: true},
		"2025-08-04 13:30 UTC":           {Milli: at(13, 30, 0, 0), Zoned: true},
		"20250804 13:30":                 {Milli: at(13, 30, 0, 0)},
		"2025/8/4 9:05":                  {Milli: at(9, 5, 0, 0)},
		"2025-08-04":                     {Milli: at(0, 0, 0, 0)},
		"2025-08-03 24:00":               {Milli: at(0, 0, 0, 0)},
		"4.8.2025 13:30":                 {Milli: at(13, 30, 0, 0)},
		"4 Aug 2025 1:30 PM":             {Milli: at(13, 30, 0, 0)},
		"Aug 4, 2025, 12:30:00 am":       {Milli: at(0, 30, 0, 0)},
		"04-August-2025 12:30 p.m.":      {Milli: at(12, 30, 0, 0)},
		"2025-Aug-04 01:30 a.m. +02:00":  {Milli: at(1, 30, 0, 0), Offset: 120, Zoned: true},
	} {
		if got, s := stampOf(text, Untold); s != noSlip || got != want {
			t.Errorf("%q is %v (%s), want %v", text, got, s.text([]byte(text), &dates{}), want)
		}
	}
	for text, want := range map[string]slip{
		"": noTime, "13:30": timeAlone, "13:30 2025-08-04": timeAlone, "yesterday": notATime, "2025-08-04 noon": notATime, "45873.5": notATime, "1754300000": notATime,
		"2025-13-04 13:30": noSuchDay, "2025-02-29 13:30": noSuchDay, "31/11/2025 13:30": noSuchDay, "4.13.2025 13:30": noSuchDay, "1969-12-31 13:30": noSuchDay, "0000-00-00 00:00": noSuchDay,
		"04/08/25 13:30": shortYear, "4-Aug-25 13:30": shortYear, "2025-08-04 24:01": noSuchTime, "2025-08-04 13:60": noSuchTime, "2025-08-04 13:30 PM": noSuchTime, "2025-08-04 0:30 AM": noSuchTime,
		"2025-08-04 13:30 CEST": zoneName, "2025-08-04 13:30+25:00": notATime, "2025-08-04 13:3": notATime, "2025-08-04 13:30:5": notATime, "4 Foo 2025 13:30": notATime, "1 2 3 4 13:30": notATime,
		"4 Aug 2 2025 13:30": notATime, "2025-08-0413:30": notATime,
	} {
		if _, s := stampOf(text, Untold); s != want {
			t.Errorf("%q: %d (%s), want %d", text, s, s.text([]byte(text), &dates{}), want)
		}
	}
}

// Whatever is written the way time.Format writes it is read back.
func TestLayouts(t *testing.T) {
	for _, c := range []struct {
		layout string
		order  Order
	}{
		{"2006-01-02 15:04:05", Untold}, {"2006-01-02T15:04:05Z07:00", Untold}, {"2006/01/02 3:04:05 PM", Untold}, {"02.01.2006 15:04:05", Untold},
		{"2-Jan-2006 15:04:05", Untold}, {"January 2, 2006 03:04:05PM", Untold}, {"02/01/2006 15:04:05", DayFirst}, {"1/2/2006 3:04:05 PM", MonthFirst}, {"01-02-2006 15:04:05", MonthFirst},
	} {
		rapid.Check(t, func(t *rapid.T) {
			want := time.Unix(rapid.Int64Range(0, 4_000_000_000).Draw(t, "seconds"), 0).In(time.FixedZone("", 60*rapid.IntRange(-720, 840).Draw(t, "offset")))
			if want.UTC().Year() < 1971 {
				return
			}
			text := want.Format(c.layout)
			got, s := stampOf(text, c.order)
			instant := got.Milli/1000 - int64(got.Offset)*60
			if !got.Zoned {
				_, offset := want.Zone()
				instant -= int64(offset)
			}
			if s != noSlip || instant != want.Unix() || got.Zoned != strings.Contains(c.layout, "Z07:00") {
				t.Fatalf("%q is %+v (%d), want %v", text, got, s, want)
			}
			if got.Zoned {
				if iso := got.ISO(); strings.TrimSuffix(iso, "Z") != strings.TrimSuffix(text, "Z") {
					t.Fatalf("%q is written %q", text, iso)
				}
			}
		})
	}
}

// A stamp is written to the second, rounded.
func TestStampText(t *testing.T) {
	s := Stamp{Milli: time.Date(2025, 8, 4, 13, 29, 59, 600e6, time.UTC).UnixMilli()}
	for _, c := range []struct{ got, want string }{
		{s.String(), "2025-08-04 13:30"}, {s.ISO(), "2025-08-04T13:30:00"}, {s.Day(), "2025-08-04"}, {s.After(4000).String(), "2025-08-04 13:30:04"},
		{Stamp{Milli: s.Milli, Offset: -90, Zoned: true}.String(), "2025-08-04 13:30-01:30"}, {Stamp{Milli: s.Milli, Zoned: true}.ISO(), "2025-08-04T13:30:00Z"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}

// Day and month: told by a date that can be read one way only, wherever it
// stands, or by the caller; else not at all.
func TestOrder(t *testing.T) {
	log := func(days ...string) string {
		return "Time,Temp (C)\n" + strings.Join(days, " 12:00,20\n") + " 12:00,20\n"
	}
	days := func(rs []Reading) string {
		var out []string
		for _, r := range rs {
			out = append(out, r.At.Day())
		}
		return strings.Join(out, " ")
	}
	for _, c := range []struct {
		days  []string
		order Order
		want  string
	}{
		{[]string{"11/08/2025", "12/08/2025", "13/08/2025", "01/09/2025"}, Untold, "2025-08-11 2025-08-12 2025-08-13 2025-09-01"},
		{[]string{"08/11/2025", "08/12/2025", "8/13/2025", "09/01/2025"}, Untold, "2025-08-11 2025-08-12 2025-08-13 2025-09-01"},
		{[]string{"05/05/2025", "06/06/2025"}, Untold, "2025-05-05 2025-06-06"},
		{[]string{"05/05/2025", "06/05/2025"}, DayFirst, "2025-05-05 2025-05-06"},
		{[]string{"05/05/2025", "05/06/2025"}, MonthFirst, "2025-05-05 2025-05-06"},
	} {
		got, _ := taken(t, log(c.days...), Options{Order: c.order})
		if days(got) != c.want {
			t.Errorf("%v: %s", c.days, days(got))
		}
	}
	for _, c := range []struct {
		days  []string
		order Order
		want  string
	}{
		{[]string{"05/05/2025", "06/05/2025", "07/05/2025"}, Untold, "log.csv:3: Time: this may be 6 May 2025 or 5 June 2025, and no date that follows tells which; say --dates day-first or --dates month-first, or write dates as 2025-08-04"},
		{[]string{"13/05/2025", "05/14/2025", "15/05/2025"}, Untold, `log.csv:3: Time: "05/14/2025 12:00" has the month before the day, and the date on line 2 has them the other way round; write dates as 2025-08-04`},
		{[]string{"05/14/2025", "13/05/2025"}, Untold, `log.csv:3: Time: "13/05/2025 12:00" has the day before the month, and the date on line 2 has them the other way round`},
		{[]string{"13/05/2025", "14/05/2025"}, MonthFirst, `log.csv:2: Time: "13/05/2025 12:00" has the day before the month, and the other order was asked for`},
	} {
		if f := refused(t, log(c.days...), Options{Order: c.order}); !strings.HasPrefix(f, c.want) {
			t.Errorf("%v: %s", c.days, f)
		}
	}
}
