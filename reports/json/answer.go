// Package json writes answers as JSON for scripts: UTF-8, months and °C as
// plain numbers, null where there is no finite value.
package json

import (
	"encoding/json"
	"io"
	"math"
	"strconv"

	"shelfspan/study"
	"shelfspan/study/finding"
)

// Number is a float64 that is written as null where it is not finite.
type Number float64

// MarshalJSON writes the shortest text that reads back as the same number.
func (n Number) MarshalJSON() ([]byte, error) {
	x := float64(n)
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return []byte("null"), nil
	}
	return strconv.AppendFloat(nil, x, formatOf(x), -1, 64), nil
}

func formatOf(x float64) byte {
	if a := math.Abs(x); a != 0 && (a < 1e-6 || a >= 1e21) {
		return 'e'
	}
	return 'f'
}

// Answer is what every answer carries. A command's own struct embeds it first.
type Answer struct {
	Tool     string            `json:"tool"`
	Version  string            `json:"version"`
	Command  string            `json:"command"`
	Inputs   []study.Input     `json:"inputs"`
	Warnings []finding.Warning `json:"warnings"`
	Ledger   *mark             `json:"ledger,omitempty"`  // where the results come from a ledger
	Changes  []change          `json:"changes,omitempty"` // of results after they were taken in
}

// mark is the state of a ledger that an answer comes from. Where the ledger lies is
// not part of it: its hash names it, and a copy elsewhere gives the same answer.
type mark struct {
	Event   int64  `json:"event"`
	At      string `json:"at"`
	Hash    string `json:"hash"`
	Version int    `json:"protocol_version"`

	Versions []study.ProtocolVersion `json:"versions"` // of the protocol, up to that one
}

// From adds what a ledger says of the results.
func (a Answer) From(d *study.Dataset) Answer {
	if m := d.Ledger; m != nil {
		a.Ledger = &mark{m.Event, m.At, m.Hash, m.Version, listed(d.Protocols)}
	}
	for i := range d.Changes {
		a.Changes = append(a.Changes, newChange(&d.Changes[i]))
	}
	return a
}

// NewAnswer fills the head of an answer; its lists are never null.
func NewAnswer(version, command string, inputs []study.Input, warnings []finding.Warning) Answer {
	if inputs == nil {
		inputs = []study.Input{}
	}
	if warnings == nil {
		warnings = []finding.Warning{}
	}
	return Answer{Tool: "shelfspan", Version: version, Command: command, Inputs: inputs, Warnings: warnings}
}

// Write writes an answer, indented, with a final line end.
func Write(w io.Writer, answer any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(answer)
}
