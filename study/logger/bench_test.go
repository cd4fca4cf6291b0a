package logger

import (
	"bytes"
	"fmt"
	"runtime"
	"testing"
	"time"
)

// BenchmarkRead5M reads five million readings on one core: a month and more of
// one a second.
func BenchmarkRead5M(b *testing.B) {
	const n = 5_000_000
	for _, c := range []struct{ name, header, layout, format string }{
		{"iso", "Time,Temperature (°C)", "2006-01-02 15:04:05", "%s,%.2f\n"},
		{"zoned", "Timestamp;Humidity;Temperature (°C)", "2006-01-02T15:04:05", "%s+02:00;55,5;%.2f\n"},
		{"columns", "No.,Date,Time,Temp (°F)", "02/01/2006,03:04:05 PM", "1,%s,%.1f\n"},
	} {
		var data bytes.Buffer
		data.WriteString(c.header + "\n")
		t := time.Date(2025, 8, 4, 0, 0, 0, 0, time.UTC)
		line := make([]byte, 0, 64)
		for i := range n {
			line = fmt.Appendf(line[:0], c.format, t.Add(time.Duration(i)*time.Second).Format(c.layout), 20+float64(i%977)/100)
			data.Write(line)
		}
		b.Run(c.name, func(b *testing.B) {
			defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
			b.SetBytes(int64(data.Len()))
			b.ReportAllocs()
			for b.Loop() {
				sum := 0.0
				log, err := Read("log.csv", bytes.NewReader(data.Bytes()), Options{}, func(r Reading) { sum += r.Celsius })
				if err != nil || log.Readings != n {
					b.Fatal(err)
				}
			}
			b.ReportMetric(n*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
		})
	}
}
