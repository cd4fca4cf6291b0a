// Package testdata reads the studies that tests are about. It is for tests alone.
package testdata

import (
	"bytes"
	"embed"

	"shelfspan/analysis/simulate"
	"shelfspan/study"
	"shelfspan/study/intake"
	"shelfspan/study/protocol"
)

// TB is a test, a benchmark or a property's draw.
type TB interface {
	Helper()
	Fatal(args ...any)
}

//go:embed demo
var demo embed.FS

// Demo is the study of the demonstration with its results.
func Demo(t TB) *study.Dataset {
	t.Helper()
	read := func(name string) []byte {
		data, err := demo.ReadFile("demo/" + name)
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	var tables []intake.Source
	for _, name := range []string{"results-lab.csv", "rheometer.csv", "weighings.csv"} {
		tables = append(tables, intake.Source{Name: name, Reader: bytes.NewReader(read(name))})
	}
	return Study(t, string(read("study.toml")), tables...)
}

// Study takes in a study file and tables of results as a user writes them.
func Study(t TB, toml string, tables ...intake.Source) *study.Dataset {
	t.Helper()
	s, err := protocol.Read("study.toml", []byte(toml))
	if err != nil {
		t.Fatal(err)
	}
	d, err := intake.Read(s, tables...)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// Table is a table of results with a name.
func Table(name, rows string) intake.Source {
	return intake.Source{Name: name, Reader: bytes.NewReader([]byte(rows))}
}

// Thousands is a study of 20,000 results: 20 attributes, 4 conditions, 8 batches,
// 7 times, 5 units.
func Thousands(t TB) *study.Dataset {
	t.Helper()
	z := simulate.Size{Attributes: 20, Batches: 8, Conditions: 4, Times: 7, Units: 5}
	var toml, rows bytes.Buffer
	if err := z.WriteStudy(&toml); err != nil {
		t.Fatal(err)
	}
	if err := z.WriteResults(&rows, 1); err != nil {
		t.Fatal(err)
	}
	if z.Rows() != 20_000 {
		t.Fatal("a study of ", z.Rows(), " results")
	}
	return Study(t, toml.String(), intake.Source{Name: "results.csv", Reader: &rows})
}
