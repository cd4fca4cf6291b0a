package intake

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/study"
)

// cells is one wide row: its columns by name.
type cells map[string]string

// tableOf draws a table that has no faults: every row labelled, each key once.
func tableOf(t *rapid.T) (rows []cells, attributes []string) {
	s := balm()
	attributes = []string{"viscosity", "pH", "weight", "look", "leak"}
	draw := func(name, id string) string {
		switch id {
		case "weight":
			return fmt.Sprintf("%.3f", rapid.Float64Range(31, 200).Draw(t, name))
		case "look":
			return rapid.SampledFrom([]string{"none", "1", "MODERATE"}).Draw(t, name)
		case "leak":
			return rapid.SampledFrom([]string{"pass", "Fail"}).Draw(t, name)
		}
		return rapid.SampledFrom([]string{"", "", "<"}).Draw(t, name) + fmt.Sprint(rapid.Float64Range(-1e6, 1e6).Draw(t, name))
	}
	for batch := range s.Batches {
		for c := range s.Conditions[:2] {
			for p := range s.Packs {
				for _, o := range s.Packs[p].Orientations {
					if !rapid.Bool().Draw(t, "arm") {
						continue
					}
					weighs := rapid.Bool().Draw(t, "weighs")
					for _, at := range s.Conditions[c].Pulls {
						units := rapid.IntRange(1, 2).Draw(t, "units")
						for unit := 1; unit <= units; unit++ {
							w := cells{"batch": s.Batches[batch].ID, "condition": s.Conditions[c].ID, "pack": s.Packs[p].ID,
								"orientation": string(o), "time": at.String(), "unit": fmt.Sprintf("%d%d%c%d", c, p, o[0], unit), "replicate": "1"}
							if rapid.Bool().Draw(t, "dated") {
								day := at.AddTo(s.TimeZero(batch), 0) + study.Date(rapid.IntRange(0, 20).Draw(t, "late"))
								w["pulled"], w["tested"] = day.String(), (day + 1).String()
							}
							for _, id := range attributes {
								if id == "weight" && (weighs && at.IsZero() || weighs && unit == 1) || id != "weight" && rapid.Bool().Draw(t, "has") {
									w[id] = draw("value", id)
								}
							}
							// Unit 2 is weighed only where its time-zero mass is known.
							if id := "weight"; unit == 2 && !at.IsZero() {
								delete(w, id)
							}
							rows = append(rows, w)
						}
					}
				}
			}
		}
	}
	return rows, attributes
}

var keyColumns = []string{"batch", "condition", "pack", "orientation", "time", "pulled", "tested", "unit", "replicate"}

// lengthen turns wide rows into long ones.
func lengthen(rows []cells, attributes []string) (out []cells) {
	for _, w := range rows {
		for _, id := range attributes {
			if w[id] == "" {
				continue
			}
			l := cells{"attribute": id, "value": w[id]}
			for _, k := range keyColumns {
				l[k] = w[k]
			}
			out = append(out, l)
		}
	}
	return out
}

// write writes rows in the columns' order; with a decimal comma where comma is
// true.
func write(rows []cells, columns []string, sep rune, crlf, comma bool) string {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.Comma, w.UseCRLF = sep, crlf
	w.Write(columns)
	for _, r := range rows {
		record := make([]string, len(columns))
		for i, c := range columns {
			record[i] = r[c]
			if comma && c != "attribute" {
				record[i] = strings.ReplaceAll(record[i], ".", ",")
			}
		}
		w.Write(record)
	}
	w.Flush()
	return b.String()
}

// facts gives what a dataset says, apart from where it was read.
func facts(d *study.Dataset) string {
	var lines []string
	for _, r := range d.Results {
		unit, replicate := d.Text(r.Unit), d.Text(r.Replicate)
		r.Line, r.Unit, r.Replicate = 0, 0, 0
		lines = append(lines, fmt.Sprintf("%+v %s/%s", r, unit, replicate))
	}
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}

// The order of rows and columns, the separator, the decimal sign, the line
// ends, a byte-order mark and the form do not change what a table says.
func TestFormDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows, attributes := tableOf(t)
		longColumns := append(slices.Clone(keyColumns), "attribute", "value")
		longRows := lengthen(rows, attributes)
		if len(longRows) == 0 {
			return
		}
		d, err := read(write(longRows, longColumns, ',', false, false))
		if err != nil {
			t.Fatal(err)
		}
		want := facts(d)

		columns := append(slices.Clone(keyColumns), attributes...)
		if rapid.Bool().Draw(t, "long") {
			rows, columns = longRows, longColumns
		}
		rows = rapid.Permutation(rows).Draw(t, "rows")
		columns = rapid.Permutation(columns).Draw(t, "columns")
		sep := rapid.SampledFrom([]rune{',', ';', '\t'}).Draw(t, "sep")
		text := write(rows, columns, sep, rapid.Bool().Draw(t, "crlf"), sep != ',' && rapid.Bool().Draw(t, "comma"))
		if rapid.Bool().Draw(t, "bom") {
			text = "\ufeff" + text
		}
		if rapid.Bool().Draw(t, "loud header") {
			head, body, _ := strings.Cut(text, "\n")
			text = strings.ToUpper(head) + "\n" + body
		}
		d, err = read(text)
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		if got := facts(d); got != want {
			t.Fatalf("got\n%s\nwant\n%s", got, want)
		}
	})
}

// A table cut in two files anywhere between rows says what it says in one.
func TestFilesDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows, attributes := tableOf(t)
		columns := append(slices.Clone(keyColumns), "attribute", "value")
		rows = lengthen(rows, attributes)
		if len(rows) < 2 {
			return
		}
		d, err := read(write(rows, columns, ',', false, false))
		if err != nil {
			t.Fatal(err)
		}
		cut := rapid.IntRange(1, len(rows)-1).Draw(t, "cut")
		two, err := Read(balm(), Source{Name: "a.csv", Reader: strings.NewReader(write(rows[:cut], columns, ',', false, false))},
			Source{Name: "b.csv", Reader: strings.NewReader(write(rows[cut:], columns, ';', true, true))})
		if err != nil {
			t.Fatal(err)
		}
		for i := range two.Results {
			two.Results[i].Input = 0
		}
		if got, want := facts(two), facts(d); got != want {
			t.Fatalf("got\n%s\nwant\n%s", got, want)
		}
	})
}

// Spoiling one field of a good table refuses all of it, and names the line.
func TestOneSpoiltFieldRefusesTheFile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows, attributes := tableOf(t)
		columns := append(slices.Clone(keyColumns), "attribute", "value")
		rows = lengthen(rows, attributes)
		if len(rows) == 0 {
			return
		}
		i := rapid.IntRange(0, len(rows)-1).Draw(t, "row")
		column := rapid.SampledFrom([]string{"batch", "condition", "pack", "orientation", "time", "pulled", "tested", "attribute", "value"}).Draw(t, "column")
		rows[i] = maps.Clone(rows[i])
		rows[i][column] = "wrong!"
		d, err := read(write(rows, columns, ',', false, false))
		if err == nil || d != nil {
			t.Fatal("taken in")
		}
		if want := fmt.Sprintf("r.csv:%d: %s: ", i+2, column); !strings.HasPrefix(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Fatalf("%q, want one fault that begins with %q", err, want)
		}
	})
}
