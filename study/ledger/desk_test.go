package ledger

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"shelfspan/study"
	"shelfspan/study/finding"
	"shelfspan/study/schedule"
)

// desk is a person at a ledger, at a time of the clock.
type desk struct {
	*testing.T
	l   *Ledger
	who Author
}

// at gives a desk at a new ledger, at noon of 14 April 2025.
func at(t *testing.T, where string) *desk {
	return &desk{T: t, l: create(t, where), who: ada(noon)}
}

// on gives the desk at noon of another day.
func (d *desk) on(day string) *desk {
	d.Helper()
	other := *d
	now, err := time.ParseInLocation("2006-01-02 15:04", day+" 12:00", noon.Location())
	if err != nil {
		d.Fatal(err)
	}
	other.who.Now = now
	return &other
}

func (d *desk) register(text, reason string) *RegisterOutcome {
	d.Helper()
	out, err := d.l.Register(context.Background(), d.who, "study.toml", []byte(text), reason)
	if err != nil {
		d.Fatal(err)
	}
	return out
}

func (d *desk) pull(q PullRequest) *PullOutcome {
	d.Helper()
	out, err := d.l.Pull(context.Background(), d.who, q)
	if err != nil {
		d.Fatal(err)
	}
	return out
}

func (d *desk) withdraw(pull string) *PullOutcome {
	d.Helper()
	out, err := d.l.WithdrawPull(context.Background(), d.who, pull, "wrong chamber")
	if err != nil {
		d.Fatal(err)
	}
	return out
}

func (d *desk) takeIn(id string, files ...File) *IntakeOutcome {
	d.Helper()
	out, err := d.l.TakeIn(context.Background(), d.who, id, files...)
	if err != nil {
		d.Fatal(err)
	}
	return out
}

func (d *desk) amend(q AmendRequest) *AmendOutcome {
	d.Helper()
	out, err := d.l.Amend(context.Background(), d.who, q)
	if err != nil {
		d.Fatal(err)
	}
	return out
}

// record gives what the ledger holds of a study.
func (d *desk) record(id string, state AsOf) *Record {
	d.Helper()
	x, err := d.l.Study(context.Background(), id, state)
	if err != nil {
		d.Fatal(err)
	}
	return x
}

func (d *desk) dataset(id string, state AsOf) *study.Dataset {
	d.Helper()
	data, err := d.record(id, state).Dataset()
	if err != nil {
		d.Fatal(err)
	}
	return data
}

func (d *desk) due(upTo string, studies ...string) []schedule.Due {
	d.Helper()
	list, err := d.l.Due(context.Background(), day(upTo), studies...)
	if err != nil {
		d.Fatal(err)
	}
	return list
}

// stands gives how the ledger stands, which must be sound.
func (d *desk) stands() *study.LedgerCheck {
	d.Helper()
	v, err := d.l.Verify(context.Background(), "", nil)
	if err != nil || len(v.Faults) > 0 {
		d.Fatalf("%+v, %v", v, err)
	}
	return v
}

// refuses checks that a step is refused with these words, in its text or its
// hint, and leaves the ledger as it was.
func (d *desk) refuses(step func() error, says ...string) {
	d.Helper()
	before := d.stands()
	err := step()
	if err == nil {
		d.Errorf("not refused; want %q", says)
		return
	}
	told := err.Error()
	var refusal *Refusal
	var faults *finding.Faults
	var trouble *Trouble
	switch {
	case errors.As(err, &refusal):
		told += "\n" + refusal.Hint
	case errors.As(err, &faults):
		told += "\n" + faults.Hint
	case errors.As(err, &trouble):
		told += "\n" + trouble.Hint
	default:
		d.Errorf("%T: %v", err, err)
	}
	for _, text := range says {
		if !strings.Contains(told, text) {
			d.Errorf("%s\nwant %q", told, text)
		}
	}
	if after := d.stands(); after.Events != before.Events || after.Files != before.Files || after.Head.Hash != before.Head.Hash {
		d.Errorf("refused (%v), and yet changed: %d events and %d files, now %d and %d", err, before.Events, before.Files, after.Events, after.Files)
	}
}

func (d *desk) refusesPull(q PullRequest, says ...string) {
	d.Helper()
	d.refuses(func() error { _, err := d.l.Pull(context.Background(), d.who, q); return err }, says...)
}

func (d *desk) refusesAmend(q AmendRequest, says ...string) {
	d.Helper()
	d.refuses(func() error { _, err := d.l.Amend(context.Background(), d.who, q); return err }, says...)
}

func (d *desk) refusesRegister(text, reason string, says ...string) {
	d.Helper()
	d.refuses(func() error {
		_, err := d.l.Register(context.Background(), d.who, "study.toml", []byte(text), reason)
		return err
	}, says...)
}

func (d *desk) refusesTakeIn(id string, files []File, says ...string) {
	d.Helper()
	d.refuses(func() error { _, err := d.l.TakeIn(context.Background(), d.who, id, files...); return err }, says...)
}

// same checks that two texts are the same.
func (d *desk) same(what string, got, want any) {
	d.Helper()
	if g, w := fmt.Sprint(got), fmt.Sprint(want); g != w {
		d.Errorf("%s: %s\nwant %s", what, g, w)
	}
}

// day reads a day that is right; the empty one is NoDate.
func day(text string) study.Date {
	if text == "" {
		return study.NoDate
	}
	d, err := study.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

// sumOf is the SHA-256 of a text in hex.
func sumOf(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

// results is a table of results of the small study: a row is batch, time, unit and
// value.
func results(rows ...string) []byte {
	var b strings.Builder
	b.WriteString("batch,condition,time,attribute,unit,value\n")
	for _, row := range rows {
		f := strings.Fields(row)
		fmt.Fprintf(&b, "%s,25C60,%s,assay,%s,%s\n", f[0], f[1], f[2], f[3])
	}
	return []byte(b.String())
}

// values writes the results of a dataset of the small study one beside the other,
// those out of the analysis in brackets.
func values(d *study.Dataset) string {
	var out []string
	for k, list := range [][]study.Result{d.Results, d.Excluded} {
		for i := range list {
			r := &list[i]
			text := fmt.Sprintf("%s %s %s %s", d.Study.Batches[r.Batch].ID, r.Planned, d.Text(r.Unit), study.ValueText(d.Study, r))
			if k == 1 {
				text = "(" + text + ")"
			}
			out = append(out, text)
		}
	}
	return strings.Join(out, ", ")
}

// pulls writes what is due.
func pulls(list []schedule.Due) string {
	var out []string
	for _, p := range list {
		text := fmt.Sprintf("%s %d", p.Pull, p.Units)
		if p.Part {
			text += " of part"
		}
		out = append(out, text)
	}
	return strings.Join(out, ", ")
}

// taken writes what a record says was taken of which arm.
func taken(r *study.PullRecord) string {
	var out []string
	for _, t := range r.Lines {
		text := strings.Join(slices.DeleteFunc([]string{t.Batch, t.Pack, t.Orientation}, func(s string) bool { return s == "" }), " ")
		text += fmt.Sprintf(" %d", t.Units)
		if t.Returned > 0 {
			text += fmt.Sprintf("+%d", t.Returned)
		}
		out = append(out, text)
	}
	return strings.Join(out, ", ")
}

func number(n int) *int { return &n }
