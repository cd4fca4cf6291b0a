package intake

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"runtime"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"shelfspan/study"
	"shelfspan/study/finding"
)

// Headers of the long form used in the tests.
const (
	long   = "batch,condition,pack,time,attribute,value\n"
	dated  = "batch,condition,pack,time,pulled,tested,attribute,value\n"
	masses = "batch,condition,pack,orientation,time,attribute,value,unit,tare\n"
)

func read(text string) (*study.Dataset, error) {
	return Read(balm(), Source{Name: "r.csv", Reader: strings.NewReader(text)})
}

// faultsOf gives the faults of an error, one a line.
func faultsOf(t *testing.T, d *study.Dataset, err error) string {
	t.Helper()
	if err == nil {
		t.Fatalf("taken in: %d results", len(d.Results))
	}
	if d != nil {
		t.Fatal("a dataset beside an error")
	}
	var f *finding.Faults
	if !errors.As(err, &f) {
		t.Fatalf("error is %T: %v", err, err)
	}
	return f.Error()
}

func TestFaults(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"empty file",
			"",
			"r.csv: is empty; it needs a header line (batch, condition, time or pulled, attribute, value, …) and results below it"},
		{"byte-order mark only",
			"\ufeff",
			"r.csv: is empty; it needs a header line (batch, condition, time or pulled, attribute, value, …) and results below it"},
		{"blank lines only",
			"\n\r\n\n",
			"r.csv: is empty; it needs a header line (batch, condition, time or pulled, attribute, value, …) and results below it"},
		{"header only",
			long,
			"r.csv:1: has a header and no results below it"},
		{"header and empty rows",
			long +
				",,,,,\n",
			"r.csv:1: has a header and no results below it"},
		{"binary",
			"batch,condition\x00\x01\x02\n",
			"r.csv:1: not a text file (it holds a NUL byte); save the table as CSV in UTF-8"},
		{"binary in a row",
			long +
				"B1,25C60,tube,3M,viscosity,1\n" +
				"\x00",
			"r.csv:3: not a text file (it holds a NUL byte); save the table as CSV in UTF-8"},
		{"NUL in quotes",
			long +
				"B1,25C60,tube,3M,viscosity,\"1\x00\"\n",
			"r.csv:2: not a text file (it holds a NUL byte); save the table as CSV in UTF-8"},
		{"workbook",
			"PK\x03\x04 whatever",
			"r.csv: a spreadsheet workbook or another archive, not CSV; save the sheet as CSV in UTF-8"},
		{"carriage returns only",
			"batch,condition,pack,time,attribute,value\rB1,25C60,tube,3M,viscosity,1\r",
			"r.csv:1: a carriage return without a line feed; save the file with the line ends CRLF or LF"},
		{"unknown column",
			"batch,condition,pack,tmie,time,attribute,value,colour of the cap\n" +
				"B1,25C60,tube,,3M,viscosity,1,\n",
			"r.csv:1: tmie: no such column; did you mean \"time\"?" + "\n" +
				"r.csv:1: colour of the cap: no such column; known are batch, condition, pack, orientation, time, pulled, attribute, value, tested, replicate, unit, tare, unit_of_measure, analyst, method, comment, and in the wide form viscosity, pH, assay, weight, look, leak"},
		{"column twice",
			"batch,condition,pack,time,Batch,attribute,value\n",
			"r.csv:1: batch: this column stands twice in the header, as column 1 and 5"},
		{"no key columns",
			"attribute,value\n" +
				"viscosity,1\n",
			"r.csv:1: batch: the header has no column \"batch\"" + "\n" +
				"r.csv:1: condition: the header has no column \"condition\"" + "\n" +
				"r.csv:1: pack: the header has no column \"pack\", and the study has several packs" + "\n" +
				"r.csv:1: the header has neither a column \"time\" (the planned pull) nor \"pulled\" (its day); one is needed"},
		{"attribute without value",
			"batch,condition,pack,time,attribute\n",
			"r.csv:1: value: the header has no column \"value\", which the long form needs beside attribute"},
		{"no values at all",
			"batch,condition,pack,time\n",
			"r.csv:1: the header has neither the columns attribute and value (long form) nor a column named for an attribute (wide form): viscosity, pH, assay, weight, look, leak"},
		{"long and wide at once",
			"batch,condition,pack,time,attribute,value,viscosity\n",
			"r.csv:1: viscosity: a column for one attribute beside attribute and value; a file is either long (one result a row) or wide (a column for each attribute)"},
		{"wide with an unknown attribute",
			"batch,condition,pack,time,viscosity,visosity\n",
			"r.csv:1: visosity: no such column; did you mean \"viscosity\"?"},
		{"whoever graded, by another name",
			"batch,condition,pack,time,attribute,value,assessor\n",
			"r.csv:1: assessor: no such column; did you mean \"analyst\"?"},
		{"a value without a column name",
			"batch,condition,pack,time,attribute,value,\n" +
				"B1,25C60,tube,3M,viscosity,1,2\n",
			"r.csv:2: column 7 holds \"2\" and has no name in the header"},
		{"too few fields",
			long +
				"B1,25C60,tube,3M,viscosity\n",
			"r.csv:2: has 5 fields, and the header 6; leave fields empty, but keep their separators"},
		{"too many fields",
			long +
				"B1,25C60,tube,3M,pH,5,6\n",
			"r.csv:2: has 7 fields, and the header 6; a decimal comma, or a comma in a text without quotes, makes two fields of one"},
		{"too many fields, semicolons",
			"batch;condition;pack;time;attribute;value\n" +
				"B1;25C60;tube;3M;pH;5;6\n",
			"r.csv:2: has 7 fields, and the header 6; put a text that holds the separator in quotes"},
		{"one field",
			long +
				"end of the table\n",
			"r.csv:2: has 1 field, and the header 6; leave fields empty, but keep their separators"},
		{"unknown batch",
			long +
				"B11,25C60,tube,3M,viscosity,1\n" +
				"X,25C60,tube,3M,viscosity,1\n" +
				",25C60,tube,3M,viscosity,1\n",
			"r.csv:2: batch: no batch \"B11\"; did you mean \"B1\"?" + "\n" +
				"r.csv:3: batch: no batch \"X\"; the study has B1, B2" + "\n" +
				"r.csv:4: batch: is empty; name the batch: B1, B2"},
		{"unknown condition",
			long +
				"B1,25C65,tube,3M,viscosity,1\n" +
				"B1,hot,tube,3M,viscosity,1\n",
			"r.csv:2: condition: no condition \"25C65\"; the study has 25C60, 40C75, freeze" + "\n" +
				"r.csv:3: condition: no condition \"hot\"; the study has 25C60, 40C75, freeze"},
		{"unknown pack",
			long +
				"B1,25C60,Tube,3M,viscosity,1\n" +
				"B1,25C60,,3M,viscosity,1\n",
			"r.csv:2: pack: no pack \"Tube\"; did you mean \"tube\"?" + "\n" +
				"r.csv:3: pack: is empty, and the study has several: tube, jar"},
		{"unknown attribute",
			long +
				"B1,25C60,tube,3M,viscosty,1\n" +
				"B1,25C60,tube,3M,,1\n",
			"r.csv:2: attribute: no attribute \"viscosty\"; did you mean \"viscosity\"?" + "\n" +
				"r.csv:3: attribute: is empty; name the attribute of the value: viscosity, pH, assay, weight, look, leak"},
		{"orientation",
			masses +
				"B1,25C60,jar,sideways,3M,viscosity,1,,\n" +
				"B1,25C60,jar,,3M,viscosity,1,,\n" +
				"B1,25C60,tube,inverted,3M,viscosity,1,,\n",
			"r.csv:2: orientation: no orientation \"sideways\"; the pack is stored upright, inverted" + "\n" +
				"r.csv:3: orientation: is empty, and pack jar is stored in several: upright, inverted" + "\n" +
				"r.csv:4: orientation: no orientation \"inverted\"; the pack is stored upright"},
		{"condition empty after time zero",
			long +
				"B1,,tube,3M,viscosity,1\n",
			"r.csv:2: condition: is empty, which it may be only at time 0; the row's time is 3M"},
		{"time",
			long +
				"B1,25C60,tube,soon,pH,1\n" +
				"B1,25C60,tube,1.5,pH,1\n" +
				"B1,25C60,tube,-3,pH,1\n" +
				"B1,25C60,tube,,pH,1\n" +
				"B1,25C60,tube,5C,pH,1\n" +
				"B1,25C60,tube,999999999M,pH,1\n",
			"r.csv:2: time: \"soon\" is no duration; write 0, 10D, 2W, 3M or 2Y" + "\n" +
				"r.csv:3: time: \"1.5\" is no duration; a bare number is whole months; write 10D, 2W, 3M or 2Y" + "\n" +
				"r.csv:4: time: \"-3\" is no duration; a bare number is whole months; write 10D, 2W, 3M or 2Y" + "\n" +
				"r.csv:5: time: is empty; give it for every row" + "\n" +
				"r.csv:6: time: 5C counts cycles, and 25C60 is no cycling condition; write 10D, 2W, 3M or 2Y" + "\n" +
				"r.csv:7: time: \"999999999M\" is longer than any study"},
		{"days",
			dated +
				"B1,25C60,tube,3M,2025-02-30,,pH,1\n" +
				"B1,25C60,tube,3M,13.4.25,,pH,1\n" +
				"B1,25C60,tube,3M,2025-04-13,2025-04-31,pH,1\n" +
				"B1,25C60,tube,3M,2025-04-13,2025-04-12,pH,1\n" +
				"B1,25C60,tube,,,,pH,1\n",
			"r.csv:2: pulled: \"2025-02-30\" does not exist in the calendar" + "\n" +
				"r.csv:3: pulled: \"13.4.25\" has a year of two digits; write the day as 2025-01-31" + "\n" +
				"r.csv:4: tested: \"2025-04-31\" does not exist in the calendar" + "\n" +
				"r.csv:5: tested: 2025-04-12 is before the pull, on 2025-04-13; one of the two days is wrong" + "\n" +
				"r.csv:6: time: is empty, and so is pulled; give the planned time, or the day of the pull"},
		{"pulled years from its time", // 366 days late is a warning, 367 a slip
			dated +
				"B1,25C60,tube,3M,2026-04-14,,pH,1\n" +
				"B1,25C60,tube,6M,2026-07-15,,pH,1\n" +
				"B1,25C60,tube,9M,2052-10-13,,pH,1\n",
			"r.csv:3: pulled: 2026-07-15 is more than a year from 2025-07-13, the day of the pull at 6M: one of the two is wrong; a pull really made then is written without its time" + "\n" +
				"r.csv:4: pulled: 2052-10-13 is more than a year from 2025-10-13, the day of the pull at 9M: one of the two is wrong; a pull really made then is written without its time"},
		{"pulled before time zero",
			dated +
				"B1,25C60,tube,3M,2024-04-13,,pH,1\n" +
				"B2,25C60,tube,,2025-01-14,,pH,1\n" +
				"B1,25C60,tube,0,2025-01-09,,pH,1\n",
			"r.csv:2: pulled: 2024-04-13 is before time zero: batch B1 entered storage when the study started, on 2025-01-13" + "\n" +
				"r.csv:3: pulled: 2025-01-14 is before time zero: batch B2 was placed in storage on 2025-02-03" + "\n" +
				"r.csv:4: pulled: 2025-01-09 is before time zero: batch B1 entered storage when the study started, on 2025-01-13"},
		{"no condition for a day after time zero",
			dated +
				"B1,,tube,,2025-04-13,,pH,1\n",
			"r.csv:2: condition: is empty, which it may be only at time 0; 2025-04-13 is 90 days after it"},
		{"a text for a number",
			long +
				"B1,25C60,tube,3M,viscosity,thick\n" +
				"B1,25C60,tube,3M,viscosity,n/a\n" +
				"B1,25C60,tube,3M,viscosity,25000 mPa.s\n" +
				"B1,25C60,tube,3M,viscosity,=1+1\n" +
				"B1,25C60,tube,3M,viscosity,5%\n",
			"r.csv:2: value: \"thick\" is no number; leave the field empty where it was not tested" + "\n" +
				"r.csv:3: value: \"n/a\" is no number; leave the field empty where it was not tested" + "\n" +
				"r.csv:4: value: \"25000 mPa.s\" is no number; write the number alone: its unit stands in the study file, a remark in the column comment" + "\n" +
				"r.csv:5: value: \"=1+1\" is no number; write the number alone: its unit stands in the study file, a remark in the column comment" + "\n" +
				"r.csv:6: value: \"5%\" is no number; write the number alone: its unit stands in the study file, a remark in the column comment"},
		{"numbers refused",
			long +
				"B1,25C60,tube,3M,viscosity,nan\n" +
				"B1,25C60,tube,3M,viscosity,Inf\n" +
				"B1,25C60,tube,3M,viscosity,-inf\n" +
				"B1,25C60,tube,3M,viscosity,0x1F\n" +
				"B1,25C60,tube,3M,viscosity,1_000\n" +
				"B1,25C60,tube,3M,viscosity,1e999\n" +
				"B1,25C60,tube,3M,viscosity,1e-999\n" +
				"B1,25C60,tube,3M,viscosity,\"25,5\"\n" +
				"B1,25C60,tube,3M,viscosity,\"25,000\"\n" +
				"B1,25C60,tube,3M,viscosity,25 000\n" +
				"B1,25C60,tube,3M,viscosity,1.234.567\n" +
				"B1,25C60,tube,3M,viscosity,\"1,234.5\"\n" +
				"B1,25C60,tube,3M,viscosity,<\n" +
				"B1,25C60,tube,3M,viscosity,<=5\n" +
				"B1,25C60,tube,3M,viscosity,<five\n" +
				"B1,25C60,tube,3M,viscosity,1e\n" +
				"B1,25C60,tube,3M,viscosity,--1\n" +
				"B1,25C60,tube,3M,viscosity,.\n",
			"r.csv:2: value: \"nan\" is no number; leave the field empty where it was not tested" + "\n" +
				"r.csv:3: value: \"Inf\" is no number; leave the field empty where it was not tested" + "\n" +
				"r.csv:4: value: \"-inf\" is no number; leave the field empty where it was not tested" + "\n" +
				"r.csv:5: value: \"0x1F\" is no decimal number; write it with the digits 0 to 9" + "\n" +
				"r.csv:6: value: \"1_000\" is no number; write the number alone: its unit stands in the study file, a remark in the column comment" + "\n" +
				"r.csv:7: value: \"1e999\" is beyond the numbers a computer holds (1e-308 to 1e308)" + "\n" +
				"r.csv:8: value: \"1e-999\" is beyond the numbers a computer holds (1e-308 to 1e308)" + "\n" +
				"r.csv:9: value: \"25,5\" has a comma in it, and commas separate the columns; write 25.5" + "\n" +
				"r.csv:10: value: \"25,000\" has a comma in it, and commas separate the columns; write 25000 or 25.000, whichever is meant" + "\n" +
				"r.csv:11: value: \"25 000\" looks grouped in thousands; write the digits without a separator, and one decimal sign" + "\n" +
				"r.csv:12: value: \"1.234.567\" looks grouped in thousands; write the digits without a separator, and one decimal sign" + "\n" +
				"r.csv:13: value: \"1,234.5\" looks grouped in thousands; write the digits without a separator, and one decimal sign" + "\n" +
				"r.csv:14: value: \"<\" is no value; write <5 or >5 for a value below or above what could be measured" + "\n" +
				"r.csv:15: value: \"<=5\" is no value; write <5 or >5 for a value below or above what could be measured" + "\n" +
				"r.csv:16: value: \"<five\" is no value; write <5 or >5 for a value below or above what could be measured" + "\n" +
				"r.csv:17: value: \"1e\" is no number; write it as -12.5 or 1.25e4" + "\n" +
				"r.csv:18: value: \"--1\" is no number; write it as -12.5 or 1.25e4" + "\n" +
				"r.csv:19: value: \".\" is no number; leave the field empty where it was not tested"},
		{"numbers refused with semicolons",
			"batch;condition;pack;time;attribute;value\n" +
				"B1;25C60;tube;3M;viscosity;1.234,5\n" +
				"B1;25C60;tube;3M;viscosity;1,234,567\n" +
				"B1;25C60;tube;3M;viscosity;1 234,5\n",
			"r.csv:2: value: \"1.234,5\" looks grouped in thousands; write the digits without a separator, and one decimal sign" + "\n" +
				"r.csv:3: value: \"1,234,567\" looks grouped in thousands; write the digits without a separator, and one decimal sign" + "\n" +
				"r.csv:4: value: \"1 234,5\" looks grouped in thousands; write the digits without a separator, and one decimal sign"},
		{"grades",
			long +
				"B1,25C60,tube,3M,look,4\n" +
				"B1,25C60,tube,3M,look,-1\n" +
				"B1,25C60,tube,3M,look,1.5\n" +
				"B1,25C60,tube,3M,look,modrate\n" +
				"B1,25C60,tube,3M,look,dreadful\n" +
				"B1,25C60,tube,3M,look,<2\n",
			"r.csv:2: value: \"4\" is no grade of look; grades are the whole numbers 0 to 3 (none, slight, moderate, severe)" + "\n" +
				"r.csv:3: value: \"-1\" is no grade of look; grades are the whole numbers 0 to 3 (none, slight, moderate, severe)" + "\n" +
				"r.csv:4: value: \"1.5\" is no grade of look; grades are the whole numbers 0 to 3 (none, slight, moderate, severe)" + "\n" +
				"r.csv:5: value: no grade \"modrate\"; did you mean \"moderate\"? (0 to 3)" + "\n" +
				"r.csv:6: value: no grade \"dreadful\"; look has none, slight, moderate, severe (0 to 3)" + "\n" +
				"r.csv:7: value: no grade \"<2\"; look has none, slight, moderate, severe (0 to 3)"},
		{"pass or fail",
			long +
				"B1,25C60,tube,3M,leak,0\n" +
				"B1,25C60,tube,3M,leak,1\n" +
				"B1,25C60,tube,3M,leak,ok\n" +
				"B1,25C60,tube,3M,leak,<1\n",
			"r.csv:2: value: \"0\" may mean pass to one lab and fail to another; write pass or fail" + "\n" +
				"r.csv:3: value: \"1\" may mean pass to one lab and fail to another; write pass or fail" + "\n" +
				"r.csv:4: value: \"ok\" is neither pass nor fail, which leak takes; leave the field empty where it was not tested" + "\n" +
				"r.csv:5: value: \"<1\" is neither pass nor fail, which leak takes; leave the field empty where it was not tested"},
		{"masses",
			masses +
				"B1,25C60,tube,,0,weight,-150,U1,\n" +
				"B1,25C60,tube,,0,weight,0,U2,\n" +
				"B1,25C60,tube,,0,weight,20,U3,21.5\n" +
				"B1,25C60,tube,,0,weight,150,U4,-1\n" +
				"B1,25C60,tube,,0,weight,150,U5,light\n" +
				"B1,25C60,tube,,0,weight,150,,\n" +
				"B1,25C60,tube,,0,weight,<150,U7,\n" +
				"B1,25C60,jar,upright,0,weight,29,U8,\n",
			"r.csv:2: value: a mass of -150 g; a gross mass is above 0" + "\n" +
				"r.csv:3: value: a mass of 0 g; a gross mass is above 0" + "\n" +
				"r.csv:4: value: a gross mass of 20 g is not above the tare of 21.5 g" + "\n" +
				"r.csv:5: tare: a mass of -1 g; a tare is 0 or above" + "\n" +
				"r.csv:6: tare: \"light\" is no number; leave the field empty where it was not tested" + "\n" +
				"r.csv:7: unit: is empty, and a weighing needs the label of its unit" + "\n" +
				"r.csv:8: value: \"<150\" is a limit, and weight is a weighing, which needs the mass itself in g" + "\n" +
				"r.csv:9: value: a gross mass of 29 g is not above the tare of the pack, 30 g"},
		{"no mass at time zero",
			masses +
				"B1,25C60,tube,,0,weight,150,U1,\n" +
				"B1,25C60,tube,,3M,weight,149,U1,\n" +
				"B1,25C60,tube,,3M,weight,149,U2,\n" +
				"B1,25C60,tube,,6M,weight,148,U2,\n" +
				"B1,40C75,tube,,3M,weight,140,U1,\n",
			"r.csv:4: unit: unit U2 has no mass at time zero (weight of batch B1 in tube at 25C60, time 3M, unit U2); add its row with time 0, from before it was stored" + "\n" +
				"r.csv:6: unit: unit U1 has no mass at time zero (weight of batch B1 in tube at 40C75, time 3M, unit U1); add its row with time 0, from before it was stored"},
		{"two tares",
			masses +
				"B1,25C60,tube,,0,weight,150,U1,20\n" +
				"B1,25C60,tube,,3M,weight,149,U1,21\n",
			"r.csv:3: tare: a tare of 21 g for unit U1, and 20 g on line 2; a unit has one tare"},
		{"the unit's tare is above a later mass",
			masses +
				"B1,25C60,tube,,0,weight,150,U1,20\n" +
				"B1,25C60,tube,,3M,weight,19,U1,\n",
			"r.csv:3: value: a gross mass of 19 g is not above the tare of the unit, from line 2, 20 g"},
		{"whose mass at time zero",
			masses +
				"B1,,tube,,0,weight,150,U1,\n" +
				"B1,25C60,tube,,3M,weight,149,U1,\n" +
				"B1,40C75,tube,,3M,weight,149,U1,\n",
			"r.csv:2: condition: the time-zero mass of unit U1 may belong to the unit of that label at 25C60, 40C75; name the condition (and orientation), or give each unit a label of its own"},
		{"two masses at time zero",
			masses +
				"B1,25C60,tube,,0,weight,150,U1,\n" +
				"B1,,tube,,0,weight,151,U1,\n",
			"r.csv:3: value: a mass of 151 g for weight of batch B1 in tube at 25C60, time 0, unit U1, and 150 g on line 2; a unit has one mass at time zero (several readings of it are replicates)"},
		{"unit of measure",
			"batch,condition,pack,time,attribute,value,unit,unit_of_measure\n" +
				"B1,25C60,tube,3M,viscosity,25,,Pa.s\n" +
				"B1,25C60,tube,3M,pH,5,,mol/L\n" +
				"B1,25C60,tube,0,weight,150,U1,%\n",
			"r.csv:2: unit_of_measure: \"Pa.s\" for viscosity, whose unit in the study file is mPa.s; give the value in that unit" + "\n" +
				"r.csv:3: unit_of_measure: \"mol/L\" for pH, which has no unit in the study file; leave it empty" + "\n" +
				"r.csv:4: unit_of_measure: \"%\" for weight, which is a weighing: its values are gross masses in g"},
		{"duplicate",
			"batch,condition,pack,time,attribute,value,replicate\n" +
				"B1,25C60,tube,3M,viscosity,25,1\n" +
				"B1,25C60,tube,3M,viscosity,26,2\n" +
				"B1,25C60,tube,3M,viscosity,25,1\n",
			"r.csv:4: value: a second result for viscosity of batch B1 in tube at 25C60, time 3M, replicate 1; line 2 has the first"},
		{"duplicate time as months and years",
			"batch,condition,pack,time,attribute,value,unit\n" +
				"B1,25C60,tube,12M,pH,5,1\n" +
				"B1,25C60,tube,1Y,pH,6,1\n",
			"r.csv:3: value: a second result for pH of batch B1 in tube at 25C60, time 12M, unit 1; line 2 has the first"},
		{"labelled and not",
			"batch,condition,pack,time,attribute,value,replicate\n" +
				"B1,25C60,tube,3M,viscosity,25,1\n" +
				"B1,25C60,tube,3M,viscosity,26,\n" +
				"B1,25C60,tube,6M,viscosity,26,\n" +
				"B1,25C60,tube,6M,viscosity,26,2\n",
			"r.csv:3: value: viscosity of batch B1 in tube at 25C60, time 3M: this result has neither unit nor replicate, and that on line 2 has; label all results of a pull, or none" + "\n" +
				"r.csv:5: value: viscosity of batch B1 in tube at 25C60, time 6M, replicate 2: this result has a unit or replicate, and that on line 4 has none; label all results of a pull, or none"},
		{"two values at time zero",
			long +
				"B1,25C60,tube,0,assay,100\n" +
				"B1,40C75,tube,0,assay,101\n",
			"r.csv:3: value: another value for assay of batch B1 in tube at 40C75, time 0 than on line 2; time zero is measured once for a batch and pack: repeat the same value, or tell the units or replicates apart"},
		{"bare quote",
			long +
				"B1,25C60,tube,3M,viscosity,2\"5\n" +
				"B9,25C60,tube,3M,viscosity,25\n",
			"r.csv:2: a quote inside a field that does not begin with one; put the whole field in quotes and double those inside it" + "\n" +
				"r.csv:3: batch: no batch \"B9\"; the study has B1, B2"},
		{"text after a quote",
			long +
				"B1,25C60,tube,3M,viscosity,\"2\"5\n" +
				"B9,25C60,tube,3M,viscosity,25\n",
			"r.csv:2: text after the quote that closes a field; double a quote that belongs to the field" + "\n" +
				"r.csv:3: batch: no batch \"B9\"; the study has B1, B2"},
		{"quote never closed",
			long +
				"B1,25C60,tube,3M,viscosity,\"25\n" +
				"B9,25C60,tube,3M,viscosity,25\n",
			"r.csv:2: a quote opened in this row is never closed"},
		{"control character",
			"batch,condition,pack,time,attribute,value,unit,comment\n" +
				"B1,25C60,tube,3M,viscosity,25,a\x1b[31m,\"two\n" +
				"lines\"\n" +
				"B1,25C60,tube,6M,viscosity,25,\"two\n" +
				"lines\",\n",
			"r.csv:2: unit: \"a\\x1b[31m\" holds a control character, a line end or another character that is not seen; write it as plain text" + "\n" +
				"r.csv:4: unit: \"two\\nlines\" holds a control character, a line end or another character that is not seen; write it as plain text"},
		{"lines of a quoted field count",
			"batch,condition,pack,time,attribute,value,comment\n" +
				"B1,25C60,tube,3M,viscosity,25,\"two\n" +
				"lines\"\n" +
				"B9,25C60,tube,3M,viscosity,25,\n",
			"r.csv:4: batch: no batch \"B9\"; the study has B1, B2"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, err := read(c.text)
			if diff := cmp.Diff(c.want, faultsOf(t, d, err)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// The faults of every file are told at once, and a good file beside a faulty
// one is not taken in.
func TestFaultsOfSeveralFiles(t *testing.T) {
	d, err := Read(balm(),
		Source{Name: "z.csv", Reader: strings.NewReader(long + "B1,25C60,tube,3M,viscosity,thick\n")},
		Source{Name: "good.csv", Reader: strings.NewReader(long + "B1,25C60,tube,6M,viscosity,25000\n")},
		Source{Name: "a.csv", Reader: strings.NewReader(long + "B3,25C60,tube,3M,viscosity,1\n")},
		Source{Name: "empty.csv", Reader: strings.NewReader("")})
	want := `z.csv:2: value: "thick" is no number; leave the field empty where it was not tested
a.csv:2: batch: no batch "B3"; the study has B1, B2
empty.csv: is empty; it needs a header line (batch, condition, time or pulled, attribute, value, …) and results below it`
	if diff := cmp.Diff(want, faultsOf(t, d, err)); diff != "" {
		t.Error(diff)
	}
}

func TestCollisionsBetweenFiles(t *testing.T) {
	labelled := "batch,condition,pack,time,attribute,value,replicate\n"
	for _, c := range []struct{ name, first, second, want string }{
		{"without labels", long + "B1,25C60,tube,3M,pH,5\n", long + "B1,25C60,tube,3M,pH,6\n",
			"b.csv:2: value: pH of batch B1 in tube at 25C60, time 3M: line 2 of a.csv has a result of the same key; results in another file need a unit or replicate to be told from it"},
		{"same labels", labelled + "B1,25C60,tube,3M,pH,5,1\n", labelled + "B1,25C60,tube,3M,pH,6,1\n",
			"b.csv:2: value: a second result for pH of batch B1 in tube at 25C60, time 3M, replicate 1; line 2 of a.csv has the first"},
		{"the same file", long + "B1,25C60,tube,3M,pH,5\nB1,25C60,tube,6M,pH,5\n", long + "B1,25C60,tube,3M,pH,5\nB1,25C60,tube,6M,pH,5\n",
			"b.csv: the same bytes as a.csv; name each file once"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, err := Read(balm(), Source{Name: "a.csv", Reader: strings.NewReader(c.first)}, Source{Name: "b.csv", Reader: strings.NewReader(c.second)})
			if diff := cmp.Diff(c.want, faultsOf(t, d, err)); diff != "" {
				t.Error(diff)
			}
		})
	}
	d, err := Read(balm(), Source{Name: "a.csv", Reader: strings.NewReader(labelled + "B1,25C60,tube,3M,viscosity,5,1\n")},
		Source{Name: "b.csv", Reader: strings.NewReader(labelled + "B1,25C60,tube,3M,viscosity,6,2\n")})
	if err != nil || len(d.Results) != 2 {
		t.Errorf("replicates in two files: %v", err)
	}
}

func TestFaultsBeyondFiftyAreCounted(t *testing.T) {
	var b strings.Builder
	b.WriteString(long)
	for i := range 120 {
		fmt.Fprintf(&b, "B1,25C60,tube,3M,viscosity,x%d\n", i)
	}
	_, err := read(b.String())
	var f *finding.Faults
	if !errors.As(err, &f) || len(f.List) != 50 || f.More != 70 {
		t.Fatalf("listed %d and %d more", len(f.List), f.More)
	}
	if last := f.List[49]; last.Line != 51 {
		t.Errorf("the last listed is %v", last)
	}
}

// A time-zero mass that stands on a row with a fault is not told to be missing.
func TestNoFaultFollowsFromAnother(t *testing.T) {
	d, err := read(masses +
		"B1,25C60,tube,,0,weight,heavy,U1,\n" +
		"B1,25C60,tube,,3M,weight,149,U1,\n" +
		"B9,25C60,tube,,0,weight,150,U2,\n" +
		"B1,25C60,tube,,3M,weight,149,U2,\n")
	want := `r.csv:2: value: "heavy" is no number; leave the field empty where it was not tested
r.csv:4: batch: no batch "B9"; the study has B1, B2`
	if diff := cmp.Diff(want, faultsOf(t, d, err)); diff != "" {
		t.Error(diff)
	}
}

// failing breaks off after its text.
type failing struct {
	text io.Reader
	err  error
}

func (f failing) Read(b []byte) (int, error) {
	n, err := f.text.Read(b)
	if err == io.EOF {
		err = f.err
	}
	return n, err
}

func TestFileThatCannotBeReadToItsEnd(t *testing.T) {
	for _, err := range []error{io.ErrUnexpectedEOF, errors.New("input/output error")} {
		d, got := Read(balm(), Source{Name: "r.csv", Reader: failing{strings.NewReader(long + "B1,25C60,tube,3M,viscosity,1\n"), err}})
		if diff := cmp.Diff("r.csv: cannot be read: "+err.Error(), faultsOf(t, d, got)); diff != "" {
			t.Error(diff)
		}
	}
}

// endless gives one byte for ever, up to n times.
type endless struct {
	c byte
	n int
}

func (e *endless) Read(b []byte) (int, error) {
	if e.n == 0 {
		return 0, io.EOF
	}
	n := min(len(b), e.n)
	for i := range b[:n] {
		b[i] = e.c
	}
	e.n -= n
	return n, nil
}

// A line or a quoted field of 100 MB is refused without being held in memory.
func TestHugeRecords(t *testing.T) {
	for _, c := range []struct{ name, head, want string }{
		{"line", long + "B1,25C60,tube,3M,viscosity,", "r.csv:2: a row longer than 1 MB; is a quote opened in it that is never closed?"},
		{"header", "", "r.csv:1: a row longer than 1 MB; is a quote opened in it that is never closed?"},
		{"quote", long + "\nB1,25C60,tube,3M,viscosity,\"", "r.csv:3: a row longer than 1 MB; is a quote opened in it that is never closed?"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			d, err := Read(balm(), Source{Name: "r.csv", Reader: io.MultiReader(strings.NewReader(c.head), &endless{'1', 100 << 20})})
			runtime.ReadMemStats(&after)
			if diff := cmp.Diff(c.want, faultsOf(t, d, err)); diff != "" {
				t.Error(diff)
			}
			if used := after.TotalAlloc - before.TotalAlloc; used > 16<<20 {
				t.Errorf("%d MB allocated", used>>20)
			}
		})
	}
}

func TestOtherEncodings(t *testing.T) {
	text := long + "B1,25C60,tube,3M,viscosity,1\n"
	utf16 := []byte{0xff, 0xfe}
	for _, c := range []byte(text) {
		utf16 = append(utf16, c, 0)
	}
	latin := strings.Replace(text, "B1", "B1\xb0", 1)
	for _, c := range []struct {
		name string
		data []byte
		want string
	}{
		{"UTF-16", utf16, "r.csv: text in UTF-16; save the table as CSV in UTF-8"},
		{"Latin 1", []byte(latin + "B1\xb0,25C60,tube,6M,viscosity,1\nB7,25C60,tube,9M,viscosity,1\n"),
			"r.csv:2: not UTF-8; save the table as CSV in UTF-8\nr.csv:4: batch: no batch \"B7\"; the study has B1, B2"},
		{"Latin 1 in quotes", []byte(long + "\"B1\xb0\",25C60,tube,6M,viscosity,1\n"), "r.csv:2: not UTF-8; save the table as CSV in UTF-8"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, err := Read(balm(), Source{Name: "r.csv", Reader: bytes.NewReader(c.data)})
			if diff := cmp.Diff(c.want, faultsOf(t, d, err)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// A fault tells a long field, or a long list of what is known, in part.
func TestFaultsAreShort(t *testing.T) {
	s := balm()
	for i := range 20 {
		s.Batches = append(s.Batches, study.Batch{ID: fmt.Sprintf("lot-%d", i), Made: study.NoDate, Placed: study.NoDate})
	}
	d, err := Read(s, Source{Name: "r.csv", Reader: strings.NewReader(long +
		"unheard-of,25C60,tube,3M,pH,5\n" +
		"B1,25C60,tube,3M,pH," + strings.Repeat("é", 5000) + "\n" +
		"B1,25C60,tube," + strings.Repeat("9", 5000) + "M,pH,5\n" +
		"B1," + strings.Repeat("hot", 5000) + ",tube,3M,pH,5\n")})
	want := `r.csv:2: batch: no batch "unheard-of"; the study has B1, B2, lot-0, lot-1, lot-2, lot-3, lot-4, lot-5, lot-6, lot-7, lot-8, lot-9 and 10 more
r.csv:3: value: "éééééééééééééééééééééééééééééé…" is no number; leave the field empty where it was not tested
r.csv:4: time: "9999999999999999999999999999999999999999999999999999999999999999" is no duration; write 0, 10D, 2W, 3M or 2Y
r.csv:5: condition: no condition "hothothothothothothothothothothothothothothothothothothothot…"; the study has 25C60, 40C75, freeze`
	if diff := cmp.Diff(want, faultsOf(t, d, err)); diff != "" {
		t.Error(diff)
	}
}

// A result given twice is one fault, at time zero too.
func TestDuplicateAtTimeZero(t *testing.T) {
	d, err := read("batch,condition,pack,time,attribute,value,replicate,unit\n" +
		"B1,,tube,0,pH,5,,1\nB1,,tube,0,pH,6,,1\n" +
		"B1,25C60,tube,0,weight,150,,U1\nB1,25C60,tube,0,weight,151,,U1\n")
	want := `r.csv:3: value: a second result for pH of batch B1 in tube, time 0, unit 1; line 2 has the first
r.csv:5: value: a second result for weight of batch B1 in tube at 25C60, time 0, unit U1; line 4 has the first`
	if diff := cmp.Diff(want, faultsOf(t, d, err)); diff != "" {
		t.Error(diff)
	}
}

// A wide file's faults name the attribute's column.
func TestWideFaults(t *testing.T) {
	d, err := read("batch,condition,pack,time,unit,viscosity,look,weight\n" +
		"B1,25C60,tube,3M,1,thick,awful,\nB1,25C60,tube,6M,1,1,0,149\nB1,25C60,tube,6M,1,2,,\n")
	want := `r.csv:2: viscosity: "thick" is no number; leave the field empty where it was not tested
r.csv:2: look: no grade "awful"; look has none, slight, moderate, severe (0 to 3)
r.csv:3: unit: unit 1 has no mass at time zero (weight of batch B1 in tube at 25C60, time 6M, unit 1); add its row with time 0, from before it was stored
r.csv:4: viscosity: a second result for viscosity of batch B1 in tube at 25C60, time 6M, unit 1; line 3 has the first`
	if diff := cmp.Diff(want, faultsOf(t, d, err)); diff != "" {
		t.Error(diff)
	}
}

// A terminal must not take a label for a command, in the one-character form of
// its escape either.
func TestControlCharacterBeyondASCII(t *testing.T) {
	d, err := read("batch,condition,pack,time,attribute,value,comment\nB1,25C60,tube,3M,pH,5,a\u009b31m\n")
	want := `r.csv:2: comment: "a\u009b31m" holds a control character, a line end or another character that is not seen; write it as plain text`
	if diff := cmp.Diff(want, faultsOf(t, d, err)); diff != "" {
		t.Error(diff)
	}
}
