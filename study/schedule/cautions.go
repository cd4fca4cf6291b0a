package schedule

import (
	"fmt"
	"math"

	"shelfspan/study"
	"shelfspan/study/finding"
)

// Decides says who has the last word wherever the plan could hurt someone.
const Decides = "Local codes, the supplier's safety data sheet and people qualified for it decide whether and how this may be stored."

// caution adds the cautions of safety: pressurised packs at 50 °C or above
// (packs of that kind are proved at about that temperature, and GHS P412 warns
// of storing them above it), glass below 0 °C, flammable contents in a chamber
// that is not said to be rated for them, and cycling conditions, whose
// temperatures the study file need not tell. Only what the plan really stores
// is looked at.
func (p *Schedule) caution() {
	s := p.Study
	stored := make(map[[2]int]bool) // condition, pack
	for i := range p.Arms {
		stored[[2]int{p.Arms[i].Condition, p.Arms[i].Pack}] = true
	}
	for c := range s.Conditions {
		condition := &s.Conditions[c]
		t := condition.Temperature
		cycles := condition.Role == study.Cycling
		for k := range s.Packs {
			if !stored[[2]int{c, k}] {
				continue
			}
			pack := &s.Packs[k]
			where := condition.ID
			if pack.ID != "" {
				where = pack.ID + " at " + condition.ID
			}
			add := func(code, format string, args ...any) {
				p.Cautions = append(p.Cautions, finding.Warning{Code: code, Where: where, Text: fmt.Sprintf(format, args...) + " " + Decides})
			}
			if pack.Pressurised && t >= 50 {
				add("pressurised-hot", "pressurised packs are stored at %s °C. From 50 °C on their contents expand and the packs may burst.", celsius(t))
			}
			if pack.Glass && t < 0 {
				add("glass-freezing", "glass packs are stored at %s °C. Contents that freeze expand and may break them.", celsius(t))
			}
			if cycles && (pack.Pressurised || pack.Glass) {
				add("cycling-extremes", "%s packs go through temperature cycles whose extremes this plan does not know. Check the hottest and the coldest point: pressurised packs may burst from 50 °C on, glass may break where contents freeze, and every cycle strains closures anew.", fragile(pack))
			}
			if pack.Flammable {
				chamber := "no chamber is named for this condition"
				if condition.Chamber >= 0 {
					if s.Chambers[condition.Chamber].RatedFlammable {
						continue
					}
					chamber = "chamber " + s.Chambers[condition.Chamber].ID + " is not marked as rated for it"
				}
				add("flammable-chamber", "flammable contents are stored and %s. A leak can be set alight by the chamber's own electrics.", chamber)
			}
		}
	}
}

func fragile(k *study.Pack) string {
	switch {
	case k.Pressurised && k.Glass:
		return "pressurised glass"
	case k.Glass:
		return "glass"
	}
	return "pressurised"
}

// celsius writes a temperature with a true minus sign and no needless decimals.
func celsius(t float64) string {
	sign := ""
	if t < 0 {
		sign = "−"
	}
	return sign + number(math.Abs(t))
}
