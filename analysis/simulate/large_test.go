package simulate

import (
	"bytes"
	"testing"
)

// The sizes stand in the project's measurements by these numbers.
func TestSizes(t *testing.T) {
	for _, c := range []struct {
		z    Size
		rows int
	}{{Panel, 200 * 84}, {Thousand, 1000}, {Million, 1000000}} {
		if got := c.z.Rows(); got != c.rows {
			t.Errorf("%+v: %d rows, want %d", c.z, got, c.rows)
		}
	}
	for _, z := range []Size{Panel, Thousand} {
		var b bytes.Buffer
		if err := z.WriteResults(&b, 1); err != nil {
			t.Fatal(err)
		}
		if got := bytes.Count(b.Bytes(), []byte("\n")) - 1; got != z.Rows() {
			t.Errorf("%+v: wrote %d rows, want %d", z, got, z.Rows())
		}
	}
}
