package censored

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

var inf = math.Inf(1)

func TestFromLooks(t *testing.T) {
	pass := func(at float64) Look { return Look{Time: at} }
	fail := func(at float64) Look { return Look{Time: at, Failed: true} }
	for _, c := range []struct {
		name      string
		looks     []Look
		after, by float64
		kind      Kind
		note      Note
	}{
		{"opened once, good", []Look{pass(6)}, 6, inf, Right, Plain},
		{"opened once, bad", []Look{fail(6)}, 0, 6, Left, Plain},
		{"returned, never bad", []Look{pass(0), pass(3), pass(6)}, 6, inf, Right, Plain},
		{"returned, bad at the third look", []Look{pass(0), pass(3), fail(6)}, 3, 6, Between, Plain},
		{"returned, in no order, and looked at after it failed", []Look{fail(9), pass(3), fail(6), pass(0)}, 3, 6, Between, Plain},
		{"good at the start, bad at the first pull", []Look{pass(0), fail(3)}, 0, 3, Left, Plain},
		{"passed again after it failed", []Look{pass(3), fail(6), pass(9), fail(12)}, 3, 6, Between, Recovered},
		{"two looks at one time that disagree", []Look{pass(3), pass(6), fail(6)}, 3, 6, Between, Plain},
		{"and again later", []Look{fail(3), pass(6), fail(6)}, 0, 3, Left, Plain},
		{"bad before it was stored", []Look{fail(0)}, 0, 0, AtStart, Plain},
		{"bad before it was stored, good later", []Look{fail(0), pass(3)}, 0, 0, AtStart, Recovered},
		{"looked at before it was stored only", []Look{pass(0)}, 0, inf, Unknown, Unstored},
	} {
		x, note, err := FromLooks(c.looks)
		if err != nil || x.After != c.after || x.By != c.by || x.Units != 1 || x.Kind() != c.kind || note != c.note || !x.Valid() {
			t.Errorf("%s: %+v, kind %d, note %d, %v; want after %v by %v, kind %d, note %d",
				c.name, x, x.Kind(), note, err, c.after, c.by, c.kind, c.note)
		}
	}
}

func TestFromLooksRefuses(t *testing.T) {
	for _, at := range []float64{-1, math.NaN(), inf, -inf} {
		if _, _, err := FromLooks([]Look{{Time: 3}, {Time: at}}); !errors.Is(err, ErrTime) {
			t.Errorf("a look at %v: %v", at, err)
		}
	}
	if _, _, err := FromLooks(nil); !errors.Is(err, ErrNoLooks) {
		t.Errorf("no looks: %v", err)
	}
}

func TestKindOfExact(t *testing.T) {
	if k := (Interval{4, 4, 1}).Kind(); k != Exact {
		t.Errorf("kind %d", k)
	}
}

func TestValid(t *testing.T) {
	for _, x := range []Interval{{-1, 3, 1}, {4, 3, 1}, {math.NaN(), 3, 1}, {0, math.NaN(), 1}, {inf, inf, 1},
		{0, 3, 0}, {0, 3, -1}, {0, 3, math.NaN()}, {0, 3, inf}} {
		if x.Valid() {
			t.Errorf("%+v is valid", x)
		}
	}
}

// Of a unit that fails at a moment and stays failed, whatever the looks, the
// interval holds that moment, and no look lies inside it.
func TestIntervalHoldsTheLifetime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		life := rapid.Float64Range(0.01, 50).Draw(t, "life")
		times := rapid.SliceOfN(rapid.Float64Range(0, 60), 1, 12).Draw(t, "times")
		var looks []Look
		for _, at := range times {
			looks = append(looks, Look{at, at >= life})
		}
		x, note, err := FromLooks(looks)
		if err != nil || note == Recovered || !(x.After < life && life <= x.By) {
			t.Fatalf("life %v: %+v, note %d, %v", life, x, note, err)
		}
		for _, at := range times {
			if at > x.After && at < x.By {
				t.Fatalf("a look at %v lies inside %+v", at, x)
			}
		}
	})
}

func TestMerge(t *testing.T) {
	in := []Interval{{3, 6, 1}, {0, 3, 2}, {3, inf, 1}, {3, 6, 4}}
	want := []Interval{{0, 3, 2}, {3, 6, 5}, {3, inf, 1}}
	if got := Merge(in); !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	if in[0] != (Interval{3, 6, 1}) {
		t.Errorf("what was given is changed: %v", in)
	}
}
