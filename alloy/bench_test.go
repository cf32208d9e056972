package alloy

import "testing"

// BenchmarkPosterior is one family and one measurement, workspace reused.
func BenchmarkPosterior(b *testing.B) {
	for _, c := range []struct {
		key     string
		density float64
		dof     float64
	}{
		{"gold-yellow", 15.4, 0}, {"gold-2n-3n", 15.4, 0}, {"gold-white-palladium", 15.4, 0}, {"gold-fine", 19.28, 0},
		{"silver-copper", 10.36, 0}, {"platinum-ruthenium", 20.7, 0}, {"gold-yellow", 15.4, 2},
	} {
		name := c.key
		if c.dof > 0 {
			name += "-t"
		}
		b.Run(name, func(b *testing.B) {
			f := family(b, c.key)
			ws := &Workspace{}
			b.ReportAllocs()
			for b.Loop() {
				f.Posterior(Observation{V: 1 / c.density, U: 0.001 / c.density, Dof: c.dof}, ws)
			}
		})
	}
}

// BenchmarkAllFamilies judges one measurement by every candidate family of every metal, with
// quantiles and range: what a determination needs.
func BenchmarkAllFamilies(b *testing.B) {
	ws := &Workspace{}
	families := Families()
	o := Observation{V: 1 / 15.4, U: 0.001 / 15.4}
	b.ReportAllocs()
	for b.Loop() {
		for _, f := range families {
			if f.Role != Candidate {
				continue
			}
			if p, ok := f.Posterior(o, ws); ok {
				p.Quantile(0.025)
				p.Quantile(0.5)
				p.Quantile(0.975)
				f.Range(o, 2, true)
			}
		}
	}
}

func BenchmarkMix(b *testing.B) {
	p := Parts{{"Au", 0.585}, {"Ag", 0.2}, {"Cu", 0.18}, {"Zn", 0.035}}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Mix(p, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
