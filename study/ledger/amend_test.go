package ledger

import (
	"context"
	"errors"
	"strings"
	"testing"

	"shelfspan/study/unitid"
)

// What was changed of a result stays to be seen with it: an exclusion behind an
// amendment, an amendment behind one, and the amendment once it is put back.
func TestStateOfAResultChangedOften(t *testing.T) {
	onBoth(t, func(t *testing.T, where string) {
		ctx := context.Background()
		l := create(t, where)
		registered(t, l, smallStudy)
		in, err := l.TakeIn(ctx, ada(noon), "SB", File{"a.csv", []byte("batch,condition,time,attribute,unit,value\nB1,25C60,3M,assay,1,99.1\n")})
		if err != nil {
			t.Fatal(err)
		}
		id := resultID(in.Tables[0].Event, 2, "assay")
		for _, c := range []struct {
			q     AmendRequest
			state string
		}{
			{AmendRequest{Value: "98.1", Reason: "misread"}, "amended, was 99.1: misread"},
			{AmendRequest{Exclude: true, Reason: "spilt"}, "excluded: spilt; amended, was 99.1: misread"},
			{AmendRequest{Value: "98.2", Reason: "again"}, "excluded: spilt; amended, was 98.1: again"},
			{AmendRequest{Restore: true, Reason: "was not"}, "amended, was 98.1: again"},
		} {
			c.q.ID = id
			if _, err := l.Amend(ctx, ada(noon), c.q); err != nil {
				t.Fatal(err)
			}
			x, err := l.Study(ctx, "SB", AsOf{})
			if err != nil {
				t.Fatal(err)
			}
			d, err := x.Dataset()
			if err != nil {
				t.Fatal(err)
			}
			if rows := x.Rows(d); len(rows) != 1 || rows[0].State != c.state {
				t.Errorf("%+v: %+v, want %q", c.q, rows, c.state)
			}
		}
		// The same value again changes nothing, however it is written.
		for _, value := range []string{"98.2", "98.20", " 98.2 "} {
			var refusal *Refusal
			if _, err := l.Amend(ctx, ada(noon), AmendRequest{ID: id, Value: value, Reason: "x"}); !errors.As(err, &refusal) || !strings.Contains(refusal.Text, "already") {
				t.Errorf("%q: %v", value, err)
			}
		}
		v, err := l.Verify(ctx, "", nil)
		if err != nil || v.Events != 6 || len(v.Faults) > 0 {
			t.Errorf("%+v, %v", v, err)
		}
	})
}

// An id is read in the one way it is printed, letters of either case, even where
// the check character of another way would fit.
func TestIDsOfResults(t *testing.T) {
	for body, good := range map[string]bool{
		"R2-3-assay": true, "r2-3-assay": true, "R9223372036854775807-9223372036854775807-a-b": true,
		"R+2-3-assay": false, "R2-+3-assay": false, "R02-3-assay": false, "R2-3x-assay": false, "R2x-3-assay": false, "R0-3-assay": false,
		"R2-0-assay": false, "R-2-3-assay": false, "R9223372036854775808-3-assay": false, "R2-3-": false, "R2 -3-assay": false, "R2--3-assay": false,
	} {
		_, _, _, err := parseResultID(body + "-" + string(unitid.CheckCharacter(body)))
		if (err == nil) != good {
			t.Errorf("%s: %v", body, err)
		}
	}
}
