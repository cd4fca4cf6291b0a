package codes

import (
	"fmt"
	"strings"
	"testing"

	"github.com/boombuler/barcode/code128"
	"github.com/boombuler/barcode/qr"
	"pgregory.net/rapid"
)

// drawn gives the modules that a symbol's rectangles cover; none may be covered
// twice or lie outside.
func drawn(t interface{ Fatalf(string, ...any) }, s Symbol) bits {
	b := newBits(s.Columns, s.Rows)
	for _, r := range s.Rects {
		for y := r.Y; y < r.Y+r.H; y++ {
			for x := r.X; x < r.X+r.W; x++ {
				if x < 0 || y < 0 || x >= s.Columns || y >= s.Rows {
					t.Fatalf("rectangle %v lies outside %d × %d modules", r, s.Columns, s.Rows)
				}
				if b.at(x, y) {
					t.Fatalf("module %d, %d is drawn twice", x, y)
				}
				b.set(x, y)
			}
		}
	}
	return b
}

func equal(a, b bits) bool {
	if a.columns != b.columns || a.rows != b.rows {
		return false
	}
	for i := range a.words {
		if a.words[i] != b.words[i] {
			return false
		}
	}
	return true
}

// TestRectanglesAreTheSymbol: the rectangles cover the dark modules of the
// encoder, each once, and are fewer than its runs.
func TestRectanglesAreTheSymbol(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[A-Za-z0-9._/-]{1,70}`).Draw(t, "text")
		s, err := QR(text)
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		want, err := qr.Encode(text, qr.M, qr.Unicode)
		if err != nil {
			t.Fatal(err)
		}
		w := newBits(want.Bounds().Dx(), want.Bounds().Dy())
		w.read(want)
		if !equal(drawn(t, s), w) {
			t.Fatalf("%q: the rectangles are not the encoder's modules", text)
		}
		runs := 0
		for y := range w.rows {
			for x := range w.columns {
				if w.at(x, y) && (x == 0 || !w.at(x-1, y)) {
					runs++
				}
			}
		}
		if len(s.Rects) >= runs {
			t.Fatalf("%q: %d rectangles for %d runs; those of the finders repeat", text, len(s.Rects), runs)
		}

		c, err := Code128(text)
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		bars, err := code128.Encode(text)
		if err != nil {
			t.Fatal(err)
		}
		w = newBits(bars.Bounds().Dx(), 1)
		w.read(bars)
		if !equal(drawn(t, c), w) {
			t.Fatalf("%q: the rectangles are not the encoder's bars", text)
		}
	})
}

// TestSumsAreTheEncoders: what is added up is what the encoder makes of the
// same text, but for the choice of the mask, in texts of all versions summed.
func TestSumsAreTheEncoders(t *testing.T) {
	masks := 0
	for _, length := range []int{1, 2, 14, 15, 26, 27, 42, 43, 62, 63, 84, 85, mostSummed, mostSummed + 1} {
		first := strings.Repeat("SB-25/B1/can_i.", 10)[:length]
		texts := []string{"/" + first}
		far := []byte(first) // one bit of each character is another
		for p := range far {
			far[p] ^= 1 << (p % 5)
		}
		for i := range length + 20 {
			texts = append(texts, (first[:max(0, length-2)] + fmt.Sprintf("%02d", i%100))[:length])
		}
		texts = append(texts, string(far), first+"y")
		symbols, _, err := QRs(texts)
		if err != nil {
			t.Fatal(err)
		}
		for _, i := range []int{0, 1, 2, 9, length + 10, length + 21, length + 22} {
			got := drawn(t, symbols[i])
			want, err := grid(texts[i])
			if err != nil {
				t.Fatal(err)
			}
			if equal(got, want) {
				continue
			}
			masks++
			if length > mostSummed {
				t.Fatalf("%q is too long to be added up, and differs", texts[i])
			}
			if !equal(got.unmasked(), want.unmasked()) {
				t.Fatalf("%q: the data differ", texts[i])
			}
			for y := range want.rows {
				for x := range want.columns {
					// The format field, with the number of the mask, stands in row and column 8.
					if !holdsData(want.columns, x, y) && got.at(x, y) != want.at(x, y) && x != 8 && y != 8 {
						t.Fatalf("%q: the pattern differs at %d, %d", texts[i], x, y)
					}
				}
			}
			if got.mask() == want.mask() {
				t.Fatalf("%q: the mask is the encoder's, %d, and the symbol is not", texts[i], got.mask())
			}
		}
	}
	if masks < 20 {
		t.Errorf("%d symbols have a mask that the encoder would not choose: too few were added up", masks)
	}
}

// TestBoundsAreTheEncoders: the limits told are those of the encoder.
func TestBoundsAreTheEncoders(t *testing.T) {
	for n, size := range map[int]int{
		14: 21, 15: 25, 26: 25, 27: 29, 42: 29, 43: 33, 62: 33, 63: 37, 84: 37, 85: 41, // ISO/IEC 18004, level M, from memory
		mostSummed: 41, mostSummed + 1: 45, mostQR: 177,
	} {
		s, err := QR(strings.Repeat("x", n))
		if err != nil || s.Columns != size || s.Rows != size {
			t.Errorf("%d bytes make a code of %d × %d modules (%v), want %d", n, s.Columns, s.Rows, err, size)
		}
	}
	if _, err := qr.Encode(strings.Repeat("x", mostQR+1), qr.M, qr.Unicode); err == nil {
		t.Errorf("the encoder takes more than %d bytes", mostQR)
	}
	for text, want := range map[string]string{
		"":                               "nothing",
		strings.Repeat("x", mostQR+1):    "2332 bytes are more than the 2331",
		strings.Repeat("日", mostQR/3+10): "more than the 2331",
	} {
		if _, err := QR(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("QR of %d bytes: %v, want %q", len(text), err, want)
		}
	}
	for text, want := range map[string]string{
		"":                      "nothing",
		"B1/ñ":                  "no 'ñ'", // which the encoder would take for a function character
		"a\nb":                  "no '\\n'",
		"\xff":                  "no '\ufffd'",
		strings.Repeat("x", 81): "81 characters are more than the 80",
	} {
		if _, err := Code128(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("Code128(%.10q): %v, want %q", text, err, want)
		}
	}
	// A symbol is start, text, check and stop: 11 modules each but 13 of the stop.
	if s, err := Code128("SB-25/B1"); err != nil || s.Columns != 11*(1+8+1)+13 || s.Rows != 1 {
		t.Errorf("8 characters make %d × %d modules (%v)", s.Columns, s.Rows, err)
	}
}

// TestQRsNamesTheText that cannot be encoded.
func TestQRsNamesTheText(t *testing.T) {
	_, bad, err := QRs([]string{"a", "b", "", "c"})
	if err == nil || bad != 2 {
		t.Errorf("text %d is to blame (%v), want 2", bad, err)
	}
	if s, _, err := QRs(nil); err != nil || len(s) != 0 {
		t.Errorf("no texts make %v, %v", s, err)
	}
}

func BenchmarkQRs(b *testing.B) {
	var texts []string
	for i := range 5000 {
		texts = append(texts, fmt.Sprintf("SB-25/B%d/%s/%s/%s/%dM/%d/K", 1+i%3,
			[]string{"jar", "tube", "can"}[i/3%3], []string{"u", "i"}[i/9%2],
			[]string{"5C", "25C60", "30C65", "40C75"}[i/18%4], []int{1, 3, 6, 9, 12, 18, 24, 36}[i/72%8], 1+i/576))
	}
	for b.Loop() {
		if _, _, err := QRs(texts); err != nil {
			b.Fatal(err)
		}
	}
}
