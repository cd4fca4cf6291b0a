package main

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"shelfspan/analysis"
	"shelfspan/reports/csv"
	"shelfspan/reports/json"
	"shelfspan/reports/text"
	"shelfspan/study"
	"shelfspan/study/intake"
	"shelfspan/study/protocol"
)

// design reads a study and its results from bytes; what is beyond the end is 0.
type design struct {
	rest []byte
	toml strings.Builder
	rows strings.Builder
}

func (d *design) next(below int) int {
	if len(d.rest) == 0 {
		return 0
	}
	b := d.rest[0]
	d.rest = d.rest[1:]
	return int(b) % below
}

var fuzzedModels = []string{"zero-order", "first-order", "square-root-time"}

// draw makes a study of up to three packs, five batches with two ingredients and a
// scale, one or two conditions, and results here and there.
func (d *design) draw() {
	d.toml.WriteString("[study]\nid = \"F-1\"\nstart = 2025-01-13\nstore_at = \"25C\"\n")
	if d.next(4) > 0 {
		d.toml.WriteString("claim = \"24M\"\n")
	}
	conditions := []string{"25C", "40C", "50C"}[:1+d.next(3)]
	for i, c := range conditions {
		role := "long-term"
		if i > 0 {
			role = "stress"
		}
		fmt.Fprintf(&d.toml, "[[condition]]\nid = %q\nrole = %q\ntemperature = %s\npulls = [\"0\", \"3M\", \"6M\", \"12M\"]\n", c, role, strings.TrimSuffix(c, "C")+".0")
	}
	packs := 1 + d.next(3)
	control := d.next(4) // 3: none
	orientations := make([]int, packs)
	for p := range packs {
		fmt.Fprintf(&d.toml, "[[pack]]\nid = \"p%d\"\n", p)
		if p == control {
			d.toml.WriteString("control = true\n")
		}
		if orientations[p] = 1 + d.next(2); orientations[p] == 2 {
			d.toml.WriteString("orientations = [\"upright\", \"inverted\"]\n")
		}
	}
	fmt.Fprintf(&d.toml, "[[attribute]]\nid = \"assay\"\nunit = \"%%\"\nkind = \"measure\"\nmodel = %q\nunits = 2\n%s", fuzzedModels[d.next(3)], []string{"lower = 90.0\n", "lower = 90.0\nupper = 110.0\n", "upper = 110.0\n", ""}[d.next(4)])
	fmt.Fprintf(&d.toml, "[[attribute]]\nid = \"leak\"\nkind = \"pass-fail\"\nunits = 6\n%s", []string{"", "sampling = \"returned\"\n"}[d.next(2)])
	batches := 1 + d.next(5)
	for b := range batches {
		fmt.Fprintf(&d.toml, "[[batch]]\nid = \"B%d\"\n", b)
		var factors []string
		if l := d.next(4); l > 0 {
			factors = append(factors, "clay = \""+[]string{"no", "yes", "some"}[l-1]+"\"")
		}
		if l := d.next(3); l > 0 {
			factors = append(factors, "rose = \""+[]string{"no", "yes"}[l-1]+"\"")
		}
		if len(factors) > 0 {
			fmt.Fprintf(&d.toml, "factors = {%s}\n", strings.Join(factors, ", "))
		}
		if l := d.next(4); l > 0 {
			fmt.Fprintf(&d.toml, "scale = %q\n", []string{"bench", "pilot", "production"}[l-1])
		}
	}
	d.rows.WriteString("batch,condition,pack,orientation,time,unit,attribute,value\n")
	value := func(m int) float64 { return 100 + float64(d.next(256)-128)/16 - float64(m*d.next(8))/8 }
	for b := range batches {
		for p := range packs {
			for u := range d.next(3) {
				fmt.Fprintf(&d.rows, "B%d,,p%d,,0,u%d,assay,%.3f\n", b, p, u, value(0))
			}
			for o := range orientations[p] {
				orientation := ""
				if orientations[p] == 2 {
					orientation = []string{"upright", "inverted"}[o]
				}
				for _, c := range conditions {
					if d.next(4) == 3 {
						continue
					}
					for _, m := range []int{3, 6, 12} {
						for u := range d.next(3) {
							fmt.Fprintf(&d.rows, "B%d,%s,p%d,%s,%dM,u%d,assay,%.3f\n", b, c, p, orientation, m, u, value(m))
						}
						for u := range d.next(7) {
							fmt.Fprintf(&d.rows, "B%d,%s,p%d,%s,%dM,u%d,leak,%s\n", b, c, p, orientation, m, u, []string{"pass", "fail"}[d.next(2)])
						}
					}
				}
			}
		}
	}
}

var noNumber = regexp.MustCompile(`\b(NaN|[+-]?Inf)\b`)

// Minimizing long designs takes minutes: fuzz with -fuzzminimizetime 1x.
//
// Whatever the design and the results, no panic, no NaN in what is written, intervals
// about their estimates and p-values that are some; and with another pack as the
// reference what is compared the other way round turns its sign.
func FuzzInteractions(f *testing.F) {
	f.Add([]byte{1, 0, 1, 0, 0, 0, 0, 0, 0, 2, 1, 1, 1, 2, 2, 1, 2, 130, 0, 120, 0, 0, 1, 90, 1, 0, 2, 80, 2, 85, 3, 1, 1})
	f.Add([]byte("packs, batches, ingredients and what is said of them: a sentence is as good a design as another, and so is this one."))
	f.Add(bytes.Repeat([]byte{2, 7, 1, 200, 5, 66, 13, 9, 150, 31}, 120))
	f.Add(bytes.Repeat([]byte{1, 2, 1, 2, 5, 66, 1, 9, 2, 90, 77, 6, 1, 1, 0, 4}, 200))
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 4000 {
			return
		}
		d := &design{rest: data}
		d.draw()
		s, err := protocol.Read("study.toml", []byte(d.toml.String()))
		if err != nil {
			return
		}
		set, err := intake.Read(s, intake.Source{Name: "r.csv", Reader: strings.NewReader(d.rows.String())})
		if err != nil {
			return
		}
		var first *analysis.Interactions
		for i := range s.Packs {
			o := analysis.InteractionOptions{Wanted: true, Adjust: analysis.None, Scale: true, Pairs: true, Against: map[string]string{analysis.FactorPack: s.Packs[i].ID}}
			x := interactionsOf(t, set, o)
			if first == nil {
				first = x
				continue
			}
			sameTurned(t, s, first, x)
		}
		for _, adjust := range []analysis.Adjust{"", analysis.Tukey} {
			interactionsOf(t, set, analysis.InteractionOptions{Wanted: true, Adjust: adjust})
		}
	})
}

// interactionsOf evaluates, writes the answer in every format and checks it.
func interactionsOf(t *testing.T, set *study.Dataset, o analysis.InteractionOptions) *analysis.Interactions {
	t.Helper()
	e := analysis.Evaluate(set, analysis.Options{Interactions: o})
	var out bytes.Buffer
	text.NewPrinter(&out, 80, false).Interactions(e)
	if err := csv.Interactions(&out, e); err != nil {
		t.Fatal(err)
	}
	if err := json.Write(&out, json.NewInteractions(json.NewAnswer("", "interactions", nil, e.Warnings), e)); err != nil {
		t.Fatal(err)
	}
	if at := noNumber.FindIndex(out.Bytes()); at != nil {
		t.Errorf("%s\n%s", out.Bytes()[at[0]:at[1]], out.Bytes())
	}
	for _, c := range e.Interactions.Comparisons {
		probability := func(p float64) bool { return p >= 0 && p <= 1 }
		switch {
		case c.Outcome == "" || c.Outcome == analysis.NotCompared && c.Reason == "":
			t.Errorf("no outcome or no reason: %+v", c)
		case c.Outcome == analysis.NotCompared:
		case !probability(c.P) || !probability(c.PAdjusted) || c.PAdjusted < c.P*(1-1e-3)-1e-4:
			t.Errorf("p-values: %+v", c)
		case c.Failed[1] > 0:
			if d := c.Lifetimes; d != nil && !(d.Low <= d.LnRatio && d.LnRatio <= d.High) {
				t.Errorf("interval: %+v", d)
			}
		case !(c.Low <= c.Difference && c.Difference <= c.High):
			t.Errorf("interval: %+v", c)
		case !math.IsNaN(c.Lost) && !(c.LostLow <= c.Lost+1e-6 && c.Lost <= c.Hidden+1e-6):
			t.Errorf("months: %+v", c)
		}
	}
	return e.Interactions
}

// sameTurned checks that packs compared with another pack have the same difference with
// its sign turned.
func sameTurned(t *testing.T, s *study.Study, a, b *analysis.Interactions) {
	t.Helper()
	near := func(x, y, size float64) bool { return math.Abs(x-y) <= 1e-6*size || math.IsNaN(x) && math.IsNaN(y) }
	for _, x := range a.Comparisons {
		for _, y := range b.Comparisons {
			if x.Attribute != y.Attribute || x.Condition != y.Condition || x.Factor != analysis.FactorPack || y.Factor != x.Factor || x.Level != y.Against || x.Against != y.Level ||
				x.Outcome == analysis.NotCompared || y.Outcome == analysis.NotCompared {
				continue
			}
			if x.Failed[1] > 0 {
				if !near(x.P, y.P, 1) || x.Failed != y.AgainstFailed || (x.Lifetimes == nil) != (y.Lifetimes == nil) ||
					x.Lifetimes != nil && !near(x.Lifetimes.LnRatio, -y.Lifetimes.LnRatio, 1+math.Abs(x.Lifetimes.LnRatio)) {
					t.Errorf("%+v turned %+v", x, y)
				}
				continue
			}
			size := math.Abs(x.Difference) + x.SE
			if !near(x.Difference, -y.Difference, size) || !near(x.SE, y.SE, size) || !near(x.Low, -y.High, 100*size) || !near(x.P, y.P, 1) {
				t.Errorf("%s, %s: %+v turned %+v", s.Attributes[x.Attribute].ID, s.Conditions[x.Condition].ID, x, y)
			}
		}
	}
}
