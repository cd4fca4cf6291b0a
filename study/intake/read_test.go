package intake

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"shelfspan/study"
)

// taken reads a table that must be good.
func taken(t *testing.T, text string) *study.Dataset {
	t.Helper()
	d, err := read(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func day(y, m, d int) study.Date { return study.NewDate(y, time.Month(m), d) }

func warnings(d *study.Dataset) string {
	var lines []string
	for _, w := range d.Warnings {
		lines = append(lines, w.Code+": "+w.String())
	}
	return strings.Join(lines, "\n")
}

func TestRead(t *testing.T) {
	text := "Batch,CONDITION,pack,orientation,time,pulled,tested,attribute,value,replicate,unit,unit_of_measure,analyst,method,comment\n" +
		"B2,40C75, jar ,inverted,3M,2025-05-04,2025-05-06,viscosity,25034.125,2,U7,mPa.s,R. Vale,SOP-7,\"stirred, \"\"twice\"\"\"\n" +
		"B1,25C60,tube,,1Y,,,viscosity,<5,,,,,,=1+1\n"
	d := taken(t, text)
	months := func(n int32) study.Duration { return study.Duration{N: n, Unit: study.Months} }
	want := []study.Result{{
		// 3 February to 4 May 2025 are 25 + 31 + 30 + 4 = 90 days.
		Value: 25034.125, Elapsed: 90 / 30.4375, Tare: math.NaN(), Planned: months(3),
		Pulled: day(2025, 5, 4), Tested: day(2025, 5, 6), Line: 2, Batch: 1, Pack: 1, Condition: 1, Orientation: 1, InWindow: true,
		Unit: 1, Replicate: 2, Analyst: 3, Method: 4, Comment: 5,
	}, {
		// 1Y is the planned pull of 12M.
		Value: 5, Elapsed: 12, Tare: math.NaN(), Planned: months(12), Pulled: study.NoDate, Tested: study.NoDate,
		Line: 3, InWindow: true, Censor: study.BelowThat, Comment: 6,
	}}
	if diff := cmp.Diff(want, d.Results, cmpopts.EquateNaNs()); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]string{"", "U7", "2", "R. Vale", "SOP-7", `stirred, "twice"`, "=1+1"}, d.Texts); diff != "" {
		t.Error(diff)
	}
	sum := sha256.Sum256([]byte(text))
	if diff := cmp.Diff([]study.Input{{Path: "r.csv", SHA256: hex.EncodeToString(sum[:]), Rows: 2}}, d.Inputs); diff != "" {
		t.Error(diff)
	}
	if len(d.Warnings) > 0 {
		t.Error(warnings(d))
	}
}

func TestValues(t *testing.T) {
	for _, c := range []struct {
		attribute, text string
		value           float64
		censor          study.Censor
	}{
		{"pH", "5.25", 5.25, 0},
		{"pH", " +5.25 ", 5.25, 0},
		{"pH", "-0.5", -0.5, 0},
		{"pH", "1e-3", 0.001, 0},
		{"pH", "0.1", 0.1, 0},
		{"pH", "9007199254740993", 9007199254740992, 0}, // 2^53 + 1 is halfway: to even
		{"pH", "123456789012345678901234567890", 1.2345678901234568e29, 0},
		{"pH", "3.141592653589793", math.Pi, 0},
		{"pH", "<5", 5, study.BelowThat},
		{"pH", "> 5.5", 5.5, study.AboveThat},
		{"look", "2", 2, 0},
		{"look", "2.0", 2, 0},
		{"look", "Slight", 1, 0},
		{"look", "none", 0, 0},
		{"leak", "PASS", 0, 0},
		{"leak", "fail", 1, 0},
	} {
		d := taken(t, long+"B1,25C60,tube,3M,"+c.attribute+","+c.text+"\n")
		if r := d.Results[0]; r.Value != c.value || r.Censor != c.censor {
			t.Errorf("%s %q is %v (censored %d), want %v (%d)", c.attribute, c.text, r.Value, r.Censor, c.value, c.censor)
		}
	}
}

func TestDecimalComma(t *testing.T) {
	for _, sep := range []string{";", "\t"} {
		text := strings.ReplaceAll(long+"B1|25C60|tube|3M|pH|5,25\n", ",", sep)
		text = strings.ReplaceAll(strings.ReplaceAll(text, "5"+sep+"25", "5,25"), "|", sep)
		d := taken(t, text)
		if d.Results[0].Value != 5.25 || len(d.Warnings) > 0 {
			t.Errorf("%q: %v %s", sep, d.Results[0].Value, warnings(d))
		}
	}
	d := taken(t, "batch;condition;pack;time;attribute;value\nB1;25C60;tube;3M;pH;5,25\nB1;25C60;tube;6M;pH;5.25\n")
	if d.Results[1].Value != 5.25 {
		t.Errorf("a decimal point beside semicolons: %v", d.Results[1].Value)
	}
	want := "mixed-decimals: r.csv has numbers with a decimal point (first on line 3) and with a decimal comma (first on line 2); neither was taken for a thousands separator"
	if diff := cmp.Diff(want, warnings(d)); diff != "" {
		t.Error(diff)
	}
}

func TestEmptyValueIsNotTested(t *testing.T) {
	d := taken(t, long+"B1,25C60,tube,3M,pH,\nB1,25C60,tube,3M,viscosity,1\n\n,,,,,\n")
	if len(d.Results) != 1 || d.Inputs[0].Rows != 2 {
		t.Errorf("%d results of %d rows", len(d.Results), d.Inputs[0].Rows)
	}
	d = taken(t, long+"B1,25C60,tube,3M,pH,\n")
	if diff := cmp.Diff("no-values: r.csv has rows, but no values in them", warnings(d)); diff != "" {
		t.Error(diff)
	}
}

func TestPulls(t *testing.T) {
	header := "batch,condition,pack,time,pulled,attribute,value\n"
	months := func(n int32) study.Duration { return study.Duration{N: n, Unit: study.Months} }
	zero := study.Duration{}
	for _, c := range []struct {
		name, row         string
		planned           study.Duration
		elapsedDays       float64
		inWindow, offPlan bool
		warning           string
	}{
		{"planned only", "B1,25C60,tube,3M,", months(3), 3 * 30.4375, true, false, ""},
		{"bare months", "B1,25C60,tube,3,", months(3), 3 * 30.4375, true, false, ""},
		{"on its day", "B1,25C60,tube,3M,2025-04-13", months(3), 90, true, false, ""},
		{"last day of the window", "B1,25C60,tube,3M,2025-04-20", months(3), 97, true, false, ""},
		{"late", "B1,25C60,tube,3M,2025-04-21", months(3), 98, false, false,
			"late-pull: 25C60 3M: pulled on 2025-04-21, 8 days after its day 2025-04-13 and 1 day outside its window of ±7 days (batch B1)"},
		{"early", "B1,25C60,tube,12M,2026-01-05", months(12), 357, false, false,
			"early-pull: 25C60 12M: pulled on 2026-01-05, 8 days before its day 2026-01-13 and 1 day outside its window of ±7 days (batch B1)"},
		{"at another pull's time", "B1,25C60,tube,3M,2025-07-13", months(3), 181, false, false,
			"late-pull: 25C60 3M: pulled on 2025-07-13, 91 days after its day 2025-04-13 and 84 days outside its window of ±7 days (batch B1); that day is in the window of the pull at 6M"},
		{"a batch placed later", "B2,25C60,tube,3M,2025-05-03", months(3), 89, true, false, ""},
		{"by its day alone", "B1,25C60,tube,,2025-04-19", months(3), 96, true, false, ""},
		{"by its day alone, at time zero", "B1,25C60,tube,,2025-01-13", zero, 0, true, false, ""},
		{"time zero a day before storage", "B1,25C60,tube,,2025-01-12", zero, 0, true, false, ""},
		{"time zero without a condition", "B1,,tube,,2025-01-14", zero, 1, true, false, ""},
		{"in no window", "B1,25C60,tube,,2025-05-13", study.Duration{N: 120, Unit: study.Days}, 120, false, true,
			"off-plan: 25C60 120D: pulled on 2025-05-13, which is in the window of no planned pull; the nearest is 3M, due 2025-04-13 ±7 days (batch B1; 1 row, first r.csv:2)"},
		{"a time that is not planned", "B1,25C60,tube,4M,", months(4), 4 * 30.4375, true, true,
			"off-plan: 25C60 4M: 4M is no planned pull; the nearest is 3M (1 row, first r.csv:2)"},
		{"cycles", "B1,freeze,tube,5C,", study.Duration{N: 5, Unit: study.Cycles}, 10, true, false, ""}, // 5 cycles of 48 hours
	} {
		t.Run(c.name, func(t *testing.T) {
			d := taken(t, header+c.row+",pH,5\n")
			r := d.Results[0]
			if r.Planned != c.planned || math.Abs(r.Elapsed-c.elapsedDays/30.4375) > 1e-12 || r.InWindow != c.inWindow || r.OffPlan != c.offPlan {
				t.Errorf("planned %v, elapsed %v days, in window %v, off plan %v", r.Planned, r.Elapsed*30.4375, r.InWindow, r.OffPlan)
			}
			if diff := cmp.Diff(c.warning, warnings(d)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// A late pull is one warning, not one for each of its rows.
func TestWarningsAreOfPulls(t *testing.T) {
	text := dated
	for i := range 9 {
		text += fmt.Sprintf("B1,25C60,tube,3M,2025-04-25,2025-05-%02d,viscosity,%d\n", 8+i/3, 25000+i)
	}
	want := `late-pull: 25C60 3M: pulled on 2025-04-25, 12 days after its day 2025-04-13 and 5 days outside its window of ±7 days (batch B1)
late-test: viscosity 25C60 3M: tested up to 15 days after the pull of 2025-04-25, where the study file allows 14D (3 results, first r.csv:8)
more-than-planned: viscosity: more results at a pull than the study file plans: up to 9, where units times replicates is 3 (1 pull, first r.csv:2)
unlabelled-repeats: viscosity: several results of a pull have neither unit nor replicate; they were numbered in the order of their rows and taken as replicates, which are averaged as readings of one sample (1 pull, first r.csv:2)`
	if diff := cmp.Diff(want, warnings(taken(t, text))); diff != "" {
		t.Error(diff)
	}
}

func TestOtherWarnings(t *testing.T) {
	want := `day-missing: pH 25C60 3M: some results have the day of the pull and others not; if they are the same results, they are counted twice (first without: r.csv:3)
not-in-protocol: assay 40C75 tube: 1 result where the study file does not have the attribute tested (first r.csv:4)
tare-unused: pH: a tare is given and not used, since the attribute is no weighing (1 result, first r.csv:3)`
	d := taken(t, "batch,condition,pack,time,pulled,attribute,value,unit,tare\n"+
		"B1,25C60,tube,3M,2025-04-13,pH,5,1,\nB1,25C60,tube,3M,,pH,5,1,20\nB1,40C75,tube,3M,2025-04-13,assay,99,,\nB1,40C75,tube,0,2025-01-13,assay,99,,\n")
	if diff := cmp.Diff(want, warnings(d)); diff != "" {
		t.Error(diff)
	}
}

func TestManyWarningsAreCounted(t *testing.T) {
	text := "batch,condition,pack,time,attribute,value\n"
	for i := range 60 {
		text += fmt.Sprintf("B1,25C60,tube,%dD,pH,5\n", 200+i)
	}
	d := taken(t, text)
	last := d.Warnings[len(d.Warnings)-1]
	// 273 days would be 9 months; none of 200 to 259 is a planned time.
	if len(d.Warnings) != 51 || last.Text != "and 10 more warnings of this kind, not listed" {
		t.Errorf("%d warnings, the last %v", len(d.Warnings), last)
	}
}

// labelled gives unit and replicate of each result.
func labelled(d *study.Dataset) (out []string) {
	for _, r := range d.Results {
		out = append(out, d.Text(r.Unit)+"/"+d.Text(r.Replicate))
	}
	return out
}

func TestRowsWithoutLabelsAreNumbered(t *testing.T) {
	d := taken(t, long+
		"B1,25C60,tube,3M,viscosity,1\nB1,25C60,tube,3M,pH,5\nB1,25C60,tube,3M,viscosity,2\nB1,25C60,tube,3M,pH,6\n"+
		"B1,25C60,tube,3M,viscosity,3\nB1,25C60,tube,6M,viscosity,4\n")
	// viscosity has three replicates of one unit, pH three units of one.
	want := []string{"/1", "1/", "/2", "2/", "/3", "/"}
	if diff := cmp.Diff(want, labelled(d)); diff != "" {
		t.Error(diff)
	}
}

func TestTimeZeroIsOneResult(t *testing.T) {
	d := taken(t, long+
		"B1,25C60,tube,0,assay,100\nB1,40C75,tube,0,assay,100\nB1,,tube,0,assay,100\n"+
		"B1,25C60,tube,0,viscosity,1\nB1,25C60,tube,0,viscosity,2\nB1,40C75,tube,0,viscosity,1\nB1,40C75,tube,0,viscosity,2\n"+
		"B2,25C60,tube,0,assay,100\nB1,25C60,tube,0,pH,5\nB1,25C60,tube,0,pH,5.1\nB1,40C75,tube,0,pH,5\n")
	type kept struct {
		Attribute, Batch uint16
		Condition        int16
		Value            float64
	}
	var got []kept
	for _, r := range d.Results {
		got = append(got, kept{r.Attribute, r.Batch, r.Condition, r.Value})
	}
	want := []kept{{2, 0, -1, 100}, {0, 0, -1, 1}, {0, 0, -1, 2}, {2, 1, 0, 100}, {1, 0, -1, 5}, {1, 0, 0, 5.1}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if w := warnings(d); !strings.Contains(w, "repeated-time-zero: assay: 2 time-zero results repeated with the same value (under another condition, orientation or day) and counted once (first r.csv:3)") {
		t.Error(w)
	}
}

func TestWeighings(t *testing.T) {
	// U1 and U2 at time zero without a condition, U1 of 40C75 with its own; the
	// jar's tare comes from the study file, U1's from its first row.
	d := taken(t, masses+
		"B1,,tube,,0,weight,150.5,U1,21.5\nB1,25C60,tube,,3M,weight,149.5,U1,\n"+
		"B1,40C75,tube,,0,weight,151,U2,\nB1,40C75,tube,,3M,weight,149,U2,\n"+
		"B1,,jar,,0,weight,160,J1,\nB1,25C60,jar,inverted,3M,weight,159,J1,\n"+
		"B1,25C60,jar,,0,weight,161,J2,\nB1,25C60,jar,inverted,3M,weight,159,J2,\n")
	type mass struct {
		Condition   int16
		Orientation uint8
		Value, Tare float64
	}
	var got []mass
	for _, r := range d.Results {
		got = append(got, mass{r.Condition, r.Orientation, r.Value, r.Tare})
	}
	none := math.NaN()
	want := []mass{{0, 0, 150.5, 21.5}, {0, 0, 149.5, 21.5}, {1, 0, 151, none}, {1, 0, 149, none},
		{0, 1, 160, 30}, {0, 1, 159, 30}, {0, 1, 161, 30}, {0, 1, 159, 30}}
	if diff := cmp.Diff(want, got, cmpopts.EquateNaNs()); diff != "" {
		t.Error(diff)
	}
}

// The same label may stand for one unit at each condition, where time zero says
// which is meant; a time-zero mass given twice is one.
func TestWeighingsBelongToTheirCondition(t *testing.T) {
	d := taken(t, masses+
		"B1,25C60,tube,,0,weight,150,1,\nB1,40C75,tube,,0,weight,151,1,\n"+
		"B1,25C60,tube,,3M,weight,149,1,\nB1,40C75,tube,,3M,weight,148,1,\n")
	if len(d.Results) != 4 || len(d.Warnings) > 0 {
		t.Errorf("%d results, %s", len(d.Results), warnings(d))
	}
	d = taken(t, masses+"B1,25C60,tube,,0,weight,150,1,\nB1,,tube,,0,weight,150,1,\nB1,25C60,tube,,3M,weight,149,1,\n")
	if len(d.Results) != 2 {
		t.Errorf("%d results, want the time-zero mass once", len(d.Results))
	}
}

func TestStudyWithoutPacksOrConditions(t *testing.T) {
	s := balm()
	s.Packs = []study.Pack{{Tare: math.NaN(), Orientations: []study.Orientation{study.Upright}}}
	d, err := Read(s, Source{Name: "r.csv", Reader: strings.NewReader("batch,condition,time,pH\nB1,25C60,3M,5\n")})
	if err != nil || len(d.Results) != 1 {
		t.Fatal(err)
	}
	d, err = Read(s, Source{Name: "r.csv", Reader: strings.NewReader("batch,condition,pack,time,pH\nB1,25C60,tube,3M,5\n")})
	want := `r.csv:2: pack: the study names no packs; leave "tube" out, or add the pack to the study file`
	if diff := cmp.Diff(want, faultsOf(t, d, err)); diff != "" {
		t.Error(diff)
	}
	s.Conditions, s.Attributes[2].Conditions = nil, nil
	d, err = Read(s, Source{Name: "r.csv", Reader: strings.NewReader("batch,condition,time,pH\nB1,,0,5\n")})
	if err != nil || len(d.Results) != 1 {
		t.Fatal(err)
	}
}

// Attribute ids apart only by case are told apart by it in a wide header.
func TestWideHeaderCase(t *testing.T) {
	s := balm()
	s.Attributes[0].ID, s.Attributes[1].ID = "ph", "pH"
	d, err := Read(s, Source{Name: "r.csv", Reader: strings.NewReader("batch,condition,pack,time,pH,Assay\nB1,25C60,tube,3M,5,99\n")})
	if err != nil || d.Results[0].Attribute != 1 || d.Results[1].Attribute != 2 {
		t.Fatal(d, err)
	}
}
