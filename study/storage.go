package study

import "math"

// Storage is the class of labelled storage, on which the rules of ICH Q1A(R2)
// and Q1E depend.
type Storage string

// The classes of storage.
const (
	RoomTemperature Storage = "room temperature" // above 8 °C
	Refrigerated    Storage = "refrigerated"     // 2 to 8 °C
	Freezer         Storage = "freezer"          // below 2 °C
)

// StorageOf gives the class of a storage temperature in °C.
func StorageOf(celsius float64) Storage {
	switch {
	case celsius > 8:
		return RoomTemperature
	case celsius >= 2:
		return Refrigerated
	}
	return Freezer
}

// SixMonths is the least that counts as six months, in months: the shortest six
// calendar months have 181 days, so that a pull planned at 26W counts.
const SixMonths = 181 / DaysPerMonth

// Near reports whether a temperature in °C is a nominal one of ICH Q1A(R2),
// ± 2 °C.
func Near(celsius, nominal float64) bool { return math.Abs(celsius-nominal) <= 2 }

// HasIntermediate reports whether ICH Q1A(R2) has an intermediate condition
// between a storage temperature in °C and its accelerated condition: it has one,
// 30 °C, for room temperature, and none where storage itself is about that warm
// or warmer.
func HasIntermediate(celsius float64) bool {
	return StorageOf(celsius) == RoomTemperature && celsius < 30 && !Near(celsius, 30)
}

// IntermediateConditions gives, as indices into Conditions, those of the role
// intermediate that are warmer than storage; none where there is no intermediate
// condition for the storage. StoreAt is not negative.
func (s *Study) IntermediateConditions() []int {
	store := s.Conditions[s.StoreAt].Temperature
	if !HasIntermediate(store) {
		return nil
	}
	var list []int
	for i := range s.Conditions {
		if c := &s.Conditions[i]; c.Role == Intermediate && c.Temperature > store {
			list = append(list, i)
		}
	}
	return list
}

// LeastStep is how much warmer than storage, in °C, an accelerated condition has
// to be; the smallest step of ICH Q1A(R2) is from 30 to 40 °C.
const LeastStep = 10

// AcceleratedConditions gives, as indices into Conditions, the conditions at
// which significant change is judged: those of the role accelerated; for
// refrigerated storage those near 25 °C, of whatever role but stress and
// cycling, where there are any; none for a freezer. StoreAt is not negative.
func (s *Study) AcceleratedConditions() []int {
	store := s.Conditions[s.StoreAt].Temperature
	class := StorageOf(store)
	if class == Freezer {
		return nil
	}
	var byRole, room []int
	for i := range s.Conditions {
		c := &s.Conditions[i]
		if i == s.StoreAt || c.Role == Stress || c.Role == Cycling || !(c.Temperature >= store+LeastStep) {
			continue
		}
		if c.Role == Accelerated {
			byRole = append(byRole, i)
		}
		if Near(c.Temperature, 25) {
			room = append(room, i)
		}
	}
	if class == Refrigerated && room != nil {
		return room
	}
	return byRole
}
