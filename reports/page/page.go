// Package page writes the stability summary as a web page: one file that fetches
// nothing, reads without a script, and says what the PDF says, from the same
// evaluation and in the same words. A script of its own lets tables be sorted and
// filtered where the reader's browser runs it.
package page

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"html/template"
	"io"

	"shelfspan/analysis"
	"shelfspan/reports/dossier"
	"shelfspan/reports/words"
	"shelfspan/study"
)

// Input is what a page is written from.
type Input = dossier.Input

// sections are the parts of the page in their order. One that has nothing to say
// writes nothing, and is then in no list of contents.
var sections = []struct {
	part  words.Section // as --section has it; also the anchor, but for what belongs to a part with another
	id    string
	title string
	write func(*writer)
}{
	{words.SectionConclusion, "", "", (*writer).conclusion},
	{words.SectionConclusion, "limits", words.TitleLimits, (*writer).limits},
	{words.SectionTrends, "", "", (*writer).trends},
	{words.SectionArrhenius, "", "", (*writer).arrhenius},
	{words.SectionInteractions, "", "", (*writer).interactions},
	{words.SectionResults, "", "", (*writer).results},
	{words.SectionChanges, "", "", (*writer).changes},
	{words.SectionProtocol, "", "", (*writer).protocol},
	{words.SectionPulls, "", "", (*writer).pulls},
	{words.SectionWarnings, "", "", (*writer).warnings},
	{words.SectionMethods, "", "", (*writer).methods},
	{words.SectionProvenance, "", "", (*writer).provenance},
}

var (
	//go:embed page.css
	layout string
	//go:embed page.js
	script string
	//go:embed page.gohtml
	source    string
	style     = palette() + layout
	templates = template.Must(template.New("").Parse(source))
)

// policy lets the page's own style and script run and nothing else: no fetch,
// no form, no other script, whatever a name in the study tries.
func policy() string {
	hash := func(t string) string {
		sum := sha256.Sum256([]byte(t))
		return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
	}
	return "default-src 'none'; style-src " + hash(style) + "; script-src " + hash(script) + "; img-src data:; base-uri 'none'; form-action 'none'"
}

// writer is a page being written.
type writer struct {
	Input
	s *study.Study
	d *study.Dataset
	e *analysis.Evaluation

	out      bytes.Buffer // of the sections
	contents []*entry
	figures  int
	tables   int
	names    isolator
	err      error
}

// entry is a line of the list of contents, with the lines below it.
type entry struct {
	ID    string
	Title template.HTML
	Below []*entry
}

// Write writes the page. The same input gives the same bytes.
func Write(w io.Writer, in Input) error {
	e := in.Evaluation
	x := &writer{Input: in, s: e.Dataset.Study, d: e.Dataset, e: e, names: isolatorOf(e.Dataset)}
	for _, s := range sections {
		if in.Has(s.part) {
			x.section(cmp.Or(s.id, string(s.part)), cmp.Or(s.title, s.part.Title()), s.write)
		}
	}
	if x.err != nil {
		return x.err
	}
	title := x.s.Title
	if title == "" {
		title = "Stability study " + x.s.ID
	}
	var page bytes.Buffer
	if err := templates.ExecuteTemplate(&page, "page", map[string]any{
		"Policy": policy(), "Style": template.CSS(style), "Script": template.JS(script),
		"Name": in.Name(), "Version": in.Version, "Fingerprint": in.Fingerprint(), "Study": x.text(x.s.ID),
		"Title": x.text(title), "Product": x.text(x.s.Product), "Start": x.s.Start.String(),
		"Contents": x.contents, "Sections": template.HTML(x.out.String()), "Disclaimer": words.Disclaimer,
	}); err != nil {
		return err
	}
	_, err := w.Write(seal(printable(page.Bytes())))
	return err
}

const sealHead, sealTail = "<!-- shelfspan sha256 ", " -->\n"

// seal ends a page with the hash of all before it.
func seal(page []byte) []byte {
	sum := sha256.Sum256(page)
	return fmt.Appendf(page, "%s%s%s", sealHead, hex.EncodeToString(sum[:]), sealTail)
}

// AsWritten reports whether a file is a page of this package in which nothing was
// changed since.
func AsWritten(file []byte) bool {
	at := bytes.LastIndex(file, []byte(sealHead))
	return at > 0 && bytes.Equal(seal(bytes.Clone(file[:at])), file)
}
