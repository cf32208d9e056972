package hydrostatic_test

import (
	"testing"

	"pgregory.net/rapid"

	"wreath/hydrostatic"
	"wreath/quantity"
)

// The simulation below knows no formula of the package. It is statics in SI units: every body
// is an upright prism, every force on it is its weight and the pressures on its lower and upper
// face, and the balance turns newtons into grams by the force that a weight gave when the
// balance was adjusted.

// bench is a balance with a vessel of liquid, in SI units.
type bench struct {
	g            float64 // m/s2
	rhoL, rhoA   float64 // kg/m3
	rhoAdj       float64 // air when the balance was adjusted, kg/m3
	surface      float64 // inner area of the vessel, m2
	wire         float64 // area of the wires that cross the surface, m2
	tip          float64 // height of the lower end of the wires above the bottom, m
	liquidVolume float64 // m3
}

// prism is an upright body.
type prism struct{ area, height, weight float64 } // m2, m, kg

func (p prism) volume() float64 { return p.area * p.height }

// drawBench draws a bench from a dry valley to a mountain hut.
func drawBench(t *rapid.T) bench {
	b := bench{
		g:       rapid.Float64Range(9.78, 9.83).Draw(t, "g"),
		rhoL:    rapid.Float64Range(700, 3000).Draw(t, "rhoL"),
		rhoA:    rapid.Float64Range(0.8, 1.4).Draw(t, "rhoA"),
		rhoAdj:  rapid.Float64Range(0.8, 1.4).Draw(t, "rhoAdj"),
		surface: rapid.Float64Range(1e-3, 1e-2).Draw(t, "surface"),
		tip:     0.03,
	}
	b.wire = b.surface * rapid.Float64Range(0, 0.01).Draw(t, "wire share")
	b.liquidVolume = 0.1 * b.surface
	return b
}

// drawPrism draws a body of a density between low and high and a mass from 0.1 g to 1 kg.
func drawPrism(t *rapid.T, name string, low, high float64) (prism, float64) {
	rho := rapid.Float64Range(low, high).Draw(t, name+" density")
	m := rapid.Float64Range(1e-4, 1).Draw(t, name+" mass")
	height := rapid.Float64Range(1e-3, 2e-2).Draw(t, name+" height")
	return prism{area: m / rho / height, height: height, weight: m}, rho
}

// grams is what the balance shows for a net force in newtons.
func (b bench) grams(newtons float64) quantity.Reading {
	const weight = 0.2 // kg, of density 8000 kg/m3, shown as 200 g after adjustment
	adjusted := weight*b.g - b.rhoAdj*b.g*(weight/8000)
	return quantity.Reading(newtons * 200 / adjusted)
}

const atBottom = 101325.0 // Pa, air pressure at the height of the bottom of the vessel

// level is the height of the surface with a volume below it besides the wires.
func (b bench) level(immersed float64) float64 {
	low, high := b.tip, 1e3
	for range 200 {
		h := (low + high) / 2
		if b.surface*h < b.liquidVolume+immersed+b.wire*(h-b.tip) {
			low = h
		} else {
			high = h
		}
	}
	return (low + high) / 2
}

// pressure in the liquid at height z below a surface at height h.
func (b bench) pressure(z, h float64) float64 {
	return atBottom - b.rhoA*b.g*h + b.rhoL*b.g*(h-z)
}

// inAir is the downward force of a body in air, N.
func (b bench) inAir(p prism) float64 {
	lower := atBottom - b.rhoA*b.g*0.5
	upper := atBottom - b.rhoA*b.g*(0.5+p.height)
	return p.weight*b.g - p.area*(lower-upper)
}

// hung is the downward force of wires and immersed bodies on the balance above them, N. The
// weight of the wires is left out; it is in the tare.
func (b bench) hung(bodies ...prism) float64 {
	var immersed float64
	for _, p := range bodies {
		immersed += p.volume()
	}
	h := b.level(immersed)
	force := -b.wire * b.pressure(b.tip, h)
	for _, p := range bodies {
		force += p.weight*b.g - p.area*(b.pressure(0.01, h)-b.pressure(0.01+p.height, h))
	}
	return force
}

// onPan is the force of the vessel on the pan while bodies hang in it from a stand, N: the
// pressure of the liquid on its bottom less that of the air below. Its weight is in the tare.
func (b bench) onPan(bodies ...prism) float64 {
	var immersed float64
	for _, p := range bodies {
		immersed += p.volume()
	}
	return b.surface * (b.pressure(0, b.level(immersed)) - atBottom)
}

func (b bench) media() hydrostatic.Media {
	return hydrostatic.Media{Liquid: quantity.KgPerM3(b.rhoL), Air: quantity.KgPerM3(b.rhoA)}
}

func (b bench) adjustment() hydrostatic.AdjustmentAir {
	return hydrostatic.AdjustmentAir(quantity.KgPerM3(b.rhoAdj))
}

func (b bench) kappa() float64 { return b.wire / b.surface }

// The pressures of 1e5 Pa cancel to a lost weight of down to 1e-5 N on faces of 1e-5 m2, so
// float64 leaves about 1e-9 of the result.
const recovery = 2e-8

func recovered(t *rapid.T, what string, got quantity.Density, err error, want float64) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	if d := got.KgPerM3()/want - 1; !(d < recovery && d > -recovery) {
		t.Fatalf("%s = %.9g kg/m³, want the simulated %.9g", what, got.KgPerM3(), want)
	}
}

func TestHangingRecoversTheSimulatedItem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBench(t)
		item, rho := drawPrism(t, "item", b.rhoL*1.05, 22600)
		got, err := hydrostatic.Hanging(b.grams(b.inAir(item)), b.grams(b.hung(item)-b.hung()), b.media(), b.kappa())
		recovered(t, "Hanging", got, err, rho)
	})
}

func TestStandingRecoversTheSimulatedItem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBench(t)
		item, rho := drawPrism(t, "item", b.rhoL*1.05, 22600)
		got, err := hydrostatic.Standing(b.grams(b.inAir(item)), b.grams(b.onPan(item)-b.onPan()), b.media(), b.kappa())
		recovered(t, "Standing", got, err, rho)
	})
}

func TestHangingAndStandingAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBench(t)
		item, _ := drawPrism(t, "item", b.rhoL*1.05, 22600)
		air := b.grams(b.inAir(item))
		liquid, gain := b.grams(b.hung(item)-b.hung()), b.grams(b.onPan(item)-b.onPan())
		hanging, err := hydrostatic.Hanging(air, liquid, b.media(), b.kappa())
		if err != nil {
			t.Fatal(err)
		}
		standing, err := hydrostatic.Standing(air, gain, b.media(), b.kappa())
		recovered(t, "Standing against Hanging", standing, err, hanging.KgPerM3())
	})
}

func TestWithSinkerRecoversTheSimulatedItem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBench(t)
		b.wire = 0
		item, rho := drawPrism(t, "item", 550, 22600)
		sinker := prism{area: 1e-3, height: 1, weight: 15} // sinks any of these items
		got, err := hydrostatic.WithSinker(b.grams(b.inAir(item)), b.grams(b.hung(sinker)), b.grams(b.hung(sinker, item)), b.media(), 0)
		// The readings of the heavy sinker leave 1e-6 of the lost weight of the lightest items.
		if err != nil {
			t.Fatal(err)
		}
		if d := got.KgPerM3()/rho - 1; !(d < 1e-6 && d > -1e-6) {
			t.Fatalf("WithSinker = %.9g kg/m³, want the simulated %.9g", got.KgPerM3(), rho)
		}
	})
}

func TestItemVolumeAndTrueMassRecoverTheSimulatedItem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBench(t)
		item, rho := drawPrism(t, "item", b.rhoL*1.05, 22600)
		air := b.grams(b.inAir(item))
		lost := air - b.grams(b.hung(item)-b.hung())
		v, err := hydrostatic.ItemVolume(lost, b.media(), b.kappa(), b.adjustment())
		recovered(t, "ItemVolume (as g/cm³)", quantity.Density(v), err, 1e9*item.volume())
		m, err := hydrostatic.TrueMass(air, quantity.KgPerM3(rho), quantity.KgPerM3(b.rhoA), quantity.KgPerM3(b.rhoAdj), hydrostatic.ReferenceWeights)
		recovered(t, "TrueMass (as g/cm³)", quantity.Density(m), err, 1e6*item.weight)
	})
}

// A porous body: its outline is the prism, a share of it is open and holds air or oil.
func TestCoatedRecoversTheSimulatedItem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBench(t)
		b.wire = 0
		solid, envelope := drawPrism(t, "item", b.rhoL*1.1, 15000)
		open := rapid.Float64Range(0, 0.3).Draw(t, "open porosity")
		withAir := solid
		withAir.weight += b.rhoA * open * solid.volume() // the air that its pores hold
		rhoCoat := rapid.Float64Range(800, 1500).Draw(t, "coating density")
		coat := prism{area: solid.area * 0.03, height: solid.height}
		coat.weight = rhoCoat * coat.volume()
		got, err := hydrostatic.Coated(b.grams(b.inAir(withAir)),
			b.grams(b.inAir(withAir)+b.inAir(coat)), b.grams(b.hung(withAir, coat)),
			quantity.KgPerM3(rhoCoat), b.media(), b.adjustment(), open)
		recovered(t, "Coated", got, err, envelope)
	})
}

func TestImpregnatedRecoversTheSimulatedItem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBench(t)
		b.wire = 0
		solid, dryRho := drawPrism(t, "item", b.rhoL*1.1, 15000)
		open := rapid.Float64Range(0, 0.4).Draw(t, "open porosity")
		rhoOil := rapid.Float64Range(750, 950).Draw(t, "oil density")
		withAir, withOil := solid, solid
		withAir.weight += b.rhoA * open * solid.volume()
		withOil.weight += rhoOil * open * solid.volume()
		dry, wet, p, err := hydrostatic.Impregnated(b.grams(b.inAir(withAir)), b.grams(b.inAir(withOil)), b.grams(b.hung(withOil)),
			quantity.KgPerM3(rhoOil), b.media())
		recovered(t, "dry density", dry, err, dryRho)
		recovered(t, "wet density", wet, err, dryRho+rhoOil*open)
		recovered(t, "porosity plus one", quantity.KgPerM3(1+p), err, 1+open)
	})
}

// A pycnometer holds a volume inside its glass; whatever is not liquid or sample is air.
func TestPycnometerRecoversTheSimulatedSample(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBench(t)
		const glassWeight, glassVolume, inside20 = 0.020, 8e-6, 25e-6 // kg, m3, m3
		sample, rho := drawPrism(t, "sample", 1500, 22600)
		sample.weight, sample.area = sample.weight*0.02, sample.area*0.02 // up to 20 g
		v := sample.volume()
		gamma := rapid.Float64Range(5e-6, 30e-6).Draw(t, "gamma")
		t1 := rapid.Float64Range(15, 30).Draw(t, "t1")
		t2 := rapid.Float64Range(15, 30).Draw(t, "t2")
		rhoL2 := b.rhoL * rapid.Float64Range(0.99, 1.01).Draw(t, "rhoL2 ratio")
		inside2 := inside20
		inside1 := inside20 * (1 + gamma*(t1-t2))
		force := func(contents float64) quantity.Reading { // kg inside, air of the outline taken off
			return b.grams(b.g * (glassWeight + contents - b.rhoA*(glassVolume+inside20)))
		}
		empty := force(b.rhoA * inside20)
		withSample := force(sample.weight + b.rhoA*(inside20-v))
		got, err := hydrostatic.Pycnometer(empty, withSample, force(sample.weight+b.rhoL*(inside20-v)), force(b.rhoL*inside20), b.media())
		recovered(t, "Pycnometer", got, err, rho)

		// Two temperatures: the room inside differs, the air outside is the same. Weighed at
		// one room temperature, the glass displaces the same air; what swells is the mark.
		filled := func(contents, liquid float64) quantity.Reading {
			return b.grams(b.g * (glassWeight + contents - b.rhoA*(glassVolume+liquid)))
		}
		both := filled(sample.weight+b.rhoL*(inside1-v), inside1)
		only := filled(rhoL2*inside2, inside2)
		got, err = hydrostatic.PycnometerFills(empty, withSample, both, only,
			hydrostatic.Fill{Liquid: quantity.KgPerM3(b.rhoL), Temperature: quantity.Temperature(t1)},
			hydrostatic.Fill{Liquid: quantity.KgPerM3(rhoL2), Temperature: quantity.Temperature(t2)},
			quantity.Expansivity(gamma), quantity.KgPerM3(b.rhoA))
		recovered(t, "PycnometerFills", got, err, rho)
	})
}

func TestComparisonDoesNotDependOnTheLiquid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBench(t)
		item, rho := drawPrism(t, "item", 3200, 22600)
		ref, rhoRef := drawPrism(t, "reference", 3200, 22600)
		for range 2 {
			got, err := hydrostatic.Comparison(b.grams(b.inAir(item)), b.grams(b.hung(item)-b.hung()),
				b.grams(b.inAir(ref)), b.grams(b.hung(ref)-b.hung()), quantity.KgPerM3(rhoRef), quantity.KgPerM3(b.rhoA))
			recovered(t, "Comparison", got, err, rho)
			b.rhoL = rapid.Float64Range(700, 3000).Draw(t, "another liquid")
		}
	})
}

func TestAgainstWeightsRecoversTheSimulatedItem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBench(t)
		b.wire = 0
		item, rho := drawPrism(t, "item", b.rhoL*1.05, 22600)
		rhoRef := rapid.Float64Range(7800, 8200).Draw(t, "weights density")
		later := b // air around the weights during the second weighing
		later.rhoA = rapid.Float64Range(0.8, 1.4).Draw(t, "later air")
		weights := func(share float64) prism {
			m := item.weight * share
			return prism{area: m / rhoRef / 0.01, height: 0.01, weight: m}
		}
		a := weights(rapid.Float64Range(0.99, 1.01).Draw(t, "weights in air"))
		l := weights((1 - b.rhoL/rho) * rapid.Float64Range(0.99, 1.01).Draw(t, "weights in liquid"))
		got, err := hydrostatic.AgainstWeights(
			hydrostatic.Balanced{Weights: quantity.Mass(1000 * a.weight), Difference: b.grams(b.inAir(item) - b.inAir(a)), Air: quantity.KgPerM3(b.rhoA)},
			hydrostatic.Balanced{Weights: quantity.Mass(1000 * l.weight), Difference: b.grams(b.hung(item) - later.inAir(l)), Air: quantity.KgPerM3(later.rhoA)},
			quantity.KgPerM3(rhoRef), quantity.KgPerM3(b.rhoL), b.adjustment())
		recovered(t, "AgainstWeights", got, err, rho)
	})
}

func TestSinkerRecoversTheSimulatedLiquid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBench(t)
		b.wire = 0
		sinker, _ := drawPrism(t, "sinker", 3200, 22600)
		gamma := quantity.Expansivity(rapid.Float64Range(5e-6, 60e-6).Draw(t, "gamma"))
		tL := rapid.Float64Range(0, 40).Draw(t, "t of the liquid")
		tW := rapid.Float64Range(0, 40).Draw(t, "t of the water")
		at := func(temperature float64) prism { // the sinker swells
			p := sinker
			p.area *= 1 + float64(gamma)*(temperature-20)
			return p
		}
		water := b
		water.rhoL = rapid.Float64Range(992, 1000).Draw(t, "water")
		water.rhoA = rapid.Float64Range(0.8, 1.4).Draw(t, "air over the water")

		air, liquid := b.grams(b.inAir(at(tL))), b.grams(b.hung(at(tL)))
		waterAir, waterLiquid := water.grams(water.inAir(at(tW))), water.grams(water.hung(at(tW)))

		v20, err := hydrostatic.SinkerVolume(waterAir, waterLiquid, water.media(), gamma, quantity.Temperature(tW), b.adjustment())
		recovered(t, "SinkerVolume (as g/cm³)", quantity.Density(v20), err, 1e9*sinker.volume())
		got, err := hydrostatic.LiquidBySinker(air, liquid, v20, gamma, quantity.Temperature(tL), quantity.KgPerM3(b.rhoA), b.adjustment())
		recovered(t, "LiquidBySinker", got, err, b.rhoL)
		got, err = hydrostatic.LiquidByRatio(
			hydrostatic.SinkerWeighing{Air: air, Liquid: liquid, AirDensity: quantity.KgPerM3(b.rhoA), Temperature: quantity.Temperature(tL)},
			hydrostatic.SinkerWeighing{Air: waterAir, Liquid: waterLiquid, AirDensity: quantity.KgPerM3(water.rhoA), Temperature: quantity.Temperature(tW)},
			quantity.KgPerM3(water.rhoL), gamma)
		recovered(t, "LiquidByRatio", got, err, b.rhoL)
		solid := at(tL)
		got, err = hydrostatic.LiquidBySolid(air, liquid, quantity.KgPerM3(solid.weight/solid.volume()), quantity.KgPerM3(b.rhoA))
		recovered(t, "LiquidBySolid", got, err, b.rhoL)
	})
}

// A bubble of air on the item: the hanging formula gives the density of both together.
func TestBubbleLiftMatchesTheSimulatedBubble(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBench(t)
		b.wire = 0
		item, _ := drawPrism(t, "item", b.rhoL*1.05, 22600)
		d := quantity.Length(rapid.Float64Range(0.1, 5).Draw(t, "diameter"))
		v, err := hydrostatic.BubbleVolume(d)
		if err != nil {
			t.Fatal(err)
		}
		bubble := prism{area: float64(v) * 1e-6 / 1e-3, height: 1e-3, weight: b.rhoA * float64(v) * 1e-6}
		lift, err := hydrostatic.BubbleLift(d, b.media())
		if err != nil {
			t.Fatal(err)
		}
		seen := (b.hung(item) - b.hung(item, bubble)) / b.g * 1000 // g
		if diff := seen - float64(lift); !(diff < 1e-8 && diff > -1e-8) {
			t.Fatalf("BubbleLift(%g mm) = %.9g g, want the simulated %.9g", float64(d), float64(lift), seen)
		}
	})
}
