package station

import (
	"fmt"
	"slices"
	"strings"
)

// Kinds are the kinds of instrument that are known.
var Kinds = []string{Balance, Thermometer, Barometer, Hygrometer, CheckPiece, Sinker, ReferenceSolid, Caliper, MassStandard}

const (
	Balance        = "balance"
	Thermometer    = "thermometer"
	Barometer      = "barometer"
	Hygrometer     = "hygrometer"
	CheckPiece     = "check piece"
	Sinker         = "sinker"
	ReferenceSolid = "reference solid"
	Caliper        = "caliper"
	MassStandard   = "mass standard"
)

// Instrument is one version of the file of one instrument.
type Instrument struct {
	Format  int    `json:"format" doc:"form of this document; 1 unless said"`
	ID      string `json:"id" doc:"your own mark for it, as on its label"`
	Version int    `json:"version" doc:"of this file, counted from 1"`
	Kind    string `json:"kind" doc:"balance, thermometer, barometer, hygrometer, check piece, sinker, reference solid, caliper or mass standard"`

	Maker    string `json:"maker,omitempty" doc:"as on its plate"`
	Type     string `json:"type,omitempty" doc:"as on its plate"`
	Serial   string `json:"serial,omitempty" doc:"serial number"`
	Software string `json:"software,omitempty" doc:"version of the software inside, where it has one"`
	Place    string `json:"place,omitempty" doc:"where it stands"`
	Note     string `json:"note,omitempty" doc:"anything worth keeping"`

	CapacityG             *float64 `json:"capacity_g,omitempty" doc:"balance: largest load"`
	ScaleIntervalG        *float64 `json:"scale_interval_g,omitempty" doc:"balance: scale interval d"`
	VerificationIntervalG *float64 `json:"verification_interval_g,omitempty" doc:"balance: verification scale interval e"`
	Class                 string   `json:"class,omitempty" doc:"balance: accuracy class I, II, III or IIII; mass standard: its class, as its certificate names it"`
	RepeatabilityG        *float64 `json:"repeatability_g,omitempty" doc:"balance: standard deviation of one net reading in air"`
	RepeatabilityLiquidG  *float64 `json:"repeatability_liquid_g,omitempty" doc:"balance: the same immersed, surface forces included"`
	RepeatabilityDof      *float64 `json:"repeatability_dof,omitempty" doc:"balance: degrees of freedom of the repeatability"`
	LinearityG            *float64 `json:"linearity_g,omitempty" doc:"balance: largest deviation from linearity, as a half-width"`
	SpanUPpm              *float64 `json:"span_u_ppm,omitempty" doc:"balance: standard uncertainty of the span, in parts per million"`
	Zero                  string   `json:"zero,omitempty" doc:"balance: tared or read"`
	AdjustmentAirKgM3     *float64 `json:"adjustment_air_kg_m3,omitempty" doc:"balance: density of the air when it was last adjusted"`

	ScaleIntervalC       *float64 `json:"scale_interval_c,omitempty" doc:"thermometer: scale interval, °C"`
	ScaleIntervalHPa     *float64 `json:"scale_interval_hpa,omitempty" doc:"barometer: scale interval"`
	ScaleIntervalPercent *float64 `json:"scale_interval_percent,omitempty" doc:"hygrometer: scale interval, relative humidity"`
	ScaleIntervalMM      *float64 `json:"scale_interval_mm,omitempty" doc:"caliper: scale interval"`

	Solid        *Solid        `json:"solid,omitempty" doc:"check piece, sinker, reference solid and mass standard: the piece itself"`
	Certificates []Certificate `json:"certificates,omitempty" doc:"calibration certificates, all that there are"`
	Acceptance   *Acceptance   `json:"acceptance,omitempty" doc:"the check before it was first used here"`
	OutOfService *OutOfService `json:"out_of_service,omitempty" doc:"since when it may not be used, and why"`

	Link *Link `json:"link,omitempty" doc:"how its readings reach the program; absent where they are typed"`
}

// Solid is a piece of known mass, and of known volume or density at 20 °C.
type Solid struct {
	MassG         *float64 `json:"mass_g,omitempty" doc:"its mass"`
	MassUG        *float64 `json:"mass_u_g,omitempty" doc:"standard uncertainty of the mass"`
	VolumeCm3     *float64 `json:"volume_cm3,omitempty" doc:"its volume at 20 °C"`
	VolumeUCm3    *float64 `json:"volume_u_cm3,omitempty" doc:"standard uncertainty of the volume"`
	DensityKgM3   *float64 `json:"density_kg_m3,omitempty" doc:"instead of the volume: its density at 20 °C"`
	DensityUKgM3  *float64 `json:"density_u_kg_m3,omitempty" doc:"standard uncertainty of the density"`
	ExpansionPerK *float64 `json:"expansion_per_k,omitempty" doc:"its cubic expansion per kelvin"`
}

// Acceptance is the check that an instrument meets what is asked of it, before its first use.
type Acceptance struct {
	Date   Date   `json:"date" doc:"when"`
	Person string `json:"person" doc:"who checked"`
	Passed bool   `json:"passed" doc:"true when it meets what is asked of it"`
	Note   string `json:"note,omitempty" doc:"what was checked and found"`
}

// OutOfService says that an instrument may not be used.
type OutOfService struct {
	Since  Date   `json:"since" doc:"the first day on which it may not be used"`
	Reason string `json:"reason" doc:"why: overloaded, dropped, lost, sold"`
}

// DecodeInstrument reads the file of an instrument as a person writes it. A *FieldError names the
// field at fault.
func DecodeInstrument(data []byte) (*Instrument, error) {
	i := &Instrument{Format: Format, Version: 1}
	if err := decode(data, i); err != nil {
		return nil, err
	}
	return i, i.Check()
}

// Encode writes the file for keeping.
func (i *Instrument) Encode() ([]byte, error) { return encode(i) }

// Ref names this version.
func (i *Instrument) Ref() Ref { return Ref{i.ID, i.Version} }

// Check refuses a file that contradicts itself or cannot be right. A *FieldError names the field.
func (i *Instrument) Check() error {
	if err := first(checkFormat(i.Format), checkID("id", i.ID), checkVersion("version", i.Version)); err != nil {
		return err
	}
	if i.Kind == "" {
		return bad("kind", "Say what it is, such as balance or thermometer.", "is missing")
	}
	return first(oneOf("kind", i.Kind, Kinds...), i.checkOwn(), i.checkNumbers(), i.checkSolid(), i.checkCertificates(), i.checkService(), i.checkLink())
}

// checkOwn refuses fields that belong to another kind of instrument.
func (i *Instrument) checkOwn() error {
	solids := []string{CheckPiece, Sinker, ReferenceSolid, MassStandard}
	for _, f := range []struct {
		name  string
		given bool
		kinds []string
	}{
		{"capacity_g", i.CapacityG != nil, []string{Balance}},
		{"scale_interval_g", i.ScaleIntervalG != nil, []string{Balance}},
		{"verification_interval_g", i.VerificationIntervalG != nil, []string{Balance}},
		{"class", i.Class != "", []string{Balance, MassStandard}},
		{"repeatability_g", i.RepeatabilityG != nil, []string{Balance}},
		{"repeatability_liquid_g", i.RepeatabilityLiquidG != nil, []string{Balance}},
		{"repeatability_dof", i.RepeatabilityDof != nil, []string{Balance}},
		{"linearity_g", i.LinearityG != nil, []string{Balance}},
		{"span_u_ppm", i.SpanUPpm != nil, []string{Balance}},
		{"zero", i.Zero != "", []string{Balance}},
		{"adjustment_air_kg_m3", i.AdjustmentAirKgM3 != nil, []string{Balance}},
		{"scale_interval_c", i.ScaleIntervalC != nil, []string{Thermometer}},
		{"scale_interval_hpa", i.ScaleIntervalHPa != nil, []string{Barometer}},
		{"scale_interval_percent", i.ScaleIntervalPercent != nil, []string{Hygrometer}},
		{"scale_interval_mm", i.ScaleIntervalMM != nil, []string{Caliper}},
		{"solid", i.Solid != nil, solids},
		{"link", i.Link != nil, linkable},
	} {
		if f.given && !slices.Contains(f.kinds, i.Kind) {
			return bad(f.name, "Leave it out, or correct the kind.", "does not belong to a %s", i.Kind)
		}
	}
	return nil
}

// checkNumbers holds the ranges: wide enough for any bench, narrow enough to catch a wrong unit.
// They are those of the draft where it has the same field.
func (i *Instrument) checkNumbers() error {
	if i.Kind == Balance && i.ScaleIntervalG == nil {
		return bad("scale_interval_g", "Give the step of its last digit in grams: 0.001.", "is missing")
	}
	if err := first(
		within("capacity_g", i.CapacityG, 1e-3, 1e6, "g"),
		within("scale_interval_g", i.ScaleIntervalG, 1e-7, 1000, "g"),
		within("verification_interval_g", i.VerificationIntervalG, 1e-7, 1000, "g"),
		within("repeatability_g", i.RepeatabilityG, 1e-9, 10000, "g"),
		within("repeatability_liquid_g", i.RepeatabilityLiquidG, 1e-9, 10000, "g"),
		within("repeatability_dof", i.RepeatabilityDof, 1, 1e6, ""),
		within("linearity_g", i.LinearityG, 0, 10000, "g"),
		within("span_u_ppm", i.SpanUPpm, 0, 1e5, "ppm"),
		oneOf("zero", i.Zero, "tared", "read"),
		within("adjustment_air_kg_m3", i.AdjustmentAirKgM3, 0, 1.6, "kg/m³"),
		within("scale_interval_c", i.ScaleIntervalC, 1e-5, 10, "°C"),
		within("scale_interval_hpa", i.ScaleIntervalHPa, 1e-4, 100, "hPa"),
		within("scale_interval_percent", i.ScaleIntervalPercent, 1e-3, 20, "%"),
		within("scale_interval_mm", i.ScaleIntervalMM, 1e-5, 10, "mm"),
	); err != nil {
		return err
	}
	switch {
	case i.Kind == Balance && i.Class != "" && !slices.Contains([]string{"I", "II", "III", "IIII"}, i.Class):
		return bad("class", "The classes of balances are I, II, III and IIII (OIML R 76-1).", "there is no class %q", i.Class)
	case i.VerificationIntervalG != nil && *i.VerificationIntervalG < *i.ScaleIntervalG:
		return bad("verification_interval_g", "e is never finer than d; were the two swapped?", "%g g is finer than the scale interval of %g g", *i.VerificationIntervalG, *i.ScaleIntervalG)
	case i.CapacityG != nil && *i.CapacityG <= *i.ScaleIntervalG:
		return bad("capacity_g", "Were capacity and scale interval swapped?", "%g g is no more than the scale interval of %g g", *i.CapacityG, *i.ScaleIntervalG)
	case i.RepeatabilityDof != nil && i.RepeatabilityG == nil && i.RepeatabilityLiquidG == nil:
		return bad("repeatability_dof", "Give repeatability_g too, or leave it out.", "says how well a repeatability is known, and there is none")
	}
	return nil
}

func (i *Instrument) checkSolid() error {
	s := i.Solid
	if s == nil {
		switch i.Kind {
		case CheckPiece, ReferenceSolid:
			return bad("solid", `Give its volume or density: {"density_kg_m3": 7930, "density_u_kg_m3": 0.4}.`, "is missing")
		}
		return nil
	}
	if err := first(
		within("solid.mass_g", s.MassG, 1e-4, 1e6, "g"), within("solid.mass_u_g", s.MassUG, 0, 1e4, "g"),
		within("solid.volume_cm3", s.VolumeCm3, 1e-3, 1e5, "cm³"), within("solid.volume_u_cm3", s.VolumeUCm3, 0, 1e4, "cm³"),
		within("solid.density_kg_m3", s.DensityKgM3, 100, 23000, "kg/m³"), within("solid.density_u_kg_m3", s.DensityUKgM3, 0, 5000, "kg/m³"),
		within("solid.expansion_per_k", s.ExpansionPerK, 0, 0.001, "per K"),
	); err != nil {
		return err
	}
	for _, pair := range []struct {
		value, u       string
		hasValue, hasU bool
	}{
		{"solid.mass_g", "solid.mass_u_g", s.MassG != nil, s.MassUG != nil},
		{"solid.volume_cm3", "solid.volume_u_cm3", s.VolumeCm3 != nil, s.VolumeUCm3 != nil},
		{"solid.density_kg_m3", "solid.density_u_kg_m3", s.DensityKgM3 != nil, s.DensityUKgM3 != nil},
	} {
		switch {
		case pair.hasValue && !pair.hasU:
			return bad(pair.u, "Give the standard uncertainty, as the certificate says it; an expanded one divided by its k.", "is missing")
		case pair.hasU && !pair.hasValue:
			return bad(pair.value, "Give the value that the uncertainty belongs to.", "is missing")
		}
	}
	switch {
	case s.VolumeCm3 != nil && s.DensityKgM3 != nil:
		return bad("solid.density_kg_m3", "Give the volume or the density, one of the two.", "is given together with the volume")
	case s.VolumeCm3 == nil && s.DensityKgM3 == nil && (i.Kind == CheckPiece || i.Kind == ReferenceSolid):
		return bad("solid.density_kg_m3", "Give the volume or the density of the piece.", "is missing, and so is the volume")
	case i.Kind == ReferenceSolid && s.DensityKgM3 == nil:
		return bad("solid.density_kg_m3", "A reference solid is compared by its density: give it in kg/m³.", "is missing")
	case s.MassG == nil && i.Kind == MassStandard:
		return bad("solid.mass_g", "Give the mass of the standard.", "is missing")
	}
	return nil
}

func (i *Instrument) checkService() error {
	if a := i.Acceptance; a != nil {
		if err := checkDate("acceptance.date", a.Date, true); err != nil {
			return err
		}
		if a.Person == "" {
			return bad("acceptance.person", "Say who checked it.", "is missing")
		}
	}
	if o := i.OutOfService; o != nil {
		if err := checkDate("out_of_service.since", o.Since, true); err != nil {
			return err
		}
		if o.Reason == "" {
			return bad("out_of_service.reason", "Say why, for those who look at earlier results.", "is missing")
		}
	}
	return nil
}

// Missing lists the fields of an equipment file (ISO/IEC 17025:2017, 6.4.13) that are not filled
// in. A file may be used with some of them missing; an audit asks for all.
func (i *Instrument) Missing() []string {
	var missing []string
	for _, f := range []struct {
		name  string
		given bool
	}{
		{"maker", i.Maker != ""}, {"type", i.Type != ""}, {"serial", i.Serial != ""}, {"place", i.Place != ""},
		{"acceptance", i.Acceptance != nil}, {"certificates", len(i.Certificates) > 0},
	} {
		if !f.given {
			missing = append(missing, f.name)
		}
	}
	return missing
}

// title names an instrument in a sentence.
func (i *Instrument) title() string {
	if strings.EqualFold(i.Kind, i.ID) { // the only one of its kind needs no other name
		return i.Kind
	}
	return fmt.Sprintf("%s %s", i.Kind, i.ID)
}
