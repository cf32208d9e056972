package simulated

import (
	"encoding/json"
	"math"
	"os"
	"regexp"
	"testing"

	"wreath/internal/line"
	"wreath/internal/simulation"
)

// What a format writes its pattern reads: number, unit, mark, and the absence of a number, for
// every balance.
func TestEveryFormatIsReadByItsPattern(t *testing.T) {
	if n := len(Formats()); n < 7 {
		t.Fatalf("%d formats", n)
	}
	for _, f := range Formats() {
		for decimals := 0; decimals <= 5; decimals++ {
			p, err := f.Pattern(decimals)
			if err != nil {
				t.Errorf("%s with %d decimals: %v", f.Key, decimals, err)
				continue
			}
			document, err := json.Marshal(p)
			if err != nil {
				t.Fatal(err)
			}
			if p, err = line.DecodePattern(document); err != nil {
				t.Errorf("%s with %d decimals: stored and read again: %v", f.Key, decimals, err)
				continue
			}
			for n, s := range []simulation.LiveSample{
				{Grams: 0, Settled: true, TemperatureC: 20}, {Grams: 31415, TemperatureC: 0}, {Grams: -27, Settled: true, TemperatureC: -3.4},
				{Grams: 3 / math.Pow10(decimals), TemperatureC: 21.7}, {Overload: true}, {Underload: true, TemperatureC: 100},
			} {
				holds(t, f, p, s, decimals, n)
			}
		}
	}
}

// lines cuts bytes by the pattern's own framing.
func lines(p *line.Pattern, b []byte) (all [][]byte) {
	line.NewFramer(p.Framing).Write(b, 0, func(l line.Line) {
		if l.Damaged == "" {
			all = append(all, append([]byte(nil), l.Bytes...))
		}
	})
	return all
}

// holds asks that the bytes for a sample mean that sample.
func holds(t *testing.T, f Format, p *line.Pattern, s simulation.LiveSample, decimals, n int) {
	t.Helper()
	mass, temperature := 0, 0
	for _, l := range lines(p, append(f.BannerBytes(), f.Bytes(s, decimals, n)...)) {
		values, err := p.ReadAll(nil, l)
		if string(l) == Banner {
			if err != line.ErrNoReading {
				t.Errorf("%s: the banner reads as %v, %v", f.Key, values, err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %q: %v", f.Key, l, err)
			continue
		}
		for _, v := range values {
			switch {
			case v.Kind == line.Temperature:
				temperature++
				if math.Abs(v.Number-s.TemperatureC) > 1e-9 {
					t.Errorf("%s: %q reads %g °C, want %g", f.Key, l, v.Number, s.TemperatureC)
				}
			case s.Overload:
				mass++
				if v.State != line.Overload {
					t.Errorf("%s: %q reads %v, want overload", f.Key, l, v)
				}
			case s.Underload:
				mass++
				if v.State != line.Underload {
					t.Errorf("%s: %q reads %v, want underload", f.Key, l, v)
				}
			default:
				mass++
				if math.Abs(v.Number-s.Grams) > 1e-9*max(1, math.Abs(s.Grams)) || math.Abs(v.Interval-math.Pow10(-decimals)) > 1e-12 {
					t.Errorf("%s: %q reads %g g in steps of %g g, want %g and %g", f.Key, l, v.Number, v.Interval, s.Grams, math.Pow10(-decimals))
				}
				mark := line.Moving
				if s.Settled {
					mark = line.Settled
				}
				if f.Key == "kilo" {
					mark = line.Unsaid
				}
				if v.Mark != mark {
					t.Errorf("%s: %q is marked %v, want %v", f.Key, l, v.Mark, mark)
				}
			}
		}
	}
	if !f.Thermometer && mass != 1 || f.Thermometer && temperature != 1 {
		t.Errorf("%s: %d masses and %d temperatures of %+v", f.Key, mass, temperature, s)
	}
}

// The lines that the manual shows are lines of the formats, for a balance of four decimals.
func TestManualShowsTheFormats(t *testing.T) {
	manual, err := os.ReadFile("../../doc/simulated.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range Formats() {
		p, err := f.Pattern(4)
		if err != nil {
			t.Fatal(err)
		}
		row := regexp.MustCompile("(?m)^\\| " + f.Key + " \\| (.*?) \\|").FindSubmatch(manual)
		if row == nil {
			t.Errorf("the manual has no row for %s", f.Key)
			continue
		}
		for _, shown := range regexp.MustCompile("`[^`]+`").FindAll(row[1], -1) {
			if v, err := p.Read(shown[1 : len(shown)-1]); err != nil || v.Kind == line.Mass && v.Number != 12.3456 || v.Kind == line.Temperature && v.Number != 22.4 {
				t.Errorf("%s: %s in the manual reads %+v, %v", f.Key, shown, v, err)
			}
		}
	}
}
