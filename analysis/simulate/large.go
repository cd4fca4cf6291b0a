package simulate

import (
	"bufio"
	"fmt"
	"io"
	"math/rand/v2"
	"strconv"
	"time"

	"shelfspan/study"
)

// Size is the size of a plain synthetic study for benchmarks: every attribute is
// a zero-order measure that falls from about 100 towards its lower limit of 90,
// measured in every batch and condition at 0, 3, 6 … months on so many units.
type Size struct {
	Attributes int
	Batches    int
	Conditions int // 1 to 4: 25, 40, 30 and 5 °C
	Times      int // pulls of a condition, time zero among them
	Units      int
}

// The sizes the project's speed is measured at.
var (
	Panel    = Size{Attributes: 200, Batches: 3, Conditions: 1, Times: 7, Units: 4}   // 200 attributes of 84 results
	Thousand = Size{Attributes: 1, Batches: 4, Conditions: 4, Times: 7, Units: 10}    // 1,000 results
	Million  = Size{Attributes: 100, Batches: 40, Conditions: 4, Times: 7, Units: 10} // 1,000,000 results
)

// Rows is the number of results: time zero is measured once for all conditions.
func (z Size) Rows() int {
	return z.Attributes * z.Batches * z.Units * (1 + z.Conditions*(z.Times-1))
}

// climates are the conditions of a synthetic study; its rates go by 83 kJ/mol.
var climates = []struct {
	id, role string
	celsius  float64
	rate     float64 // per month
}{
	{"25C", "long-term", 25, 0.200},
	{"40C", "accelerated", 40, 0.994},
	{"30C", "intermediate", 30, 0.347},
	{"5C", "long-term", 5, 0.018},
}

// WriteStudy writes the study file that the results of WriteResults belong to.
func (z Size) WriteStudy(w io.Writer) error {
	out := bufio.NewWriter(w)
	fmt.Fprintf(out, "[study]\nid = \"SYN\"\nstart = 2020-01-06\nclaim = \"24M\"\nstore_at = \"25C\"\n")
	for _, c := range climates[:z.Conditions] {
		fmt.Fprintf(out, "\n[[condition]]\nid = %q\nrole = %q\ntemperature = %.1f\npulls = [\"0\"", c.id, c.role, c.celsius)
		for t := 1; t < z.Times; t++ {
			fmt.Fprintf(out, ", \"%dM\"", 3*t)
		}
		fmt.Fprintf(out, "]\n")
	}
	for b := range z.Batches {
		fmt.Fprintf(out, "\n[[batch]]\nid = \"B%d\"\nscale = \"pilot\"\n", b+1)
	}
	sampling := study.Destructive // the first attribute opens the units, the others share them
	for a := range z.Attributes {
		fmt.Fprintf(out, "\n[[attribute]]\nid = \"a%d\"\nunit = \"%%\"\nkind = \"measure\"\nlower = 90.0\nmodel = \"zero-order\"\nsampling = %q\nunits = %d\ndecimals = 3\n",
			a+1, sampling, z.Units)
		sampling = study.Shared
	}
	return out.Flush()
}

// WriteResults writes the results as a CSV in the long form.
func (z Size) WriteResults(w io.Writer, seed uint64) error {
	out := bufio.NewWriterSize(w, 1<<16)
	out.WriteString("batch,condition,time,pulled,attribute,unit,value\n")
	rng := rand.New(rand.NewPCG(seed, 0))
	start := study.NewDate(2020, time.January, 6)
	var line []byte
	for b := range z.Batches {
		for c, at := range climates[:z.Conditions] {
			for t := range z.Times {
				if t == 0 && c > 0 {
					continue
				}
				planned := study.Duration{N: int32(3 * t), Unit: study.Months}
				pulled := planned.AddTo(start, 0)
				months := float64(pulled-start) / study.DaysPerMonth
				head := fmt.Sprintf("B%d,%s,%s,%s,", b+1, at.id, planned, pulled)
				for a := range z.Attributes {
					mean := 100 + 0.3*float64(b%3) - at.rate*(1+0.02*float64(a%5))*months
					for u := range z.Units {
						line = append(append(line[:0], head...), 'a')
						line = strconv.AppendInt(line, int64(a+1), 10)
						line = append(line, ',')
						line = strconv.AppendInt(line, int64(u+1), 10)
						line = append(line, ',')
						line = strconv.AppendFloat(line, mean+0.5*rng.NormFloat64(), 'f', 3, 64)
						out.Write(append(line, '\n'))
					}
				}
			}
		}
	}
	return out.Flush()
}
