package csv

import (
	"bytes"
	"testing"

	"shelfspan/study"
)

// What somebody wrote as a reason is no formula in a spreadsheet; numbers stay
// numbers.
func TestTextsAreNoFormulas(t *testing.T) {
	var b bytes.Buffer
	err := Events(&b, []study.Event{{Seq: 1, At: "2026-01-01T00:00:00Z", By: "@SUM(A1)", Kind: study.EventAmend, Study: "S", Subject: "-5", Reason: `=HYPERLINK("x")`, Detail: "{}", Hash: "+1+1"}})
	if err != nil {
		t.Fatal(err)
	}
	want := "number,at,by,kind,study,subject,reason,file,detail,account,hash\n" +
		`1,2026-01-01T00:00:00Z,'@SUM(A1),amend,S,-5,"'=HYPERLINK(""x"")",,{},,'+1+1` + "\n"
	if b.String() != want {
		t.Errorf("got  %s\nwant %s", b.String(), want)
	}
}
