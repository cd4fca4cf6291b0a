package study

import (
	"math"
	"slices"
	"testing"
)

// 2 to 8 °C is a refrigerator by any pharmacopoeia, both ends included.
func TestStorageOf(t *testing.T) {
	for celsius, want := range map[float64]Storage{
		-20: Freezer, 1.9: Freezer, 2: Refrigerated, 5: Refrigerated, 8: Refrigerated, 8.1: RoomTemperature, 25: RoomTemperature,
	} {
		if got := StorageOf(celsius); got != want {
			t.Errorf("%v °C is %s, want %s", celsius, got, want)
		}
	}
}

func TestHasIntermediate(t *testing.T) {
	for celsius, want := range map[float64]bool{5: false, 15: true, 25: true, 27: true, 28: false, 30: false, 32: false, 33: false} {
		if got := HasIntermediate(celsius); got != want {
			t.Errorf("%v °C: %v, want %v", celsius, got, want)
		}
	}
}

// A half-year counted on the calendar is never shorter than SixMonths, and five
// months are never as long.
func TestSixMonths(t *testing.T) {
	for day := range Date(3 * 365) {
		start := NewDate(2026, 1, 1) + day
		six, five := float64(start.AddMonths(6)-start)/DaysPerMonth, float64(start.AddMonths(5)-start)/DaysPerMonth
		if six < SixMonths || five >= SixMonths {
			t.Fatalf("from %s: six months are %v, five %v; SixMonths is %v", start, six, five, SixMonths)
		}
	}
	if w := (Duration{26, Weeks}).Months(0); w < SixMonths {
		t.Errorf("26 weeks are %v months", w)
	}
}

func TestAcceleratedConditions(t *testing.T) {
	condition := func(role Role, celsius float64) Condition { return Condition{Role: role, Temperature: celsius} }
	for _, c := range []struct {
		name       string
		conditions []Condition // stored at the first
		want       []int
	}{
		{"by role", []Condition{condition(LongTerm, 25), condition(Intermediate, 30), condition(Accelerated, 40), condition(Stress, 50)}, []int{2}},
		{"10 °C warmer is warm enough, 9 is not", []Condition{condition(LongTerm, 30), condition(Accelerated, 39), condition(Accelerated, 40)}, []int{2}},
		{"refrigerated: 25 °C whatever its role", []Condition{condition(LongTerm, 5), condition(LongTerm, 25), condition(Accelerated, 40)}, []int{1}},
		{"refrigerated: by role without 25 °C", []Condition{condition(LongTerm, 5), condition(Accelerated, 40)}, []int{1}},
		{"cycling has no temperature", []Condition{condition(LongTerm, 25), condition(Cycling, math.NaN())}, nil},
		{"freezer", []Condition{condition(LongTerm, -20), condition(Accelerated, 5)}, nil},
	} {
		s := Study{Conditions: c.conditions}
		if got := s.AcceleratedConditions(); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func TestIntermediateConditions(t *testing.T) {
	for _, c := range []struct {
		store float64
		want  []int
	}{{25, []int{2}}, {5, nil}, {30, nil}, {-20, nil}} {
		s := Study{Conditions: []Condition{{Role: LongTerm, Temperature: c.store}, {Role: Intermediate, Temperature: 20},
			{Role: Intermediate, Temperature: 30}, {Role: Accelerated, Temperature: 40}, {Role: Intermediate, Temperature: math.NaN()}}}
		if got := s.IntermediateConditions(); !slices.Equal(got, c.want) {
			t.Errorf("stored at %v °C: %v, want %v", c.store, got, c.want)
		}
	}
}
