package settle_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wreath/internal/settling"
	"wreath/settle"
)

// run feeds a stream until a time and returns the last event.
func run(e *settle.Estimator, s *settling.Stream, until float64) (last settle.Event) {
	for s.Now() < until {
		t, y := s.Next()
		last = e.Add(settle.Sample{Seconds: t, Value: y})
	}
	return last
}

func TestEqualReadings(t *testing.T) {
	e := settle.New(settle.Options{Interval: 0.01})
	var ev settle.Event
	for i := range 20 {
		ev = e.Add(settle.Sample{Seconds: float64(i) / 10, Value: 5.27})
	}
	if ev.Phase != settle.Settled || ev.Value != 5.27 {
		t.Fatalf("%v %v, want settled 5.27", ev.Phase, ev.Value)
	}
	if want := 0.01 / math.Sqrt(12); math.Abs(ev.U-want) > 0.1*want {
		t.Errorf("U = %g, want that of rounding, %g", ev.U, want)
	}
	if ev.Same < 1.8 || ev.Same > 1.95 {
		t.Errorf("Same = %g s, want 1.9", ev.Same)
	}
	if len(ev.Troubles) > 0 {
		t.Errorf("troubles %v", ev.Troubles)
	}
}

// Zero, load, zero: three loads, each settled, with the time it took.
func TestLoadsAreCounted(t *testing.T) {
	b := settling.Balance{Interval: 0.001, Rate: 10, Tau: 0.3, Noise: 0.0003, Hand: 0.3}
	s := settling.NewStream(b, 3)
	e := settle.New(settle.Options{Interval: b.Interval})
	var seen []settle.Event
	for _, load := range []float64{0, 7.8125, 12.25, 0} {
		s.Place(load)
		began := s.Now()
		ev := run(e, s, began+12)
		if ev.Phase != settle.Settled || math.Abs(ev.Value-load) > 3*ev.U {
			t.Fatalf("load %g: %v %g ± %g", load, ev.Phase, ev.Value, ev.U)
		}
		if load > 0 && (ev.Took < 1 || ev.Took > 8) {
			t.Errorf("load %g took %g s", load, ev.Took)
		}
		if ev.Began > began+1 {
			t.Errorf("load %g began at %g, want about %g", load, ev.Began, began)
		}
		seen = append(seen, ev)
	}
	for i, ev := range seen {
		if ev.Load != i {
			t.Errorf("event %d has load %d", i, ev.Load)
		}
	}
	if tau := seen[3].TimeConstant; tau < 0.2 || tau > 0.5 {
		t.Errorf("time constant %g, want about 0.3", tau)
	}
}

func TestWaitIsForetold(t *testing.T) {
	b := settling.Balance{Interval: 0.001, Rate: 10, Tau: 0.8, Noise: 0.0002, Hand: 0.2}
	s := settling.NewStream(b, 5)
	e := settle.New(settle.Options{Interval: b.Interval})
	run(e, s, 8)
	s.Place(20)
	run(e, s, 30)
	s.Place(30)
	early := run(e, s, 36)
	if early.Phase == settle.Settled {
		t.Fatal("settled after 6 s already")
	}
	var ev settle.Event
	for ev.Phase != settle.Settled && s.Now() < 60 {
		ev = run(e, s, s.Now()+0.05)
	}
	if took := s.Now() - 36; early.Wait < took/3 || early.Wait > 3*took+1 {
		t.Errorf("a wait of %.1f s is foretold, it takes %.1f s", early.Wait, took)
	}
}

// The mark is evidence: it neither makes a creeping reading settled nor keeps a resting one from it.
func TestMarkIsEvidence(t *testing.T) {
	for _, mark := range []settle.Mark{settle.MarkSettled, settle.MarkMoving} {
		b := settling.Balance{Interval: 0.001, Rate: 10, Tau: 0.8, Hand: 0.2}
		s := settling.NewStream(b, 5)
		e := settle.New(settle.Options{Interval: b.Interval})
		run(e, s, 8)
		s.Place(20)
		wrong := false
		for s.Now() < 40 {
			at, y := s.Next()
			ev := e.Add(settle.Sample{Seconds: at, Value: y, Mark: mark})
			if ev.Phase == settle.Settled && at > 9 && math.Abs(ev.Value-20) > 0.002 {
				wrong = true
			}
			if at > 39 && ev.Phase != settle.Settled {
				t.Errorf("mark %d: at rest for long and %v", mark, ev.Phase)
			}
		}
		if wrong {
			t.Errorf("mark %d: settled on a creep", mark)
		}
	}
}

func TestSilence(t *testing.T) {
	e := settle.New(settle.Options{Interval: 0.001, Silence: 3})
	for i := range 30 {
		e.Add(settle.Sample{Seconds: float64(i) / 10, Value: 1})
	}
	if ev := e.At(4); ev.Phase != settle.Settled || math.Abs(ev.Age-1.1) > 1e-9 {
		t.Errorf("%v, age %g", ev.Phase, ev.Age)
	}
	if ev := e.At(7); ev.Phase != settle.Silent || ev.Value != 1 {
		t.Errorf("%v %g, want silent 1", ev.Phase, ev.Value)
	}
	// What comes after a silence is looked at afresh.
	if ev := e.Add(settle.Sample{Seconds: 10, Value: 1}); ev.Phase == settle.Settled {
		t.Error("one reading after a silence counts as settled")
	}
}

func TestRefused(t *testing.T) {
	e := settle.New(settle.Options{Interval: 0.001})
	for i := range 30 {
		e.Add(settle.Sample{Seconds: float64(i) / 10, Value: 1})
	}
	for _, s := range []settle.Sample{
		{Seconds: 3, Value: math.NaN()}, {Seconds: 3, Value: math.Inf(1)}, {Seconds: 3, Value: 1e200},
		{Seconds: math.NaN(), Value: 1}, {Seconds: math.Inf(-1), Value: 1}, {Seconds: 1, Value: 1},
	} {
		if ev := e.Add(s); ev.Refused == "" || ev.Value != 1 || ev.Phase != settle.Settled {
			t.Errorf("%v: refused %q, %v %v", s, ev.Refused, ev.Phase, ev.Value)
		}
	}
	if ev := e.Add(settle.Sample{Seconds: 3, Value: 1}); ev.Refused != "" {
		t.Errorf("refuses a good sample: %s", ev.Refused)
	}
}

func TestSentences(t *testing.T) {
	b := settling.Balance{Interval: 0.0001, Rate: 10, Tau: 0.3, Noise: 0.00005, Hand: 0.3}
	s := settling.NewStream(b, 11)
	e := settle.New(settle.Options{Interval: b.Interval, UnitName: "g"})
	run(e, s, 8)
	s.Place(10)
	e.SetPlace(settle.PlaceHanging)
	run(e, s, 30)
	s.Disturb = func(float64) float64 { return 0.0042 } // water of a bubble of 2 mm
	ev := run(e, s, 45)
	if len(ev.Troubles) != 1 || ev.Troubles[0].Key != settle.BubbleRelease {
		t.Fatalf("troubles %v", ev.Troubles)
	}
	if size := ev.Troubles[0].Size; math.Abs(size-0.0042) > 0.0002 {
		t.Errorf("size %g, want 0.0042", size)
	}
	say := ev.Troubles[0].Sentence
	if !strings.HasPrefix(say, "The reading jumps by 0.004") || !strings.HasSuffix(say, " g: a bubble leaves the item, 2.0 mm wide.") {
		t.Errorf("%q", say)
	}
	if strings.Contains(ev.Troubles[0].Sentence, "!") {
		t.Error("it shouts")
	}
}

// Adding a load to every reading, or counting in another unit, changes nothing but the numbers.
func TestShiftAndScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		b := settling.Balance{Interval: 1, Rate: rapid.SampledFrom([]float64{1, 5, 20}).Draw(t, "rate"), Tau: 0.3, Noise: 0.5, Hand: 0.2}
		// Powers of two keep the arithmetic exact enough to compare.
		shift := float64(rapid.IntRange(-1000, 1000).Draw(t, "shift") * 1024)
		scale := math.Ldexp(1, rapid.IntRange(-20, 10).Draw(t, "scale"))
		s := settling.NewStream(b, seed)
		plain := settle.New(settle.Options{Interval: 1})
		other := settle.New(settle.Options{Interval: scale})
		load := 5000 + 1000*rapid.Float64Range(0, 1).Draw(t, "load")
		for s.Now() < 30 {
			if s.Now() >= 8 && s.Now() < 8+1/b.Rate {
				s.Place(load)
			}
			at, y := s.Next()
			p := plain.Add(settle.Sample{Seconds: at, Value: y})
			o := other.Add(settle.Sample{Seconds: at, Value: (y + shift) * scale})
			if p.Phase != o.Phase || p.Load != o.Load || p.N != o.N {
				t.Fatalf("at %g s %v load %d n %d, shifted by %g and scaled by %g %v load %d n %d", at, p.Phase, p.Load, p.N, shift, scale, o.Phase, o.Load, o.N)
			}
			if math.Abs((o.Value/scale-shift)-p.Value) > 1e-6 || math.Abs(o.U/scale-p.U) > 1e-6*(1+p.U) {
				t.Fatalf("at %g s %g ± %g became %g ± %g", at, p.Value, p.U, o.Value/scale-shift, o.U/scale)
			}
		}
	})
}

func TestAddKeepsNothingAlive(t *testing.T) {
	e, next := running()
	if n := testing.AllocsPerRun(2000, func() { e.Add(next()) }); n > 0 {
		t.Errorf("%g allocations a sample", n)
	}
}

// running is an estimator in the middle of a weighing and its further samples.
func running() (*settle.Estimator, func() settle.Sample) {
	rng := rand.New(rand.NewPCG(1, 2))
	e := settle.New(settle.Options{Interval: 0.001})
	i := 0
	var ring [4096]float64
	for k := range ring {
		ring[k] = 0.001 * math.Round(1000*(20+0.0007*rng.NormFloat64()))
	}
	next := func() settle.Sample {
		i++
		return settle.Sample{Seconds: float64(i) / 50, Value: ring[i%len(ring)]}
	}
	for range 3000 {
		e.Add(next())
	}
	return e, next
}

func BenchmarkAdd(b *testing.B) {
	e, next := running()
	b.ReportAllocs()
	for b.Loop() {
		e.Add(next())
	}
}

func BenchmarkAddLoads(b *testing.B) {
	s := settling.NewStream(settling.Balance{Interval: 0.001, Rate: 50, Tau: 0.4, Noise: 0.0005, Hand: 0.3}, 1)
	var samples []settle.Sample
	for s.Now() < 60 {
		if k := int(s.Now()*50+0.5) % 600; k == 0 {
			s.Place(float64(int(s.Now()/12)%3) * 10)
		}
		t, y := s.Next()
		samples = append(samples, settle.Sample{Seconds: t, Value: y})
	}
	e := settle.New(settle.Options{Interval: 0.001})
	i, round := 0, 0.0
	b.ReportAllocs()
	for b.Loop() {
		p := samples[i]
		p.Seconds += round
		e.Add(p)
		if i++; i == len(samples) {
			i = 0
			round += 60
		}
	}
}

func FuzzAdd(f *testing.F) {
	f.Add([]byte{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16}, 0.001, 0.0)
	f.Add([]byte("0000000011111111222222223333333344444444"), 1.0, 0.5)
	f.Add([]byte{0xff, 0xf0, 0, 0, 0, 0, 0, 0, 0x7f, 0xf0, 0, 0, 0, 0, 0, 0}, -1.0, math.Inf(1))
	f.Fuzz(func(t *testing.T, data []byte, interval, repeatability float64) {
		e := settle.New(settle.Options{Interval: interval, Repeatability: repeatability})
		seconds := 0.0
		for i, c := range data {
			value := float64(int8(c)) * 0.001
			switch c % 11 {
			case 0:
				value = math.NaN()
			case 1:
				value = math.Inf(int(c) - 100)
			case 2:
				value *= 1e103
			case 3:
				value *= 1e-300
			}
			switch c % 7 {
			case 0:
				seconds -= 1
			case 1:
				seconds += 1e6
			case 2: // the same time again
			default:
				seconds += float64(c) / 300
			}
			ev := e.Add(settle.Sample{Seconds: seconds, Value: value, Mark: settle.Mark(c % 4)})
			if math.IsNaN(ev.Value) || math.IsInf(ev.Value, 0) || math.IsNaN(ev.U) || ev.U < 0 || math.IsNaN(ev.Wait) || math.IsNaN(ev.Noise) {
				t.Fatalf("sample %d: %+v", i, ev)
			}
			if ev.Phase == settle.Settled && ev.Wait != 0 {
				t.Fatalf("sample %d: settled with a wait of %g", i, ev.Wait)
			}
			if i%5 == 0 {
				e.SetPlace(settle.Place(c % 5))
				e.At(seconds + float64(c))
			}
		}
	})
}

func TestThermometer(t *testing.T) {
	th := settle.NewThermometer(settle.ThermometerOptions{Interval: 0.1})
	var got settle.Temperature
	at := 0.0
	settled := -1.0
	for ; at < 200; at++ {
		// Into water of 21.34 from a room of 25, with 12 s.
		y := 21.34 + (25-21.34)*math.Exp(-at/12)
		got = th.Add(settle.Sample{Seconds: at, Value: math.Round(y*10) / 10})
		if got.Phase == settle.Settled && settled < 0 {
			settled = at
			if math.Abs(got.Value-21.34) > 3*got.U {
				t.Errorf("settled at %g s on %.3f ± %.3f", at, got.Value, got.U)
			}
		}
	}
	if settled < 20 || settled > 100 {
		t.Errorf("settled after %g s", settled)
	}
	if got.Phase != settle.Settled || math.Abs(got.Value-21.34) > 0.06 || got.U < 0.02 || got.U > 0.06 {
		t.Errorf("%+v", got)
	}
	if got = th.At(at + 20); got.Age < 20 || got.Phase != settle.Settled {
		t.Errorf("%+v", got)
	}
	if got = th.At(at + 90); got.Phase != settle.Silent {
		t.Errorf("%+v, want silent", got)
	}
	// The sun comes in: half a degree a minute.
	for i := range 120 {
		got = th.Add(settle.Sample{Seconds: at + float64(i)/5, Value: math.Round((21.34+float64(i)/5*0.5/60)*10) / 10})
	}
	for i := range 600 {
		at2 := at + 24 + float64(i)/5
		got = th.Add(settle.Sample{Seconds: at2, Value: math.Round((21.34+(at2-at)*0.5/60)*10) / 10})
	}
	if got.Phase == settle.Settled || math.Abs(got.Rate-0.5) > 0.15 {
		t.Errorf("%+v, want half a degree a minute and not settled", got)
	}
	for _, s := range []settle.Sample{{Seconds: 1e4, Value: math.NaN()}, {Seconds: 1e4, Value: -300}, {Seconds: 0, Value: 20}, {Seconds: math.NaN(), Value: 20}} {
		if th.Add(s).Refused == "" {
			t.Errorf("takes %v", s)
		}
	}
}

// However slowly the hand begins, a load is a load: none of many is missed or counted twice.
func TestEveryLoadCounts(t *testing.T) {
	missed, total := 0, 0
	for i, c := range settling.Drawn(60, 11) {
		b := c.Balance
		b.Hand = 0.3 + 0.1*float64(i%8)
		s := settling.NewStream(b, uint64(i))
		e := settle.New(settle.Options{Interval: b.Interval})
		wait := 20*(b.Tau+b.Filter) + 20/b.Rate + 4
		run(e, s, wait)
		for k := range 6 {
			s.Place(b.Interval * 3000 * float64((k+1)%3))
			ev := run(e, s, s.Now()+wait)
			total++
			if ev.Load != k+1 {
				missed++
				t.Logf("%s: load %d after %d changes", c.Label(), ev.Load, k+1)
				break
			}
		}
	}
	if missed > 1 {
		t.Errorf("%d of %d series of loads are counted wrongly", missed, 60)
	}
}

// A balance that sends one line at each press of its key is believed, within its band and repeatability.
func TestOneLineAtEachPress(t *testing.T) {
	e := settle.New(settle.Options{Interval: 0.001, Repeatability: 0.002, OnPress: true})
	for i, value := range []float64{0, 15.612, 15.613, 0.001, 14.610} {
		at := 20 * float64(i)
		ev := e.Add(settle.Sample{Seconds: at, Value: value, Mark: settle.MarkSettled})
		if ev.Phase != settle.Settled || ev.Value != value || ev.N != 1 || ev.Load != i {
			t.Errorf("press %d: %+v", i+1, ev)
		}
		if want := math.Sqrt(4e-6 + 1e-6/12 + 1e-6/3); math.Abs(ev.U-want) > 1e-9 {
			t.Errorf("press %d: U = %g, want %g", i+1, ev.U, want)
		}
		if ev = e.At(at + 10); ev.Phase != settle.Silent || ev.Value != value {
			t.Errorf("10 s after press %d: %+v", i+1, ev)
		}
	}
	// Lines that come by themselves are a stream, whatever they are marked.
	e = settle.New(settle.Options{Interval: 0.001})
	for i := range 3 {
		ev := e.Add(settle.Sample{Seconds: float64(i), Value: float64(i), Mark: settle.MarkSettled})
		if ev.Phase == settle.Settled {
			t.Errorf("line %d of a stream: %v", i+1, ev.Phase)
		}
	}
	if ev := e.Add(settle.Sample{Seconds: 60, Value: 7, Mark: settle.MarkSettled}); ev.Phase == settle.Settled {
		t.Error("one line of a stream after a silence counts as settled")
	}
	// Nobody says that lines come at a press: the second shows it.
	e = settle.New(settle.Options{Interval: 0.001})
	for i := range 3 {
		ev := e.Add(settle.Sample{Seconds: 20 * float64(i), Value: float64(i), Mark: settle.MarkSettled})
		if (ev.Phase == settle.Settled) != (i > 0) {
			t.Errorf("line %d: %v", i+1, ev.Phase)
		}
	}
	if ev := settle.New(settle.Options{Interval: 0.001, OnPress: true}).Add(settle.Sample{Value: 7}); ev.Phase == settle.Settled {
		t.Error("a line without a mark counts as settled")
	}
}
