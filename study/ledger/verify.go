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

	"shelfspan/study"
)

// check is a check of the whole ledger under way.
type check struct{ study.LedgerCheck }

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
	v := &check{study.LedgerCheck{Ledger: l.name}}
	// The studies are read beside the chain, up to the event that ends it now;
	// where the chain is broken, what they say is not asked.
	var last int64
	studies := &check{}
	err := l.read(ctx, func(r *reading) (err error) {
		if last, err = r.resolve(AsOf{}); err != nil {
			return err
		}
		reread := make(chan error, 1)
		go func() {
			reread <- l.read(ctx, func(r *reading) error { return r.verifyStudies(studies, last) })
		}()
		err = r.verifyTables(v, l.kind, last, witness, progress)
		rereadErr := <-reread
		if err == nil && len(v.Faults) == 0 {
			v.Faults, err = studies.Faults, rereadErr
		}
		return err
	})
	return &v.LedgerCheck, err
}

// verifyTables checks what is stored, up to an event.
func (r *reading) verifyTables(v *check, kind engine, last int64, witness string, progress func(int64)) error {
	damage, err := kind.check(r.ctx, r.tx)
	for _, text := range damage {
		v.fault(0, "the file is damaged: %s", text)
	}
	if err != nil {
		return err
	}
	seen, err := r.verifyChain(v, last, witness, progress)
	if err != nil {
		return err
	}
	if err := r.verifyFiles(v, seen.files); err != nil {
		return err
	}
	return r.verifyIndexes(v, seen)
}

func (v *check) fault(event int64, format string, args ...any) {
	v.Faults = append(v.Faults, study.LedgerFault{Event: event, Text: fmt.Sprintf(format, args...)})
}

// chainSeen is what the chain spoke of.
type chainSeen struct {
	files          map[string]int64 // stored files, each with the first event that names it
	studies, kinds map[string]int64 // events of each
}

// verifyChain follows the chain up to an event and gives what it speaks of. A
// fault ends it: of what follows nothing can be said.
func (r *reading) verifyChain(v *check, last int64, witness string, progress func(int64)) (seen *chainSeen, err error) {
	rows, err := r.tx.QueryContext(r.ctx, `SELECT `+eventColumns+` FROM event WHERE seq <= $1 ORDER BY seq`, last)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	// The database is read by one goroutine while another computes hashes.
	const batch = 512
	type chunk struct {
		n      int
		bytes  []byte // canonical, side by side
		ends   [batch]int
		hashes [batch][2 * sha256.Size]byte
		seqs   [batch]int64
	}
	full, empty := make(chan *chunk, 4), make(chan *chunk, 4)
	for range cap(empty) {
		empty <- &chunk{}
	}
	type broken struct{ event int64 }
	result := make(chan *broken, 1)
	go func() {
		var before [sha256.Size]byte
		var text [2 * sha256.Size]byte
		var bad *broken
		for c := range full {
			from := 0
			for i := 0; i < c.n && bad == nil; i++ {
				before = chained(before, c.bytes[from:c.ends[i]])
				from = c.ends[i]
				hex.Encode(text[:], before[:])
				if text != c.hashes[i] {
					bad = &broken{c.seqs[i]}
				}
				if witness != "" && v.Witness == 0 && strings.HasPrefix(string(text[:]), witness) {
					v.Witness = c.seqs[i]
				}
			}
			c.n, c.bytes = 0, c.bytes[:0]
			empty <- c
		}
		result <- bad
	}()
	named := make(map[string]int64)
	seen = &chainSeen{files: named, studies: make(map[string]int64), kinds: make(map[string]int64)}
	var gap error
	c := <-empty
	var seq int64
	var column [9]sql.RawBytes
	targets := []any{&seq}
	for i := range column {
		targets = append(targets, &column[i])
	}
	for rows.Next() {
		if err = rows.Scan(targets...); err != nil {
			break
		}
		if seq != v.Events+1 {
			gap = errors.New("gap")
			break
		}
		v.Events++
		var digits [20]byte
		c.bytes = netstring(c.bytes, strconv.AppendInt(digits[:0], seq, 10))
		for i := range 8 {
			c.bytes = netstring(c.bytes, column[i])
		}
		c.ends[c.n], c.seqs[c.n] = len(c.bytes), seq
		c.hashes[c.n] = [2 * sha256.Size]byte{}
		if len(column[8]) == 2*sha256.Size {
			copy(c.hashes[c.n][:], column[8])
		}
		seen.kinds[string(column[2])]++
		seen.studies[string(column[3])]++
		if file := column[6]; len(file) > 0 && named[string(file)] == 0 {
			named[string(file)] = seq
		}
		if string(column[2]) == string(study.EventRegister) {
			var d registerDetail
			if json.Unmarshal(column[7], &d) == nil && named[d.Plan] == 0 {
				named[d.Plan] = seq
			}
		}
		if c.n++; c.n == batch {
			full <- c
			c = <-empty
			if progress != nil {
				progress(v.Events)
			}
		}
	}
	full <- c
	close(full)
	bad := <-result
	if err == nil && gap == nil {
		err = rows.Err()
	}
	if err != nil {
		return nil, err
	}
	rows.Close()
	switch {
	case bad != nil:
		v.fault(bad.event, "event %d is not as it was written, or what stood before it is not", bad.event)
	case gap != nil && seq > v.Events+1:
		v.fault(v.Events+1, "event %d is missing: %d follows %d", v.Events+1, seq, v.Events)
	case gap != nil:
		v.fault(seq, "event %d stands where event %d should", seq, v.Events+1)
	}
	head, err := r.events(`WHERE seq = $1`, last)
	if err != nil {
		return nil, err
	}
	if len(head) > 0 {
		v.Head = head[0]
	}
	if witness != "" && v.Witness == 0 {
		v.fault(0, "no event has the hash %s: what stood there was cut off or replaced, or it is another ledger's", witness)
	}
	return seen, nil
}

// verifyFiles recomputes the hash of every stored file.
func (r *reading) verifyFiles(v *check, named map[string]int64) error {
	rows, err := r.tx.QueryContext(r.ctx, `SELECT sha256, size, content FROM stored_file`)
	if err != nil {
		return err
	}
	defer rows.Close()
	seen := make(map[string]bool, len(named))
	for rows.Next() {
		var sum string
		var size int64
		var content sql.RawBytes
		if err := rows.Scan(&sum, &size, &content); err != nil {
			return err
		}
		v.Files++
		seen[sum] = true
		event := named[sum]
		switch {
		case event == 0:
			v.fault(0, "the stored file %s belongs to no event: the one that brought it is gone", short(sum))
		case fileSum(content) != sum || int64(len(content)) != size:
			v.fault(event, "the file stored by event %d is not as it was stored (%s)", event, short(sum))
		}
	}
	if err := rows.Err(); err != nil {
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

// verifyIndexes compares what the indexes say with what the chain did: an event
// that an index has lost is not found when its study is read.
func (r *reading) verifyIndexes(v *check, seen *chainSeen) error {
	if len(v.Faults) > 0 {
		return nil
	}
	for _, x := range []struct {
		column string
		want   map[string]int64
	}{{"study", seen.studies}, {"kind", seen.kinds}} {
		rows, err := r.tx.QueryContext(r.ctx, `SELECT `+x.column+`, count(*) FROM event WHERE seq <= $1 GROUP BY `+x.column, v.Events)
		if err != nil {
			return err
		}
		defer rows.Close()
		groups := 0
		for rows.Next() {
			var name string
			var n int64
			if err := rows.Scan(&name, &n); err != nil {
				return err
			}
			groups++
			if n != x.want[name] {
				v.fault(0, "the index of events by %s is damaged: it has %d of %s, and the chain %d", x.column, n, name, x.want[name])
			}
		}
		if err := rows.Err(); err != nil {
			return err
		}
		if groups != len(x.want) && len(v.Faults) == 0 {
			v.fault(0, "the index of events by %s is damaged", x.column)
		}
	}
	return nil
}

// verifyStudies reads every study again, with all its results, up to an event.
func (r *reading) verifyStudies(v *check, last int64) error {
	// One walk through all events: each study's own would jump about in the file.
	rows, err := r.tx.QueryContext(r.ctx, `SELECT `+eventColumns+` FROM event WHERE seq <= $1 ORDER BY seq`, last)
	if err != nil {
		return err
	}
	defer rows.Close()
	records := make(map[string]*Record)
	failed := make(map[string]bool)
	for rows.Next() {
		e, err := scanEvent(rows)
		if err != nil {
			return err
		}
		x := records[e.Study]
		if x == nil {
			x = &Record{}
			records[e.Study] = x
		}
		if err := x.add(e); err != nil && !failed[e.Study] {
			failed[e.Study] = true
			v.fault(e.Seq, "study %s: %v", e.Study, err)
		}
	}
	if err := rows.Err(); err != nil {
		return err
	}
	rows.Close()
	for _, id := range slices.Sorted(maps.Keys(records)) {
		if failed[id] {
			continue
		}
		x := records[id]
		err := r.complete(x)
		if err == nil {
			err = r.tables(x)
		}
		if err == nil {
			_, err = x.Dataset()
		}
		var t *Trouble
		switch {
		case errors.As(err, &t):
			v.fault(0, "study %s: %s", id, t.Text)
		case err != nil:
			return err
		}
	}
	return nil
}
