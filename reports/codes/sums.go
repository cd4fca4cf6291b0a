package codes

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// QRs draws many texts. A symbol takes the encoder a millisecond, nine tenths
// of it for the choice among eight masks, and a study has thousands of units
// whose ids differ in few places. But for its mask, a QR code is linear: the
// bits of the text, of the padding and of the Reed-Solomon check words each
// turn over their own modules. So of the texts of one length only the first is
// encoded, and once more with each bit turned over in which another differs;
// every other symbol is the first with the differences of its bits added
// modulo 2. It has the mask of the first, which a reader finds named in the
// symbol; it is exact in all else.
//
// The error is that of the first text that cannot be encoded; its index comes
// with it.
func QRs(texts []string) (symbols []Symbol, bad int, err error) {
	grids := make([]bits, len(texts))
	byLength := make(map[int][]int)
	var lengths []int // in the order met
	for i, t := range texts {
		if byLength[len(t)] == nil {
			lengths = append(lengths, len(t))
		}
		byLength[len(t)] = append(byLength[len(t)], i)
	}
	var jobs []job
	families := make([]family, 0, len(lengths))
	for _, n := range lengths {
		f := family{members: byLength[n]}
		first := texts[f.members[0]]
		turned := turnedBits(first, texts, f.members)
		if n > mostSummed || len(turned)+1 >= len(f.members) {
			for _, i := range f.members { // each by itself
				jobs = append(jobs, job{texts[i], &grids[i]})
			}
			continue
		}
		f.first, f.turned = first, turned
		f.grids = make([]bits, len(turned))
		jobs = append(jobs, job{first, &grids[f.members[0]]})
		for k, at := range turned {
			t := []byte(first)
			t[at/8] ^= 1 << (at % 8)
			jobs = append(jobs, job{string(t), &f.grids[k]})
		}
		families = append(families, f)
	}
	errs := make([]error, len(jobs))
	parallel(len(jobs), func(i int) { *jobs[i].into, errs[i] = grid(jobs[i].text) })
	for i := range errs {
		if errs[i] == nil {
			continue
		}
		for k, t := range texts {
			if t == jobs[i].text {
				return nil, k, errs[i]
			}
		}
	}
	for _, f := range families {
		f.add(texts, grids)
	}
	symbols = make([]Symbol, len(texts))
	parallel(len(symbols), func(i int) { symbols[i] = grids[i].symbol() })
	return symbols, 0, nil
}

// mostSummed is the longest text in bytes that is added up: up to it a symbol
// is of version 6 or lower, with one alignment pattern and no version field.
const mostSummed = 106 // ISO/IEC 18004, version 6 at level M, from memory; a test asks the encoder

type job struct {
	text string
	into *bits
}

// family is the texts of one length.
type family struct {
	members []int
	first   string
	turned  []int  // bits of the first text in which others differ
	grids   []bits // the first text with that bit turned over
}

func turnedBits(first string, texts []string, members []int) []int {
	differ := make([]byte, len(first))
	for _, i := range members {
		for p := range differ {
			differ[p] |= first[p] ^ texts[i][p]
		}
	}
	var turned []int
	for p, d := range differ {
		for k := range 8 {
			if d>>k&1 == 1 {
				turned = append(turned, p*8+k)
			}
		}
	}
	return turned
}

// add makes the symbols of all members but the first, which is there.
func (f *family) add(texts []string, grids []bits) {
	base := grids[f.members[0]]
	plain := base.unmasked()
	change := make([][]uint64, 8*len(f.first)) // by bit of the text
	for k, g := range f.grids {
		d := g.unmasked().words
		xor(d, plain.words)
		change[f.turned[k]] = d
	}
	for _, i := range f.members[1:] {
		g := newBits(base.columns, base.rows)
		copy(g.words, base.words)
		for p := range len(f.first) {
			x := f.first[p] ^ texts[i][p]
			for k := 0; x != 0; k, x = k+1, x>>1 {
				if x&1 == 1 {
					xor(g.words, change[p*8+k])
				}
			}
		}
		grids[i] = g
	}
}

func xor(to, with []uint64) {
	for i, w := range with {
		to[i] ^= w
	}
}

// unmasked gives the modules that hold data as they are before the mask is put
// on, and nothing of the others.
func (b bits) unmasked() bits {
	n, mask := b.columns, b.mask()
	out := newBits(n, n)
	for y := range n {
		for x := range n {
			if holdsData(n, x, y) && b.at(x, y) != turns(mask, x, y) {
				out.set(x, y)
			}
		}
	}
	return out
}

// mask reads which mask a symbol has from its format field: bits 2 to 4, which
// stand in row 8 and are themselves masked with 101 (ISO/IEC 18004, from memory).
func (b bits) mask() int {
	m := 0
	for x := 2; x <= 4; x++ {
		m <<= 1
		if b.at(x, 8) {
			m |= 1
		}
	}
	return m ^ 0b101
}

// turns reports whether a mask turns over a module.
func turns(mask, x, y int) bool {
	switch mask {
	case 0:
		return (y+x)%2 == 0
	case 1:
		return y%2 == 0
	case 2:
		return x%3 == 0
	case 3:
		return (y+x)%3 == 0
	case 4:
		return (y/2+x/3)%2 == 0
	case 5:
		return y*x%2+y*x%3 == 0
	case 6:
		return (y*x%2+y*x%3)%2 == 0
	}
	return ((y+x)%2+y*x%3)%2 == 0
}

// holdsData reports whether a module of a symbol n wide, of version 1 to 6,
// holds data: all do but the three corners with the format fields beside them,
// the timing patterns, and the alignment pattern that version 1 lacks.
func holdsData(n, x, y int) bool {
	corner := x < 9 && y < 9 || x < 9 && y >= n-8 || x >= n-8 && y < 9
	alignment := n > 21 && x >= n-9 && x <= n-5 && y >= n-9 && y <= n-5
	return !corner && !alignment && x != 6 && y != 6
}

// parallel runs do for each of n indices on all cores.
func parallel(n int, do func(i int)) {
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) {
		wait.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	wait.Wait()
}
