package determination

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
)

// TestPartsAreJudgedByTheirReadings: the density of an item of parts is that of nothing, but its readings
// can disagree with each other, with the closing weighing, with the check piece and with the mass at the
// intake. Nothing is said of faults that show in the density alone, and that is said. Invented readings.
func TestPartsAreJudgedByTheirReadings(t *testing.T) {
	const mass = 5.1
	kinds := map[string]string{
		"stones": `"stones_set": {"species": "diamond", "carat_each": 0.5, "carat_u_each": 0.01}`,
		"layers": `"layers": {"core": "copper", "plate": "gold"}`,
		"quartz": `"quartz": {}`,
		"heap":   `"heap": true`,
	}
	densities := map[string]float64{"stones": mass / (5/15.40 + 0.1/3.52), "layers": 12, "quartz": 8, "heap": 14.26}
	for kind, item := range kinds {
		sound := func() *Draft {
			return rounded(mixedItem(t, mass, densities[kind], claims750+`, "item": {`+item+`}`))
		}
		a := answered(t, sound())
		if a.Clean != nil || !strings.Contains(a.NotJudged, "density alone") {
			t.Errorf("%s: clean %v, %q", kind, a.Clean, a.NotJudged)
		}
		for _, d := range a.Doubts {
			if d.Key != "" {
				t.Errorf("%s, weighed soundly: %+v", kind, d)
			}
		}
		for name, c := range map[string]struct {
			spoil func(d *Draft)
			key   string
		}{
			"one immersion is off":       {func(d *Draft) { d.LiquidG[1].Gram -= 0.02 }, ""},
			"a digit":                    {func(d *Draft) { d.LiquidG[1].Gram -= 0.27; d.LiquidG[1].Interval = 0.0001 }, ""},
			"heavier at the end":         {func(d *Draft) { d.ClosingAirG = []Reading{{Gram: d.AirG[0].Gram + 0.0123, Interval: 0.0001}} }, ""},
			"the hanger was not at zero": {func(d *Draft) { d.ClosingZeroG = []Reading{{Gram: 0.05, Interval: 0.0001}} }, ""},
			"another mass at the intake": {func(d *Draft) { d.Item.IntakeMassG = ptrTo(5.6123) }, "wrong-item"},
			"another liquid": {func(d *Draft) {
				rho := 7930.0
				d.Liquid.Proof = &Proof{AirG: []Reading{{Gram: 39.65, Interval: 0.0001}}, LiquidG: []Reading{{Gram: 34.80, Interval: 0.0001}}, DensityKgM3: &rho, DensityUKgM3: ptrTo(0.4)}
			}, ""},
		} {
			d := sound()
			c.spoil(d)
			a := answered(t, d)
			key, suspended := "", false
			for _, doubt := range a.Doubts {
				if doubt.Key != "" && key == "" {
					key = doubt.Key
				}
				suspended = suspended || doubt.Key != "" && doubt.Suspends
				if doubt.Size != nil || strings.Contains(doubt.Sign, "lighter than") || strings.Contains(doubt.Sign, "denser than") {
					t.Errorf("%s, %s: says something of the density: %+v", kind, name, doubt)
				}
			}
			if key == "" || c.key != "" && key != c.key || !suspended {
				t.Errorf("%s, %s: first doubt %q, held back %t: %+v", kind, name, key, suspended, a.Doubts)
			}
			if a.Next == nil || a.Next.Key == "weigh-apart" {
				t.Errorf("%s, %s: next %+v", kind, name, a.Next)
			}
		}
	}
}

// TestNextOfParts names what is missing of an item of parts, and then what settles what it is made of.
func TestNextOfParts(t *testing.T) {
	item := `"item": {"layers": {"core": "copper", "plate": "gold"}}`
	d := rounded(mixedItem(t, 5.1, 12, claims750+`, `+item))
	d.HouseRule = ""
	for _, want := range []string{"re-immerse", "air-again", "check-piece"} {
		switch want {
		case "re-immerse":
			d.LiquidG = d.LiquidG[:1]
		case "air-again":
			d.LiquidG = append(d.LiquidG, d.LiquidG[0])
		case "check-piece":
			d.ClosingAirG = d.AirG[:1]
		}
		if a := answered(t, d); a.Next == nil || a.Next.Key != want {
			t.Errorf("want %s, got %+v; missing %q", want, a.Next, a.Finding.Missing)
		}
	}
	d.HouseRule = "two-immersions"
	if a := answered(t, d); a.Next == nil || a.Next.Key != "weigh-apart" || a.Next.Act != "Cut or file a spot that does not show, or measure what looks through the plate." {
		t.Errorf("nothing is missing: %+v", a.Next)
	}
	// A work sheet that was used for something else before must not show in what is expected.
	answered(t, ring(t))
	d.HouseRule = ""
	d.ClosingAirG = nil
	if a := answered(t, d); !strings.HasPrefix(a.Next.Expect, fmt.Sprintf("%.4f g", d.AirG[0].Gram)) {
		t.Errorf("expects %q of an item of %g g", a.Next.Expect, d.AirG[0].Gram)
	}
	pycnometer, err := Decode([]byte(`{"method": "pycnometer", "claim": {"metal": "gold", "fineness": 750}, "empty_g": 18.1234, "with_sample_g": 33.5234, "with_sample_and_liquid_g": 42.5, "liquid_only_g": 28.1, "liquid": {"kind": "water", "temperature_c": 20}}`))
	if err != nil {
		t.Fatal(err)
	}
	if a := answered(t, pycnometer); len(a.Finding.Missing) == 0 || a.Next == nil || a.Next.Expect != "" || !strings.Contains(a.Next.Act, "pycnometer") || a.NotJudged == "" {
		t.Errorf("a pycnometer: next %+v, not judged %q", a.Next, a.NotJudged)
	}
}

// TestNextIsNotDoneTwice: an act that was done, and agreed, is not proposed again.
func TestNextIsNotDoneTwice(t *testing.T) {
	proposes := func(a *Answer, key string) bool {
		if a.Next == nil {
			return false
		}
		if a.Next.Key == key {
			return true
		}
		for _, o := range a.Next.Alternatives {
			if o.Key == key {
				return true
			}
		}
		return false
	}
	for key, c := range map[string]struct{ before, do func(d *Draft) }{
		"air-again": {func(d *Draft) { d.LiquidG[1].Gram -= 0.02; d.ClosingAirG = nil }, func(d *Draft) { d.ClosingAirG = d.AirG[:1] }},
		"read-again": {func(d *Draft) { d.LiquidG[1] = Reading{Gram: 6.3428, Interval: 0.0001, Text: "6.3428"} },
			func(d *Draft) { d.Done = []Done{{Act: "read-again", Found: new(false)}} }},
		"read-temperature": {func(d *Draft) { d.Liquid.TemperatureC = ptrTo(15) }, func(d *Draft) { d.Done = []Done{{Act: "thermometer", TemperatureC: ptrTo(15)}} }},
		"tare-hanger":      {func(d *Draft) { d.LiquidG[1].Gram += 0.02 }, func(d *Draft) { d.ClosingZeroG = []Reading{{}} }},
	} {
		d := ring(t)
		c.before(d)
		if a := answered(t, d); !proposes(a, key) {
			t.Errorf("%s is not proposed at first: %+v", key, a.Next)
		}
		c.do(d)
		if a := answered(t, d); proposes(a, key) {
			t.Errorf("%s was done, and is proposed again: %+v", key, a.Next)
		}
	}
	d := ring(t)
	d.Liquid.Proof.LiquidG[0].Gram += 0.14 // the liquid is not what is stated
	a := answered(t, d)
	if proposes(a, "check-piece") || !proposes(a, "fresh-liquid") {
		t.Errorf("the check piece disagreed: %+v", a.Next)
	}
	for _, doubt := range a.Doubts {
		if doubt.Key == "liquid" && strings.HasPrefix(doubt.Settles, "Weigh the check piece") {
			t.Errorf("the check piece was weighed: %+v", doubt)
		}
	}
}

// TestNextOfType: a coin of the wrong size or mass is measured again, not brushed.
func TestNextOfType(t *testing.T) {
	sovereign := func(change func(d *Draft)) *Answer {
		t.Helper()
		d := example(t, "sovereign")
		change(d)
		return answered(t, d)
	}
	wide := sovereign(func(d *Draft) {
		for i := range d.Evidence {
			if d.Evidence[i].DiameterMM != nil {
				d.Evidence[i].DiameterMM = ptrTo(23.4)
			}
		}
	})
	if wide.Next == nil || wide.Next.Key != "caliper" || !strings.Contains(wide.Next.Act, "diameter") || !strings.Contains(wide.Next.Expect, "mm") {
		t.Errorf("the diameter is wrong: %+v", wide.Next)
	}
	light := sovereign(func(d *Draft) {
		for _, set := range [][]Reading{d.AirG, d.LiquidG, d.ClosingAirG} {
			for i := range set {
				set[i].Gram *= 0.9
			}
		}
	})
	if light.Next == nil || light.Next.Key != "look-over" || !strings.Contains(light.Next.Expect, " g.") {
		t.Errorf("the mass is wrong: %+v", light.Next)
	}
}

// TestNextOfStone: density never names a stone, so its refraction comes next; at once where a refractometer
// is at hand, else after what the house rule asks for.
func TestNextOfStone(t *testing.T) {
	d := example(t, "stone")
	d.HouseRule = ""
	d.LiquidG = d.LiquidG[:1]
	if a := answered(t, d); a.Next == nil || a.Next.Key != "re-immerse" {
		t.Errorf("no refractometer, one immersion: %+v", a.Next)
	}
	d.AtHand = []string{"refractometer"}
	if a := answered(t, d); a.Next == nil || a.Next.Key != "refraction" {
		t.Errorf("a refractometer: %+v", a.Next)
	}
	read := example(t, "stone-refraction")
	read.AtHand = []string{"refractometer"}
	if a := answered(t, read); a.Next != nil && a.Next.Key == "refraction" {
		t.Errorf("its index was read: %+v", a.Next)
	}
}

// example is the draft of one of the examples.
func example(t *testing.T, name string) *Draft {
	t.Helper()
	data, err := os.ReadFile("../../examples/" + name + ".json")
	if err != nil {
		t.Fatal(err)
	}
	d, err := Decode(data)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// rounded is a draft with its readings as a display of 0.1 mg shows them.
func rounded(d *Draft) *Draft {
	for _, set := range [][]Reading{d.AirG, d.LiquidG} {
		for i := range set {
			set[i] = Reading{Gram: math.Round(set[i].Gram*1e4) / 1e4, Interval: 1e-4}
		}
	}
	return d
}
