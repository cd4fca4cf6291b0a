package summary

import (
	"bytes"
	"os"
	"testing"
)

// TestSameBytes writes the same answer twice.
func TestSameBytes(t *testing.T) {
	var a, b bytes.Buffer
	if err := Write(&a, evaluated()); err != nil {
		t.Fatal(err)
	}
	if err := Write(&b, evaluated()); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("the same input gave different bytes")
	}
	if p := os.Getenv("SUMMARY_OUT"); p != "" {
		os.WriteFile(p, a.Bytes(), 0o644)
	}
}
