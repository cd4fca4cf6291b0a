package summary

import (
	"fmt"
	"strings"

	"shelfspan/analysis"
	"shelfspan/analysis/weightloss"
	"shelfspan/reports/pdf"
	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/study/finding"
)

// warnings lists everything that qualifies the answer, once each.
func (x *writer) warnings() {
	var all []finding.Warning
	all = append(all, x.d.Warnings...)
	all = append(all, x.e.Warnings...)
	for _, a := range x.e.Analyses {
		all = append(all, a.Warnings...)
	}
	for _, r := range x.e.Arrhenius {
		all = append(all, r.Warnings...)
	}
	if x.Schedule != nil {
		all = append(all, x.Schedule.Warnings...)
	}
	all = finding.Dedupe(all)
	x.NewPage(false)
	x.Section("Warnings")
	if len(all) == 0 {
		x.Paragraph("None.")
		return
	}
	// What is the same for several places is said once.
	where := map[finding.Warning][]string{}
	var order []finding.Warning
	for _, w := range all {
		key := finding.Warning{Code: w.Code, Text: w.Text}
		if where[key] == nil {
			order = append(order, key)
		}
		where[key] = append(where[key], dash(w.Where))
	}
	t := pdf.Table{Columns: columns(3, "About", "Warning", "Code"), Wide: true}
	for _, w := range order {
		t.Rows = append(t.Rows, pdf.Texts(strings.Join(where[w], ", "), w.Text, w.Code))
	}
	x.Table(t)
}

// method is one thing done, and the published source it follows.
type method struct{ what, source string }

// methods says how the numbers came about and from which sources; only what
// was used is listed.
func (x *writer) methods() {
	var regression, units, observed, percent, dry bool
	for _, a := range x.e.Analyses {
		regression = regression || len(a.Fits) > 0
		units = units || x.s.Attributes[a.Attribute].Kind == study.Weighing
		dry = dry || a.Losses != nil && a.Losses.Humidity != nil
		observed = observed || a.Status == analysis.Observed
		percent = percent || x.s.Attributes[a.Attribute].Basis == study.BasisPercent
	}
	var auto, curves, censored bool
	for _, a := range x.e.Analyses {
		auto = auto || len(a.Candidates) > 1
		curves = curves || a.Curves != nil
		censored = censored || a.Censored > 0
	}
	var all []method
	add := func(when bool, what, source string) {
		if when {
			all = append(all, method{what, source})
		}
	}
	add(true, "A month is 30.4375 days; elapsed time is counted from the batch's time zero to the day of the pull. A result is judged against its criterion after rounding half up to the decimals reported.", "USP General Notices 7.20")
	add(regression, "Least-squares line of each attribute, condition, pack and orientation over time; shelf life is the first time the confidence limit of the mean meets the acceptance limit, for the batch with the shortest.", "ICH Q1E (2003), appendix B")
	add(regression, fmt.Sprintf("Batches are pooled where slopes, then intercepts, do not differ at the %s level, by extra sum of squares over the mean square of separate lines.", words.Planned(x.s.PoolAlpha)), "ICH Q1E (2003), appendix B")
	add(words.Tested(x.e) != "", "What the residuals say, on the batches' own lines: the farthest studentized deleted residual (Bonferroni), prediction limits of the latest results, lack of fit against replicates, normality (Shapiro-Wilk), spread over time (Koenker), a common quadratic term, a broken line that turns round. "+words.ByChance, "Cook and Weisberg 1982; Draper and Smith 1998; Royston 1995; Koenker 1981; levels and the test of a turn: common practice, no source")
	x.boundMethods(add)
	add(regression, "Residuals are drawn on the value's scale, over time and against the normal quantiles of (i − 3/8)/(n + 1/4), with the line through the quartiles.", "Blom 1958; Hyndman and Fan 1996, type 7")
	add(auto, "Where the model was left open: the lowest AICc of the separate lines, zero-order kept unless another is better by more than 2.", "Hurvich and Tsai 1989; margin: common practice, no source")
	add(curves, "Approach to a plateau and power of time: nonlinear least squares, the bound by the profile likelihood of the time at which the mean meets the limit.", "Golub and Pereyra 1973; Bates and Watts 1988")
	add(censored, "Values below or above a limit of measurement: lines by maximum likelihood with a normal error, the bound by the profile likelihood; batches tested by likelihood ratios brought to the F distribution.", "Tobin 1958; Lawless 2003; the tests: own")
	add(percent, "Limits in percent of initial are judged on the fitted initial value of the same line.", "Fieller 1954")
	add(units, "Weighings: a rate through the origin for each unit; the bound comes from the spread between units, never from repeated masses of one.", "common practice, no source")
	add(units, fmt.Sprintf("Units of a weighing: one-sided tolerance limit of their rates by the noncentral t; leakers by the generalized extreme studentized deviate test at %g; a bend common to the units by the F-test at the same level.", weightloss.Level),
		"Owen 1968; Rosner 1983, about the batches' means Paul and Fung 1991; bend: common practice, no source")
	add(dry, "Loss of semi-permeable packs at low humidity, and the test of 5 % of the initial water: by the ratio of water-loss rates.", "ICH Q1A(R2) (2003), 2.2.7.3; WHO TRS 1010, annex 10")
	add(observed, "Grades and pass or fail: judged by what was observed; the last pull before the first failure.", "ICH Q1E (2003), 2.4 (not amenable to regression)")
	add(x.e.Supported != nil && x.s.Rules != study.NoRules, "How far a shelf life may reach past the data, with the significant-change test at the accelerated condition.", "ICH Q1E (2003), 2.4, 2.5 and appendix A; ICH Q1A(R2) (2003), 2.2.7")
	add(len(x.e.Arrhenius) > 0, "All temperatures in one nonlinear fit with a common activation energy, against a free rate for each; intervals and prediction bounds by profile likelihood. R = 8.314462618 J/(mol K), 0 °C = 273.15 K.", "Moré 1978 (trust region); Bates and Watts 1988 (profiles); CODATA 2018")
	add(len(x.e.Lifetimes) > 0, "Units against their criterion: each a lifetime known by the looks at it. The share failed without a model; exact binomial bounds; where some failed, lognormal and Weibull by maximum likelihood, the lower AICc governing, with an Arrhenius term over temperatures; bounds by profile likelihood, allowing for how few units failed. None of it lengthens a shelf life.", "Peto 1973, Turnbull 1976; Clopper and Pearson 1934; Meeker and Escobar 1998; the allowance: own")
	add(len(x.e.Agreements) > 0, "Agreement of those who graded the same samples: linearly weighted kappa with its large-sample interval; poor below 0.4 or where the interval reaches zero.", "Cohen 1968; Fleiss, Cohen and Everitt 1969; 0.4: common practice, no source")
	add(x.e.Interactions != nil && len(x.e.Interactions.Comparisons) > 0, "Packs, orientations and ingredients: rates compared within batches, and between batches by what they are made of, with simultaneous intervals; months lost by the rates from one start.", "Dunnett 1964; the distribution for any correlations: own integral")
	add(len(x.e.Arrhenius) > 0, "Q10 and the accelerated-ageing factor, as the conventional shortcut only.", "ASTM F1980")

	x.Need(160)
	x.Section("Methods and sources")
	t := pdf.Table{Columns: columns(2, "What was done", "Source")}
	for _, m := range all {
		t.Rows = append(t.Rows, pdf.Texts(m.what, m.source))
	}
	if regression {
		t.Notes = []string{words.Confidence}
	}
	x.Table(t)
}

// provenance says what went in, so that the document can be made again.
func (x *writer) provenance() {
	x.Section("Provenance")
	t := pdf.Table{
		Caption: "Inputs",
		Columns: columns(4, "Input", "What", "SHA-256", "Rows"),
	}
	t.Columns[3].Align = pdf.Right
	if x.StudyFile.Path != "" {
		t.Rows = append(t.Rows, pdf.Texts(x.StudyFile.Path, "study file", x.StudyFile.SHA256, "–"))
	}
	for _, i := range x.d.Inputs {
		t.Rows = append(t.Rows, pdf.Texts(i.Path, "results", i.SHA256, fmt.Sprint(i.Rows)))
	}
	x.Table(t)
	made := []pdf.Row{pdf.Texts("Program", "shelfspan "+x.Version)}
	if m := x.d.Ledger; m != nil {
		made = append(made, pdf.Texts("Ledger", fmt.Sprintf("as of event %d of %s, protocol version %d", m.Event, words.When(m.At), m.Version)),
			pdf.Texts("Hash of that event", m.Hash))
	}
	options := "none beyond the study file's"
	if len(x.Options) > 0 {
		options = joinBy(" ", x.Options...)
	}
	x.Table(pdf.Table{
		Caption: "How it was made",
		Columns: columns(2, "", ""),
		Rows: append(made,
			pdf.Texts("Options", options),
			pdf.Texts("Results taken in", fmt.Sprint(len(x.d.Results))),
			pdf.Texts("Inputs and options, short hash", x.Fingerprint()),
		),
		Notes: []string{"The same inputs, version and options give this document again, byte for byte on the same kind of machine. It carries no date of its making for that reason: the day it is signed is written below. The file keeps these lines for programs too, with a digest of its bytes: shelfspan report --verify reads them."},
	})
	sign := func(role string) pdf.Row {
		r := pdf.Texts(role)
		r.Height = 30
		return r
	}
	x.Table(pdf.Table{
		Caption: "Signatures",
		Wide:    true,
		Columns: columns(4, "", "Name", "Signature", "Date"),
		Rows:    []pdf.Row{sign("Prepared by"), sign("Reviewed by"), sign("Approved by")},
	})
	x.Paragraph(words.Disclaimer)
	if n := x.Replaced(); n > 0 {
		x.Note(fmt.Sprintf("%d characters of the inputs are not in this document's fonts and are shown as %c.", n, pdf.Replacement))
	}
}
