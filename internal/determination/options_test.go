package determination

import (
	"testing"

	"pgregory.net/rapid"
)

// TestNumbersOnly: what the numbers say of a claim is the same whether the rest is asked or not.
func TestNumbersOnly(t *testing.T) {
	seen := map[string]int{}
	rapid.Check(t, func(t *rapid.T) {
		claimed := rapid.SampledFrom([]*Claim{gold(750, "gold-yellow"), gold(585, ""), gold(999, ""), {Metal: "gold"}, {Metal: "silver"}}).Draw(t, "claim")
		d := weighed(rapid.Float64Range(0.5, 50).Draw(t, "mass"), rapid.OneOf(rapid.Float64Range(9, 20), rapid.Float64Range(15.3, 15.6)).Draw(t, "density")) // the second is of yellow gold 750
		d.Claim = claimed
		d.Item = &Item{Colour: rapid.SampledFrom([]string{"", "yellow", "white"}).Draw(t, "colour")}
		if rapid.Bool().Draw(t, "one immersion") {
			d.LiquidG = d.LiquidG[:1]
		}
		if rapid.Bool().Draw(t, "a little known repeatability") {
			dof := 4.0
			d.Balance.RepeatabilityDof = &dof
		}
		whole, err := Evaluate(d, Options{MonteCarlo: WhereNeeded})
		if err != nil {
			t.Fatal(err)
		}
		few, err := Evaluate(d, Options{NumbersOnly: true})
		if err != nil {
			t.Fatal(err)
		}
		if said(few.Finding) != said(whole.Finding) {
			t.Fatalf("%q alone, %q with everything", said(few.Finding), said(whole.Finding))
		}
		if len(few.Candidates) > 0 || few.Clean != nil || few.Stop != nil || few.Next != nil {
			t.Fatalf("more than asked for: %+v", few)
		}
		seen[said(whole.Finding)]++
	})
	for _, result := range []string{"met", "not met", "undecided"} {
		if seen[result] == 0 {
			t.Errorf("no draft was %s: %v", result, seen)
		}
	}
}

func said(f *Finding) string {
	if f.WouldBe != "" {
		return f.WouldBe
	}
	return f.Result
}
