package determination

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"wreath/composite"
	"wreath/gem"
	"wreath/uncertainty"
)

// mixedItem is the draft of an item with a true mass in g and a true density at 20 °C in g/cm³, on a
// fine balance.
func mixedItem(t testing.TB, mass, rho float64, rest string) *Draft {
	t.Helper()
	volume := mass / rho
	liquid, air := 0.9982054, 0.0012
	inAir, immersed := (mass-air*volume)/0.99985, (mass-liquid*volume-3.5e-5*(liquid-air)*volume)/0.99985
	d, err := Decode(fmt.Appendf(nil, `{"arrangement": "hanging", "air_g": [%.6f, %.6f], "liquid_g": [%.6f, %.6f],
		"liquid": {"kind": "water", "temperature_c": 20, "temperature_u_c": 0.1}, "air": {"density_kg_m3": 1.2, "density_u_kg_m3": 0.01},
		"house_rule": "two-immersions", "balance": {"resolution_g": 0.0001, "repeatability_g": 0.0001, "repeatability_liquid_g": 0.0003}, %s}`,
		inAir, inAir, immersed, immersed, rest))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func answered(t testing.TB, d *Draft) *Answer {
	t.Helper()
	a, err := Evaluate(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

const claims750 = `"claim": {"metal": "gold", "family": "gold-yellow", "fineness": 750}`

// TestMetalWithoutItsStones weighs a ring of 750 gold with a diamond: as it is, it reads like a lower
// fineness and is held back; with the stone's size it is judged by its metal, less sharply.
func TestMetalWithoutItsStones(t *testing.T) {
	const metal, carat = 5.0, 0.5
	mass := metal + 0.2*carat
	rho := mass / (metal/15.40 + 0.2*carat/3.52)
	plain := answered(t, mixedItem(t, mass, rho, claims750+`, "item": {"stones": true, "colour": "yellow"}`))
	if plain.Finding.Result != "undecided" || plain.Composite != nil {
		t.Errorf("stones of no size: %+v, %+v", plain.Finding, plain.Composite)
	}
	a := answered(t, mixedItem(t, mass, rho, claims750+`, "item": {"stones": true, "colour": "yellow", "stones_set": {"species": "diamond", "carat_each": 0.5, "carat_u_each": 0.01}}`))
	if a.Composite == nil || a.Composite.Kind != "stones" || len(a.Composite.Parts) != 2 {
		t.Fatalf("%+v", a.Composite)
	}
	stone, rest := a.Composite.Parts[0], a.Composite.Parts[1]
	if math.Abs(stone.MassG-0.1) > 1e-9 || math.Abs(rest.MassG-metal) > 0.001 || math.Abs(rest.DensityKgM3-15400) > 60 {
		t.Errorf("parts %+v", a.Composite.Parts)
	}
	if math.Abs(stone.MassG+rest.MassG-a.TrueMassG) > 1e-9 || math.Abs(stone.VolumeCm3+rest.VolumeCm3-a.TrueMassG*1000/a.Density20C.KgM3) > 1e-9 {
		t.Errorf("the parts %+v are not the whole (%g g)", a.Composite.Parts, a.TrueMassG)
	}
	if a.Finding.Result != "met" {
		t.Errorf("finding %+v", a.Finding)
	}
	if wide, sharp := rest.VolumeUCm3/rest.MassG, a.Density20C.UKgM3/(a.Density20C.KgM3*a.Density20C.KgM3)*1000; wide <= sharp {
		t.Errorf("u of the metal %g, of the whole %g cm³/g", wide, sharp)
	}
	low := answered(t, mixedItem(t, mass, mass/(metal/13.3+0.2*carat/3.52), claims750+`, "item": {"stones": true, "colour": "yellow", "stones_set": {"species": "diamond", "carat_each": 0.5, "carat_u_each": 0.01}}`))
	if low.Finding.Result != "not met" {
		t.Errorf("585 gold with a diamond, claimed 750: %+v", low.Finding)
	}
}

// TestStonesCoverage draws rings with round stones whose sizes are measured with an error, and counts how
// often the interval of the metal holds the truth: 95 ± 2 %.
func TestStonesCoverage(t *testing.T) {
	r := rand.New(rand.NewPCG(20261127, 17))
	const trials = 2000
	held := 0
	for range trials {
		species, _ := gem.ByKey([]string{"diamond", "corundum", "cubic-zirconia"}[r.IntN(3)])
		low, high := species.Low.GramPerCm3(), species.High.GramPerCm3()
		n, d, metal, rho := 1+r.IntN(5), 2+3*r.Float64(), 3+5*r.Float64(), 13+3*r.Float64()
		depth := d * (0.61 + 0.02*r.NormFloat64())
		volume, shape := composite.Brilliant(d, depth)
		volume *= float64(n) * (1 + shape*r.NormFloat64())
		stones := volume * (low + (high-low)*r.Float64())
		mass := metal + stones
		draft := mixedItem(t, mass, mass/(metal/rho+volume), fmt.Sprintf(`"item": {"stones": true, "stones_set": {"species": %q, "number": %d, "diameter_mm": %.4f, "depth_mm": %.4f}}`,
			species.Key, n, d+0.05*r.NormFloat64(), depth+0.05*r.NormFloat64()))
		a, err := Evaluate(draft, Options{})
		if err != nil {
			t.Fatal(err)
		}
		p := a.Composite.Parts[len(a.Composite.Parts)-1]
		v, u := p.VolumeCm3/p.MassG, p.VolumeUCm3/p.MassG
		if math.Abs(v-1/rho) <= uncertainty.NormalQuantile(0.975)*u {
			held++
		}
	}
	if share := float64(held) / trials; share < 0.93 || share > 0.97 {
		t.Errorf("the interval of the metal holds the truth in %.1f %% of %d, want 95 ± 2 %%", 100*share, trials)
	}
}

// TestStonesOfUnknownSize solves for the stones where the metal is claimed, and gives the curve where it
// is not.
func TestStonesOfUnknownSize(t *testing.T) {
	const metal, stones = 5.0, 0.2
	mass := metal + stones
	rho := mass / (metal/15.40 + stones/3.52)
	a := answered(t, mixedItem(t, mass, rho, claims750+`, "item": {"stones": true, "colour": "yellow", "stones_set": {"species": "diamond"}}`))
	p := a.Composite.Parts[0]
	if math.Abs(p.MassG-stones) > 2*p.MassUG || p.MassUG > stones/2 || a.Finding.Result != "undecided" {
		t.Errorf("%+v, finding %s", p, a.Finding.Result)
	}
	a = answered(t, mixedItem(t, mass, rho, `"item": {"stones": true, "stones_set": {"species": "diamond"}}`))
	curve := a.Composite.Curve
	if len(curve) < 3 || math.Abs(curve[0].MetalDensityKgM3-1000*rho) > 3 {
		t.Fatalf("curve %+v of %g", curve, rho)
	}
	for i := 1; i < len(curve); i++ {
		if curve[i].MetalDensityKgM3 <= curve[i-1].MetalDensityKgM3 || curve[i].StonesCt <= curve[i-1].StonesCt {
			t.Errorf("point %d of the curve: %+v after %+v", i, curve[i], curve[i-1])
		}
	}
	dense := answered(t, mixedItem(t, mass, 17.5, claims750+`, "item": {"stones": true, "colour": "yellow", "stones_set": {"species": "diamond"}}`))
	if dense.Composite.Refused == "" || len(dense.Composite.Parts) > 0 {
		t.Errorf("denser than the claim: %+v", dense.Composite)
	}
}

// TestOtherComposites weighs exact mixtures and takes them apart.
func TestOtherComposites(t *testing.T) {
	share := func(a *Answer, part int) float64 { return a.Composite.Parts[part].Share }
	// 11.7 % of void makes 750 gold read as 585.
	hollow := answered(t, mixedItem(t, 8, 15.3957*(1-0.117), claims750+`, "item": {"hollow": true, "colour": "yellow"}`))
	if hollow.Composite.Kind != "hollow" || math.Abs(share(hollow, 1)-0.117) > 0.002 {
		t.Errorf("hollow: %+v", hollow.Composite)
	}
	if dense := answered(t, mixedItem(t, 8, 17.8, claims750+`, "item": {"hollow": true, "colour": "yellow"}`)); dense.Composite.Refused == "" {
		t.Errorf("denser than its claim: %+v", dense.Composite)
	}

	// 3 % of gold on silver: the plate's thickness on 20 cm².
	const plate, core = 0.3, 9.7
	d := mixedItem(t, plate+core, (plate+core)/(plate/19.27+core/10.49), `"item": {"layers": {"core": "silver", "plate": "gold 999", "area_cm2": 20}}`)
	layers := answered(t, d)
	want := 1e4 * plate / 19.27 / 20
	if p := layers.Composite.Parts[1]; math.Abs(p.Share-0.03) > 2*p.MassUG/10 || math.Abs(p.Thickness-want) > 2*want*p.MassUG/p.MassG {
		t.Errorf("plate %+v, want a share of 0.03 and %.3g µm", p, want)
	}
	if out := answered(t, mixedItem(t, 10, 8.0, `"item": {"layers": {"core": "copper", "plate": "gold 999"}}`)); !strings.Contains(out.Composite.Refused, "excluded") {
		t.Errorf("lighter than both layers: %+v", out.Composite)
	}
	if out := answered(t, mixedItem(t, 10, 19.26, `"item": {"layers": {"core": "tungsten", "plate": "gold 999"}}`)); !strings.Contains(out.Composite.Sentence, "can't tell") {
		t.Errorf("gold on tungsten: %+v", out.Composite)
	}

	// 12 g of gold in 60 g of quartz.
	quartz := answered(t, mixedItem(t, 72, 72/(12/17.5+60/2.65), `"item": {"quartz": {}}`))
	if p := quartz.Composite.Parts[0]; math.Abs(p.MassG-12) > 0.2 || p.MassUG < 0.02 {
		t.Errorf("gold in quartz: %+v", p)
	}
	if out := answered(t, mixedItem(t, 72, 2.2, `"item": {"quartz": {}}`)); out.Composite.Refused == "" {
		t.Errorf("lighter than quartz: %+v", out.Composite)
	}

	// Half 917 and half 375 gold looks like 585.
	heap := answered(t, mixedItem(t, 40, 14.26, `"claim": {"metal": "gold", "fineness": 585}, "item": {"heap": true}`))
	if heap.Composite.Refused == "" || heap.Fineness != nil || heap.Families != nil || heap.Finding.Result != "undecided" {
		t.Errorf("heap: %+v, fineness %+v, %s", heap.Composite, heap.Fineness, heap.Finding.Result)
	}
}

func TestBadComposites(t *testing.T) {
	for _, row := range []struct{ field, item, says string }{
		{"item.stones_set[0].species", `{"stones_set": {"diameter_mm": 3}}`, "missing"},
		{"item.stones_set[0].species", `{"stones_set": {"species": "diamnd", "diameter_mm": 3}}`, "diamnd"},
		{"item.stones_set[0].number", `{"stones_set": {"species": "diamond", "number": 0, "diameter_mm": 3}}`, "0 stones"},
		{"item.stones_set[0].diameter_mm", `{"stones_set": {"species": "diamond", "diameter_mm": 300}}`, "300"},
		{"item.stones_set[1].carat_each", `{"stones_set": [{"species": "diamond", "carat_each": 0.1}, {"species": "diamond", "diameter_mm": 3, "carat_each": 0.1}]}`, "together"},
		{"item.stones_set[1].diameter_mm", `{"stones_set": [{"species": "diamond"}, {"species": "corundum"}]}`, "another kind"},
		{"item.stones_set", `{"stones_set": {"species": "diamond", "number": 10, "carat_each": 5}}`, "no metal"},
		{"item.stones_set", `{"stones_set": {"species": "diamond", "number": 2, "carat_each": 5}}`, "no metal"},
		{"item.stones_set", `{"stones": false, "stones_set": {"species": "diamond", "carat_each": 0.1}}`, "no stones were seen"},
		{"item.quartz", `{"stones_set": {"species": "diamond", "carat_each": 0.1}, "quartz": {}}`, "together"},
		{"item.layers.core", `{"layers": {"plate": "gold 999"}}`, "missing"},
		{"item.layers.plate", `{"layers": {"core": "copper"}}`, "missing"},
		{"item.layers.core", `{"layers": {"core": "unobtainium", "plate": "gold 999"}}`, "unobtainium"},
		{"item.layers.core", `{"layers": {"core": "copper", "core_density_kg_m3": 8900, "plate": "gold 999"}}`, "together"},
		{"item.layers.area_cm2", `{"layers": {"core": "copper", "plate": "gold 999", "area_cm2": -1}}`, "-1"},
		{"item.quartz.density_kg_m3", `{"quartz": {"density_kg_m3": 2.65}}`, "2.65"},
	} {
		d := mixedItem(t, 6, 12, `"item": `+row.item)
		_, err := Evaluate(d, Options{})
		var f *InputError
		if !errors.As(err, &f) || f.Path != row.field || !strings.Contains(f.Reason, row.says) || f.Hint == "" {
			t.Errorf("%s: %v, want an error of %s that says %q", row.item, err, row.field, row.says)
		}
	}
}

// What scatters over three readings has two degrees of freedom: the interval of the metal without its
// stones is then as much wider than 1.96 standard uncertainties as that of the whole (4.30, GUM table
// G.2).
func TestFewReadingsWidenTheParts(t *testing.T) {
	d := mixedItem(t, 5.1, 14.5, claims750+`, "item": {"stones": true, "stones_set": {"species": "diamond", "carat_each": 0.5, "carat_u_each": 0.01}}`)
	first := d.LiquidG[0].Gram
	d.LiquidG = []Reading{{Gram: first}, {Gram: first + 0.05}, {Gram: first - 0.05}}
	a := answered(t, d)
	metal := a.Composite.Parts[1]
	v := metal.VolumeCm3 / metal.MassG
	u := metal.VolumeUCm3 / metal.MassG / (v * v)
	rho, wide := uncertainty.Round(1/v, 4.30*u)
	if want := rho + " ± " + wide + " g/cm³"; !strings.Contains(a.Composite.Sentence, want) {
		t.Errorf("%s\nwant %s", a.Composite.Sentence, want)
	}
}

// TestPlateThickness: the mean thickness of a plate has an uncertainty, that of the surface in it, and is
// written without an exponent, in millimetres where it is thick. 1 g of gold of 19.29 g/cm³ on 10 cm² is
// 51.84 µm by division.
func TestPlateThickness(t *testing.T) {
	const core, plate, area = 8.94, 19.29, 10.0
	item := func(gold, rest string) *Answer {
		t.Helper()
		var g float64
		fmt.Sscan(gold, &g)
		mass := g + 20
		return answered(t, mixedItem(t, mass, mass/(g/plate+20/core), claims750+`, "item": {"layers": {"core": "copper", "plate_density_kg_m3": 19290, "plate_density_u_kg_m3": 10, "area_cm2": 10`+rest+`}}`))
	}
	thin := item("1", `, "area_u_cm2": 0.1`).Composite
	p := thin.Parts[1]
	if want := 1e4 * 1 / plate / area; math.Abs(p.Thickness/want-1) > 0.02 || p.ThicknessU < 0.01*p.Thickness || p.ThicknessU > 0.5*p.Thickness {
		t.Errorf("thickness %g ± %g µm, want %.4g", p.Thickness, p.ThicknessU, want)
	}
	if wide := item("1", `, "area_u_cm2": 5`).Composite.Parts[1]; wide.ThicknessU < 0.5*wide.Thickness {
		t.Errorf("half of the surface unknown: ± %g µm of %g", wide.ThicknessU, wide.Thickness)
	}
	if thick := item("40", "").Composite.Sentence; strings.Contains(thick, "e+") || !strings.Contains(thick, " mm in the mean.") || !strings.Contains(thick, "±") {
		t.Errorf("%s", thick)
	}
	if !strings.Contains(thin.Sentence, " µm in the mean.") {
		t.Errorf("%s", thin.Sentence)
	}
}
