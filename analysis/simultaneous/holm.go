package simultaneous

import (
	"cmp"
	"fmt"
	"slices"
)

// Holm adjusts p-values of any tests, however they hang together: rejecting
// where the adjusted one is at or below alpha, the probability to reject any true
// hypothesis is no more than alpha. The i-th smallest of k, from 1 up, becomes
//
//	p̃ᵢ = max over j ≤ i of min(1, (k − j + 1)·pⱼ),
//
// never more than Bonferroni's k·p. The answers are in the order of p. A p that is not
// between 0 and 1 is an error.
//
// Source: Holm, Scandinavian Journal of Statistics 6, 1979, 65–70.
func Holm(p []float64) ([]float64, error) {
	order := make([]int, len(p))
	for i, v := range p {
		if !(v >= 0 && v <= 1) {
			return nil, fmt.Errorf("p-value %d is %g, and not between 0 and 1", i+1, v)
		}
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(p[i], p[j]) })
	adjusted := make([]float64, len(p))
	least := 0.0
	for rank, i := range order {
		least = min(1, max(least, float64(len(p)-rank)*p[i]))
		adjusted[i] = least
	}
	return adjusted, nil
}
