package analysis_test

import (
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"shelfspan/analysis"
)

// drawn is an invented study with its results, as they are written in files;
// whole numbers stand for thousandths of the attribute's unit.
type drawn struct {
	batches  []string
	lower    int    // of assay
	model    string // of assay
	basis    string
	viscous  [2]int // limits of viscosity
	scale    int    // of assay and viscosity: 1, or 1000 for a unit that is a thousandth
	maxLoss  int    // thousandths of a percent
	maxGrade int
	rows     []row
}

type row struct {
	batch, pack, orientation, condition string
	time                                int // months
	pulled                              string
	attribute, unit                     string
	replicate                           int
	value                               int
	tare                                string
}

// study writes the study file.
func (d *drawn) study() string {
	var b strings.Builder
	b.WriteString(head)
	b.WriteString("\n[[condition]]\nid = \"30C65\"\nrole = \"intermediate\"\ntemperature = 30.0\nhumidity = 65.0\npulls = [\"0\", \"3M\", \"6M\"]\n")
	for _, id := range d.batches {
		fmt.Fprintf(&b, "\n[[batch]]\nid = %q\n", id)
	}
	b.WriteString("\n[[pack]]\nid = \"jar\"\n\n[[pack]]\nid = \"can\"\norientations = [\"upright\", \"inverted\"]\n")
	fmt.Fprintf(&b, "\n[[attribute]]\nid = \"assay\"\nkind = \"measure\"\nmodel = %q\nbasis = %q\nlower = %s\n", d.model, d.basis, d.assayLimit())
	fmt.Fprintf(&b, "\n[[attribute]]\nid = \"viscosity\"\nkind = \"measure\"\nmodel = \"auto\"\nlower = %s\nupper = %s\n", d.number(d.viscous[0], "viscosity"), d.number(d.viscous[1], "viscosity"))
	fmt.Fprintf(&b, "\n[[attribute]]\nid = \"loss\"\nkind = \"weighing\"\nsampling = \"returned\"\nunits = 2\nupper = %s\n", d.number(d.maxLoss, "loss"))
	fmt.Fprintf(&b, "\n[[attribute]]\nid = \"look\"\nkind = \"grade\"\ngrades = [\"none\", \"slight\", \"marked\", \"severe\"]\nupper = %d\n", d.maxGrade)
	return b.String()
}

func (d *drawn) number(thousandths int, attribute string) string {
	if attribute == "look" {
		return fmt.Sprint(thousandths)
	}
	if attribute == "loss" {
		return decimal(thousandths)
	}
	return decimal(thousandths * d.scale)
}

// assayLimit is in the unit of the values, or a percentage in any unit.
func (d *drawn) assayLimit() string {
	if d.basis == "percent-of-initial" {
		return decimal(d.lower)
	}
	return d.number(d.lower, "assay")
}

func decimal(thousandths int) string {
	return fmt.Sprintf("%d.%03d", thousandths/1000, thousandths%1000)
}

func (d *drawn) results() string {
	var b strings.Builder
	b.WriteString("batch,pack,orientation,condition,time,pulled,attribute,unit,replicate,tare,value\n")
	for _, r := range d.rows {
		replicate := ""
		if r.replicate > 0 {
			replicate = fmt.Sprint(r.replicate)
		}
		fmt.Fprintf(&b, "%s,%s,%s,%s,%dM,%s,%s,%s,%s,%s,%s\n", r.batch, r.pack, r.orientation, r.condition, r.time, r.pulled, r.attribute, r.unit, replicate, r.tare, d.number(r.value, r.attribute))
	}
	return b.String()
}

// everything is all that can be asked of a dataset.
var everything = analysis.Options{Trends: true, Supported: true, Arrhenius: true, At: []float64{30}}

func (d *drawn) evaluate(t rapid.TB, o analysis.Options) *analysis.Evaluation {
	t.Helper()
	return analysis.Evaluate(dataset(t, d.study(), d.results()), o)
}

// draw makes up a study of one to three batches in two packs, one of them in two
// orientations, with results that mostly fall and now and then fail.
func draw(t *rapid.T) *drawn {
	d := &drawn{
		batches:  []string{"B1", "B2", "B3"}[:rapid.IntRange(1, 3).Draw(t, "batches")],
		lower:    rapid.IntRange(85_000, 98_000).Draw(t, "lower"),
		model:    rapid.SampledFrom([]string{"zero-order", "first-order", "second-order", "square-root-time", "auto"}).Draw(t, "model"),
		basis:    rapid.SampledFrom([]string{"value", "percent-of-initial"}).Draw(t, "basis"),
		viscous:  [2]int{rapid.IntRange(10_000, 25_000).Draw(t, "thinnest"), rapid.IntRange(35_000, 50_000).Draw(t, "thickest")},
		scale:    1,
		maxLoss:  rapid.IntRange(500, 4_000).Draw(t, "max loss"),
		maxGrade: rapid.IntRange(1, 2).Draw(t, "max grade"),
	}
	fall := rapid.IntRange(0, 600).Draw(t, "fall") // thousandths a month at 25 °C
	noise := rapid.SampledFrom([]int{0, 100, 900}).Draw(t, "noise")
	scatter := func(label string) int { return rapid.IntRange(-noise, noise).Draw(t, label) }
	hotter := map[string]int{"25C60": 1, "30C65": 2, "40C75": 4}
	pulls := map[string][]int{"25C60": {3, 6, 9, 12}, "30C65": {3, 6}, "40C75": {3, 6}}
	arms := [][2]string{{"jar", "upright"}, {"can", "upright"}, {"can", "inverted"}}
	for i, batch := range d.batches {
		measure := func(pack, orientation, condition string, time int) {
			drop := fall * hotter[condition] * time * (i + 4) / 4
			at := row{batch: batch, pack: pack, orientation: orientation, condition: condition, time: time}
			for u := range 2 {
				at.unit = fmt.Sprintf("%s-%s-%s-%s-%d-%d", batch, pack, orientation, condition, time, u)
				at.attribute, at.value = "assay", 100_000-drop+scatter("assay")
				d.rows = append(d.rows, at)
				at.attribute, at.value = "look", rapid.SampledFrom([]int{0, 0, 0, 0, 0, 0, 1, 1, 2}).Draw(t, "look")
				d.rows = append(d.rows, at)
				thickness := 30_000 - drop/2
				if pack == "can" {
					thickness = 30_000 * 20_000 / (20_000 + 3*drop) // bent, so that the packs do not agree on a model
				}
				for r := range 3 {
					at.attribute, at.replicate, at.value = "viscosity", r+1, thickness+scatter("viscosity")
					d.rows = append(d.rows, at)
				}
				at.replicate = 0
			}
		}
		for _, pack := range []string{"jar", "can"} {
			measure(pack, "", "", 0)
		}
		for _, arm := range arms {
			for _, condition := range []string{"25C60", "30C65", "40C75"} {
				for u := range 2 {
					weighed := row{batch: batch, pack: arm[0], orientation: arm[1], condition: condition, attribute: "loss", tare: "20", value: 70_000,
						unit: fmt.Sprintf("W-%s-%s-%s-%s-%d", batch, arm[0], arm[1], condition, u)}
					d.rows = append(d.rows, weighed)
					for _, time := range pulls[condition] {
						weighed.time, weighed.value = time, 70_000-30*hotter[condition]*time-rapid.IntRange(0, 20).Draw(t, "lost")
						d.rows = append(d.rows, weighed)
					}
				}
				for _, time := range pulls[condition] {
					if rapid.IntRange(0, 19).Draw(t, "made") > 0 {
						measure(arm[0], arm[1], condition, time)
					}
				}
			}
		}
	}
	return d
}

// figures are the numbers and words of an evaluation by what they are about;
// batches go by their names in the first study.
func figures(e *analysis.Evaluation, nameOf func(batch int) string) map[string]string {
	s := e.Dataset.Study
	out := map[string]string{}
	put := func(where, what string, x any) {
		if f, ok := x.(float64); ok {
			x = fmt.Sprintf("%.17g", f)
		}
		out[where+" "+what] = fmt.Sprint(x)
	}
	place := func(attribute, pack, orientation int) string {
		return s.Attributes[attribute].ID + " " + s.Packs[pack].ID + " " + string(s.Packs[pack].Orientations[orientation])
	}
	limiting := func(b int) string {
		if b < 0 {
			return "none"
		}
		return nameOf(b)
	}
	for _, a := range e.Analyses {
		at := place(a.Attribute, a.Pack, a.Orientation) + " " + s.Conditions[a.Condition].ID
		put(at, "status", a.Status)
		put(at, "model", a.Model)
		put(at, "shelf life", a.ShelfLife)
		put(at, "estimate", a.Estimate)
		put(at, "limiting", limiting(a.LimitingBatch))
		put(at, "slopes p", a.Pooling.SlopesP)
		put(at, "decision", a.Pooling.Decision)
		put(at, "observed", a.ObservedMonths)
		put(at, "samples", len(a.Samples))
		for _, f := range a.Fits {
			put(at+" "+nameOf(f.Batch), "shelf life", f.ShelfLife)
		}
	}
	for _, r := range e.Arrhenius {
		at := place(r.Attribute, r.Pack, r.Orientation)
		put(at, "arrhenius", r.Status)
		put(at, "energy", r.EaKJ)
		for _, p := range r.Predictions {
			put(at, fmt.Sprintf("life at %g", p.Celsius), p.ShelfLife)
		}
	}
	for _, l := range e.Lifetimes {
		at := place(l.Attribute, l.Pack, l.Orientation) + " lifetime"
		for i := range l.Conditions {
			u := &l.Conditions[i]
			here := at + " " + s.Conditions[u.Condition].ID
			put(here, "units", u.Units)
			put(here, "failed", u.Failed)
			put(here, "after", u.After)
			put(here, "by", u.By)
			if u.Own.Fitted() {
				put(here, "bound", u.Own.Candidates[0].Bounds[0].Calibrated)
			}
		}
		if l.Joint.Fitted() {
			put(at, "bound", l.Joint.Candidates[0].Bounds[0].Calibrated)
		}
	}
	for _, v := range e.Supported.Verdicts {
		at := place(v.Attribute, v.Pack, v.Orientation) + " supported"
		put(at, "months", v.Months)
		put(at, "limited by", v.LimitedBy)
		put(at, "cap", v.Cap)
		put(at, "rule", v.RuleText)
	}
	return out
}

func names(e *analysis.Evaluation) func(int) string {
	return func(b int) string { return e.Dataset.Study.Batches[b].ID }
}

// same compares figures, numbers to a relative tolerance; digits in words (the
// text of a rule) have to be the same.
func same(t *rapid.T, got, want map[string]string, tolerance float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%d figures, %d before", len(got), len(want))
	}
	for k, w := range want {
		g, ok := got[k]
		var x, y float64
		if _, err := fmt.Sscan(g, &x); err == nil {
			size := math.Abs(x)
			switch {
			case strings.HasSuffix(k, " p"):
				size = 100 // near 1 it follows the root of a difference that cancels
			case strings.HasSuffix(k, " energy"):
				size = 1000 // kJ/mol: between conditions that hardly differ the least squares are flat
			}
			if _, err := fmt.Sscan(w, &y); err == nil && math.Abs(x-y) <= tolerance*size {
				continue
			}
		}
		if !ok || g != w {
			t.Fatalf("%s: %s, before %s", k, g, w)
		}
	}
}

func TestOrderOfRowsDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := draw(t)
		before := d.evaluate(t, everything)
		d.rows = rapid.Permutation(d.rows).Draw(t, "order")
		after := d.evaluate(t, everything)
		same(t, figures(after, names(after)), figures(before, names(before)), 0)
	})
}

// TestBatchesAreOnlyNames: other names in another order are the same study. The
// sums are taken in another order, so the last digits may differ.
func TestBatchesAreOnlyNames(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := draw(t)
		before := d.evaluate(t, everything)
		first := slices.Clone(d.batches)
		renamed := map[string]string{}
		for i, id := range first {
			renamed[id] = fmt.Sprintf("lot-%d", 9-i)
		}
		for i := range d.rows {
			d.rows[i].batch = renamed[d.rows[i].batch]
		}
		d.batches = nil
		for _, id := range rapid.Permutation(first).Draw(t, "order") {
			d.batches = append(d.batches, renamed[id])
		}
		after := d.evaluate(t, everything)
		back := func(b int) string {
			for _, id := range first {
				if renamed[id] == after.Dataset.Study.Batches[b].ID {
					return id
				}
			}
			return "?"
		}
		same(t, unruled(figures(after, back)), unruled(figures(before, names(before))), 1e-6)
	})
}

// unruled leaves out what may follow a tie: the batches named in a rule stand in
// the study's order, and of batches alike the first limits.
func unruled(f map[string]string) map[string]string {
	for k := range f {
		if strings.HasSuffix(k, " rule") || strings.HasSuffix(k, " limiting") {
			delete(f, k)
		}
	}
	return f
}

// TestUnitScalesNothing: in a unit a thousand times smaller, values and limits
// alike, every time is the same.
func TestUnitScalesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := draw(t)
		before := d.evaluate(t, everything)
		d.scale = 1000
		after := d.evaluate(t, everything)
		same(t, figures(after, names(after)), figures(before, names(before)), 1e-6)
	})
}

// TestPartsOfTheStudy: to ask for one attribute or pack changes none of its
// figures.
func TestPartsOfTheStudy(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := draw(t)
		whole := d.evaluate(t, everything)
		all := figures(whole, names(whole))
		o := everything
		o.Attributes = []int{rapid.IntRange(0, 3).Draw(t, "attribute")}
		if rapid.Bool().Draw(t, "by pack") {
			o.Packs = []int{rapid.IntRange(0, 1).Draw(t, "pack")}
		}
		part := d.evaluate(t, o)
		got := figures(part, names(part))
		want := map[string]string{}
		for k := range got {
			want[k] = all[k]
		}
		same(t, got, want, 0)
		if len(part.Analyses) == 0 {
			t.Fatal("nothing of the part is left")
		}
		// The storage condition alone is what shelf-life reads.
		stored := d.evaluate(t, analysis.Options{Supported: true})
		for k, v := range figures(stored, names(stored)) {
			if all[k] != v {
				t.Fatalf("%s: %s, with every condition %s", k, v, all[k])
			}
		}
	})
}

// TestTighterLimitsNeverLengthen: of any verdict, nor of the study.
func TestTighterLimitsNeverLengthen(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := draw(t)
		before := d.evaluate(t, everything).Supported
		d.lower += rapid.IntRange(0, 1_000).Draw(t, "assay by")
		d.viscous[0] += rapid.IntRange(0, 3_000).Draw(t, "thinnest by")
		d.viscous[1] -= rapid.IntRange(0, 3_000).Draw(t, "thickest by")
		d.maxLoss -= rapid.IntRange(0, 400).Draw(t, "loss by")
		d.maxGrade -= rapid.IntRange(0, 1).Draw(t, "grade by")
		after := d.evaluate(t, everything).Supported
		if after.Months > before.Months {
			t.Fatalf("%d months, %d with wider limits", after.Months, before.Months)
		}
		// What was undecided for want of data may be judged by a failure now.
		type arm struct{ attribute, pack, orientation int }
		wide := map[arm]analysis.Verdict{}
		for _, v := range before.Verdicts {
			wide[arm{v.Attribute, v.Pack, v.Orientation}] = v
		}
		for _, v := range after.Verdicts {
			w, ok := wide[arm{v.Attribute, v.Pack, v.Orientation}]
			if ok && v.Months > w.Months {
				t.Fatalf("verdict of %d in %d: %d months by %s, %d with wider limits by %s\n%s\n%s",
					v.Attribute, v.Pack, v.Months, v.LimitedBy, w.Months, w.LimitedBy, v.RuleText, w.RuleText)
			}
		}
	})
}

// TestCoresDoNotMatter: one core and two give the same bits and the same
// warnings in the same order.
func TestCoresDoNotMatter(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	rapid.Check(t, func(t *rapid.T) {
		d := draw(t)
		runtime.GOMAXPROCS(1)
		one := d.evaluate(t, everything)
		runtime.GOMAXPROCS(2)
		two := d.evaluate(t, everything)
		same(t, figures(two, names(two)), figures(one, names(one)), 0)
		if diff := cmp.Diff(one.Warnings, two.Warnings); diff != "" {
			t.Fatal(diff)
		}
	})
}
