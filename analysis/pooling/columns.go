package pooling

import (
	"fmt"

	"shelfspan/analysis/linear"
)

// Columns gives the columns and the observations, batch after batch, of the lines
// that batches have under a decision of the poolability tests. Times are counted
// from the mean of those that share a slope, which changes no residual and
// keeps the columns apart. Of separate lines each batch has its intercept and its
// slope in turn; a slope in common stands first, before the intercepts, and of
// pooled batches after the one intercept.
func Columns(batches []Batch, decision Decision) (columns []linear.Column, y []float64) {
	n := 0
	for _, b := range batches {
		n += len(b.X)
	}
	add := func(name string) []float64 {
		columns = append(columns, linear.Column{Name: name, Values: make([]float64, n)})
		return columns[len(columns)-1].Values
	}
	var one, time []float64
	if decision == Pooled {
		one = add("the intercept")
	}
	if decision != Separate {
		time = add("time")
	}
	centre := 0.0
	for _, b := range batches {
		for _, x := range b.X {
			centre += x / float64(n)
		}
	}
	at := 0
	for i, b := range batches {
		if decision != Pooled {
			one = add(fmt.Sprintf("batch %d", i+1))
		}
		if decision == Separate {
			time = add(fmt.Sprintf("time of batch %d", i+1))
			centre = 0
			for _, x := range b.X {
				centre += x / float64(len(b.X))
			}
		}
		for j, x := range b.X {
			one[at], time[at] = 1, x-centre
			y = append(y, b.Y[j])
			at++
		}
	}
	return columns, y
}
