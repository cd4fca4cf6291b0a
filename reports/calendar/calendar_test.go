package calendar_test

import (
	"bytes"
	"errors"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"shelfspan/reports/calendar"
	"shelfspan/study"
	"shelfspan/study/schedule"
)

// balm is a small invented study with names that the format has to escape and
// fold.
func balm() *study.Study {
	months := func(n int32) study.Duration { return study.Duration{N: n, Unit: study.Months} }
	s := &study.Study{
		ID: "MB-26", Start: study.NewDate(2025, time.January, 13), StoreAt: 0, Rules: study.ICHQ1E,
		Conditions: []study.Condition{
			{ID: "25C60", Role: study.LongTerm, Temperature: 25, Humidity: 60, Chamber: 0, Pulls: []study.Duration{{}, months(3), months(6)}},
		},
		Chambers: []study.Chamber{{ID: "A; north, by the door", Capacity: 100}},
		Batches:  []study.Batch{{ID: "B1", Placed: study.NoDate}, {ID: "B2", Placed: study.NoDate}},
		Packs:    []study.Pack{{ID: "tube", Orientations: []study.Orientation{study.Upright, study.Inverted}}},
		Attributes: []study.Attribute{
			{ID: "viscosity", Sampling: study.Destructive, Units: 2, Lower: math.Inf(-1), Upper: math.Inf(1)},
			{ID: "größe-und-aussehen-der-prüfmuster-nach-der-entnahme-ä-ö-ü-ß", Sampling: study.Returned, Units: 3, Lower: math.Inf(-1), Upper: math.Inf(1)},
		},
	}
	for d := time.Monday; d <= time.Friday; d++ {
		s.Calendar.Workdays[d] = true
	}
	s.Calendar.Shift = study.ShiftNearest
	s.Calendar.Windows = []study.Window{{UpTo: months(12), Days: 7}}
	return s
}

// property is one content line of RFC 5545 3.1, its text unescaped (3.3.11).
type property struct{ name, parameters, value string }

// read takes a calendar apart by the rules of RFC 5545 and complains of every
// one it breaks: CRLF line ends, lines of at most 75 octets without them, folds
// that do not split a character, one VCALENDAR with VERSION and PRODID, events
// with UID, DTSTAMP, DTSTART once each.
func read(t *testing.T, data []byte) []map[string]property {
	t.Helper()
	text := string(data)
	if strings.Contains(strings.ReplaceAll(text, "\r\n", ""), "\n") || strings.Contains(strings.ReplaceAll(text, "\r\n", ""), "\r") {
		t.Error("a line end that is not CRLF")
	}
	if !strings.HasSuffix(text, "\r\n") {
		t.Error("no line end at the end")
	}
	var lines []string
	for _, line := range strings.Split(strings.TrimSuffix(text, "\r\n"), "\r\n") {
		if len(line) > 75 {
			t.Errorf("%d octets in %q", len(line), line)
		}
		if !utf8.ValidString(line) {
			t.Errorf("a fold splits a character: %q", line)
		}
		if rest, folded := strings.CutPrefix(line, " "); folded {
			lines[len(lines)-1] += rest
		} else {
			lines = append(lines, line)
		}
	}
	if lines[0] != "BEGIN:VCALENDAR" || lines[len(lines)-1] != "END:VCALENDAR" {
		t.Errorf("from %q to %q", lines[0], lines[len(lines)-1])
	}
	grammar := regexp.MustCompile(`^([A-Z-]+)((?:;[A-Z-]+=[^;:,"]+)*):(.*)$`)
	head := map[string]string{}
	var events []map[string]property
	var event map[string]property
	for _, line := range lines[1 : len(lines)-1] {
		m := grammar.FindStringSubmatch(line)
		if m == nil {
			t.Fatalf("no content line: %q", line)
		}
		switch {
		case line == "BEGIN:VEVENT":
			event = map[string]property{}
		case line == "END:VEVENT":
			for _, name := range []string{"UID", "DTSTAMP", "DTSTART"} {
				if event[name].value == "" {
					t.Errorf("an event without %s", name)
				}
			}
			events, event = append(events, event), nil
		case event != nil:
			if _, twice := event[m[1]]; twice {
				t.Errorf("%s twice in an event", m[1])
			}
			event[m[1]] = property{m[1], m[2], unescape(t, m[3])}
		default:
			head[m[1]] = m[3]
		}
	}
	if head["VERSION"] != "2.0" || head["PRODID"] == "" {
		t.Errorf("head %v", head)
	}
	return events
}

func unescape(t *testing.T, s string) string {
	t.Helper()
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		switch s[i] {
		case '\\':
			i++
			switch {
			case i < len(s) && (s[i] == 'n' || s[i] == 'N'):
				b.WriteByte('\n')
			case i < len(s) && strings.IndexByte(`\;,`, s[i]) >= 0:
				b.WriteByte(s[i])
			default:
				t.Errorf("a wrong escape in %q", s)
			}
		case ';', ',':
			t.Errorf("%q not escaped in %q", s[i], s)
		default:
			b.WriteByte(s[i])
		}
	}
	return b.String()
}

func render(t *testing.T, s *study.Study, former []byte) []byte {
	t.Helper()
	data, err := calendar.Render(schedule.Plan(s), former)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func TestEvents(t *testing.T) {
	events := read(t, render(t, balm(), nil))
	if len(events) != 3 {
		t.Fatalf("%d events, want one for each of 3 pulls", len(events))
	}
	// 2025-04-13 is a Sunday: the pull is on Monday 14, an event that ends before
	// the 15th begins. Each of four arms opens 2 units and returns 3.
	want := map[string]property{
		"UID":      {"UID", "", "MB-26-25C60-3M@MB-26.shelfspan"},
		"DTSTAMP":  {"DTSTAMP", "", "20250113T000000Z"},
		"SEQUENCE": {"SEQUENCE", "", "0"},
		"DTSTART":  {"DTSTART", ";VALUE=DATE", "20250414"},
		"DTEND":    {"DTEND", ";VALUE=DATE", "20250415"},
		"SUMMARY":  {"SUMMARY", "", "MB-26: Pull 25C60 3M, 8 to open, 12 to measure and put back"},
		"LOCATION": {"LOCATION", "", "Chamber A; north, by the door"},
		"STATUS":   {"STATUS", "", "CONFIRMED"},
		"TRANSP":   {"TRANSP", "", "TRANSPARENT"},
		"DESCRIPTION": {"DESCRIPTION", "", strings.Join([]string{
			"Pull MB-26-25C60-3M",
			"Due 2025-04-13, window 2025-04-06 to 2025-04-20; moved to 2025-04-14, a day with work",
			"B1 tube upright: 2 to open, 3 to measure and put back",
			"B1 tube inverted: 2 to open, 3 to measure and put back",
			"B2 tube upright: 2 to open, 3 to measure and put back",
			"B2 tube inverted: 2 to open, 3 to measure and put back",
			"Tests: viscosity, größe-und-aussehen-der-prüfmuster-nach-der-entnahme-ä-ö-ü-ß",
		}, "\n")},
	}
	if diff := cmp.Diff(want, events[1], cmp.AllowUnexported(property{})); diff != "" {
		t.Error(diff)
	}
	if got := events[0]["SUMMARY"].value; got != "MB-26: Initial tests, 4 to open, 12 to measure and put back" {
		t.Errorf("time zero: %s", got)
	}
}

// field gives one property of an event found by the start of its UID.
func field(t *testing.T, data []byte, uid, name string) string {
	t.Helper()
	events := read(t, data)
	i := slices.IndexFunc(events, func(e map[string]property) bool { return strings.HasPrefix(e["UID"].value, uid+"@") })
	if i < 0 {
		t.Fatalf("no event %s", uid)
	}
	return events[i][name].value
}

// TestSecondImportUpdates: the same plan again gives the same bytes; a later
// plan keeps the UIDs, and raises SEQUENCE and DTSTAMP of just the events that
// changed.
func TestSecondImportUpdates(t *testing.T) {
	s := balm()
	first := render(t, s, nil)
	if again := render(t, s, first); !bytes.Equal(first, again) {
		t.Error("the same plan over its own file gives other bytes")
	}
	s.Calendar.Holidays = []study.Date{study.NewDate(2025, time.April, 14)} // 3M goes to Friday 11
	second := render(t, s, first)
	if n := len(read(t, second)); n != 3 {
		t.Errorf("%d events after a change of date, want 3", n)
	}
	for _, c := range []struct{ uid, name, want string }{
		{"MB-26-25C60-3M", "DTSTART", "20250411"},
		{"MB-26-25C60-3M", "SEQUENCE", "1"},
		{"MB-26-25C60-3M", "DTSTAMP", "20250113T000001Z"},
		{"MB-26-25C60-6M", "SEQUENCE", "0"},
		{"MB-26-25C60-6M", "DTSTAMP", "20250113T000000Z"},
	} {
		if got := field(t, second, c.uid, c.name); got != c.want {
			t.Errorf("%s %s %s, want %s", c.uid, c.name, got, c.want)
		}
	}
	if again := render(t, s, second); !bytes.Equal(second, again) {
		t.Error("the changed plan over its own file gives other bytes")
	}
	// And back: a calendar that took the second file must take the third.
	s.Calendar.Holidays = nil
	third := render(t, s, second)
	if got := field(t, third, "MB-26-25C60-3M", "SEQUENCE"); got != "2" {
		t.Errorf("back on its day, SEQUENCE %s, want 2", got)
	}
}

// TestPullNoLongerPlanned: its event is cancelled, not forgotten, stays so, and
// comes back as a newer revision.
func TestPullNoLongerPlanned(t *testing.T) {
	s := balm()
	first := render(t, s, nil)
	all := s.Conditions[0].Pulls
	s.Conditions[0].Pulls = all[:2]
	second := render(t, s, first)
	third := render(t, s, second)
	for _, data := range [][]byte{second, third} {
		if got := field(t, data, "MB-26-25C60-6M", "STATUS") + field(t, data, "MB-26-25C60-6M", "SEQUENCE"); got != "CANCELLED1" {
			t.Errorf("dropped 6M: %s, want CANCELLED1", got)
		}
	}
	s.Conditions[0].Pulls = all
	fourth := render(t, s, third)
	if got := field(t, fourth, "MB-26-25C60-6M", "STATUS") + field(t, fourth, "MB-26-25C60-6M", "SEQUENCE"); got != "CONFIRMED2" {
		t.Errorf("6M planned again: %s, want CONFIRMED2", got)
	}
}

func TestForeignCalendarIsRefused(t *testing.T) {
	p := schedule.Plan(balm())
	other := balm()
	other.ID = "MB-27"
	for name, former := range map[string][]byte{
		"another study":   render(t, other, nil),
		"another program": []byte("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//someone//else//EN\r\nEND:VCALENDAR\r\n"),
		"no calendar":     []byte("notes to self\n"),
		"empty":           {},
	} {
		if _, err := calendar.Render(p, former); !errors.Is(err, calendar.ErrForeign) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestYearBeyondTheFormat(t *testing.T) {
	s := balm()
	s.Conditions[0].Pulls[2] = study.Duration{N: 9000, Unit: study.Years}
	_, err := calendar.Render(schedule.Plan(s), nil)
	if err == nil || !strings.Contains(err.Error(), "MB-26-25C60-9000Y falls in the year 11025") {
		t.Errorf("%v", err)
	}
}

// TestAnyText: whatever characters ids hold, the file keeps to the format and
// gives them back, control characters as spaces.
func TestAnyText(t *testing.T) {
	for i, id := range []string{"a,b;c\\d", "x\ty\x07z", strings.Repeat("ü", 60), strings.Repeat("no space ", 12), "tab <b>bold</b> \"quoted\"", "日本語の容器の名前はとても長いので折り返しが必要です、二行以上になります"} {
		s := balm()
		s.Packs[0].ID = id
		data := render(t, s, nil)
		want := "B1 " + strings.Map(func(r rune) rune {
			if r < ' ' {
				return ' '
			}
			return r
		}, id) + " upright: 2 to open"
		if got := field(t, data, "MB-26-25C60-3M", "DESCRIPTION"); !strings.Contains(got, want) {
			t.Errorf("%s: %q is not in %q", strconv.Itoa(i), want, got)
		}
		if again := render(t, s, data); !bytes.Equal(data, again) {
			t.Errorf("%d: not read back as written", i)
		}
	}
}
