package desk

import (
	"context"
	"encoding/json"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/station"
	"wreath/internal/store"
)

// SetStation makes a station, or its next version. The version is given here.
func (d *Desk) SetStation(ctx context.Context, by By, s station.Station, reason string) (station.Ref, error) {
	e, err := d.act(ctx, by, people.ManageStation, []any{s, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		if err := checkTexts(reason); err != nil {
			return draft{}, err
		}
		if _, err := tx.Get("instrument", s.ID, new(station.Instrument)); err == nil {
			return draft{}, bad("Give the station a name of its own.", "%s is the name of an instrument", s.ID)
		} else if ignoreMissing(err) != nil {
			return draft{}, err
		}
		var before station.Station
		seq, err := tx.Get("station", s.ID, &before)
		if ignoreMissing(err) != nil {
			return draft{}, err
		}
		if err := current("the station", by.Seen, seq); err != nil {
			return draft{}, err
		}
		s.Format, s.Version = station.Format, before.Version+1
		if err := s.Check(); err != nil {
			return draft{}, err
		}
		all, err := list[station.Instrument](tx, "instrument-version")
		if err == nil {
			_, err = s.Kit(all)
		}
		return draft{kind: "station-set", subject: s.ID, body: reasoned[station.Station]{s, reason}}, err
	})
	if err != nil {
		return station.Ref{}, err
	}
	set, err := read[reasoned[station.Station]](e.Body)
	return set.Is.Ref(), err
}

// SetInstrument makes the file of an instrument, or its next version. Stations that name an older
// version go on with the new one as a version of their own.
func (d *Desk) SetInstrument(ctx context.Context, by By, i station.Instrument, reason string) (station.Ref, error) {
	return d.instrument(ctx, by, people.ManageInstrument, i.ID, []any{i, reason}, reason, func(before *station.Instrument, _ station.Date) (station.Instrument, error) {
		if before != nil && before.OutOfService != nil && i.OutOfService == nil {
			return i, bad("Return it to service first, with the reason.", "%s is out of service since %s", i.ID, before.OutOfService.Since)
		}
		return i, nil
	})
}

// TakeOutOfService is for an instrument that was dropped, overloaded or behaves oddly. Whoever sees
// it may do it.
func (d *Desk) TakeOutOfService(ctx context.Context, by By, id, reason string) (station.Ref, error) {
	if reason == "" {
		return station.Ref{}, bad("Say what happened, in a few words.", "taking an instrument out of service needs a reason")
	}
	return d.instrument(ctx, by, people.TakeOutOfService, id, reason, reason, func(before *station.Instrument, today station.Date) (station.Instrument, error) {
		if before == nil {
			return station.Instrument{}, missing("A list shows the instruments.", "there is no instrument %q", id)
		}
		// The first day counts: readings since then are in question.
		if o := before.OutOfService; o != nil {
			return station.Instrument{}, bad("Nothing is left to do.", "%s is out of service since %s already: %s", id, o.Since, o.Reason)
		}
		i := *before
		i.OutOfService = &station.OutOfService{Since: today, Reason: reason}
		return i, nil
	})
}

// ReturnToService puts it back.
func (d *Desk) ReturnToService(ctx context.Context, by By, id, reason string) (station.Ref, error) {
	if reason == "" {
		return station.Ref{}, bad("Say what was checked, in a few words.", "returning an instrument to service needs a reason")
	}
	return d.instrument(ctx, by, people.ReturnToService, id, reason, reason, func(before *station.Instrument, _ station.Date) (station.Instrument, error) {
		if before == nil || before.OutOfService == nil {
			return station.Instrument{}, bad("A list shows what is out of service.", "%q is not out of service", id)
		}
		i := *before
		i.OutOfService = nil
		return i, nil
	})
}

// instrumentSet is the body of an entry: the file of an instrument, and the stations that go on with it.
type instrumentSet struct {
	Is       station.Instrument `json:"is"`
	Reason   string             `json:"reason,omitempty"`
	Stations []station.Station  `json:"stations,omitempty"`
}

func (d *Desk) instrument(ctx context.Context, by By, a people.Action, id string, asked any, reason string, next func(before *station.Instrument, today station.Date) (station.Instrument, error)) (station.Ref, error) {
	e, err := d.act(ctx, by, a, []any{id, asked}, func(tx *store.Tx, at time.Time) (draft, error) {
		if err := checkTexts(reason); err != nil {
			return draft{}, err
		}
		if _, err := tx.Get("station", id, new(station.Station)); err == nil {
			return draft{}, bad("Give the instrument a name of its own.", "%s is the name of a station", id)
		} else if ignoreMissing(err) != nil {
			return draft{}, err
		}
		var before *station.Instrument
		var stored station.Instrument
		seq, err := tx.Get("instrument", id, &stored)
		if ignoreMissing(err) != nil {
			return draft{}, err
		}
		if err == nil {
			before = &stored
		}
		if err := current("the instrument", by.Seen, seq); err != nil {
			return draft{}, err
		}
		zone, err := zoneOf(tx)
		if err != nil {
			return draft{}, err
		}
		i, err := next(before, station.Day(at.In(zone)))
		if err != nil {
			return draft{}, err
		}
		if err := realLink(tx, before, &i); err != nil {
			return draft{}, err
		}
		i.Format, i.Version = station.Format, stored.Version+1
		if before != nil && before.Kind != i.Kind {
			return draft{}, bad("Give the new one a name of its own.", "%s is a %s, not a %s", id, before.Kind, i.Kind)
		}
		if err := i.Check(); err != nil {
			return draft{}, err
		}
		if err := readable(before, &i); err != nil {
			return draft{}, err
		}
		stations, err := goOn(tx, i.Ref())
		return draft{kind: "instrument-set", subject: i.ID, body: instrumentSet{i, reason, stations}}, err
	})
	if err != nil {
		return station.Ref{}, err
	}
	set, err := read[instrumentSet](e.Body)
	return set.Is.Ref(), err
}

// goOn makes the next version of every station that names an older version of an instrument.
func goOn(tx *store.Tx, with station.Ref) (out []station.Station, err error) {
	all, err := list[station.Station](tx, "station")
	if err != nil {
		return nil, err
	}
	for _, s := range all {
		named := false
		for _, part := range []*station.Ref{s.Balance, s.Thermometer, s.AirThermometer, s.Barometer, s.Hygrometer, s.CheckPiece, s.Reference, s.Sinker} {
			if part != nil && part.ID == with.ID {
				*part, named = with, true
			}
		}
		if named {
			s.Version++
			out = append(out, s)
		}
	}
	return out, nil
}

// zoneOf is where the shop's calendar counts.
func zoneOf(tx *store.Tx) (*time.Location, error) {
	shop, _, err := get[Shop](tx, shopKind, shopID)
	if err != nil {
		return nil, err
	}
	return time.LoadLocation(shop.TimeZone)
}

// Equipment is all stations, and all instruments with how their papers stand today.
type Equipment struct {
	Stations    []station.Station    `json:"stations"`
	Instruments []station.Instrument `json:"instruments"`
	Papers      []station.Status     `json:"papers"` // in the order of the instruments
}

// Equipment lists what there is.
func (d *Desk) Equipment(ctx context.Context, who *Who) (out Equipment, err error) {
	err = d.look(ctx, who, people.SeeStations, func(tx *store.Tx) (err error) {
		out = Equipment{Stations: []station.Station{}, Instruments: []station.Instrument{}, Papers: []station.Status{}}
		stations, err := list[station.Station](tx, "station")
		if err != nil {
			return err
		}
		instruments, err := list[station.Instrument](tx, "instrument")
		if err != nil {
			return err
		}
		zone, err := zoneOf(tx)
		if err != nil {
			return err
		}
		out.Stations, out.Instruments = append(out.Stations, stations...), append(out.Instruments, instruments...)
		for _, i := range instruments {
			out.Papers = append(out.Papers, i.Due(d.o.Now().In(zone)))
		}
		return nil
	})
	return out, err
}

// Version is one version of a document.
type Version struct {
	Time     time.Time        `json:"time"`
	Person   string           `json:"person"`
	Reason   string           `json:"reason,omitempty"`
	Because  string           `json:"because,omitempty"` // of a station: the instrument that it went on with
	Changes  []station.Change `json:"changes,omitempty"`
	Document json.RawMessage  `json:"document"`
}

// Versions lists all versions of a station or instrument, oldest first, and what changed each time.
func (d *Desk) Versions(ctx context.Context, who *Who, id string) (out []Version, err error) {
	err = d.look(ctx, who, people.SeeStations, func(tx *store.Tx) error {
		out = nil
		var seqs []int64
		if _, err := tx.Get("versions", id, &seqs); err != nil {
			if ignoreMissing(err) == nil {
				err = missing("A list shows what there is.", "there is no station or instrument %q", id)
			}
			return err
		}
		var before json.RawMessage
		for _, seq := range seqs {
			e, err := tx.Entry(seq)
			if err != nil {
				return err
			}
			v, err := versionIn(e, id)
			if err != nil {
				return err
			}
			if before != nil {
				if v.Changes, err = station.Compare(before, v.Document); err != nil {
					return err
				}
			}
			before, out = v.Document, append(out, v)
		}
		return nil
	})
	return out, err
}

// versionIn reads what an entry says of a station or instrument.
func versionIn(e ledger.Entry, id string) (Version, error) {
	set, err := read[struct {
		Is       json.RawMessage   `json:"is"`
		Reason   string            `json:"reason"`
		Stations []json.RawMessage `json:"stations"`
	}](e.Body)
	if err != nil {
		return Version{}, err
	}
	v := Version{Time: e.Time, Person: e.Person, Reason: set.Reason, Document: set.Is}
	if e.Subject == id {
		return v, nil
	}
	v.Because = e.Subject
	for _, s := range set.Stations {
		ref, err := read[station.Ref](s)
		if err != nil {
			return v, err
		}
		if ref.ID == id {
			v.Document = s
		}
	}
	return v, nil
}
