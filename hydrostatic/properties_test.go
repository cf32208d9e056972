package hydrostatic_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"wreath/hydrostatic"
	"wreath/quantity"
)

var water20 = hydrostatic.Media{Liquid: quantity.KgPerM3(998.2067), Air: quantity.KgPerM3(1.2)}

// drawReadings draws air and liquid readings of an item that is denser than water.
func drawReadings(t *rapid.T) (air, liquid quantity.Reading) {
	air = quantity.Reading(rapid.Float64Range(0.01, 40000).Draw(t, "air"))
	liquid = air * quantity.Reading(rapid.Float64Range(0.05, 0.955).Draw(t, "liquid share"))
	return air, liquid
}

func TestDensityDoesNotDependOnTheUnitOfTheReadings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		air, liquid := drawReadings(t)
		k := quantity.Reading(rapid.Float64Range(1e-3, 1e3).Draw(t, "unit"))
		kappa := rapid.Float64Range(0, 0.1).Draw(t, "kappa")
		in, err := hydrostatic.Hanging(air, liquid, water20, kappa)
		if err != nil {
			t.Fatal(err)
		}
		scaled, err := hydrostatic.Hanging(k*air, k*liquid, water20, kappa)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(scaled/in)-1) > 1e-13 {
			t.Fatalf("Hanging = %v in grams, %v in units of 1/%v g", in, scaled, k)
		}
	})
}

// A balance adjusted in other air shows every force larger or smaller by one factor.
func TestDensityDoesNotDependOnTheAdjustmentOfTheBalance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBench(t)
		item, _ := drawPrism(t, "item", b.rhoL*1.05, 22600)
		before, err := hydrostatic.Hanging(b.grams(b.inAir(item)), b.grams(b.hung(item)-b.hung()), b.media(), b.kappa())
		if err != nil {
			t.Fatal(err)
		}
		b.rhoAdj = rapid.Float64Range(0, 2).Draw(t, "another adjustment")
		after, err := hydrostatic.Hanging(b.grams(b.inAir(item)), b.grams(b.hung(item)-b.hung()), b.media(), b.kappa())
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(after/before)-1) > 1e-12 {
			t.Fatalf("Hanging = %v before and %v after another adjustment", before, after)
		}
	})
}

// A heavier reading in air or a larger gain is a larger lost weight, so a lighter material; a
// heavier reading in liquid is a denser one.
func TestDensityIsMonotoneInEachReading(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		air, liquid := drawReadings(t)
		step := 1 + quantity.Reading(rapid.Float64Range(1e-6, 0.01).Draw(t, "step"))
		gain := air - liquid
		hang := func(a, l quantity.Reading) quantity.Density {
			d, err := hydrostatic.Hanging(a, l, water20, 0)
			if err != nil {
				t.Fatal(err)
			}
			return d
		}
		stand := func(a, g quantity.Reading) quantity.Density {
			d, err := hydrostatic.Standing(a, g, water20, 0)
			if err != nil {
				t.Fatal(err)
			}
			return d
		}
		if !(hang(air*step, liquid) < hang(air, liquid)) {
			t.Fatal("Hanging does not fall with the reading in air")
		}
		if !(hang(air, liquid*step) > hang(air, liquid)) {
			t.Fatal("Hanging does not rise with the reading in liquid")
		}
		if !(stand(air*step, gain) > stand(air, gain)) {
			t.Fatal("Standing does not rise with the reading in air")
		}
		if !(stand(air, gain*step) < stand(air, gain)) {
			t.Fatal("Standing does not fall with the gain")
		}
	})
}

func TestAt20AndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rho := quantity.Density(rapid.Float64Range(0.5, 22.6).Draw(t, "rho"))
		gamma := quantity.Expansivity(rapid.Float64Range(0, 200e-6).Draw(t, "gamma"))
		at := quantity.Temperature(rapid.Float64Range(-20, 60).Draw(t, "t"))
		rho20, err := hydrostatic.At20(rho, gamma, at)
		if err != nil {
			t.Fatal(err)
		}
		if at > 20 && rho20 < rho || at < 20 && rho20 > rho {
			t.Fatalf("At20 moved %v at %v °C to %v, the wrong way", rho, at, rho20)
		}
		back, err := hydrostatic.AtTemperature(rho20, gamma, at)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(back/rho)-1) > 1e-14 {
			t.Fatalf("AtTemperature(At20(%v)) = %v", rho, back)
		}
	})
}

// Whatever is typed, the answer is a number or a typed error, never NaN and never infinite.
func TestNoFormulaReturnsNaN(t *testing.T) {
	odd := rapid.OneOf(
		rapid.SampledFrom([]float64{0, math.Copysign(0, -1), math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64, 5e-324, 1e-300, 1e9, -1, 20, 8, 1}),
		rapid.Float64Range(0, 3), rapid.Float64Range(0, 0.01), rapid.Float64Range(0, 100), rapid.Float64())
	rapid.Check(t, func(t *rapid.T) {
		var x [10]float64
		for i := range x {
			x[i] = odd.Draw(t, "x")
		}
		r := func(i int) quantity.Reading { return quantity.Reading(x[i]) }
		d := func(i int) quantity.Density { return quantity.Density(x[i]) }
		l := func(i int) quantity.Length { return quantity.Length(x[i]) }
		e, at, adj := quantity.Expansivity(x[8]), quantity.Temperature(x[9]), hydrostatic.AdjustmentAir(x[7])
		m := hydrostatic.Media{Liquid: d(4), Air: d(5)}
		answer := func(name string, got float64, err error) {
			t.Helper()
			var weighing *hydrostatic.WeighingError
			var outside *quantity.RangeError
			switch {
			case err == nil && (math.IsNaN(got) || math.IsInf(got, 0)):
				t.Fatalf("%s of %v = %v without an error", name, x, got)
			case err != nil && !errors.As(err, &weighing) && !errors.As(err, &outside):
				t.Fatalf("%s of %v: untyped error %v", name, x, err)
			case weighing != nil && (weighing.Field == "" || weighing.Reason == "" || weighing.Hint == ""):
				t.Fatalf("%s of %v: error without words: %+v", name, x, weighing)
			}
		}
		rho, err := hydrostatic.Hanging(r(0), r(1), m, x[6])
		answer("Hanging", float64(rho), err)
		rho, err = hydrostatic.Standing(r(0), r(1), m, x[6])
		answer("Standing", float64(rho), err)
		rho, err = hydrostatic.WithSinker(r(0), r(1), r(2), m, x[6])
		answer("WithSinker", float64(rho), err)
		rho, err = hydrostatic.Coated(r(0), r(1), r(2), d(3), m, adj, x[6])
		answer("Coated", float64(rho), err)
		dry, wet, p, err := hydrostatic.Impregnated(r(0), r(1), r(2), d(3), m)
		answer("Impregnated", float64(dry)+float64(wet)+p, err)
		rho, err = hydrostatic.Pycnometer(r(0), r(1), r(2), r(3), m)
		answer("Pycnometer", float64(rho), err)
		rho, err = hydrostatic.PycnometerFills(r(0), r(1), r(2), r(3), hydrostatic.Fill{Liquid: d(4), Temperature: at},
			hydrostatic.Fill{Liquid: d(6), Temperature: quantity.Temperature(x[7])}, e, d(5))
		answer("PycnometerFills", float64(rho), err)
		rho, err = hydrostatic.Comparison(r(0), r(1), r(2), r(3), d(4), d(5))
		answer("Comparison", float64(rho), err)
		rho, err = hydrostatic.AgainstWeights(hydrostatic.Balanced{Weights: quantity.Mass(x[0]), Difference: r(1), Air: d(5)},
			hydrostatic.Balanced{Weights: quantity.Mass(x[2]), Difference: r(3), Air: d(6)}, d(8), d(4), adj)
		answer("AgainstWeights", float64(rho), err)
		rho, err = hydrostatic.LiquidBySinker(r(0), r(1), quantity.Volume(x[2]), e, at, d(5), adj)
		answer("LiquidBySinker", float64(rho), err)
		v, err := hydrostatic.SinkerVolume(r(0), r(1), m, e, at, adj)
		answer("SinkerVolume", float64(v), err)
		rho, err = hydrostatic.LiquidByRatio(hydrostatic.SinkerWeighing{Air: r(0), Liquid: r(1), AirDensity: d(5), Temperature: at},
			hydrostatic.SinkerWeighing{Air: r(2), Liquid: r(3), AirDensity: d(6), Temperature: at}, d(4), e)
		answer("LiquidByRatio", float64(rho), err)
		rho, err = hydrostatic.LiquidBySolid(r(0), r(1), d(4), d(5))
		answer("LiquidBySolid", float64(rho), err)
		v, err = hydrostatic.ItemVolume(r(0), m, x[6], adj)
		answer("ItemVolume", float64(v), err)
		mass, err := hydrostatic.TrueMass(r(0), d(4), d(5), d(6), d(7))
		answer("TrueMass", float64(mass), err)
		conventional, err := hydrostatic.ConventionalMass(quantity.Mass(x[0]), d(4))
		answer("ConventionalMass", float64(conventional), err)
		mass, err = hydrostatic.MassOfConventional(r(0), d(4))
		answer("MassOfConventional", float64(mass), err)
		kappa, err := hydrostatic.WireRise(l(0), 3, l(1))
		answer("WireRise", kappa, err)
		mass, err = hydrostatic.MeniscusPull(l(0), x[1], x[2])
		answer("MeniscusPull", float64(mass), err)
		mass, err = hydrostatic.BubbleLift(l(0), m)
		answer("BubbleLift", float64(mass), err)
		rho, err = hydrostatic.WithCavity(quantity.Mass(x[0]), d(4), quantity.Volume(x[1]))
		answer("WithCavity", float64(rho), err)
		rho, err = hydrostatic.At20(d(4), e, at)
		answer("At20", float64(rho), err)
		rho, err = hydrostatic.AtTemperature(d(4), e, at)
		answer("AtTemperature", float64(rho), err)
		mass, err = hydrostatic.SmallestItem(d(3), m, r(0), x[1], x[2])
		answer("SmallestItem", float64(mass), err)
	})
}

func TestDensityIsWhatHangingComputes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		air, liquid := drawReadings(t)
		kappa := rapid.Float64Range(0, 0.1).Draw(t, "kappa")
		checked, err := hydrostatic.Hanging(air, liquid, water20, kappa)
		if err != nil {
			t.Fatal(err)
		}
		if bare := hydrostatic.Density(air, air-liquid, water20, kappa); math.Abs(float64(bare/checked)-1) > 1e-15 {
			t.Fatalf("Density = %v, Hanging = %v", bare, checked)
		}
	})
}

func TestFormulasDoNotAllocate(t *testing.T) {
	var sum quantity.Density
	n := testing.AllocsPerRun(100, func() {
		a, _ := hydrostatic.Hanging(10.0009, 9.4842, water20, 1e-4)
		b, _ := hydrostatic.Standing(10.0009, 0.5167, water20, 1e-4)
		c, _ := hydrostatic.At20(a, 42.6e-6, 21)
		sum += a + b + c
	})
	if n != 0 {
		t.Errorf("Hanging, Standing and At20 allocate %v times, want none", n)
	}
	if sum == 0 {
		t.Error("the formulas returned nothing")
	}
}

func BenchmarkHanging(b *testing.B) {
	var sum quantity.Density
	for b.Loop() {
		rho, err := hydrostatic.Hanging(10.0009, 9.4842, water20, 1e-4)
		if err != nil {
			b.Fatal(err)
		}
		sum += rho
	}
	if sum == 0 {
		b.Fatal("no density")
	}
}

func BenchmarkDensity(b *testing.B) {
	var sum quantity.Density
	for b.Loop() {
		sum += hydrostatic.Density(10.0009, 0.5167, water20, 1e-4)
	}
	if sum == 0 {
		b.Fatal("no density")
	}
}
