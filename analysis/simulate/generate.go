package simulate

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"shelfspan/study"
)

// Reading is one simulated value, with the ids a lab would write beside it.
type Reading struct {
	Batch, Pack, Condition string            // Condition is empty at time zero, but for weighings
	Orientation            study.Orientation // empty at time zero where the pack has several, but for weighings
	Time                   study.Duration
	Pulled, Tested         study.Date // Tested is NoDate where not recorded
	Attribute              string
	Unit                   string
	Replicate              int // from 1; 0 where the attribute has single readings
	Value                  float64
	Grade                  string // name of the grade, for attributes of kind grade
	Decimals               int
	Tare                   float64 // g; NaN for all but weighings
	Comment                string
}

// arm is one batch in one pack and orientation at one condition.
type arm struct {
	batch, pack, orientation, condition int
}

// Generate makes up the results of the visits: for every visit, batch, pack,
// orientation and attribute of the study, the units and replicates it asks for.
// Readings stand in the order of the visits. A path whose attribute, or a visit
// whose condition, the study does not have is an error, as is a path that does
// not fit the number of batches.
func Generate(s *study.Study, truth []Path, visits []Visit, seed uint64) ([]Reading, error) {
	var out []Reading
	order := make(map[string]int, len(visits))
	for i, v := range visits {
		order[v.Condition+" "+v.Time.String()] = i
	}
	for i := range truth {
		p := &truth[i]
		a := slices.IndexFunc(s.Attributes, func(a study.Attribute) bool { return a.ID == p.Attribute })
		if a < 0 {
			return nil, fmt.Errorf("the study has no attribute %q", p.Attribute)
		}
		if len(p.Initial) != len(s.Batches) || len(p.BatchRate) != len(s.Batches) {
			return nil, fmt.Errorf("the truth of %s is not stated for %d batches", p.Attribute, len(s.Batches))
		}
		g := generator{s: s, p: p, a: a, rng: rand.New(rand.NewPCG(seed, uint64(i)))}
		var err error
		if s.Attributes[a].Kind == study.Weighing {
			err = g.weigh(visits)
		} else {
			err = g.measure(visits)
		}
		if err != nil {
			return nil, err
		}
		out = append(out, g.out...)
	}
	slices.SortStableFunc(out, func(x, y Reading) int {
		vx, vy := order[x.Condition+" "+x.Time.String()], order[y.Condition+" "+y.Time.String()]
		if x.Time.IsZero() {
			vx = -1
		}
		if y.Time.IsZero() {
			vy = -1
		}
		return cmp.Compare(vx, vy)
	})
	return out, nil
}

// generator makes the readings of one attribute from its own random stream.
type generator struct {
	s   *study.Study
	p   *Path
	a   int
	rng *rand.Rand
	out []Reading
}

// condition finds a visit's condition; time zero without one is -1.
func (g *generator) condition(v *Visit) (int, error) {
	if v.Condition == "" {
		return -1, nil
	}
	c := slices.IndexFunc(g.s.Conditions, func(c study.Condition) bool { return c.ID == v.Condition })
	if c < 0 {
		return 0, fmt.Errorf("the study has no condition %q", v.Condition)
	}
	return c, nil
}

// arms calls f for each batch, pack and orientation the attribute is tested in
// at a condition; at time zero (-1) once for each batch and pack.
func (g *generator) arms(condition int, f func(arm)) {
	attribute := &g.s.Attributes[g.a]
	for b := range g.s.Batches {
		for p := range g.s.Packs {
			if condition >= 0 && !attribute.At(condition, p) {
				continue
			}
			if condition < 0 && attribute.Packs != nil && !slices.Contains(attribute.Packs, p) {
				continue
			}
			for o := range g.s.Packs[p].Orientations {
				if condition < 0 && o > 0 {
					break
				}
				f(arm{b, p, o, condition})
			}
		}
	}
}

func (g *generator) reading(v *Visit, x arm, unit string) Reading {
	pack := &g.s.Packs[x.pack]
	r := Reading{
		Batch:       g.s.Batches[x.batch].ID,
		Pack:        pack.ID,
		Orientation: pack.Orientations[x.orientation],
		Time:        v.Time,
		Pulled:      v.Pulled,
		Tested:      study.NoDate,
		Attribute:   g.p.Attribute,
		Unit:        unit,
		Decimals:    max(g.s.Attributes[g.a].Decimals, 0),
		Tare:        math.NaN(),
		Comment:     v.Comment,
	}
	if x.condition >= 0 {
		r.Condition = g.s.Conditions[x.condition].ID
	} else if len(pack.Orientations) > 1 {
		r.Orientation = ""
	}
	if g.s.Attributes[g.a].TestWithin.N > 0 {
		r.Tested = v.Pulled + study.Date(cmp.Or(v.TestedAfter, usualWait))
	} else if v.TestedAfter > 0 {
		r.Comment = "" // it tells of the test that waited
	}
	return r
}

// usualWait is the days a lab takes from the pull to the test.
const usualWait = 7

func (g *generator) climate(condition int) Climate {
	if condition < 0 {
		return Climate{Celsius: referenceAt, Humidity: math.NaN()}
	}
	c := &g.s.Conditions[condition]
	return Climate{Celsius: c.Temperature, Humidity: c.Humidity}
}

// measure makes the readings of units that are opened, and so are new at each pull.
func (g *generator) measure(visits []Visit) error {
	attribute := &g.s.Attributes[g.a]
	for i := range visits {
		v := &visits[i]
		condition, err := g.condition(v)
		if err != nil {
			return err
		}
		g.arms(condition, func(x arm) {
			pack := &g.s.Packs[x.pack]
			months := float64(v.Pulled-g.s.TimeZero(x.batch)) / study.DaysPerMonth
			mean := g.p.Mean(x.batch, pack.ID, pack.Orientations[x.orientation], g.climate(condition), months)
			for u := range attribute.Units {
				r := g.reading(v, x, g.opened(x, i, u))
				unit := g.scatter(mean, g.p.UnitSD)
				for n := range max(attribute.Replicates, 1) {
					if attribute.Replicates > 1 {
						r.Replicate = n + 1
					}
					r.Value = g.reported(attribute, g.scatter(unit, g.p.ReadingSD))
					if attribute.Kind == study.Grade {
						r.Grade = attribute.Grades[int(r.Value)]
					}
					g.out = append(g.out, r)
				}
			}
		})
	}
	return nil
}

// opened labels a unit that is opened at a visit, the same for every attribute
// measured on it: B1-can-07i2 is the second inverted can of visit 7.
func (g *generator) opened(x arm, visit, unit int) string {
	pack := &g.s.Packs[x.pack]
	stood := "-"
	if len(pack.Orientations) > 1 && x.condition >= 0 {
		stood = string(pack.Orientations[x.orientation][:1])
	}
	return fmt.Sprintf("%s-%s-%02d%s%d", g.s.Batches[x.batch].ID, pack.ID, visit, stood, unit+1)
}

// scatter draws about a mean, on the scale on which the path is straight.
func (g *generator) scatter(mean, sd float64) float64 {
	z := g.rng.NormFloat64()
	if g.p.Order == study.FirstOrder {
		return mean * math.Exp(sd*z)
	}
	return mean + sd*z
}

// reported rounds as the lab reports.
func (g *generator) reported(a *study.Attribute, value float64) float64 {
	if a.Kind == study.Grade {
		return min(max(math.Round(value), 0), float64(len(a.Grades)-1))
	}
	return round(value, max(a.Decimals, 0))
}

func round(value float64, decimals int) float64 {
	scale := math.Pow10(decimals)
	return math.Round(value*scale) / scale
}

// balanceDecimals is what the lab's balance shows, in decimals of a gram.
const balanceDecimals = 3

// weigh makes the gross masses of units that are weighed at every pull of their
// arm and put back: each has its own tare, fill and rate for good.
func (g *generator) weigh(visits []Visit) error {
	attribute := &g.s.Attributes[g.a]
	type item struct {
		label           string
		tare, net, rate float64
	}
	stored := map[arm][]item{}
	for c := range g.s.Conditions {
		n := map[[2]int]int{}
		g.arms(c, func(x arm) {
			pack := &g.s.Packs[x.pack]
			rate := g.p.RateAt(x.batch, pack.ID, pack.Orientations[x.orientation], g.climate(c))
			for range attribute.Units {
				n[[2]int{x.batch, x.pack}]++
				stored[x] = append(stored[x], item{
					label: fmt.Sprintf("%s-%s-%s-W%d", g.s.Batches[x.batch].ID, pack.ID, g.s.Conditions[c].ID, n[[2]int{x.batch, x.pack}]),
					tare:  round(pack.Tare*(1+0.004*g.rng.NormFloat64()), balanceDecimals),
					net:   pack.NetFill * (1 + 0.006*g.rng.NormFloat64()),
					rate:  rate * (1 + g.p.UnitSD*g.rng.NormFloat64()),
				})
			}
		})
	}
	for i := range visits {
		v := &visits[i]
		condition, err := g.condition(v)
		if err != nil {
			return err
		}
		for c := range g.s.Conditions {
			if condition >= 0 && c != condition {
				continue
			}
			g.arms(c, func(x arm) {
				months := float64(v.Pulled-g.s.TimeZero(x.batch)) / study.DaysPerMonth
				for _, u := range stored[x] {
					r := g.reading(v, x, u.label)
					r.Tare = u.tare
					r.Decimals = balanceDecimals
					lost := u.net * (u.rate * months / 100)
					r.Value = round(u.tare+u.net-lost+g.p.ReadingSD*g.rng.NormFloat64(), balanceDecimals)
					g.out = append(g.out, r)
				}
			})
		}
	}
	return nil
}
