package simulation

import (
	"math"
	"math/rand/v2"
	"testing"

	"wreath/internal/determination"
)

// still is a bench where nothing scatters and everything is as stated.
func still(standing bool) *Bench {
	item := Plain("gold", 19.3, 19.3) // one cubic centimetre
	item.Expansion = 0
	b := NewBench(rand.New(rand.NewPCG(1, 1)), Station{Standing: standing, Interval: 1e-9, Capacity: 100, TemperatureC: 20, AirKgM3: 1.2, WireMM: 1e-6, VesselMM: 60, HangerMass: 2, HangerVolume: 0.25}, item)
	b.AirSaturated = 0
	return b
}

// What the pan feels of a body of one cubic centimetre, counted by hand. Water at 20 °C has
// 998.2067 kg/m³ (Tanaka 2001, table 1: 0.998 206 7 g/cm³), and the liquid bears what it lifts.
func TestForceByHand(t *testing.T) {
	const water, air = 0.9982067, 0.0012
	for _, row := range []struct {
		name     string
		standing bool
		change   func(*Bench)
		want     float64
	}{
		{"in air", false, func(b *Bench) { b.Place = InAir }, 19.3 - air},
		{"immersed", false, func(b *Bench) { b.Place = Immersed }, 19.3 - water},
		{"bubble", false, func(b *Bench) { b.Place = Immersed; b.Bubble = 0.01 }, 19.3 - water - 0.01*(water-air)},
		{"hanger", false, func(b *Bench) { b.HangerOn = true }, 2 - 0.25*water},
		{"hanger dry", false, func(b *Bench) { b.HangerOn, b.HangerDry = true, true }, 2 - 0.25*air},
		{"carried", false, func(b *Bench) { b.Place = Immersed; b.Carried = 0.5 }, (19.3 - water) / 2},
		{"wet", false, func(b *Bench) { b.Place = InAir; b.Film = 0.02 }, 19.3 - air + 0.02},
		{"hollow", false, func(b *Bench) { b.Place = Immersed; b.Item.Void = 1 }, 19.3 - 2*water},
		{"pores empty", false, func(b *Bench) { b.Place = Immersed; b.Item.Pores = 0.1 }, 19.3 - 1.1*water},
		{"pores full", false, func(b *Bench) { b.Place = Immersed; b.Item.Pores, b.Filled = 0.1, 1 }, 19.3 - water},
		{"standing", true, func(b *Bench) { b.Place = Immersed }, water - air},
		{"standing, bubble", true, func(b *Bench) { b.Place = Immersed; b.Bubble = 0.01 }, 1.01 * (water - air)},
		{"standing on the bottom", true, func(b *Bench) { b.Place = Immersed; b.Carried = 1 }, 19.3 - air},
		{"standing, pores full", true, func(b *Bench) { b.Place = Immersed; b.Item.Pores, b.Filled = 0.1, 1 }, water - 1.1*air},
	} {
		b := still(row.standing)
		row.change(b)
		// Tolerance: the wire of a millionth of a millimetre, and the last digit printed for water.
		if got := b.Force(); math.Abs(got-row.want) > 3e-7 {
			t.Errorf("%s: %.7f g on the pan, want %.7f g", row.name, got, row.want)
		}
	}
}

// The surface pulls a wire of 0.5 mm with 11.6 mg in water: π·d·γ/g.
func TestSurfacePullsTheWire(t *testing.T) {
	b := still(false)
	b.WireMM = 0.5
	b.HangerOn = true
	wetted := b.Force()
	b.Unwetted = 1
	if got := wetted - b.Force(); math.Abs(got-0.0116) > 0.0001 {
		t.Errorf("a wire of 0.5 mm is pulled with %.1f mg, want 11.6 mg", 1000*got)
	}
}

func TestPoresFillWithTime(t *testing.T) {
	b := still(false)
	b.Item = b.Item.Porous(0.05, 100)
	b.Place = Immersed
	last := b.Force()
	for range 5 {
		b.Advance(60)
		if now := b.Force(); now <= last {
			t.Fatalf("after %g s the porous item presses with %.5f g, before with %.5f g; it must grow heavier", b.Seconds, now, last)
		} else {
			last = now
		}
	}
}

func TestSameSeedSameReadings(t *testing.T) {
	for _, f := range Faults {
		first, second := seeded(t, f.Key), seeded(t, f.Key)
		if first.written != second.written {
			t.Errorf("%s: %+v and %+v from one seed", f.Key, first.written, second.written)
		}
	}
}

func seeded(t *testing.T, fault string) *Session {
	t.Helper()
	s, err := New(rand.New(rand.NewPCG(20261127, 7)), Case{Claim: Claims()[1], Fault: fault, Law: Unexpected})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Clean sessions give their density back: the 95 % interval holds the truth in 95 % of them, give
// or take (three binomial standard deviations of 1200 below, any number above: rounding widens).
func TestCleanSessionsGiveTheDensityBack(t *testing.T) {
	const n = 1200
	held := 0
	for i := range n {
		s, err := New(rand.New(rand.NewPCG(5, uint64(i))), Case{Claim: Claims()[i%6], Standing: i%2 == 1, Settling: true})
		if err != nil {
			t.Fatal(err)
		}
		a, err := determination.Evaluate(s.Draft(Stages[Settled].Plan), determination.Options{MonteCarlo: determination.WhereNeeded})
		if err != nil {
			t.Fatal(err)
		}
		truth := 1000 * s.Bench.Item.Density()
		if d := a.Density20C; truth >= d.LowKgM3 && (d.HighKgM3 == nil || truth <= *d.HighKgM3) {
			held++
		}
	}
	if share := Share(held, n); share < 0.95-3*math.Sqrt(0.95*0.05/n) {
		t.Errorf("the interval holds the truth in %.1f %% of %d clean sessions, want 95 %%", 100*share, n)
	}
}

func TestSlip(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	kinds := map[string]bool{}
	for range 400 {
		wrong := Slip(r, "12.34")
		if number(wrong) == 12.34 || number(wrong) <= 0 {
			t.Fatalf("Slip(12.34) = %q, want another number", wrong)
		}
		kinds[wrong] = true
	}
	for _, want := range []string{"123.4", "1.234", "21.34", "13.24", "2.34", "1.34", "112.34", "72.34"} {
		if !kinds[want] {
			t.Errorf("400 slips of 12.34 never gave %s", want)
		}
	}
}
