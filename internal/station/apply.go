package station

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"wreath/internal/determination"
)

// Shown is what an instrument of the station showed, before any correction.
type Shown struct {
	Field      string  // liquid.temperature_c, air.temperature_c, air.pressure_hpa or air.humidity_percent
	Value      float64 // in the unit of the field
	Instrument *Ref    // where it was another one than the station's
}

// ShownFields are the conditions that an instrument shows and a certificate corrects.
var ShownFields = []string{"liquid.temperature_c", "air.temperature_c", "air.pressure_hpa", "air.humidity_percent"}

// Keys of statements.
const (
	KeyTraceability = "traceability-not-shown"
	KeyAcceptance   = "not-accepted"
	KeyCorrected    = "corrected"
	KeyUncorrected  = "not-corrected"
)

// Statement is something to be said of an instrument beside a result.
type Statement struct {
	Key        string `json:"key" doc:"traceability-not-shown, not-accepted, corrected or not-corrected"`
	Instrument Ref    `json:"instrument" doc:"the instrument it is said of"`
	Caution    bool   `json:"caution,omitempty" doc:"true when it weakens the result"`
	Text       string `json:"text" doc:"in words"`
}

// Applied is a draft filled with what its station knows.
type Applied struct {
	Draft       *determination.Draft
	Fields      []string // paths that came from the station
	Statements  []Statement
	Instruments []Ref // that took part, in the station's order
}

// Apply fills what a draft leaves out with what its station knows, and says what it filled. It
// never changes what the draft gives, nor the draft itself. Readings of conditions, as shown, are
// corrected by the certificate that counts on the day of at, and the certificate is named. Without a
// station, readings of conditions are taken as they are.
//
// An instrument that is out of service is refused with a *FieldError; one that is overdue, or has
// no certificate or no passed acceptance check, gives a caution.
func Apply(s *Station, all []Instrument, draft *determination.Draft, shown []Shown, at time.Time) (*Applied, error) {
	if s == nil {
		s = &Station{}
	}
	text, err := WriteDraft(draft)
	if err != nil {
		return nil, err
	}
	d, err := determination.Decode(text)
	if err != nil {
		return nil, err
	}
	kit, err := s.Kit(all)
	if err != nil {
		return nil, err
	}
	for _, r := range shown {
		if r.Instrument == nil || in(kit, *r.Instrument) != nil {
			continue
		}
		i := in(all, *r.Instrument)
		if i == nil {
			return nil, bad(r.Field, "Enter the instrument first.", "was read on %s, which is not known here", r.Instrument)
		}
		if err := i.Check(); err != nil {
			return nil, fmt.Errorf("%s: the file of %s: %w", r.Field, r.Instrument, err)
		}
		kit = append(kit, *i)
	}
	a := &Applied{Draft: d}
	offer := s.offer(kit, d)
	if err := a.conditions(s, kit, offer, shown, Day(at)); err != nil {
		return nil, err
	}
	a.Fields = fill(d, offer, clashes(d, offer))
	if s.Defaults != nil {
		defaults := determination.Draft(*s.Defaults)
		a.Fields = append(a.Fields, fill(d, &defaults, clashes(d, &defaults))...)
	}
	return a, a.judge(s, kit, Day(at))
}

// offer is what station and instruments say about any item, as a draft.
func (s *Station) offer(kit []Instrument, d *determination.Draft) *determination.Draft {
	o := &determination.Draft{Arrangement: s.Arrangement, HouseRule: s.HouseRule}
	if s.AltitudeM != nil {
		o.Air = &determination.Air{AltitudeM: s.AltitudeM}
	}
	if s.Hanger != nil {
		hanger := determination.Hanger(*s.Hanger)
		o.Hanger = &hanger
	}
	o.Liquid = &determination.Liquid{}
	if s.Liquid != nil {
		*o.Liquid = determination.Liquid(*s.Liquid)
	}
	if b := named(kit, s.Balance); b != nil {
		o.Balance = &determination.Balance{
			ResolutionG: b.ScaleIntervalG, RepeatabilityG: b.RepeatabilityG, RepeatabilityLiquidG: b.RepeatabilityLiquidG,
			RepeatabilityDof: b.RepeatabilityDof, LinearityG: b.LinearityG, Zero: b.Zero, SpanUPpm: b.SpanUPpm,
			CapacityG: b.CapacityG, AdjustmentAirKgM3: b.AdjustmentAirKgM3,
		}
	}
	// A check piece counts only where it was weighed.
	if c := named(kit, s.CheckPiece); c != nil && d.Liquid != nil && d.Liquid.Proof != nil {
		o.Liquid.Proof = &determination.Proof{
			VolumeCm3: c.Solid.VolumeCm3, VolumeUCm3: c.Solid.VolumeUCm3,
			DensityKgM3: c.Solid.DensityKgM3, DensityUKgM3: c.Solid.DensityUKgM3, ExpansionK: c.Solid.ExpansionPerK,
		}
	}
	if r := named(kit, s.Reference); r != nil {
		o.Reference = &determination.Reference{DensityKgM3: r.Solid.DensityKgM3, DensityUKgM3: r.Solid.DensityUKgM3, ExpansionK: r.Solid.ExpansionPerK}
	}
	return o
}

func named(kit []Instrument, ref *Ref) *Instrument {
	if ref == nil {
		return nil
	}
	return in(kit, *ref)
}

// usualThermometerU is the standard uncertainty of a thermometer without a certificate, K; that which a
// determination takes where none is given.
const usualThermometerU = 0.3

// farApart is how far the readings of one condition may lie apart within one weighing; chosen here. Farther, one
// of them is a slip, or the liquid has not settled.
var farApart = map[string]float64{"liquid.temperature_c": 2, "air.temperature_c": 5, "air.pressure_hpa": 10, "air.humidity_percent": 30}

// conditions puts the corrected readings of temperature, pressure and humidity into the offer.
func (a *Applied) conditions(s *Station, kit []Instrument, offer *determination.Draft, shown []Shown, day Date) error {
	for _, field := range ShownFields {
		var values []float64
		var ref *Ref
		for _, r := range shown {
			if r.Field != field {
				continue
			}
			if n := len(values); n > 0 && (ref == nil) != (r.Instrument == nil) || n > 0 && ref != nil && *ref != *r.Instrument {
				return bad(field, "Set aside the readings of one of them.", "was read on two instruments")
			}
			values, ref = append(values, r.Value), r.Instrument
		}
		if len(values) == 0 {
			continue
		}
		low, high := slices.Min(values), slices.Max(values)
		if high-low > farApart[field] {
			return bad(field, "Set aside the one that is wrong; if both are right, wait until it is steady and read once more.",
				"its readings %g and %g lie too far apart to be taken together", low, high)
		}
		sum := 0.0
		for _, v := range values {
			sum += v
		}
		if err := a.condition(s, kit, offer, field, tidy(sum/float64(len(values))), high-low, ref, day); err != nil {
			return err
		}
	}
	for _, r := range shown {
		if !slices.Contains(ShownFields, r.Field) {
			return bad(r.Field, "Give it as a value of the draft.", "is not read on an instrument of the station")
		}
	}
	return nil
}

func (a *Applied) condition(s *Station, kit []Instrument, offer *determination.Draft, field string, value, spread float64, ref *Ref, day Date) error {
	if offer.Air == nil {
		offer.Air = &determination.Air{}
	}
	kind, own := Thermometer, s.Thermometer
	set, setU := &offer.Liquid.TemperatureC, &offer.Liquid.TemperatureUC
	var none *float64
	given := a.Draft.Liquid != nil && a.Draft.Liquid.TemperatureC != nil
	air := a.Draft.Air
	switch field {
	case "air.temperature_c":
		own, set, setU, given = s.AirThermometer, &offer.Air.TemperatureC, &none, air != nil && air.TemperatureC != nil
	case "air.pressure_hpa":
		kind, own, set, setU, given = Barometer, s.Barometer, &offer.Air.PressureHPa, &none, air != nil && air.PressureHPa != nil
		offer.Air.AltitudeM = nil // the barometer knows better
	case "air.humidity_percent":
		kind, own, set, setU, given = Hygrometer, s.Hygrometer, &offer.Air.HumidityPercent, &none, air != nil && air.HumidityPercent != nil
	}
	if given {
		return bad(field, "Give the value, or take the reading, one of the two.", "is given in the draft and was read on an instrument as well")
	}
	if ref == nil {
		ref = own
	}
	*set = &value
	// Somewhere between its readings the condition was.
	between := spread / math.Sqrt(12)
	if spread > 0 && setU != &none {
		u := usualThermometerU
		if *setU != nil {
			u = **setU
		}
		u = math.Round(math.Hypot(u, between)*1e6) / 1e6
		*setU = &u
	}
	if ref == nil {
		return nil
	}
	i := in(kit, *ref)
	if i.Kind != kind {
		return bad(field, "Name the instrument that was read.", "was read on %s, which is a %s", ref, i.Kind)
	}
	a.Instruments = append(a.Instruments, *ref)
	c, ok, err := i.Correct(value, day)
	if err != nil {
		var f *FieldError
		if errors.As(err, &f) {
			f.Path = field
		}
		return err
	}
	if !ok {
		a.state(i, KeyUncorrected, false, "%s: %g %s, as the %s shows it: no certificate gives a correction.", field, value, i.unit(), i.title())
		return nil
	}
	// The uncertainty of an average is no better than that of the certificate.
	u := math.Round(math.Hypot(c.U, between)*1e6) / 1e6
	*set, *setU = &c.Value, &u
	a.state(i, KeyCorrected, false, "%s: %g %s shown by the %s, correction %+g %s by certificate %s, makes %g %s.",
		field, value, i.unit(), i.title(), c.Correction, i.unit(), c.Certificate, c.Value, i.unit())
	return nil
}

func (a *Applied) state(i *Instrument, key string, caution bool, text string, args ...any) {
	a.Statements = append(a.Statements, Statement{Key: key, Instrument: i.Ref(), Caution: caution, Text: fmt.Sprintf(text, args...)})
}

// judge says how the papers of the instruments stand that took part: the balance and the
// thermometer of the station always, the others where something came from them.
func (a *Applied) judge(s *Station, kit []Instrument, day Date) error {
	d := a.Draft
	part := func(ref *Ref, takesPart bool) {
		if ref != nil && takesPart && !slices.Contains(a.Instruments, *ref) {
			a.Instruments = append(a.Instruments, *ref)
		}
	}
	part(s.Balance, true)
	part(s.Thermometer, d.Method != "comparison")
	part(s.CheckPiece, slices.ContainsFunc(a.Fields, func(f string) bool {
		return f == "liquid.proof.density_kg_m3" || f == "liquid.proof.volume_cm3"
	}))
	part(s.Reference, slices.Contains(a.Fields, "reference.density_kg_m3"))
	part(s.Sinker, d.Method == "sinker-aided")
	order := map[Ref]int{}
	for n := range kit {
		order[kit[n].Ref()] = n
	}
	slices.SortFunc(a.Instruments, func(x, y Ref) int { return order[x] - order[y] })
	a.Instruments = slices.Compact(a.Instruments)
	for _, ref := range a.Instruments {
		i := in(kit, ref)
		status := i.dueOn(day)
		switch status.State {
		case OutOfUse:
			return bad(s.fieldOf(ref), "Use another instrument, and name it in a new version of the station.", "%s", status.Sentence)
		case Overdue, NotTraceable:
			a.state(i, KeyTraceability, true, "%s", status.Sentence)
		}
		if i.Acceptance == nil || !i.Acceptance.Passed || i.Acceptance.Date > day {
			a.state(i, KeyAcceptance, true, "The %s has no passed acceptance check before %s: that it meets what is asked of it is not shown.", i.title(), day)
		}
	}
	return nil
}

// fieldOf is the field of the station that names an instrument.
func (s *Station) fieldOf(ref Ref) string {
	for _, p := range s.parts() {
		if p.ref != nil && *p.ref == ref {
			return p.field
		}
	}
	return ""
}
