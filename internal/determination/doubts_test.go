package determination

import (
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"wreath/alloy"
	"wreath/fault"
)

// named finds the doubt that names a fault, alone or within its group.
func named(a *Answer, key string) *Doubt {
	for i, d := range a.Doubts {
		if d.Key == key || slices.Contains(d.Group, key) {
			return &a.Doubts[i]
		}
	}
	return nil
}

// TestDoubts: invented weighings of one fault each. The density is that of yellow gold 750 of the
// mixing model (row S17 of the alloy tests); what is tested is that the fault is named, how large,
// and that the finding waits for it.
func TestDoubts(t *testing.T) {
	for _, c := range []struct {
		name, key, result string
		change            func(*Draft)
		expect            string // found in the sentence, the settling act or the next step
	}{
		{"a bubble once", "bubble", "undecided", func(d *Draft) { d.LiquidG[0].Gram -= 0.0053 }, "Brush"},
		{"touching once", "touching", "undecided", func(d *Draft) { d.LiquidG[0].Gram -= 0.9 }, "vessel"},
		{"zero moved", "zero", "undecided", func(d *Draft) { d.LiquidG[1].Gram += 0.012 }, "zero"},
		{"hanger of 0.08 g not tared", "hanger", "undecided", func(d *Draft) {
			d.LiquidG[0].Gram += 0.875 * 0.08
			d.LiquidG[1].Gram += 0.875 * 0.08
			d.Liquid.Proof.LiquidG[0].Gram += 0.875 * 0.08
			d.Hanger.MassG = new(0.08)
		}, "Tare the empty hanger"},
		{"wet at first", "wet", "undecided", func(d *Draft) { d.AirG[0].Gram += 0.018 }, "Dry"},
		{"pores", "pores", "undecided", func(d *Draft) {
			d.LiquidG[0].Gram -= 0.0062
			d.LiquidG[1].Gram -= 0.0031
			d.ClosingAirG[0].Gram += 0.006
		}, "uptake"},
		{"two digits exchanged", "digit", "undecided", func(d *Draft) { d.LiquidG[0] = slipped(d.LiquidG[0]) }, "Typed is"},
		{"air in carat", "unit", "undecided", func(d *Draft) {
			d.LiquidG[0].Gram /= 1.55517384
			d.LiquidG[1].Gram /= 1.55517384
		}, "dwt"},
		{"displaced mass typed", "displaced", "undecided", func(d *Draft) {
			for i := range d.LiquidG {
				d.LiquidG[i].Gram = d.AirG[0].Gram - d.LiquidG[i].Gram
			}
		}, "in place of the immersed reading"},
		{"another item", "wrong-item", "undecided", func(d *Draft) { d.Item = &Item{IntakeMassG: new(11.2)} }, "At the intake"},
		{"hollow of 6 %, looked over", "hollow", "undecided", func(d *Draft) {
			d.Item = &Item{Stones: new(false), Hollow: new(true)}
			for i := range d.LiquidG {
				d.LiquidG[i].Gram -= 0.06 * (d.AirG[0].Gram - d.LiquidG[i].Gram)
			}
		}, "hollow"},
	} {
		d := weighed(8, 15.44)
		d.Claim = gold(750, "gold-yellow")
		d.Hanger.WireDiameterMM = new(0.1)
		c.change(d)
		a := evaluated(t, d)
		if a.Clean == nil || *a.Clean > doubtful {
			t.Errorf("%s: nothing is in doubt (%v)", c.name, a.Clean)
			continue
		}
		found := named(a, c.key)
		if found == nil || a.Doubts[0].Key != c.key {
			t.Errorf("%s: named first is %s; %v", c.name, a.Doubts[0].Key, keysOf(a.Doubts))
		}
		if found == nil {
			continue
		}
		if a.Finding.Result != c.result {
			t.Errorf("%s: the finding is %s", c.name, a.Finding.Result)
		}
		said := found.Sentence + found.Settles + found.Cause
		if a.Next != nil {
			said += a.Next.Act + a.Next.Expect
		}
		if !strings.Contains(said, c.expect) {
			t.Errorf("%s: said %q, want …%s…", c.name, said, c.expect)
		}
		if a.Next == nil {
			t.Errorf("%s: no next step", c.name)
		}
	}
}

// slipped exchanges the second and the third decimal.
func slipped(r Reading) Reading {
	units := int(math.Round(r.Gram * 1e4))
	hundredths, thousandths := units/100%10, units/10%10
	units += (thousandths-hundredths)*100 + (hundredths-thousandths)*10
	r.Gram = float64(units) / 1e4
	return r
}

func keysOf(doubts []Doubt) (keys []string) {
	for _, d := range doubts {
		keys = append(keys, d.Key)
	}
	return keys
}

// TestOneImmersionSaysOneLine: what one immersion can't tell apart is one line with its members.
func TestOneImmersionSaysOneLine(t *testing.T) {
	d := weighed(8, 14.6)
	d.Claim = gold(750, "gold-yellow")
	d.LiquidG, d.ClosingAirG, d.Liquid.Proof = d.LiquidG[:1], nil, nil
	a := evaluated(t, d)
	first := a.Doubts[0]
	for _, key := range []string{"hollow", "stones", "bubble", "hanger", "lower-standard"} {
		if !slices.Contains(first.Group, key) {
			t.Errorf("%s is not in the first line: %v", key, first.Group)
		}
	}
	if !strings.Contains(first.Sentence, "can't tell them apart yet") {
		t.Errorf("said %q", first.Sentence)
	}
}

// TestSilence: where nothing is odd no doubt is shown, and a bubble on a bar of 12 kg is nothing
// that can be seen.
func TestSilence(t *testing.T) {
	sound := weighed(8, 15.44)
	sound.Claim = gold(750, "gold-yellow")
	bar := weighed(12000, 19.29)
	bar.Claim = gold(999, "gold-fine")
	d, s := 0.1, 0.1
	bar.Balance.ResolutionG, bar.Balance.RepeatabilityG, bar.Balance.RepeatabilityLiquidG = &d, &s, &s
	for _, readings := range [][]Reading{bar.AirG, bar.LiquidG, bar.ClosingAirG} {
		for i := range readings {
			readings[i].Gram = math.Round(readings[i].Gram*10) / 10
		}
	}
	bar.Liquid.Proof = nil
	bubble := *bar
	bubble.LiquidG = slices.Clone(bar.LiquidG)
	for i := range bubble.LiquidG {
		bubble.LiquidG[i].Gram -= 0.002 // 1.6 mm
	}
	unclaimed := weighed(8, 15.44)
	yellow, ok := alloy.FamilyByKey("gold-yellow")
	if !ok {
		t.Fatal("no yellow gold")
	}
	low, high, ok := yellow.Band(0.8865, false) // no standard is near
	if !ok {
		t.Fatal("no yellow gold of 888")
	}
	scrap := weighed(8, 2/(low+high))
	scrap.Claim, scrap.LiquidG, scrap.AirG, scrap.ClosingAirG, scrap.Liquid.Proof = &Claim{Metal: "gold"}, scrap.LiquidG[:1], scrap.AirG[:1], nil, nil
	for name, draft := range map[string]*Draft{"gold of no standard": scrap, "sound": sound, "bar": bar, "bubble on a bar": &bubble, "nothing claimed": unclaimed} {
		a := evaluated(t, draft)
		if len(a.Doubts) > 0 || len(a.Excluded) > 0 || a.Clean == nil || *a.Clean < 0.7 {
			t.Errorf("%s: clean %v, doubts %v", name, *a.Clean, keysOf(a.Doubts))
		}
	}
}

// TestRefusedReadingsAreReread: where no density follows, the hint says what may have been meant,
// and nothing is corrected.
func TestRefusedReadingsAreReread(t *testing.T) {
	d := weighed(8, 15.44)
	d.Claim = gold(750, "gold-yellow")
	d.ClosingAirG = nil
	d.AirG, d.LiquidG = d.LiquidG, []Reading{d.AirG[0], d.AirG[0]}
	_, err := Evaluate(d, Options{})
	if err == nil || !strings.Contains(err.(*InputError).Hint, "exchanged would give 15.4") {
		t.Errorf("error %v", err)
	}
	doubts := Reread(d)
	if len(doubts) == 0 || doubts[0].Key != "swapped" || doubts[0].Proposal == nil || math.Abs(doubts[0].Proposal.DensityKgM3-15440) > 30 {
		t.Errorf("reread as %+v", doubts)
	}
}

// TestExplainOrExclude: a fault whose size is beyond what can be is excluded, with that size.
func TestExplainOrExclude(t *testing.T) {
	d := weighed(8, 13.8)
	d.Claim = gold(750, "gold-yellow")
	a := evaluated(t, d)
	for _, key := range []string{"temperature", "wire"} {
		i := slices.IndexFunc(a.Excluded, func(d Doubt) bool { return d.Key == key })
		if i < 0 || a.Excluded[i].Verdict != "excluded" {
			t.Errorf("%s is not excluded: %v", key, keysOf(a.Excluded))
		}
	}
	i := slices.IndexFunc(a.Excluded, func(d Doubt) bool { return d.Key == "temperature" })
	if i < 0 {
		return
	}
	// It would take 560 K; what is said is how far a thermometer can be off: three standard deviations
	// of 3 K, and a tenth more.
	if s := a.Excluded[i].Size; s == nil || s.ForClaim != nil || math.Abs(s.High-9.27) > 0.01 || !strings.Contains(a.Excluded[i].Sentence, "-9.27 K to 9.27 K") {
		t.Errorf("temperature: %+v, %q", s, a.Excluded[i].Sentence)
	}
}

// TestSizesArePossible: over weighings that are off by anything to either side, no size is said that lies
// beyond what can be, none has an exponent, and every chance is a whole percent.
func TestSizesArePossible(t *testing.T) {
	exponent := regexp.MustCompile(`[0-9]e[+-][0-9]`)
	tenths := regexp.MustCompile(`Chance [0-9]+[.,]`)
	sizes := 0
	for _, off := range []float64{-3, -0.9, -0.2, -0.05, -0.01, -0.003, 0.003, 0.01, 0.05, 0.12, 0.25} {
		for n := 1; n <= 2; n++ {
			d := weighed(8, 15.44)
			d.Claim = gold(750, "gold-yellow")
			d.LiquidG = d.LiquidG[:n]
			d.LiquidG[0].Gram += off
			a, err := Evaluate(d, Options{})
			if err != nil {
				continue // no density follows
			}
			for _, doubt := range append(a.Doubts, a.Excluded...) {
				if said := doubt.Sentence; exponent.MatchString(said) || tenths.MatchString(said) {
					t.Errorf("off by %g g, %s: %q", off, doubt.Key, said)
				}
				s := doubt.Size
				if s == nil {
					continue
				}
				for _, x := range []*float64{s.ForClaim, s.ForNearest} {
					if x == nil {
						continue
					}
					sizes++
					if *x < s.Low || *x > s.High || exponent.MatchString(s.Figures(*x)) {
						t.Errorf("off by %g g, %s: %g (%s) of %g to %g", off, doubt.Key, *x, s.Figures(*x), s.Low, s.High)
					}
				}
			}
		}
	}
	if sizes < 20 {
		t.Errorf("only %d sizes were said", sizes)
	}
	for x, want := range map[float64]string{1234567: "1230000 mg", 0.00001234: "0.0000123 mg", -220.4: "-220 mg", 0: "0 mg"} {
		if got := (&FaultSize{Unit: "mg"}).Figures(x); got != want {
			t.Errorf("%g is written %q, want %q", x, got, want)
		}
	}
}

// TestAtHand: acts that need what is not at hand are not proposed; words that no act knows are
// refused.
func TestAtHand(t *testing.T) {
	d := weighed(8, 13.26)
	d.Claim = gold(750, "gold-yellow")
	proposes := func(key string) bool {
		a := evaluated(t, d)
		return a.Next != nil && (a.Next.Key == key || slices.ContainsFunc(a.Next.Alternatives, func(s Step) bool { return s.Key == key }))
	}
	if proposes("xrf") {
		t.Error("an instrument that is not there is proposed")
	}
	d.AtHand = []string{"xrf"}
	if !proposes("xrf") {
		t.Error("the instrument that would tell is not proposed")
	}
	d.AtHand = []string{"x-ray"}
	if _, err := Evaluate(d, Options{}); err == nil || err.(*InputError).Path != "at_hand[0]" {
		t.Errorf("error %v", err)
	}
}

// TestInformation: laws of the expected drop of uncertainty.
func TestInformation(t *testing.T) {
	for _, a := range Actions() {
		if a.Act == "" || !(a.Minutes > 0) || !(a.Reliability > 1/float64(len(a.Tells))) || a.Reliability >= 1 || a.Source == "" {
			t.Errorf("%+v", a)
		}
		var sure, unsure [fault.Kinds]float64
		sure[fault.Clean] = 1
		if got := a.information(&sure); got > 1e-12 {
			t.Errorf("%s tells %g bits of what is known", a.Key, got)
		}
		for k := range unsure {
			unsure[k] = 1 / float64(fault.Kinds)
		}
		if got, most := a.information(&unsure), math.Log2(float64(len(a.Tells))); !(got > 0 && got <= most) {
			t.Errorf("%s tells %g bits, it can tell %g", a.Key, got, most)
		}
	}
}

// TestActsOfABench: the next step goes by what acts take at this bench, not by the table alone.
func TestActsOfABench(t *testing.T) {
	d := weighed(8, 13.26)
	d.Claim = gold(750, "gold-yellow")
	a := evaluated(t, d)
	if a.Next == nil || len(a.Next.Alternatives) == 0 {
		t.Fatalf("no next step, or no other: %+v", a.Next)
	}
	first, second := a.Next.Key, a.Next.Alternatives[0].Key
	long, short := 600.0, 0.25
	d.Acts = []ActCost{{Key: first, Minutes: &long}, {Key: second, Minutes: &short}}
	if a = evaluated(t, d); a.Next.Key != second || a.Next.Minutes != short {
		t.Errorf("with %s at ten hours the next step is %s, %g min; want %s, %g min", first, a.Next.Key, a.Next.Minutes, second, short)
	}
	for path, acts := range map[string][]ActCost{
		"acts[0].key":     {{Minutes: &long}},
		"acts[1].key":     {{Key: first}, {Key: first}},
		"acts[0].minutes": {{Key: first, Minutes: ptrTo(-1)}},
		"acts[0].cost":    {{Key: first, Cost: ptrTo(math.NaN())}},
	} {
		d.Acts = acts
		if _, err := Evaluate(d, Options{}); err == nil || err.(*InputError).Path != path {
			t.Errorf("%s: %v", path, err)
		}
	}
	d.Acts = []ActCost{{Key: "re-imerse"}}
	if _, err := Evaluate(d, Options{}); err == nil || !strings.Contains(err.(*InputError).Hint, "re-immerse") {
		t.Errorf("a mistyped act: %v", err)
	}
}
