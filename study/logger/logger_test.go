package logger

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"shelfspan/study/finding"
)

// taken reads a log that must be good.
func taken(t *testing.T, text string, o Options) ([]Reading, *Log) {
	t.Helper()
	var got []Reading
	l, err := Read("log.csv", strings.NewReader(text), o, func(r Reading) { got = append(got, r) })
	if err != nil {
		t.Fatalf("%q:\n%v", text, err)
	}
	if l.Readings != len(got) || l.Input.Rows != len(got) {
		t.Fatalf("%d readings counted, %d given", l.Readings, len(got))
	}
	return got, l
}

// refused reads a log that must have faults, and gives them.
func refused(t *testing.T, text string, o Options) string {
	t.Helper()
	l, err := Read("log.csv", strings.NewReader(text), o, func(Reading) {})
	var faults *finding.Faults
	if l != nil || !errors.As(err, &faults) {
		t.Fatalf("%q: %v beside %v", text, l, err)
	}
	return faults.Error()
}

func told(l *Log) string {
	var out []string
	for _, w := range l.Warnings {
		out = append(out, w.Code+" "+w.Where)
	}
	return strings.Join(out, ", ")
}

func celsius(rs []Reading) []float64 {
	var out []float64
	for _, r := range rs {
		out = append(out, r.Celsius)
	}
	return out
}

// minutes are the elapsed times of readings.
func minutes(rs []Reading) []float64 {
	var out []float64
	for _, r := range rs {
		out = append(out, float64(r.Elapsed)/60_000)
	}
	return out
}

func TestRead(t *testing.T) {
	got, l := taken(t, "Time,Temperature (°C)\n2025-08-04 13:30,21.5\n2025-08-04 13:45,-3\n2025-08-04 14:00:30.5,22.25\n", Options{})
	at := time.Date(2025, 8, 4, 13, 30, 0, 0, time.UTC).UnixMilli()
	want := []Reading{
		{Elapsed: 0, At: Stamp{Milli: at}, Celsius: 21.5},
		{Elapsed: 15 * 60_000, At: Stamp{Milli: at + 15*60_000}, Celsius: -3},
		{Elapsed: 30*60_000 + 30_500, At: Stamp{Milli: at + 30*60_000 + 30_500}, Celsius: 22.25},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if l.Unit != Celsius || l.UnitAssumed || l.Zoned || l.Column != "Temperature (°C)" || told(l) != "spike log.csv:3" || l.First != want[0].At || l.Last != want[2].At || l.Missing != 0 {
		t.Errorf("%+v", l)
	}
	// e3b0c442… is the SHA-256 of no bytes.
	if len(l.Input.SHA256) != 64 || strings.HasPrefix(l.Input.SHA256, "e3b0c442") || l.Input.Path != "log.csv" {
		t.Errorf("%+v", l.Input)
	}
}

// How loggers and spreadsheets head their tables.
func TestHeaders(t *testing.T) {
	for _, c := range []struct {
		header, row string
		column      string
		unit        Unit
		value       float64
	}{
		{"Time,Temp (C)", "2025-08-04 13:30,20", "Temp (C)", Celsius, 20},
		{"timestamp,temperature_f", "2025-08-04T13:30:00Z,68", "temperature_f", Fahrenheit, 20},
		{"Date Time; Humidity (%RH); Temperature, °C", "2025-08-04 13:30;55,1;20,5", "Temperature, °C", Celsius, 20.5},
		{"No.\tDate\tTime\tCh 1 [°F]\tDew point [°F]", "1\t2025-08-04\t13:30\t68\t50", "Ch 1 [°F]", Fahrenheit, 20},
		{"\"Date/Time (UTC+1)\",\"Temp, C\"", "2025-08-04 13:30,20", "Temp, C", Celsius, 20},
		{"Datum;Uhrzeit;Temperatur °C;Alarm", "04.08.2025;13:30;20,0;0", "Temperatur °C", Celsius, 20},
		{"TIME STAMP,CELSIUS", "2025-08-04 13:30,20", "CELSIUS", Celsius, 20},
		{"Timestamp,Temperature High Alarm (°C),Temperature (°C)", "2025-08-04 13:30,25,20", "Temperature (°C)", Celsius, 20},
		{"Date,Temp degF,Battery", "2025-08-04 13:30,68,3.1", "Temp degF", Fahrenheit, 20},
		{"Time,Temp \xb0C", "2025-08-04 13:30,20", "Temp °C", Celsius, 20},
		{"Time,Temperature C", "2025-08-04 13:30,20", "Temperature C", Celsius, 20},
		{"Time,Date,Temperature (°C)", "13:30,2025-08-04,20", "Temperature (°C)", Celsius, 20},
	} {
		got, l := taken(t, c.header+"\n"+c.row+"\n"+strings.Replace(c.row, "13:30", "13:40", 1)+"\n", Options{})
		if l.Column != c.column || l.Unit != c.unit || told(l) != "" || math.Abs(got[0].Celsius-c.value) > 1e-12 || got[0].At.Milli != time.Date(2025, 8, 4, 13, 30, 0, 0, time.UTC).UnixMilli() {
			t.Errorf("%q: column %q, unit %q, %v, %s", c.header, l.Column, l.Unit, got[0], told(l))
		}
	}
}

func TestColumnAndUnitByOption(t *testing.T) {
	text := "Time,Probe 1 (°F),Probe 2 (°F)\n2025-08-04 13:30,68,50\n2025-08-04 13:40,68,50\n"
	if f := refused(t, text, Options{}); f != `log.csv:1: there are several columns of temperatures; name one with --column: "Probe 1 (°F)", "Probe 2 (°F)"` {
		t.Error(f)
	}
	got, l := taken(t, text, Options{Column: "probe 2 (°f)"})
	if got[0].Celsius != 10 || l.Column != "Probe 2 (°F)" {
		t.Errorf("%v %q", got[0], l.Column)
	}
	if f := refused(t, text, Options{Column: "Probe 3"}); !strings.HasPrefix(f, `log.csv:1: the header has no column "Probe 3"; it has "Time", "Probe 1 (°F)"`) {
		t.Error(f)
	}
	if f := refused(t, text, Options{Column: "Probe 2 (°F)", Unit: Celsius}); f != "log.csv:1: Probe 2 (°F): the header says °F and --unit says °C" {
		t.Error(f)
	}
	plain := "Time,Temperature\n2025-08-04 13:30,68\n2025-08-04 13:40,68\n"
	if got, l := taken(t, plain, Options{}); got[0].Celsius != 68 || told(l) != "unit-assumed log.csv" || l.Unit != Celsius || !l.UnitAssumed {
		t.Errorf("%v, %s", got[0], told(l))
	}
	if got, l := taken(t, plain, Options{Unit: Fahrenheit}); got[0].Celsius != 20 || told(l) != "" {
		t.Errorf("%v, %s", got[0], told(l))
	}
	// Units in a row of their own, or beside each value.
	if got, l := taken(t, "Time,Temperature\n,°F\n2025-08-04 13:30,68\n2025-08-04 13:40,68\n", Options{}); got[0].Celsius != 20 || told(l) != "" || l.Unit != Fahrenheit {
		t.Errorf("%v, %s", got[0], told(l))
	}
	if got, l := taken(t, "Time,Temperature\n2025-08-04 13:30,68 °F\n2025-08-04 13:40,68F\n", Options{}); got[0].Celsius != 20 || told(l) != "" {
		t.Errorf("%v, %s", got[0], told(l))
	}
	for _, values := range [][2]string{{"20 °C", "68 °F"}, {"20", "68 °F"}} {
		f := refused(t, "Time,Temperature\n2025-08-04 13:30,"+values[0]+"\n2025-08-04 13:40,"+values[1]+"\n", Options{})
		if f != "log.csv:3: Temperature: a value in °F in a column taken for °C; name the unit with --unit where the header is wrong, and write all values in it" {
			t.Error(f)
		}
	}
}

// What stands above the header is passed over, whatever its quotes and letters.
func TestAboveTheHeader(t *testing.T) {
	above := "\ufeffDevice;\"R 7\";made \"2024\"\r\nStart time;2025-08-04 13:00\r\nTemperature unit;C\r\n\r\nLimits \xb0C;2;8\r\n"
	got, l := taken(t, above+"Date;Time;Temperature [°C]\r\n2025-08-04;13:30;5,1\r\n2025-08-04;13:40;5,2\r\n", Options{})
	if diff := cmp.Diff([]float64{5.1, 5.2}, celsius(got)); diff != "" || l.Unit != Celsius {
		t.Error(diff, l.Unit)
	}
	for text, want := range map[string]string{
		"":           "log.csv: is empty; it needs a header line such as Time,Temperature (°C) and readings below it",
		"\n\n":       "log.csv: is empty; it needs a header line such as Time,Temperature (°C) and readings below it",
		"a,b\n":      "log.csv:1: no header line is found; it names a column of times (Time, Timestamp, or Date and Time) and one of temperatures (Temperature, °C), as Time,Temperature (°C)",
		"x\na\n":     "log.csv:1: no header line is found; ",
		"PK\x03\x04": "log.csv: a spreadsheet workbook or another archive, not CSV; save the sheet as CSV in UTF-8",
		"Device 7\nTime,Reading\n2025-08-04 13:30,20\n":  `log.csv:2: no column of this header is known for temperatures; name it with --column; there are "Time", "Reading"`,
		"Moment,Temperature\n2025-08-04 13:30,20\n":      `log.csv:1: no column of this header is known for times; call it Time, or Date and Time; there are "Moment", "Temperature"`,
		"Time,Temp (K)\n2025-08-04 13:30,293\n":          "log.csv:1: Temp (K): temperatures in kelvin are not read; give them in °C or °F",
		"Time,Temp (C)\n":                                "log.csv:1: is a header with no rows below it",
		"Time,Temp (C)\n2025-08-04 13:30,20\n":           "log.csv: holds 1 reading; a history needs two at least, with time between them",
		strings.Repeat("a,b\n", 300) + "Time,Temp (C)\n": "log.csv:1: no header line is found; ",
	} {
		if f := refused(t, text, Options{}); !strings.HasPrefix(f, want) {
			t.Errorf("%q: %s", text, f)
		}
	}
}

// What is no temperature, and what stands for none.
func TestValues(t *testing.T) {
	log := func(values ...string) string {
		var b strings.Builder
		b.WriteString("Time;Temp (°C);Note\n")
		for i, v := range values {
			fmt.Fprintf(&b, "2025-08-04 13:%02d;%s;\n", i, v)
		}
		return b.String()
	}
	got, l := taken(t, log("20", "+20.25", "20,5", "−3,5", " 20 °C ", "20\u00a0C", "", "---", "Err 3", "NaN", "-127", "-999.9", "32767", "85", "20", "21"), Options{})
	if diff := cmp.Diff([]float64{20, 20.25, 20.5, -3.5, 20, 20, 85, 20, 21}, celsius(got)); diff != "" {
		t.Error(diff)
	}
	// Line 5 is −3.5 °C between 20.5 and 20, line 15 the 85 °C.
	if want := "no-reading log.csv:8, spike log.csv:5"; told(l) != want || l.Missing != 7 {
		t.Errorf("%s, %d missing; want %s", told(l), l.Missing, want)
	}
	if w := l.Warnings[0].Text; !strings.HasPrefix(w, `7 rows ("---", "Err 3", "NaN", "-127", "-999.9") without a reading`) {
		t.Error(w)
	}
	if w := l.Warnings[1].Text; !strings.HasPrefix(w, "2 readings stand more than 20 °C off both their neighbours, here first, of -3.5 °C") {
		t.Error(w)
	}
	for value, want := range map[string]string{
		"-273.16": `"-273.16" is below absolute zero; leave the field empty where there was no reading`,
		"201":     `"201" is no temperature that anything is stored at; leave the field empty where there was no reading, and see that the unit is right`,
		"warm":    `"warm" is no temperature; leave the field empty where there was no reading`,
		"1.2.3":   `"1.2.3" is no temperature; leave the field empty where there was no reading`,
		"1e1":     `"1e1" is no temperature; leave the field empty where there was no reading`,
		"HI":      `"HI" says that it was hotter or colder than the sensor can tell, which must not be left out unseen; judge it, and write a temperature or leave the field empty`,
	} {
		if f := refused(t, log("20", value, "20"), Options{}); f != "log.csv:3: Temp (°C): "+want {
			t.Errorf("%q: %s", value, f)
		}
	}
	if f := refused(t, "Time,Temp (C)\n2025-08-04 13:30,4,5\n2025-08-04 13:40,4,6\n", Options{}); !strings.HasPrefix(f, "log.csv:2: 3 fields in a table of 2 columns; is a comma both separator and decimal sign?") {
		t.Error(f)
	}
	// Empty rows and separators too many say nothing.
	if got, l := taken(t, "Time,Temp (C)\n2025-08-04 13:30,4.5,,\n,\n\n2025-08-04 13:40,4.6\n", Options{}); len(got) != 2 || told(l) != "" {
		t.Errorf("%v %s", got, told(l))
	}
}

// All faults of a file are told at once, in the order of the lines.
func TestFaultsTogether(t *testing.T) {
	f := refused(t, "Date,Time,Temp (C)\n2025-08-04,13:30,20\n2025-02-30,13:40,hot\n,13:50,20\n2025-08-04,25:00,20\n2025-08-04,13:10,20\n2025-08-04,13:20 CET,20\n04/08/25,13:40,20\n\"open,1,2\n", Options{})
	want := `log.csv:3: Date: "2025-02-30" is a day that is not in the calendar
log.csv:3: Temp (C): "hot" is no temperature; leave the field empty where there was no reading
log.csv:4: Date: the row has no time
log.csv:5: Date: "25:00" is no time of day
log.csv:6: Date: the time is 20 min before that of line 2; were two logs put together? give one log, its rows in the order of time
log.csv:7: Date: "13:20 CET" names its time zone by letters, which mean different things in different places; write how far it is from UTC, as 2025-08-04T13:30:00+02:00
log.csv:8: Date: "04/08/25" has a year of two digits; write it with four, as 2025-08-04 13:30
log.csv:9: a quote opened in this row is never closed`
	if diff := cmp.Diff(want, f); diff != "" {
		t.Error(diff)
	}
	bad := strings.Repeat("2025-08-04,13:30,hot\n", 60)
	if f := refused(t, "Date,Time,Temp (C)\n"+bad, Options{}); !strings.HasSuffix(f, "\nand 10 more") || strings.Count(f, "\n") != 50 {
		t.Error(f)
	}
}

// The order of time: steps, repeats, the ends of summer time, and rows that are
// in no order.
func TestSequence(t *testing.T) {
	read := func(times ...string) ([]Reading, *Log) {
		return taken(t, "Time,Temp (C)\n"+strings.Join(times, ",20\n")+",20\n", Options{})
	}
	approx := cmpopts.EquateApprox(0, 1e-9)
	// Two readings a minute, written to the minute.
	got, l := read("2025-08-04 13:30", "2025-08-04 13:30", "2025-08-04 13:31", "2025-08-04 13:31")
	if diff := cmp.Diff([]float64{0, 0, 1, 1}, minutes(got), approx); diff != "" || told(l) != "repeated-time log.csv:3" {
		t.Error(diff, told(l))
	}
	// 26 October 2025, 03:00 summer time is 02:00 after it.
	got, l = read("2025-10-26 02:40", "2025-10-26 02:50", "2025-10-26 02:00", "2025-10-26 02:10")
	if diff := cmp.Diff([]float64{0, 10, 20, 30}, minutes(got), approx); diff != "" || told(l) != "clock-set-back log.csv:4" {
		t.Error(diff, told(l))
	}
	// 30 March 2025, 02:00 is 03:00 at once. It may have been a gap.
	got, l = read("2025-03-30 01:40", "2025-03-30 01:50", "2025-03-30 03:00", "2025-03-30 03:10")
	if diff := cmp.Diff([]float64{0, 10, 80, 90}, minutes(got), approx); diff != "" || told(l) != "clock-set-ahead log.csv:4" {
		t.Error(diff, told(l))
	}
	// On another day it is a gap like any other.
	if _, l = read("2025-03-31 01:40", "2025-03-31 01:50", "2025-03-31 03:00"); told(l) != "" {
		t.Error(told(l))
	}
	// Where the times say how far they are from UTC nothing is in doubt.
	got, l = read("2025-10-26T02:40+02:00", "2025-10-26T02:50+02:00", "2025-10-26T02:00+01:00", "2025-10-26T02:10+0100")
	if diff := cmp.Diff([]float64{0, 10, 20, 30}, minutes(got), approx); diff != "" || told(l) != "" || !l.Zoned {
		t.Error(diff, told(l))
	}
	if s := got[2].At.ISO(); s != "2025-10-26T02:00:00+01:00" {
		t.Error(s)
	}
	for text, want := range map[string]string{
		"2025-08-04 13:30,20\n2025-08-04 13:40,20\n2025-08-04 13:35,20\n":   "log.csv:4: Time: the time is 5 min before that of line 3; were two logs put together? give one log, its rows in the order of time",
		"2025-08-04 13:30,20\n2025-08-04 12:40,20\n2025-08-04 12:50,20\n":   "log.csv:3: Time: the time is 50 min before that of line 2; ",
		"2025-08-04 13:30,20\n2025-08-04 13:20,20\n2025-08-04 13:10,20\n":   "log.csv:1: Time: the rows run from the newest to the oldest; sort them by time, the oldest first",
		"2025-08-04 13:30,20\n2025-08-04 13:40Z,20\n":                       `log.csv:3: Time: "2025-08-04 13:40Z" says how far it is from UTC, and the time on line 2 does not; write all times alike`,
		"2025-08-04 13:30Z,20\n2025-08-04 13:40,20\n2025-08-04 13:50Z,20\n": `log.csv:3: Time: "2025-08-04 13:40" does not say how far it is from UTC, and the time on line 2 does; write all times alike`,
	} {
		if f := refused(t, "Time,Temp (C)\n"+text, Options{}); !strings.HasPrefix(f, want) {
			t.Errorf("%q: %s", text, f)
		}
	}
	// The zone may stand in the header.
	got, l = taken(t, "\"Time, GMT-05:30\",Temp (C)\n2025-08-04 13:30,20\n2025-08-04 13:40,20\n", Options{})
	if s := got[0].At.ISO(); s != "2025-08-04T13:30:00-05:30" || !l.Zoned {
		t.Error(s)
	}
}
