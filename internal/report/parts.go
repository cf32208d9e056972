package report

import (
	"wreath/internal/determination"
	"wreath/uncertainty"
)

// expanded is the coverage factor of the parts: 95 % of a normal distribution.
const expanded = 1.96

// parts says of what an item of several materials consists.
func (t *page) parts(a *determination.Answer, details bool) {
	c := a.Composite
	if c == nil {
		return
	}
	t.say("Parts", "%s", c.Sentence)
	if c.Refused != "" {
		t.say("", "%s", upperFirst(c.Refused)+".")
	}
	for _, p := range c.Parts {
		switch {
		case p.DensityKgM3 == 0: // a hollow
			volume, u := uncertainty.Round(p.VolumeCm3, expanded*p.VolumeUCm3)
			t.say("", "%s: %s ± %s cm³", p.Name, volume, u)
		case p.MassUG == 0:
			t.say("", "%s: %.4g g, %.4g g/cm³", p.Name, p.MassG, p.DensityKgM3/1000)
		default:
			mass, u := uncertainty.Round(p.MassG, expanded*p.MassUG)
			t.say("", "%s: %s ± %s g, %.4g g/cm³", p.Name, mass, u, p.DensityKgM3/1000)
		}
	}
	for i, p := range c.Curve {
		if details || i%4 == 0 {
			t.say("", "with %.2f ct of stones the metal has %.4g g/cm³", p.StonesCt, p.MetalDensityKgM3/1000)
		}
	}
}

// stop says whether enough was weighed.
func (t *page) stop(a *determination.Answer) {
	if s := a.Stop; s != nil {
		t.say("Repeats", "%s: %s", s.Verdict, s.Why)
	}
}
