// Package protocol reads a study file, the protocol of a storage stability
// study as people write it in TOML, and holds starters to write one from.
//
// A file is read as a whole: every fault in it is reported at once with its
// line, and a file with any fault gives no study. Reading goes in three steps:
// the file becomes a tree that knows its lines (tree.go), the tree is bound to
// the study by a table of keys for each section (schema.go, reader.go), and
// what keys say of each other is checked (check.go).
package protocol

import (
	"bytes"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2/unstable"

	"shelfspan/study"
	"shelfspan/study/spelling"
)

// MaxBytes is the largest study file taken; a real one has a few kilobytes.
const MaxBytes = 16 << 20

// Read reads a study file. The name is only what faults call the file. The
// error, if any, is a *finding.Faults with every fault of the file in the
// order of its lines, and no study is returned with it.
func Read(name string, data []byte) (*study.Study, error) {
	r := &reader{name: name, sections: sections()}
	s := r.read(data)
	if len(r.faults.List) > 0 {
		r.faults.Sort()
		return nil, &r.faults
	}
	return s, nil
}

func (r *reader) read(data []byte) *study.Study {
	switch {
	case len(data) > MaxBytes:
		r.fault(1, "", "the file is larger than %d MB, which no study file is", MaxBytes>>20)
		r.faults.Hint = "results are read by --results, not as a study"
		return nil
	case bytes.HasPrefix(data, []byte("\xff\xfe")), bytes.HasPrefix(data, []byte("\xfe\xff")):
		r.fault(1, "", "the file is text in UTF-16; save it as UTF-8")
		return nil
	case bytes.HasPrefix(data, []byte("PK\x03\x04")), bytes.HasPrefix(data, []byte("{\\rtf")):
		r.fault(1, "", "the file is a word processor's document or another archive; save it as plain text (TOML in UTF-8)")
		return nil
	case bytes.IndexByte(data, 0) >= 0:
		line := 1 + bytes.Count(data[:bytes.IndexByte(data, 0)], []byte("\n"))
		r.fault(line, "", "the file is binary; a study file is plain text (TOML in UTF-8)")
		return nil
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if len(bytes.TrimSpace(data)) == 0 {
		r.fault(1, "", "the file is empty; a study file begins with [study]")
		r.faults.Hint = startHint
		return nil
	}
	if !utf8.Valid(data) {
		data = r.mend(data)
	}
	root, ok := parse(r, data)
	if !ok {
		return nil
	}
	return r.assemble(root)
}

const startHint = "shelfspan init writes a study file to start from"

// mend reports the first character that is not UTF-8 and replaces all of them,
// so that the rest of the file can be checked.
func (r *reader) mend(data []byte) []byte {
	line := 1
	for rest := data; len(rest) > 0; {
		c, n := utf8.DecodeRune(rest)
		if c == utf8.RuneError && n == 1 {
			break
		}
		if c == '\n' {
			line++
		}
		rest = rest[n:]
	}
	r.fault(line, "", "holds a character that is not UTF-8; save the file as UTF-8")
	return bytes.ToValidUTF8(data, []byte("\ufffd"))
}

// assemble binds every section and checks the whole.
func (r *reader) assemble(root *node) *study.Study {
	tables := r.sectionTables(root)
	one := func(name string) *node {
		if t := tables[name]; len(t) > 0 {
			return t[0]
		}
		return newTable(0) // on no line, for it is not in the file
	}
	p := draft{reader: r, calendar: one("calendar")}
	p.head = newHead(one("study"))
	if len(tables["study"]) > 0 {
		bind(r, p.head.table, "[study]", studyKeys, &p.head)
	}
	bind(r, p.calendar, "[calendar]", calendarKeys, &p.head.Calendar)
	bind(r, one("samples"), "[samples]", samplesKeys, &p.head.Samples)
	p.conditions = bindAll(r, tables["condition"], "[[condition]]", conditionKeys, newCondition)
	p.chambers = bindAll(r, tables["chamber"], "[[chamber]]", chamberKeys, newChamber)
	p.batches = bindAll(r, tables["batch"], "[[batch]]", batchKeys, newBatch)
	p.packs = bindAll(r, tables["pack"], "[[pack]]", packKeys, newPack)
	p.attributes = bindAll(r, tables["attribute"], "[[attribute]]", attributeKeys, newAttribute)
	p.check()
	return p.study()
}

// bindAll reads every [[section]] of one name.
func bindAll[T any](r *reader, tables []*node, section string, keys []key[T], begin func(*node) T) []T {
	out := make([]T, len(tables))
	for i, t := range tables {
		out[i] = begin(t)
		bind(r, t, section, keys, &out[i])
	}
	return out
}

// sectionTables sorts the top of the file into its sections, reporting what is
// none and what is missing. A misspelt one is read as the section that was
// likely meant.
func (r *reader) sectionTables(root *node) map[string][]*node {
	out := map[string][]*node{}
	tried := map[string]bool{}
	lastLine := 1
	for _, f := range root.fields {
		lastLine = max(lastLine, f.line)
		s, ok := r.sectionOf(f)
		if !ok {
			continue
		}
		items := []*node{f.value}
		if f.value.kind == unstable.Array {
			items = f.value.items
		}
		for _, item := range items {
			tried[s.name] = true
			lastLine = max(lastLine, item.line)
			if item.kind == unstable.Table {
				out[s.name] = append(out[s.name], item)
			} else {
				r.wrongType(item, s.name, "a section", s.String())
			}
		}
	}
	needs := map[string]string{"study": "one", "condition": "at least one", "batch": "at least one", "attribute": "at least one"}
	for _, s := range r.sections {
		if need := needs[s.name]; need != "" && !tried[s.name] {
			r.fault(lastLine, "", "there is no %s; a study needs %s", s, need)
		}
	}
	return out
}

// sectionOf says which section a field at the top of the file is or was meant
// to be, reporting where it is none.
func (r *reader) sectionOf(f *field) (section, bool) {
	v := f.value
	if v.kind == unstable.Invalid {
		return section{}, false
	}
	isSection := slices.ContainsFunc(r.sections, func(s section) bool { return s.name == f.name })
	if v.kind != unstable.Table && v.kind != unstable.Array || !isSection && !v.list && r.home(f.name) != "" {
		right := "put it under its section, such as [study]"
		if home := r.home(f.name); home != "" {
			right = "put it under " + home
		}
		r.fault(f.line, "", "%s stands outside any section; %s", quote(f.name), right)
		return section{}, false
	}
	written := section{name: f.name, many: v.list}
	var known []string
	for _, s := range r.sections {
		known = append(known, s.name)
		if s.name != f.name {
			continue
		}
		switch {
		case v.kind == unstable.Table && s.many: // an inline table
			r.fault(f.line, "", "%s must be %s, in double brackets: there can be several", written, s)
		case v.list && !s.many:
			r.fault(f.line, "", "%s must be %s, in single brackets: there can be only one", written, s)
		}
		return s, true
	}
	near := spelling.Nearest(f.name, known)
	if near == "" {
		var all []string
		for _, s := range r.sections {
			all = append(all, s.String())
		}
		r.fault(f.line, "", "unknown section %s; the sections are %s", written, strings.Join(all, ", "))
		return section{}, false
	}
	s := r.sections[slices.Index(known, near)]
	r.fault(f.line, "", "unknown section %s; did you mean %s?", written, s)
	return s, true
}
