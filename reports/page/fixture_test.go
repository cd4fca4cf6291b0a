package page

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"shelfspan/analysis"
	"shelfspan/analysis/simulate"
	"shelfspan/study"
	"shelfspan/study/intake"
	"shelfspan/study/protocol"
	"shelfspan/study/schedule"
)

// written is the page of an input.
func written(t testing.TB, in Input) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, in); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// everything is what report asks of an evaluation.
var everything = analysis.Options{Trends: true, Supported: true, Arrhenius: true, Interactions: analysis.InteractionOptions{Wanted: true}}

// evaluated reads a study and its tables and evaluates all of it.
func evaluated(t testing.TB, toml string, tables ...intake.Source) Input {
	t.Helper()
	s, err := protocol.Read("study.toml", []byte(toml))
	if err != nil {
		t.Fatal(err)
	}
	d, err := intake.Read(s, tables...)
	if err != nil {
		t.Fatal(err)
	}
	return Input{
		Evaluation: analysis.Evaluate(d, everything),
		Schedule:   schedule.Plan(s),
		StudyFile:  study.Input{Path: "study.toml", SHA256: strings.Repeat("1b", 32)},
		Version:    "0.1.0",
	}
}

func tableOf(name, rows string) intake.Source {
	return intake.Source{Name: name, Reader: strings.NewReader(rows)}
}

// demo is the demo's study, as testdata has it.
func demo(t testing.TB) Input {
	t.Helper()
	folder := filepath.Join("..", "..", "testdata", "demo")
	read := func(name string) string {
		b, err := os.ReadFile(filepath.Join(folder, name))
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	var tables []intake.Source
	for _, name := range []string{"results-lab.csv", "rheometer.csv", "weighings.csv"} {
		tables = append(tables, tableOf(name, read(name)))
	}
	return evaluated(t, read("study.toml"), tables...)
}

// thousands is a study of 20,000 results: 20 attributes, 4 conditions, 8 batches,
// 7 times, 5 units.
var thousands = sync.OnceValue(func() Input {
	z := simulate.Size{Attributes: 20, Batches: 8, Conditions: 4, Times: 7, Units: 5}
	var toml, rows bytes.Buffer
	if err := z.WriteStudy(&toml); err != nil {
		panic(err)
	}
	if err := z.WriteResults(&rows, 1); err != nil {
		panic(err)
	}
	if z.Rows() != 20_000 {
		panic(z.Rows())
	}
	s, err := protocol.Read("study.toml", toml.Bytes())
	if err != nil {
		panic(err)
	}
	d, err := intake.Read(s, intake.Source{Name: "results.csv", Reader: &rows})
	if err != nil {
		panic(err)
	}
	return Input{
		Evaluation: analysis.Evaluate(d, everything),
		Schedule:   schedule.Plan(s), StudyFile: study.Input{Path: "study.toml", SHA256: strings.Repeat("1b", 32)}, Version: "0.1.0",
	}
})

// balmHead begins the file of a small invented study.
const balmHead = `[study]
id = "MB-26"
title = "Meadow balm"
start = 2025-01-13
claim = "18M"
store_at = "25C60"
[[condition]]
id = "25C60"
role = "long-term"
temperature = 25.0
humidity = 60.0
pulls = ["0", "3M", "6M", "9M", "12M"]
[[condition]]
id = "40C75"
role = "accelerated"
temperature = 40.0
humidity = 75.0
pulls = ["0", "3M", "6M"]
`

// wide is a study of 20 attributes in 12 arms at 10 times: 3 batches and 2 packs
// at 2 conditions.
func wide(t testing.TB) Input {
	var toml, rows strings.Builder
	pulls := []string{"0", "1M", "2M", "3M", "6M", "9M", "12M", "15M", "18M", "24M"}
	toml.WriteString("[study]\nid = \"W\"\nstart = 2023-01-09\nclaim = \"24M\"\nstore_at = \"25C60\"\n")
	for _, c := range []string{"25C60", "30C65"} {
		role := "long-term"
		if c == "30C65" {
			role = "intermediate"
		}
		fmt.Fprintf(&toml, "[[condition]]\nid = %q\nrole = %q\ntemperature = %s.0\nhumidity = 60.0\npulls = [\"%s\"]\n", c, role, c[:2], strings.Join(pulls, `", "`))
	}
	toml.WriteString("[[batch]]\nid = \"B1\"\n[[batch]]\nid = \"B2\"\n[[batch]]\nid = \"B3\"\n[[pack]]\nid = \"jar\"\n[[pack]]\nid = \"tube\"\n")
	rows.WriteString("batch,condition,pack,time,attribute,value\n")
	for a := range 20 {
		fmt.Fprintf(&toml, "[[attribute]]\nid = \"assay-%d\"\nunit = \"%%\"\nlower = 90.0\nmodel = \"zero-order\"\nsampling = \"shared\"\ndecimals = 2\n", a)
		for b := 1; b <= 3; b++ {
			for _, pack := range []string{"jar", "tube"} {
				for _, c := range []string{"25C60", "30C65"} {
					for i, p := range pulls {
						if i > 0 || c == "25C60" {
							fmt.Fprintf(&rows, "B%d,%s,%s,%s,assay-%d,%.2f\n", b, c, pack, p, a, 100+0.1*float64(b)-0.35*float64(i)-0.05*float64((i*7+a)%5))
						}
					}
				}
			}
		}
	}
	file := strings.Replace(toml.String(), `sampling = "shared"`, `sampling = "destructive"`, 1) // the first opens the units
	return evaluated(t, file, tableOf("results.csv", rows.String()))
}
