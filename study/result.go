package study

import "shelfspan/study/finding"

// Censor says whether a value is a number or a limit it lies beyond.
type Censor int8

// How a value stands to the truth.
const (
	Exact     Censor = 0
	BelowThat Censor = -1 // "<5": the true value is below Value
	AboveThat Censor = 1  // ">5": the true value is above Value
)

// Result is one measured value. It is kept small, since a ledger may hold
// millions: ids are indices into the Study, texts indices into Dataset.Texts
// (0 is the empty text).
type Result struct {
	Value   float64 // as reported: a number, a grade's rank, 0 pass / 1 fail, or for weighings the gross mass in g
	Elapsed float64 // months of 30.4375 days since the batch's time zero, from Pulled where given, else planned
	Tare    float64 // g, weighings only: of the unit, from any of its rows, else of the pack; NaN where neither is known

	Planned Duration // the planned pull; of rows with only Pulled, the pull whose window holds it
	Pulled  Date     // NoDate where not given
	Tested  Date     // NoDate where not given

	Unit, Replicate          uint32 // texts
	Analyst, Method, Comment uint32 // texts
	Line                     uint32 // 1-based in its input
	Batch, Pack, Attribute   uint16 // indices into the Study
	Condition                int16  // index into the Study; -1 at time 0 without one
	Input                    uint16 // index into Dataset.Inputs
	Orientation              uint8  // index into the pack's Orientations
	Censor                   Censor
	Numbered                 bool // the table gives it no unit and no replicate, but the others of its pull are in the same table; its number among them stands for one
	InWindow                 bool // pulled within the window of Planned, or only the planned time is known
	OffPlan                  bool // Planned is no pull of the study: a time it does not plan, or the days to a Pulled in no pull's window
}

// Input is one file that was read, for the provenance of an answer.
type Input struct {
	Path   string `json:"path"`
	SHA256 string `json:"sha256"` // hex
	Rows   int    `json:"rows"`   // data rows; 0 for a study file
}

// Dataset is a study with the results taken in for it.
type Dataset struct {
	Study    *Study
	Results  []Result
	Texts    []string // Texts[0] is ""
	Inputs   []Input  // the study file is not among them
	Warnings []finding.Warning

	// What a ledger adds; of files, a table may say what was changed of its results.
	Ledger    *Mark
	Protocols []ProtocolVersion // up to that in force, ascending
	Excluded  []Result          // taken out of the analysis; not among Results
	Changes   []Change          // of results after they were taken in, in the order they were made
	Pulls     []PullRecord      // in the order they were recorded
}

// Text gives an interned text.
func (d *Dataset) Text(i uint32) string { return d.Texts[i] }
