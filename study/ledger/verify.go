package ledger

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"shelfspan/study"
)

// check is a check of the whole ledger under way.
type check struct {
	study.LedgerCheck
	kind engine
}

// Verify recomputes the whole chain and the hash of every stored file, reads
// every study again, and says what does not fit. Witness is a hash noted
// earlier, in hex, or its first 12 digits or more: that it is not in the chain
// any more means that what stood there was cut off or replaced; empty asks for
// none. Progress, which may be nil, is called now and then with the events seen.
func (l *Ledger) Verify(ctx context.Context, witness string, progress func(events int64)) (*study.LedgerCheck, error) {
	witness = strings.ToLower(witness)
	if witness != "" && (len(witness) < 12 || len(witness) > 2*sha256.Size || strings.Trim(witness, "0123456789abcdef") != "") {
		return nil, refuse("reports print it behind the number of the event", "%q is no hash: 12 to 64 digits 0-9 and a-f", witness)
	}
	var v *check
	// What lies beneath the tables is looked at meanwhile, in a state of its own:
	// no state of a sound ledger is damaged.
	type beneath struct {
		found []string
		err   error
	}
	looked := make(chan beneath, 1)
	go func() {
		found, err := l.kind.damage(ctx, l.db)
		looked <- beneath{found, err}
	}()
	err := l.read(ctx, func(r *reading) error {
		v = &check{study.LedgerCheck{Ledger: l.name}, l.kind}
		seen, err := r.verifyChain(v, witness, progress)
		if err != nil {
			return err
		}
		if err := r.verifyFiles(v, seen.files); err != nil {
			return err
		}
		if len(v.Faults) == 0 { // what is not as it was written need not be read
			if err := r.verifyStudies(v, seen); err != nil {
				return err
			}
		}
		found, err := l.kind.unguarded(ctx, r.tx)
		for _, text := range found {
			v.fault(0, "%s", text)
		}
		return err
	})
	under := <-looked
	switch {
	case err != nil:
		return nil, err
	case under.err != nil && !l.kind.broken(under.err):
		return nil, l.trouble(under.err)
	}
	for _, text := range under.found {
		v.fault(0, "the file is damaged: %s", text)
	}
	if under.err != nil && len(v.Faults) == 0 {
		v.fault(0, "%v", l.trouble(under.err))
	}
	return &v.LedgerCheck, nil
}

func (v *check) fault(event int64, format string, args ...any) {
	v.Faults = append(v.Faults, study.LedgerFault{Event: event, Text: fmt.Sprintf(format, args...)})
}

// chainSeen is what the chain spoke of.
type chainSeen struct {
	files   map[string]int64   // stored files, each with the first event that names it
	studies map[string]*Record // folded from their events, their protocols yet to be read
	odd     map[string]error   // of studies whose events are not understood
	latest  time.Time          // of the events so far, by their recorders' clocks
	at      string             // of the event before, as it stands
}

// chunk is events on their way from the database to the hash.
type chunk struct {
	n      int
	bytes  []byte                               // canonical, side by side
	ends   [chunkEvents]int                     // of each event in bytes
	fields [chunkEvents][canonicalFields][2]int // where each field stands in bytes
	hashes [chunkEvents][2 * sha256.Size]byte   // as they are stored
}

const (
	chunkEvents     = 512
	canonicalFields = 10
)

// verifyChain follows the chain and gives what it speaks of. A fault ends it: of
// what follows nothing can be said. The database is read by one goroutine while
// another computes hashes and folds the events into records.
func (r *reading) verifyChain(v *check, witness string, progress func(int64)) (*chainSeen, error) {
	rows, err := r.tx.QueryContext(r.ctx, `SELECT `+eventColumns+` FROM event ORDER BY seq`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	seen := &chainSeen{
		files: make(map[string]int64), studies: make(map[string]*Record), odd: make(map[string]error),
	}
	full, empty := make(chan *chunk, 4), make(chan *chunk, 4)
	for range cap(empty) {
		empty <- &chunk{}
	}
	broken := make(chan int64, 1)
	go func() {
		var before [sha256.Size]byte
		bad, next := int64(0), int64(1)
		for c := range full {
			if bad == 0 {
				before, bad = seen.follow(v, c, before, next, witness)
			}
			next += int64(c.n)
			c.n, c.bytes = 0, c.bytes[:0]
			empty <- c
		}
		broken <- bad
	}()
	c := <-empty
	var seq int64
	gap := false
	var column [canonicalFields]text // all but the number, and last the hash
	targets := []any{&seq}
	for i := range column {
		targets = append(targets, &column[i])
	}
	for rows.Next() {
		if err = rows.Scan(targets...); err != nil {
			break
		}
		if gap = seq != v.Events+1; gap {
			break
		}
		v.Events++
		c.add(seq, &column)
		if c.n == chunkEvents {
			full <- c
			c = <-empty
			if progress != nil {
				progress(v.Events)
			}
		}
	}
	full <- c
	close(full)
	bad := <-broken
	if err == nil && !gap {
		err = rows.Err()
	}
	if err != nil && !v.kind.broken(err) {
		return nil, err
	}
	rows.Close()
	switch {
	case bad > 0:
		v.fault(bad, "event %d is not as it was written, or what stood before it is not", bad)
	case gap && seq > v.Events+1:
		v.fault(v.Events+1, "event %d is missing: %d follows %d", v.Events+1, seq, v.Events)
	case gap:
		v.fault(seq, "event %d stands where event %d should", seq, v.Events+1)
	case err != nil:
		v.fault(v.Events+1, "event %d cannot be read: the ledger is damaged there", v.Events+1)
	}
	last, err := r.events(`ORDER BY seq DESC LIMIT 1`)
	if err != nil && !v.kind.broken(err) {
		return nil, err
	}
	if len(last) > 0 {
		v.Head = last[0]
	}
	if witness != "" && v.Witness == 0 {
		v.fault(0, "no event has the hash %s: what stood there was cut off or replaced, or it is another ledger's", witness)
	}
	return seen, nil
}

// text is a column of texts. What came as bytes is compared as bytes, in an order
// of its own: a search would not find it, so it is not as it was written.
type text struct {
	is  string // until the next row is read
	odd bool
}

// Scan is called by database/sql.
func (t *text) Scan(value any) error {
	*t = text{}
	switch v := value.(type) {
	case nil:
	case string:
		t.is = v
	default:
		t.odd = true
	}
	return nil
}

// add puts one event into a chunk.
func (c *chunk) add(seq int64, column *[canonicalFields]text) {
	var digits [20]byte
	field := func(i, length int) { c.fields[c.n][i] = [2]int{len(c.bytes) - 1 - length, len(c.bytes) - 1} }
	number := strconv.AppendInt(digits[:0], seq, 10)
	c.bytes = netstring(c.bytes, number)
	field(0, len(number))
	odd := false
	for i := range column {
		odd = odd || column[i].odd
	}
	for i := range column[:canonicalFields-1] {
		if i == canonicalFields-2 && column[i].is == "" { // an event without an account
			break
		}
		c.bytes = netstring(c.bytes, column[i].is)
		field(i+1, len(column[i].is))
	}
	c.ends[c.n] = len(c.bytes)
	c.hashes[c.n] = [2 * sha256.Size]byte{}
	if hash := column[canonicalFields-1].is; len(hash) == 2*sha256.Size && !odd {
		copy(c.hashes[c.n][:], hash)
	}
	c.n++
}

// event gives one event of a chunk, without its number.
func (c *chunk) event(i int) Event {
	field := func(k int) string { f := c.fields[i][k]; return string(c.bytes[f[0]:f[1]]) }
	return Event{
		At: field(1), By: field(2), Kind: Kind(field(3)), Study: field(4), Subject: field(5), Reason: field(6), File: field(7), Detail: field(8),
		Hash: string(c.hashes[i][:]),
	}
}

// follow takes a chunk of events, the first of number next, into the chain after
// a hash. It gives the last hash, and the first event that does not fit; 0 where
// all do.
func (x *chainSeen) follow(v *check, c *chunk, before [sha256.Size]byte, next int64, witness string) ([sha256.Size]byte, int64) {
	var text [2 * sha256.Size]byte
	from := 0
	for i := range c.n {
		before = chained(before, c.bytes[from:c.ends[i]])
		from = c.ends[i]
		hex.Encode(text[:], before[:])
		seq := next + int64(i)
		if text != c.hashes[i] {
			return before, seq
		}
		if witness != "" && v.Witness == 0 && strings.HasPrefix(string(text[:]), witness) {
			v.Witness = seq
		}
		e := c.event(i)
		e.Seq = seq
		x.take(e)
		x.clock(v, &e)
	}
	return before, 0
}

// clock looks whether an event's recorder had a clock behind one before.
func (x *chainSeen) clock(v *check, e *Event) {
	if e.At == x.at { // as most are that come in one go
		return
	}
	at, err := time.Parse(time.RFC3339, e.At)
	switch x.at = e.At; {
	case err != nil:
	case at.Before(x.latest.Add(-skew)):
		x.at = "" // the next of this time is behind too
		if v.Behind++; v.Behind == 1 {
			v.FirstBehind = e.Seq
		}
	case at.After(x.latest):
		x.latest = at
	}
}

// take folds an event into the record of its study.
func (x *chainSeen) take(e Event) {
	name := func(file string) {
		if file != "" && x.files[file] == 0 {
			x.files[file] = e.Seq
		}
	}
	name(e.File)
	r := x.studies[e.Study]
	if r == nil {
		r = &Record{}
		x.studies[e.Study] = r
	}
	if err := r.add(e); err != nil && x.odd[e.Study] == nil {
		x.odd[e.Study] = err
	}
	if e.Kind == study.EventRegister {
		var d registerDetail
		if json.Unmarshal([]byte(e.Detail), &d) == nil {
			name(d.Plan)
		}
	}
}

// verifyFiles recomputes the hash of every stored file. Which files belong to no
// event is known where the chain was followed to its end.
func (r *reading) verifyFiles(v *check, named map[string]int64) error {
	rows, err := r.tx.QueryContext(r.ctx, `SELECT sha256, size, content FROM stored_file`)
	if err != nil {
		return err
	}
	defer rows.Close()
	seen := make(map[string]bool, len(named))
	followed := len(v.Faults) == 0
	for rows.Next() {
		var sum string
		var size int64
		var content sql.RawBytes
		if err = rows.Scan(&sum, &size, &content); err != nil {
			break
		}
		v.Files++
		seen[sum] = true
		event := named[sum]
		switch {
		case event == 0 && !followed:
		case event == 0:
			v.fault(0, "the stored file %s belongs to no event: the one that brought it is gone", short(sum))
		case fileSum(content) != sum || int64(len(content)) != size:
			v.fault(event, "the file stored by event %d is not as it was stored (%s)", event, short(sum))
		}
	}
	if err == nil {
		err = rows.Err()
	}
	switch {
	case err != nil && v.kind.broken(err):
		v.fault(0, "the stored files cannot all be read: the ledger is damaged")
		return nil
	case err != nil:
		return err
	}
	missing := int64(0)
	for sum, event := range named {
		if !seen[sum] && (missing == 0 || event < missing) {
			missing = event
		}
	}
	if missing > 0 {
		v.fault(missing, "a file stored by event %d is missing", missing)
	}
	return nil
}

// verifyStudies reads every study again, with all its results.
func (r *reading) verifyStudies(v *check, seen *chainSeen) error {
	for _, id := range slices.Sorted(maps.Keys(seen.studies)) {
		x := seen.studies[id]
		err := seen.odd[id]
		if err == nil {
			err = r.complete(x)
		}
		if err == nil {
			err = r.tables(x)
		}
		if err == nil {
			_, err = x.Dataset()
		}
		var t *Trouble
		switch {
		case err == nil:
		case errors.As(err, &t):
			v.fault(0, "study %s: %s", id, t.Text)
		case v.kind.broken(err):
			v.fault(0, "study %s cannot be read: the ledger is damaged", id)
		default:
			return err
		}
	}
	return nil
}
