// Package reference reads the numbers that tests are held against. It is for tests
// alone; what the numbers are and where they come from stands in README.md.
package reference

import (
	"embed"
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"testing"
)

//go:embed *.csv */*.csv
var files embed.FS

// Rows gives the rows of a table below this folder, such as "esd/sets.csv", without
// its head.
func Rows(t testing.TB, name string) [][]string {
	t.Helper()
	_, rows := read(t, name)
	return rows
}

// Table gives the rows of a table by the names in its head.
func Table(t testing.TB, name string) []map[string]string {
	t.Helper()
	head, rows := read(t, name)
	out := make([]map[string]string, len(rows))
	for i, row := range rows {
		out[i] = make(map[string]string, len(head))
		for j, h := range head {
			out[i][h] = row[j]
		}
	}
	return out
}

func read(t testing.TB, name string) (head []string, rows [][]string) {
	t.Helper()
	f, err := files.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	if len(all) < 2 {
		t.Fatalf("%s has no rows: a test of none would say nothing", name)
	}
	for _, row := range all {
		for i := range row {
			row[i] = strings.TrimSpace(row[i])
		}
	}
	return all[0], all[1:]
}

// Number reads a number; R's NA, and a field left empty, are NaN.
func Number(t testing.TB, field string) float64 {
	t.Helper()
	if field == "" || field == "NA" {
		return math.NaN()
	}
	x, err := strconv.ParseFloat(field, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}
