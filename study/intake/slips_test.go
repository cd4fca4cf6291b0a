package intake

import (
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"shelfspan/study"
	"shelfspan/study/finding"
)

// What spreadsheets and habit put where a number belongs, each told with what
// would be right.
func TestValuesAsLabsWriteThem(t *testing.T) {
	const alone = " is no number; write the number alone: its unit stands in the study file, a remark in the column comment"
	const grouped = " looks grouped in thousands; write the digits without a separator, and one decimal sign"
	const limit = " is no value; write <5 or >5 for a value below or above what could be measured"
	const nothing = " is no number; leave the field empty where it was not tested, and write <5, with the limit, where nothing was found"
	for value, want := range map[string]string{
		"n.d.":          `"n.d."` + nothing,
		"ND":            `"ND"` + nothing,
		"not detected":  `"not detected"` + nothing,
		"LOQ":           `"LOQ"` + nothing,
		"<LOD":          `"<LOD"` + limit,
		"≤5":            `"≤5"` + limit,
		"≥ 5":           `"≥ 5"` + limit,
		"OOS":           `"OOS" is no number; leave the field empty where it was not tested`,
		"—":             `"—" is no number; leave the field empty where it was not tested`,
		"#N/A":          `"#N/A" is what a spreadsheet shows for an error; mend it there, or leave the field empty where it was not tested`,
		"#DIV/0!":       `"#DIV/0!" is what a spreadsheet shows for an error; mend it there, or leave the field empty where it was not tested`,
		"\u22121.5":     "\"\u22121.5\" has a dash for its minus sign; write -1.5",
		"– 2":           `"– 2" has a dash for its minus sign; write -2`,
		"5 %":           `"5 %"` + alone,
		"99.5*":         `"99.5*"` + alone,
		"99.5 ± 0.2":    `"99.5 ± 0.2"` + alone,
		"~99.5":         `"~99.5"` + alone,
		"ca. 99":        `"ca. 99"` + alone,
		"‘99.5’":        `"‘99.5’"` + alone,
		"21'500":        `"21'500"` + grouped,
		"21’500":        `"21’500"` + grouped,
		"21\u202f500":   `"21\u202f500"` + grouped,
		"1\u00a0234,5":  `"1\u00a0234,5"` + grouped,
		"99.5.":         `"99.5." is no number; write the digits together, with one decimal sign`,
		"9 9.5":         `"9 9.5" is no number; write the digits together, with one decimal sign`,
		"4-5":           `"4-5" is no number; write it as -12.5 or 1.25e4`,
		"25,5 and more": `"25,5 and more"` + alone,
	} {
		d, err := read(long + "B1,25C60,tube,3M,viscosity,\"" + value + "\"\n")
		if diff := cmp.Diff("r.csv:2: value: "+want, faultsOf(t, d, err)); diff != "" {
			t.Error(diff)
		}
	}
}

// Days as spreadsheets write them.
func TestDaysAsLabsWriteThem(t *testing.T) {
	for day, want := range map[string]string{
		"14/14/2025":          `"14/14/2025" is no date; write it as 2025-01-31`,
		"14/04/25":            `"14/04/25" has a year of two digits; write the day as 2025-01-31`,
		"4.14.2025":           `"4.14.2025" is no date; write it as 2025-01-31`,
		"04/07/2025":          `"04/07/2025" is no date; write it as 2025-07-04 or 2025-04-07, whichever is meant`,
		"2025-04-14 00:00:00": `"2025-04-14 00:00:00" is no date; write the day alone, as 2025-04-14`,
		"14-Apr-25":           `"14-Apr-25" is no date; write it as 2025-01-31`,
	} {
		d, err := read(dated + "B1,25C60,tube,3M," + day + ",,viscosity,25\n")
		if diff := cmp.Diff("r.csv:2: pulled: "+want, faultsOf(t, d, err)); diff != "" {
			t.Error(diff)
		}
	}
}

// Days that a spreadsheet rewrote and that can be one day only.
func TestDaysRewritten(t *testing.T) {
	want := study.NewDate(2025, time.April, 14)
	for _, day := range []string{"2025-04-14", "14.04.2025", "14.4.2025", "14/04/2025", "04/14/2025", "4/14/2025", "14-04-2025", "2025/04/14", "2025/4/14", "2025.04.14"} {
		d, err := read(dated + "B1,25C60,tube,3M," + day + "," + day + ",viscosity,25\n")
		if err != nil {
			t.Errorf("%s: %v", day, err)
			continue
		}
		if x := d.Results[0]; x.Pulled != want || x.Tested != want {
			t.Errorf("%s: pulled %v, tested %v", day, x.Pulled, x.Tested)
		}
	}
	_, err := read(dated + "B1,25C60,tube,3M,4/5/2025,,viscosity,25\n")
	var faults *finding.Faults
	if !errors.As(err, &faults) || !strings.HasPrefix(faults.Hint, "spreadsheets rewrite days") {
		t.Errorf("a day that may be two: %+v", faults)
	}
}

// Headers as labs and spreadsheets write them: one fault for each slip, none
// that follows from it.
func TestHeadersAsLabsWriteThem(t *testing.T) {
	const row = "B1,25C60,tube,3M,viscosity,25\n"
	const none = "r.csv:1: is no header line; a results table begins with one, its columns separated by comma, semicolon or tab: batch,condition,pack,time,attribute,value"
	for _, c := range []struct{ name, text, want string }{
		{"titles above", "Stability of MB-26,,,,,\nmade up,,,,,\n\n" + long + row,
			"r.csv:1: is no header line, which stands on line 4; delete what is above it"},
		{"titles above, after a blank line", "\nStability of MB-26\n" + strings.ReplaceAll(long+row, ",", ";"),
			"r.csv:2: is no header line, which stands on line 3; delete what is above it"},
		{"merged heads above", ",,Sample,,Result,\n" + long + row,
			"r.csv:1: is no header line, which stands on line 2; delete what is above it"},
		{"sep=", "sep=;\r\n" + strings.ReplaceAll(long+row, ",", ";"),
			"r.csv:1: is no header line, which stands on line 2; delete what is above it"},
		{"comment", "# exported\n" + long + row,
			"r.csv:1: is no header line, which stands on line 2; delete what is above it"},
		{"no header", row, none},
		{"blanks between columns", strings.ReplaceAll(long+row, ",", " "), none},
		{"bars between columns", strings.ReplaceAll(long+row, ",", "|"), none},
		{"web page", "<html><table><tr><td>batch</td></tr></table>\n", none},
		{"other names", "batch,Storage,Container,Time point,Parameter,Result\n" + row,
			`r.csv:1: Storage: no such column; did you mean "condition"?
r.csv:1: Container: no such column; did you mean "pack"?
r.csv:1: Time point: no such column; did you mean "time"?
r.csv:1: Parameter: no such column; did you mean "attribute"?
r.csv:1: Result: no such column; did you mean "value"?`},
		{"units in the header", "Batch no.,condition,pack,time,viscosity [mPa.s],assay (%)\n",
			`r.csv:1: Batch no.: no such column; did you mean "batch"?
r.csv:1: viscosity [mPa.s]: no such column; did you mean "viscosity"?
r.csv:1: assay (%): no such column; did you mean "assay"?`},
		{"two slips of different kind", "batch,condition,pack,time,colour\n",
			`r.csv:1: colour: no such column; known are batch, condition, pack, orientation, time, pulled, attribute, value, tested, replicate, unit, tare, unit_of_measure, analyst, method, comment, and in the wide form viscosity, pH, assay, weight, look, leak
r.csv:1: the header has neither the columns attribute and value (long form) nor a column named for an attribute (wide form): viscosity, pH, assay, weight, look, leak`},
		{"workbook of old", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1\x00\x00",
			"r.csv: a spreadsheet workbook or another archive, not CSV; save the sheet as CSV in UTF-8"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, err := read(c.text)
			if diff := cmp.Diff(c.want, faultsOf(t, d, err)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// A number such as 21.500 may be one in thousands where its sign need not be
// the decimal one.
func TestThousandsOrDecimals(t *testing.T) {
	const head = "batch;condition;pack;time;attribute;value\n"
	row := func(time, attribute, value string) string {
		return "B1;25C60;tube;" + time + ";" + attribute + ";" + value + "\n"
	}
	refused := func(text, want string) {
		t.Helper()
		d, err := read(text)
		if diff := cmp.Diff(want, faultsOf(t, d, err)); diff != "" {
			t.Error(diff)
		}
	}
	// Beside a decimal comma the point must be something else.
	refused(head+row("3M", "viscosity", "21.500")+row("3M", "assay", "99,5")+row("6M", "viscosity", "20.900"),
		`r.csv:2: "21.500" has a point where the file has decimal commas (first on line 3): does it group thousands? Write all numbers with one decimal sign (2 numbers of this kind)`)
	refused(head+row("3M", "assay", "99.5")+row("3M", "viscosity", "-21,500"),
		`r.csv:3: "-21,500" has a comma where the file has decimal points (first on line 2): does it group thousands? Write all numbers with one decimal sign`)

	for _, c := range []struct{ name, text, want string }{
		{"all in threes", head + row("3M", "viscosity", "21.500") + row("6M", "viscosity", "20.900"),
			`three-decimals: every number with a decimal sign in r.csv has three digits behind it (2 numbers, first "21.500" on line 2); they were taken as decimals, not as thousands`},
		{"the sign is the decimal one elsewhere", head + row("3M", "viscosity", "21.500") + row("3M", "assay", "99.5"), ""},
		{"too long or too short for thousands", head + row("3M", "viscosity", "2150.500") + row("3M", "assay", "0.500") + row("6M", "assay", "9.5000"), ""},
		{"a comma separates the columns, so the point is sure", strings.ReplaceAll(head+row("3M", "viscosity", "21.500"), ";", ","), ""},
		{"masses have three decimals", "batch;condition;pack;time;attribute;value;unit\nB1;25C60;tube;0;weight;62,010;U1\nB1;25C60;tube;3M;weight;61,900;U1\n", ""},
	} {
		d, err := read(c.text)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if diff := cmp.Diff(c.want, warnings(d)); diff != "" {
			t.Errorf("%s: %s", c.name, diff)
		}
	}
}

// Masses that no unit in storage can have, and such as say that two units were
// exchanged.
func TestMassesAgainstTimeZero(t *testing.T) {
	table := func(of3M, of6M string) string {
		return masses + "B1,25C60,tube,,0,weight,62.01,U1,\nB1,25C60,tube,,3M,weight," + of3M + ",U1,\nB1,25C60,tube,,6M,weight," + of6M + ",U1,\n"
	}
	for _, c := range []struct{ name, text, want string }{
		{"mg", table("61900", "61.8"), "r.csv:3: value: a mass of 61900 g, where unit U1 had 62.01 g at time zero (line 2); give both in g"},
		{"kg", table("61.9", "0.0618"), "r.csv:4: value: a mass of 0.0618 g, where unit U1 had 62.01 g at time zero (line 2); give both in g"},
	} {
		d, err := read(c.text)
		if diff := cmp.Diff(c.want, faultsOf(t, d, err)); diff != "" {
			t.Errorf("%s: %s", c.name, diff)
		}
	}
	// 62.40/62.01 = 1.00629; 62.05/62.01 = 1.00065 is within what a balance and damp do.
	d, err := read(table("62.05", "62.40"))
	if err != nil {
		t.Fatal(err)
	}
	want := "mass-gain: weight 25C60 tube: masses above that of the unit at time zero, by up to 0.63 % (1 mass, first r.csv:4); were units exchanged, or does the product take something up?"
	if diff := cmp.Diff(want, warnings(d)); diff != "" {
		t.Error(diff)
	}
	// Of several readings at time zero the largest counts, whatever their order.
	readings := "batch,condition,pack,time,attribute,value,unit,replicate\n" +
		"B1,25C60,tube,0,weight,62.00,U1,1\nB1,25C60,tube,0,weight,62.40,U1,2\nB1,25C60,tube,3M,weight,62.39,U1,1\n"
	if d, err = read(readings); err != nil || warnings(d) != "" {
		t.Errorf("%v, %s", err, warnings(d))
	}
}

// A unit whose label is written in two ways is told by the one it has a mass
// at time zero under.
func TestLabelOfAUnitMistyped(t *testing.T) {
	d, err := read(masses +
		"B1,25C60,tube,,0,weight,62.0,T-U1,\nB1,25C60,tube,,3M,weight,61.9,t-u1,\nB1,25C60,tube,,6M,weight,61.8,T-U7,\nB1,40C75,tube,,0,weight,62.0,T-U77,\n")
	want := `r.csv:3: unit: unit t-u1 has no mass at time zero (weight of batch B1 in tube at 25C60, time 3M, unit t-u1); is it unit T-U1? Else add its row with time 0, from before it was stored
r.csv:4: unit: unit T-U7 has no mass at time zero (weight of batch B1 in tube at 25C60, time 6M, unit T-U7); add its row with time 0, from before it was stored`
	if diff := cmp.Diff(want, faultsOf(t, d, err)); diff != "" {
		t.Error(diff)
	}
}

// A table of another study is told as such, once, beside the faults of its rows.
func TestTableOfAnotherStudy(t *testing.T) {
	hint := func(sources ...Source) string {
		_, err := Read(balm(), sources...)
		var f *finding.Faults
		if !errors.As(err, &f) {
			t.Fatalf("taken in, or %v", err)
		}
		return f.Hint
	}
	table := func(name, rows string) Source { return Source{Name: name, Reader: strings.NewReader(long + rows)} }
	const other = "X1,25C60,tube,3M,viscosity,25\nX2,25C60,tube,3M,viscosity,25\n"
	if got, want := hint(table("a.csv", "B1,25C60,tube,3M,viscosity,25\n"), table("b.csv", other)), "no row of b.csv names a batch of study MB-26; is it a table of another study?"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if got := hint(table("a.csv", other+"B1,25C60,tube,3M,viscosity,25\n")); got != "" {
		t.Errorf("%q, though a row is of the study", got)
	}
	if got := hint(table("a.csv", "B1,25C60,tube,3M,viscosity\n")); got != "" {
		t.Errorf("%q, though the only row cannot be read", got)
	}
}
