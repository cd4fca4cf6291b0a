package page

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"shelfspan/analysis"
	"shelfspan/study"
	"shelfspan/study/intake"
	"shelfspan/study/schedule"
	"shelfspan/testdata"
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
	return whole(testdata.Study(t, toml, tables...))
}

// whole is all of a study, evaluated.
func whole(d *study.Dataset) Input {
	return Input{
		Evaluation: analysis.Evaluate(d, everything), Schedule: schedule.Plan(d.Study),
		StudyFile: study.Input{Path: "study.toml", SHA256: strings.Repeat("1b", 32)}, Version: "0.1.0",
	}
}

// demo is the demo's study, as testdata has it.
func demo(t testing.TB) Input {
	t.Helper()
	return whole(testdata.Demo(t))
}

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
	return evaluated(t, file, testdata.Table("results.csv", rows.String()))
}
