package schedule

// Share is what the study takes of one batch in one pack: how many units are
// to be filled.
type Share struct {
	Batch, Pack                        int
	Initial, Stored, Reserve, Retained int
}

// Total gives the units to fill.
func (s Share) Total() int { return s.Initial + s.Stored + s.Reserve + s.Retained }

// Shares divides the study's units by batch and pack, in the study's order.
func (p *Schedule) Shares() []Share {
	packs := len(p.Study.Packs)
	out := make([]Share, 0, len(p.Study.Batches)*packs)
	for b := range p.Study.Batches {
		for k := range p.Study.Packs {
			out = append(out, Share{Batch: b, Pack: k, Retained: p.Study.Samples.Retain})
		}
	}
	for i := range p.Arms {
		a := &p.Arms[i]
		out[a.Batch*packs+a.Pack].Stored += a.Stored()
		out[a.Batch*packs+a.Pack].Reserve += a.Reserve
	}
	for i := range p.Pulls {
		if p.Pulls[i].Condition >= 0 {
			continue
		}
		for _, l := range p.Pulls[i].Lines {
			out[l.Batch*packs+l.Pack].Initial += l.Units
		}
	}
	return out
}
