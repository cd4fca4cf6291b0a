package simulate

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"time"
)

// JourneyFile is the name of the demonstration's temperature log.
const JourneyFile = "journey.csv"

// leg is a part of a journey: a temperature that swings about a mean once a day,
// warmest in the afternoon.
type leg struct {
	until       float64 // days since the start
	mean, swing float64 // °C
}

// journey is the truth behind the log: a warehouse, a lorry in a hot spell that
// stands a day in the sun, a depot, and the store of a shop.
var journey = []leg{{9, 21, 1.2}, {11, 30, 8}, {16, 26.5, 2}, {28, 22.5, 0.8}}

// What the logger does.
const (
	journeyStep  = 30 * time.Minute
	journeyLag   = 3 * time.Hour // of the goods behind the air about them
	journeyNoise = 0.08          // °C, standard deviation
)

// WriteJourney writes the log of a logger that travelled with a pallet of the
// made-up balm for four weeks, as such a device writes it: lines about itself, a
// header, a row each half hour, on a clock without a zone. Twice it has no
// reading, and for six hours in the depot no row at all.
func WriteJourney(w io.Writer, seed uint64) error {
	out := bufio.NewWriter(w)
	random := rand.New(rand.NewPCG(seed, 1<<32)) // apart from the streams of the readings
	start := time.Date(2025, time.August, 4, 6, 0, 0, 0, time.UTC)
	fmt.Fprintf(out, "MADE UP: logger of a pallet of skin-care balm\nInterval;30 min\n\nDate;Time;Temperature (°C);Humidity (%% RH)\n")
	celsius := journey[0].mean
	part := 0
	for i := 0; ; i++ {
		at := start.Add(time.Duration(i) * journeyStep)
		days := at.Sub(start).Hours() / 24
		for part < len(journey) && days >= journey[part].until {
			part++
		}
		if part == len(journey) {
			break
		}
		l := journey[part]
		hour := float64(at.Hour()) + float64(at.Minute())/60
		air := l.mean + l.swing*math.Sin(2*math.Pi*(hour-9)/24)
		celsius += (air - celsius) * (1 - math.Exp(-journeyStep.Hours()/journeyLag.Hours()))
		reading, humidity := celsius+journeyNoise*random.NormFloat64(), 52+6*random.NormFloat64()
		if days >= 13.25 && days < 13.5 {
			continue
		}
		value := fmt.Sprintf("%.1f", reading)
		if i == 200 || i == 201 {
			value = "---"
		}
		fmt.Fprintf(out, "%s;%s;%s;%.0f\n", at.Format("2006-01-02"), at.Format("15:04"), value, humidity)
	}
	return out.Flush()
}
