package quantity

import (
	"errors"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestParseMass(t *testing.T) {
	for _, c := range []struct {
		text  string
		comma bool
		want  float64 // g
	}{
		{"12.4431 g", false, 12.4431},
		{"12.4431g", false, 12.4431},
		{" 12,4431 g ", true, 12.4431},
		{"62.2155 ct", false, 12.4431},          // metric carat, 0.2 g (4th CGPM, 1907)
		{"1 ozt", false, 31.1034768},            // exact, agreement of 1959
		{"20 dwt", false, 31.1034768},           // 20 pennyweights are a troy ounce
		{"480 grain", false, 31.1034768},        // 480 grains are a troy ounce
		{"2.666666667 tola", false, 31.1034768}, // 180 grains
		{"12.4417 kg", false, 12441.7},
		{"1500 mg", false, 1.5},
		{"1 momme", false, 3.75},
		{"-0.002 g", false, -0.002},
		{"1e-3 kg", false, 1},
	} {
		got, err := ParseMass(c.text, c.comma)
		if err != nil || math.Abs(got-c.want) > 1e-8*math.Max(1, math.Abs(c.want)) {
			t.Errorf("ParseMass(%q) = %v, %v, want %v g", c.text, got, err, c.want)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for _, c := range []struct {
		text         string
		comma        bool
		reason, hint string
	}{
		{"12,4431 g", false, "decimal comma", "12.4431"},
		{"1.234,5 g", true, "mixes", "one decimal mark"},
		{"1,2,3 g", true, "mixes", "one decimal mark"},
		{"12.4431", false, "no unit", "12.4431 g"},
		{"12.4431 lb", false, "unknown unit", "ozt"},
		{"12.4431 gr", false, "gram and as grain", "grain"},
		{"g", false, "no number", "12.4431"},
		{"", false, "empty", "12.4431"},
		{"1.2.3 g", false, "not a number", "12.4431"},
		{"0x10 g", false, "not a number", "12.4431"},
		{"1_000 g", false, "not a number", "12.4431"},
		{"1e999 g", false, "not a number", "12.4431"},
		{"1e307 kg", false, "too large", "exponent"},
	} {
		got, err := ParseMass(c.text, c.comma)
		var n *NumberError
		if !errors.As(err, &n) || !strings.Contains(n.Reason, c.reason) || !strings.Contains(n.Hint, c.hint) {
			t.Errorf("ParseMass(%q) = %v, %v (hint %q), want …%s…, …%s…", c.text, got, err, hint(n), c.reason, c.hint)
		}
	}
	for _, text := range []string{"NaN", "nan", "Inf", "-Infinity", "1e400", "twelve", "12 34", "٣"} {
		if got, err := ParseNumber(text, true); err == nil {
			t.Errorf("ParseNumber(%q) = %v, want an error", text, got)
		}
	}
}

func hint(n *NumberError) string {
	if n == nil {
		return ""
	}
	return n.Hint
}

func TestInterval(t *testing.T) {
	for text, want := range map[string]float64{"12.4431": 1e-4, "12.40": 0.01, "12": 1, "12,443 g": 0.001, "62.215 ct": 0.001, "1e-3": 0} {
		if got := Interval(text); math.Abs(got-want) > 1e-15 {
			t.Errorf("Interval(%q) = %v, want %v", text, got, want)
		}
	}
}

// TestUnits: a mass written in any unit comes back the same.
func TestUnits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		grams := rapid.Float64Range(0.001, 20000).Draw(t, "grams")
		u := rapid.SampledFrom(MassUnits).Draw(t, "unit")
		text := formatted(grams/u.Gram) + " " + u.Symbol
		got, err := ParseMass(text, false)
		if err != nil || math.Abs(got-grams) > 1e-9*grams {
			t.Fatalf("%s is %v g, %v, want %v", text, got, err, grams)
		}
	})
}

func formatted(x float64) string {
	return strings.TrimSpace(strings.ToLower(strings.Replace(strconv.FormatFloat(x, 'g', 17, 64), "+", "", 1)))
}

// FuzzParseMass: whatever is accepted is a finite number, and every refusal says why and how to
// mend it.
func FuzzParseMass(f *testing.F) {
	for _, s := range []string{"12.4431 g", "62,2155 ct", "1e5kg", "-3 mg", "..", "1e999 g", "NaN g", "12.4 ", "９ g"} {
		f.Add(s, true)
		f.Add(s, false)
	}
	f.Fuzz(func(t *testing.T, text string, comma bool) {
		got, err := ParseMass(text, comma)
		if err == nil {
			if math.IsNaN(got) || math.IsInf(got, 0) {
				t.Errorf("ParseMass(%q) = %v", text, got)
			}
			return
		}
		var n *NumberError
		if !errors.As(err, &n) || n.Reason == "" || n.Hint == "" {
			t.Errorf("ParseMass(%q): error %v without reason or hint", text, err)
		}
	})
}
