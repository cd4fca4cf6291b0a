package study

// Mark says which state of a ledger a dataset was read from. The same mark
// gives the same dataset again.
type Mark struct {
	Event int64  // number of the last event that concerns the study
	At    string // when that event was recorded, RFC 3339 with the recorder's offset
	Hash  string // of that event, in hex; it covers every event before it
	// Version is the version of the protocol in force, from 1.
	Version int
}

// ProtocolVersion is one version of a study's protocol: when, by whom and why it
// came into force.
type ProtocolVersion struct {
	Version int    `json:"version"` // from 1
	Name    string `json:"name"`    // of the study file, as it was registered
	SHA256  string `json:"sha256"`  // of its bytes, in hex
	Event   int64  `json:"event"`
	At      string `json:"at"` // RFC 3339 with the recorder's offset
	By      string `json:"by"`
	Reason  string `json:"reason"` // empty of the first
}

// Change is what was done to a result after it was taken in: its value, one of
// its days or its tare was amended, or it was taken out of the analysis, or put
// back into it.
type Change struct {
	ID            string // of the result, as amend takes it
	Kind          ChangeKind
	Part          Part   // what was amended; empty unless amended
	Result        Result // the result as it now stands, in or out of the analysis
	Before, After string // as they are written, of what was amended, else the value; Before is empty where there was no day or tare, After unless amended
	Reason        string
	By, At        string // who and when, RFC 3339; where a table says it and no ledger, both in By as it has them, or empty
	Event         int64  // number of the event in the ledger; 0 where a table says it
}

// Part is what can be amended of a result: its value, or what it has from the row
// of the table it came with.
type Part string

// The parts. A tare belongs to a unit, and so to all weighings of it.
const (
	PartValue  Part = "value"
	PartPulled Part = "pulled"
	PartTested Part = "tested"
	PartTare   Part = "tare"
)

// ChangeKind is what a Change did.
type ChangeKind string

// The kinds of change.
const (
	Amended  ChangeKind = "amended"
	Excluded ChangeKind = "excluded"
	Restored ChangeKind = "restored" // an exclusion was withdrawn
)

// PullRecord is what was recorded of a pull: that samples were taken, or that an
// earlier record was withdrawn.
type PullRecord struct {
	Pull      string // its id
	Condition string // id; empty at time zero
	Time      Duration
	Day       Date // on which the samples were taken
	Lines     []TakenLine
	Other     bool   // other units than planned: more, or fewer and no more to come
	Outside   int    // days by which the day missed the pull's window: negative too early, positive too late; 0 within
	Complete  bool   // with it, all that the plan took at this pull was taken
	Withdrawn bool   // a later record says that this one was in error
	Reason    string // of a deviation, or given without one
	Note      string
	By, At    string // who recorded it and when, RFC 3339
	Event     int64  // number of the event in the ledger
}

// TakenLine is what was taken of one arm at a pull; ids are those of the
// study file, the orientation is empty at time zero.
type TakenLine struct {
	Batch       string `json:"batch"`
	Pack        string `json:"pack,omitempty"`
	Orientation string `json:"orientation,omitempty"`
	Units       int    `json:"units"`              // opened
	Returned    int    `json:"returned,omitempty"` // measured and put back
}

// TakenTable is a table of results that was handed in to a ledger.
type TakenTable struct {
	File    string `json:"file"`
	SHA256  string `json:"sha256"`
	Event   int64  `json:"event"` // by which it was taken in
	Known   bool   `json:"known"` // its bytes were taken in before, by that event; nothing was changed for it
	Rows    int    `json:"rows"`
	Results int    `json:"results"` // values that were new
	Again   int    `json:"again"`   // values that were there already, the same
	// Superseded counts those of Again with a value, day or tare that was amended
	// since; what it was amended to stands. Of a table whose bytes are known it is 0.
	Superseded int    `json:"superseded"`
	By         string `json:"by"`
	At         string `json:"at"`
}

// LedgerFault is one thing in a ledger that is not as it was written.
type LedgerFault struct {
	Event int64  `json:"event,omitempty"` // the first event that does not fit; 0 where it is about none
	Text  string `json:"text"`
}

// LedgerCheck is what a check of a whole ledger found.
type LedgerCheck struct {
	Ledger        string
	Events, Files int64
	Head          Event         // the last event; its Seq is 0 where there is none
	Witness       int64         // the event whose hash was asked for; 0 where none was, or it is gone
	Faults        []LedgerFault // in the order of the checks; empty where all is sound

	// Behind counts the events stamped by a clock that was behind that of an event
	// before by more than clocks of two machines differ; FirstBehind is the first.
	Behind, FirstBehind int64
}

// Registration is what became of a study file that was handed in to a ledger.
type Registration struct {
	Ledger  string
	Version int // of the protocol
	Event   Event
	Known   bool // these very bytes are the version in force; nothing was changed

	// Of a version after the first, against the one before it: the ids of pulls.
	Added, Dropped, Moved []string
	// DroppedTaken are pulls of Dropped of which something was taken already; the
	// records stay.
	DroppedTaken []string
}

// ResultRow is one result as people look it up, with the id that amend takes.
type ResultRow struct {
	ID        string `json:"id" csv:"id"`
	Batch     string `json:"batch" csv:"batch"`
	Condition string `json:"condition" csv:"condition"` // empty at time zero without one
	Arm       string `json:"-" csv:"-"`                 // batch, pack and orientation, as far as they tell it apart
	Pack      string `json:"pack" csv:"pack"`
	Standing  string `json:"orientation" csv:"orientation"`
	Time      string `json:"time" csv:"time"`
	Pulled    string `json:"pulled" csv:"pulled"`
	Tested    string `json:"tested" csv:"tested"`
	Attribute string `json:"attribute" csv:"attribute"`
	Unit      string `json:"unit" csv:"unit"`
	Replicate string `json:"replicate" csv:"replicate"`
	Value     string `json:"value" csv:"value"`
	Measure   string `json:"unit_of_measure" csv:"unit_of_measure"`
	State     string `json:"state" csv:"state"` // what was changed of it, in words; empty where nothing was
	Table     string `json:"table" csv:"table"`
	Line      int    `json:"line" csv:"line"`
	Analyst   string `json:"analyst" csv:"analyst"`
	Method    string `json:"method" csv:"method"`
	Comment   string `json:"comment" csv:"comment"`
	// Changes is what was changed of it, in order, which State tells.
	Changes []Change `json:"-" csv:"-"`
}
