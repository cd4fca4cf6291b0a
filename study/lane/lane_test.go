package lane

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"
	"unicode"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"shelfspan/study/finding"
)

func read(text string) (*Lane, error) { return Read("lane.csv", strings.NewReader(text)) }

func TestLegs(t *testing.T) {
	l, err := read("leg;celsius;low;high;duration;comment\nwarehouse;22,5;;;3M;\nlorry;;18;46;36H;in the sun\n;−18;;;1,5D;\n\nshelf;21;;;1Y;\nvan;20;;;2W;\n")
	if err != nil {
		t.Fatal(err)
	}
	want := []Leg{{"warehouse", 22.5, 22.5, 3}, {"lorry", 18, 46, 1.5 / 30.4375}, {"3", -18, -18, 1.5 / 30.4375}, {"shelf", 21, 21, 12}, {"van", 20, 20, 14 / 30.4375}}
	if diff := cmp.Diff(want, l.Legs, cmpopts.EquateApprox(1e-14, 0)); diff != "" || l.ByMonth || l.Input.Rows != 5 || len(l.Input.SHA256) != 64 {
		t.Error(diff, l.Input)
	}
}

// Twelve months are a year of 365.25 days.
func TestClimate(t *testing.T) {
	l, err := read("month,low,high\n1,-2,4\nFeb,0,6\nMARCH,2,10\n4,5,15\n5,9,19\n6,12,22\n7,14,25\n8,14,24\n9,10,20\n10,7,14\n11,2,8\ndec,-1,5\n")
	if err != nil {
		t.Fatal(err)
	}
	months := 0.0
	for _, leg := range l.Legs {
		months += leg.Months
	}
	if math.Abs(months-12) > 1e-12 || !l.ByMonth || l.Legs[1] != (Leg{"February", 0, 6, 28.25 / 30.4375}) {
		t.Errorf("%v months, %+v", months, l.Legs[1])
	}
}

func TestFaults(t *testing.T) {
	for text, want := range map[string]string{
		"":                                  "lane.csv: is empty; a lane begins with a header such as leg,celsius,duration or month,celsius",
		"leg,celsius,duration\n":            "lane.csv:1: has a header and no legs below it",
		"a,b\n1,2\n":                        "lane.csv:1: is no header line; a lane begins with one, such as leg,celsius,duration or month,celsius",
		"leg,temperature,days\nx,20,3D\n":   "lane.csv:1: temperature: no such column; did you mean \"celsius\"?\nlane.csv:1: days: no such column; did you mean \"duration\"?",
		"leg,celcius,duration\nx,20,3D\n":   "lane.csv:1: celcius: no such column; did you mean \"celsius\"?",
		"leg,celsius,celsius\nx,20,3\n":     "lane.csv:1: celsius: this column stands twice in the header",
		"leg,low\nx,20\n":                   "lane.csv:1: the header has neither duration (of each leg) nor month\nlane.csv:1: low and high stand together; the header has one of them",
		"month,duration\nJan,3D\n":          "lane.csv:1: the header has month beside leg or duration; a lane is either a way in legs or a climate by month\nlane.csv:1: the header has no temperature: celsius, or low and high",
		"month,celsius\nJan,1\n1,2\n13,3\n": "lane.csv:3: month: January stands on line 2 already\nlane.csv:4: month: \"13\" is no month; write January, Jan or 1",
		"leg,celsius,low,high,duration\na,hot,,,3\nb,20,1,2,0D\nc,,5,2,3D\nd,,1,,3D\ne,,,,3D\nf,300,,,9999Y\n": `lane.csv:2: duration: "3" is no duration; write 36H, 10D, 2W, 3M or 1Y
lane.csv:2: celsius: "hot" is no temperature
lane.csv:3: duration: "0D" is no length of a leg
lane.csv:3: celsius: a temperature beside low and high; a leg has either
lane.csv:4: low: "5" is above high, "2"
lane.csv:5: high: "" is no temperature
lane.csv:6: the row has no temperature
lane.csv:7: duration: "9999Y" is no length of a leg
lane.csv:7: celsius: "300" is no temperature, in °C, that anything is stored at`,
		"leg,celsius,duration\na,20,5,3D\n": "lane.csv:2: 4 fields in a table of 3 columns; is a comma both separator and decimal sign?",
		"leg,celsius,duration\na,nan,3D\nb,0x1,infD\nc\"d,1,1D\n": `lane.csv:2: celsius: "nan" is no temperature
lane.csv:3: duration: "infD" is no duration; write 36H, 10D, 2W, 3M or 1Y
lane.csv:3: celsius: "0x1" is no temperature
lane.csv:4: a quote inside a field that does not begin with one; put the whole field in quotes and double those inside it`,
	} {
		l, err := read(text)
		if err == nil || l != nil {
			t.Errorf("%q was taken in", text)
			continue
		}
		if diff := cmp.Diff(want, err.Error()); diff != "" {
			t.Errorf("%q: %s", text, diff)
		}
	}
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{"leg,celsius,duration\na,20,3D\n", "month;low;high\nJan;1,5;2\n", "leg\tcelsius\tduration\n\"\x1b\"\t1\t1H\n", "", "\xff,celsius\n", "celsius,duration\n1,1e5D\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		l, err := Read("lane.csv", bytes.NewReader(data))
		if err != nil {
			var faults *finding.Faults
			if l != nil || !errors.As(err, &faults) || len(faults.List) == 0 {
				t.Fatalf("%v beside %v", l, err)
			}
			for _, x := range faults.List {
				if x.Text == "" || strings.ContainsFunc(x.String(), unicode.IsControl) {
					t.Fatalf("%+v", x)
				}
			}
			return
		}
		for _, leg := range l.Legs {
			if !(leg.Months > 0) || !(leg.Low <= leg.High) || leg.Low < coldest || leg.High > hottest || leg.Name == "" || strings.ContainsFunc(leg.Name, unicode.IsControl) {
				t.Fatalf("%+v", leg)
			}
		}
	})
}
