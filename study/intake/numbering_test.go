package intake

import (
	"testing"

	"pgregory.net/rapid"

	"shelfspan/study"
)

// The numbering does what a map does, through several growths.
func TestNumberingIsAMap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var n numbering[int]
		known := map[key]uint32{}
		for range rapid.IntRange(0, 400).Draw(t, "finds") {
			k := key{rapid.Uint64Range(0, 20).Draw(t, "a"), rapid.Uint64Range(0, 20).Draw(t, "b") << 32}
			at, isNew := n.find(k)
			want, old := known[k]
			if !old {
				want = uint32(len(known))
				known[k] = want
			}
			if at != want || isNew == old || n.list[at].key != k {
				t.Fatalf("%v: number %d, new %v; want %d, %v", k, at, isNew, want, !old)
			}
		}
		if len(n.list) != len(known) {
			t.Fatalf("%d numbers for %d keys", len(n.list), len(known))
		}
	})
}

// Results are of one group, or units of one arm, just where all the parts of
// their keys are alike.
func TestKeysHoldEveryPart(t *testing.T) {
	type group struct {
		batch, pack, attribute uint16
		condition              int16
		planned                study.Duration
		pulled                 study.Date
		orientation            uint8
	}
	units := []study.Unit{study.Days, study.Weeks, study.Months, study.Years, study.Cycles}
	rapid.Check(t, func(t *rapid.T) {
		draw := func() study.Result {
			of := func(name string, of ...int) int { return rapid.SampledFrom(of).Draw(t, name) }
			x := study.Result{
				Batch: uint16(of("batch", 0, 1, 0xffff)), Pack: uint16(of("pack", 0, 1)), Attribute: uint16(of("attribute", 0, 0xffff)),
				Condition: int16(of("condition", -1, 0, 1, 0x7fff)), Pulled: study.Date(of("pulled", int(study.NoDate), 0, -1, 20000)),
				Orientation: uint8(of("orientation", 0, 1, 2)), Unit: uint32(of("unit", 0, 1, 0xffffffff)),
			}
			if n := of("time", 0, 1, 256, 100_000, 3_652_000); n > 0 {
				x.Planned = study.Duration{N: int32(n), Unit: rapid.SampledFrom(units).Draw(t, "unit of time")}
			}
			return x
		}
		parts := func(x study.Result) group {
			return group{x.Batch, x.Pack, x.Attribute, x.Condition, x.Planned, x.Pulled, x.Orientation}
		}
		a, b := draw(), draw()
		if got, want := groupOf(&a) == groupOf(&b), parts(a) == parts(b); got != want {
			t.Fatalf("groups alike %v, want %v: %+v, %+v", got, want, parts(a), parts(b))
		}
		if got, want := armOf(&a).key() == armOf(&b).key(), armOf(&a) == armOf(&b); got != want {
			t.Fatalf("arms alike %v, want %v: %+v, %+v", got, want, armOf(&a), armOf(&b))
		}
	})
}
