package arrhenius

// Spell is a time at one temperature.
type Spell struct {
	Celsius float64
	Months  float64
}

// History is what a product went through, in spells; their order does not matter.
type History []Spell
