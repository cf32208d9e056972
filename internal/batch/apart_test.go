package batch

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// TestRowsStandApart: a row is answered alike wherever it stands, also behind claims that are on no
// list of standards or in another print of one.
func TestRowsStandApart(t *testing.T) {
	const row = "r,gold,%s,7.4218,6.9431,water,21.4,0.0001\n"
	claims := strings.Fields("750 700 585 916 916.7 585.5 750 999 333 375 100 750 990 417 585 916 750")
	first := map[string][]string{}
	for range 3 {
		var rows strings.Builder
		for _, claim := range claims {
			fmt.Fprintf(&rows, row, claim)
		}
		out, _, sum := run(t, head+rows.String(), Options{Workers: 1, Evaluate: whereNeeded})
		if sum.Failed > 0 {
			t.Fatalf("%v: %s", sum, out)
		}
		for i, answer := range cells(t, out) {
			claim := claims[i]
			if first[claim] == nil {
				first[claim] = answer[1:]
			}
			if !slices.Equal(answer[1:], first[claim]) {
				t.Errorf("claim %s, row %s: %q, the first time %q", claim, answer[0], answer, first[claim])
			}
		}
		slices.Reverse(claims)
	}
}
