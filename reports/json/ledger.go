package json

import (
	"encoding/json"

	"shelfspan/study"
	"shelfspan/study/schedule"
)

// Registered is the answer of register.
type Registered struct {
	Answer
	Study          string   `json:"study"`
	Ledger         string   `json:"ledger"`
	ProtocolNumber int      `json:"protocol_version"`
	Event          Event    `json:"event"`
	Known          bool     `json:"known"`
	Added          []string `json:"added"`
	Dropped        []string `json:"dropped"`
	Moved          []string `json:"moved"`
}

// NewRegistered fills the answer of register.
func NewRegistered(a Answer, studyID string, r *study.Registration) Registered {
	return Registered{a, studyID, r.Ledger, r.Version, newEvent(&r.Event), r.Known, listed(r.Added), listed(r.Dropped), listed(r.Moved)}
}

// listed gives a list that is never null.
func listed[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

// Due is the answer of due.
type Due struct {
	Answer
	On    string    `json:"on"`
	Until string    `json:"until"`
	Pulls []duePull `json:"pulls"`
}

type duePull struct {
	Study     string  `json:"study"`
	Pull      string  `json:"pull"`
	Condition *string `json:"condition"` // null at time zero
	Chamber   *string `json:"chamber"`
	Time      string  `json:"time"`
	Date      string  `json:"date"`
	Earliest  string  `json:"earliest"`
	Latest    string  `json:"latest"`
	Days      int     `json:"days"` // from the day asked for to the planned one; negative where overdue
	InWindow  bool    `json:"in_window"`
	Units     int     `json:"units"`
	Returned  int     `json:"returned"`
	Part      bool    `json:"part"`
}

// NewDue fills the answer of due.
func NewDue(a Answer, on, until study.Date, list []schedule.Due) Due {
	out := Due{Answer: a, On: on.String(), Until: until.String(), Pulls: []duePull{}}
	for _, d := range list {
		out.Pulls = append(out.Pulls, duePull{
			Study: d.Study, Pull: d.Pull, Condition: orNull(d.Condition), Chamber: orNull(d.Chamber), Time: d.Time,
			Date: d.Date.String(), Earliest: d.Earliest.String(), Latest: d.Latest.String(),
			Days: int(d.Date - on), InWindow: on >= d.Earliest && on <= d.Latest, Units: d.Units, Returned: d.Returned, Part: d.Part,
		})
	}
	return out
}

func orNull(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// Pulled is the answer of pull.
type Pulled struct {
	Answer
	Study    string     `json:"study"`
	Record   pullRecord `json:"record"`
	Units    int        `json:"units_to_take"`
	Returned int        `json:"returned_to_take"`
}

type pullRecord struct {
	Pull        string            `json:"pull"`
	Day         *string           `json:"day"`
	Lines       []study.TakenLine `json:"lines"`
	OutsideDays int               `json:"outside_days"`
	Complete    bool              `json:"complete"`
	Withdrawn   bool              `json:"withdrawn"`
	Reason      string            `json:"reason"`
	Note        string            `json:"note"`
	By          string            `json:"by"`
	At          string            `json:"at"`
	Event       int64             `json:"event"`
}

func newPullRecord(r *study.PullRecord) pullRecord {
	return pullRecord{r.Pull, orNull(r.Day.String()), listed(r.Lines), r.Outside, r.Complete, r.Withdrawn, r.Reason, r.Note, r.By, r.At, r.Event}
}

// NewPulled fills the answer of pull: what was recorded, and what is still to
// be taken.
func NewPulled(a Answer, studyID string, r *study.PullRecord, units, returned int) Pulled {
	return Pulled{a, studyID, newPullRecord(r), units, returned}
}

// TakenIn is the answer of intake.
type TakenIn struct {
	Answer
	Study  string             `json:"study"`
	Tables []study.TakenTable `json:"tables"`
}

// NewTakenIn fills the answer of intake.
func NewTakenIn(a Answer, studyID string, tables []study.TakenTable) TakenIn {
	return TakenIn{a, studyID, listed(tables)}
}

// change is one change of a result.
type change struct {
	Result string  `json:"result"`
	Change string  `json:"change"` // amended, excluded, restored
	Part   *string `json:"part"`   // what was amended: value, pulled, tested, tare; null unless amended
	Before string  `json:"before"`
	After  *string `json:"after"`
	Reason string  `json:"reason"`
	By     string  `json:"by"`
	At     string  `json:"at"`
	Event  int64   `json:"event"`
}

func newChange(c *study.Change) change {
	return change{c.ID, string(c.Kind), orNull(string(c.Part)), c.Before, orNull(c.After), c.Reason, c.By, c.At, c.Event}
}

// Amended is the answer of amend.
type Amended struct {
	Answer
	Study string `json:"study"`
}

// NewAmended fills the answer of amend: its changes are those of the one event.
func NewAmended(a Answer, studyID string, changes []study.Change) Amended {
	for i := range changes {
		a.Changes = append(a.Changes, newChange(&changes[i]))
	}
	return Amended{a, studyID}
}

// Event is one event of a ledger.
type Event struct {
	Number  int64           `json:"number"`
	At      string          `json:"at"`
	By      string          `json:"by"`
	Kind    string          `json:"kind"`
	Study   string          `json:"study"`
	Subject string          `json:"subject"`
	Reason  string          `json:"reason"`
	File    *string         `json:"file"` // SHA-256
	Detail  json.RawMessage `json:"detail"`
	Account string          `json:"account"` // whom the system took the writer for
	Hash    string          `json:"hash"`
}

func newEvent(e *study.Event) Event {
	detail := json.RawMessage(e.Detail)
	if !json.Valid(detail) { // of a damaged event; shown as the text it is
		detail, _ = json.Marshal(e.Detail)
	}
	return Event{e.Seq, e.At, e.By, string(e.Kind), e.Study, e.Subject, e.Reason, orNull(e.File), detail, e.Account, e.Hash}
}

// Audit is the answer of audit.
type Audit struct {
	Answer
	Ledger string  `json:"ledger"`
	Events []Event `json:"events"`
}

// NewAudit fills the answer of audit.
func NewAudit(a Answer, ledger string, events []study.Event) Audit {
	out := Audit{a, ledger, []Event{}}
	for i := range events {
		out.Events = append(out.Events, newEvent(&events[i]))
	}
	return out
}

// Verified is the answer of audit --verify.
type Verified struct {
	Answer
	Ledger  string              `json:"ledger"`
	Sound   bool                `json:"sound"`
	Events  int64               `json:"events"`
	Files   int64               `json:"files"`
	Head    *Event              `json:"head"` // null in a ledger without events
	Witness *int64              `json:"hash_found_at_event"`
	Behind  clockBehind         `json:"clock_behind"`
	Faults  []study.LedgerFault `json:"faults"`
}

// clockBehind counts the events whose recorder's clock was behind that of one before.
type clockBehind struct {
	Events int64 `json:"events"`
	First  int64 `json:"first"` // 0 where there is none
}

// NewVerified fills the answer of audit --verify.
func NewVerified(a Answer, v *study.LedgerCheck) Verified {
	out := Verified{Answer: a, Ledger: v.Ledger, Sound: len(v.Faults) == 0, Events: v.Events, Files: v.Files, Faults: listed(v.Faults)}
	if v.Head.Seq > 0 {
		e := newEvent(&v.Head)
		out.Head = &e
	}
	out.Behind = clockBehind{v.Behind, v.FirstBehind}
	if v.Witness > 0 {
		out.Witness = &v.Witness
	}
	return out
}

// Status is the answer of status.
type Status struct {
	Answer
	On      string        `json:"on"`
	Studies []studyStatus `json:"studies"`
}

type studyStatus struct {
	Study   string       `json:"study"`
	Product string       `json:"product"`
	Version int          `json:"protocol_version"`
	Event   int64        `json:"event"`
	Pulls   []pullStatus `json:"pulls"`
	Arms    []armStatus  `json:"arms"`
	Records []pullRecord `json:"records"`
	Changes []change     `json:"changes"`
}

type pullStatus struct {
	Pull       string  `json:"pull"`
	Condition  *string `json:"condition"`
	Time       string  `json:"time"`
	Date       string  `json:"date"`
	State      string  `json:"state"`
	LateDays   int     `json:"late_days"`
	First      *string `json:"pulled_first"`
	Last       *string `json:"pulled_last"`
	Units      int     `json:"units_planned"`
	Taken      int     `json:"units_taken"`
	Values     int     `json:"values_expected"`
	Measured   int     `json:"values_measured"`
	MissingOut int     `json:"values_missing"`
}

type armStatus struct {
	Condition   string `json:"condition"`
	Batch       string `json:"batch"`
	Pack        string `json:"pack"`
	Orientation string `json:"orientation"`
	Placed      int    `json:"placed"`
	Taken       int    `json:"taken"`
	Left        int    `json:"left"`
	Needed      int    `json:"needed"`
	Short       int    `json:"short"`
}

// NewStatus fills the answer of status.
func NewStatus(a Answer, on study.Date, studies []*schedule.Standing) Status {
	out := Status{Answer: a, On: on.String(), Studies: []studyStatus{}}
	for _, x := range studies {
		s := x.Progress.Schedule.Study
		st := studyStatus{Study: s.ID, Product: s.Product, Pulls: []pullStatus{}, Arms: []armStatus{}, Records: []pullRecord{}, Changes: []change{}}
		if m := x.Dataset.Ledger; m != nil {
			st.Version, st.Event = m.Version, m.Event
		}
		for _, t := range x.Points {
			p := &x.Progress.Schedule.Pulls[t.Pull]
			row := pullStatus{
				Pull: p.ID, Time: p.Time.String(), Date: p.Date.String(), State: string(t.State), LateDays: t.Late,
				First: orNull(t.First.String()), Last: orNull(t.Last.String()), Units: p.Units(), Taken: t.Taken,
				Values: t.Expected, Measured: t.Measured, MissingOut: t.Missing(),
			}
			if p.Condition >= 0 {
				row.Condition = &s.Conditions[p.Condition].ID
			}
			st.Pulls = append(st.Pulls, row)
		}
		for _, arm := range x.Arms {
			st.Arms = append(st.Arms, armStatus{
				s.Conditions[arm.Arm.Condition].ID, s.Batches[arm.Arm.Batch].ID, s.Packs[arm.Arm.Pack].ID,
				string(s.Packs[arm.Arm.Pack].Orientations[arm.Arm.Orientation]), arm.Placed, arm.Taken, arm.Left(), arm.Needed + arm.Back, arm.Short(),
			})
		}
		for i := range x.Progress.Records {
			st.Records = append(st.Records, newPullRecord(&x.Progress.Records[i]))
		}
		for i := range x.Dataset.Changes {
			st.Changes = append(st.Changes, newChange(&x.Dataset.Changes[i]))
		}
		out.Studies = append(out.Studies, st)
	}
	return out
}

// Results is the answer of results.
type Results struct {
	Answer
	Study   string            `json:"study"`
	Results []study.ResultRow `json:"results"`
}

// NewResults fills the answer of results.
func NewResults(a Answer, studyID string, rows []study.ResultRow) Results {
	return Results{a, studyID, listed(rows)}
}
