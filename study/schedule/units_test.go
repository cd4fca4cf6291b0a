package schedule_test

import (
	"testing"

	"shelfspan/study/schedule"
	"shelfspan/study/unitid"
)

// Every unit that the plan counts has an id, each its own, and each says where
// the unit belongs.
func TestUnitsAreThoseCounted(t *testing.T) {
	s := balm(t)
	p := schedule.Plan(s)
	seen, back := make(map[string]bool), make(map[string]bool)
	add := func(u schedule.Unit) {
		id, form := unitid.Parse(u.ID)
		switch {
		case seen[u.ID]:
			t.Errorf("%s stands for two units", u.ID)
		case form != unitid.Good || id.Batch != s.Batches[u.Batch].ID || id.Pack != s.Packs[u.Pack].ID:
			t.Errorf("%s is read as %+v", u.ID, id)
		}
		seen[u.ID] = true
	}
	for i := range p.Pulls {
		for j := range p.Pulls[i].Lines {
			opened, returned := 0, 0
			for _, u := range p.UnitsOf(i, j) {
				if u.Returned {
					returned++
					back[u.ID] = true
					continue
				}
				opened++
				add(u)
				if len(u.Attributes) == 0 {
					t.Errorf("%s is opened and nothing is measured on it", u.ID)
				}
			}
			if l := &p.Pulls[i].Lines[j]; opened != l.Units || returned != l.Returned {
				t.Errorf("%s line %d: %d opened and %d put back, the plan counts %d and %d", p.Pulls[i].ID, j, opened, returned, l.Units, l.Returned)
			}
		}
	}
	for i := range p.Arms {
		for _, u := range p.ReserveOf(&p.Arms[i]) {
			add(u)
		}
	}
	if want := p.Units.Initial + p.Units.Stored + p.Units.Reserve; len(back) == 0 || len(seen)+len(back) != want {
		t.Errorf("%d units opened or in reserve and %d put back, the plan counts %d", len(seen), len(back), want)
	}
}
