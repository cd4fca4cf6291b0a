package summary

import (
	"encoding/json"
	"errors"
	"fmt"

	"shelfspan/reports/pdf"
	"shelfspan/study"
)

// Origin is what a summary says, to programs, of what it was made from. It is kept
// in the file as its record; see pdf.ReadRecord for what the digest beside it shows.
type Origin struct {
	Tool        string        `json:"tool"`
	Version     string        `json:"version"`
	Study       string        `json:"study"`
	Inputs      []study.Input `json:"inputs"` // the study file first
	Options     []string      `json:"options"`
	Ledger      *State        `json:"ledger,omitempty"` // where the results come from a ledger
	Fingerprint string        `json:"fingerprint"`      // the short hash at the foot of each page
}

// State is the state of a ledger that a summary comes from.
type State struct {
	Event   int64  `json:"event"`
	At      string `json:"at"`
	Hash    string `json:"hash"`
	Version int    `json:"protocol_version"`
}

// Origin gives what a summary of the input says of itself.
func (in Input) Origin() Origin {
	d := in.Evaluation.Dataset
	o := Origin{
		Tool: "shelfspan", Version: in.Version, Study: d.Study.ID, Inputs: append([]study.Input{in.StudyFile}, d.Inputs...),
		Options: append([]string{}, in.Options...), Fingerprint: in.Fingerprint(),
	}
	if m := d.Ledger; m != nil {
		o.Ledger = &State{m.Event, m.At, m.Hash, m.Version}
	}
	return o
}

func (o Origin) record() string {
	text, err := json.Marshal(o)
	if err != nil { // strings and numbers have a JSON
		panic(err)
	}
	return string(text)
}

// ErrForeign is a record that no summary of this program has.
var ErrForeign = errors.New("its record is none of a summary")

// ReadOrigin reads what a summary says of itself, whatever the file is.
func ReadOrigin(file []byte) (Origin, pdf.Record, error) {
	r, err := pdf.ReadRecord(file)
	if err != nil {
		return Origin{}, r, err
	}
	var o Origin
	if err := json.Unmarshal([]byte(r.Text), &o); err != nil {
		return Origin{}, r, fmt.Errorf("%w: %v", ErrForeign, err)
	}
	if o.Tool != "shelfspan" || o.Version == "" || len(o.Inputs) == 0 {
		return Origin{}, r, ErrForeign
	}
	return o, r, nil
}
