package ledger

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"
)

// reading is one state of the ledger being read.
type reading struct {
	ctx context.Context
	tx  *sql.Tx
}

// writing is a change being made, alone.
type writing struct {
	reading
	author  Author
	account string // whom the system takes the author for
	head    Event  // the last event; its Seq is 0 where there is none
	behind  bool   // the author's clock is behind the last event's
}

const eventColumns = `seq, at, who, kind, study, subject, reason, file, detail, account, hash`

// misread reports an error of database/sql, which has no type of its own: what
// stands in a column is not what can stand there.
func misread(err error) bool { return err != nil && strings.Contains(err.Error(), "sql: Scan error") }

func scanEvent(rows interface{ Scan(...any) error }) (Event, error) {
	var e Event
	var file sql.NullString
	err := rows.Scan(&e.Seq, &e.At, &e.By, &e.Kind, &e.Study, &e.Subject, &e.Reason, &file, &e.Detail, &e.Account, &e.Hash)
	e.File = file.String
	return e, err
}

// events gives the events that a condition names, in their order.
func (r *reading) events(where string, args ...any) ([]Event, error) {
	rows, err := r.tx.QueryContext(r.ctx, `SELECT `+eventColumns+` FROM event `+where, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []Event
	for rows.Next() {
		e, err := scanEvent(rows)
		if err != nil {
			return nil, err
		}
		out = append(out, e)
	}
	return out, rows.Err()
}

// file gives the bytes of a stored file.
func (r *reading) file(sum string) ([]byte, error) {
	var data []byte
	err := r.tx.QueryRowContext(r.ctx, `SELECT content FROM stored_file WHERE sha256 = $1`, sum).Scan(&data)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, damagedFile(sum)
	}
	return data, err
}

func damagedFile(sum string) error {
	return &Trouble{Text: "the stored file " + short(sum) + " is not in the ledger any more", Hint: "shelfspan audit --verify says what else is missing"}
}

// short gives the start of a hash, as people compare them.
func short(sum string) string { return sum[:min(12, len(sum))] }

// findHead reads the last event. A hash that is none leaves the chain without
// an end to add to.
func (w *writing) findHead() error {
	last, err := w.events(`ORDER BY seq DESC LIMIT 1`)
	if err != nil || len(last) == 0 {
		return err
	}
	w.head = last[0]
	at, err := time.Parse(time.RFC3339, w.head.At)
	if sum, hashErr := hex.DecodeString(w.head.Hash); err != nil || hashErr != nil || len(sum) != sha256.Size {
		return &Trouble{Text: fmt.Sprintf("the last event of the ledger, %d, is damaged", w.head.Seq), Hint: "shelfspan audit --verify tells more; go back to a backup"}
	}
	w.behind = w.author.Now.Before(at.Add(-skew))
	return nil
}

// skew is how far the clocks of two machines at one ledger may be apart before
// it is told: common practice, no source.
const skew = 2 * time.Minute

// store keeps the bytes of a file and gives the name they are kept under.
func (w *writing) store(data []byte) (string, error) {
	sum := fileSum(data)
	var have int
	if err := w.tx.QueryRowContext(w.ctx, `SELECT count(*) FROM stored_file WHERE sha256 = $1`, sum).Scan(&have); err != nil || have > 0 {
		return sum, err
	}
	return sum, w.insert(`INSERT INTO stored_file (sha256, size, content) VALUES ($1, $2, $3)`, sum, len(data), data)
}

// insert adds one row, and fails where something in the database swallows it.
func (w *writing) insert(statement string, args ...any) error {
	done, err := w.tx.ExecContext(w.ctx, statement, args...)
	if err != nil {
		return err
	}
	if n, err := done.RowsAffected(); err != nil {
		return err
	} else if n != 1 {
		return &Trouble{Text: "the ledger did not keep what was to be added to it; nothing was changed", Hint: "shelfspan audit --verify says what was put into it"}
	}
	return nil
}

// append adds an event to the end of the chain: e without its number, time,
// author, account and hash, which it gives, and detail as its JSON.
func (w *writing) append(e Event, detail any) (Event, error) {
	text, err := json.Marshal(detail)
	if err != nil {
		return e, err
	}
	e.Seq = w.head.Seq + 1
	e.At = w.author.Now.Format(time.RFC3339)
	e.By, e.Account = w.author.By, w.account
	e.Detail = string(text)
	var before [sha256.Size]byte
	if _, err := hex.Decode(before[:], []byte(w.head.Hash)); err != nil {
		return e, err
	}
	sum := chained(before, canonical(&e, nil))
	e.Hash = hex.EncodeToString(sum[:])
	err = w.insert(`INSERT INTO event (`+eventColumns+`) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
		e.Seq, e.At, e.By, string(e.Kind), e.Study, e.Subject, e.Reason, sql.NullString{String: e.File, Valid: e.File != ""}, e.Detail, e.Account, e.Hash)
	if err != nil {
		return e, err
	}
	w.head = e
	return e, nil
}
