package study_test

import (
	"strings"
	"testing"

	"shelfspan/study"
)

// Which characters are not seen, by the Unicode Character Database: general
// categories Cc, Cf, Zl and Zp, but for the joiners U+200C and U+200D.
func TestHidden(t *testing.T) {
	for _, r := range "\x00\t\n\r\x1b\x7f\u0085\u009b\u009d\u00ad\u200b\u200e\u200f\u2028\u2029\u202a\u202e\u2060\u2066\u2069\ufeff\U000e0041" {
		if !study.Hidden(r) {
			t.Errorf("%U is taken for one that is seen", r)
		}
	}
	for _, text := range []string{"A. Technician", "Ünal Çelik", "Иванова", "岡田", "می\u200cخواهم", "क\u094d\u200dष", "ישראל", "µ ± ≤ °C – … \u00a0 \u202f", "👩\u200d🔬"} {
		if strings.ContainsFunc(text, study.Hidden) {
			t.Errorf("%q is taken to have a character that is not seen", text)
		}
	}
}
