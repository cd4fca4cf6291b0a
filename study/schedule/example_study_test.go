package schedule_test

import (
	"math"
	"testing"
	"time"

	"shelfspan/study"
	"shelfspan/study/schedule"
)

// day reads a date of a test.
func day(t testing.TB, s string) study.Date {
	t.Helper()
	d, err := study.ParseDate(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// times reads planned times.
func times(t testing.TB, list ...string) []study.Duration {
	t.Helper()
	var out []study.Duration
	for _, s := range list {
		d, err := study.ParseDuration(s)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, d)
	}
	return out
}

// weekdays are Monday to Friday.
func weekdays() (w [7]bool) {
	for d := time.Monday; d <= time.Friday; d++ {
		w[d] = true
	}
	return w
}

// balm is an invented study of a skin-care balm that starts on Monday,
// 2025-01-13: three batches in one pack; at 25C60 eight pulls, at 40C75 four.
// Assay opens 4 units and viscosity 2, pH is measured on those, 4 units are
// weighed again and again.
func balm(t testing.TB) *study.Study {
	t.Helper()
	return &study.Study{
		ID: "MB-26", Title: "Balm", Start: day(t, "2025-01-13"), Claim: times(t, "30M")[0], StoreAt: 0,
		Rules: study.ICHQ1E, Confidence: 0.95, PoolAlpha: 0.25,
		Calendar: study.Calendar{
			Workdays: weekdays(), Shift: study.ShiftNearest,
			Windows: []study.Window{
				{UpTo: times(t, "1M")[0], Days: 3}, {UpTo: times(t, "12M")[0], Days: 7}, {UpTo: times(t, "60M")[0], Days: 14},
			},
		},
		Samples: study.Samples{ReservePercent: 10, Retain: 5},
		Conditions: []study.Condition{
			{ID: "25C60", Role: study.LongTerm, Temperature: 25, Humidity: 60, Chamber: 0,
				Pulls: times(t, "0", "3M", "6M", "9M", "12M", "18M", "24M", "36M")},
			{ID: "40C75", Role: study.Accelerated, Temperature: 40, Humidity: 75, Chamber: -1,
				Pulls: times(t, "0", "1M", "3M", "6M")},
		},
		Chambers: []study.Chamber{{ID: "A", Capacity: 200}},
		Batches: []study.Batch{
			{ID: "B1", Scale: "pilot", Made: study.NoDate, Placed: study.NoDate},
			{ID: "B2", Scale: "pilot", Made: study.NoDate, Placed: study.NoDate},
			{ID: "B3", Scale: "production", Made: study.NoDate, Placed: study.NoDate},
		},
		Packs: []study.Pack{{ID: "tube", Orientations: []study.Orientation{study.Upright}}},
		Attributes: []study.Attribute{
			attribute("assay", study.Destructive, 4), attribute("viscosity", study.Destructive, 2),
			attribute("pH", study.Shared, 3), attribute("loss", study.Returned, 4),
		},
	}
}

func attribute(id string, sampling study.Sampling, units int) study.Attribute {
	return study.Attribute{
		ID: id, Kind: study.Measure, Lower: math.Inf(-1), Upper: math.Inf(1), SignificantChange: math.NaN(),
		Sampling: sampling, Units: units, Replicates: 1, Decimals: -1,
	}
}

// pullOf finds a pull by its id.
func pullOf(t testing.TB, p *schedule.Schedule, id string) *schedule.Pull {
	t.Helper()
	var ids []string
	for i := range p.Pulls {
		if p.Pulls[i].ID == id {
			return &p.Pulls[i]
		}
		ids = append(ids, p.Pulls[i].ID)
	}
	t.Fatalf("no pull %q among %q", id, ids)
	return nil
}

// codes gives the codes of the warnings and cautions with what they are about.
func codes(p *schedule.Schedule) map[string][]string {
	out := make(map[string][]string)
	for _, w := range p.Warnings {
		out[w.Code] = append(out[w.Code], w.Where)
	}
	for _, w := range p.Cautions {
		out[w.Code] = append(out[w.Code], w.Where)
	}
	return out
}
