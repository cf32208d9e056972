package value

import (
	"strings"
	"testing"

	"wreath/internal/determination"
)

// TestStonesAreNoMetal: the fineness of the metal must not be paid for the weight of its stones.
func TestStonesAreNoMetal(t *testing.T) {
	item := &Item{Answer: &determination.Answer{Composite: &determination.Composite{Kind: "stones"}, Fineness: &determination.Fineness{Metal: "gold"}}}
	if why := new(Terms).unpriced(item, "met"); !strings.Contains(why, "non_metal_g") {
		t.Errorf("a set item without declared stones: %q", why)
	}
	item.NonMetalG = new(Decimal)
	if why := new(Terms).unpriced(item, "met"); strings.Contains(why, "stones") {
		t.Errorf("with what is not metal declared: %q", why)
	}
}
