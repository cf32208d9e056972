package value

import (
	"encoding/json"
	"errors"
	"math/big"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wreath/quantity"
)

func TestParseDecimal(t *testing.T) {
	for text, want := range map[string]string{
		"1.50": "1.50", "0": "0", "-0.0": "0.0", "-3": "-3", "007.5": "7.5", "78.5000": "78.5000",
		"123456789012345678.123456789012345678": "123456789012345678.123456789012345678",
	} {
		if d, err := ParseDecimal(text); err != nil || d.String() != want {
			t.Errorf("ParseDecimal(%q) = %s, %v, want %s", text, d, err, want)
		}
	}
	for text, reason := range map[string]string{
		"": "empty", "1,5": "comma", "1e5": "plain", ".5": "plain", "5.": "plain", "+1": "plain", "--1": "plain", " 1": "plain",
		"NaN": "plain", "Infinity": "plain", "1.2.3": "plain", "١": "plain", "1234567890123456789": "too many", "0.1234567890123456789": "too many",
	} {
		_, err := ParseDecimal(text)
		var n *quantity.NumberError
		if !errors.As(err, &n) || !strings.Contains(n.Reason, reason) || n.Hint == "" {
			t.Errorf("ParseDecimal(%q): %v, want …%s… with a hint", text, err, reason)
		}
	}
}

func TestRounding(t *testing.T) {
	for _, c := range []struct{ number, step, down, halfEven, halfUp, up string }{ // computed by hand
		{"501.8370154043", "0.05", "501.80", "501.85", "501.85", "501.85"},
		{"10.025", "0.05", "10.00", "10.00", "10.05", "10.05"}, // 200.5 steps: the even one is 200
		{"10.075", "0.05", "10.05", "10.10", "10.10", "10.10"}, // 201.5 steps: 202
		{"2.5", "1", "2", "2", "3", "3"},
		{"3.5", "1", "3", "4", "4", "4"},
		{"7.00", "1", "7", "7", "7", "7"},
		{"0.004", "0.01", "0.00", "0.00", "0.00", "0.01"},
		{"0", "0.05", "0.00", "0.00", "0.00", "0.00"},
		{"12", "5", "10", "10", "10", "15"},
	} {
		for direction, want := range map[string]string{Down: c.down, HalfEven: c.halfEven, HalfUp: c.halfUp, Up: c.up} {
			if got := dec(c.number).inSteps(dec(c.step), direction); got.String() != want {
				t.Errorf("%s to %s, %s: %s, want %s", c.number, c.step, direction, got, want)
			}
		}
	}
}

// drawn is a decimal from 0 on with up to six decimals.
func drawn(t *rapid.T, what string, most int64) Decimal {
	n := rapid.Int64Range(0, most*1_000_000).Draw(t, what)
	d := fromInt(int(n)).times(lastDigit(6))
	return d.cut(rapid.IntRange(0, 6).Draw(t, what+" decimals"))
}

func rational(d Decimal) *big.Rat {
	r, ok := new(big.Rat).SetString(d.String())
	if !ok {
		panic("not a number: " + d.String())
	}
	return r
}

// Arithmetic agrees with that of rational numbers, which shares no code with it.
func TestArithmeticIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawn(t, "a", 1e9), drawn(t, "b", 1e9)
		x, y := rational(a), rational(b)
		for what, pair := range map[string][2]*big.Rat{
			"sum":        {rational(a.plus(b)), new(big.Rat).Add(x, y)},
			"difference": {rational(a.minus(b)), new(big.Rat).Sub(x, y)},
			"product":    {rational(a.times(b)), new(big.Rat).Mul(x, y)},
			"percent":    {rational(a.percent(b)), new(big.Rat).Quo(new(big.Rat).Mul(x, y), big.NewRat(100, 1))},
			"plain":      {rational(a.plain()), x},
		} {
			if pair[0].Cmp(pair[1]) != 0 {
				t.Fatalf("%s of %s and %s: %s, want %s", what, a, b, pair[0].FloatString(20), pair[1].FloatString(20))
			}
		}
		if b.Sign() == 0 {
			return
		}
		missing := new(big.Rat).Sub(new(big.Rat).Quo(x, y), rational(a.per(b, 8)))
		if missing.Sign() < 0 || missing.Cmp(big.NewRat(1, 1e8)) >= 0 {
			t.Fatalf("%s ÷ %s cut after 8 decimals misses %s", a, b, missing.FloatString(12))
		}
	})
}

// Rounding lands on a step, and is off by less than one.
func TestRoundingMovesByLessThanItsStep(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := drawn(t, "a", 1e6)
		step := rapid.SampledFrom([]string{"0.01", "0.05", "0.1", "0.25", "1", "5"}).Draw(t, "step")
		direction := rapid.SampledFrom([]string{Down, HalfEven, HalfUp, Up}).Draw(t, "direction")
		s := rational(dec(step))
		got := rational(a.inSteps(dec(step), direction))
		if steps := new(big.Rat).Quo(got, s); !steps.IsInt() {
			t.Fatalf("%s is not a multiple of %s", got.FloatString(8), step)
		}
		moved := new(big.Rat).Sub(got, rational(a))
		limit := s
		if direction == HalfEven || direction == HalfUp {
			limit = new(big.Rat).Quo(s, big.NewRat(2, 1))
			if new(big.Rat).Abs(moved).Cmp(limit) > 0 {
				t.Fatalf("%s to the nearest %s moves by %s", a, step, moved.FloatString(8))
			}
			return
		}
		if new(big.Rat).Abs(moved).Cmp(limit) >= 0 || direction == Down && moved.Sign() > 0 || direction == Up && moved.Sign() < 0 {
			t.Fatalf("%s %s to %s moves by %s", a, direction, step, moved.FloatString(8))
		}
	})
}

func TestDecimalInJSON(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn(t, "d", 1e9)
		written, err := json.Marshal(d)
		if err != nil {
			t.Fatal(err)
		}
		var quoted, bare Decimal
		if err := json.Unmarshal(written, &quoted); err != nil || quoted.String() != d.String() {
			t.Fatalf("%s comes back as %s, %v", written, quoted, err)
		}
		if err := json.Unmarshal([]byte(d.String()), &bare); err != nil || bare.String() != d.String() {
			t.Fatalf("%s comes back as %s, %v", d, bare, err)
		}
	})
	var d Decimal
	for _, bad := range []string{`"1e5"`, `1e5`, `true`, `null`, `[1]`, `"`} {
		if err := json.Unmarshal([]byte(bad), &d); err == nil {
			t.Errorf("%s is taken as %s", bad, d)
		}
	}
}

func FuzzParseDecimal(f *testing.F) {
	for _, s := range []string{"1.50", "-0", "00.0", "1e9", "９", "1.", "", "123456789012345678.5"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		d, err := ParseDecimal(text)
		if err != nil {
			return
		}
		want, ok := new(big.Rat).SetString(text)
		if !ok || rational(d).Cmp(want) != 0 {
			t.Errorf("ParseDecimal(%q) = %s", text, d)
		}
		again, err := ParseDecimal(d.String())
		if err != nil || again.String() != d.String() {
			t.Errorf("%s is read as %s, %v", d, again, err)
		}
	})
}
