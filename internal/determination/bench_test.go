package determination

import (
	"os"
	"testing"
)

func ring(tb testing.TB) *Draft {
	tb.Helper()
	data, err := os.ReadFile("../../examples/ring.json")
	if err != nil {
		tb.Fatal(err)
	}
	d, err := Decode(data)
	if err != nil {
		tb.Fatal(err)
	}
	return d
}

// BenchmarkDetermine: a full determination with budget, fineness over all families, candidates
// and finding, by the first-order law.
func BenchmarkDetermine(b *testing.B) {
	d := ring(b)
	d.Item.Colour, d.Claim.Family = "", "" // so that every family of gold is judged
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Evaluate(d, Options{MonteCarlo: WhereNeeded}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkDetermineWithOtherVolumes: the same with a second liquid and a caliper, which the faults are held
// against once more.
func BenchmarkDetermineWithOtherVolumes(b *testing.B) {
	d := ring(b)
	d.Item.Colour, d.Claim.Family = "", ""
	d.SecondLiquid = &SecondLiquid{Kind: "ethanol-water", EthanolMassPercent: new(93.), TemperatureC: new(20.), LiquidG: []Reading{{Gram: 7.0346, Interval: 0.0001}}}
	d.Evidence = []Evidence{{Kind: "size", Shape: "coin", DiameterMM: new(20.), ThicknessMM: new(1.9)}}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Evaluate(d, Options{MonteCarlo: WhereNeeded}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkDetermineWithMonteCarlo: the same with the distributions propagated.
func BenchmarkDetermineWithMonteCarlo(b *testing.B) {
	d := ring(b)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Evaluate(d, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDecode(b *testing.B) {
	data, err := os.ReadFile("../../examples/ring.json")
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Decode(data); err != nil {
			b.Fatal(err)
		}
	}
}
