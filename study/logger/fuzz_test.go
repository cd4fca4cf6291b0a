package logger

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"
	"unicode"

	"shelfspan/study/finding"
)

// FuzzRead holds that whatever the bytes, a log is taken in whole, its readings
// in order and finite, or refused with its faults.
func FuzzRead(f *testing.F) {
	for _, s := range []string{
		"Time,Temp (C)\n2025-08-04 13:30,20\n2025-08-04 13:40,\n2025-08-04 13:50,-999\n",
		"\ufeffx \"y\"\r\nDate;Time;T °F\r\n04/08/2025;1:30 PM;70,1\r\n13/08/2025;24:00;HI\r\n", "Time\tTemp\n\t°F\n2025-10-26T02:50+02:00\t50\n2025-10-26T02:00+01:00\t51\n",
		"Datum,Zeit,Temperatur\n\"1.1.2025\",\"0:00\",\"1,5\"\n", "Time (UTC+1),\xb0C\n4 Aug 2025 13:30,1\n", "a\n\"b", "", "PK\x03\x04",
	} {
		f.Add([]byte(s), byte(0))
	}
	f.Fuzz(func(t *testing.T, data []byte, how byte) {
		o := Options{Unit: []Unit{"", Celsius, Fahrenheit}[how%3], Order: Order(how/3) % 3}
		if how/9%2 == 1 {
			o.Column = "T"
		}
		last, n := int64(0), 0
		l, err := Read("log.csv", bytes.NewReader(data), o, func(r Reading) {
			if r.Elapsed < last || n == 0 && r.Elapsed != 0 || math.IsNaN(r.Celsius) || r.Celsius < absoluteZero || r.Celsius > hottest {
				t.Fatalf("%+v after %d ms", r, last)
			}
			last = r.Elapsed
			n++
			if strings.ContainsFunc(r.At.String()+r.At.ISO(), unicode.IsControl) {
				t.Fatalf("%q", r.At)
			}
		})
		if err == nil {
			if l.Readings != n || n < 2 {
				t.Fatalf("%d readings, %d counted", n, l.Readings)
			}
			return
		}
		var faults *finding.Faults
		if l != nil || !errors.As(err, &faults) || len(faults.List) == 0 || len(faults.List) > 50 {
			t.Fatalf("%v beside %v", l, err)
		}
		lines := bytes.Count(data, []byte("\n")) + 1
		for _, x := range faults.List {
			if x.Line > lines || x.Text == "" || strings.ContainsFunc(x.Text+x.Column, unicode.IsControl) {
				t.Fatalf("fault %+v in %d lines", x, lines)
			}
		}
	})
}
