package turnbull

// sums adds over ranges, in a tree whose leaves are the cells: a sum of a range is
// that of a few nodes, and what is added to a range is kept at a few. Nothing is
// ever taken away again, so that a small sum keeps its digits.
type sums struct {
	cells int
	node  []float64 // the root is 1, the children of k are 2k and 2k + 1, the leaves come last
}

func newSums(cells int) *sums { return &sums{cells, make([]float64, 2*cells)} }

// set gives the cells their values.
func (s *sums) set(values []float64) {
	copy(s.node[s.cells:], values)
	for k := s.cells - 1; k > 0; k-- {
		s.node[k] = s.node[2*k] + s.node[2*k+1]
	}
}

// over is the sum of the values from one cell to before another.
func (s *sums) over(from, to int) float64 {
	sum := 0.0
	for a, b := from+s.cells, to+s.cells; a < b; a, b = a/2, b/2 {
		if a&1 == 1 {
			sum += s.node[a]
			a++
		}
		if b&1 == 1 {
			b--
			sum += s.node[b]
		}
	}
	return sum
}

// add adds a value to every cell of a range, and spread, after all have been
// added to a clear tree, tells what each cell has got.
func (s *sums) add(from, to int, value float64) {
	for a, b := from+s.cells, to+s.cells; a < b; a, b = a/2, b/2 {
		if a&1 == 1 {
			s.node[a] += value
			a++
		}
		if b&1 == 1 {
			b--
			s.node[b] += value
		}
	}
}

func (s *sums) spread(to []float64) {
	for k := 1; k < s.cells; k++ {
		s.node[2*k] += s.node[k]
		s.node[2*k+1] += s.node[k]
	}
	copy(to, s.node[s.cells:])
}

func (s *sums) clear() { clear(s.node) }
