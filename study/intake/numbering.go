package intake

import "math/bits"

// key identifies something by two packed words.
type key [2]uint64

// numbering numbers keys in the order in which they first come and keeps a value
// for each: a hash table with open addressing and linear probing, which takes
// half the time of a map where a million rows come in no order. It is never
// walked in the order of its slots, so nothing depends on the hash.
type numbering[V any] struct {
	slots []slot // a power of two, at most half of them used
	list  []entry[V]
}

type slot struct {
	hash uint32
	at   uint32 // number plus one; 0 where the slot is free
}

type entry[V any] struct {
	key   key
	value V
}

func (k key) hash() uint64 {
	high, low := bits.Mul64(k[0]^0x9e3779b97f4a7c15, k[1]^0xd6e8feb86659fd93)
	return high ^ low
}

// find gives the number of a key, and whether it is new.
func (t *numbering[V]) find(k key) (at uint32, isNew bool) {
	if 2*len(t.list) >= len(t.slots) {
		t.grow()
	}
	h := k.hash()
	mask := uint64(len(t.slots) - 1)
	i := h >> 32 & mask
	for ; t.slots[i].at != 0; i = (i + 1) & mask {
		if s := t.slots[i]; s.hash == uint32(h) && t.list[s.at-1].key == k {
			return s.at - 1, false
		}
	}
	t.list = append(t.list, entry[V]{key: k})
	t.slots[i] = slot{uint32(h), uint32(len(t.list))}
	return uint32(len(t.list) - 1), true
}

func (t *numbering[V]) grow() {
	t.slots = make([]slot, max(64, 4*len(t.slots)))
	mask := uint64(len(t.slots) - 1)
	for n := range t.list {
		h := t.list[n].key.hash()
		i := h >> 32 & mask
		for t.slots[i].at != 0 {
			i = (i + 1) & mask
		}
		t.slots[i] = slot{uint32(h), uint32(n + 1)}
	}
}
