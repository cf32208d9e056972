package handsfree

import (
	"encoding/binary"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"wreath/settle"
)

// check looks at what must hold of any outcome.
func check(t interface {
	Helper()
	Fatalf(string, ...any)
}, r *Recogniser, out Outcome, seen map[int]Capture) {
	t.Helper()
	for _, c := range out.Captures {
		before, known := seen[c.No]
		switch {
		case c.No < 1:
			t.Fatalf("a capture without a number: %+v", c)
		case c.Sure < 0 || c.Sure > 1 || math.IsNaN(c.Sure):
			t.Fatalf("sure by %v", c.Sure)
		case !finite(c.Value, c.U, c.Shown, c.Zero, c.From, c.To):
			t.Fatalf("no numbers: %+v", c)
		case c.Why == "":
			t.Fatalf("no reason: %+v", c)
		case c.Change == Aside && c.IsReading() && c.Was == "":
			t.Fatalf("set aside and stands: %+v", c)
		case !known && c.Change != Taken:
			t.Fatalf("changed and never taken: %+v", c)
		case known && c.Change == Taken && before.Change != Aside:
			t.Fatalf("taken twice: %+v", c)
		}
		seen[c.No] = c
	}
	if out.Phase.Key == "" || out.Phase.Words == "" {
		t.Fatalf("no phase: %+v", out.Phase)
	}
	if q := out.Question; q != nil && (q.Text == "" || len(q.Choices) == 0 || slices.Contains(q.Choices, Unknown)) {
		t.Fatalf("no question: %+v", q)
	}
	if len(r.stories) == 0 || len(r.stories) > beam || len(r.rests) > mostRests || len(r.stream.passed) > mostPassed {
		t.Fatalf("%d stories, %d rests", len(r.stories), len(r.rests))
	}
	sum := 0.0
	for i := range r.stories {
		sum += math.Exp(r.stories[i].weight)
	}
	if math.Abs(sum-1) > 1e-6 {
		t.Fatalf("the stories have %v in all", sum)
	}
}

// Whatever rests in whatever order, and whatever a person says to it, the recogniser keeps its promises.
func TestAnyRests(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := Options{Standing: rapid.Bool().Draw(t, "standing"), ZeroRead: rapid.Bool().Draw(t, "read"), UnderFloor: rapid.Bool().Draw(t, "hook"),
			OnTake: rapid.IntRange(0, 5).Draw(t, "on take") == 0, IntervalG: .001}
		if rapid.Bool().Draw(t, "known") {
			o.ItemG, o.HangerG = 15.6, 3.2
		}
		if rapid.Bool().Draw(t, "check") {
			o.Check = &Check{AirG: 50, VolumeCm3: 6.25}
		}
		r := New(o)
		seen := map[int]Capture{}
		seconds, load := 0.0, 0
		for range rapid.IntRange(1, 25).Draw(t, "rests") {
			level := rapid.OneOf(rapid.SampledFrom([]float64{0, 15.6, 14.6, 3.2, 17.8, 1.004, 50, 43.75, -3.2}), rapid.Float64Range(-100, 100)).Draw(t, "level")
			load++
			for range rapid.IntRange(0, 6).Draw(t, "moving") {
				seconds += .2
				e := settle.Event{Phase: settle.Moving, Seconds: seconds, Value: level + rapid.Float64Range(-20, 20).Draw(t, "passes"), Load: load}
				check(t, r, r.Add(e), seen)
			}
			for range rapid.IntRange(0, 14).Draw(t, "still") {
				seconds += .3
				e := settle.Event{Phase: settle.Settled, Seconds: seconds, Value: level, U: .0005, Began: seconds, From: seconds, Load: load}
				check(t, r, r.Add(e), seen)
			}
			switch rapid.IntRange(0, 14).Draw(t, "act") {
			case 0:
				check(t, r, r.Take(), seen)
			case 1:
				check(t, r, r.Again(), seen)
			case 2:
				check(t, r, r.SetAside(rapid.IntRange(0, 5).Draw(t, "no")), seen)
			case 3:
				check(t, r, r.Next(), seen)
			case 4:
				loads := []Load{EmptyAir, EmptyLiquid, ItemAir, ItemLiquid, CheckInAir, CheckImmerse, Same, Other, "nonsense"}
				check(t, r, r.Say(rapid.IntRange(0, 5).Draw(t, "no"), rapid.SampledFrom(loads).Draw(t, "load")), seen)
			case 5:
				check(t, r, r.NoNumber(seconds, true), seen)
			}
		}
	})
}

// What a person says stands, whatever comes after.
func TestSaidStands(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := New(Options{IntervalG: .001})
		seconds, load := 0.0, 0
		standing := map[int]Capture{}
		to := func(v float64) {
			load++
			for i := range 22 {
				seconds += .2
				e := settle.Event{Phase: settle.Settled, Seconds: seconds, Value: v, U: .0005, Load: load}
				if i < 5 {
					e.Phase, e.Value = settle.Moving, v*float64(i)/5
				}
				for _, c := range r.Add(e).Captures {
					standing[c.No] = c
				}
			}
		}
		to(0)
		to(rapid.Float64Range(1, 90).Draw(t, "first"))
		said := rapid.SampledFrom([]Load{ItemAir, ItemLiquid}).Draw(t, "said")
		no := 0
		for _, c := range r.Say(0, said).Captures {
			standing[c.No] = c
		}
		for _, c := range standing {
			if c.Load == said {
				no = c.No
			}
		}
		if no == 0 {
			t.Fatalf("said %s, held %v", said, standing)
		}
		for _, v := range rapid.SliceOfN(rapid.Float64Range(-5, 90), 0, 6).Draw(t, "then") {
			to(v)
			to(0)
		}
		if c := standing[no]; c.Load != said {
			t.Fatalf("said %s, became %+v", said, c)
		}
	})
}

// The same events give the same captures.
func TestSameAgain(t *testing.T) {
	run := func() (out []Capture) {
		r := New(Options{ItemG: air, IntervalG: .0001})
		for i, v := range []float64{0, air, 0, hanger, 0, under, 0, under, 0} {
			for j := range 30 {
				e := settle.Event{Phase: settle.Settled, Seconds: float64(i*10) + float64(j)*.3, Value: v, U: 1e-5, Load: i}
				out = append(out, r.Add(e).Captures...)
			}
		}
		return out
	}
	if a, b := run(), run(); !slices.Equal(a, b) || len(a) == 0 {
		t.Errorf("%d and %d captures differ", len(a), len(b))
	}
}

// A long session stays within its memory.
func TestLongSession(t *testing.T) {
	r := New(Options{ItemG: air, IntervalG: .0001})
	seen := map[int]Capture{}
	for i := range 3 * mostRests {
		for j := range 30 {
			e := settle.Event{Phase: settle.Settled, Seconds: float64(i*10) + float64(j)*.3, Value: float64(i%2) * air, U: 1e-5, Load: i}
			check(t, r, r.Add(e), seen)
		}
	}
}

func FuzzAdd(f *testing.F) {
	f.Add([]byte{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26}, uint8(3))
	f.Fuzz(func(t *testing.T, data []byte, options uint8) {
		o := Options{Standing: options&1 != 0, ZeroRead: options&2 != 0, UnderFloor: options&4 != 0, OnTake: options&8 != 0, HoldSeconds: .1}
		if options&16 != 0 {
			o.Check, o.ItemG, o.IntervalG = &Check{AirG: 50, VolumeCm3: 6}, 12, .01
		}
		if options&32 != 0 {
			o.DensityLow, o.DensityHigh, o.CapacityG, o.Held = 15, 16, 220, []Held{{Liquid, 3}, {Air, math.NaN()}}
		}
		r := New(o)
		seen := map[int]Capture{}
		for len(data) >= 18 {
			number := func(at int) float64 {
				bits := binary.LittleEndian.Uint64(data[at:])
				if data[0]&1 != 0 {
					return math.Float64frombits(bits)
				}
				return float64(int64(bits)%2_000_000) / 10_000
			}
			e := settle.Event{Phase: settle.Phase(data[1] % 5), Seconds: number(2), Value: number(10), U: number(10) / 1e5, Load: int(data[1] / 16)}
			check(t, r, r.Add(e), seen)
			switch data[0] / 2 % 16 {
			case 1:
				check(t, r, r.Take(), seen)
			case 2:
				check(t, r, r.Again(), seen)
			case 3:
				check(t, r, r.Say(int(data[1]%8), ItemLiquid), seen)
			case 4:
				check(t, r, r.SetAside(int(data[1]%8)), seen)
			case 5:
				r.SetInterval(number(10))
			case 6:
				check(t, r, r.NoNumber(number(2), data[1]&1 != 0), seen)
			}
			data = data[18:]
		}
	})
}

// BenchmarkAdd is one event while a load rests, as most are.
func BenchmarkAdd(b *testing.B) {
	r := New(Options{ItemG: air, IntervalG: .0001})
	e := settle.Event{Phase: settle.Settled, Value: air, U: 1e-5}
	b.ReportAllocs()
	for b.Loop() {
		e.Seconds += .02
		r.Add(e)
	}
}

// BenchmarkRest is one rest that all stories go on with, in the middle of a session.
func BenchmarkRest(b *testing.B) {
	p := New(Options{IntervalG: .0001})
	for i, v := range []float64{0, air, 0, hanger, 0, under, 0, under, 0} {
		for j := range 12 {
			p.Add(settle.Event{Phase: settle.Settled, Seconds: float64(i*10) + float64(j)*.3, Value: v, U: 1e-5, Load: i})
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		p.becomes(rest{value: 0, u: 1e-5, interval: .0001})
	}
}
