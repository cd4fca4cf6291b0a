package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"

	"github.com/urfave/cli/v2"

	"shelfspan/analysis"
	"shelfspan/reports/dossier"
	"shelfspan/reports/summary"
	"shelfspan/reports/text"
	"shelfspan/reports/words"
	"shelfspan/study"
	"shelfspan/study/intake"
	"shelfspan/study/protocol"
)

// verification is one check of a summary's file.
type verification struct {
	c      *cli.Context
	path   string
	file   []byte
	origin dossier.Origin
	p      *text.Printer
}

// verifyReport says whether a summary is as it was written, and whether it comes
// from the inputs named and this version; the first thing that differs ends it.
func verifyReport(c *cli.Context) error {
	if c.IsSet("out") {
		return &usageError{text: "--verify writes nothing and takes no --out"}
	}
	if err := noArguments(c); err != nil {
		return err
	}
	if err := checkParts(c); err != nil {
		return err
	}
	v := &verification{c: c, path: c.String("verify"), p: newPrinter(c.App.Writer)}
	in, _, err := openInput(c, v.path)
	if err != nil {
		return err
	}
	defer in.Close()
	if v.file, err = io.ReadAll(in); err != nil {
		return inputFault(v.path, err)
	}
	origin, record, err := summary.ReadOrigin(v.file)
	if err != nil {
		return &hintedError{err: fmt.Errorf("%s cannot be verified: %w", v.path, err), hint: "name a summary as shelfspan report wrote it, since it keeps a record of its inputs"}
	}
	v.origin = origin
	if !record.Intact {
		return v.differs("it is not as it was written: its digest does not fit, so what it says of its inputs may be wrong too")
	}
	v.tell()
	if record.Added > 0 {
		return v.differs("%d bytes were added after its end, which can change what it shows; what stands before them is as it was written", record.Added)
	}
	v.p.Hanging("- ", "its bytes: as they were written, by their digest")
	if c.String("study") == "" && !c.IsSet("results") && !c.IsSet("ledger") {
		v.p.Paragraph(words.NotCompared)
		v.p.Paragraph(words.DigestMeaning)
		return v.p.Err()
	}
	return v.compare()
}

// differs ends the check with what differs first.
func (v *verification) differs(format string, args ...any) error {
	if err := v.p.Err(); err != nil {
		return err
	}
	return fmt.Errorf("%s is not verified: %s", v.path, strings.Map(func(r rune) rune {
		if unicode.IsControl(r) { // a file may name its inputs as it likes
			return unicode.ReplacementChar
		}
		return r
	}, fmt.Sprintf(format, args...)))
}

func (v *verification) same(format string, args ...any) {
	v.p.Hanging("- ", fmt.Sprintf(format, args...))
}

// tell says what the file says of itself.
func (v *verification) tell() {
	o := &v.origin
	from := words.Count(len(o.Inputs), "input")
	if o.Ledger != nil {
		from = fmt.Sprintf("a ledger as of event %d of %s", o.Ledger.Event, words.When(o.Ledger.At))
	}
	v.p.Paragraph(fmt.Sprintf("%s says it is the stability summary of study %s, made by shelfspan %s from %s; short hash %s.", v.path, o.Study, o.Version, from, o.Fingerprint))
}

// compare holds the file against the inputs named.
func (v *verification) compare() error {
	o := &v.origin
	if o.Version != version {
		return v.differs("it was made by shelfspan %s, and this is %s", o.Version, version)
	}
	v.same("version: %s, as this one", version)
	given := givenOptions(v.c)
	if len(given) > 0 && !slices.Equal(given, o.Options) {
		return v.differs("its options are %s, and here %s", listOfOptions(o.Options), listOfOptions(given))
	}
	var d *study.Dataset
	var err error
	if where := ledgerOf(v.c); where != "" {
		d, err = v.fromLedger(where)
	} else {
		d, err = v.fromFiles()
	}
	if err != nil {
		return err
	}
	return v.makeAgain(d, given)
}

func listOfOptions(options []string) string {
	if len(options) == 0 {
		return "none"
	}
	return strings.Join(options, " ")
}

// fromLedger reads the state that the file names out of a ledger.
func (v *verification) fromLedger(where string) (*study.Dataset, error) {
	o := &v.origin
	if o.Ledger == nil {
		return nil, v.differs("it was made from files, not from a ledger: %s", nameOfInput(o.Inputs[0]))
	}
	if !v.c.IsSet("as-of") {
		if err := v.c.Set("as-of", fmt.Sprint(o.Ledger.Event)); err != nil {
			return nil, err
		}
	}
	d, studyFile, err := loadFromLedger(v.c, where)
	if err != nil {
		return nil, err
	}
	if d.Study.ID != o.Study {
		return nil, v.differs("it is about study %s, and this is %s", o.Study, d.Study.ID)
	}
	here := append([]study.Input{studyFile}, d.Inputs...)
	for i, in := range o.Inputs {
		if i >= len(here) || in.SHA256 != here[i].SHA256 {
			return nil, v.differs("%s is not what the ledger has (SHA-256 %s in the file)", nameOfInput(in), in.SHA256)
		}
	}
	if len(here) > len(o.Inputs) {
		return nil, v.differs("the ledger has %s besides", nameOfInput(here[len(o.Inputs)]))
	}
	if d.Ledger.Hash != o.Ledger.Hash || d.Ledger.Event != o.Ledger.Event {
		return nil, v.differs("it was made as of event %d with the hash %s, and here that is event %d with the hash %s", o.Ledger.Event, o.Ledger.Hash, d.Ledger.Event, d.Ledger.Hash)
	}
	v.same("ledger: the state of event %d, by its hash; %s alike by SHA-256", o.Ledger.Event, words.Count(len(here), "input"))
	return d, nil
}

// fromFiles reads the inputs under the names that the file has for them, since
// warnings name them too.
func (v *verification) fromFiles() (*study.Dataset, error) {
	o := &v.origin
	if o.Ledger != nil {
		return nil, v.differs("it was made from a ledger, as of its event %d; name that with --ledger", o.Ledger.Event)
	}
	paths := v.c.StringSlice("results")
	if v.c.String("study") == "" {
		return nil, &usageError{text: "report needs a study file", hint: "name it with --study FILE, or leave --results out"}
	}
	if err := checkResults(v.c, paths); err != nil {
		return nil, err
	}
	studyFile, err := v.readFile(v.c.String("study"))
	if err != nil {
		return nil, err
	}
	if studyFile.sha256 != o.Inputs[0].SHA256 {
		return nil, v.unlike(studyFile, o.Inputs[0])
	}
	v.same("%s: the same bytes", studyFile.path)
	var given []*inputFile
	for _, path := range paths {
		f, err := v.readFile(path)
		if err != nil {
			return nil, err
		}
		given = append(given, f)
	}
	var sources []intake.Source
	for i, in := range o.Inputs[1:] {
		at := slices.IndexFunc(given, func(f *inputFile) bool { return f.sha256 == in.SHA256 })
		if at < 0 {
			if i < len(given) && len(given) == len(o.Inputs)-1 {
				return nil, v.unlike(given[i], in)
			}
			return nil, v.differs("%s is none of the tables named (SHA-256 %s in the file)", nameOfInput(in), in.SHA256)
		}
		v.same("%s: the same bytes", given[at].path)
		sources = append(sources, intake.Source{Name: in.Path, Reader: bytes.NewReader(given[at].data)})
		given = slices.Delete(given, at, at+1)
	}
	if len(given) > 0 {
		return nil, v.differs("it was made without %s", given[0].path)
	}
	s, err := protocol.Read(o.Inputs[0].Path, studyFile.data)
	if err != nil {
		return nil, err
	}
	for i := range sources {
		if sources[i].Name == "-" {
			sources[i].Name = standardInput
		}
	}
	d, err := intake.Read(s, sources...)
	if err != nil {
		return nil, err
	}
	for i := range d.Inputs {
		d.Inputs[i].Path = o.Inputs[i+1].Path
	}
	return d, nil
}

// nameOfInput names an input of a file that may say anything.
func nameOfInput(in study.Input) string {
	if in.Path == "" {
		return "an input without a name"
	}
	return in.Path
}

func (v *verification) unlike(f *inputFile, in study.Input) error {
	return v.differs("%s has other bytes than %s had: SHA-256 %s, and %s in the file", f.path, nameOfInput(in), f.sha256, in.SHA256)
}

// inputFile is an input as it was read.
type inputFile struct {
	path, sha256 string
	data         []byte
}

func (v *verification) readFile(path string) (*inputFile, error) {
	in, name, err := openInput(v.c, path)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	data, err := io.ReadAll(in)
	if err != nil {
		return nil, inputFault(name, err)
	}
	sum := sha256.Sum256(data)
	return &inputFile{name, hex.EncodeToString(sum[:]), data}, nil
}

// makeAgain writes the summary once more, by the options of the file, and compares
// the bytes.
func (v *verification) makeAgain(d *study.Dataset, given []string) error {
	if len(given) == 0 {
		if err := v.setOptions(); err != nil {
			return err
		}
	}
	v.same("options: %s", listOfOptions(v.origin.Options))
	o, err := evaluationOptions(v.c, d.Study)
	if err != nil {
		return err
	}
	if err := reportOptions(v.c)(d.Study, &o); err != nil {
		return err
	}
	var again bytes.Buffer
	if err := summary.Write(&again, inputOf(v.c, analysis.Evaluate(d, o), v.origin.Inputs[0])); err != nil {
		return err
	}
	if !bytes.Equal(again.Bytes(), v.file) {
		return &hintedError{err: v.differs("made again from the same inputs, it has other bytes"), hint: words.AgainUnlike}
	}
	v.same("made again: the same, byte for byte")
	v.p.Paragraph(fmt.Sprintf("%s comes from these inputs and this version.", v.path))
	v.p.Paragraph(words.AgainMeaning + " " + words.DigestMeaning)
	return v.p.Err()
}

// setOptions sets the options that the file was made with.
func (v *verification) setOptions() error {
	for _, option := range v.origin.Options {
		name, value, _ := strings.Cut(strings.TrimPrefix(option, "--"), " ")
		known := !slices.Contains(elsewhere, name) && slices.ContainsFunc(v.c.Command.Flags, func(f cli.Flag) bool { return f.Names()[0] == name })
		if !known || v.c.Set(name, value) != nil {
			return v.differs("its option %q is none that report takes", option)
		}
	}
	return nil
}
