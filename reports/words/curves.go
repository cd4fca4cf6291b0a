package words

import (
	"fmt"
	"math"
	"strings"

	"shelfspan/analysis"
	"shelfspan/study"
)

// CurveHeads names what a model's curve is made of, in the order of CurveCells.
func CurveHeads(a *study.Attribute, model string) []string {
	unit, _ := Scales(a, model)
	in := func(what, unit string) string {
		if unit == "" {
			return what
		}
		return what + ", " + unit
	}
	if study.Model(model) == study.PowerOfTime {
		return []string{in("start", unit), "± se", in("factor", unit), "± se", "exponent", "± se"}
	}
	return []string{in("start", unit), "± se", in("plateau", unit), "± se", "rate, 1/month", "± se"}
}

// CurveCells writes the numbers of a curve, each to the decimals that its standard
// error bears.
func CurveCells(c analysis.Curve, model string) []string {
	var out []string
	add := func(x, se float64) {
		d := Decimals(2, se)
		out = append(out, Fixed(x, d), Fixed(se, d))
	}
	add(c.Start, c.SE.Start)
	if study.Model(model) == study.PowerOfTime {
		add(c.Factor, c.SE.Factor)
		add(c.Exponent, c.SE.Exponent)
	} else {
		add(c.Plateau, c.SE.Plateau)
		add(c.Rate, c.SE.Rate)
	}
	return out
}

// CurveFormula says what a model's curve is.
func CurveFormula(model string) string {
	if study.Model(model) == study.PowerOfTime {
		return "start + factor × months^exponent"
	}
	return "plateau + (start − plateau) × e^(−rate × months)"
}

// ModelsCompared says how the models compared by which one was chosen; "" where
// none were.
func ModelsCompared(a *analysis.Analysis) string {
	var compared, left []string
	for _, c := range a.Candidates {
		if math.IsNaN(c.AICc) {
			left = append(left, string(c.Model)+" ("+c.Note+")")
			continue
		}
		x := "without residual"
		if !math.IsInf(c.AICc, 0) {
			x = strings.ReplaceAll(Fixed(c.AICc, 1), "-", "−")
		}
		compared = append(compared, string(c.Model)+" "+x)
	}
	if len(compared) == 0 {
		return ""
	}
	t := fmt.Sprintf("AICc, lower is better, of all conditions and packs: %s.", strings.Join(compared, "; "))
	if len(left) > 0 {
		t += " Left out: " + strings.Join(left, "; ") + "."
	}
	return t
}

// Censored says how values beyond a limit of measurement entered; "" where there
// are none.
func Censored(a *analysis.Analysis) string {
	if a.Censored == 0 {
		return ""
	}
	n := 0
	for i := range a.Samples {
		if a.Samples[i].Fitted {
			n++
		}
	}
	return fmt.Sprintf("%d of the %d values lie below or above a limit of measurement and enter as that, by maximum likelihood.", a.Censored, n)
}
