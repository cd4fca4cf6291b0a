// Package spelling finds the known word that a mistyped one was meant to be.
package spelling

import "strings"

// Nearest gives the known word with the fewest single-letter edits (insert,
// delete, replace, swap of neighbours: optimal string alignment) from word,
// regardless of case, or the empty string where none is near enough: at most a
// third of the word's letters, and always up to two. Words of which only digits
// differ (B1 and B7, 25C60 and 40C75) are taken for different things, no slip.
func Nearest(word string, known []string) string {
	best, least := "", max(2, len(word)/3)+1
	for _, k := range known {
		if d := distance(strings.ToLower(word), strings.ToLower(k)); d < least && d < len(k) && !differInDigits(word, k) {
			best, least = k, d
		}
	}
	return best
}

func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	before, last, row := make([]int, len(y)+1), make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(x); i++ {
		row[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(y)]
}

// differInDigits reports whether two words are alike but for some digits.
func differInDigits(a, b string) bool {
	if len(a) != len(b) || strings.EqualFold(a, b) {
		return false
	}
	a, b = strings.ToLower(a), strings.ToLower(b)
	for i := range len(a) {
		if a[i] != b[i] && (a[i] < '0' || a[i] > '9' || b[i] < '0' || b[i] > '9') {
			return false
		}
	}
	return true
}
