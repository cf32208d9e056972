package record

import (
	"encoding/json"
	"time"

	"wreath/internal/determination"
	"wreath/internal/station"
)

// Complete is what a sheet comes to: everything that is evaluated, in one document.
type Complete struct {
	Document    json.RawMessage     // a draft that needs nothing else
	Fields      []string            // paths that came from the station
	Statements  []station.Statement // of the station's instruments
	Instruments []station.Ref       // that took part
}

// Document puts request, readings and station together. Readings that were set aside stay out, and
// so do those of a station that the sheet has left; the others stand in the order they were taken, each as it was typed or received. A sheet without
// a station needs none. A *FieldError names the field at fault.
func Document(s *Sheet, at *station.Station, instruments []station.Instrument) (*Complete, error) {
	if err := s.belongs(at); err != nil {
		return nil, err
	}
	if err := s.oneBalance(at); err != nil {
		return nil, err
	}
	d, err := determination.Decode(s.request().Document)
	if err != nil {
		return nil, err
	}
	var shown []station.Shown
	for i := range s.Readings {
		r := &s.Readings[i]
		if !s.Counts(*r) {
			continue
		}
		if isCondition(r.Slot) {
			x, err := r.condition()
			if err != nil {
				return nil, err
			}
			shown = append(shown, station.Shown{Field: r.Slot, Value: x, Instrument: r.Instrument})
			continue
		}
		reading, err := r.draft()
		if err != nil {
			return nil, err
		}
		list := readingsOf(d, r.Slot)
		*list = append(*list, reading)
	}
	a, err := station.Apply(at, instruments, d, shown, s.measured())
	if err != nil {
		return nil, err
	}
	text, err := station.WriteDraft(a.Draft)
	if err != nil {
		return nil, err
	}
	return &Complete{Document: text, Fields: a.Fields, Statements: a.Statements, Instruments: a.Instruments}, nil
}

// belongs asks for the station, in the version, that the sheet names.
func (s *Sheet) belongs(at *station.Station) error {
	switch {
	case s.Station == nil && at != nil:
		return bad("station", "Open the sheet at the station, or leave the station out.", "the sheet names no station, and %s was given", at.Ref())
	case s.Station != nil && at == nil:
		return bad("station", "Give the station that the sheet names.", "the sheet was opened at %s, and no station was given", s.Station)
	case s.Station != nil && *s.Station != at.Ref():
		return bad("station", "Give the station in the version that the sheet names.", "the sheet was opened at %s, not at %s", s.Station, at.Ref())
	}
	return nil
}

// oneBalance asks that all weighings were made on one balance, the station's where there is one:
// the uncertainty is worked out for one, and errors that cancel do so within one.
func (s *Sheet) oneBalance(at *station.Station) error {
	balance := ""
	if at != nil && at.Balance != nil {
		balance = at.Balance.ID
	}
	for _, r := range s.Readings {
		if !s.Counts(r) || r.Instrument == nil || isCondition(r.Slot) {
			continue
		}
		if balance == "" {
			balance = r.Instrument.ID
		}
		if r.Instrument.ID != balance {
			return bad("readings", "Weigh again on one balance, and set the other readings aside.",
				"reading %d was taken on %s, and the others on %s", r.No, r.Instrument.ID, balance)
		}
	}
	return nil
}

// measured is the time whose certificates count: that of the first reading that was kept.
func (s *Sheet) measured() time.Time {
	for _, r := range s.Readings {
		if s.Counts(r) {
			return r.Time
		}
	}
	return s.Opened.Time
}
