package study

// EventKind is what an event says happened.
type EventKind string

// The kinds of event.
const (
	EventRegister      EventKind = "register"       // subject: the version of the protocol; file: the study file
	EventPull          EventKind = "pull"           // subject: the pull, of which with it all is taken
	EventPullPart      EventKind = "pull-part"      // subject: the pull, of which something is still to be taken
	EventPullWithdrawn EventKind = "pull-withdrawn" // subject: the pull, whose records so far were in error
	EventIntake        EventKind = "intake"         // subject: the name of the file; file: its bytes
	EventAmend         EventKind = "amend"          // subject: the result
	EventAmendRows     EventKind = "amend-rows"     // subject: the result or the pull whose day, or the result whose tare
	EventExclude       EventKind = "exclude"        // subject: the result
	EventRestore       EventKind = "restore"        // subject: the result
)

// EventKinds lists every kind, in the order of the work.
func EventKinds() []EventKind {
	return []EventKind{EventRegister, EventPull, EventPullPart, EventPullWithdrawn, EventIntake, EventAmend, EventAmendRows, EventExclude, EventRestore}
}

// Event is one thing that happened.
type Event struct {
	Seq     int64  // its number, from 1 without a gap
	At      string // when, RFC 3339 to the second with the recorder's offset
	By      string
	Kind    EventKind
	Study   string
	Subject string // what it is about; see the kinds
	Reason  string
	File    string // SHA-256 of a stored file in hex; empty where none belongs to it
	Detail  string // one JSON object; its keys depend on the kind
	// Account is whom the system took the writer for, whoever By says it was: the login
	// name on the machine of a file, the role on a server. Empty where none was known.
	Account string
	Hash    string // of the chain up to and with this event, in hex
}
