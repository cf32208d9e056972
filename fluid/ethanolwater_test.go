package fluid

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"wreath/quantity"
)

// answer gives the quantity a row of ethanol-water.txt asks for, in the unit of the row.
func (r printedRow) answer(t *testing.T) float64 {
	t.Helper()
	strength, at := r.number(t, "strength"), r.celsius(t, "t")
	fraction := func(x float64, err error) float64 {
		t.Helper()
		if err != nil {
			t.Fatal(r["id"], err)
		}
		return x
	}
	p := strength
	switch r["kind"] {
	case "mass_fraction":
	case "volume_fraction_20C":
		p = fraction(EthanolMassFraction(strength))
	case "rho20_kg_m3", "rho_kg_m3":
		p = fraction(EthanolMassFractionFromDensity(quantity.KgPerM3(strength), at))
	default:
		t.Fatalf("%s: strength %q is not known", r["id"], r["kind"])
	}
	switch r["quantity"] {
	case "rho_kg_m3":
		return kgPerM3(t)(EthanolWater(p, at))
	case "volume_percent":
		return 100 * fraction(EthanolVolumeFraction20(p))
	case "mass_percent":
		return 100 * p
	}
	t.Fatalf("%s: quantity %q is not known", r["id"], r["quantity"])
	return 0
}

func TestEthanolWaterTables(t *testing.T) {
	cross := 0 // published rows that exercise the C terms
	for _, r := range printedTable(t, "ethanol-water.txt") {
		got := r.answer(t)
		what := fmt.Sprintf("%s, table %s: %s of %s %s at %s °C", r["id"], r["table"], r["quantity"], r["kind"], r["strength"], r["t"])
		if r.printed("published") {
			near(t, what+" (published)", got, r.number(t, "published"), r.number(t, "tolerance"))
			if r["t"] != "20" {
				cross++
			}
		}
		near(t, what+" (computed)", got, r.number(t, "computed"), r.half("computed"))
	}
	if cross < 5 {
		t.Errorf("%d published rows away from 20 °C, want at least 5: only they test the C terms", cross)
	}
}

// The number of coefficients and the rows of the statute: Council Directive 76/766/EEC, Annex.
func TestEthanolTerms(t *testing.T) {
	counts := map[string]int{}
	for _, r := range mustRows("data/ethanol-water.csv", ethanolCSV) {
		counts[r.text("set")+r.text("i_power_of_t_minus_20")]++
		if r.text("source") == "" {
			t.Errorf("line %d has no source", r.line)
		}
	}
	for set, want := range map[string]int{"A": 12, "B": 6, "C1": 11, "C2": 10, "C3": 9, "C4": 4, "C5": 2} {
		if counts[set] != want {
			t.Errorf("%d coefficients %s, want %d", counts[set], set, want)
		}
	}
	statute := []struct {
		name      string
		got, want float64
	}{
		{"A1", ethanolTerms[0].c[0], 9.982012300e2},
		{"A2", ethanolTerms[1].c[0], -1.929769495e2},
		{"A3", ethanolTerms[2].c[0], 3.891238958e2},
		{"A4", ethanolTerms[3].c[0], -1.668103923e3},
		{"B1", ethanolTerms[0].c[1], -2.0618513e-1},
		{"B2", ethanolTerms[0].c[2], -5.2682542e-3},
		{"B3", ethanolTerms[0].c[3], 3.6130013e-5},
		{"B4", ethanolTerms[0].c[4], -3.8957702e-7},
	}
	for _, c := range statute {
		if c.got != c.want {
			t.Errorf("%s = %g, want %g (Directive 76/766/EEC, Annex)", c.name, c.got, c.want)
		}
	}
}

// bettinSpieweck1990 is the restatement of the same tables on ITS-90, in powers of p - 0.5:
// H. Bettin, F. Spieweck, PTB-Mitteilungen 100 (1990) 457 (coefficients read in four public
// transcriptions that agree). No coefficient is shared with OIML R 22.
func bettinSpieweck1990(p, t float64) float64 {
	a := []float64{
		9.1376673e2, -2.2175948e2, -5.9617860e1, 1.4682019e2, -5.6651750e2, 6.2118006e2,
		3.7824439e3, -9.7453133e3, -9.5734653e3, 3.2677808e4, 8.7637383e3, -3.9026437e4,
	}
	b := []float64{-7.9437550e-1, -1.2168407e-3, 3.5017833e-6, 1.7709440e-7, -3.4138828e-9, -9.9880242e-11}
	c := [][]float64{
		{
			-3.9158709e-1, 1.1518337, -5.0416999, 1.3381608e1, 4.5899913, -1.1821000e2,
			1.9054020e2, 3.3981954e2, -9.0032344e2, -3.4932012e2, 1.2859318e3,
		},
		{
			-1.2083196e-4, -5.7466248e-3, 1.2030894e-1, -2.3519694e-1, -1.0362738, 2.1804505,
			4.2763108, -6.8624848, -6.9384031, 7.4460428,
		},
		{
			-3.8683211e-5, -2.0911429e-4, 2.6713888e-3, 4.1042045e-3, -4.9364385e-2,
			-1.7952946e-2, 2.9012506e-1, 2.3001712e-2, -5.4150139e-1,
		},
		{-5.6024906e-7, -1.2649169e-6, 3.4863950e-6, -1.5168726e-6},
		{-1.4441741e-8, 1.3470542e-8},
	}
	x, s := p-0.5, t-20
	rho := 0.0
	for k, v := range a {
		rho += v * math.Pow(x, float64(k))
	}
	for k, v := range b {
		rho += v * math.Pow(s, float64(k+1))
	}
	for i, row := range c {
		for k, v := range row {
			rho += v * math.Pow(x, float64(k+1)) * math.Pow(s, float64(i+1))
		}
	}
	return rho
}

// Every coefficient is checked here: a wrong digit of any that matters shows.
func TestEthanolWaterAgainstBettinSpieweck(t *testing.T) {
	for celsius := -20.0; celsius <= 40; celsius += 2.5 {
		for percent := 0; percent <= 100; percent++ {
			p := float64(percent) / 100
			at := quantity.Temperature(celsius)
			if at < EthanolFreezing(p) {
				continue
			}
			want := bettinSpieweck1990(p, celsius)
			what := fmt.Sprintf("EthanolWater(%g, %g °C)", p, celsius)
			// The scale difference that EthanolWaterU states.
			near(t, what, kgPerM3(t)(EthanolWater(p, at)), want, 0.0094)
			// With the temperature turned to IPTS-68 nearly nothing is left.
			if t68 := 1.00024 * celsius; t68 >= -20 && t68 <= 40 && quantity.Temperature(t68) >= EthanolFreezing(p) {
				near(t, what+" on IPTS-68", kgPerM3(t)(EthanolWater(p, quantity.Temperature(t68))), want, 0.001)
			}
		}
	}
}

func TestEthanolWaterAgainstWater(t *testing.T) {
	for i := 0; i <= 40; i++ {
		at := quantity.Temperature(i)
		difference := kgPerM3(t)(EthanolWater(0, at)) - kgPerM3(t)(WaterAirFree(at))
		near(t, fmt.Sprintf("EthanolWater(0, %d °C) - WaterAirFree", i), difference, 0, 0.0075)
	}
}

// A label of 96 % vol: computed with Python floats from OIML R 22.
func TestEthanolLabel(t *testing.T) {
	p, err := EthanolMassFraction(0.96)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mass fraction of 96 % vol", p, 0.9384, 0.00005)
	near(t, "density of 96 % vol at 20 °C", kgPerM3(t)(EthanolWater(p, 20)), 807.42, 0.005)
}

// Slopes at 20 °C, computed with Python floats from OIML R 22.
func TestEthanolWaterSlopesPrinted(t *testing.T) {
	for p, want := range map[float64]float64{0: -0.206, 0.2: -0.432, 0.5: -0.794, 0.96: -0.863, 1: -0.855} {
		_, slope, err := EthanolWaterSlopes(p, 20)
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprintf("dρ/dt of p = %g", p), slope, want, 0.0005)
	}
	slope, _, err := EthanolWaterSlopes(0.96, 20)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "dρ/dp of p = 0.96", slope, -289, 0.5)
}

// drawMixture draws a strength and a temperature at which it is liquid.
func drawMixture(t *rapid.T) (p float64, at quantity.Temperature) {
	p = rapid.Float64Range(0, 1).Draw(t, "p")
	coldest := max(-20, EthanolFreezing(p).Celsius()) + 0.01
	return p, quantity.Temperature(rapid.Float64Range(coldest, 40).Draw(t, "t"))
}

func TestEthanolWaterSlopesAreDerivatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const dp, dt = 1e-5, 1e-3
		p := rapid.Float64Range(0.001, 0.999).Draw(t, "p")
		coldest := max(-19, EthanolFreezing(p).Celsius()+1) // room for a difference on both sides
		at := quantity.Temperature(rapid.Float64Range(coldest, 39.9).Draw(t, "t"))
		dRhoDp, dRhoDt, err := EthanolWaterSlopes(p, at)
		if err != nil {
			t.Fatal(err)
		}
		rho := func(p float64, at quantity.Temperature) float64 {
			d, err := EthanolWater(p, at)
			if err != nil {
				t.Fatal(err)
			}
			return d.KgPerM3()
		}
		byP := (rho(p+dp, at) - rho(p-dp, at)) / (2 * dp)
		byT := (rho(p, at+dt) - rho(p, at-dt)) / (2 * dt)
		if math.Abs(byP-dRhoDp) > 1e-3 || math.Abs(byT-dRhoDt) > 1e-5 {
			t.Errorf("slopes %g, %g; differences %g, %g", dRhoDp, dRhoDt, byP, byT)
		}
	})
}

func TestEthanolWaterRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, at := drawMixture(t)
		rho, err := EthanolWater(p, at)
		if err != nil {
			t.Fatal(err)
		}
		back, err := EthanolMassFractionFromDensity(rho, at)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(back-p) > 1e-9 {
			t.Errorf("p = %.12g at %g °C comes back from its density as %.12g", p, at, back)
		}
		q, err := EthanolVolumeFraction20(p)
		if err != nil {
			t.Fatal(err)
		}
		again, err := EthanolMassFraction(q)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(again-p) > 1e-9 || q < p-1e-15 {
			t.Errorf("p = %.12g has volume fraction %.12g and comes back as %.12g", p, q, again)
		}
	})
}

// More ethanol is always lighter; warmer is lighter save for weak mixtures near the freezing
// line, which have a density maximum as water has.
func TestEthanolWaterLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, at := drawMixture(t)
		stronger := p + rapid.Float64Range(1e-6, 1).Draw(t, "step")*(1-p)
		weak, err1 := EthanolWater(p, at)
		strong, err2 := EthanolWater(stronger, at)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		if stronger-p > 1e-9 && strong >= weak {
			t.Errorf("at %g °C p = %g is not lighter than p = %g: %.9f, %.9f", at, stronger, p, strong, weak)
		}
		_, slope, err := EthanolWaterSlopes(p, at)
		if err != nil {
			t.Fatal(err)
		}
		if (at > 4 || p > 0.25) && slope >= 0 {
			t.Errorf("p = %g at %g °C gets denser when it gets warmer: %g", p, at, slope)
		}
	})
}

func TestEthanolEnds(t *testing.T) {
	for _, c := range []struct{ in, want float64 }{{0, 0}, {1, 1}} {
		p, err1 := EthanolMassFraction(c.in)
		q, err2 := EthanolVolumeFraction20(c.in)
		if err1 != nil || err2 != nil || p != c.want || q != c.want {
			t.Errorf("fraction %g: mass %g, volume %g (%v, %v), want %g", c.in, p, q, err1, err2, c.want)
		}
	}
	// A density beyond an end by less than the uncertainty of the formula is that end.
	p, err := EthanolMassFractionFromDensity(quantity.KgPerM3(789.22), 20)
	if err != nil || p != 1 {
		t.Errorf("789.22 kg/m³ at 20 °C: p = %g, %v, want 1", p, err)
	}
	p, err = EthanolMassFractionFromDensity(quantity.KgPerM3(998.22), 20)
	if err != nil || p != 0 {
		t.Errorf("998.22 kg/m³ at 20 °C: p = %g, %v, want 0", p, err)
	}
}

func TestEthanolFreezing(t *testing.T) {
	near(t, "freezing point of water", EthanolFreezing(0).Celsius(), 0, 0)
	// Lange's Handbook, Table 5.13, rows that the line is not drawn through: it goes through other
	// tables' points, which lie up to 1.5 K lower.
	for percent, celsius := range map[float64]float64{11.3: -5.0, 13.8: -6.1, 16.4: -7.5, 20.3: -10.6, 24.2: -14.0, 29.9: -18.9} {
		near(t, fmt.Sprintf("freezing point of %g %% mass", percent), EthanolFreezing(percent/100).Celsius(), celsius, 1.5)
	}
	for percent := 0; percent < 31; percent++ {
		p := float64(percent) / 100
		line := EthanolFreezing(p)
		if next := EthanolFreezing(p + 0.01); next >= line {
			t.Errorf("the freezing line does not fall from %d %%: %g, %g °C", percent, line, next)
		}
		if line < -20 {
			continue
		}
		near(t, fmt.Sprintf("weakest mixture liquid at %g °C", line), weakestLiquid(line.Celsius()), p, 1e-12)
		const what = "temperature of the ethanol-water mixture"
		_, err := EthanolWater(p, line-0.02)
		refuses(t, err, what)
		if _, err := EthanolWater(p, line+0.02); err != nil {
			t.Errorf("p = %g just above the freezing line: %v", p, err)
		}
	}
}

func TestEthanolWaterRefuses(t *testing.T) {
	const (
		mass        = "mass fraction of ethanol"
		volume      = "volume fraction of ethanol"
		temperature = "temperature of the ethanol-water mixture"
		density     = "density of the ethanol-water mixture"
	)
	for _, x := range append(notNumbers, -0.001, 1.001, 96) {
		_, err := EthanolWater(x, 20)
		refuses(t, err, mass)
		_, _, err = EthanolWaterSlopes(x, 20)
		refuses(t, err, mass)
		_, err = EthanolVolumeFraction20(x)
		refuses(t, err, mass)
		_, err = EthanolMassFraction(x)
		refuses(t, err, volume)
	}
	for _, x := range append(notNumbers, -20.001, 40.001) {
		at := quantity.Temperature(x)
		_, err := EthanolWater(0.9, at)
		refuses(t, err, temperature)
		_, _, err = EthanolWaterSlopes(0.9, at)
		refuses(t, err, temperature)
		_, err = EthanolMassFractionFromDensity(quantity.KgPerM3(800), at)
		refuses(t, err, temperature)
	}
	for _, x := range append(notNumbers, 0.7892, 789.1, 998.3) {
		_, err := EthanolMassFractionFromDensity(quantity.KgPerM3(x), 20)
		refuses(t, err, density)
	}
	// Ice: water of the right density at -10 °C is not the answer to a density of 990.
	_, err := EthanolMassFractionFromDensity(quantity.KgPerM3(990), -10)
	refuses(t, err, density)
}

func BenchmarkEthanolWater(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := EthanolWater(0.9384, 21.84); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkEthanolMassFractionFromDensity(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := EthanolMassFractionFromDensity(quantity.KgPerM3(807.42), 20); err != nil {
			b.Fatal(err)
		}
	}
}
