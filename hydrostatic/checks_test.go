package hydrostatic_test

import (
	"encoding/csv"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"wreath/hydrostatic"
	"wreath/quantity"
)

// check is one row of testdata/weighing-checks.csv, as printed there with its source.
type check struct {
	id, kind, expected, unit, tolerance, source string
	in                                          map[string]string
}

func readChecks(t *testing.T) []check {
	t.Helper()
	f, err := os.Open("testdata/weighing-checks.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var checks []check
	for _, row := range rows[1:] {
		c := check{id: row[0], kind: row[1], expected: row[4], unit: row[5], tolerance: row[6], source: row[7], in: map[string]string{}}
		for _, pair := range strings.Split(row[2], ";") {
			name, value, ok := strings.Cut(pair, "=")
			if !ok {
				t.Fatalf("%s: input %q has no value", c.id, pair)
			}
			c.in[name] = value
		}
		checks = append(checks, c)
	}
	return checks
}

var leadingNumber = regexp.MustCompile(`-?[0-9]+(\.[0-9]+)?(e-?[0-9]+)?`)

// num reads an input of the row as a number, words after it are left.
func (c check) num(t *testing.T, name string) float64 {
	t.Helper()
	text, ok := c.in[name]
	if !ok {
		t.Fatalf("%s: no input %q", c.id, name)
	}
	x, err := strconv.ParseFloat(leadingNumber.FindString(text), 64)
	if err != nil {
		t.Fatalf("%s: input %s: %v", c.id, name, err)
	}
	return x
}

func (c check) reading(t *testing.T, name string) quantity.Reading {
	t.Helper()
	return quantity.Reading(c.num(t, name))
}

func (c check) density(t *testing.T, name string) quantity.Density {
	t.Helper()
	return quantity.KgPerM3(c.num(t, name))
}

func (c check) media(t *testing.T) hydrostatic.Media {
	t.Helper()
	return hydrostatic.Media{Liquid: c.density(t, "rho_liquid"), Air: c.density(t, "rho_air")}
}

func (c check) adjustment(t *testing.T) hydrostatic.AdjustmentAir {
	t.Helper()
	return hydrostatic.AdjustmentAir(c.density(t, "rho_air_at_adjustment"))
}

// want compares got, in the unit of the row, with the n-th expected number of the row, within
// the tolerance of the row or half of the last printed digit, whichever is wider.
func (c check) want(t *testing.T, n int, got float64) {
	t.Helper()
	part := strings.Split(c.expected, ";")[n]
	want, err := strconv.ParseFloat(leadingNumber.FindString(part), 64)
	if err != nil {
		t.Fatalf("%s: expected %q: %v", c.id, part, err)
	}
	text, relative := strings.CutPrefix(c.tolerance, "relative ")
	tol, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatalf("%s: tolerance %q: %v", c.id, c.tolerance, err)
	}
	if relative {
		tol *= want
	}
	if _, digits, ok := strings.Cut(leadingNumber.FindString(part), "."); ok && !strings.Contains(digits, "e") {
		tol = max(tol, 0.5*math.Pow(10, -float64(len(digits))))
	}
	near(t, c.id+" "+c.kind, got, want, tol, c.source)
}

// near fails unless got lies within tol of want.
func near(t *testing.T, what string, got, want, tol float64, source string) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.10g, want %.10g ± %g (%s)", what, got, want, tol, source)
	}
}

// must fails on an error and returns the value.
func must[T any](t *testing.T) func(T, error) T {
	return func(x T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
}

// TestPublishedAndComputedChecks goes through every row of weighing-checks.csv. The row names
// its source and says whether the value was published or computed with a library.
func TestPublishedAndComputedChecks(t *testing.T) {
	density, mass, volume := must[quantity.Density](t), must[quantity.Mass](t), must[quantity.Volume](t)
	number, reading := must[float64](t), must[quantity.Reading](t)

	byKind := map[string]func(t *testing.T, c check){
		"conventional mass from mass": func(t *testing.T, c check) {
			m, rho := quantity.Mass(c.num(t, "m_g")), c.density(t, "rho_kg_m3")
			conventional := reading(hydrostatic.ConventionalMass(m, rho))
			c.want(t, 0, float64(conventional))
			near(t, c.id+" and back", float64(mass(hydrostatic.MassOfConventional(conventional, rho))), float64(m), 1e-12*float64(m), "round trip")
		},
		"mass from balance reading in air": func(t *testing.T, c check) {
			c.want(t, 0, float64(mass(hydrostatic.TrueMass(c.reading(t, "R_g"), c.density(t, "rho_item"),
				c.density(t, "rho_air"), c.density(t, "rho_air_at_adjustment"), c.density(t, "rho_weights")))))
		},
		"density, hydrostatic": func(t *testing.T, c check) {
			rise := c.num(t, "wire_area_over_vessel_area")
			switch c.in["geometry"] {
			case "hung from balance":
				c.want(t, 0, density(hydrostatic.Hanging(c.reading(t, "R1_air_g"), c.reading(t, "R2_liquid_g"), c.media(t), rise)).KgPerM3())
			case "vessel on pan":
				c.want(t, 0, density(hydrostatic.Standing(c.reading(t, "R1_air_g"), c.reading(t, "gain_g"), c.media(t), rise)).KgPerM3())
			default:
				t.Fatalf("%s: geometry %q", c.id, c.in["geometry"])
			}
		},
		"density with sinker aid (item+sinker)": func(t *testing.T, c check) {
			c.want(t, 0, density(hydrostatic.WithSinker(c.reading(t, "R_item_air_g"), c.reading(t, "R_sinker_liquid_g"),
				c.reading(t, "R_sinker_and_item_liquid_g"), c.media(t), 0)).KgPerM3())
		},
		"liquid density by sinker": func(t *testing.T, c check) {
			c.want(t, 0, density(hydrostatic.LiquidBySinker(c.reading(t, "R_air_g"), c.reading(t, "R_liquid_g"),
				quantity.Volume(c.num(t, "V_sinker_20C_cm3")), quantity.Expansivity(c.num(t, "gamma_per_K")),
				quantity.Temperature(c.num(t, "t_C")), c.density(t, "rho_air"), c.adjustment(t))).KgPerM3())
		},
		"wire rise factor a/A": func(t *testing.T, c check) {
			c.want(t, 0, number(hydrostatic.WireRise(quantity.Length(c.num(t, "wire_d_mm")), int(c.num(t, "wires")),
				quantity.Length(c.num(t, "vessel_inner_d_mm")))))
		},
		"surface tension pull on wire": func(t *testing.T, c check) {
			near(t, "g of the row", c.num(t, "g"), hydrostatic.StandardGravity, 0, "3rd CGPM, 1901")
			c.want(t, 0, 1000*float64(mass(hydrostatic.MeniscusPull(quantity.Length(c.num(t, "wire_d_mm")),
				c.num(t, "gamma_mN_m"), c.num(t, "contact_angle_deg")))))
		},
		"density referred to 20 C": func(t *testing.T, c check) {
			c.want(t, 0, density(hydrostatic.At20(c.density(t, "rho_t"), quantity.Expansivity(3*c.num(t, "alpha_linear")),
				quantity.Temperature(c.num(t, "t_C")))).KgPerM3())
		},
		"adhering bubble": func(t *testing.T, c check) {
			v := volume(hydrostatic.BubbleVolume(quantity.Length(c.num(t, "bubble_d_mm"))))
			c.want(t, 0, density(hydrostatic.WithCavity(quantity.Mass(c.num(t, "m_g")), c.density(t, "rho_true"), v)).KgPerM3())
		},
		"wax/oil-coated porous item, envelope density": func(t *testing.T, c check) {
			c.want(t, 0, density(hydrostatic.Coated(c.reading(t, "R1_bare_air_g"), c.reading(t, "R2_coated_air_g"),
				c.reading(t, "R3_coated_liquid_g"), c.density(t, "rho_coat"), c.media(t), c.adjustment(t), 0)).KgPerM3())
		},
		"dry density and open porosity by oil impregnation (ISO 2738 principle, with air buoyancy; air fills the dry pores)": func(t *testing.T, c check) {
			dry, _, p, err := hydrostatic.Impregnated(c.reading(t, "m1_dry_air_g"), c.reading(t, "m2_impregnated_air_g"),
				c.reading(t, "m3_impregnated_water_g"), c.density(t, "rho_oil"),
				hydrostatic.Media{Liquid: c.density(t, "rho_water"), Air: c.density(t, "rho_air")})
			if err != nil {
				t.Fatal(err)
			}
			c.want(t, 0, dry.KgPerM3())
			c.want(t, 1, 100*p)
		},
		"pycnometer": func(t *testing.T, c check) {
			c.want(t, 0, density(hydrostatic.Pycnometer(c.reading(t, "M0_empty_g"), c.reading(t, "M1_with_sample_g"),
				c.reading(t, "M2_sample_and_liquid_g"), c.reading(t, "M3_liquid_only_g"), c.media(t))).KgPerM3())
		},
		"density by comparison with reference weights in air (R 111-1 B.7 method A principle)": func(t *testing.T, c check) {
			inAir := hydrostatic.Balanced{Weights: quantity.Mass(c.num(t, "m_ref_a_g")), Difference: c.reading(t, "delta_air_g"), Air: c.density(t, "rho_air_a")}
			inLiquid := hydrostatic.Balanced{Weights: quantity.Mass(c.num(t, "m_ref_l_g")), Difference: c.reading(t, "delta_liquid_g"), Air: c.density(t, "rho_air_l")}
			c.want(t, 0, density(hydrostatic.AgainstWeights(inAir, inLiquid, c.density(t, "rho_ref"), c.density(t, "rho_liquid"), c.adjustment(t))).KgPerM3())
		},
	}

	// Rows whose expected values are several, as a text book prints them.
	byID := map[string]func(t *testing.T, c check){
		"WS30": func(t *testing.T, c check) {
			rho := density(hydrostatic.Hanging(c.reading(t, "R1_air_g"), c.reading(t, "R2_liquid_g"), simple(c.density(t, "rho_liquid")), 0))
			c.want(t, 0, rho.GramPerCm3())
			near(t, "WS30 computed", rho.KgPerM3(), 10397.59, 0.005, "8.630/0.830, quotient")
		},
		"WS31": func(t *testing.T, c check) {
			air, liquid, media := c.reading(t, "R1_air_g"), c.reading(t, "R2_liquid_g"), simple(c.density(t, "rho_liquid"))
			c.want(t, 0, float64(air-liquid))
			c.want(t, 1, volume(hydrostatic.ItemVolume(air-liquid, media, 0, 0)).Cm3())
			c.want(t, 2, density(hydrostatic.Hanging(air, liquid, media, 0)).GramPerCm3())
		},
		"WS32": func(t *testing.T, c check) {
			air, liquid := c.reading(t, "R1_air_g"), c.reading(t, "R2_liquid_g")
			rhoL := density(hydrostatic.LiquidBySolid(air, liquid, c.density(t, "rho_solid"), 0))
			c.want(t, 0, float64(air-liquid))
			c.want(t, 1, volume(hydrostatic.ItemVolume(air-liquid, simple(rhoL), 0, 0)).Cm3())
			c.want(t, 2, rhoL.GramPerCm3())
		},
		"WS33": func(t *testing.T, c check) {
			air, liquid, media := c.reading(t, "R1_air_N"), c.reading(t, "R2_liquid_N"), simple(c.density(t, "rho_liquid"))
			near(t, "WS33 buoyant force", float64(air-liquid), 0.98, 0.005, c.source)
			lost := quantity.Reading(1000 * float64(air-liquid) / 9.8) // the exercise takes 9.8 m/s2
			near(t, "WS33 volume in m3", volume(hydrostatic.ItemVolume(lost, media, 0, 0)).Cm3()*1e-6, 1.0e-4, 0.05e-4, c.source)
			c.want(t, 2, density(hydrostatic.Hanging(air, liquid, media, 0)).KgPerM3())
		},
		"WS34": func(t *testing.T, c check) {
			rho := density(hydrostatic.Hanging(c.reading(t, "R1_air_N"), c.reading(t, "R2_liquid_N"), simple(c.density(t, "rho_liquid")), 0)).KgPerM3()
			c.want(t, 0, rho)
			gold, lead := c.num(t, "rho_Au"), c.num(t, "rho_Pb")
			near(t, "WS34 share of gold by volume in %", 100*(rho-lead)/(gold-lead), 72.9, 0.05, c.source)
		},
	}

	checks := readChecks(t)
	if len(checks) != 34 {
		t.Errorf("weighing-checks.csv has %d rows, want 34", len(checks))
	}
	for _, c := range checks {
		f := byID[c.id]
		if f == nil {
			f = byKind[c.kind]
		}
		if f == nil {
			t.Errorf("%s: no check for kind %q", c.id, c.kind)
			continue
		}
		f(t, c)
	}
}

// simple is a liquid in a world without air.
func simple(liquid quantity.Density) hydrostatic.Media { return hydrostatic.Media{Liquid: liquid} }

// The notes beside the rows WS21 to WS24 carry further figures, computed with mpmath 1.2.1.
func TestNotesOfTheChecks(t *testing.T) {
	volume, mass := must[quantity.Volume](t), must[quantity.Mass](t)
	for _, c := range []struct {
		id         string
		d, m, rho  float64
		bias, lift float64
		half       float64 // half of the last printed digit of the lift
	}{
		{"WS23", 1, 10, 19300, -0.0010095, 0.5227, 0.00005},
		{"WS24", 2, 5, 10300, -0.0085551, 4.181, 0.0005},
	} {
		v := volume(hydrostatic.BubbleVolume(quantity.Length(c.d)))
		app, err := hydrostatic.WithCavity(quantity.Mass(c.m), quantity.KgPerM3(c.rho), v)
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.id+" relative bias", app.KgPerM3()/c.rho-1, c.bias, 0.00000005, "mpmath 1.2.1")
		// The note leaves out the air in the bubble: water of 998.2067 kg/m3 in a vacuum.
		near(t, c.id+" lift in mg", 1000*float64(mass(hydrostatic.BubbleLift(quantity.Length(c.d), simple(quantity.KgPerM3(998.2067))))), c.lift, c.half, "mpmath 1.2.1")
	}
	// WS21, WS22: the exact cubic form differs in the last printed digit only.
	for _, c := range []struct{ rho, alpha, t, exact float64 }{{19285, 14.2e-6, 26, 19289.9297}, {10490, 18.9e-6, 15, 10487.0264}} {
		rho20, err := hydrostatic.At20(quantity.KgPerM3(c.rho), quantity.Expansivity(3*c.alpha), quantity.Temperature(c.t))
		if err != nil {
			t.Fatal(err)
		}
		near(t, "At20 against the exact cube", rho20.KgPerM3(), c.exact, 0.0006, "mpmath 1.2.1")
	}
}

// The size of a bubble that closes a gap in the immersed reading, computed with numpy on
// simulated populations: rows J15 and J16, liquid 998.2067 and air 1.2 kg/m3.
func TestBubbleThatClosesAGap(t *testing.T) {
	media := hydrostatic.Media{Liquid: quantity.KgPerM3(998.2067), Air: quantity.KgPerM3(1.2)}
	for _, c := range []struct {
		id       string
		gapMg, d float64
	}{{"J15", 7.1544, 2.3931}, {"J16", 25.3365, 3.6477}} {
		lift := must[quantity.Mass](t)(hydrostatic.BubbleLift(quantity.Length(c.d), media))
		near(t, c.id, 1000*float64(lift), c.gapMg, 3*c.gapMg*0.00005/c.d+0.00005, "numpy")
	}
}

// US13: derived from the balance of forces and computed with Python.
func TestSmallestItem(t *testing.T) {
	media := hydrostatic.Media{Liquid: quantity.KgPerM3(998.2067), Air: quantity.KgPerM3(1.1992)}
	m := must[quantity.Mass](t)(hydrostatic.SmallestItem(quantity.KgPerM3(19300), media, 0.0007, 2, 0.005))
	near(t, "smallest gold item at 0.5 %", float64(m), 5.4202, 0.00005, "US13, computed with Python")
}
