package arrhenius

import "math"

// Q10 is the factor from 25 to 35 °C that an activation energy in kJ/mol
// stands for.
func Q10(eaKJ float64) float64 {
	const span = 1/(25+ZeroCelsius) - 1/(35+ZeroCelsius)
	return math.Exp(eaKJ * 1000 / GasConstant * span)
}

// conventionalQ10 is what ASTM F1980 takes for granted.
const conventionalQ10 = 2

// AgeingFactor is the accelerated-ageing factor Q10^((T − Tstore)/10) of ASTM
// F1980, temperatures in °C. It is the conventional shortcut: it takes Q10, 2 by
// convention, for granted, and is shown beside an answer, never as one.
func AgeingFactor(q10, celsius, storeCelsius float64) float64 {
	return math.Pow(q10, (celsius-storeCelsius)/10)
}
