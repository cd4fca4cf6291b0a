package words

import (
	"fmt"

	"shelfspan/analysis"
)

// Bootstrap says what made-up studies say of a prediction's bounds; "" where none
// were made.
func Bootstrap(p *analysis.Prediction) string {
	b := p.Bootstrap
	if b == nil {
		return ""
	}
	t := fmt.Sprintf("%d made-up studies with this fit as their truth", b.Studies)
	if b.Failed == b.Studies {
		return t + " gave no fit at all: the bounds cannot be checked so."
	}
	t += fmt.Sprintf(": at %s °C %s of their predicted lives lie at %s months or beyond; the profile bound keeps its word in %s of them and the delta method's in %s, where %s is what they promise.",
		Number(p.Celsius, 4), Percent(b.Level), Bound(b.Bound), share(b.ProfileCovers), share(b.DeltaCovers), Percent(b.Level))
	if b.Failed > 0 {
		t += fmt.Sprintf(" %d gave no fit; they are taken to lie below.", b.Failed)
	}
	return t
}

func share(x float64) string { return Fixed(100*x, 1) + " %" }
