package determination

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
)

// TestDoneTellsTheCause: one invented ring, five readings, one act before each: brushed, centred,
// wire dipped, zero read and set. The reading is off by the same grams until one of the acts; which
// one says what it was.
func TestDoneTellsTheCause(t *testing.T) {
	for _, c := range []struct {
		key   string
		until int     // readings that are off
		off   float64 // g
		zero  float64 // what the empty hanger shows, g
	}{
		{"bubble", 1, -0.0040, 0},
		{"touching", 2, -0.0900, 0},
		{"wire", 3, 0.0030, 0},
		{"zero", 4, -0.0060, -0.0060},
		{"zero", 4, 0.0100, 0.0100},
	} {
		d := ring(t)
		d.LiquidG = nil
		for i, g := range []float64{6.9431, 6.9428, 6.9430, 6.9432, 6.9429} {
			if i < c.until {
				g += c.off
			}
			d.LiquidG = append(d.LiquidG, Reading{Gram: g, Interval: 0.0001, Text: fmt.Sprintf("%.4f", g)})
		}
		d.Done = []Done{
			{Act: "brushed", Before: new(2)}, {Act: "centred", Before: new(3)}, {Act: "wire-dipped", Before: new(4)},
			{Act: "zero-read", Before: new(5), ZeroG: &c.zero}, {Act: "zero-set", Before: new(5)},
		}
		a, err := Evaluate(d, Options{})
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(a.Doubts, func(d Doubt) bool { return d.Key != "" })
		if i < 0 || a.Doubts[i].Key != c.key || a.Doubts[i].Share < 0.5 || len(a.Doubts[i].Group) > 0 {
			t.Errorf("off by %g g through %d readings: want %s favoured and alone, got %+v", c.off, c.until, c.key, a.Doubts)
		}
	}
}

// TestZeroMustBeSeen: on a coarse balance a zero that moved and stayed could pass a lower standard.
// The default rule holds met back until the empty hanger was read, and says so; what the hanger
// shows is a doubt when it is not zero. The vessel is an invented example.
func TestZeroMustBeSeen(t *testing.T) {
	vessel := func(zero ...float64) *Answer {
		t.Helper()
		data, err := os.ReadFile("../../examples/standing-vessel.json")
		if err != nil {
			t.Fatal(err)
		}
		d, err := Decode(data)
		if err != nil {
			t.Fatal(err)
		}
		d.ClosingZeroG = nil
		for _, g := range zero {
			d.ClosingZeroG = append(d.ClosingZeroG, Reading{Gram: g, Interval: 0.001})
		}
		a, err := Evaluate(d, Options{})
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	if rule := HouseRules[0]; rule.ZeroSeen <= 0 || rule.Clean < 0.8 {
		t.Fatalf("the default rule asks for a zero of %g and clean %g", rule.ZeroSeen, rule.Clean)
	}
	a := vessel()
	if f := a.Finding; f.Result == "met" || f.WouldBe != "met" || !slices.ContainsFunc(f.Missing, func(m string) bool { return strings.Contains(m, "closing_zero_g") }) {
		t.Errorf("without the empty hanger: %+v", f)
	}
	if a.Next == nil {
		t.Error("nothing is proposed that would lift it")
	}
	if f := vessel(0.001).Finding; slices.ContainsFunc(f.Missing, func(m string) bool { return strings.Contains(m, "closing_zero_g") }) {
		t.Errorf("with the empty hanger read: %+v", f)
	}
	moved := vessel(0.180)
	if moved.Finding.Result == "met" || moved.Clean == nil || *moved.Clean > 0.01 {
		t.Errorf("with a zero that moved by 180 intervals: %+v, clean %v", moved.Finding, moved.Clean)
	}
}

// TestBadDone: acts that nobody knows, or that lack what they are done for, name field and way out.
func TestBadDone(t *testing.T) {
	for _, c := range []struct{ done, field, reason, hint string }{
		{`{}`, "done[0].act", "missing", "Name"},
		{`{"act": "brushd"}`, "done[0].act", `no "brushd"`, "Did you mean brushed"},
		{`{"act": "brushed", "before": 0}`, "done[0].before", "cannot be right", "from 1"},
		{`{"act": "zero-read", "before": 1}`, "done[0].zero_g", "missing", "empty hanger"},
		{`{"act": "thermometer"}`, "done[0].temperature_c", "missing", "thermometer"},
		{`{"act": "strength"}`, "done[0].ethanol_mass_percent", "missing", "strength"},
		{`{"act": "brushed", "zero_g": 0.1}`, "done[0].zero_g", "does not belong", "Leave it out"},
		{`{"act": "brushed", "depth": 1}`, "done[0].depth", "no such field", ""},
	} {
		d, err := Decode([]byte(`{"air_g": [12.4431], "liquid_g": [11.6472], "liquid": {"kind": "water", "temperature_c": 21}, "done": [` + c.done + `]}`))
		if err == nil {
			_, err = Evaluate(d, Options{})
		}
		bad, ok := err.(*InputError)
		if !ok || bad.Path != c.field || !strings.Contains(bad.Reason, c.reason) || !strings.Contains(bad.Hint, c.hint) {
			t.Errorf("%s: %v", c.done, err)
		}
	}
}

// TestSecondLiquid: a ring reads too light in water by what a bubble or the wall would do at both
// immersions, or because it is hollow. In ethanol it shows the claim, or the same density again.
func TestSecondLiquid(t *testing.T) {
	judged := func(volume float64) *Answer {
		t.Helper()
		d := ring(t)
		for i := range d.LiquidG {
			d.LiquidG[i].Gram -= 0.020 // 0.4787 g of lost weight become 0.4987 g
		}
		// Ethanol of 93 % by mass at 20 °C has 0.8077 g/cm³ (formula of the liquid).
		d.SecondLiquid = &SecondLiquid{Kind: "ethanol-water", EthanolMassPercent: new(93.), TemperatureC: new(20.)}
		rho, _, _ := d.SecondLiquid.density()
		d.SecondLiquid.LiquidG = []Reading{{Gram: d.AirG[0].Gram - volume*(rho-0.0012), Interval: 0.0001}}
		a, err := Evaluate(d, Options{})
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	water := 0.9979 - 0.0012 // at 21.4 °C, less air
	weighing := func(a *Answer) (share float64) {
		for _, key := range []string{"bubble", "zero", "touching", "wire", "liquid"} {
			if d := named(a, key); d != nil && d.Key == key {
				share += d.Share
			}
		}
		return share
	}
	sound, same := judged(0.4787/water), judged(0.4987/water)
	if x := weighing(sound); x < 0.9 {
		t.Errorf("the second liquid shows the claim: faults of the weighing hold %.3f: %+v", x, sound.Doubts)
	}
	if x := weighing(same); x > 0.05 {
		t.Errorf("the second liquid shows the same: faults of the weighing hold %.3f: %+v", x, same.Doubts)
	}
}

// TestSecondLiquidThatIsWrongItself: a sound ring whose weighing in ethanol a bubble lifts. It agrees with
// neither, says so, and does not make the first weighing guilty.
func TestSecondLiquidThatIsWrongItself(t *testing.T) {
	for _, lift := range []float64{-0.06, -0.03, 0.03, 0.06} {
		d := ring(t)
		d.SecondLiquid = &SecondLiquid{Kind: "ethanol-water", EthanolMassPercent: new(93.), TemperatureC: new(20.)}
		rho, _, _ := d.SecondLiquid.density()
		d.SecondLiquid.LiquidG = []Reading{{Gram: d.AirG[0].Gram - 0.4787/(0.9979-0.0012)*(rho-0.0012) + lift, Interval: 0.0001}}
		a, err := Evaluate(d, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if *a.Clean < 0.8 || len(a.Doubts) != 1 || !strings.Contains(a.Doubts[0].Cause, "second liquid") {
			t.Errorf("off by %g g: clean %.3f, %+v", lift, *a.Clean, a.Doubts)
		}
	}
}
