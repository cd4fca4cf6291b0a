package climate

import "slices"

// reach is how many steps on either side of an interval say what is usual there.
const reach = 31

// steps knows what is usual about an interval: the median of the intervals that
// are longer than nothing among it and the 31 before and after it. What is usual
// is asked of its neighbourhood, not of the whole log, since loggers are set to
// another step and some write faster while it is too warm.
type steps struct {
	ring   [2*reach + 2]int64 // the last steps by their number, which begins at 1
	sorted []int64            // the window's steps that are longer than nothing, ascending
	last   int                // number of the last step
}

// push adds the next step; the window then ends with it.
func (s *steps) push(step int64) {
	s.last++
	var gone int64
	if first := s.last - (2*reach + 1); first >= 1 {
		gone = s.ring[first%len(s.ring)]
	}
	s.ring[s.last%len(s.ring)] = step
	if gone == step {
		return
	}
	s.remove(gone)
	if step > 0 {
		at, _ := slices.BinarySearch(s.sorted, step)
		s.sorted = slices.Insert(s.sorted, at, step)
	}
}

// drop takes a step out of the window at the end of the log.
func (s *steps) drop(number int) {
	if number >= 1 {
		s.remove(s.ring[number%len(s.ring)])
	}
}

func (s *steps) remove(step int64) {
	if step > 0 {
		at, _ := slices.BinarySearch(s.sorted, step)
		s.sorted = slices.Delete(s.sorted, at, at+1)
	}
}

// usual is the lower median of the window; 0 where it has no step.
func (s *steps) usual() int64 {
	if len(s.sorted) == 0 {
		return 0
	}
	return s.sorted[(len(s.sorted)-1)/2]
}

// frequency counts steps, to tell the most frequent.
type frequency struct {
	counts map[int64]int
	last   int64 // the step counted last,
	run    int   // and how often it came in a row, which counts does not hold yet
}

// mostSteps bounds the different steps that are counted.
const mostSteps = 4096

func (f *frequency) add(step int64) {
	if step == f.last {
		f.run++
		return
	}
	f.flush()
	f.last, f.run = step, 1
}

func (f *frequency) flush() {
	if f.run == 0 || f.last == 0 {
		return
	}
	if f.counts == nil {
		f.counts = make(map[int64]int)
	}
	if _, known := f.counts[f.last]; known || len(f.counts) < mostSteps {
		f.counts[f.last] += f.run
	}
	f.run = 0
}

// most gives the most frequent step, of several the shortest; 0 where there is
// none.
func (f *frequency) most() int64 {
	f.flush()
	best, n := int64(0), 0
	for step, count := range f.counts {
		if count > n || count == n && step < best {
			best, n = step, count
		}
	}
	return best
}
