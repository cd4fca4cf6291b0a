package unitid

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"shelfspan/study"
)

// Identifiers in use elsewhere whose last character is that of MOD 37,36: a
// release identifier of the record trade (GRid) and two of audiovisual works
// (ISAN), as their agencies print them; from memory.
func TestCheckCharacter(t *testing.T) {
	for text, want := range map[string]byte{
		"A1-2425G-ABC1234002": 'M',
		"1881-66C7-3420-6541": 'Y',
		"B159-D8FA-0124-0000": 'K',
		"b159-d8fa-0124-0000": 'K', // either case
	} {
		if got := CheckCharacter(text); got != want {
			t.Errorf("%s: %c, want %c", text, got, want)
		}
	}
}

// By hand, from the formula: P1 = 36; a = 1: S = 37 mod 36 = 1, P = 2; the
// check character makes 2 + a ≡ 1 (mod 36): a = 35, Z.
func TestCheckCharacterByHand(t *testing.T) {
	if got := CheckCharacter("1"); got != 'Z' {
		t.Errorf("%c", got)
	}
}

func TestOneWrongCharacterIsFound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := []byte(rapid.StringMatching(`[0-9A-Z]{1,40}`).Draw(t, "text"))
		check := CheckCharacter(string(text))
		i := rapid.IntRange(0, len(text)-1).Draw(t, "place")
		wrong := alphabet[rapid.IntRange(0, 35).Draw(t, "wrong")]
		if wrong == text[i] {
			t.Skip()
		}
		text[i] = wrong
		if CheckCharacter(string(text)) == check {
			t.Fatalf("%s keeps %c", text, check)
		}
	})
}

// Of all pairs of characters exchanged behind all one-character beginnings, as
// few stay unseen as the doc comment says. The beginnings reach every state P.
func TestNeighboursExchanged(t *testing.T) {
	missed, states := 0, make(map[byte]bool)
	for _, first := range alphabet {
		states[CheckCharacter(string(first))] = true
		for i, a := range alphabet {
			for _, b := range alphabet[i+1:] {
				if CheckCharacter(string(first)+string(a)+string(b)) == CheckCharacter(string(first)+string(b)+string(a)) {
					missed++
				}
			}
		}
	}
	if len(states) != 36 || missed != 36 {
		t.Errorf("%d states, %d exchanges unseen; want 36 and 36", len(states), missed)
	}
}

func TestParse(t *testing.T) {
	ids := []ID{
		{Study: "SB-25", Batch: "B1", Pack: "can", Orientation: study.Inverted, Condition: "25C60", For: "18M", N: 2},
		{Study: "SB-25", Batch: "B1", Pack: "can", Orientation: study.Upright, Condition: "25C60", For: "weight-loss", N: 11},
		{Study: "SB-25", Batch: "B1", Orientation: study.Horizontal, Condition: "25C60", For: Reserve, N: 1},
		{Study: "S_1.x", Batch: "B-1", Pack: "can", For: TimeZero, N: 3},
		{Study: "S", Batch: "B", For: TimeZero, N: 1},
	}
	for _, want := range ids {
		got, form := Parse(want.String())
		if got != want || form != Good {
			t.Errorf("%s: %+v, form %d", want, got, form)
		}
		if _, form := Parse(strings.ToLower(want.String())); form != Good {
			t.Errorf("%s in lower case: form %d", want, form)
		}
	}
	for _, own := range []string{"", "1", "B1-jar-00-1", "12/A", "a/b/c/d", "2026/11/25/1/K", "S/B/x/25C/3M/1/K", "S/B/u/25C/3M/0/K", "S/B/u/25C/3M/1/KK", "S/B/u/25C/3M/1/-", "B1/can//i/K25C6H/18H/2/K",
		"S/B/u/25\x7fC/3M/1/K", "S/B/u/25°C/3M/1/K", "S/B/u/25 C/3M/1/K"} {
		if id, form := Parse(own); form != Own {
			t.Errorf("%q: %+v, form %d, want a lab's own label", own, id, form)
		}
	}
	good := ids[0].String()
	wrong := strings.Replace(good, "18M", "13M", 1)
	if _, form := Parse(wrong); form != Mistyped {
		t.Errorf("%s: form %d, want a mistyped id", wrong, form)
	}
}

func FuzzParse(f *testing.F) {
	f.Add("SB-25/B1/can/i/25C60/18M/2/K")
	f.Add("S/B/T0/1/0")
	f.Add("B1/can//i/K25C6H/18H/2/K") // a part that is empty
	f.Fuzz(func(t *testing.T, label string) {
		if id, form := Parse(label); form == Good && !strings.EqualFold(id.String(), label) {
			t.Errorf("%q is read as %+v, which is %s", label, id, id)
		}
	})
}
