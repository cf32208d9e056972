package uncertainty

import "testing"

// The 95 % interval of the seven-input hanging weighing by Propagate.
func BenchmarkMonteCarloInterval(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Propagate(hangingInputs, hanging, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// The same by 10^6 random trials; doc/bench/hanging_numpy.py does it with numpy.
func BenchmarkPlainMillion(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Plain(hangingInputs, hanging, Trials{Seed: 1}); err != nil {
			b.Fatal(err)
		}
	}
}

// The twelve-input budget of worked example A.
func BenchmarkFirstOrder(b *testing.B) {
	b.ReportAllocs()
	inputs := ringInputs()
	for b.Loop() {
		if _, err := FirstOrder(inputs, ringModel, 0.95); err != nil {
			b.Fatal(err)
		}
	}
}

// The same without the rows, in memory that is used again.
func BenchmarkLinearise(b *testing.B) {
	b.ReportAllocs()
	inputs := ringInputs()
	model := func(x, out []float64) { out[0] = ringModel(x) }
	var l Linear
	total := 0.0
	for b.Loop() {
		if err := l.Linearise(inputs, model, 1); err != nil {
			b.Fatal(err)
		}
		total += StudentQuantile(0.975, l.Dof(0)) * l.U(0)
	}
}

func BenchmarkStudentQuantile(b *testing.B) {
	for _, row := range []struct {
		name string
		nu   float64
	}{{"3.3", 3.3}, {"4", 4}, {"11.5", 11.5}, {"88.41", 88.41}} {
		b.Run(row.name, func(b *testing.B) {
			for b.Loop() {
				StudentQuantile(0.975, row.nu)
			}
		})
	}
}

func BenchmarkStudentCDF(b *testing.B) {
	for _, row := range []struct {
		name string
		nu   float64
	}{{"3.3", 3.3}, {"4", 4}, {"11.5", 11.5}, {"88.41", 88.41}} {
		b.Run(row.name, func(b *testing.B) {
			for b.Loop() {
				StudentCDF(2.1, row.nu)
			}
		})
	}
}
