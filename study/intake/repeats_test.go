package intake

import (
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	diff "github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"shelfspan/study"
	"shelfspan/study/finding"
)

// block is rows that stay together and in order: one result, or all results of a
// pull that have neither unit nor replicate. Rows are long.
type block []cells

// arms is a made-up study's results in blocks, with the days its ledger knows.
type arms struct {
	blocks []block
	days   map[string]study.Date // by place and time
}

// place is what the days go by.
func placeOf(batch, condition, pack, orientation int, at study.Duration) string {
	return fmt.Sprint(batch, condition, pack, orientation, at)
}

func (a *arms) options() Options {
	o := named
	o.PulledOn = func(batch, condition, pack, orientation int, at study.Duration) study.Date {
		if day, ok := a.days[placeOf(batch, condition, pack, orientation, at)]; ok {
			return day
		}
		return study.NoDate
	}
	return o
}

// drawArms draws results of every kind: labelled or not, time zero under one or
// several conditions or none, weighings whose time zero says its arm or does not,
// with the day of the pull or without.
func drawArms(t *rapid.T) *arms {
	s := balm()
	a := &arms{days: make(map[string]study.Date)}
	chance := func(name string) bool { return rapid.Bool().Draw(t, name) }
	for b := range s.Batches {
		for p := range s.Packs {
			for k := range s.Attributes {
				if chance("time zero") && s.Attributes[k].Kind != study.Weighing {
					a.zeros(t, s, b, p, k)
				}
			}
			for o := range s.Packs[p].Orientations {
				for c := range s.Conditions[:2] {
					if !chance("arm") {
						continue
					}
					a.stored(t, s, b, p, o, c)
					if chance("weighed") {
						a.weighed(t, s, b, p, o, c)
					}
				}
			}
		}
	}
	return a
}

// base is a row of an arm.
func base(s *study.Study, b, p int) cells {
	return cells{"batch": s.Batches[b].ID, "pack": s.Packs[p].ID}
}

// with is a row with more in it.
func (c cells) with(more ...string) cells {
	out := maps.Clone(c)
	for i := 0; i < len(more); i += 2 {
		out[more[i]] = more[i+1]
	}
	return out
}

// drawValue draws a value of an attribute.
func drawValue(t *rapid.T, a *study.Attribute) string {
	switch a.Kind {
	case study.Grade:
		return rapid.SampledFrom([]string{"none", "slight", "2", "SEVERE"}).Draw(t, "grade")
	case study.PassFail:
		return rapid.SampledFrom([]string{"pass", "fail"}).Draw(t, "pass")
	case study.Weighing:
		return fmt.Sprintf("%d.%02d", rapid.IntRange(145, 148).Draw(t, "grams"), rapid.IntRange(10, 99).Draw(t, "hundredths"))
	}
	return rapid.SampledFrom([]string{"", "", "", "<", ">"}).Draw(t, "censor") +
		fmt.Sprintf("%d.%02d", rapid.IntRange(1, 99).Draw(t, "whole"), rapid.IntRange(10, 99).Draw(t, "hundredths"))
}

// measured gives the results of an attribute on the samples that a row stands
// for: labelled ones in a block each, or unlabelled ones in one.
func measured(t *rapid.T, row cells, a *study.Attribute) (out []block) {
	row = row.with("attribute", a.ID)
	n := rapid.IntRange(1, 3).Draw(t, "results")
	if rapid.Bool().Draw(t, "labelled") {
		for i := range n {
			unit, replicate := fmt.Sprint("u", i/2+1), fmt.Sprint(i%2+1)
			out = append(out, block{row.with("unit", unit, "replicate", replicate, "value", drawValue(t, a))})
		}
		return out
	}
	all := block{}
	for range n {
		all = append(all, row.with("value", drawValue(t, a)))
	}
	return append(out, all)
}

// remark draws what a row says beside its value.
func remark(t *rapid.T) []string {
	draw := func(column string, texts ...string) string { return rapid.SampledFrom(texts).Draw(t, column) }
	return []string{"analyst", draw("analyst", "", "R Vale", "B Ott"), "method", draw("method", "", "SOP-7"), "comment", draw("comment", "", "stirred", "=twice")}
}

// zeros draws one attribute at time zero of a batch and pack, under one or
// several conditions, always the same.
func (a *arms) zeros(t *rapid.T, s *study.Study, b, p, k int) {
	row := base(s, b, p).with("time", "0").with(remark(t)...)
	if rapid.Bool().Draw(t, "dated") {
		row = row.with("pulled", s.TimeZero(b).String(), "tested", (s.TimeZero(b) + 1).String())
	}
	blocks := measured(t, row, &s.Attributes[k])
	for _, condition := range rapid.SampledFrom([][]string{{""}, {"25C60"}, {"25C60", "40C75"}, {"", "40C75"}, {"25C60", "40C75", "freeze"}}).Draw(t, "under") {
		for _, own := range blocks {
			copied := block{}
			for _, row := range own {
				copied = append(copied, row.with("condition", condition))
			}
			a.blocks = append(a.blocks, copied)
		}
	}
}

// dated draws the day of a pull: whether the table says it, whether the ledger
// knows it, and when it was.
func (a *arms) dated(t *rapid.T, row cells, s *study.Study, b, p, o, c int, at study.Duration) cells {
	day := at.AddTo(s.TimeZero(b), s.Conditions[c].CycleHours) + study.Date(rapid.IntRange(-3, 20).Draw(t, "late"))
	day = max(day, s.TimeZero(b))
	if rapid.Bool().Draw(t, "recorded") {
		a.days[placeOf(b, c, p, o, at)] = day
	}
	if rapid.Bool().Draw(t, "dated") {
		row = row.with("pulled", day.String(), "tested", (day + study.Date(rapid.IntRange(0, 30).Draw(t, "wait"))).String())
	}
	return row
}

// stored draws the pulls of an arm: some of those planned, and one that is not.
func (a *arms) stored(t *rapid.T, s *study.Study, b, p, o, c int) {
	arm := base(s, b, p).with("condition", s.Conditions[c].ID, "orientation", string(s.Packs[p].Orientations[o]))
	times := append(slices.Clone(s.Conditions[c].Pulls[1:]), study.Duration{N: 4, Unit: study.Months})
	for _, at := range times {
		if rapid.Bool().Draw(t, "not made") {
			continue
		}
		row := a.dated(t, arm.with("time", at.String()).with(remark(t)...), s, b, p, o, c, at)
		for k := range s.Attributes {
			if s.Attributes[k].Kind != study.Weighing && rapid.Bool().Draw(t, "measured") {
				a.blocks = append(a.blocks, measured(t, row, &s.Attributes[k])...)
			}
		}
	}
}

// weighed draws a unit of an arm that is weighed at time zero and later.
func (a *arms) weighed(t *rapid.T, s *study.Study, b, p, o, c int) {
	orientation := string(s.Packs[p].Orientations[o])
	row := base(s, b, p).with("attribute", "weight", "unit", fmt.Sprintf("w%d%d%d%d", b, p, o, c))
	tare := ""
	if rapid.Bool().Draw(t, "tared") {
		tare = "21.50"
	}
	zero := row.with("time", "0", "tare", tare)
	places := [][]string{{s.Conditions[c].ID, orientation}, {s.Conditions[c].ID, ""}, {"", ""}}
	if p == 0 {
		places[1][1] = orientation // stored in one way, which need not be said
	}
	for n := range rapid.IntRange(1, 2).Draw(t, "readings") {
		value := fmt.Sprintf("150.%02d", 10+n)
		for _, place := range rapid.SampledFrom([][][]string{places[:1], places[1:2], places[2:], {places[0], places[2]}}).Draw(t, "zero says") {
			a.blocks = append(a.blocks, block{zero.with("condition", place[0], "orientation", place[1], "replicate", fmt.Sprint(n+1), "value", value)})
		}
	}
	row = row.with("condition", s.Conditions[c].ID, "orientation", orientation)
	for _, at := range s.Conditions[c].Pulls[1:] {
		if rapid.Bool().Draw(t, "weighed then") {
			later := a.dated(t, row.with("time", at.String()), s, b, p, o, c, at)
			a.blocks = append(a.blocks, block{later.with("value", drawValue(t, &s.Attributes[3]))})
		}
	}
}

var sayColumns = []string{"pulled", "tested", "analyst", "method", "comment", "tare"}

// tableIn writes blocks as a table in a form that is drawn, and gives its number
// of values.
func tableIn(t *rapid.T, blocks []block) (text string, values int) {
	s := balm()
	var rows []cells
	for _, b := range blocks {
		rows = append(rows, b...)
	}
	columns := append([]string{"batch", "condition", "pack", "orientation", "time", "unit", "replicate"}, sayColumns...)
	if rapid.Bool().Draw(t, "wide") {
		for i, r := range rows {
			rows[i] = r.with(r["attribute"], r["value"])
		}
		for _, a := range s.Attributes {
			columns = append(columns, a.ID)
		}
	} else {
		columns = append(columns, "attribute", "value")
	}
	sep := rapid.SampledFrom([]rune{',', ';', '\t'}).Draw(t, "sep")
	return write(rows, columns, sep, rapid.Bool().Draw(t, "crlf"), sep != ',' && rapid.Bool().Draw(t, "comma")), len(rows)
}

// said gives what a dataset says of each result, wherever it was read.
func said(d *study.Dataset, results []study.Result) []string {
	lines := make([]string, 0, len(results))
	for _, x := range results {
		lines = append(lines, fmt.Sprintf("b%d c%d p%d o%d %v off %v a%d %s/%s: %v (%d) elapsed %v in window %v pulled %v tested %v tare %v by %q %q %q",
			x.Batch, x.Condition, x.Pack, x.Orientation, x.Planned, x.OffPlan, x.Attribute, d.Text(x.Unit), d.Text(x.Replicate),
			x.Value, x.Censor, x.Elapsed, x.InWindow, x.Pulled, x.Tested, x.Tare, d.Text(x.Analyst), d.Text(x.Method), d.Text(x.Comment)))
	}
	slices.Sort(lines)
	return lines
}

var firstOf = regexp.MustCompile(`[,;(]? ?\(?first [^)]*\)?`)

// oddities gives the warnings, but for where the first of each was found and for
// repeated time zeros, which another table may have.
func oddities(d *study.Dataset) (out []string) {
	for _, w := range d.Warnings {
		if w.Code != "repeated-time-zero" {
			out = append(out, w.Code+" "+firstOf.ReplaceAllString(w.String(), ""))
		}
	}
	slices.Sort(out)
	return out
}

// A table that has grown says, read after what it was, what it says alone: nothing
// is lost, doubled or told twice, whatever the form of either, and whichever of
// them has the days, the tests, the analysts and the tares. A third that says all
// again changes nothing.
func TestTablesThatGrow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := drawArms(t)
		if len(a.blocks) == 0 {
			return
		}
		all := rapid.Permutation(a.blocks).Draw(t, "all")
		whole, total := tableIn(t, all)
		alone, counts, err := ReadAll(balm(), a.options(), source("whole.csv", whole))
		if err != nil {
			t.Fatalf("%v\n%s", err, whole)
		}
		if c := counts[0]; c.Results != len(alone.Results) || c.Results+c.Repeats != total {
			t.Fatalf("%+v of %d values, %d kept\n%s", c, total, len(alone.Results), whole)
		}

		// What the one table leaves out, the other has.
		var early, late []string
		for _, column := range sayColumns {
			switch rapid.IntRange(0, 2).Draw(t, column) {
			case 1:
				early = append(early, column)
			case 2:
				late = append(late, column)
			}
		}
		without := func(b block, columns []string) block {
			b = slices.Clone(b)
			for i := range b {
				b[i] = maps.Clone(b[i])
				for _, c := range columns {
					b[i][c] = ""
				}
			}
			return b
		}
		n := rapid.IntRange(0, len(all)).Draw(t, "taken in first")
		var first, grown []block
		for i, b := range all {
			if i < n {
				first = append(first, without(b, early))
				b = without(b, late)
			}
			grown = append(grown, b)
		}
		first = rapid.Permutation(first).Draw(t, "first")
		grown = rapid.Permutation(grown).Draw(t, "grown")
		var sources []Source
		var values []int
		for i, blocks := range [][]block{first, grown, all} {
			text, n := tableIn(t, blocks)
			if n > 0 {
				sources = append(sources, source(fmt.Sprintf("t%d.csv", i), text+strings.Repeat("\n", i)))
				values = append(values, n)
			}
		}
		d, counts, err := ReadAll(balm(), a.options(), sources...)
		if err != nil {
			t.Fatal(err)
		}
		if x := diff.Diff(said(alone, alone.Results), said(d, d.Results)); x != "" {
			t.Fatal(x)
		}
		if x := diff.Diff(oddities(alone), oddities(d)); x != "" {
			t.Fatal(x)
		}
		kept := 0
		for i, c := range counts {
			kept += c.Results
			if c.Results+c.Repeats != values[i] || c.Superseded != 0 {
				t.Fatalf("table %d of %d values: %+v", i, values[i], c)
			}
		}
		if kept != len(d.Results) || counts[len(counts)-1].Results != 0 {
			t.Fatalf("%d results of %+v", len(d.Results), counts)
		}
	})
}

const datedHead = "pulled," + labelledHead

// The days that tables say of one pull.
func TestDaysOfRepeats(t *testing.T) {
	ledger := study.NewDate(2025, 4, 16)
	for name, c := range map[string]struct {
		tables []string
		want   string // the day of each result, or the faults
	}{
		"in the later table": {[]string{
			labelledHead + "B1,25C60,tube,3M,viscosity,5,1\n",
			datedHead + "2025-04-14,B1,25C60,tube,3M,viscosity,5,1\n",
		}, "2025-04-14"},
		"in the earlier table": {[]string{
			datedHead + "2025-04-14,B1,25C60,tube,3M,viscosity,5,1\n",
			labelledHead + "B1,25C60,tube,3M,viscosity,5,1\n",
		}, "2025-04-14"},
		"in none": {[]string{
			labelledHead + "B1,25C60,tube,3M,viscosity,5,1\n",
			labelledHead + "B1,25C60,tube,3M,viscosity,5.0,1\n",
		}, "2025-04-16"},
		"by its day alone": {[]string{
			labelledHead + "B1,25C60,tube,3M,viscosity,5,1\n",
			datedHead + "2025-04-14,B1,25C60,tube,,viscosity,5,1\n",
		}, "2025-04-14"},
		"of a time that is not planned": {[]string{
			labelledHead + "B1,25C60,tube,4M,viscosity,5,1\n",
			datedHead + "2025-05-14,B1,25C60,tube,4M,viscosity,5,1\n",
		}, "2025-05-14"},
		"two, by way of a third table": {[]string{
			labelledHead + "B1,25C60,tube,3M,viscosity,5,1\n",
			datedHead + "2025-04-14,B1,25C60,tube,3M,viscosity,5,1\n",
			datedHead + "2025-04-15,B1,25C60,tube,3M,viscosity,5,1\n",
		}, "c.csv:2: pulled: viscosity of batch B1 in tube at 25C60, time 3M, unit 1 was pulled on 2025-04-14 (line 2 of b.csv), and here on 2025-04-15; give the same day, or tell the units apart"},
		"two in one table": {[]string{
			datedHead + "2025-04-14,B1,25C60,tube,3M,viscosity,5,1\n2025-04-15,B1,25C60,tube,3M,viscosity,5,1\n",
		}, "a.csv:3: pulled: viscosity of batch B1 in tube at 25C60, time 3M, unit 1 was pulled on 2025-04-14 (line 2), and here on 2025-04-15; give the same day, or tell the units apart"},
		"two in one table, unlabelled": {[]string{
			datedHead + "2025-04-14,B1,25C60,tube,3M,viscosity,5,\n2025-04-15,B1,25C60,tube,3M,viscosity,6,\n,B1,25C60,tube,3M,viscosity,7,\n",
		}, "a.csv:3: pulled: viscosity of batch B1 in tube at 25C60, time 3M, replicate 2 was pulled on 2025-04-14 (line 2), and here on 2025-04-15; give the same day, or tell the units apart"},
		"two in two tables, unlabelled": {[]string{
			datedHead + "2025-04-14,B1,25C60,tube,3M,viscosity,5,\n",
			datedHead + "2025-04-15,B1,25C60,tube,3M,viscosity,5,\n",
		}, "b.csv:2: pulled: viscosity of batch B1 in tube at 25C60, time 3M was pulled on 2025-04-14 (line 2 of a.csv), and here on 2025-04-15; give the same day, or tell the units apart"},
		"two for the first of two unlabelled, each in a later table": {[]string{
			labelledHead + "B1,25C60,tube,3M,viscosity,5,\nB1,25C60,tube,3M,viscosity,6,\n",
			datedHead + "2025-04-14,B1,25C60,tube,3M,viscosity,5,\n2025-04-15,B1,25C60,tube,3M,viscosity,6,\n",
		}, "b.csv:3: pulled: viscosity of batch B1 in tube at 25C60, time 3M was pulled on 2025-04-14 (line 2), and here on 2025-04-15; give the same day, or tell the units apart"},
		"two units": {[]string{
			datedHead + "2025-04-14,B1,25C60,tube,3M,viscosity,5,1\n2025-04-15,B1,25C60,tube,3M,viscosity,5,2\n",
		}, "2025-04-14 2025-04-15"},
	} {
		t.Run(name, func(t *testing.T) {
			o := named
			o.PulledOn = func(_, _, _, _ int, at study.Duration) study.Date {
				if at.N == 3 {
					return ledger
				}
				return study.NoDate
			}
			var sources []Source
			for i, text := range c.tables {
				sources = append(sources, source(string("abc"[i])+".csv", text))
			}
			d, _, err := ReadAll(balm(), o, sources...)
			if strings.Contains(c.want, ".csv") {
				if x := diff.Diff(c.want, faultsOf(t, d, err)); x != "" {
					t.Error(x)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			var days []string
			for _, x := range d.Results {
				days = append(days, x.Pulled.String())
				// Time zero is 13 January; 2025-04-14 is 91 days later.
				if want := float64(x.Pulled-study.NewDate(2025, 1, 13)) / 30.4375; math.Abs(x.Elapsed-want) > 1e-12 {
					t.Errorf("elapsed %v of %v", x.Elapsed, x.Pulled)
				}
			}
			if got := strings.Join(days, " "); got != c.want || len(d.Warnings) > 1 || len(d.Warnings) == 1 && d.Warnings[0].Code != "off-plan" {
				t.Errorf("%s, want %s; %v", got, c.want, d.Warnings)
			}
		})
	}
}

// A later table is held against the first wherever the same key stands, and
// against itself.
func TestRepeatsThatAreNone(t *testing.T) {
	zero := labelledHead + "B1,25C60,tube,0,assay,99,1\n"
	mass := labelledHead + "B1,,tube,0,weight,150,w\n"
	for name, c := range map[string]struct{ first, second, want string }{
		"twice in the later table": {
			labelledHead + "B1,25C60,tube,3M,viscosity,5,1\n",
			labelledHead + "B1,25C60,tube,3M,viscosity,5,1\nB1,25C60,tube,3M,viscosity,5,1\n",
			"b.csv:3: value: a second result for viscosity of batch B1 in tube at 25C60, time 3M, unit 1; line 2 has the first"},
		"fewer without labels": {
			labelledHead + "B1,25C60,tube,3M,viscosity,5,\nB1,25C60,tube,3M,viscosity,6,\n",
			labelledHead + "B1,25C60,tube,3M,viscosity,6,\n",
			"b.csv:2: value: viscosity of batch B1 in tube at 25C60, time 3M: a.csv has 2 results of the same key (from line 2), and this file has 1; results in another file need a unit or replicate to be told from it"},
		"without labels, in another order": {
			labelledHead + "B1,25C60,tube,3M,viscosity,5,\nB1,25C60,tube,3M,viscosity,6,\n",
			labelledHead + "B1,25C60,tube,3M,viscosity,6,\nB1,25C60,tube,3M,viscosity,5,\n",
			"b.csv:2: value: viscosity of batch B1 in tube at 25C60, time 3M: line 2 of a.csv has a result of the same key and another value; results in another file need a unit or replicate to be told from it"},
		"without labels, one of two another": {
			labelledHead + "B1,25C60,tube,3M,viscosity,5,\nB1,25C60,tube,3M,viscosity,6,\n",
			labelledHead + "B1,25C60,tube,3M,viscosity,5,\nB1,25C60,tube,3M,viscosity,<7,\n",
			"b.csv:3: value: viscosity of batch B1 in tube at 25C60, time 3M: line 3 of a.csv has a result of the same key and another value; results in another file need a unit or replicate to be told from it; where it is wrong: shelfspan amend R0-3 --value '<7' --reason TEXT"},
		"without labels, one that is no number": {
			labelledHead + "B1,25C60,tube,3M,viscosity,5,\n",
			labelledHead + "B1,25C60,tube,3M,viscosity,thick,\n",
			`b.csv:2: value: "thick" is no number; leave the field empty where it was not tested`},
		"labelled later": {
			labelledHead + "B1,25C60,tube,3M,viscosity,5,\n",
			labelledHead + "B1,25C60,tube,3M,viscosity,5,1\n",
			"b.csv:2: value: viscosity of batch B1 in tube at 25C60, time 3M, unit 1: this result has a unit or replicate, and that on line 2 of a.csv has none; label all results of a pull, or none"},
		"time zero under another condition": {
			zero, labelledHead + "B1,40C75,tube,0,assay,98,1\n",
			"b.csv:2: value: another value for assay of batch B1 in tube at 40C75, time 0, unit 1 than on line 2 of a.csv; time zero is measured once for a batch and pack: repeat the same value, or tell the units or replicates apart; where it is wrong: shelfspan amend R0-2 --value 98 --reason TEXT"},
		"time zero under the same condition": {
			zero, labelledHead + "B1,25C60,tube,0,assay,98,1\n",
			"b.csv:2: value: assay of batch B1 in tube at 25C60, time 0, unit 1 is 99 already (line 2 of a.csv), and here 98; where it is wrong: shelfspan amend R0-2 --value 98 --reason TEXT"},
		"time zero without labels": {
			labelledHead + "B1,25C60,tube,0,pH,5,\nB1,25C60,tube,0,pH,6,\n",
			labelledHead + "B1,25C60,tube,0,pH,5,\nB1,25C60,tube,0,pH,7,\n",
			"b.csv:3: value: pH of batch B1 in tube at 25C60, time 0, unit 2 is 6 already (line 3 of a.csv), and here 7; where it is wrong: shelfspan amend R0-3 --value 7 --reason TEXT"},
		"time zero on another day": {
			datedHead + "2025-01-13,B1,25C60,tube,0,assay,99,1\n",
			datedHead + "2025-01-14,B1,25C60,tube,0,assay,99,1\n",
			"b.csv:2: pulled: assay of batch B1 in tube at 25C60, time 0, unit 1 was pulled on 2025-01-13 (line 2 of a.csv), and here on 2025-01-14; give the same day, or tell the units apart"},
		"a mass at time zero of the same condition": {
			labelledHead + "B1,25C60,tube,0,weight,150,w\n", labelledHead + "B1,25C60,tube,0,weight,151,w\n",
			"b.csv:2: value: weight of batch B1 in tube at 25C60, time 0, unit w is 150 already (line 2 of a.csv), and here 151; where it is wrong: shelfspan amend R0-2 --value 151 --reason TEXT"},
		"a mass at time zero": {
			mass, labelledHead + "B1,25C60,tube,0,weight,151,w\nB1,25C60,tube,3M,weight,149,w\n",
			"b.csv:2: value: a mass of 151 g for weight of batch B1 in tube at 25C60, time 0, unit w, and 150 g on line 2 of a.csv; a unit has one mass at time zero (several readings of it are replicates); where it is wrong: shelfspan amend R0-2 --value 151 --reason TEXT"},
		"a grade": {
			labelledHead + "B1,25C60,tube,3M,look,none,1\n", labelledHead + "B1,25C60,tube,3M,look,2,1\n",
			"b.csv:2: value: look of batch B1 in tube at 25C60, time 3M, unit 1 is none already (line 2 of a.csv), and here moderate; where it is wrong: shelfspan amend R0-2 --value moderate --reason TEXT"},
		"a limit": {
			labelledHead + "B1,25C60,tube,3M,assay,5,1\n", labelledHead + "B1,25C60,tube,3M,assay,>5,1\n",
			"b.csv:2: value: assay of batch B1 in tube at 25C60, time 3M, unit 1 is 5 already (line 2 of a.csv), and here >5; where it is wrong: shelfspan amend R0-2 --value '>5' --reason TEXT"},
	} {
		t.Run(name, func(t *testing.T) {
			d, _, err := ReadAll(balm(), named, source("a.csv", c.first), source("b.csv", c.second))
			if x := diff.Diff(c.want, faultsOf(t, d, err)); x != "" {
				t.Error(x)
			}
		})
	}
}

// What a later table says otherwise beside the value is not taken, and told once.
func TestRepeatsSayOtherwise(t *testing.T) {
	const head = "batch,condition,pack,time,attribute,value,unit,tested,analyst,comment\n"
	d, _, err := ReadAll(balm(), named,
		source("a.csv", head+"B1,25C60,tube,3M,assay,5,1,2025-05-01,R Vale,\nB1,25C60,tube,6M,assay,6,1,,R Vale,\n"),
		source("b.csv", head+"B1,25C60,tube,3M,assay,5,1,2025-05-02,R Vale,stirred\nB1,25C60,tube,6M,assay,6,1,2025-05-03,B Ott,\n"))
	if err != nil {
		t.Fatal(err)
	}
	want := "repeat-differs: 2 results of b.csv that an earlier table has already come with another day of test, analyst, method or comment; what the earlier table says stands (first tested on line 2)"
	if x := diff.Diff(want, warnings(d)); x != "" {
		t.Error(x)
	}
	for i, want := range []string{"2025-05-01 R Vale stirred", "2025-05-03 R Vale "} {
		if x := d.Results[i]; fmt.Sprint(x.Tested, " ", d.Text(x.Analyst), " ", d.Text(x.Comment)) != want {
			t.Errorf("%v %s %s, want %s", x.Tested, d.Text(x.Analyst), d.Text(x.Comment), want)
		}
	}
}

// The ledger's day may show that a test was before it; the table cannot be blamed
// for it, and stays readable.
func TestTestedBeforeTheRecordedPull(t *testing.T) {
	o := named
	o.PulledOn = func(_, _, _, _ int, _ study.Duration) study.Date { return study.NewDate(2025, 4, 14) }
	d, _, err := ReadAll(balm(), o, source("a.csv", "batch,condition,pack,time,attribute,value,tested\nB1,25C60,tube,3M,assay,5,2025-04-12\n"))
	if err != nil {
		t.Fatal(err)
	}
	want := "tested-before-pull: assay 25C60 3M: tested before the pull of 2025-04-14 (1 result, first a.csv:2: 2025-04-12); one of the two days is wrong"
	if x := diff.Diff(want, warnings(d)); x != "" {
		t.Error(x)
	}
}

// The same bytes twice are one fault, also where results have no labels.
func TestSameBytesTwice(t *testing.T) {
	text := labelledHead + "B1,25C60,tube,3M,viscosity,5,\nB1,25C60,tube,4M,pH,5,\n"
	d, _, err := ReadAll(balm(), named, source("a.csv", text), source("b.csv", text))
	if x := diff.Diff("b.csv: the same bytes as a.csv; name each file once", faultsOf(t, d, err)); x != "" {
		t.Error(x)
	}
}

// The order of faults does not depend on chance.
func TestFaultsOfCorrectionsAreInOrder(t *testing.T) {
	a := source("a.csv", labelledHead+"B1,25C60,tube,3M,viscosity,5,1\n")
	a.Corrections = make(map[Cell][]Correction)
	var want []string
	for line := 3; line < 30; line++ {
		for k := range balm().Attributes {
			a.Corrections[Cell{line, k}] = []Correction{{Value: "1"}}
			want = append(want, fmt.Sprintf("a.csv:%d: %s: there is no result here to change", line, balm().Attributes[k].ID))
		}
	}
	d, _, err := ReadAll(balm(), named, a)
	if x := diff.Diff(strings.Join(want[:listed], "\n")+"\nand 112 more", faultsOf(t, d, err)); x != "" { // 27·6 − 50
		t.Error(x)
	}
}

// A time-zero result that a later table has under another condition is counted as
// there already, and no warning is made of it.
func TestTimeZeroAgainInALaterTable(t *testing.T) {
	for name, rows := range map[string][2]string{
		"a measure": {"B1,25C60,tube,0,assay,99,\n", "B1,40C75,tube,0,assay,99,\n"},
		"a mass":    {"B1,,tube,0,weight,150,w\nB1,25C60,tube,3M,weight,149,w\n", "B1,25C60,tube,0,weight,150,w\n"},
	} {
		d, counts, err := ReadAll(balm(), named, source("a.csv", labelledHead+rows[0]), source("b.csv", labelledHead+rows[1]))
		if err != nil || slices.ContainsFunc(d.Warnings, func(w finding.Warning) bool { return w.Code != "not-in-protocol" }) || counts[1] != (Count{Rows: 1, Repeats: 1}) {
			t.Errorf("%s: %v, %v, %+v", name, err, d.Warnings, counts)
		}
	}
}
