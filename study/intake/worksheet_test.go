package intake

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"shelfspan/study"
	"shelfspan/study/spreadsheet"
)

func worksheet(t interface{ Fatal(...any) }, s *study.Study, rows ...WorksheetRow) string {
	var b bytes.Buffer
	if err := WriteWorksheet(&b, s, ',', rows); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestWorksheet(t *testing.T) {
	months := study.Duration{N: 3, Unit: study.Months}
	for _, c := range []struct {
		name  string
		study *study.Study
		rows  []WorksheetRow
		want  []string // lines
	}{
		{"opened and returned units", balm(), []WorksheetRow{
			{Batch: 0, Pack: 1, Orientation: 1, Condition: 0, Time: months, Attribute: 0, Unit: "MB-26/B1/jar/i/25C60/3M/1/X", Replicate: 2},
			{Batch: 1, Pack: 0, Orientation: 0, Condition: 1, Time: months, Attribute: 3, Unit: "W1"},
		}, []string{
			"batch,pack,orientation,condition,time,attribute,unit_of_measure,unit,replicate,value,tare,tested,analyst,method,comment",
			"B1,jar,inverted,25C60,3M,viscosity,mPa.s,MB-26/B1/jar/i/25C60/3M/1/X,2,,,,,,",
			"B2,tube,upright,40C75,3M,weight,g,W1,,,,,,,",
		}},
		// The jar has a tare in the study file.
		{"time zero", balm(), []WorksheetRow{
			{Batch: 0, Pack: 1, Condition: -1, Attribute: 1, Unit: "1", Replicate: 1},
			{Batch: 0, Pack: 1, Condition: -1, Attribute: 0, Unit: "1", Replicate: 1},
			{Batch: 0, Pack: 1, Orientation: 1, Condition: 0, Attribute: 3, Unit: "W1"},
		}, []string{
			"batch,pack,orientation,condition,time,attribute,unit_of_measure,unit,replicate,value,tested,analyst,method,comment",
			"B1,jar,,,0,pH,,1,,,,,,",
			"B1,jar,,,0,viscosity,mPa.s,1,1,,,,,",
			"B1,jar,inverted,25C60,0,weight,g,W1,,,,,,",
		}},
		{"one pack without a name", loose(), []WorksheetRow{
			{Condition: 0, Time: months, Attribute: 5, Unit: "=1"},
		}, []string{
			"batch,condition,time,attribute,unit_of_measure,unit,replicate,value,tested,analyst,method,comment",
			"'-B,25C60,3M,leak,,'=1,,,,,,",
		}},
		// Ids that a spreadsheet would rewrite.
		{"ids like numbers and days", lots(), []WorksheetRow{
			{Batch: 0, Condition: 0, Time: months, Attribute: 5, Unit: "B/007/1-2"},
			{Batch: 1, Condition: 0, Time: months, Attribute: 5, Unit: "B/1E5/1-2"},
		}, []string{
			"batch,pack,condition,time,attribute,unit_of_measure,unit,replicate,value,tested,analyst,method,comment",
			"'007,'1-2,'25.60,3M,leak,,B/007/1-2,,,,,,",
			"'1E5,'1-2,'25.60,3M,leak,,B/1E5/1-2,,,,,,",
		}},
		{"no rows", loose(), nil, []string{
			"batch,condition,time,attribute,unit_of_measure,unit,replicate,value,tested,analyst,method,comment",
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			want := "\ufeff" + strings.Join(c.want, "\r\n") + "\r\n"
			if diff := cmp.Diff(want, worksheet(t, c.study, c.rows...)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// loose is the study with one unnamed pack and a batch whose id a spreadsheet
// would take for a formula.
func loose() *study.Study {
	s := balm()
	s.Packs = []study.Pack{{NetFill: math.NaN(), WaterPercent: math.NaN(), Tare: math.NaN(), Orientations: []study.Orientation{study.Upright}}}
	s.Batches = []study.Batch{{ID: "-B", Made: study.NoDate, Placed: study.NoDate}}
	return s
}

// lots is the study with ids that a spreadsheet would take for numbers and days.
func lots() *study.Study {
	s := loose()
	s.Packs[0].ID, s.Conditions[0].ID = "1-2", "25.60"
	s.Batches = append(s.Batches, s.Batches[0])
	s.Batches[0].ID, s.Batches[1].ID = "007", "1E5"
	return s
}

// testedOn is the day of every test in a worksheet that fill filled in.
const testedOn = "2027-01-14"

// filled is a worksheet with values in it, and what the reader is to find.
type filled struct {
	study *study.Study
	grid  [][]string // with the header
	want  []string   // batch, pack, orientation, condition, time, attribute, unit, replicate and value of each result
}

// fill draws a worksheet and fills it in, some rows left empty.
func fill(t *rapid.T) filled {
	s := rapid.SampledFrom([]func() *study.Study{balm, loose, lots}).Draw(t, "study")()
	var rows []WorksheetRow
	for batch := range s.Batches {
		for p := range s.Packs {
			for o := range s.Packs[p].Orientations {
				for c := range s.Conditions[:2] {
					for _, at := range s.Conditions[c].Pulls {
						if !rapid.Bool().Draw(t, "pull") && !at.IsZero() {
							continue
						}
						for a := range s.Attributes {
							if !s.Attributes[a].At(c, p) {
								continue
							}
							if s.Attributes[a].Kind == study.Weighing {
								unit := fmt.Sprintf("%s-%d%d", spreadsheetProne[c], o, p)
								rows = append(rows, WorksheetRow{batch, p, o, c, at, a, unit, 1})
							} else if !at.IsZero() {
								rows = append(rows, WorksheetRow{batch, p, o, c, at, a, "@1", rapid.IntRange(1, 3).Draw(t, "replicate")})
							}
						}
					}
				}
			}
			for a := range s.Attributes {
				if s.Attributes[a].Kind != study.Weighing {
					rows = append(rows, WorksheetRow{batch, p, 0, -1, study.Duration{}, a, "", 1})
				}
			}
		}
	}
	grid, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(worksheet(t, s, rows...), "\ufeff"))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	f := filled{study: s, grid: grid}
	at := make(map[string]int)
	for i, name := range grid[0] {
		at[name] = i
	}
	for i, w := range rows {
		a := &s.Attributes[w.Attribute]
		if !(a.Kind == study.Weighing) && rapid.IntRange(0, 3).Draw(t, "not tested") == 0 {
			continue
		}
		value, read := "", 0.0
		switch a.Kind {
		case study.Grade:
			g := rapid.IntRange(0, len(a.Grades)-1).Draw(t, "grade")
			value, read = a.Grades[g], float64(g)
		case study.PassFail:
			value = rapid.SampledFrom([]string{"pass", "fail"}).Draw(t, "pass")
			if value == "fail" {
				read = 1
			}
		default:
			n := rapid.IntRange(40_000, 90_000).Draw(t, "hundredths")
			if a.Kind == study.Weighing {
				n = 15_000 - int(w.Time.N) // lighter at every pull
			}
			value, read = fmt.Sprintf("%d.%02d", n/100, n%100), float64(n)/100
			// The jar's tare is known, the tube's is not.
			if k, ok := at["tare"]; ok && a.Kind == study.Weighing && w.Pack == 0 {
				grid[i+1][k] = "21.5"
			}
		}
		grid[i+1][at["value"]] = value
		grid[i+1][at["tested"]] = testedOn
		o, c := w.Orientation, w.Condition
		if w.Time.IsZero() && a.Kind != study.Weighing {
			o, c = 0, -1
		}
		replicate := ""
		if a.Replicates > 1 {
			replicate = strconv.Itoa(w.Replicate)
		}
		f.want = append(f.want, fmt.Sprint(w.Batch, w.Pack, o, c, w.Time, w.Attribute, w.Unit, replicate, read))
	}
	slices.Sort(f.want)
	return f
}

// spreadsheetProne are beginnings of labels by condition that begin formulas.
var spreadsheetProne = []string{"=U", "+V"}

// check reads a table and holds it against the values that were filled in.
func (f *filled) check(t *rapid.T, text string) {
	d, counts, err := ReadAll(f.study, Options{Repeats: true}, Source{Name: "w.csv", Reader: strings.NewReader(text)})
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	var got []string
	for _, x := range d.Results {
		got = append(got, fmt.Sprint(x.Batch, x.Pack, x.Orientation, x.Condition, x.Planned, x.Attribute, d.Text(x.Unit), d.Text(x.Replicate), x.Value))
		if a := f.study.Attributes[x.Attribute]; a.Kind == study.Weighing && x.Pack == 0 && x.Tare != 21.5 {
			t.Fatalf("a tare of %v", x.Tare)
		}
	}
	for _, x := range d.Results {
		if x.Tested.String() != testedOn {
			t.Fatalf("tested on %v", x.Tested)
		}
	}
	slices.Sort(got)
	if diff := cmp.Diff(f.want, got); diff != "" {
		t.Fatalf("%s\n%s", diff, text)
	}
	if counts[0].Results != len(got) || counts[0].Repeats != 0 || len(d.Warnings) > 0 && d.Warnings[0].Code != "no-values" {
		t.Fatalf("%+v, %v", counts, d.Warnings)
	}
}

// A worksheet that is filled in comes back as it was filled in, whatever a
// spreadsheet makes of its form.
func TestWorksheetComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := fill(t)
		sep := rapid.SampledFrom([]rune{',', ';', '\t'}).Draw(t, "sep")
		comma := sep != ',' && rapid.Bool().Draw(t, "decimal comma")
		quoted := rapid.Bool().Draw(t, "quote all")
		end := rapid.SampledFrom([]string{"\r\n", "\n"}).Draw(t, "line end")
		columns := rapid.IntRange(0, 2).Draw(t, "empty columns")
		empty := rapid.IntRange(0, 3).Draw(t, "empty rows")
		day := rapid.SampledFrom([]string{testedOn, "14.1.2027", "14/01/2027", "1/14/2027", "2027/01/14"}).Draw(t, "day")
		value := slices.Index(f.grid[0], "value")
		tare := slices.Index(f.grid[0], "tare")
		var b strings.Builder
		if rapid.Bool().Draw(t, "mark") {
			b.WriteString(byteOrderMark)
		}
		write := func(record []string) {
			for i, cell := range record {
				if i > 0 {
					b.WriteRune(sep)
				}
				if comma && (i == value || i == tare) {
					cell = strings.ReplaceAll(cell, ".", ",")
				}
				if cell == testedOn {
					cell = day
				}
				if quoted || strings.ContainsRune(cell, sep) {
					cell = `"` + cell + `"`
				}
				b.WriteString(cell)
			}
			b.WriteString(end)
		}
		for _, record := range f.grid {
			write(append(slices.Clone(record), make([]string, columns)...))
		}
		for range empty {
			write(make([]string, len(f.grid[0])+columns))
		}
		f.check(t, b.String())
	})
}

// A worksheet with semicolons is read back with decimal commas.
func TestWorksheetWithSemicolons(t *testing.T) {
	var b bytes.Buffer
	rows := []WorksheetRow{{Batch: 1, Pack: 0, Condition: 0, Time: study.Duration{N: 3, Unit: study.Months}, Attribute: 0, Unit: "U1", Replicate: 2}}
	if err := WriteWorksheet(&b, balm(), ';', rows); err != nil {
		t.Fatal(err)
	}
	const empty = "B2;tube;upright;25C60;3M;viscosity;mPa.s;U1;2;;;;;\r\n"
	head, row, _ := strings.Cut(strings.TrimPrefix(b.String(), byteOrderMark), "\r\n")
	if row != empty || strings.ContainsRune(head, ',') {
		t.Fatalf("%q below %q", row, head)
	}
	d, err := Read(balm(), Source{Name: "w.csv", Reader: strings.NewReader(strings.Replace(b.String(), "U1;2;;", "U1;2;25000,5;", 1))})
	if err != nil || len(d.Results) != 1 || d.Results[0].Value != 25000.5 {
		t.Fatal(d, err)
	}
}

// No cell of a worksheet begins a formula.
func TestWorksheetHoldsNoFormula(t *testing.T) {
	s := loose()
	s.Attributes[0].Unit, s.Attributes[0].ID, s.Conditions[0].ID = "-", "-v", "-25"
	text := worksheet(t, s, WorksheetRow{Time: study.Duration{N: 3, Unit: study.Months}, Unit: "=cmd()", Replicate: 1})
	line := strings.Split(text, "\r\n")[1]
	if want := "'-B,'-25,3M,'-v,'-,'=cmd(),1,,,,,"; line != want {
		t.Fatalf("%s, want %s", line, want)
	}
	for _, cell := range strings.Split(line, ",") {
		if spreadsheet.Harmless(spreadsheet.Plain(cell)) != cell {
			t.Errorf("%q", cell)
		}
	}
	d, err := Read(s, Source{Name: "w.csv", Reader: strings.NewReader(strings.Replace(text, "'=cmd(),1,,", "'=cmd(),1,5,", 1))})
	if err != nil || len(d.Results) != 1 || d.Text(d.Results[0].Unit) != "=cmd()" || d.Results[0].Condition != 0 {
		t.Fatal(d, err)
	}
}
