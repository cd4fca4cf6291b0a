package protocol

import (
	"regexp"
	"strings"
	"testing"
)

func TestTemplatesAreAccepted(t *testing.T) {
	for _, name := range Templates() {
		text, ok := Template(name)
		if !ok {
			t.Fatalf("no template %s", name)
		}
		if _, err := Read(name+".toml", []byte(text)); err != nil {
			t.Errorf("%v", err)
		}
	}
	if _, ok := Template("../schema"); ok {
		t.Error("a name that is no template was taken")
	}
}

// The blank starter shows every key, and with every # before a key taken away
// it is still a study file.
func TestBlankTemplateHasEveryKey(t *testing.T) {
	text, _ := Template("blank")
	full := regexp.MustCompile(`(?m)^#([a-z\[])`).ReplaceAllString(text, "$1")
	r := &reader{name: "blank.toml", sections: sections()}
	root, _ := parse(r, []byte(full))
	r.assemble(root)
	if r.count() > 0 {
		t.Fatalf("uncommented:\n%v", &r.faults)
	}
	for _, s := range sections() {
		tables := r.sectionTables(root)[s.name]
		for _, k := range s.keys {
			found := false
			for _, table := range tables {
				found = found || table.has(k)
			}
			if !found {
				t.Errorf("%s lacks %s", s, k)
			}
		}
	}
}

func TestPressurisedTemplateCautions(t *testing.T) {
	text, _ := Template("pressurised")
	for _, caution := range []string{"burst", "Local codes", "safety data sheet", "qualified people", "ignite"} {
		if !strings.Contains(strings.Join(strings.Fields(strings.ReplaceAll(text, "#", "")), " "), caution) {
			t.Errorf("no word of %q", caution)
		}
	}
}
