package summary

import "shelfspan/analysis"

// losses writes what the single units of a weighing lose, and where it is dry.
func (x *writer) losses(of []*analysis.Analysis) {
	units, dry := x.Losses(of)
	x.gridOrNotes(units)
	x.gridOrNotes(dry)
}
