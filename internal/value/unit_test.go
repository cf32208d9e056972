package value

import (
	"math/big"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wreath/quantity"
)

// The international grain is 0.06479891 g exactly (yard and pound agreement, 1959); a troy ounce has
// 480, a pennyweight 24 and a tola 180. The carat is 0.2 g (4th CGPM, 1907).
func TestUnitsAreExact(t *testing.T) {
	grain := big.NewRat(6479891, 100_000_000)
	times := func(n int64) *big.Rat { return new(big.Rat).Mul(grain, big.NewRat(n, 1)) }
	for unit, want := range map[string]*big.Rat{
		"g": big.NewRat(1, 1), "kg": big.NewRat(1000, 1), "mg": big.NewRat(1, 1000), "ct": big.NewRat(1, 5),
		"grain": grain, "dwt": times(24), "ozt": times(480), "oz t": times(480), "tola": times(180),
	} {
		grams, _, ok := gramsPer(unit)
		if off := new(big.Rat).Sub(rational(grams), want); !ok || off.Sign() != 0 {
			t.Errorf("%s is %s g, want %s", unit, grams, want.FloatString(10))
		}
	}
	for _, u := range quantity.MassUnits {
		if grams, symbol, ok := gramsPer(strings.ToUpper(u.Symbol)); !ok || symbol != u.Symbol || grams.Float() != u.Gram {
			t.Errorf("%s: %s g, %q, %v; the table says %v", u.Symbol, grams, symbol, ok, u.Gram)
		}
	}
	for unit, hint := range map[string]string{"gr": "grain", "oz": "ozt", "": "Units known", "tolla": "tola", "lb": "Units known"} {
		if _, _, ok := gramsPer(unit); ok {
			t.Errorf("%q is taken", unit)
		}
		if got := unitHint(unit); !strings.Contains(got, hint) {
			t.Errorf("hint for %q: %s", unit, got)
		}
	}
}

// One price said per gram and per other units gives one value, but for the cut of the last decimal.
func TestValueDoesNotDependOnTheUnit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		perGram, fine := drawn(t, "per gram", 500), drawn(t, "fine", 20000)
		u := rapid.SampledFrom(quantity.MassUnits).Draw(t, "unit")
		grams, _, _ := gramsPer(u.Symbol)
		value := func(p Price) *big.Rat {
			return rational(newBill(houseTerms()).metal(&p, []portion{{fineG: fine, percent: dec("100")}}))
		}
		a := value(Price{Metal: "gold", Amount: perGram, Per: "g", Currency: "EUR"})
		b := value(Price{Metal: "gold", Amount: perGram.times(grams), Per: u.Symbol, Currency: "EUR"})
		exact := new(big.Rat).Mul(rational(perGram), rational(fine))
		for _, x := range []*big.Rat{a, b} {
			missing := new(big.Rat).Sub(exact, x)
			if missing.Sign() < 0 || missing.Cmp(big.NewRat(1, 1e8)) >= 0 {
				t.Fatalf("%s g at %s per g, by %s: misses %s", fine, perGram, u.Symbol, missing.FloatString(12))
			}
		}
		if a.Cmp(b) != 0 {
			t.Fatalf("per g %s, per %s %s", a.FloatString(10), u.Symbol, b.FloatString(10))
		}
	})
}
