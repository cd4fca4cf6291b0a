package words

import (
	"fmt"
	"slices"
	"strings"
)

// The titles of the documents' parts, and the heads that both have, stand in
// this file alone, so that another language is one more file like it.

// Languages are those that documents can be had in.
var Languages = []string{"en"}

// Section names a part of the documents: what --section takes, and the anchor
// of the part in a page.
type Section string

// The parts of the documents.
const (
	SectionConclusion   Section = "conclusion"
	SectionProtocol     Section = "protocol"
	SectionPulls        Section = "pulls"
	SectionResults      Section = "results"
	SectionChanges      Section = "changes"
	SectionTrends       Section = "trends"
	SectionArrhenius    Section = "arrhenius"
	SectionInteractions Section = "interactions"
	SectionWarnings     Section = "warnings"
	SectionMethods      Section = "methods"
	SectionProvenance   Section = "provenance"
)

// Sections lists the parts in the order of the PDF.
var Sections = []Section{SectionConclusion, SectionProtocol, SectionPulls, SectionResults, SectionChanges, SectionTrends,
	SectionArrhenius, SectionInteractions, SectionWarnings, SectionMethods, SectionProvenance}

// AlwaysIn are the parts that no choice leaves out, since without them the others
// would mislead: no document keeps back which results were changed.
var AlwaysIn = []Section{SectionConclusion, SectionChanges, SectionProvenance}

var sectionTitles = map[Section]string{
	SectionConclusion:   "Conclusion",
	SectionProtocol:     "Protocol",
	SectionPulls:        "Pulls",
	SectionResults:      "Results",
	SectionChanges:      "Excluded and amended results",
	SectionTrends:       "Trends",
	SectionArrhenius:    "Arrhenius: all temperatures at once",
	SectionInteractions: "Packs, orientations and ingredients compared",
	SectionWarnings:     "Warnings",
	SectionMethods:      "Methods and sources",
	SectionProvenance:   "Provenance",
}

// Title is what stands over a part.
func (s Section) Title() string { return sectionTitles[s] }

// The titles of what only one of the documents has a part for, or both below one.
const (
	TitleLimits        = "What limits each pack"
	TitleTrendsStorage = "Trends at the storage condition"
	TitleTrendsOthers  = "Trends at the other conditions"
	TitleContents      = "Contents"
	TitleLeftOut       = "Left out of this document"
	TitleQuote         = "In one sentence, to be quoted whole"
)

// Captions of tables that both documents have.
const (
	CaptionByPack      = "Supported shelf life by pack"
	CaptionByAttribute = "Supported shelf life by attribute"
	CaptionConditions  = "Storage conditions"
	CaptionBatches     = "Batches"
	CaptionPacks       = "Packs"
	CaptionAttributes  = "Attributes and acceptance criteria"
	CaptionInputs      = "Inputs"
	CaptionMade        = "How it was made"
	CaptionVersions    = "Versions of the protocol"
	CaptionSignatures  = "Signatures"
)

// Heads of tables that both documents have, in the order of their columns.
var (
	HeadsFacts      = []string{"Claim sought", "Storage as labelled", "Rule on extrapolation", "Confidence", "Batches"}
	HeadsVerdicts   = []string{"Pack", "Attribute", "Supported, months", "Regression, months", "Data X, months", "Rule allows, months", "Limited by", "Rule"}
	HeadsConditions = []string{"Condition", "Role", "Temperature, °C", "Humidity, % RH", "Pulls", "Chamber"}
	HeadsBatches    = []string{"Batch", "Scale", "Lot", "Size", "Made", "Time zero", "Formula"}
	HeadsPacks      = []string{"Pack", "Description", "Orientations", "Nature", "Net fill, g", "Water, %"}
	HeadsAttributes = []string{"Attribute", "Unit", "Kind", "Criterion", "Model asked", "Sampling", "Reported to"}
	HeadsPulls      = []string{"Pull", "Condition", "Planned", "Window", "Pulled", "Samples tested", "State"}
	HeadsResults    = []string{"Attribute", "Unit", "Criterion"} // the pulls follow
	HeadsWarnings   = []string{"About", "Warning", "Code"}
	HeadsMethods    = []string{"What was done", "Source"}
	HeadsInputs     = []string{"Input", "What", "SHA-256", "Rows"}
	HeadsVersions   = []string{"Version", "Study file", "Reason", "Event, when, by"}
	HeadsSignatures = []string{"", "Name", "Signature", "Date"}
)

// LeftOut says which parts a document lacks because others were asked for, with
// the number of warnings where those are among them; "" where none is left out.
func LeftOut(kept []Section, warnings int) string {
	if len(kept) == 0 {
		return ""
	}
	var out []string
	for _, s := range Sections {
		if slices.Contains(kept, s) || slices.Contains(AlwaysIn, s) {
			continue
		}
		t := strings.ToLower(s.Title()[:1]) + s.Title()[1:]
		switch {
		case s == SectionArrhenius:
			t = s.Title() // a name
		case s == SectionWarnings && warnings > 0:
			t = fmt.Sprintf("%s (%d in number)", t, warnings)
		}
		out = append(out, t)
	}
	if len(out) == 0 {
		return ""
	}
	return "This document is a part of the whole. Left out of it, where the study has it: " + strings.Join(out, "; ") + "."
}
