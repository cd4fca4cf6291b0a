package finding

import (
	"errors"
	"fmt"
	"testing"
)

// Fifty faults are told in the order of the lines, the others are counted and
// their texts never made.
func TestCollector(t *testing.T) {
	var a, b Collector
	if a.Err() != nil {
		t.Error("a fault of nothing")
	}
	for i := range 60 {
		a.Add("a.csv", 100-i, "", func() string {
			if i >= 50 {
				t.Errorf("the text of fault %d was made", i)
			}
			return fmt.Sprint(i)
		})
	}
	b.Add("a.csv", 1, "x", func() string { return "first" })
	b.Hint = "look"
	b.Join(&a)
	var faults *Faults
	if !errors.As(b.Err(), &faults) || len(faults.List) != 50 || faults.More != 11 || b.Count() != 61 || faults.Hint != "look" {
		t.Fatalf("%d listed, %d more, %d in all", len(faults.List), faults.More, b.Count())
	}
	if faults.List[0].String() != "a.csv:1: x: first" || faults.List[1].Line != 51 || faults.List[49].Line != 99 {
		t.Errorf("%v, %v, %v", faults.List[0], faults.List[1], faults.List[49])
	}
}
