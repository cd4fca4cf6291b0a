package schedule_test

import (
	"math"
	"testing"

	"shelfspan/study"
	"shelfspan/study/schedule"
)

// TestClaim works out by hand which planned X reaches a claim by the rules of
// ICH Q1E (2003) 2.4 and 2.5, from 0, 3, 6, 9, 12, 18, 24 and 36 months.
func TestClaim(t *testing.T) {
	type want struct {
		rule    string
		needs   string // "" where the plan does not reach the claim
		atMost  float64
		on      string
		storage study.Storage
	}
	cold := func(celsius float64) func(*study.Study) {
		return func(s *study.Study) { s.Conditions[0].Temperature = celsius }
	}
	intermediate := func(s *study.Study) {
		s.Conditions = append(s.Conditions, study.Condition{ID: "30C65", Role: study.Intermediate, Temperature: 30, Chamber: -1, Pulls: times(t, "0", "6M", "9M", "12M")})
	}
	for _, c := range []struct {
		name    string
		claim   string
		change  func(*study.Study)
		support want
		after   want
	}{
		{"30M at room temperature", "30M", nil, // 12: min(24, 24) = 24; 18: min(36, 30) = 30
			want{"ICH Q1E 2.4.1", "18M", 30, "2026-07-13", study.RoomTemperature},
			want{"ICH Q1E 2.4.2", "36M", 36, "2028-01-13", study.RoomTemperature}},
		{"24M at room temperature", "24M", nil, // 9: min(18, 21) = 18; 12: 24
			want{"ICH Q1E 2.4.1", "12M", 24, "2026-01-13", study.RoomTemperature},
			want{"ICH Q1E 2.4.2", "24M", 24, "2027-01-13", study.RoomTemperature}},
		{"two years at room temperature", "2Y", nil,
			want{"ICH Q1E 2.4.1", "12M", 24, "2026-01-13", study.RoomTemperature},
			want{"ICH Q1E 2.4.2", "24M", 24, "2027-01-13", study.RoomTemperature}},
		{"with an intermediate condition", "30M", intermediate, // 18: min(27, 24) = 24; 24: min(36, 30) = 30
			want{"ICH Q1E 2.4.1", "18M", 30, "2026-07-13", study.RoomTemperature},
			want{"ICH Q1E 2.4.2.1", "24M", 30, "2027-01-13", study.RoomTemperature}},
		{"30 °C has no intermediate", "30M", func(s *study.Study) { intermediate(s); s.Conditions[0].Temperature = 30 },
			want{"ICH Q1E 2.4.1", "18M", 30, "2026-07-13", study.RoomTemperature},
			want{"ICH Q1E 2.4.2", "36M", 36, "2028-01-13", study.RoomTemperature}},
		{"refrigerator", "30M", cold(5), // 18: min(27, 24) = 24; 24: min(36, 30) = 30
			want{"ICH Q1E 2.5.1.1", "24M", 30, "2027-01-13", study.Refrigerated},
			want{"ICH Q1E 2.5.1.2", "36M", 36, "2028-01-13", study.Refrigerated}},
		{"refrigerated, 25 °C stands for acceleration", "30M", func(s *study.Study) {
			s.Conditions[0].Temperature = 5
			s.Conditions[1].Temperature, s.Conditions[1].Role = 25, study.LongTerm
		},
			want{"ICH Q1E 2.5.1.1", "24M", 30, "2027-01-13", study.Refrigerated},
			want{"ICH Q1E 2.5.1.2", "36M", 36, "2028-01-13", study.Refrigerated}},
		{"refrigerated, the 25 °C too short", "24M", func(s *study.Study) {
			s.Conditions[0].Temperature = 5
			s.Conditions = append(s.Conditions, study.Condition{ID: "25C", Role: study.Accelerated, Temperature: 25, Chamber: -1, Pulls: times(t, "0", "3M")})
		},
			want{"ICH Q1E 2.5.1", "24M", 24, "2027-01-13", study.Refrigerated},
			want{"ICH Q1E 2.5.1", "24M", 24, "2027-01-13", study.Refrigerated}},
		{"accelerated hardly warmer than storage", "24M", func(s *study.Study) { s.Conditions[1].Temperature = 34 },
			want{"ICH Q1E 2.4", "24M", 24, "2027-01-13", study.RoomTemperature},
			want{"ICH Q1E 2.4", "24M", 24, "2027-01-13", study.RoomTemperature}},
		// Half a year has 181 to 184 days: 26 weeks, 182 days, are one, 180 days are not.
		{"accelerated for 26 weeks", "24M", func(s *study.Study) { s.Conditions[1].Pulls = times(t, "0", "13W", "26W") },
			want{"ICH Q1E 2.4.1", "12M", 24, "2026-01-13", study.RoomTemperature},
			want{"ICH Q1E 2.4.2", "24M", 24, "2027-01-13", study.RoomTemperature}},
		{"accelerated for 180 days", "24M", func(s *study.Study) { s.Conditions[1].Pulls = times(t, "0", "90D", "180D") },
			want{"ICH Q1E 2.4", "24M", 24, "2027-01-13", study.RoomTemperature},
			want{"ICH Q1E 2.4", "24M", 24, "2027-01-13", study.RoomTemperature}},
		{"freezer", "24M", cold(-20),
			want{"ICH Q1E 2.5.2", "24M", 24, "2027-01-13", study.Freezer},
			want{"ICH Q1E 2.5.2", "24M", 24, "2027-01-13", study.Freezer}},
		{"out of reach", "60M", nil, // 36: min(72, 48) = 48
			want{"ICH Q1E 2.4.1", "", 48, "", study.RoomTemperature},
			want{"ICH Q1E 2.4.2", "", 36, "", study.RoomTemperature}},
		// The claim of 6 months needs 3 of data, min(6, 15), but six at the accelerated
		// condition, in on 2025-07-14; that is later than the 3M pull.
		{"waits for six accelerated months", "6M", nil,
			want{"ICH Q1E 2.4.1", "3M", 6, "2025-07-14", study.RoomTemperature},
			want{"ICH Q1E 2.4.2", "6M", 6, "2025-07-14", study.RoomTemperature}},
		// Data over the claim's whole length rest on nothing else.
		{"does not wait where nothing is extended", "3M", nil,
			want{"ICH Q1E 2.4.1", "3M", 6, "2025-04-14", study.RoomTemperature},
			want{"ICH Q1E 2.4.2", "3M", 3, "2025-04-14", study.RoomTemperature}},
		{"the first six months of two accelerated conditions", "6M", func(s *study.Study) {
			s.Conditions[1].Pulls = times(t, "0", "9M", "6M", "12M")
			s.Conditions = append(s.Conditions, study.Condition{ID: "40C25", Role: study.Accelerated, Temperature: 40, Chamber: -1, Pulls: times(t, "0", "3M", "7M")})
			s.Conditions[1], s.Conditions[2] = s.Conditions[2], s.Conditions[1]
		},
			want{"ICH Q1E 2.4.1", "3M", 6, "2025-07-14", study.RoomTemperature},
			want{"ICH Q1E 2.4.2", "6M", 6, "2025-07-14", study.RoomTemperature}},
		{"accelerated for three months only", "24M", func(s *study.Study) { s.Conditions[1].Pulls = times(t, "0", "1M", "3M") },
			want{"ICH Q1E 2.4", "24M", 24, "2027-01-13", study.RoomTemperature},
			want{"ICH Q1E 2.4", "24M", 24, "2027-01-13", study.RoomTemperature}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := balm(t)
			s.Claim = times(t, c.claim)[0]
			if c.change != nil {
				c.change(s)
			}
			got := schedule.Plan(s).Claim
			for _, x := range []struct {
				what string
				got  schedule.Support
				want want
			}{{"support", got.Support, c.support}, {"after a significant change", got.AfterChange, c.after}} {
				needs := ""
				if x.got.Reached {
					needs = x.got.Time.String()
				}
				if x.got.Rule != x.want.rule || needs != x.want.needs || x.got.AtMost != x.want.atMost || x.got.Date.String() != x.want.on {
					t.Errorf("%s: %s needs %q for %v on %s, want %+v", x.what, x.got.Rule, needs, x.got.AtMost, x.got.Date, x.want)
				}
				if got.Storage != x.want.storage {
					t.Errorf("storage %q, want %q", got.Storage, x.want.storage)
				}
			}
		})
	}
}

func TestNoClaim(t *testing.T) {
	s := balm(t)
	s.Rules = study.NoRules
	if c := schedule.Plan(s).Claim; c.Support.Reached || c.Support.Formula != "" || !math.IsInf(c.Support.AtMost, 1) {
		t.Errorf("without rules: %+v", c.Support)
	}
	s.StoreAt = -1
	p := schedule.Plan(s)
	if p.Claim != nil || codes(p)["no-storage-condition"] == nil {
		t.Errorf("without a storage condition: %+v, %v", p.Claim, p.Warnings)
	}
	s.Claim = study.Duration{}
	if p = schedule.Plan(s); p.Claim != nil || codes(p)["no-storage-condition"] != nil {
		t.Errorf("without a claim: %+v, %v", p.Claim, p.Warnings)
	}
}
