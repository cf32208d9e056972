package evidence

import (
	"math"
	"testing"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.6g, want %.6g within %g", what, got, want, tolerance)
	}
}

// Materials with ranges that are known, from the tables of metals: CRC speeds of sound, and
// conductivities.
var (
	fineGold = Material{SpecificVolume: Range{1 / 19.30, 1 / 19.27}, Magnet: NoPull, Conductivity: Range{70 * PerPercentIACS, 78.5 * PerPercentIACS}, Sound: Around(3240, 0.03), Metal: "gold", Fineness: 0.9999}
	tungsten = Material{SpecificVolume: Range{1 / 19.30, 1 / 19.20}, Magnet: NoPull, Conductivity: Around(32.7*PerPercentIACS, 0.15), Sound: Around(5220, 0.04)}
	steel    = Material{SpecificVolume: Range{1 / 7.88, 1 / 7.80}, Magnet: StrongPull, Conductivity: Around(17.9*PerPercentIACS, 0.15), Sound: Around(5950, 0.04)}
	core     = Material{SpecificVolume: Range{1 / 19.25, 1 / 8.9}}
	gold750  = Material{SpecificVolume: Range{1 / 15.7, 1 / 15.0}, Magnet: NoPull, Metal: "gold", Fineness: 0.750, Rest: []Part{{"silver", 0.8}, {"copper", 0.8}}}
	gold585  = Material{SpecificVolume: Range{1 / 14.0, 1 / 12.9}, Magnet: NoPull, Metal: "gold", Fineness: 0.585, Rest: []Part{{"silver", 0.7}, {"copper", 0.7}}}
	ruby     = Material{Index: Range{1.762, 1.770}, Birefringence: Range{0.008, 0.008}}
	strass   = Material{Index: Range{1.58, 1.70}}
)

func materials() []*Material {
	return []*Material{&fineGold, &tungsten, &steel, &core, &gold750, &gold585, &ruby, &strass, {}}
}

func tests() []Piece {
	return []Piece{
		Magnet{NoPull}, Magnet{WeakPull}, Magnet{StrongPull},
		Conductivity{43, 1.3}, Conductivity{7, 0.2}, Sound{3240, 30}, Sound{5200, 50},
		Disc(32.7, 2.83, 0.02, 31.1), Block(40, 20, 2, 0.02, 31.1),
		Surface{[]Part{{"gold", 0.75}, {"silver", 0.125}, {"copper", 0.125}}, 0.005}, Surface{[]Part{{"copper", 0.7}, {"zinc", 0.3}}, 0.005},
		Touchstone{"gold", 0.585, 0.02}, Touchstone{"silver", 0.925, 0.02},
		Refraction{Low: 1.762, High: 1.770, U: 0.002, Birefringence: 0.008, UBirefringence: 0.001}, Refraction{Above: 1.81, U: 0.002, Birefringence: -1},
	}
}

// No test ever rules anything out, and none speaks more strongly than one to its error rate.
func TestLikelihoodsAreBoundedByTheErrorRate(t *testing.T) {
	for _, p := range tests() {
		rate, ok := RateOf(p.Kind())
		if !ok || !(rate.Error > 0 && rate.Error < 0.5) || rate.Source == "" || rate.Sees == "" {
			t.Fatalf("%s: no proper rate: %+v", p.Kind(), rate)
		}
		for i, m := range materials() {
			l, says := p.Likelihood(m)
			if !(l >= rate.Error && l <= 1) {
				t.Errorf("%s %+v of material %d: likelihood %g is not from %g to 1", p.Kind(), p, i, l, rate.Error)
			}
			if !says && l != 1 {
				t.Errorf("%s of material %d: says nothing and yet gives %g", p.Kind(), i, l)
			}
		}
	}
}

// A test that knows nothing of a material leaves it where it was.
func TestUnknownPropertiesSayNothing(t *testing.T) {
	for _, p := range tests() {
		if l, says := p.Likelihood(&Material{}); says || l != 1 {
			t.Errorf("%s speaks of a material of which nothing is known: %g", p.Kind(), l)
		}
	}
	for _, p := range []Piece{Surface{[]Part{{"gold", 0.75}}, 0.005}, Touchstone{"gold", 0.75, 0.02}} {
		if _, says := p.Likelihood(&tungsten); says {
			t.Errorf("%s speaks of what may lie under plate", p.Kind())
		}
	}
}

// The farther a reading lies outside a range, the lower its likelihood; inside it is 1.
func TestLikelihoodFallsWithDistance(t *testing.T) {
	for _, row := range []struct {
		name         string
		at           func(x float64) Piece
		material     *Material
		inside       float64
		below, above float64 // the first points outside
		step         float64
	}{
		{"conductivity", func(x float64) Piece { return Conductivity{x, 1} }, &fineGold, 43, 40, 46, 0.7},
		{"sound", func(x float64) Piece { return Sound{x, 40} }, &tungsten, 5220, 5000, 5440, 40},
		{"touchstone", func(x float64) Piece { return Touchstone{"gold", x, 0.02} }, &gold750, 0.75, 0.749, 0.751, 0.01},
		{"refraction", func(x float64) Piece { return Refraction{Low: x, High: x, U: 0.002, Birefringence: -1} }, &ruby, 1.765, 1.761, 1.771, 0.001},
		{"surface", func(x float64) Piece { return Surface{[]Part{{"gold", x}}, 0.005} }, &gold750, 0.75, 0.749, 0.751, 0.003},
		{"thickness", func(x float64) Piece { return Disc(30, x, 0.02, 31.1) }, &fineGold, 2.9, 2.2, 4.0, 0.02},
	} {
		if l, _ := row.at(row.inside).Likelihood(row.material); l < 0.999 {
			t.Errorf("%s inside its range: likelihood %g", row.name, l)
		}
		for _, side := range []float64{-1, 1} {
			from := row.above
			if side < 0 {
				from = row.below
			}
			before := 1.0
			for k := range 12 {
				l, says := row.at(from + side*float64(k)*row.step).Likelihood(row.material)
				if !says || l > before+1e-12 {
					t.Errorf("%s: %g steps of %g beyond %g the likelihood rises from %g to %g", row.name, side*float64(k), row.step, from, before, l)
				}
				before = l
			}
			if before > 0.2 {
				t.Errorf("%s: far outside the likelihood is still %g", row.name, before)
			}
		}
	}
}

// Widening what is known of a material never makes it less likely: whoever chooses is not called
// innocent for having a choice.
func TestAWiderRangeIsNotLessLikely(t *testing.T) {
	narrow := Material{Sound: Around(5220, 0.02), Conductivity: Around(19, 0.02), SpecificVolume: Range{1 / 19.3, 1 / 19.2}, Magnet: NoPull, Index: Range{1.76, 1.77}}
	wide := Material{Sound: Around(5220, 0.3), Conductivity: Around(19, 0.5), SpecificVolume: Range{1 / 19.3, 1 / 12.}, Magnet: NoPull | WeakPull | StrongPull, Index: Range{1.5, 2}}
	for _, p := range tests() {
		a, _ := p.Likelihood(&narrow)
		b, _ := p.Likelihood(&wide)
		if b < a {
			t.Errorf("%s %+v: %g with a wide range, %g with a narrow one", p.Kind(), p, b, a)
		}
	}
}

// Fine gold and tungsten: 2.00 mm of each give echoes after 1.235 and 0.766 µs (computed from the CRC
// speeds 3240 and 5220 m/s), and conductivities of 78 and 33 % IACS.
func TestGoldAgainstTungsten(t *testing.T) {
	near(t, "echo in gold", Echo(2, 0.02, 1.235, 0.01).Velocity, 3240, 2)
	near(t, "echo in tungsten", Echo(2, 0.02, 0.766, 0.01).Velocity, 5220, 4)
	near(t, "u of the echo in gold", Echo(2, 0.02, 1.235, 0.01).U, 3240*math.Hypot(0.01, 0.01/1.235), 1)
	for _, p := range []Piece{Echo(2, 0.02, 1.235, 0.01), Conductivity{77.9 * PerPercentIACS, 1.4}} {
		gold, _ := p.Likelihood(&fineGold)
		w, _ := p.Likelihood(&tungsten)
		rate, _ := RateOf(p.Kind())
		if gold < 0.9 || w > 1.2*rate.Error {
			t.Errorf("%s of gold: gold %g, tungsten %g", p.Kind(), gold, w)
		}
	}
	gold, _ := Magnet{NoPull}.Likelihood(&fineGold)
	w, _ := Magnet{NoPull}.Likelihood(&tungsten)
	if gold != w {
		t.Errorf("a magnet that does not pull tells gold (%g) from tungsten (%g)", gold, w)
	}
}

// A disc of 32.7 mm and 2.83 mm holds 2.377 cm³; 31.1 g of gold need 1.612 cm³ of it, and copper of
// that mass would not go in.
func TestSize(t *testing.T) {
	size := Disc(32.7, 2.83, 0.02, 31.1)
	near(t, "volume", size.Volume, math.Pi/4*3.27*3.27*0.283, 1e-12)
	if l, _ := size.Likelihood(&fineGold); l != 1 {
		t.Errorf("gold goes in: %g", l)
	}
	copper := Material{SpecificVolume: Range{1 / 8.96, 1 / 8.89}}
	if l, _ := size.Likelihood(&copper); l > 0.021 {
		t.Errorf("31.1 g of copper need %.3g cm³ and yet go in: %g", 31.1/8.93, l)
	}
	block := Block(47, 27, 4.2, 0.02, 100)
	near(t, "block", block.Volume, 5.3298, 1e-9)
	near(t, "relative u of the block", block.U/block.Volume, math.Sqrt(square(0.02/47)+square(0.02/27)+square(0.02/4.2)), 1e-12)
}

// Skins are enriched and plated: a surface that reads finer than the piece speaks less strongly than
// one that reads poorer.
func TestSkinFinerThanThePiece(t *testing.T) {
	finer, _ := Surface{[]Part{{"gold", 0.75}}, 0.005}.Likelihood(&gold585)
	poorer, _ := Surface{[]Part{{"gold", 0.585}}, 0.005}.Likelihood(&gold750)
	if !(finer > 2*poorer) {
		t.Errorf("finer %g, poorer %g", finer, poorer)
	}
	other, says := Surface{[]Part{{"gold", 0.75}, {"nickel", 0.12}}, 0.005}.Likelihood(&gold750)
	if !says || other > 0.05 {
		t.Errorf("nickel in gold that has none: %g", other)
	}
}

func TestTables(t *testing.T) {
	for _, a := range AlloyConductivities() {
		if !(a.From > 0 && a.From < a.To && a.Range.Low > 0 && a.Range.Low < a.Range.High && a.Range.High < 65) || a.Source == "" {
			t.Errorf("%+v", a)
		}
		if got := ConductivityOf(a.Family, (a.From+a.To)/2); got != a.Range {
			t.Errorf("%s: %v", a.Family, got)
		}
	}
	if r := ConductivityOf("gold-yellow", 0.417); r.Known() {
		t.Errorf("a conductivity of 417 yellow gold is made up: %v", r)
	}
}

func BenchmarkLikelihood(b *testing.B) {
	b.ReportAllocs()
	list, all := tests(), materials()
	for b.Loop() {
		for _, p := range list {
			for _, m := range all {
				p.Likelihood(m)
			}
		}
	}
}
