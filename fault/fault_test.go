package fault

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Rows J15 to J24 were computed for this project by an independent numpy prototype (numpy 1.24,
// scipy 1.10) on simulated weighings; they are not published.

const (
	water = 0.9982067
	moist = 0.0012
)

func simple(air, immersed float64) *Weighing {
	return &Weighing{
		Air: []Reading{{Gram: air}}, Immersed: []Reading{{Gram: immersed}}, Interval: 0.0001, AirS: 0.0001, ImmersedS: 0.0003,
		CommonU: 0.0001, LiquidRho: water, LiquidU: 0.0001, AirRho: moist, PerKelvin: -2.07e-4, Scale: 1,
		OtherLiquids: []float64{0.7893, 0.998}, SurfaceBoundG: 0.0047,
	}
}

func exactly(rho float64) []Node { return []Node{{V: 1 / rho, SD: 1e-5 / rho, Weight: 1}} }

func gold(rho float64) *Case {
	return &Case{Claimed: exactly(rho), Lower: exactly(0.86 * rho), Alike: exactly(8.5), Cores: []float64{1 / 19.25, 1 / 8.94}, StoneSpecific: []float64{1 / 3.52, 1 / 5.8, 1 / 2.65, 1 / 4.0}}
}

// TestSizes: the size that closes the gap (J15 to J17).
func TestSizes(t *testing.T) {
	for _, c := range []struct {
		id                                             string
		air, immersed, claim                           float64
		rho, gapMg, bubble, voids, diamond, cz, liquid float64
	}{
		{"J15", 7.4216, 6.9330, 15.3703, 15.1453, 7.1544, 2.3931, 0.014643, 0.1647, 0.3360, 1.0130},
		{"J16", 31.103, 29.470, 19.29, 18.9907, 25.3365, 3.6477, 0.015515, 0.5493, 1.0580, 1.0139},
		{"J17", 7.4216, 6.9426, 15.0, 15.4488, -14.3318, 0, 0, 0, 0, 0.9692},
	} {
		var e Engine
		e.Judge(simple(c.air, c.immersed), gold(c.claim))
		v := 1 / c.claim
		near := func(what string, got, want, tolerance float64) {
			if !(math.Abs(got-want) <= tolerance) {
				t.Errorf("%s %s: %.6g, want %.6g", c.id, what, got, want)
			}
		}
		near("density", e.w.Density(c.air, c.air-c.immersed), c.rho, 0.00006)
		near("gap in mg", 1000*(e.mean-e.w.displaced(c.air, v)), c.gapMg, 0.00006)
		rhoL, _ := e.Needed(Liquid, v)
		near("liquid", rhoL, c.liquid, 0.00006)
		bubble, ok := e.Needed(Bubble, v)
		if ok != (c.bubble > 0) {
			t.Errorf("%s: a bubble closes it: %t", c.id, ok)
		}
		if c.bubble == 0 {
			for _, k := range []Kind{Bubble, Hollow, Stones, Pores, Touching} {
				if !e.Excluded(k, v, v) {
					t.Errorf("%s: %s is not excluded by a gap the other way", c.id, k.Key())
				}
			}
			continue
		}
		near("bubble", bubble, c.bubble, 0.00006)
		hollow, _ := e.Needed(Hollow, v)
		near("void", hollow, c.voids, 0.0000006)
		volume := (c.air - c.immersed) / (water - moist) // as the prototype takes it, mass in grams of the air reading
		apparent := volume / c.air
		for _, s := range []struct {
			what      string
			rho, want float64
		}{{"diamond", 3.52, c.diamond}, {"zirconia", 5.8, c.cz}} {
			share, _ := Share(apparent, v, 1/s.rho)
			exact, _ := Share(e.w.specific(c.air, e.mean), v, 1/s.rho)
			if math.Abs(share*c.air/0.2-s.want) > 0.00006 && math.Abs(exact*c.air/0.2-s.want) > 0.00006 {
				t.Errorf("%s %s: %.5f or %.5f ct, want %.4f", c.id, s.what, share*c.air/0.2, exact*c.air/0.2, s.want)
			}
		}
	}
}

// TestKernels: the density of a gap under one bubble and under a log-flat size (J18 to J22).
func TestKernels(t *testing.T) {
	for _, c := range []struct {
		id       string
		g, s     float64
		want     float64
		relative float64
	}{{"J18", 0.5, 0.3, 0.504557, 0.002}, {"J19", 2, 0.3, 0.128525, 0.004}, {"J20", 30, 3, 3.58867e-4, 0.02}, {"J21", -1, 0.3, 2.30907e-4, 0.02}} {
		cells := sizesOf(Bubble.Fault(), 96)
		for i := range cells {
			cells[i] = cells[i].lift(water - moist)
		}
		if got := kernel(cells, c.g/1000, c.s/1000) / 1000; math.Abs(got/c.want-1) > c.relative {
			t.Errorf("%s: %.6g per mg, want %.6g", c.id, got, c.want)
		}
	}
	if got, want := kernel(logFlat(0.3, 30, 64), 5, 0.5), 0.0438775; math.Abs(got/want-1) > 0.002 {
		t.Errorf("J22: %.6g per mg, want %.6g", got, want)
	}
}

// Law: however few cells, an integral over a size never peaks above what its cells allow: a
// coarse law tells the same as a fine one (nodes further apart than the scatter alias).
func TestCellsDoNotAlias(t *testing.T) {
	for g := 0.2; g < 20; g *= 1.07 {
		coarse, fine := kernel(logFlat(0.1, 30, 32), g, 0.01*g), kernel(logFlat(0.1, 30, 2000), g, 0.01*g)
		if math.Abs(coarse/fine-1) > 0.25 {
			t.Errorf("gap %.3g: %.4g with 32 cells, %.4g with 2000", g, coarse, fine)
		}
	}
}

func TestLawsAddUp(t *testing.T) {
	for k := range Kinds {
		f := k.Fault()
		if f.Cause == "" || f.Source == "" || !(f.Weight > 0) {
			t.Errorf("%s: %+v", k.Key(), f)
		}
		if k != Clean && f.Settles == "" {
			t.Errorf("%s: nothing settles it", k.Key())
		}
		cells := laws()[k]
		if cells == nil {
			continue
		}
		sum := 0.0
		for i, c := range cells {
			sum += c.weight
			if !(c.width > 0) || i > 0 && c.x <= cells[i-1].x {
				t.Fatalf("%s: cell %d %+v", k.Key(), i, c)
			}
		}
		if math.Abs(sum-1) > 1e-4 {
			t.Errorf("%s: weights add up to %g", k.Key(), sum)
		}
	}
}

// Law: on readings that fit the claim nothing is favoured, whatever the item's mass.
func TestSilentOnSoundReadings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mass := rapid.Float64Range(1, 200).Draw(t, "mass")
		rho := rapid.Float64Range(8, 20).Draw(t, "rho")
		w := simple(mass, mass-mass*(water-moist)/(rho-moist))
		n := rapid.IntRange(1, 3).Draw(t, "immersions")
		for range n - 1 {
			w.Immersed = append(w.Immersed, Reading{Gram: w.Immersed[0].Gram + 0.0003*rapid.Float64Range(-1, 1).Draw(t, "scatter")})
		}
		w.Closing = []Reading{{Gram: mass}}
		var e Engine
		if v := e.Judge(w, gold(rho)); v.Posterior[Clean] < 0.8 {
			t.Fatalf("clean %.3f: %v", v.Posterior[Clean], v.Posterior)
		}
	})
}

// Law: the probability that nothing is wrong falls the further the reading moves from the claim.
func TestFurtherOffIsLessClean(t *testing.T) {
	last := 2.0
	for _, mg := range []float64{0, 0.5, 1, 1.5, 2, 3, 5} {
		var e Engine
		b := 7.4216 * (water - moist) / (15.4 - moist)
		p := e.Judge(simple(7.4216, 7.4216-b-mg/1000), gold(15.4)).Posterior[Clean]
		if p > last+1e-9 {
			t.Errorf("%g mg off: clean %.4g, nearer %.4g", mg, p, last)
		}
		last = p
	}
	if last > 0.01 {
		t.Errorf("5 mg off and still clean with %.3g", last)
	}
}

// The cases of one cause each, with everything that settles it.
func TestOneCauseEach(t *testing.T) {
	const rho, mass = 15.4, 7.4216
	b := mass * (water - moist) / (rho - moist)
	for _, c := range []struct {
		cause Kind
		alike []Kind // what may be ahead of it
		make  func(w *Weighing)
	}{
		{Bubble, nil, func(w *Weighing) { w.Immersed[0].Gram -= bubbleLift(1.5, water) }},
		{Touching, nil, func(w *Weighing) { w.Immersed[0].Gram -= 3.1 }},
		{Hanger, nil, func(w *Weighing) {
			w.Immersed[0].Gram += 0.875 * 0.8
			w.Immersed[1].Gram += 0.875 * 0.8
			w.Check.Ratio = -0.875 * 0.8 / w.Check.LostG
			w.HangerG = 0.8
		}},
		{Liquid, nil, func(w *Weighing) {
			w.Immersed[0].Gram += b * (1 - 0.7881/0.997)
			w.Immersed[1].Gram += b * (1 - 0.7881/0.997)
			w.Check.Ratio = 0.7881/0.997 - 1
		}},
		{Temperature, []Kind{Liquid}, func(w *Weighing) {
			w.Immersed[0].Gram += b * 5 * 2.07e-4
			w.Immersed[1].Gram += b * 5 * 2.07e-4
			w.Check.Ratio, w.Check.U = -5*2.07e-4, 5e-5
		}},
		{Hollow, nil, func(w *Weighing) {
			w.Immersed[0].Gram -= b * 0.06
			w.Immersed[1].Gram -= b * 0.06
			w.HollowSeen, w.StonesSeen = Yes, No
		}},
		{Stones, nil, func(w *Weighing) {
			w.Immersed[0].Gram -= b * 0.06
			w.Immersed[1].Gram -= b * 0.06
			w.HollowSeen, w.StonesSeen = No, Yes
		}},
		{LowerStandard, nil, func(w *Weighing) {
			w.Immersed[0].Gram -= b * (1/0.86 - 1)
			w.Immersed[1].Gram -= b * (1/0.86 - 1)
			w.HollowSeen, w.StonesSeen = No, No
		}},
		{Pores, nil, func(w *Weighing) {
			w.Immersed[0].Gram -= b * 0.02
			w.Immersed[1].Gram -= b * 0.012
			w.Closing[0].Gram += b * 0.016
		}},
		{Wet, nil, func(w *Weighing) {
			w.Air[0].Gram += 0.02
			w.Closing[0].Gram = mass
		}},
		{Digit, nil, func(w *Weighing) { w.Air[0].Gram = 7.2416 }},
		{Unit, nil, func(w *Weighing) { w.Air[0].Gram *= 5; w.Closing[0].Gram *= 5 }},
		{Swapped, nil, func(w *Weighing) {
			w.Air, w.Immersed, w.Closing = w.Immersed, []Reading{w.Air[0], w.Air[0]}, nil
		}},
		{Displaced, nil, func(w *Weighing) { w.Immersed[0].Gram, w.Immersed[1].Gram = b, b }},
		{WrongItem, nil, func(w *Weighing) { w.IntakeG = 8.9 }},
		{Draught, []Kind{Drift}, func(w *Weighing) {
			w.Air = []Reading{{Gram: mass - 0.004}, {Gram: mass + 0.003}, {Gram: mass + 0.001}}
			w.Immersed = []Reading{{Gram: mass - b - 0.007}, {Gram: mass - b + 0.005}, {Gram: mass - b + 0.001}}
		}},
	} {
		w := simple(mass, mass-b)
		w.Immersed = append(w.Immersed, w.Immersed[0])
		w.Closing = []Reading{{Gram: mass}}
		w.Check = &Check{U: 1e-4, LostG: 5}
		c.make(w)
		var e Engine
		v := e.Judge(w, gold(rho))
		ahead := 0
		for k := range Kinds {
			allowed := false
			for _, a := range c.alike {
				allowed = allowed || a == k
			}
			if k != c.cause && !allowed && v.Posterior[k] >= v.Posterior[c.cause] {
				ahead++
				t.Errorf("%s: %s is ahead with %.3g, it has %.3g", c.cause.Key(), k.Key(), v.Posterior[k], v.Posterior[c.cause])
			}
		}
		if r := v.Reread[c.cause]; c.cause >= Digit && c.cause <= Displaced && (!r.Found || math.Abs(r.Density/rho-1) > 0.002) {
			t.Errorf("%s: read otherwise %+v, want a density of %g", c.cause.Key(), r, rho)
		}
	}
}

// A bubble on a bar of 12 kg can't be seen and must not be looked for.
func TestBubbleOnABarStaysSilent(t *testing.T) {
	const mass = 12000.0
	w := simple(mass, mass-mass*(water-moist)/(19.3-moist)-bubbleLift(1.2, water))
	w.Interval, w.AirS, w.ImmersedS = 0.1, 0.1, 0.2
	var e Engine
	if v := e.Judge(w, gold(19.3)); v.Posterior[Clean] < 0.8 || v.Posterior[Bubble] > 0.08 {
		t.Errorf("clean %.3f, bubble %.3f", v.Posterior[Clean], v.Posterior[Bubble])
	}
}

// The surface of a wire can do no more than its perimeter times the surface tension.
func TestWireIsExcludedBeyondItsBound(t *testing.T) {
	b := 7.4216 * (water - moist) / (15.4 - moist)
	for _, c := range []struct {
		mg       float64
		excluded bool
	}{{3, false}, {-3, false}, {9, true}, {-9, true}} {
		var e Engine
		e.Judge(simple(7.4216, 7.4216-b-c.mg/1000), gold(15.4))
		if got := e.Excluded(Wire, 1/15.4, 1/15.4); got != c.excluded {
			t.Errorf("%g mg: excluded %t, want %t", c.mg, got, c.excluded)
		}
	}
}

// Law: a fault that is the same in the standing and in the hanging arrangement is judged alike.
func TestArrangementsAgree(t *testing.T) {
	b := 10 * (water - moist) / (15.4 - moist)
	for _, add := range []float64{0, 0.002, 0.05} {
		hanging := simple(10, 10-b-add)
		standing := simple(10, b+add)
		standing.Standing = true
		var one, two Engine
		p, q := one.Judge(hanging, gold(15.4)).Posterior, two.Judge(standing, gold(15.4)).Posterior
		// Slips depend on what was typed, and a hanger pulls in one arrangement only.
		kinds := []Kind{Clean, Bubble, Touching, Hollow, Stones, LowerStandard}
		sumP, sumQ := 0.0, 0.0
		for _, k := range kinds {
			sumP, sumQ = sumP+p[k], sumQ+q[k]
		}
		for _, k := range kinds {
			p[k], q[k] = p[k]/sumP, q[k]/sumQ
			if math.Abs(p[k]-q[k]) > 0.1*math.Max(p[k], q[k])+0.02 {
				t.Errorf("%g g more: %s %.3g hanging, %.3g standing", add, k.Key(), p[k], q[k])
			}
		}
	}
}

// Law: the verdict does not depend on what the engine judged before.
func TestEngineKeepsNothing(t *testing.T) {
	var used Engine
	b := 10 * (water - moist) / (15.4 - moist)
	for _, add := range []float64{0.4, 0, 0.01} {
		w := simple(10, 10-b-add)
		w.Immersed = append(w.Immersed, Reading{Gram: 10 - b})
		var fresh Engine
		if got, want := used.Judge(w, gold(15.4)).Posterior, fresh.Judge(w, gold(15.4)).Posterior; got != want {
			t.Errorf("%g: %v after others, %v fresh", add, got, want)
		}
	}
}

func BenchmarkJudge(b *testing.B) {
	w := simple(10, 10-10*(water-moist)/(15.4-moist)-0.004)
	w.Immersed = append(w.Immersed, Reading{Gram: w.Immersed[0].Gram + 0.0035})
	w.Closing = []Reading{{Gram: 10}}
	w.Check = &Check{U: 1e-4, LostG: 5}
	c := gold(15.4)
	c.Claimed = nil
	for i := range 16 {
		c.Claimed = append(c.Claimed, Node{1 / (15.0 + 0.05*float64(i)), 1e-4, 1. / 16})
	}
	var e Engine
	b.ReportAllocs()
	for b.Loop() {
		e.Judge(w, c)
	}
}

// TestNeededOfOneImmersion: of several immersions one may be off, to either side; the shift of the zero is
// that of the one, whatever its place in the list, and a bubble is never read from one that is too heavy.
func TestNeededOfOneImmersion(t *testing.T) {
	const air, claim = 7.4216, 15.4
	w := simple(air, 0)
	right := air - w.displaced(air, 1/claim)
	for _, off := range []float64{0.030, -0.030} {
		for place := range 3 {
			w.Immersed = []Reading{{Gram: right + 0.0002}, {Gram: right - 0.0001}, {Gram: right - 0.0002}}
			w.Immersed[place].Gram = right + off
			var e Engine
			e.Judge(w, gold(claim))
			for k, want := range map[Kind]float64{Zero: -off / w.Interval, Wire: -1000 * off} {
				if got, ok := e.Needed(k, 1/claim); !ok || math.Abs(got-want) > 1e-6*math.Abs(want) {
					t.Errorf("%s, reading %d off by %g g: needed %.6g, want %.6g", k.Key(), place+1, off, got, want)
				}
			}
			bubble, _ := e.Needed(Bubble, 1/claim)
			lift := 1000 * bubbleLift(bubble, w.LiquidRho-w.AirRho)
			if off < 0 && math.Abs(lift-30) > 0.001 || off > 0 && lift > 0.21 {
				t.Errorf("reading %d off by %g g: a bubble that lifts %.4g mg", place+1, off, lift)
			}
		}
	}
}

// TestAnyDigitCanBeAnother: every digit can be taken for every other, for one that looks like it more
// readily, and the chances of one misread digit add up.
func TestAnyDigitCanBeAnother(t *testing.T) {
	for right := range int64(10) {
		sum := 0.0
		for typed := range int64(10) {
			if typed == right {
				continue
			}
			p := takenFor(right, typed)
			if !(p > 0) {
				t.Errorf("%d is never taken for %d", right, typed)
			}
			if slices.Contains(misread[right], typed) && p <= takenFor(right, (right+2)%10) && !slices.Contains(misread[right], (right+2)%10) {
				t.Errorf("%d is taken for %d with %.3g, no more readily than for a digit that does not look like it", right, typed, p)
			}
			sum += p
		}
		if most := 1.0; sum > most+1e-12 || len(misread[right]) > 0 && sum < most-1e-12 {
			t.Errorf("%d is taken for others with %.6g in all", right, sum)
		}
	}
}

// TestSubstitutedDigit: 11.996 typed for 11.596, two digits that do not look alike. A zero that moved by
// 400 scale intervals is as rare: neither leaves the other out, and what should stand there is said.
func TestSubstitutedDigit(t *testing.T) {
	const air, right, typed = 12.443, 11.596, 11.996
	rho := 1/(air-right)*air*(water-moist) + moist
	for n := range 2 {
		w := simple(air, typed)
		w.Air, w.Interval, w.AirS, w.ImmersedS = []Reading{{Gram: air, Digit: 0.001}}, 0.001, 0.001, 0.002
		w.Immersed = []Reading{{Gram: typed, Digit: 0.001}}
		if n == 1 {
			w.Immersed = append(w.Immersed, Reading{Gram: right, Digit: 0.001})
		}
		var e Engine
		v := e.Judge(w, gold(rho))
		if e.Excluded(Digit, 1/rho, 1/rho) {
			t.Errorf("%d immersions: the digit is excluded", n+1)
		}
		if r := v.Reread[Digit]; !r.Found || math.Abs(r.Instead-right) > 1e-9 {
			t.Errorf("%d immersions: read as %+v, want %g", n+1, r, right)
		}
		if v.Posterior[Digit] < 0.3*v.Posterior[Zero] {
			t.Errorf("%d immersions: digit %.3g, zero %.3g", n+1, v.Posterior[Digit], v.Posterior[Zero])
		}
	}
}

// TestFirstLiquidIsAsGoodAsItsProof: a second liquid is held against the first with what the check piece
// leaves open of it, not with what was stated.
func TestFirstLiquidIsAsGoodAsItsProof(t *testing.T) {
	b := 10 * (water - moist) / (15.4 - moist)
	w := simple(10, 10-b)
	w.LiquidU = 0.002
	w.Another = &Another{Gram: 10 - b*0.8*1.004, Rho: 0.8 * (water - moist), RhoU: 1e-5, GramU: 1e-5, Wrong: 0.05}
	var e Engine
	e.Judge(w, gold(15.4))
	_, _, stated, _ := e.BothLiquids()
	w.Check = &Check{U: 1e-4, LostG: 5}
	e.Judge(w, gold(15.4))
	_, _, proved, _ := e.BothLiquids()
	// 0.4 % apart: of 0.2 %, and of 0.01 % beside the scatter of 0.3 mg on 0.65 g, 0.046 %, and 0.01 %.
	if math.Abs(stated-0.4/0.205) > 0.05 || math.Abs(proved-0.4/0.0485) > 0.3 {
		t.Errorf("%.2f standard uncertainties apart as stated, %.2f as proved", stated, proved)
	}
}

// TestDropOnALargeItem: four milligrams on an item of 300 g, dry at the intake and at the end. A drop stays
// on a large item as on a small one.
func TestDropOnALargeItem(t *testing.T) {
	const mass, rho = 300.0, 15.4
	b := mass * (water - moist) / (rho - moist)
	w := simple(mass+0.004, mass-b)
	w.Immersed = append(w.Immersed, w.Immersed[0])
	w.Closing, w.IntakeG, w.IntakeDigit = []Reading{{Gram: mass}}, mass, 0.0001
	var e Engine
	if p := e.Judge(w, gold(rho)).Posterior; p[Wet] < 0.5 {
		t.Errorf("wet %.3g, %v", p[Wet], p)
	}
}

// TestCaliperPartsItemFromWeighing: an item reads too light, by a bubble or because it is hollow. A caliper
// that finds the volume of the claim speaks for the bubble, one that finds the volume weighed for the item.
func TestCaliperPartsItemFromWeighing(t *testing.T) {
	b := 10 * (water - moist) / (15.4 - moist)
	share := func(found float64) (weighing, item float64) {
		w := simple(10, 10-b*1.15)
		if found > 0 {
			w.Volume = func(v, air float64) float64 {
				z := (v*air/found - 1) / 0.02
				return math.Max(math.Exp(-z*z/2), 0.05)
			}
		}
		var e Engine
		p := e.Judge(w, gold(15.4)).Posterior
		return p[Bubble] + p[Zero] + p[Touching] + p[Liquid] + p[Hanger], p[Hollow] + p[Stones] + p[Core] + p[LowerStandard]
	}
	weighing, item := share(0)
	ofClaim, itemOfClaim := share(10 / 15.4)
	asWeighed, itemAsWeighed := share(10 / 15.4 * 1.15)
	if !(ofClaim/itemOfClaim > 5*weighing/item) || !(asWeighed/itemAsWeighed < 0.2*weighing/item) {
		t.Errorf("weighing against item %.3g without a caliper, %.3g with the volume of the claim, %.3g with that weighed", weighing/item, ofClaim/itemOfClaim, asWeighed/itemAsWeighed)
	}
}

// TestWetAtTheEnd: an item that comes out of the liquid and is not dried is heavier at the end. No other
// item lies there, and no zero moved.
func TestWetAtTheEnd(t *testing.T) {
	const mass, rho = 12.4, 15.4
	b := mass * 0.9980 / rho
	w := simple(mass, mass-b)
	w.Immersed = append(w.Immersed, w.Immersed[0])
	w.Closing = []Reading{{Gram: mass + 0.037}}
	w.Check = &Check{U: 1e-4, LostG: 5}
	var e Engine
	v := e.Judge(w, gold(rho))
	for k := range Kinds {
		if k != Wet && v.Posterior[k] >= v.Posterior[Wet] {
			t.Errorf("%s has %.3g, wet has %.3g", k.Key(), v.Posterior[k], v.Posterior[Wet])
		}
	}
	if size, ok := e.Needed(Wet, 1/rho); !ok || math.Abs(size-0.037) > 1e-9 {
		t.Errorf("a film of %g g, %v; want 0.037 g", size, ok)
	}
}
