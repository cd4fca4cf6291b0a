package simulate

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"shelfspan/study/logger"
)

// The log says what the truth behind it says: each leg's mean, once the goods have
// taken its temperature on, and nothing but what is stated is missing.
func TestJourney(t *testing.T) {
	var file, again bytes.Buffer
	for _, b := range []*bytes.Buffer{&file, &again} {
		if err := WriteJourney(b, 25); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(file.Bytes(), again.Bytes()) {
		t.Fatal("the same seed gave another log")
	}
	if again.Reset(); WriteJourney(&again, 26) != nil || bytes.Equal(file.Bytes(), again.Bytes()) {
		t.Fatal("another seed gave the same log")
	}
	if !strings.HasPrefix(file.String(), "MADE UP") {
		t.Error("the log does not say that it is made up")
	}
	sums, counts := make([]float64, len(journey)), make([]float64, len(journey))
	l, err := logger.Read(JourneyFile, &file, logger.Options{}, func(r logger.Reading) {
		days, from := float64(r.Elapsed)/86400e3, 0.0
		for i, leg := range journey {
			if days >= math.Ceil(from+0.5) && days < leg.until { // whole days, the first half of one left out
				sums[i] += r.Celsius
				counts[i]++
			}
			from = leg.until
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	// 28 days of 48 rows, less 12 in the gap; two of them without a reading.
	if l.Readings != 28*48-12-2 || l.Missing != 2 || l.Unit != logger.Celsius || l.Zoned {
		t.Errorf("%+v", l)
	}
	for i, leg := range journey {
		if mean := sums[i] / counts[i]; math.Abs(mean-leg.mean) > 0.3 {
			t.Errorf("leg %d has a mean of %.2f °C, in truth %v", i, mean, leg.mean)
		}
	}
}
