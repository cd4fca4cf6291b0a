package spelling

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestNearest(t *testing.T) {
	known := []string{"temperature", "humidity", "id", "pulls", "role", "lower", "upper"}
	for word, want := range map[string]string{
		"tempreture":   "temperature", // two letters swapped and one replaced
		"Temperature":  "temperature",
		"temp":         "", // seven letters short
		"humidty":      "humidity",
		"pull":         "pulls",
		"rloe":         "role",
		"uper":         "upper",
		"ID":           "id",
		"xyz":          "",
		"":             "",
		"completelyso": "",
	} {
		if got := Nearest(word, known); got != want {
			t.Errorf("%q: %q, want %q", word, got, want)
		}
	}
	ids := []string{"B1", "25C60", "jar", "tube-2"}
	for word, want := range map[string]string{
		"B7": "", "25C65": "", "b1": "B1", "b7": "", // another batch or climate, not a slip
		"25C6O": "25C60", "tube2": "tube-2", "Jar": "jar",
	} {
		if got := Nearest(word, ids); got != want {
			t.Errorf("%q: %q, want %q", word, got, want)
		}
	}
	if got := Nearest("x", nil); got != "" {
		t.Errorf("%q of no words", got)
	}
}

// Distances by hand.
func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"", "abc", 3}, {"abc", "abc", 0}, {"abc", "abd", 1}, {"abc", "ab", 1}, {"abc", "abxc", 1},
		{"abcd", "acbd", 1}, {"ca", "abc", 3}, {"kitten", "sitting", 3}, {"größe", "grösse", 2},
	} {
		if got := distance(c.a, c.b); got != c.want {
			t.Errorf("%q to %q: %d, want %d", c.a, c.b, got, c.want)
		}
	}
}

func TestDistanceIsSymmetric(t *testing.T) {
	word := rapid.StringMatching(`[a-d]{0,8}`)
	rapid.Check(t, func(t *rapid.T) {
		a, b := word.Draw(t, "a"), word.Draw(t, "b")
		if x, y := distance(a, b), distance(b, a); x != y {
			t.Fatalf("%q to %q %d, back %d", a, b, x, y)
		}
		if (distance(a, b) == 0) != strings.EqualFold(a, b) {
			t.Fatalf("%q and %q", a, b)
		}
	})
}
