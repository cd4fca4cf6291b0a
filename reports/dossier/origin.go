package dossier

import (
	"encoding/json"
	"errors"
	"fmt"

	"shelfspan/study"
)

// Origin is what a document says, to programs, of what it was made from.
type Origin struct {
	Tool        string        `json:"tool"`
	Version     string        `json:"version"`
	Study       string        `json:"study"`
	Inputs      []study.Input `json:"inputs"` // the study file first
	Options     []string      `json:"options"`
	Ledger      *State        `json:"ledger,omitempty"` // where the results come from a ledger
	Fingerprint string        `json:"fingerprint"`      // the short hash at the foot of each page
}

// State is the state of a ledger that a document comes from.
type State struct {
	Event   int64  `json:"event"`
	At      string `json:"at"`
	Hash    string `json:"hash"`
	Version int    `json:"protocol_version"`
}

// Origin gives what a document of the input says of itself.
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

// Record writes an origin as it is kept in a document, in JSON.
func (o Origin) Record() (string, error) {
	text, err := json.Marshal(o)
	return string(text), err
}

// ErrForeign is a record that no document of this program has.
var ErrForeign = errors.New("its record is none of a summary")

// OriginOf reads the record of a document; it fails with ErrForeign.
func OriginOf(record string) (Origin, error) {
	var o Origin
	if err := json.Unmarshal([]byte(record), &o); err != nil {
		return Origin{}, fmt.Errorf("%w: %v", ErrForeign, err)
	}
	if o.Tool != "shelfspan" || o.Version == "" || len(o.Inputs) == 0 {
		return Origin{}, ErrForeign
	}
	return o, nil
}
