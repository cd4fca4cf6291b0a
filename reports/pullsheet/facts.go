package pullsheet

import (
	"fmt"
	"math"
	"strings"

	"shelfspan/reports/words"
	"shelfspan/study"
)

// facts says when and where the pull is due, the day first.
func (x *writer) facts() []fact {
	p := x.pull
	when := []fact{{"Pull on", day(p.Date)}}
	if p.Shifted() != 0 {
		when = append(when, fact{"By calendar", day(p.Due) + ", a day off"})
	}
	window := p.Earliest.String() + " to " + p.Latest.String()
	if p.Earliest == p.Latest {
		window = "on " + p.Due.String() + " only"
	}
	when = append(when, fact{"On time", window}, fact{"Planned", planned(p.Time)})
	if p.Condition < 0 {
		return append(when, fact{"Where", "before storage"}, fact{"Units", counts(p.Units(), p.Returned())})
	}
	c := &x.s.Conditions[p.Condition]
	chamber := "none named"
	if c.Chamber >= 0 {
		chamber = x.s.Chambers[c.Chamber].ID
	}
	where := []fact{{"Chamber", chamber}, {"Condition", c.ID + ", " + string(c.Role)}}
	if t := climate(c); t != "" {
		where = append(where, fact{"Climate", t})
	}
	where = append(where, fact{"Units", counts(p.Units(), p.Returned())})
	for len(when) < len(where) { // so that each column holds what belongs together
		when = append(when, fact{})
	}
	return append(when, where...)
}

func day(d study.Date) string { return d.Weekday().String()[:3] + " " + d.String() }

var unitNames = map[study.Unit]string{study.Days: "day", study.Weeks: "week", study.Months: "month", study.Years: "year", study.Cycles: "cycle"}

// planned writes a planned time as the study file does, and in words.
func planned(d study.Duration) string {
	if d.IsZero() {
		return "initial (time zero)"
	}
	name := unitNames[d.Unit]
	if d.N != 1 {
		name += "s"
	}
	return fmt.Sprintf("%s (%d %s)", d, d.N, name)
}

func climate(c *study.Condition) string {
	var parts []string
	add := func(value, tolerance float64, unit string) {
		if math.IsNaN(value) {
			return
		}
		t := words.Planned(value)
		if tolerance > 0 {
			t += " ± " + words.Planned(tolerance)
		}
		parts = append(parts, strings.Replace(t, "-", "−", 1)+unit)
	}
	add(c.Temperature, c.TemperatureTolerance, "\u00a0°C")
	add(c.Humidity, c.HumidityTolerance, "\u00a0%\u00a0RH")
	return strings.Join(parts, ", ")
}

func counts(opened, returned int) string {
	if returned == 0 {
		return fmt.Sprintf("%d to open", opened)
	}
	return fmt.Sprintf("%d to open, %d to put back", opened, returned)
}
