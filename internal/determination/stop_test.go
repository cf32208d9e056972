package determination

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// ring is a bench with an item of yellow gold, claimed 750, and what its keeper states.
func stopBench(seed uint64, d, sAir, sLiq float64) *bench {
	return &bench{Rand: rand.New(rand.NewPCG(20261127, seed)), d: d, sAir: sAir, sLiq: sLiq, t: 21, uT: 0.2, rhoA: 1.19, uRhoA: 0.012, liquidU: 0.02}
}

func claim750() *Claim {
	f := 750.0
	return &Claim{Metal: "gold", Family: "gold-yellow", Fineness: &f}
}

// TestStopNeverLooksAtTheSide gives the same uncertainty and scatter on both sides of the claim, and
// far away from it: the verdict is the same.
func TestStopNeverLooksAtTheSide(t *testing.T) {
	for _, n := range []int{1, 2, 3, 5} {
		var first *Stop
		for _, rho := range []float64{15.4, 15.0, 13.3, 16.2, 10.5, 19.3} {
			b := stopBench(1, 0.001, 0.001, 0.002)
			b.fill()
			d := b.draft()
			v := 6 / rho
			d.Claim = claim750()
			d.Arrangement = "hanging"
			for i := range n {
				step := 0.001 * float64(i%2)
				d.AirG = append(d.AirG, Reading{Gram: 6 + step})
				d.LiquidG = append(d.LiquidG, Reading{Gram: 6 - 0.998*v + step})
			}
			a, err := Evaluate(d, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if a.Stop == nil {
				t.Fatal("no verdict")
			}
			if first == nil {
				first = a.Stop
			}
			if a.Stop.Verdict != first.Verdict || math.Abs(a.Stop.ExpandedKgM3/first.ExpandedKgM3-1) > 0.01 || *a.Stop.WantedKgM3 != *first.WantedKgM3 {
				t.Errorf("%d repeats at %g g/cm³: %+v, at the first density %+v", n, rho, *a.Stop, *first)
			}
		}
	}
}

// TestStoppingKeepsCoverage weighs simulated items until the rule says stop, and counts how often the
// interval holds the truth: at least 94 %, as without the rule.
func TestStoppingKeepsCoverage(t *testing.T) {
	for _, row := range []struct {
		name             string
		d, sAir, sLiq    float64
		mass, expanded   float64
		unknown, upright bool
		dof              float64
	}{
		{name: "stated", d: 0.001, sAir: 0.001, sLiq: 0.002, mass: 3, expanded: 160},
		{name: "stated, few weighings behind it", d: 0.001, sAir: 0.001, sLiq: 0.002, mass: 3, expanded: 160, dof: 5},
		{name: "guessed", d: 0.001, sAir: 0.001, sLiq: 0.002, mass: 3, expanded: 200, unknown: true},
		{name: "guessed too small", d: 0.001, sAir: 0.001, sLiq: 0.003, mass: 3, expanded: 250, unknown: true},
		{name: "guessed, fine", d: 0.0001, sAir: 0.0001, sLiq: 0.0004, mass: 2, expanded: 50, unknown: true},
		{name: "guessed, standing", d: 0.01, sAir: 0.005, sLiq: 0.01, mass: 30, expanded: 120, unknown: true, upright: true},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			const trials = 1500
			b := stopBench(uint64(1000*row.mass), row.d, row.sAir, row.sLiq)
			held, repeats := 0, map[int]int{}
			least, most := 2, 8
			for range trials {
				b.fill()
				d := b.draft()
				if row.unknown {
					d.Balance = &Balance{ResolutionG: d.Balance.ResolutionG}
				}
				if row.dof > 0 {
					d.Balance.RepeatabilityDof = &row.dof
				}
				d.StopRule = &StopRule{ExpandedKgM3: &row.expanded, Least: &least, Most: &most}
				const rho = 15.44
				mass := row.mass * (0.9 + 0.2*b.Float64())
				v := b.volume(mass, rho)
				var e *evaluation
				for {
					d.AirG = append(d.AirG, b.inAir(mass, v, 1)...)
					if row.upright {
						d.Arrangement, d.GainG = "standing", append(d.GainG, b.gain(v, 1)...)
					} else {
						d.Arrangement, d.LiquidG = "hanging", append(d.LiquidG, b.immersed(mass, v, 1)...)
					}
					e = &evaluation{draft: d, answer: &Answer{}}
					if err := firstStep(e.prepare, e.plausible, func() error { return e.measure(Options{MonteCarlo: WhereNeeded}) }, func() error {
						c, err := e.resolveClaim()
						e.stop(c)
						return err
					}); err != nil {
						t.Fatal(err)
					}
					if e.answer.Stop.Verdict != OneMore {
						break
					}
				}
				repeats[e.answer.Stop.Repeats]++
				a := e.answer.Density20C
				if a.LowKgM3 <= 1000*rho && (a.HighKgM3 == nil || 1000*rho <= *a.HighKgM3) {
					held++
				}
			}
			if share := float64(held) / trials; share < 0.94 {
				t.Errorf("the interval holds the truth in %.2f %% of %d, want 94 %% or more; repeats %v", 100*share, trials, repeats)
			}
			if len(repeats) == 1 {
				t.Logf("all stop at the same number of repeats: %v", repeats)
			}
		})
	}
}

func TestStopVerdicts(t *testing.T) {
	base := func(n int, d float64) *Draft {
		draft := stopBench(1, d, d, 2*d).draft()
		draft.Arrangement, draft.Claim = "hanging", claim750()
		for range n {
			draft.AirG = append(draft.AirG, Reading{Gram: 6})
			draft.LiquidG = append(draft.LiquidG, Reading{Gram: 6 - 6/15.44*0.998})
		}
		return draft
	}
	for _, row := range []struct {
		name, verdict, why string
		draft              *Draft
		change             func(d *Draft)
	}{
		{"one of two", OneMore, "at least 2", base(1, 0.0001), func(*Draft) {}},
		{"fine balance", Enough, "enough", base(2, 0.0001), func(*Draft) {}},
		{"nearly", OneMore, "one more gives about", base(2, 0.001), func(d *Draft) { d.StopRule = &StopRule{ExpandedKgM3: ptrTo(110)} }},
		{"coarse balance", Useless, "no number of repeats", base(2, 0.05), func(*Draft) {}},
		{"the most is reached", Useless, "were agreed at most", base(3, 0.001), func(d *Draft) {
			most := 3
			d.StopRule = &StopRule{ExpandedKgM3: ptrTo(100), Most: &most}
		}},
		{"the most is too few", Useless, "the most that is agreed", base(2, 0.001), func(d *Draft) {
			most := 3
			d.StopRule = &StopRule{ExpandedKgM3: ptrTo(70), Most: &most}
		}},
		{"scatter", OneMore, "differ more", base(2, 0.0001), func(d *Draft) { d.LiquidG[1].Gram += 0.01 }},
		{"scatter to the end", Useless, "find the cause", base(4, 0.0001), func(d *Draft) {
			most := 4
			d.LiquidG[1].Gram += 0.01
			d.StopRule = &StopRule{Most: &most}
		}},
		{"nothing asked", Enough, "as agreed", base(2, 0.0001), func(d *Draft) { d.Claim, d.StopRule = nil, &StopRule{} }},
	} {
		row.change(row.draft)
		a, err := Evaluate(row.draft, Options{})
		if err != nil {
			t.Fatal(row.name, err)
		}
		if a.Stop == nil || a.Stop.Verdict != row.verdict || !strings.Contains(a.Stop.Why, row.why) {
			t.Errorf("%s: %+v, want %s because %q", row.name, a.Stop, row.verdict, row.why)
		}
	}
	if a, err := Evaluate(func() *Draft { d := base(2, 0.001); d.Claim = nil; return d }(), Options{}); err != nil || a.Stop != nil {
		t.Errorf("without a question and a rule: %+v, %v", a.Stop, err)
	}
}

// TestStopExpectation repeats, and asks that what was expected of one more came true.
func TestStopExpectation(t *testing.T) {
	var before *Stop
	for n := 2; n <= 6; n++ {
		d := stopBench(1, 0.001, 0.001, 0.002).draft()
		d.Arrangement, d.Claim, d.AirG = "hanging", claim750(), []Reading{{Gram: 6}}
		for range n {
			d.LiquidG = append(d.LiquidG, Reading{Gram: 6 - 6/15.44*0.998})
		}
		a, err := Evaluate(d, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if before != nil && math.Abs(a.Stop.ExpandedKgM3/before.AfterKgM3-1) > 1e-6 {
			t.Errorf("%d repeats: ± %g, expected ± %g", n, a.Stop.ExpandedKgM3, before.AfterKgM3)
		}
		if a.Stop.FloorKgM3 > a.Stop.AfterKgM3 || a.Stop.AfterKgM3 >= a.Stop.ExpandedKgM3 {
			t.Errorf("%d repeats: floor %g, after %g, now %g", n, a.Stop.FloorKgM3, a.Stop.AfterKgM3, a.Stop.ExpandedKgM3)
		}
		before = a.Stop
	}
}

func TestBadStopRules(t *testing.T) {
	for field, text := range map[string]string{
		"stop_rule.least":          `{"least": 0}`,
		"stop_rule.most":           `{"least": 4, "most": 3}`,
		"stop_rule.expanded_kg_m3": `{"expanded_kg_m3": -1}`,
		"stop_rule.mots":           `{"mots": 3}`,
	} {
		d, err := Decode([]byte(`{"air_g": 7.42, "liquid_g": 6.94, "liquid": {"kind": "water", "temperature_c": 21}, "stop_rule": ` + text + `}`))
		if err == nil {
			_, err = Evaluate(d, Options{})
		}
		var f *InputError
		if !errors.As(err, &f) || f.Path != field || f.Hint == "" {
			t.Errorf("%s: %v, want an error of %s", text, err, field)
		}
	}
}

func ptrTo(x float64) *float64 { return &x }
