package units

import (
	"math"
	"slices"

	"shelfspan/analysis/linear"
)

// grouped is units by batch.
type grouped struct {
	batches [][]int // indices of units, batches in the study's order; none is empty
	n       int
}

func group(used []Unit) grouped {
	g := grouped{n: len(used)}
	order := make([]int, len(used))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return used[i].Batch - used[j].Batch })
	for i := 0; i < len(order); {
		j := i + 1
		for j < len(order) && used[order[j]].Batch == used[order[i]].Batch {
			j++
		}
		g.batches = append(g.batches, order[i:j])
		i = j
	}
	return g
}

func mean(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}

// mean of the members of a batch.
func (g grouped) mean(v []float64, members []int) float64 {
	s := 0.0
	for _, i := range members {
		s += v[i]
	}
	return s / float64(len(members))
}

// spread holds the sums of products of two figures of the units about their
// batch means and of the batch means about the mean of all.
type spread struct{ within, between float64 }

// spread gives Σ(x − x̄ᵢ)(y − ȳᵢ) within the batches, and Σnᵢ(x̄ᵢ − x̄)(ȳᵢ − ȳ)
// between them; with x = y, a sum of squares no greater than the rounding of x
// is zero.
func (g grouped) spread(x, y []float64) spread {
	var s spread
	allX, allY := mean(x), mean(y)
	size := 0.0
	for _, members := range g.batches {
		mx, my := g.mean(x, members), g.mean(y, members)
		for _, i := range members {
			s.within += (x[i] - mx) * (y[i] - my)
			size += math.Abs(x[i] * y[i])
		}
		s.between += float64(len(members)) * (mx - allX) * (my - allY)
	}
	const epsilon = 0x1p-52
	rounding := float64(g.n*g.n) * epsilon * epsilon * size
	if math.Abs(s.within) <= rounding {
		s.within = 0
	}
	if math.Abs(s.between) <= rounding {
		s.between = 0
	}
	return s
}

// test is the F-test of a one-way analysis of variance.
func (s spread) test(df1, df2 int) (f, p float64) {
	return linear.ExtraSumOfSquares(s.between, df1, s.within, df2)
}
