package words

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"shelfspan/analysis"
)

// BoundName names a bound in a table of those that stand side by side.
func BoundName(k analysis.BoundKind) string {
	switch k {
	case analysis.BoundMean:
		return "mean"
	case analysis.BoundUnits:
		return "units"
	case analysis.BoundBatchesMean:
		return "all batches"
	case analysis.BoundToCome:
		return "batch to come"
	}
	return string(k)
}

// BoundMonths writes the months of a bound in such a table.
func BoundMonths(b *analysis.Bound) string {
	if !b.HasAnswer() {
		return "–"
	}
	return Bound(b.ShelfLife)
}

// DFDecimals is how many decimals degrees of freedom are written to, which are not
// always whole.
func DFDecimals(df float64) int {
	if math.Abs(df-math.Round(df)) < 0.005 {
		return 0
	}
	return 1
}

// BoundSays says in one sentence what a bound does, or why there is none.
func BoundSays(b *analysis.Bound) string {
	share := Percent(b.Coverage)
	subject, verb := "The mean of these batches", "is"
	switch b.Kind {
	case analysis.BoundUnits:
		subject, verb = "At least "+share+" of the units of these batches", "are"
	case analysis.BoundBatchesMean:
		subject = "The mean of all batches of which these are a sample"
	case analysis.BoundToCome:
		subject, verb = "The means of at least "+share+" of batches to come", "are"
	}
	if !b.HasAnswer() {
		return subject + ": no bound. " + b.Reason
	}
	with := ", with " + Percent(b.Confidence) + " confidence."
	switch {
	case b.ShelfLife == 0:
		return fmt.Sprintf("%s %s not shown to meet the criterion even at the start%s", subject, verb, with)
	case math.IsInf(b.ShelfLife, 1):
		return fmt.Sprintf("%s: the bound reaches no limit; how far that carries is for the rule on extrapolation.", subject)
	}
	return fmt.Sprintf("%s %s shown to meet the criterion for %s months%s", subject, verb, Bound(b.ShelfLife), with)
}

// governedToCome reports whether the bound for a batch to come governs.
func governedToCome(a *analysis.Analysis) bool { return a != nil && !a.ByMean() }

// LimitName names what meets the criterion at the shelf life of an analysis.
func LimitName(a *analysis.Analysis) string {
	if governedToCome(a) {
		return "bound for a batch to come"
	}
	return "confidence limit of the mean"
}

// FittedName names what meets the criterion at the estimate of an analysis.
func FittedName(a *analysis.Analysis) string {
	if governedToCome(a) {
		return "the fitted path that " + Percent(a.Governing().CoveragePerSide) + " of batches are better than"
	}
	return "the fitted mean"
}

// BoundEvent names the shelf life of an analysis in its chart.
func BoundEvent(a *analysis.Analysis) string {
	if governedToCome(a) {
		return "bound for a batch to come at " + Bound(a.ShelfLife) + " months"
	}
	return "bound at " + Bound(a.ShelfLife) + " months"
}

// LimitNames names it for several analyses.
func LimitNames(as []*analysis.Analysis) string {
	if slices.ContainsFunc(as, governedToCome) {
		return "confidence limit of the mean or the bound for a batch to come"
	}
	return "confidence limit of the mean"
}

// EstimateHead heads the column of estimates of some analyses.
func EstimateHead(as []*analysis.Analysis) string {
	if slices.ContainsFunc(as, governedToCome) {
		return "estimate"
	}
	return "mean"
}

// EstimateMeaning says what the estimates of some analyses are.
func EstimateMeaning(as []*analysis.Analysis) string {
	if slices.ContainsFunc(as, governedToCome) {
		return "until what is bounded itself does by the fit"
	}
	return "until the mean itself does"
}

// BoundHead says what the months of a bound are, over all analyses.
func BoundHead(as []*analysis.Analysis) string {
	return "months until the " + LimitNames(as) + " meets the criterion"
}

// MeanAndBound says what the columns of trends are.
func MeanAndBound(e *analysis.Evaluation) string {
	if slices.ContainsFunc(e.Analyses, governedToCome) {
		return fmt.Sprintf("Estimate and bound: months until the fitted mean, and until its %s confidence limit, meets the criterion, the first of the batches; or, where that is sooner, the path of nearly all batches and the bound for a batch to come.", Percent(e.Confidence))
	}
	return fmt.Sprintf("Mean and bound: months until the fitted mean, and until its %s confidence limit, meets the criterion; the first of the batches.", Percent(e.Confidence))
}

// Governs says which of the bounds of an analysis governs, and why.
func Governs(a *analysis.Analysis) string {
	b := a.Governing()
	if b == nil {
		return ""
	}
	next := toCome(a)
	switch {
	case b.Kind == analysis.BoundToCome && math.IsInf(b.ShelfLife, 1):
		return "The bound for a batch to come governs, as was asked for; neither it nor the ICH Q1E bound of the mean reaches a limit."
	case b.Kind == analysis.BoundToCome:
		return fmt.Sprintf("The bound for a batch to come governs, as was asked for; the ICH Q1E bound of the mean is %s.", inMonths(&a.Bounds[0]))
	case !asked(a):
		return "The ICH Q1E bound of the mean governs; the others are for comparison."
	case !next.HasAnswer():
		return "The ICH Q1E bound of the mean governs: the bound for a batch to come was asked for and cannot be stated."
	}
	return fmt.Sprintf("The ICH Q1E bound of the mean governs, being the shorter: the bound for a batch to come that was asked for is %s, and may not lengthen a shelf life.", inMonths(next))
}

func toCome(a *analysis.Analysis) *analysis.Bound {
	for i := range a.Bounds {
		if a.Bounds[i].Kind == analysis.BoundToCome {
			return &a.Bounds[i]
		}
	}
	return nil
}

// asked reports whether the bound for a batch to come was to govern.
func asked(a *analysis.Analysis) bool {
	b := toCome(a)
	return b != nil && b.Asked
}

func inMonths(b *analysis.Bound) string {
	if math.IsInf(b.ShelfLife, 1) {
		return "not reached"
	}
	return "at " + Bound(b.ShelfLife) + " months"
}

// FewerUnits says of the analyses of one attribute at one condition for how long
// units are shown to keep, where that is shorter than what governs: of the pack in
// which they are for the least. It is empty where there is nothing to say.
func FewerUnits(e *analysis.Evaluation, as []*analysis.Analysis) string {
	var least *analysis.Analysis
	var units *analysis.Bound
	packs := 0
	for _, a := range as {
		g := a.Governing()
		if g == nil {
			continue
		}
		for i := range a.Bounds {
			b := &a.Bounds[i]
			if b.Kind != analysis.BoundUnits || !b.HasAnswer() {
				continue
			}
			packs++
			if Bound(b.ShelfLife) != Bound(g.ShelfLife) && b.ShelfLife < g.ShelfLife && (units == nil || b.ShelfLife < units.ShelfLife) {
				least, units = a, b
			}
		}
	}
	if units == nil {
		return ""
	}
	in := ""
	if packs > 1 {
		if pack := PackName(e.Dataset.Study, least.Pack, least.Orientation); pack != "" {
			in = " in " + pack
		}
	}
	g := least.Governing()
	than := "the bound of the mean"
	if g.Kind == analysis.BoundToCome {
		than = "the bound for a batch to come"
	}
	than += ", which governs, is " + inMonths(g)
	share, confidence := Percent(units.Coverage), Percent(units.Confidence)
	if units.ShelfLife == 0 {
		return fmt.Sprintf("Single units spread about the mean: even at the start it is not shown%s, with %s confidence, that %s of them meet the criterion; %s.", in, confidence, share, than)
	}
	return fmt.Sprintf("Single units spread about the mean: %s of them are shown to keep for %s months%s, with %s confidence; %s.", share, Bound(units.ShelfLife), in, confidence, than)
}

// Bounds says what is to be said of the bounds of one attribute at one condition,
// its packs together: which govern, where that was asked, and how long units keep.
func Bounds(e *analysis.Evaluation, as []*analysis.Analysis) []string {
	var out []string
	add := func(t string) {
		if t != "" && !slices.Contains(out, t) {
			out = append(out, t)
		}
	}
	for _, a := range as {
		if asked(a) {
			t := Governs(a)
			if pack := PackName(e.Dataset.Study, a.Pack, a.Orientation); pack != "" && len(as) > 1 {
				t = "In " + pack + " " + lower(t)
			}
			add(t)
		}
	}
	add(FewerUnits(e, as))
	return out
}

// PerSide says at what each of two limits is judged, of the analyses of one
// attribute; it is empty where there is one limit.
func PerSide(as []*analysis.Analysis) string {
	for _, a := range as {
		for i := range a.Bounds {
			if b := &a.Bounds[i]; b.Coverage > 0 && b.CoveragePerSide > b.Coverage {
				return fmt.Sprintf("There are two limits: each is judged with %s confidence, and where a share is stated at a coverage of %s.", Percent(b.ConfidencePerSide), Percent(b.CoveragePerSide))
			}
		}
	}
	return ""
}

// BoundNotes says once how bounds side by side are read, and what they presuppose.
func BoundNotes(e *analysis.Evaluation) []string {
	t := SideBySide(e)
	if t == "" {
		return nil
	}
	out := []string{t}
	if slices.ContainsFunc(e.Analyses, func(a *analysis.Analysis) bool { return toCome(a) != nil }) {
		out = append(out, RandomBatches)
	}
	return out
}

// SideBySide says once what the columns of bounds are; it is empty where there are
// none.
func SideBySide(e *analysis.Evaluation) string {
	var kinds []analysis.BoundKind
	var share float64
	twoSided := false
	for _, a := range e.Analyses {
		twoSided = twoSided || len(a.Bounds) > 0 && !a.OneSided
		for i := range a.Bounds {
			if b := &a.Bounds[i]; !slices.Contains(kinds, b.Kind) {
				kinds = append(kinds, b.Kind)
				if !math.IsNaN(b.Coverage) {
					share = b.Coverage
				}
			}
		}
	}
	if len(kinds) == 0 {
		return ""
	}
	parts := []string{"mean, of these batches by ICH Q1E", fmt.Sprintf("units, %s of the units of these batches", Percent(share))}
	if slices.Contains(kinds, analysis.BoundToCome) {
		parts = append(parts, "all batches, the mean of those of which these are a sample", fmt.Sprintf("batch to come, the means of %s of them", Percent(share)))
	}
	t := fmt.Sprintf("Bounds side by side: the months for which something is shown with %s confidence to meet the criterion: %s.", Percent(e.Confidence), strings.Join(parts, "; "))
	if twoSided {
		t += " Where there are two limits, each is judged at half of what may go wrong."
	}
	if !slices.ContainsFunc(e.Analyses, asked) {
		t += " That of the mean governs; the others are for comparison."
	}
	return t
}

// RandomBatches is what a bound for batches to come presupposes.
const RandomBatches = "A bound for batches to come takes the batches of the study for a random sample of those that the process makes, whose intercepts and slopes are normally distributed: made as they will be made, and not chosen."
