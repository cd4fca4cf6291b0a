package analysis

import (
	"fmt"
	"math"
	"slices"

	"shelfspan/analysis/lifetime"
	"shelfspan/study"
	"shelfspan/study/finding"
)

// Adjust says which comparisons are made and how their number is allowed for.
type Adjust string

// The adjustments.
const (
	Dunnett Adjust = "dunnett" // every level with the control or reference; the default
	Tukey   Adjust = "tukey"   // all pairs
	Holm    Adjust = "holm"    // every level with the reference, p-values by Holm, intervals by Bonferroni
	None    Adjust = "none"    // each comparison by itself
)

// InteractionOptions says what is compared with what.
type InteractionOptions struct {
	Wanted       bool
	Adjust       Adjust            // "": Dunnett
	Against      map[string]string // the reference level of a factor: "pack", or one that the batches declare
	MarginMonths float64           // of shelf life, the most that may be lost and not matter; 0: a tenth of the claim
	Scale        bool              // bench, pilot and production compared for equivalence
	Pairs        bool              // ingredient pairs against what each of the two does alone
}

// Interactions is what packs, orientations and ingredients do to the product.
type Interactions struct {
	Horizon, MarginMonths float64 // months; Horizon is the claim or, without one, twice the longest data at storage
	Adjust                Adjust
	Comparisons           []*Comparison // in the study's order, attribute by attribute
	Ranking               []int         // indices of the comparisons that cost months, worst first
	Parallel              []*Parallel   // whether packs share an activation energy
	Scale                 []*ScaleUp    // where asked for
	Pairs                 []*Pair       // where asked for, the greatest excess first
	Warnings              []finding.Warning

	distributions distributions
}

// What a comparison came to.
type Outcome string

// The findings.
const (
	Harm         Outcome = "harm"          // surely faster, and it costs months
	FasterWithin Outcome = "faster-within" // surely faster, and what it may cost is within the margin
	NoHarmShown  Outcome = "no-harm-shown" // none is shown, and none larger than the margin can be hidden
	Slower       Outcome = "slower"        // surely not faster
	CannotTell   Outcome = "cannot-tell"   // a harm beyond the margin may be hidden, or not be there
	Differs      Outcome = "differs"       // without a criterion: the rates surely differ
	NotShown     Outcome = "not-shown"     // without a criterion: no difference is shown
	NotCompared  Outcome = "not-compared"  // Reason says why
)

// What the error of a comparison is.
type ErrorOf string

// The errors.
const (
	ErrorResidual ErrorOf = "residual"      // of the results about their lines
	ErrorArms     ErrorOf = "arms"          // how the difference varies from batch to batch
	ErrorBatches  ErrorOf = "batches"       // how batches of one formula differ
	ErrorThose    ErrorOf = "those-batches" // how batches vary is not known: of the results, and said of those batches alone
	ErrorUnits    ErrorOf = "units"         // how units of one arm differ
)

// Comparison is one level against another, for one attribute at one condition.
type Comparison struct {
	Attribute, Condition int
	Factor               string // "pack", "orientation", a factor of the formula, or two of them with " × "
	Level, Against       string
	Pack, Orientation    int // of the level, where it is of packs or orientations; −1 otherwise

	Outcome Outcome
	Reason  string // why it was not compared
	Model   string

	Rate, AgainstRate     float64 // on the model's scale, per its own time
	Difference, SE        float64
	Low, High             float64 // simultaneous interval at the confidence of the evaluation
	DF                    int
	P, PAdjusted          float64
	Error                 ErrorOf
	LastMonths            float64 // the last pull that both have
	Shift                 float64 // what the difference has made by then, in the attribute's own unit
	Life, AgainstLife     float64 // months, by the rates alone, from one start; NaN without a criterion
	Lost, LostLow, Hidden float64 // months of the horizon: as estimated, at least, at most, by the interval; NaN without a criterion
	ThroughArrhenius      bool    // months are at the storage condition by way of the activation energy, as it has no data of its own there
	MorePulls             int     // how many would tell; 0 where not asked, −1 where more pulls will not
	Failed, AgainstFailed [2]int  // of grades and pass/fail: units that failed by LastMonths, and units
	// Lifetimes is how the lifetimes of the units differ, of grades and pass/fail; nil
	// where they cannot be compared, of which Thin says why and Fisher's test stands.
	Lifetimes *lifetime.Difference
	Thin      string
	Strata    *Strata // of grades and pass/fail: the batches, and how many tell
}

// interactions compares what is asked for.
func (v *evaluator) interactions() *Interactions {
	o := v.o.Interactions
	x := &Interactions{Adjust: o.Adjust, MarginMonths: o.MarginMonths, Horizon: math.NaN()}
	if x.Adjust == "" {
		x.Adjust = Dunnett
	}
	if !v.s.Claim.IsZero() {
		x.Horizon = v.s.Claim.Months(0)
	}
	if math.IsNaN(x.Horizon) {
		x.Horizon = 2 * v.longest()
		x.Warnings = append(x.Warnings, finding.Warning{Code: "no-claim",
			Text: fmt.Sprintf("The study states no claim: months are counted up to %.4g, twice the longest data at the storage condition.", x.Horizon)})
	}
	if x.MarginMonths == 0 {
		x.MarginMonths = x.Horizon / 10
	}
	if v.o.Packs != nil {
		x.Warnings = append(x.Warnings, finding.Warning{Code: "partial",
			Text: "Only a part of the packs was asked for: the scatter is taken from their results alone and fewer comparisons share the confidence, so that bounds differ from those of the whole study; a pack left out may do harm."})
	}
	x.Warnings = append(x.Warnings, v.remarkReferences()...)
	var fields []*field
	for a := range v.s.Attributes {
		if !wanted(v.o.Attributes, a) {
			continue
		}
		for c := range v.s.Conditions {
			if wanted(v.o.Conditions, c) {
				fields = append(fields, &field{v: v, x: x, attribute: a, condition: c})
			}
		}
	}
	each(len(fields), func(i int) { fields[i].compare() })
	for _, f := range fields {
		x.Comparisons = append(x.Comparisons, f.out...)
		x.Warnings = append(x.Warnings, f.warnings...)
	}
	x.rank()
	for a := range v.s.Attributes {
		if wanted(v.o.Attributes, a) {
			if p := v.parallel(a); p != nil {
				x.Parallel = append(x.Parallel, p)
			}
		}
	}
	adjustParallel(x.Parallel)
	if o.Scale {
		v.compareScales(x)
	}
	if o.Pairs {
		for _, f := range fields {
			if k := f.at().Kind; k != study.Grade && k != study.PassFail {
				x.Pairs = append(x.Pairs, f.pairs()...)
			}
		}
		rankPairs(x.Pairs)
	}
	x.Warnings = finding.Dedupe(x.Warnings)
	return x
}

// longest is the last planned pull with results at the storage condition, or
// anywhere where there is none.
func (v *evaluator) longest() float64 {
	at, all := 0.0, 0.0
	for k, samples := range v.cells {
		for i := range samples {
			all = max(all, samples[i].PlannedMonths)
			if k.condition == v.s.StoreAt {
				at = max(at, samples[i].PlannedMonths)
			}
		}
	}
	if at > 0 {
		return at
	}
	return all
}

// rank orders what costs months, the worst first.
func (x *Interactions) rank() {
	for i, c := range x.Comparisons {
		if c.Outcome != NotCompared && !math.IsNaN(c.Lost) {
			x.Ranking = append(x.Ranking, i)
		}
	}
	slices.SortStableFunc(x.Ranking, func(i, j int) int {
		a, b := x.Comparisons[i], x.Comparisons[j]
		switch {
		case a.Lost != b.Lost:
			return sign(b.Lost - a.Lost)
		case a.Hidden != b.Hidden:
			return sign(b.Hidden - a.Hidden)
		}
		return sign(a.PAdjusted - b.PAdjusted)
	})
}

func sign(x float64) int {
	switch {
	case x < 0:
		return -1
	case x > 0:
		return 1
	}
	return 0
}

// combination is a pack in an orientation.
type combination struct{ pack, orientation int }

// field is one attribute at one condition, over all arms.
type field struct {
	v                    *evaluator
	x                    *Interactions
	attribute, condition int

	out          []*Comparison
	energyFit    *Arrhenius // of energy
	energySought bool

	warnings []finding.Warning
}

func (f *field) at() *study.Attribute { return &f.v.s.Attributes[f.attribute] }

func (f *field) warn(code, text string) {
	f.warnings = append(f.warnings, finding.Warning{Code: code, Text: text,
		Where: f.at().ID + " " + f.v.s.Conditions[f.condition].ID})
}

// remarkReferences warns of what is compared with something that nobody named, and
// of what cannot be compared with anything.
func (v *evaluator) remarkReferences() []finding.Warning {
	var out []finding.Warning
	add := func(code, format string, args ...any) {
		out = append(out, finding.Warning{Code: code, Text: fmt.Sprintf(format, args...)})
	}
	_, named := v.o.Interactions.Against[FactorPack]
	if !named && len(v.s.Packs) > 1 && !slices.ContainsFunc(v.s.Packs, func(p study.Pack) bool { return p.Control }) {
		add("no-control", "No pack is declared as the control: packs are compared with the first, %s. Write control = true into its [[pack]], or name another with --against pack=ID.", v.s.Packs[0].ID)
	}
	if len(v.s.Packs) == 1 && v.s.Packs[0].ID != "" {
		if n := len(v.s.Packs[0].Orientations); n < 2 {
			add("one-level", "There is one pack, %s: with one level nothing can be said of packs.", v.s.Packs[0].ID)
		}
	}
	levels := map[string][]string{}
	var names []string
	for i := range v.s.Batches {
		for _, f := range v.s.Batches[i].Factors {
			if levels[f.Name] == nil {
				names = append(names, f.Name)
			}
			if !slices.Contains(levels[f.Name], f.Level) {
				levels[f.Name] = append(levels[f.Name], f.Level)
			}
		}
	}
	for _, name := range names {
		if len(levels[name]) == 1 {
			add("one-level", "All batches that state %s have %s: with one level nothing can be said of it.", name, levels[name][0])
		}
	}
	for _, t := range v.terms() {
		if _, named := v.o.Interactions.Against[t.Name]; !named && t.Name != FactorScale {
			add("reference-level", "%s is compared with %s, the level that most batches have or the first of them; --against %s=LEVEL names another.", t.Name, t.Levels[t.Reference], t.Name)
		}
	}
	return out
}
