package determination

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"wreath/fault"
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

// inEthanol is the ring of the examples with its immersed readings off by some grams, and weighed in
// ethanol of 93 % by mass at 20 °C where it has the volume that loses lost grams in water.
func inEthanol(t *testing.T, off, lost float64) *Draft {
	t.Helper()
	d := ring(t)
	for i := range d.LiquidG {
		d.LiquidG[i].Gram += off // the sound ring loses 0.4787 g
	}
	d.SecondLiquid = &SecondLiquid{Kind: "ethanol-water", EthanolMassPercent: new(93.), TemperatureC: new(20.)}
	rho, _, _ := d.SecondLiquid.density(0)
	volume := lost / (0.9979 - 0.0012) // water at 21.4 °C, less air
	d.SecondLiquid.LiquidG = []Reading{{Gram: d.AirG[0].Gram - volume*(rho-0.0012), Interval: 0.0001}}
	return d
}

// TestSecondLiquid: a ring reads too light in water, off the claim, by what a bubble or the wall would do,
// or because it is hollow. In ethanol it shows the claim, or the same density again. One immersion of an
// unproved liquid gives way to the second liquid; two that agree, in a proved one, leave the second in
// doubt too, and no finding is given.
func TestSecondLiquid(t *testing.T) {
	judged := func(immersions int, second bool, lost float64) *Answer {
		t.Helper()
		d := inEthanol(t, -0.030, lost)
		if d.LiquidG = d.LiquidG[:immersions]; immersions == 1 {
			d.Liquid.Proof, d.ClosingAirG = nil, nil
		}
		if !second {
			d.SecondLiquid = nil
		}
		return evaluated(t, d)
	}
	weighing := func(a *Answer) (share float64) {
		for _, d := range a.Doubts {
			if k, ok := fault.KindByKey(d.Key); ok && ofTheWeighing(k) {
				share += d.Share
			}
		}
		return share
	}
	for _, c := range []struct {
		immersions     int
		claim, same    float64 // least with the claim shown, most with the same shown
		without        bool    // what is said without it is less
		finding, agree string
	}{{1, 0.95, 0.10, true, "undecided", "undecided"}, {2, 0.50, 0.05, true, "undecided", "not met"}} {
		shows, same, without := judged(c.immersions, true, 0.4787), judged(c.immersions, true, 0.5087), judged(c.immersions, false, 0)
		if x := weighing(shows); x < c.claim || c.without && x < 2*weighing(without) {
			t.Errorf("%d immersions, the second liquid shows the claim: faults of the weighing hold %.3f, %.3f without it", c.immersions, x, weighing(without))
		}
		if x := weighing(same); x > c.same {
			t.Errorf("%d immersions, the second liquid shows the same: faults of the weighing hold %.3f", c.immersions, x)
		}
		if shows.Finding.Result != c.finding || same.Finding.Result != c.agree {
			t.Errorf("%d immersions: %s where the second liquid shows the claim, %s where it shows the same", c.immersions, shows.Finding.Result, same.Finding.Result)
		}
	}
}

// TestSecondLiquidInsideTheBand: the second liquid differs by 2 % of the volume, ten milligrams of half a
// gram, and both lie inside the claim. One of the two weighings is wrong; the first, with two immersions
// and a proved liquid, is not the likelier one.
func TestSecondLiquidInsideTheBand(t *testing.T) {
	for _, lost := range []float64{0.4687, 0.4887} {
		a := evaluated(t, inEthanol(t, 0, lost))
		if *a.Clean < 0.8 || a.Finding.Result != "met" {
			t.Errorf("%g g: clean %.3f, %s", lost, *a.Clean, a.Finding.Result)
		}
		if len(a.Doubts) != 1 || a.Doubts[0].Cause != "the two liquids do not agree" || a.Doubts[0].Suspends {
			t.Errorf("%g g: %+v", lost, a.Doubts)
		}
	}
	// Within what its density, the thermometer and the surface leave open nothing is said.
	for _, lost := range []float64{0.4787 * 0.997, 0.4787, 0.4787 * 1.003} {
		a := evaluated(t, inEthanol(t, 0, lost))
		if *a.Clean < 0.9 || len(a.Doubts) > 0 {
			t.Errorf("%g g: clean %.3f, %+v", lost, *a.Clean, a.Doubts)
		}
	}
}

// TestSecondLiquidIsShown: the density by the second liquid stands in the answer with the liquid's, of an
// item of parts too. The sound ring has 15.45 g/cm³; 30 mg less of 0.4787 g are 6 % more.
func TestSecondLiquidIsShown(t *testing.T) {
	for _, c := range []struct {
		lost   float64
		agrees bool
		words  string
	}{{0.4787, true, "both liquids agree"}, {0.4487, false, "do not agree"}} {
		for _, parted := range []bool{false, true} {
			d := inEthanol(t, 0, c.lost)
			if parted {
				d.Item.Layers = &Layers{Core: "copper", Plate: "gold"}
			}
			s := evaluated(t, d).SecondLiquid
			if s == nil {
				t.Fatalf("parted %t: no density by the second liquid", parted)
			}
			if want := 15450 * 0.4787 / c.lost; math.Abs(s.KgM3/want-1) > 0.002 || s.Agrees != c.agrees || (s.ApartU <= fitsWithin) != c.agrees || !strings.Contains(s.Sentence, c.words) {
				t.Errorf("%g g lost, parted %t: %+v, want %.0f kg/m³", c.lost, parted, s, want)
			}
			if s.UKgM3/s.KgM3 < s.LiquidUKgM3/s.LiquidKgM3 || math.Abs(s.UExpanded/s.UKgM3-1.96) > 0.01 {
				t.Errorf("%+v", s)
			}
		}
	}
	if a := evaluated(t, ring(t)); a.SecondLiquid != nil {
		t.Errorf("no second liquid: %+v", a.SecondLiquid)
	}
}

// TestSecondLiquidDensity: the uncertainty of a second liquid holds its own, the thermometer's and, for
// ethanol, that of its strength. Slopes at 20 °C: water 0.207 kg/m³ per kelvin (CIPM formula), ethanol of
// 93 % by mass 0.86 kg/m³ per kelvin and 2.7 kg/m³ per percent of strength (the formula of package fluid,
// which its own tests hold against OIML R 22).
func TestSecondLiquidDensity(t *testing.T) {
	twenty, ninetyThree, measured, certified := 20.0, 93.0, 800.0, 0.1
	for _, c := range []struct {
		name   string
		liquid SecondLiquid
		want   float64 // kg/m³, thermometer 0.3 K
	}{
		{"water", SecondLiquid{Kind: "water", TemperatureC: &twenty}, math.Hypot(0.0005*998.2, 0.3*0.207)},
		{"water, certified", SecondLiquid{Kind: "water", TemperatureC: &twenty, DensityUKgM3: &certified}, math.Hypot(0.1, 0.3*0.207)},
		{"ethanol", SecondLiquid{Kind: "ethanol-water", TemperatureC: &twenty, EthanolMassPercent: &ninetyThree}, math.Sqrt(0.404*0.404 + 0.258*0.258 + 1.35*1.35)},
		{"measured", SecondLiquid{Kind: "measured", TemperatureC: &twenty, DensityKgM3: &measured, DensityUKgM3: &certified}, math.Hypot(0.1, 0.3*0.48)},
	} {
		_, u, ok := c.liquid.density(0.3)
		if !ok || math.Abs(1000*u-c.want) > 0.03*c.want {
			t.Errorf("%s: %.4g kg/m³, want %.4g", c.name, 1000*u, c.want)
		}
	}
}

// TestSecondLiquidThatIsWrongItself: a sound ring whose weighing in ethanol a bubble lifts. It agrees with
// neither, says so, and does not make the first weighing guilty.
func TestSecondLiquidThatIsWrongItself(t *testing.T) {
	for _, lift := range []float64{-0.06, -0.03, 0.03, 0.06} {
		d := ring(t)
		d.SecondLiquid = &SecondLiquid{Kind: "ethanol-water", EthanolMassPercent: new(93.), TemperatureC: new(20.)}
		rho, _, _ := d.SecondLiquid.density(0)
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
