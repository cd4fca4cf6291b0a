package words

import "shelfspan/study"

// Handling says what to mind with a pack at the bench; empty where nothing of
// its nature asks for it. Who decides is said beside it: schedule.Decides.
func Handling(p *study.Pack) []string {
	name := "Packs"
	if p.ID != "" {
		name = "Pack " + p.ID
	}
	var out []string
	if p.Pressurised {
		out = append(out, name+" is under pressure: a warm one may burst. Let it come to room temperature before it is opened, shield the eyes, do not pierce it.")
	}
	if p.Flammable {
		out = append(out, name+" holds flammable contents: no flame or spark near, and fresh air.")
	}
	if p.Glass {
		out = append(out, name+" is glass: cold or heat may have cracked it. Wear gloves that resist cuts.")
	}
	return out
}

// Nature says in a word or two each what a pack's label warns of.
func Nature(p *study.Pack) []string {
	var out []string
	for _, n := range []struct {
		is   bool
		word string
	}{{p.Pressurised, "pressurised"}, {p.Flammable, "flammable"}, {p.Glass, "glass"}} {
		if n.is {
			out = append(out, n.word)
		}
	}
	return out
}
