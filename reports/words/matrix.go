package words

import (
	"math"
	"strconv"
	"strings"

	"shelfspan/analysis"
	"shelfspan/study"
)

// Matrix is what each pack costs in each attribute at the storage condition, in
// months with their sign.
type Matrix struct {
	Columns []string
	Rows    []MatrixRow
}

// MatrixRow is one attribute.
type MatrixRow struct {
	Attribute string
	Cells     []string
	Lost      []float64 // NaN where there is no number
}

// MatrixRead says how the cells of a matrix are read.
const MatrixRead = "+ is lost and − gained against the reference of each; ! marks harm that is shown, ? what cannot be told yet."

// MatrixShades says it of the ground behind them, where that is no ink on paper.
const MatrixShades = "The more is lost, the further the ground of a cell is from that of the page."

// MatrixHead is what stands over a matrix.
func MatrixHead(x *analysis.Interactions) string {
	return "Months of shelf life lost, of " + Planned(x.Horizon)
}

// NewMatrix makes the matrix of the comparisons at the storage condition. A column
// is one thing compared; comparisons with different references stay apart. Of several
// conditions whose months go by the activation energy the worst counts.
func NewMatrix(s *study.Study, x *analysis.Interactions) Matrix {
	var m Matrix
	index := map[string]int{}
	at := map[int]map[int]*analysis.Comparison{}
	for _, c := range x.Comparisons {
		if c.Condition != s.StoreAt && !c.ThroughArrhenius || math.IsNaN(c.Lost) || strings.Contains(c.Factor, "×") {
			continue
		}
		name := Side(c)
		j, known := index[name]
		if !known {
			j = len(m.Columns)
			index[name] = j
			m.Columns = append(m.Columns, name)
		}
		if at[c.Attribute] == nil {
			at[c.Attribute] = map[int]*analysis.Comparison{}
		}
		if b := at[c.Attribute][j]; b == nil || c.Lost > b.Lost || c.Lost == b.Lost && c.Hidden > b.Hidden {
			at[c.Attribute][j] = c
		}
	}
	for a := range s.Attributes {
		if at[a] == nil {
			continue
		}
		r := MatrixRow{Attribute: s.Attributes[a].ID}
		for j := range m.Columns {
			c := at[a][j]
			if c == nil {
				r.Cells, r.Lost = append(r.Cells, "–"), append(r.Lost, math.NaN())
				continue
			}
			mark := ""
			switch c.Outcome {
			case analysis.Harm:
				mark = "!"
			case analysis.CannotTell:
				mark = "?"
			}
			r.Cells, r.Lost = append(r.Cells, Lost(c.Lost)+mark), append(r.Lost, c.Lost)
		}
		m.Rows = append(m.Rows, r)
	}
	return m
}

// Failed writes how many of some units failed: "3 of 12".
func Failed(n [2]int) string { return strconv.Itoa(n[0]) + " of " + strconv.Itoa(n[1]) }
