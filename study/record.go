package study

// Mark says which state of a ledger a dataset was read from. The same mark
// gives the same dataset again.
type Mark struct {
	Ledger string // the ledger, as it may be shown: a path, or a server without its password
	Event  int64  // number of the last event that concerns the study
	At     string // when that event was recorded, RFC 3339 with the recorder's offset
	Hash   string // of that event, in hex; it covers every event before it
	// Version is the version of the protocol in force, from 1.
	Version int
}

// Change is what was done to a result after it was taken in: it was given
// another value, or taken out of the analysis, or put back into it.
type Change struct {
	ID            string // of the result, as amend takes it
	Kind          ChangeKind
	Result        Result // the result as it now stands, in or out of the analysis
	Before, After string // the values as they are written; After is empty unless amended
	Reason        string
	By, At        string // who and when, RFC 3339
	Event         int64  // number of the event in the ledger
}

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
	Day       Date   // on which the samples were taken
	Lines     []TakenLine
	Outside   int    // days by which the day missed the pull's window: negative too early, positive too late; 0 within
	Complete  bool   // with it, all that the plan took at this pull was taken
	Withdrawn bool   // a later record says that this one was in error
	Reason    string // of a deviation; empty where there is none
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
