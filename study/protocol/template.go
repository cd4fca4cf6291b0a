package protocol

import "embed"

//go:embed templates/*.toml
var templates embed.FS

// Templates lists the starters there are, the usual one first.
func Templates() []string { return []string{"cream", "lotion", "pressurised", "blank"} }

// Template gives a commented study file to start from, which Read accepts as
// it is; false where there is none of that name.
func Template(name string) (string, bool) {
	data, err := templates.ReadFile("templates/" + name + ".toml")
	return string(data), err == nil
}
