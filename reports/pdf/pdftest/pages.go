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
		raw := strings.NewReplacer(`\\`, `\`, `\(`, `(`, `\)`, `)`, `\r`, "\r").Replace(m[4])
		var b strings.Builder
		for i := 0; i+1 < len(raw); i += 2 {
			b.WriteRune(rune(raw[i])<<8 | rune(raw[i+1]))
		}
		x, _ := strconv.ParseFloat(m[2], 64)
		y, _ := strconv.ParseFloat(m[3], 64)
		out = append(out, Word{x, y, size, b.String()})
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
