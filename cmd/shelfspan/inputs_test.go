package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"io/fs"
	"strings"
	"testing"

	"shelfspan/study/protocol"
)

// What a session cannot show wherever it runs: files that may not be read, and
// a disk that fails.
func TestInputFault(t *testing.T) {
	for _, c := range []struct {
		err  error
		want string
	}{
		{&fs.PathError{Op: "open", Path: "a.toml", Err: fs.ErrPermission}, "a.toml: may not be read"},
		{&fs.PathError{Op: "read", Path: "a.toml", Err: errors.New("input/output error")}, "a.toml: cannot be read: input/output error"},
		{io.ErrUnexpectedEOF, "a.toml: cannot be read: unexpected EOF"},
	} {
		if got := inputFault("a.toml", c.err).Error(); got != c.want {
			t.Errorf("%s, want %s", got, c.want)
		}
	}
}

// A study file without end, as a pipe can be, is refused at its limit.
func TestStudyTooLarge(t *testing.T) {
	var stdout, stderr bytes.Buffer
	endless := strings.NewReader(strings.Repeat("#", 2*protocol.MaxBytes))
	status := run(context.Background(), []string{"shelfspan", "plan", "--study", "-"}, endless, &stdout, &stderr)
	want := `standard input:1: the file is larger than 16 MB, which no study file is
shelfspan: input rejected: 1 fault; nothing was taken in
hint: results are read by --results, not as a study
`
	if status != statusRejected || stdout.Len() > 0 || stderr.String() != want {
		t.Errorf("status %d\n%s%s", status, &stdout, &stderr)
	}
	if read := 2*protocol.MaxBytes - endless.Len(); read > protocol.MaxBytes+1 {
		t.Errorf("%d bytes read, more than the limit", read)
	}
}
