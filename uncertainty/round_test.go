package uncertainty

import (
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

func TestRound(t *testing.T) {
	for _, row := range []struct {
		value, u       float64
		wantValue, uTo string
	}{
		// Published: JCGM 100:2008 7.2.6, 10.057 62 Ω with 27 mΩ is 10.058 Ω, from memory.
		{10.05762, 0.027, "10.058", "0.027"},
		{15447.3876, 6.8666, "15447.4", "6.9"},
		{15447.3876, 13.645, "15447", "14"},
		{0.0996, 0.0996, "0.10", "0.10"}, // the uncertainty grows by a place
		{0.996, 0.996, "1.0", "1.0"},
		{99999.6, 99.96, "100000", "100"},
		{123456, 1250, "123500", "1200"}, // half to the even digit
		{123456, 1350, "123500", "1400"},
		{-0.0004, 0.12, "0.00", "0.12"}, // no negative zero
		{-15.3704, 0.0136, "-15.370", "0.014"},
		{0, 0.02, "0.000", "0.020"},
		{3, 1, "3.0", "1.0"},
		{1e-9, 3e-12, "0.0000000010000", "0.0000000000030"},
		{15.5, 0, "15.5", "0"},
	} {
		value, u := Round(row.value, row.u)
		if value != row.wantValue || u != row.uTo {
			t.Errorf("Round(%v, %v) = %s, %s, want %s, %s", row.value, row.u, value, u, row.wantValue, row.uTo)
		}
	}
}

// ISO 80000-1:2009 Annex B, rule A, examples from memory: 12.25 to 12.2, 12.35 to 12.4,
// 1225 to 1220, 1235 to 1240.
func TestRoundHalfToEven(t *testing.T) {
	for _, row := range []struct {
		x     float64
		place int
		want  string
	}{
		{12.223, -1, "12.2"}, {12.251, -1, "12.3"}, {12.275, -1, "12.3"},
		{12.25, -1, "12.2"}, {12.35, -1, "12.4"},
		{1223.3, 1, "1220"}, {1225.1, 1, "1230"}, {1227.5, 1, "1230"},
		{1225, 1, "1220"}, {1235, 1, "1240"},
		{2.675, -2, "2.68"}, {0.125, -2, "0.12"}, {-2.5, 0, "-2"}, {-0.3, 0, "0"},
		{0.5, 0, "0"}, {1.5, 0, "2"}, {50, 2, "0"}, {51, 2, "100"}, {0, -2, "0.00"}, {7, -2, "7.00"},
		{9.99, -1, "10.0"}, {12.251, -6, "12.251000"},
	} {
		if got := RoundTo(row.x, row.place); got != row.want {
			t.Errorf("RoundTo(%v, %d) = %s, want %s", row.x, row.place, got, row.want)
		}
	}
	if got := RoundTo(math.NaN(), -2); got != "NaN" {
		t.Errorf("RoundTo(NaN) = %s", got)
	}
}

// What is printed is within half a unit of the last place, and u has two digits.
func TestRoundIsNear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.Float64Range(-1e6, 1e6).Draw(t, "value")
		u := math.Pow(10, rapid.Float64Range(-9, 5).Draw(t, "log u"))
		valueText, uText := Round(value, u)
		place := math.Pow10(Place(u))
		for _, c := range []struct {
			text string
			from float64
		}{{valueText, value}, {uText, u}} {
			printed, err := strconv.ParseFloat(c.text, 64)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(printed-c.from) > 0.5*place*(1+1e-9)+1e-9*math.Abs(c.from) {
				t.Errorf("%v printed as %s, more than half of %g away", c.from, c.text, place)
			}
		}
		if units := u / place; units < 9.4 || units > 99.6 {
			t.Errorf("u = %v has place %g: %.1f units, want two digits", u, place, units)
		}
	})
}
