// Package pdftest reads the documents of package pdf back, in tests.
package pdftest

import (
	"bytes"
	"compress/zlib"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

var (
	stream = regexp.MustCompile(`(?s)<</Filter /FlateDecode /Length (\d+)>>\nstream\n`)
	shown  = regexp.MustCompile(`(?s)BT /F\S+ ([\d.]+) Tf ET|BT ([-\d.]+) ([-\d.]+) Td \(((?:[^\\()]|\\.)*)\) Tj ET`)
	space  = regexp.MustCompile(`\s+`)
)

// Contents gives the drawing operators of each page.
func Contents(t testing.TB, file []byte) []string {
	t.Helper()
	var out []string
	for _, m := range stream.FindAllSubmatchIndex(file, -1) {
		n, err := strconv.Atoi(string(file[m[2]:m[3]]))
		if err != nil {
			t.Fatal(err)
		}
		r, err := zlib.NewReader(bytes.NewReader(file[m[1] : m[1]+n]))
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, string(b))
	}
	return out
}

// Word is a piece of text with the place of its baseline, from the lower left
// corner, and its size in points.
type Word struct {
	X, Y, Size float64
	Text       string
}

// Words gives what a page says, in the order of drawing. The library writes
// UTF-16, big end first.
func Words(content string) []Word {
	var out []Word
	size := 0.0
	for _, m := range shown.FindAllStringSubmatch(content, -1) {
		if m[1] != "" {
			size, _ = strconv.ParseFloat(m[1], 64)
			continue
		}
		x, _ := strconv.ParseFloat(m[2], 64)
		y, _ := strconv.ParseFloat(m[3], 64)
		out = append(out, Word{x, y, size, utf16(m[4])})
	}
	return out
}

// Pages gives what each page says in one line, its pieces joined by spaces.
func Pages(t testing.TB, file []byte) []string {
	t.Helper()
	var out []string
	for _, content := range Contents(t, file) {
		var b strings.Builder
		for _, w := range Words(content) {
			b.WriteString(w.Text)
			b.WriteByte(' ')
		}
		out = append(out, space.ReplaceAllString(strings.ReplaceAll(b.String(), "\u00a0", " "), " "))
	}
	return out
}

// Bookmark is one entry of a document's outline.
type Bookmark struct {
	Title string
	Page  int // from 1
	Top   bool
}

var bookmark = regexp.MustCompile(`(?s)<</Title \(((?:[^\\()]|\\.)*)\)\n/Parent (\d+) 0 R.*?/Dest \[(\d+) 0 R /XYZ`)

// Bookmarks gives a document's outline in its order. The library numbers a page's
// object by twice its page and one.
func Bookmarks(file []byte) []Bookmark {
	var out []Bookmark
	root := ""
	for _, m := range bookmark.FindAllSubmatch(file, -1) {
		if root == "" {
			root = string(m[2])
		}
		n, _ := strconv.Atoi(string(m[3]))
		out = append(out, Bookmark{strings.TrimPrefix(utf16(string(m[1])), "\ufeff"), (n - 1) / 2, string(m[2]) == root})
	}
	return out
}

// utf16 reads a string as the library writes it: UTF-16, big end first, escaped.
func utf16(escaped string) string {
	raw := strings.NewReplacer(`\\`, `\`, `\(`, `(`, `\)`, `)`, `\r`, "\r").Replace(escaped)
	var b strings.Builder
	for i := 0; i+1 < len(raw); i += 2 {
		b.WriteRune(rune(raw[i])<<8 | rune(raw[i+1]))
	}
	return b.String()
}
