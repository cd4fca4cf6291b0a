package pooling

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Suitable says why no lines could be fitted to the batches, each in a sentence:
// a value or time that is no number to reckon with, or one of another length
// than the other. Names says what batches are called; it may be nil.
func Suitable(batches []Batch, names []string) (faults []string) {
	for i, b := range batches {
		if len(b.X) != len(b.Y) {
			faults = append(faults, fmt.Sprintf("There are %d times for %d results of %s.", len(b.X), len(b.Y), Name(names, i)))
			continue
		}
		for j, x := range b.X {
			switch {
			case !(x == 0 || x >= shortest && x <= longest):
				faults = append(faults, fmt.Sprintf("A result of %s is from a time of %g, which no study lasts.", Name(names, i), x))
			case !Measurable(b.Y[j]):
				faults = append(faults, fmt.Sprintf("A result of %s, %g, is out of the range of numbers reckoned with.", Name(names, i), b.Y[j]))
			}
		}
	}
	return faults
}

// shortest and longest, in months, are a few seconds and beyond the longest
// duration a study can state. Times that lie outside make slopes that are no
// numbers to reckon with.
const shortest, longest = 1e-6, 1e7

// Measurable reports whether a value is one whose squares and their products
// stay in the range of a float64.
func Measurable(v float64) bool {
	return v == 0 || math.Abs(v) >= 1e-60 && math.Abs(v) <= 1e60
}

// Short says which batches have fewer than three distinct times, "B1 has 2, B3
// has 1", leaving out those without results; empty where none has.
func Short(batches []Batch, names []string) string {
	var short []string
	for i, b := range batches {
		if n := DistinctTimes(b); n > 0 && n < 3 {
			short = append(short, Name(names, i)+" has "+strconv.Itoa(n))
		}
	}
	return strings.Join(short, ", ")
}

// DistinctTimes counts the times at which a batch has results.
func DistinctTimes(b Batch) int {
	x := slices.Clone(b.X)
	slices.Sort(x)
	return len(slices.Compact(x))
}

// Name is what batch i is called: its own name, or "batch 1" for the first.
func Name(names []string, i int) string {
	if i < len(names) {
		return names[i]
	}
	return "batch " + strconv.Itoa(i+1)
}
