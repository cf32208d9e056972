package station

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"wreath/internal/determination"
	"wreath/internal/strictjson"
)

// Station is one version of a place where items are weighed.
type Station struct {
	Format  int    `json:"format" doc:"form of this document; 1 unless said"`
	ID      string `json:"id" doc:"your own mark for it"`
	Version int    `json:"version" doc:"of this station, counted from 1; any change makes a new one"`
	Name    string `json:"name,omitempty" doc:"as people call it"`
	Place   string `json:"place,omitempty" doc:"where it is"`
	Note    string `json:"note,omitempty" doc:"anything worth keeping"`

	AltitudeM      *float64 `json:"altitude_m,omitempty" doc:"height above sea level; the air pressure follows from it where there is no barometer"`
	Barometer      *Ref     `json:"barometer,omitempty" doc:"the barometer read here"`
	Hygrometer     *Ref     `json:"hygrometer,omitempty" doc:"the hygrometer read here"`
	AirThermometer *Ref     `json:"air_thermometer,omitempty" doc:"the thermometer of the air"`
	Thermometer    *Ref     `json:"thermometer,omitempty" doc:"the thermometer of the liquid"`

	Arrangement string  `json:"arrangement,omitempty" doc:"hanging or standing"`
	Balance     *Ref    `json:"balance,omitempty" doc:"the balance"`
	CheckPiece  *Ref    `json:"check_piece,omitempty" doc:"the piece that proves the liquid"`
	Reference   *Ref    `json:"reference,omitempty" doc:"the solid that items are compared with"`
	Sinker      *Ref    `json:"sinker,omitempty" doc:"the sinker for items that float"`
	Hanger      *Hanger `json:"hanger,omitempty" doc:"what carries the item in the liquid"`
	Liquid      *Liquid `json:"liquid,omitempty" doc:"the usual liquid: kind, strength or density"`
	HouseRule   string  `json:"house_rule,omitempty" doc:"key of the house rule that findings follow here"`
	Defaults    *Draft  `json:"defaults,omitempty" doc:"anything else that a determination takes when it does not say"`
}

// DecodeStation reads a station as a person writes it. A *FieldError names the field at fault.
func DecodeStation(data []byte) (*Station, error) {
	s := &Station{Format: Format, Version: 1}
	if err := decode(data, s); err != nil {
		return nil, err
	}
	return s, s.Check()
}

// Encode writes the station for keeping.
func (s *Station) Encode() ([]byte, error) { return encode(s) }

// Ref names this version.
func (s *Station) Ref() Ref { return Ref{s.ID, s.Version} }

// part is one instrument of a station.
type part struct {
	field string
	ref   *Ref
	kind  string
}

func (s *Station) parts() []part {
	return []part{
		{"balance", s.Balance, Balance}, {"thermometer", s.Thermometer, Thermometer}, {"air_thermometer", s.AirThermometer, Thermometer},
		{"barometer", s.Barometer, Barometer}, {"hygrometer", s.Hygrometer, Hygrometer},
		{"check_piece", s.CheckPiece, CheckPiece}, {"reference", s.Reference, ReferenceSolid}, {"sinker", s.Sinker, Sinker},
	}
}

// Check refuses a station that contradicts itself or cannot be right. A *FieldError names the
// field. Whether its instruments exist, Kit says.
func (s *Station) Check() error {
	if err := first(checkFormat(s.Format), checkID("id", s.ID), checkVersion("version", s.Version),
		within("altitude_m", s.AltitudeM, -500, 9000, "m")); err != nil {
		return err
	}
	for _, p := range s.parts() {
		if err := p.ref.check(p.field); err != nil {
			return err
		}
	}
	if s.Liquid != nil && s.Liquid.Proof != nil {
		return bad("liquid.proof", "Name the check piece in check_piece; its weighing belongs to the determination.", "does not belong to a station")
	}
	if err := s.Defaults.check(); err != nil {
		return err
	}
	return s.probe()
}

// check refuses defaults that are not common to all items.
func (d *Draft) check() error {
	if d == nil {
		return nil
	}
	for _, f := range []struct {
		name  string
		given bool
		hint  string
	}{
		{"id", d.ID != "", "It is that of one determination."},
		{"item", d.Item != nil, "It is that of one determination."},
		{"claim", d.Claim != nil, "A claim is made for one item; give it there."},
		{"house_rule", d.HouseRule != "", "Give it as the station's own house_rule."},
	} {
		if f.given {
			return bad("defaults."+f.name, f.hint, "does not belong to a station")
		}
	}
	for path, v := range leaves(reflect.ValueOf(*d)) {
		if v.Type() == reflect.TypeFor[[]determination.Reading]() {
			return bad("defaults."+path, "Readings belong to one determination.", "does not belong to a station")
		}
	}
	return nil
}

// probe evaluates an invented item with what the station says, so that a value which no
// determination could use is refused now and not at the counter.
func (s *Station) probe() error {
	d := &determination.Draft{}
	offer := s.offer(nil, d)
	fill(d, offer, nil)
	if s.Defaults != nil {
		fill(d, (*determination.Draft)(s.Defaults), nil)
	}
	air, immersed := []determination.Reading{{Gram: 20}}, []determination.Reading{{Gram: 18}}
	d.Method, d.Coating, d.Reference = "", nil, nil
	if d.Arrangement == "standing" {
		d.AirG, d.GainG = air, []determination.Reading{{Gram: 2}}
	} else {
		d.AirG, d.LiquidG = air, immersed
	}
	if d.Liquid == nil {
		d.Liquid = &determination.Liquid{Kind: "water"}
	}
	_, err := determination.Evaluate(d, determination.Options{MonteCarlo: determination.WhereNeeded})
	var field *FieldError
	if !errors.As(err, &field) {
		return nil
	}
	if slices.Contains([]string{"", "air_g", "liquid_g", "gain_g"}, field.Path) || field.Reason == "is missing" {
		return nil // the invented item is at fault, or the value comes with each determination
	}
	group, _, _ := strings.Cut(field.Path, ".")
	own := group == "house_rule" || group == "arrangement" && s.Arrangement != "" || group == "liquid" && s.Liquid != nil ||
		group == "hanger" && s.Hanger != nil
	if !own {
		return &FieldError{Path: "defaults." + field.Path, Reason: field.Reason, Hint: field.Hint}
	}
	return field
}

// Kit picks the instruments that the station names out of all there are, in the station's order,
// each once. A *FieldError names the one that is not there or is of another kind.
func (s *Station) Kit(all []Instrument) ([]Instrument, error) {
	var kit []Instrument
	for _, p := range s.parts() {
		if p.ref == nil {
			continue
		}
		i, err := find(all, *p.ref, p.field, p.kind)
		if err != nil {
			return nil, err
		}
		if in(kit, *p.ref) == nil {
			kit = append(kit, *i)
		}
	}
	return kit, nil
}

func in(kit []Instrument, ref Ref) *Instrument {
	for n := range kit {
		if kit[n].Ref() == ref {
			return &kit[n]
		}
	}
	return nil
}

func find(all []Instrument, ref Ref, field, kind string) (*Instrument, error) {
	i := in(all, ref)
	if i == nil {
		return nil, bad(field, "Enter the instrument first, or name a version that there is.", "there is no instrument %s", ref)
	}
	if i.Kind != kind {
		return nil, bad(field, "Name an instrument of the right kind.", "%s is a %s, not a %s", ref.ID, i.Kind, kind)
	}
	if err := i.Check(); err != nil {
		return nil, fmt.Errorf("%s: the file of %s: %w", field, ref, err)
	}
	return i, nil
}

// leaves lists the fields of a group that are given, by path, but for groups themselves.
func leaves(group reflect.Value) map[string]reflect.Value {
	found := map[string]reflect.Value{}
	collect(group, "", found)
	return found
}

func collect(group reflect.Value, path string, found map[string]reflect.Value) {
	for _, f := range strictjson.Fields(group.Type()) {
		v, at := group.Field(f.Index), strictjson.Join(path, f.Name)
		switch {
		case left(v):
		case v.Kind() == reflect.Pointer && v.Elem().Kind() == reflect.Struct:
			collect(v.Elem(), at, found)
		default:
			found[at] = v
		}
	}
}
