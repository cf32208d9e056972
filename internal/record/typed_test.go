package record

import (
	"testing"

	"wreath/quantity"
)

// TestTypedNumbers reads numbers as people type and paste them; the text stays as it was typed. Units are
// those of quantity.MassUnits with their sources there.
func TestTypedNumbers(t *testing.T) {
	pennyweight := 0.0
	for _, u := range quantity.MassUnits {
		if u.Symbol == "dwt" {
			pennyweight = u.Gram
		}
	}
	for _, c := range []struct {
		text     string
		gram     float64
		interval float64 // of the last digit, in grams
	}{
		{"1.234", 1.234, 0.001}, {"1,234", 1.234, 0.001}, {"5.10", 5.1, 0.01}, {"5,100", 5.1, 0.001}, {" 12,44 g", 12.44, 0.01}, {"12.44g", 12.44, 0.01},
		{"3.2 dwt", 3.2 * pennyweight, 0.1 * pennyweight}, {"3,20 DWT", 3.2 * pennyweight, 0.01 * pennyweight}, {"62.2155 ct", 12.4431, 0.00002},
		{"1'234.5", 1234.5, 0.1}, {"1’234,5 g", 1234.5, 0.1}, {"12\u202f345.6", 12345.6, 0.1}, {"1\u2009234", 1234, 1}, {"- 0.0001", -0.0001, 0.0001}, {"\u22120.0001", -0.0001, 0.0001},
		{"\u0661\u0662\u066b\u0664\u0664", 12.44, 0.01}, {"\u06f1\u06f2.\u06f4", 12.4, 0.1}, {"\u0967\u0968.\u096a\u096a \u0067", 12.44, 0.01}, {"\uff11\uff12.\uff14", 12.4, 0.1},
	} {
		r := reading("air_g", c.text, 1)
		s, err := opened(t, claimDoc, nil).Take(r)
		if err != nil {
			t.Errorf("%q: %v", c.text, err)
			continue
		}
		if s.Readings[0].Text != c.text {
			t.Errorf("%q is kept as %q", c.text, s.Readings[0].Text)
		}
		d, err := r.draft()
		if err != nil || !near(d.Gram, c.gram) || !near(d.Interval, c.interval) {
			t.Errorf("%q is read as %g g in steps of %g (%v), want %g in steps of %g", c.text, d.Gram, d.Interval, err, c.gram, c.interval)
		}
	}
	for _, text := range []string{"1.234.5", "1,234.5", "1.234,5", "1'23.4", "12'34", "1 234", "1,2,3", "five", "1.2 furlongs", "", "g", "1.2.", "\u0661\u066b\u0662\u066b\u0663"} {
		if _, err := opened(t, claimDoc, nil).Take(reading("air_g", text, 1)); err == nil {
			t.Errorf("%q is taken as a number", text)
		}
	}
}

func near(a, b float64) bool { return a == b || (a-b)*(a-b) < 1e-18*b*b }
