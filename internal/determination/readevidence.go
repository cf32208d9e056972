package determination

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"wreath/alloy"
	"wreath/evidence"
)

// resolveEvidence checks each piece and turns it into a test.
func (e *evaluation) resolveEvidence(c claim) error {
	e.pieces = e.pieces[:0]
	for i := range e.draft.Evidence {
		d := &e.draft.Evidence[i]
		p := piece{field: fmt.Sprintf("evidence[%d]", i), kind: d.Kind, off: d.Off}
		if d.Kind == "" {
			return bad(p.field+".kind", "One of "+strings.Join(EvidenceKinds, ", ")+".", "is missing")
		}
		if err := oneOf(p.field+".kind", d.Kind, EvidenceKinds...); err != nil {
			return err
		}
		p.rate, _ = evidence.RateOf(d.Kind)
		p.group = slices.Index(groups[:], p.rate.Group)
		if err := d.onlyItsOwn(p.field); err != nil {
			return err
		}
		var err error
		switch d.Kind {
		case "size":
			err = e.resolveSize(&p, d)
		case "magnet":
			err = p.resolveMagnet(d)
		case "conductivity":
			err = p.resolveConductivity(d)
		case "sound":
			err = p.resolveSound(d)
		case "surface":
			err = p.resolveSurface(d)
		case "touchstone":
			err = p.resolveTouchstone(d, c)
		case "refraction":
			err = p.resolveRefraction(d)
		}
		if err != nil {
			return err
		}
		e.pieces = append(e.pieces, p)
	}
	return nil
}

// fieldsOf are the fields that each kind takes.
var fieldsOf = map[string][]string{
	"size":         {"shape", "diameter_mm", "thickness_mm", "length_mm", "width_mm", "u_mm"},
	"magnet":       {"result"},
	"conductivity": {"percent_iacs", "ms_per_m", "u_percent"},
	"sound":        {"velocity_m_per_s", "echo_us", "u_echo_us", "thickness_mm", "u_mm", "u_percent"},
	"surface":      {"parts", "u_ppt"},
	"touchstone":   {"metal", "fineness_ppt", "u_ppt"},
	"refraction":   {"index", "index_above", "u_index", "birefringence", "u_birefringence"},
}

// onlyItsOwn refuses a field that belongs to another kind of test: it would be lost in silence.
func (d *Evidence) onlyItsOwn(field string) error {
	for _, f := range []struct {
		name  string
		given bool
	}{
		{"shape", d.Shape != ""}, {"diameter_mm", d.DiameterMM != nil}, {"thickness_mm", d.ThicknessMM != nil},
		{"length_mm", d.LengthMM != nil}, {"width_mm", d.WidthMM != nil}, {"u_mm", d.UMM != nil},
		{"result", d.Result != ""}, {"percent_iacs", d.PercentIACS != nil}, {"ms_per_m", d.MSPerM != nil}, {"u_percent", d.UPercent != nil},
		{"velocity_m_per_s", d.VelocityMPerS != nil}, {"echo_us", d.EchoUs != nil}, {"u_echo_us", d.UEchoUs != nil},
		{"metal", d.Metal != ""}, {"fineness_ppt", d.FinenessPpt != nil}, {"u_ppt", d.UPpt != nil}, {"parts", d.Parts != nil},
		{"index", d.Index != nil}, {"index_above", d.IndexAbove != nil}, {"u_index", d.UIndex != nil},
		{"birefringence", d.Birefringence != nil}, {"u_birefringence", d.UBirefringence != nil},
	} {
		if f.given && !slices.Contains(fieldsOf[d.Kind], f.name) {
			return bad(field+"."+f.name, fmt.Sprintf("%s takes: %s.", d.Kind, strings.Join(fieldsOf[d.Kind], ", ")), "does not belong to evidence of the kind %s", d.Kind)
		}
	}
	return nil
}

func (e *evaluation) resolveSize(p *piece, d *Evidence) error {
	if err := oneOf(p.field+".shape", d.Shape, "coin", "bar"); err != nil {
		return err
	}
	for _, f := range []struct {
		name  string
		value *float64
		high  float64
	}{{"diameter_mm", d.DiameterMM, 300}, {"thickness_mm", d.ThicknessMM, 200}, {"length_mm", d.LengthMM, 500}, {"width_mm", d.WidthMM, 300}} {
		if err := within(p.field+"."+f.name, f.value, 0.1, f.high, "mm"); err != nil {
			return err
		}
	}
	if err := within(p.field+".u_mm", d.UMM, 0.0005, 5, "mm"); err != nil {
		return err
	}
	p.u = or(d.UMM, 0.02)
	if d.UMM == nil {
		e.assume(p.field+".u_mm", "an ordinary calliper", "0.02 mm")
	}
	p.hint = "Measure the sides again, each at three places; look for a rim, a hollow, or a part that is not metal."
	bar := d.LengthMM != nil || d.WidthMM != nil
	switch {
	case bar && d.DiameterMM != nil || bar && d.Shape == "coin" || d.Shape == "bar" && d.DiameterMM != nil:
		return bad(p.field, "A coin has diameter_mm and thickness_mm, a bar has length_mm, width_mm and thickness_mm.", "mixes the sides of a coin and of a bar")
	case bar || d.Shape == "bar":
		if d.LengthMM == nil || d.WidthMM == nil || d.ThicknessMM == nil {
			return bad(p.field, "Give length_mm, width_mm and thickness_mm.", "a bar needs three sides")
		}
		size := evidence.Block(*d.LengthMM, *d.WidthMM, *d.ThicknessMM, p.u, e.answer.TrueMassG)
		p.says = fmt.Sprintf("the outline of %.4g × %.4g × %.4g mm holds %.4g cm³", *d.LengthMM, *d.WidthMM, *d.ThicknessMM, size.Volume)
		p.test = size
		return e.sizeCanBe(p, size)
	}
	p.diameter, p.thickness = or(d.DiameterMM, 0), or(d.ThicknessMM, 0)
	if p.diameter == 0 && p.thickness == 0 {
		return bad(p.field, "Give diameter_mm and thickness_mm of a coin, or three sides of a bar.", "holds no size")
	}
	if p.thickness > 0 && p.diameter > 0 && p.thickness >= p.diameter {
		return bad(p.field+".thickness_mm", "Were the two swapped?", "a coin of %g mm diameter can't be %g mm thick", p.diameter, p.thickness)
	}
	diameter := p.diameter
	if t := e.coinType; t != nil && diameter == 0 {
		diameter = t.Diameter
	}
	if p.thickness == 0 || diameter == 0 {
		if e.coinType == nil {
			name := "diameter_mm"
			if p.thickness == 0 {
				name = "thickness_mm"
			}
			return bad(p.field+"."+name, "Give both, or name the type of coin (item.type).", "is missing")
		}
		p.says = fmt.Sprintf("diameter %.4g mm", p.diameter)
		if p.diameter == 0 {
			p.says = fmt.Sprintf("thickness %.4g mm", p.thickness)
		}
		p.says += ", held against the type only"
		return nil
	}
	size := evidence.Disc(diameter, p.thickness, p.u, e.answer.TrueMassG)
	p.says = fmt.Sprintf("the outline of %.4g mm across and %.4g mm thick over the rim holds %.4g cm³", diameter, p.thickness, size.Volume)
	p.test = size
	return e.sizeCanBe(p, size)
}

// sizeCanBe refuses an outline in which nothing that exists would have the mass.
func (e *evaluation) sizeCanBe(p *piece, size evidence.Size) error {
	if dense := size.Mass / size.Volume; dense > densestKnown*1.05 {
		return bad(p.field, "Check the sides and their unit; millimetres are asked.", "a solid of this outline and mass would have %.3g g/cm³, denser than anything", dense)
	}
	if light := size.Mass / (size.Least * size.Volume); light < 0.5 {
		return bad(p.field, "Check the sides and their unit; millimetres are asked.", "an item of this outline and mass would have %.2g g/cm³ only", light)
	}
	return nil
}

func (p *piece) resolveMagnet(d *Evidence) error {
	if d.Result == "" {
		return bad(p.field+".result", "none, weak or strong.", "is missing")
	}
	if err := oneOf(p.field+".result", d.Result, "none", "weak", "strong"); err != nil {
		return err
	}
	p.test = evidence.Magnet{Result: pulls[d.Result]}
	p.says = map[string]string{"none": "a magnet does not attract it", "weak": "a magnet attracts it weakly", "strong": "a magnet attracts it strongly"}[d.Result]
	p.hint = "Try the magnet again on a bare place away from clasp, pin and spring; a nickel plating or a steel part attracts too."
	return nil
}

func (p *piece) resolveConductivity(d *Evidence) error {
	if err := firstError(within(p.field+".percent_iacs", d.PercentIACS, 0.1, 115, "% IACS"), within(p.field+".ms_per_m", d.MSPerM, 0.05, 66, "MS/m"),
		within(p.field+".u_percent", d.UPercent, 0.1, 50, "percent")); err != nil {
		return err
	}
	value := or(d.MSPerM, 0)
	switch {
	case d.PercentIACS != nil && d.MSPerM != nil:
		return bad(p.field+".ms_per_m", "Give percent_iacs or ms_per_m, one of the two.", "is given together with percent_iacs")
	case d.PercentIACS != nil:
		value = *d.PercentIACS * evidence.PerPercentIACS
	case d.MSPerM == nil:
		return bad(p.field+".percent_iacs", "Give percent_iacs, or ms_per_m.", "is missing")
	}
	p.test = evidence.Conductivity{Value: value, U: value * or(d.UPercent, 3) / 100}
	p.says = fmt.Sprintf("its conductivity is %.3g %% IACS (%.3g MS/m)", value/evidence.PerPercentIACS, value)
	p.hint = "Measure the conductivity again on a flat, thick place, at room temperature, beside a sample of the metal claimed."
	return nil
}

func (p *piece) resolveSound(d *Evidence) error {
	if err := firstError(within(p.field+".velocity_m_per_s", d.VelocityMPerS, 500, 15000, "m/s"), within(p.field+".echo_us", d.EchoUs, 0.02, 500, "µs"),
		within(p.field+".u_echo_us", d.UEchoUs, 0.0001, 50, "µs"), within(p.field+".thickness_mm", d.ThicknessMM, 0.2, 200, "mm"),
		within(p.field+".u_mm", d.UMM, 0.0005, 5, "mm"), within(p.field+".u_percent", d.UPercent, 0.05, 30, "percent")); err != nil {
		return err
	}
	var s evidence.Sound
	switch {
	case d.VelocityMPerS != nil && (d.EchoUs != nil || d.ThicknessMM != nil):
		return bad(p.field+".velocity_m_per_s", "Give the velocity, or echo_us with thickness_mm.", "is given together with an echo")
	case d.VelocityMPerS != nil:
		s = evidence.Sound{Velocity: *d.VelocityMPerS, U: *d.VelocityMPerS * or(d.UPercent, 1) / 100}
	case d.EchoUs == nil || d.ThicknessMM == nil:
		return bad(p.field+".velocity_m_per_s", "Give velocity_m_per_s, or echo_us with thickness_mm.", "is missing")
	default:
		s = evidence.Echo(*d.ThicknessMM, or(d.UMM, 0.02), *d.EchoUs, or(d.UEchoUs, 0.01))
		if s.Velocity < 500 || s.Velocity > 15000 {
			return bad(p.field+".echo_us", "Time between two echoes of the back wall in microseconds, thickness in millimetres.", "with %g mm it gives %.3g m/s, which no solid has", *d.ThicknessMM, s.Velocity)
		}
	}
	p.test = s
	p.says = fmt.Sprintf("sound runs through it at %.4g m/s", s.Velocity)
	p.hint = "Measure the sound again at three places, with the thickness there; a second echo must take twice the time."
	return nil
}

// surfaceMetals are the metals that a surface analysis may name.
var surfaceMetals = sync.OnceValue(func() (names []string) {
	for _, m := range alloy.Metals() {
		names = append(names, m.Name)
	}
	return names
})

func (p *piece) resolveSurface(d *Evidence) error {
	if err := within(p.field+".u_ppt", d.UPpt, 0.1, 200, "parts per thousand"); err != nil {
		return err
	}
	if len(d.Parts) == 0 {
		return bad(p.field+".parts", `Such as [{"metal": "gold", "ppt": 752}, {"metal": "silver", "ppt": 125}].`, "is missing")
	}
	test := evidence.Surface{U: or(d.UPpt, 5) / 1000}
	sum, words := 0.0, []string{}
	for i := range d.Parts {
		part := &d.Parts[i]
		field := fmt.Sprintf("%s.parts[%d]", p.field, i)
		if part.Metal == "" || part.Ppt == nil {
			return bad(field, "Each part has a metal and ppt.", "lacks its metal or its ppt")
		}
		if err := firstError(oneOf(field+".metal", part.Metal, surfaceMetals()...), within(field+".ppt", part.Ppt, 0, 1000, "parts per thousand")); err != nil {
			return err
		}
		if slices.ContainsFunc(test.Parts, func(x evidence.Part) bool { return x.Metal == part.Metal }) {
			return bad(field+".metal", "Name each metal once.", "%s is named twice", part.Metal)
		}
		sum += *part.Ppt
		test.Parts = append(test.Parts, evidence.Part{Metal: part.Metal, Fraction: *part.Ppt / 1000})
		words = append(words, fmt.Sprintf("%s %.4g", part.Metal, *part.Ppt))
	}
	if sum > 1000+3*1000*test.U {
		return bad(p.field+".parts", "They are parts per thousand by mass and add up to 1000 at most.", "adds up to %.5g parts per thousand", sum)
	}
	p.test = test
	p.says = "the surface reads " + strings.Join(words, ", ") + " parts per thousand"
	p.hint = "File a notch at a hidden place, with consent, and analyse the bottom of it: the surface may be plated or enriched."
	return nil
}

func (p *piece) resolveTouchstone(d *Evidence, c claim) error {
	if err := firstError(oneOf(p.field+".metal", d.Metal, "gold", "silver", "platinum", "palladium"),
		within(p.field+".fineness_ppt", d.FinenessPpt, 30, 1000, "parts per thousand"), within(p.field+".u_ppt", d.UPpt, 1, 300, "parts per thousand")); err != nil {
		return err
	}
	metal := cmp.Or(d.Metal, c.metal)
	switch {
	case metal == "":
		return bad(p.field+".metal", "gold, silver, platinum or palladium.", "is missing, and no metal is claimed")
	case d.FinenessPpt == nil:
		return bad(p.field+".fineness_ppt", "The fineness of the needle whose streak it matches, in parts per thousand.", "is missing")
	}
	p.test = evidence.Touchstone{Metal: metal, Fineness: *d.FinenessPpt / 1000, U: or(d.UPpt, 20) / 1000}
	p.says = fmt.Sprintf("its streak is that of %s %.4g", metal, *d.FinenessPpt)
	p.hint = "Draw the streak again from a filed place, beside two needles; mind the acid: gloves, goggles, air."
	return nil
}

func (p *piece) resolveRefraction(d *Evidence) error {
	if err := firstError(within(p.field+".index_above", d.IndexAbove, 1.3, 3.5, "(refractive index)"), within(p.field+".u_index", d.UIndex, 0.0002, 0.1, "(refractive index)"),
		within(p.field+".birefringence", d.Birefringence, 0, 0.4, "(difference of indices)"), within(p.field+".u_birefringence", d.UBirefringence, 0.0002, 0.05, "(difference of indices)")); err != nil {
		return err
	}
	for i := range d.Index {
		if err := within(fmt.Sprintf("%s.index[%d]", p.field, i), &d.Index[i], 1.3, 3.5, "(refractive index)"); err != nil {
			return err
		}
	}
	t := evidence.Refraction{U: or(d.UIndex, 0.002), Birefringence: or(d.Birefringence, -1), UBirefringence: or(d.UBirefringence, 0.001)}
	switch {
	case d.IndexAbove != nil && len(d.Index) > 0:
		return bad(p.field+".index_above", "Give index, or index_above where the reading is off the scale.", "is given together with index")
	case d.IndexAbove != nil && d.Birefringence != nil:
		return bad(p.field+".birefringence", "Leave it out.", "can't be read where the index is off the scale")
	case d.IndexAbove != nil:
		t.Above = *d.IndexAbove
		p.says = fmt.Sprintf("its refractive index is above %.4g", t.Above)
	case len(d.Index) == 0 || len(d.Index) > 2:
		return bad(p.field+".index", "One index, or the lowest and the highest; index_above where it is off the scale.", "holds %d numbers", len(d.Index))
	default:
		t.Low, t.High = slices.Min(d.Index), slices.Max(d.Index)
		if d.Birefringence != nil && t.High-t.Low > *d.Birefringence+5*math.Hypot(t.U, t.UBirefringence) {
			return bad(p.field+".birefringence", "It is the largest difference of the two indices.", "%g is less than the difference of the indices, %.3f", *d.Birefringence, t.High-t.Low)
		}
		p.says = fmt.Sprintf("its refractive index is %.4g", t.Low)
		if t.High > t.Low {
			p.says = fmt.Sprintf("its refractive indices are %.4g and %.4g", t.Low, t.High)
			if d.Birefringence == nil && len(d.Index) == 2 {
				t.Birefringence = t.High - t.Low
			}
		}
		if t.Birefringence >= 0 {
			p.says += fmt.Sprintf(", birefringence %.3f", t.Birefringence)
		}
	}
	p.test = t
	p.hint = "Clean table and prism, use little contact liquid (it is toxic: gloves, air), turn the stone through half a circle and read again on another facet."
	return nil
}
