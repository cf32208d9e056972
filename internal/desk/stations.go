package desk

import (
	"context"
	"encoding/json"
	"time"

	"wreath/internal/people"
	"wreath/internal/station"
	"wreath/internal/store"
)

// SetStation makes a station, or its next version. The version is given here.
func (d *Desk) SetStation(ctx context.Context, by By, s station.Station, reason string) (station.Ref, error) {
	e, err := d.act(ctx, by, people.ManageStation, []any{s, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
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
	return d.instrument(ctx, by, people.ManageInstrument, i.ID, []any{i, reason}, reason, func(before *station.Instrument, at time.Time) (station.Instrument, error) {
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
	return d.instrument(ctx, by, people.TakeOutOfService, id, reason, reason, func(before *station.Instrument, at time.Time) (station.Instrument, error) {
		if before == nil {
			return station.Instrument{}, missing("A list shows the instruments.", "there is no instrument %q", id)
		}
		i := *before
		i.OutOfService = &station.OutOfService{Since: station.Day(at), Reason: reason}
		return i, nil
	})
}

// ReturnToService puts it back.
func (d *Desk) ReturnToService(ctx context.Context, by By, id, reason string) (station.Ref, error) {
	if reason == "" {
		return station.Ref{}, bad("Say what was checked, in a few words.", "returning an instrument to service needs a reason")
	}
	return d.instrument(ctx, by, people.ReturnToService, id, reason, reason, func(before *station.Instrument, at time.Time) (station.Instrument, error) {
		if before == nil || before.OutOfService == nil {
			return station.Instrument{}, bad("A list shows what is out of service.", "%q is not out of service", id)
		}
		i := *before
		i.OutOfService = nil
		return i, nil
	})
}

func (d *Desk) instrument(ctx context.Context, by By, a people.Action, id string, asked any, reason string, next func(before *station.Instrument, at time.Time) (station.Instrument, error)) (station.Ref, error) {
	e, err := d.act(ctx, by, a, []any{id, asked}, func(tx *store.Tx, at time.Time) (draft, error) {
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
		i, err := next(before, at)
		if err != nil {
			return draft{}, err
		}
		i.Format, i.Version = station.Format, stored.Version+1
		if before != nil && before.Kind != i.Kind {
			return draft{}, bad("Give the new one a name of its own.", "%s is a %s, not a %s", id, before.Kind, i.Kind)
		}
		return draft{kind: "instrument-set", subject: i.ID, body: reasoned[station.Instrument]{i, reason}}, i.Check()
	})
	if err != nil {
		return station.Ref{}, err
	}
	set, err := read[reasoned[station.Instrument]](e.Body)
	return set.Is.Ref(), err
}

// Kit is a station with its instruments and how their papers stand today.
type Kit struct {
	Station     station.Station      `json:"station"`
	Instruments []station.Instrument `json:"instruments,omitempty"`
	Papers      []station.Status     `json:"papers,omitempty"` // in the order of the instruments
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
		if out.Stations, err = list[station.Station](tx, "station"); err != nil {
			return err
		}
		out.Instruments, err = list[station.Instrument](tx, "instrument")
		return err
	})
	for _, i := range out.Instruments {
		out.Papers = append(out.Papers, i.Due(d.o.Now()))
	}
	return out, err
}

// Versions lists all versions of a station or instrument, oldest first, and what changed each time.
func (d *Desk) Versions(ctx context.Context, who *Who, id string) (out []Version, err error) {
	history, err := d.History(ctx, who, id)
	if err != nil {
		return nil, err
	}
	var before json.RawMessage
	for _, h := range history {
		if h.Kind != "station-set" && h.Kind != "instrument-set" {
			continue
		}
		set, err := read[reasoned[json.RawMessage]](h.Body)
		if err != nil {
			return nil, err
		}
		v := Version{Time: h.Time, Person: h.Person, Reason: set.Reason, Document: set.Is}
		if before != nil {
			if v.Changes, err = station.Compare(before, set.Is); err != nil {
				return nil, err
			}
		}
		before = set.Is
		out = append(out, v)
	}
	return out, nil
}

// Version is one version of a document.
type Version struct {
	Time     time.Time        `json:"time"`
	Person   string           `json:"person"`
	Reason   string           `json:"reason,omitempty"`
	Changes  []station.Change `json:"changes,omitempty"`
	Document json.RawMessage  `json:"document"`
}
