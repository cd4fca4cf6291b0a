package csv

import (
	"io"
	"math"

	"github.com/gocarina/gocsv"

	"shelfspan/analysis"
)

type excursionRow struct {
	Side        string `csv:"side"`
	Leg         string `csv:"leg"`
	Start       string `csv:"start"`
	End         string `csv:"end"`
	StartKnown  string `csv:"start_known"`
	EndKnown    string `csv:"end_known"`
	Hours       Number `csv:"hours"`
	Peak        Number `csv:"peak_celsius"`
	PeakAt      string `csv:"peak_at"`
	Mean        Number `csv:"mean_celsius"`
	MeanKinetic Number `csv:"mean_kinetic_celsius"`
	Limit       Number `csv:"limit_celsius"`
}

// Excursions writes a row for each excursion of a log, or where there is no log
// for each leg of the lane that goes beyond a limit.
func Excursions(w io.Writer, h *analysis.History) error {
	rows := []excursionRow{}
	if r := h.Record; r != nil {
		for _, e := range r.Excursions {
			row := excursionRow{
				Side: "below", Start: e.Start.ISO(), End: e.End.ISO(), StartKnown: yes(e.StartsKnown), EndKnown: yes(e.EndsKnown), Hours: Number(e.Hours),
				Peak: Number(e.Peak.Celsius), PeakAt: e.Peak.At.ISO(), Mean: Number(e.Mean), MeanKinetic: Number(e.MeanKinetic), Limit: Number(r.Below.Limit),
			}
			if e.Above {
				row.Side, row.Limit = "above", Number(r.Above.Limit)
			}
			rows = append(rows, row)
		}
		return gocsv.Marshal(rows, w)
	}
	none := Number(math.NaN())
	r := h.LaneRecord
	for _, l := range r.Legs {
		if l.Above > 0 {
			rows = append(rows, excursionRow{Side: "above", Leg: l.Name, Hours: Number(l.Above), Peak: Number(l.High), Mean: none, MeanKinetic: none, Limit: Number(r.Above.Limit)})
		}
		if l.Below > 0 {
			rows = append(rows, excursionRow{Side: "below", Leg: l.Name, Hours: Number(l.Below), Peak: Number(l.Low), Mean: none, MeanKinetic: none, Limit: Number(r.Below.Limit)})
		}
	}
	return gocsv.Marshal(rows, w)
}

func yes(x bool) string {
	if x {
		return "yes"
	}
	return "no"
}
