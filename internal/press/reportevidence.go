package press

import (
	"cmp"
	"math"
	"strconv"
	"strings"
	"time"

	"wreath/internal/record"
	"wreath/internal/sentence"
	"wreath/uncertainty"
)

// conditions are those of the weighing, with what was assumed and what was done otherwise.
func (d *report) conditions() {
	a := d.a
	d.heading("Conditions, assumptions and deviations")
	d.fact("Liquid and air", func(b *sentence.Book) []span {
		liquid, u := uncertainty.Round(a.LiquidDensityKgM3, 2*a.LiquidDensityUKgM3)
		words := b.Sayf("liquid at %.4g °C: %s kg/m³ ± %s kg/m³ (k = 2); air: %.4g kg/m³", a.Density.TemperatureC, liquid, u, a.AirDensityKgM3)
		if l := d.draft.Liquid; l != nil && cmp.Or(l.Name, l.Kind) != "" {
			words = b.Say(cmp.Or(l.Name, l.Kind)) + "; " + words
		}
		return []span{{text: words}}
	})
	d.fact("Assumed", func(b *sentence.Book) []span {
		var out []span
		for i, s := range a.Assumed {
			words := b.Say(s.Taken)
			if s.Reason != "" {
				words += " (" + b.Say(s.Reason) + ")"
			}
			if i > 0 {
				out = append(out, span{text: "\n"})
			}
			out = append(out, span{text: s.Field + ": ", soft: true}, span{text: words})
		}
		return out
	})
	d.fact("Added, left out or done otherwise", func(b *sentence.Book) []span {
		var out []span
		if r := d.f.Report; r != nil && r.Deviations != "" {
			out = append(out, span{text: r.Deviations})
		}
		for _, m := range d.f.Record.Marks {
			if len(out) > 0 {
				out = append(out, span{text: "\n"})
			}
			out = append(out, span{text: b.Say(m)})
		}
		if len(out) == 0 {
			out = []span{{text: b.Say("nothing")}}
		}
		return out
	})
	d.fact("Computed by", func(b *sentence.Book) []span {
		v := d.f.Record.Versions
		return []span{{text: b.Sayf("program %s, formulas %s, tables %s", v.Program, v.Formulas, v.Tables)}}
	})
}

// slots are the readings in words.
var slots = map[string]string{
	"air_g": "item in air", "liquid_g": "item in the liquid", "gain_g": "gain of the vessel", "closing_air_g": "item in air, at the end",
	"closing_zero_g": "empty hanger, at the end", "sinker_liquid_g": "sinker in the liquid", "coated_air_g": "coated item in air",
	"impregnated_air_g": "item full of oil, in air", "empty_g": "pycnometer, empty", "with_sample_g": "pycnometer with sample",
	"with_sample_and_liquid_g": "pycnometer with sample and liquid", "liquid_only_g": "pycnometer with liquid",
	"liquid.proof.air_g": "check piece in air", "liquid.proof.liquid_g": "check piece in the liquid", "liquid.proof.gain_g": "gain with the check piece",
	"second_liquid.liquid_g": "item in the second liquid", "second_liquid.gain_g": "gain in the second liquid",
	"reference.air_g": "reference solid in air", "reference.liquid_g": "reference solid in the liquid",
	"liquid.temperature_c": "temperature of the liquid", "air.temperature_c": "temperature of the air", "air.pressure_hpa": "air pressure", "air.humidity_percent": "humidity of the air",
}

// slotUnits are the units of what is no mass.
var slotUnits = map[string]string{"liquid.temperature_c": "°C", "air.temperature_c": "°C", "air.pressure_hpa": "hPa", "air.humidity_percent": "%"}

// readings lists every reading, those that were set aside too.
func (d *report) readings() {
	sheet := &d.f.Record.Sheet
	d.heading("Readings")
	d.y += 0.4
	var rows [][]string
	first, last := d.f.Performed()
	clock := time.TimeOnly
	if d.day(first) != d.day(last) {
		clock = time.DateTime
	}
	for _, r := range sheet.Readings {
		name := r.Slot
		if words, known := slots[r.Slot]; known {
			name = d.named(words)
		}
		rows = append(rows, []string{
			strconv.Itoa(r.No), name, asRead(r), r.Time.In(d.zone).Format(clock), d.instrumentOf(sheet, r), r.Person, d.aside(sheet, r),
		})
	}
	if len(rows) == 0 {
		d.plainly(0.5, textSize, "No reading stands on the sheet.")
		return
	}
	d.table([]tableColumn{{"№", 0.7, false}, {"what was read", 3.6, false}, {"as read", 2.1, true}, {"clock time", 2.4, false}, {"instrument", 1.7, false}, {"taken by", 1.9, false}, {"remarks", 3.4, false}}, rows)
}

// asRead is a reading as it was shown, with its unit.
func asRead(r record.Reading) string {
	text := strings.TrimSpace(r.Text)
	switch {
	case r.Unit != "":
		return text + " " + r.Unit
	case strings.ContainsFunc(text, func(c rune) bool { return c >= 'a' && c <= 'z' || c == '°' || c == '%' }):
		return text
	}
	return text + " " + cmp.Or(slotUnits[r.Slot], "g")
}

// instrumentOf names what was read: the instrument itself, else the station's.
func (d *report) instrumentOf(sheet *record.Sheet, r record.Reading) string {
	if r.Instrument != nil {
		return r.Instrument.ID
	}
	s := d.f.Record.Station
	if s == nil || !sheet.Here(r.No) {
		return "—"
	}
	at := s.Balance
	switch r.Slot {
	case "liquid.temperature_c":
		at = s.Thermometer
	case "air.temperature_c":
		at = s.AirThermometer
	case "air.pressure_hpa":
		at = s.Barometer
	case "air.humidity_percent":
		at = s.Hygrometer
	}
	if at == nil {
		return "—"
	}
	return at.ID
}

// aside says what became of a reading that does not count, and how one came that was not typed.
func (d *report) aside(sheet *record.Sheet, r record.Reading) string {
	var words []string
	switch {
	case r.Withdrawn != nil:
		words = append(words, d.once("set aside")+": "+r.Withdrawn.Reason)
	case !sheet.Here(r.No):
		words = append(words, d.once("taken at another station, not evaluated"))
	case len(r.Restored) > 0:
		words = append(words, d.once("restored")+": "+r.Restored[len(r.Restored)-1].Reason)
	}
	if r.Source != record.Typed {
		words = append(words, d.named(r.Source))
	}
	return strings.Join(words, "; ")
}

// leastShare is the share of the variance below which inputs stand together; chosen here.
const leastShare = 0.001

// budget is where the uncertainty of the density comes from.
func (d *report) budget() {
	if len(d.a.Budget) == 0 {
		return
	}
	d.heading("Budget of the uncertainty")
	d.y += 0.4
	b := d.books[0]
	number := func(v float64, digits int) string { return b.Number(strconv.FormatFloat(v, 'g', digits, 64)) }
	var rows [][]string
	others, rest := 0.0, 0
	for _, r := range d.a.Budget {
		if r.Share < leastShare {
			others, rest = others+r.Contribution*r.Contribution, rest+1
			continue
		}
		dof := "∞"
		if r.Dof != nil {
			dof = b.Number(strconv.FormatFloat(*r.Dof, 'f', 0, 64))
		}
		share := b.Number(strconv.FormatFloat(100*r.Share, 'f', 1, 64)) + " %"
		unit := r.Unit
		if unit == "1" {
			unit = ""
		}
		rows = append(rows, []string{d.named(r.Input), number(r.Value, 8), number(r.U, 2), unit, d.named(r.Distribution), dof, number(r.Contribution, 3), share})
	}
	if rest > 0 {
		rows = append(rows, []string{d.once("%d others, each less than a thousandth; all stand in the attached facts", rest), "", "", "", "", "", number(math.Sqrt(others), 2), "< " + b.Number("0.1") + " %"})
	}
	d.table([]tableColumn{
		{"uncertainty from", 4.7, false}, {"estimate", 2.2, true}, {"u", 1.7, true}, {"its unit", 1.1, false}, {"distribution", 1.9, false},
		{"ν", 0.8, true}, {"kg/m³", 1.3, true}, {"share of it", 1.2, true},
	}, rows)
	v := d.a.Density20C
	value, u := uncertainty.Round(v.KgM3, v.UKgM3)
	d.says(1, textSize, func(b *sentence.Book) []span {
		words := b.Sayf("Density at 20 °C: %s kg/m³, standard uncertainty %s kg/m³, worked in specific volume by the law of propagation (JCGM 100).", value, u)
		if m := d.a.MonteCarlo; m != nil {
			if m.Validated {
				words += " " + b.Say("Propagation of distributions (JCGM 101) agrees.")
			} else {
				words += " " + b.Say("Propagation of distributions (JCGM 101) differs, and its interval is the one that is given.")
			}
		}
		return []span{{text: words}}
	})
}

// instruments are those that took part, with what they are traced to.
func (d *report) instruments() {
	d.heading("Instruments and traceability")
	if len(d.f.Instruments) == 0 {
		d.plainly(0.2, textSize, "No instrument is on file for these readings, so traceability is not shown.")
	} else {
		d.y += 0.4
		var rows [][]string
		for _, i := range d.f.Instruments {
			certificate, dates := d.once("none: traceability not shown"), ""
			if i.Certificate != "" {
				certificate, dates = i.Certificate+", "+i.Issuer, i.Calibrated+" – "+i.Due
			}
			rows = append(rows, []string{i.ID, d.named(i.Kind), cmp.Or(i.Title, "—"), certificate, dates})
		}
		d.table([]tableColumn{{"own mark", 1.4, false}, {"kind of instrument", 2, false}, {"maker, type, number", 3.2, false}, {"certificate", 4, false}, {"calibrated – due", 2.8, false}}, rows)
	}
	var words []string
	for _, s := range d.f.Record.Statements {
		words = append(words, s.Text)
	}
	d.points(words)
}
