package csv

import (
	"io"
	"math"

	"shelfspan/analysis"
	"shelfspan/reports/words"
)

type comparisonRow struct {
	Attribute  string `csv:"attribute"`
	Condition  string `csv:"condition"`
	Factor     string `csv:"factor"`
	Level      string `csv:"level"`
	Against    string `csv:"against"`
	Difference Number `csv:"difference_per_month"`
	Low        Number `csv:"low"`
	High       Number `csv:"high"`
	P          Number `csv:"p"`
	PAdjusted  Number `csv:"p_adjusted"`
	Lost       Number `csv:"months_lost"`
	LostLow    Number `csv:"months_lost_low"`
	Hidden     Number `csv:"months_lost_high"`
	Verdict    string `csv:"verdict"`
	Error      string `csv:"error"`
	Reason     string `csv:"not_compared_because"`
	MonthsBy   string `csv:"months_by"`
	Model      string `csv:"model"`
	Time       Number `csv:"time_factor"`
	TimeLow    Number `csv:"time_factor_low"`
	TimeHigh   Number `csv:"time_factor_high"`
}

// Interactions writes a row for each comparison.
func Interactions(w io.Writer, e *analysis.Evaluation) error {
	rows := []comparisonRow{}
	s := e.Dataset.Study
	for _, c := range e.Interactions.Comparisons {
		nan := math.NaN()
		row := comparisonRow{
			Attribute: s.Attributes[c.Attribute].ID, Condition: s.Conditions[c.Condition].ID, Factor: c.Factor, Level: c.Level, Against: c.Against,
			Difference: Number(c.Difference), Low: Number(c.Low), High: Number(c.High), P: Number(c.P), PAdjusted: Number(c.PAdjusted),
			Lost: Number(c.Lost), LostLow: Number(c.LostLow), Hidden: Number(c.Hidden), Verdict: string(c.Outcome), Error: string(c.Error), Reason: c.Reason,
			MonthsBy: words.MonthsRoute(c), Model: c.Model, Time: Number(nan), TimeLow: Number(nan), TimeHigh: Number(nan),
		}
		if d := c.Lifetimes; d != nil {
			row.Time, row.TimeLow, row.TimeHigh = Number(math.Exp(d.LnRatio)), Number(math.Exp(d.Low)), Number(math.Exp(d.High))
		}
		rows = append(rows, row)
	}
	return write(w, rows)
}
