package desk

import (
	"context"
	"errors"
	"slices"
	"time"

	"wreath/internal/people"
	"wreath/internal/store"
)

// Sitting is one session, as its person and who administers may see it.
type Sitting struct {
	ID     string     `json:"id"` // tells it from others; opens nothing
	Person string     `json:"person"`
	How    people.How `json:"how"`
	Device string     `json:"device,omitempty"` // name of the enrolled device
	Begun  time.Time  `json:"begun"`
	Active time.Time  `json:"active"` // last time that something was done in it
	Locked bool       `json:"locked,omitempty"`
	Own    bool       `json:"own,omitempty"` // the one in which it is asked
}

// sittingID names a session by part of the hash of its token.
func sittingID(s people.Session) string { return s.Key[:16] }

// Sessions lists one's own sessions that have not ended, newest first.
func (d *Desk) Sessions(ctx context.Context, who *Who) (out []Sitting, err error) {
	err = d.look(ctx, who, people.OwnCredentials, func(tx *store.Tx) error {
		out = nil
		devices, err := list[people.Device](tx, "device")
		if err != nil {
			return err
		}
		all, err := sessionsOf(tx, who.person)
		if err != nil {
			return err
		}
		for _, s := range all {
			row := Sitting{ID: sittingID(s), Person: s.Person, How: s.How, Begun: s.Begun, Active: s.Active, Locked: s.Locked, Own: s.Key == who.key}
			for _, device := range devices {
				if device.ID == s.Device {
					row.Device = device.Name
				}
			}
			if s.Check(who.person, deviceOf(devices, s.Device), people.StandardLimits(), d.o.Now()); s.Ended == nil {
				out = append(out, row)
			}
		}
		slices.SortFunc(out, func(a, b Sitting) int { return b.Begun.Compare(a.Begun) })
		return nil
	})
	return out, err
}

func deviceOf(devices []people.Device, id string) *people.Device {
	i := slices.IndexFunc(devices, func(d people.Device) bool { return d.ID == id })
	if i < 0 {
		return nil
	}
	return &devices[i]
}

func sessionsOf(tx *store.Tx, p people.Person) (out []people.Session, err error) {
	names, err := tx.Secrets(secretSession)
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		s, err := secret[people.Session](tx, secretSession, name)
		if err != nil {
			return nil, err
		}
		if s.Person == p.ID {
			out = append(out, s)
		}
	}
	return out, nil
}

// EndOwn ends another one of one's own sessions, such as one that was left open elsewhere.
func (d *Desk) EndOwn(ctx context.Context, by By, id string) error {
	_, err := d.act(ctx, by, people.OwnCredentials, []any{"end session", id}, func(tx *store.Tx, at time.Time) (draft, error) {
		all, err := sessionsOf(tx, by.Who.person)
		if err != nil {
			return draft{}, err
		}
		for _, s := range all {
			if sittingID(s) == id && s.Key != by.Who.key {
				return draft{kind: "signed-out", subject: s.Person, body: arrival{How: s.How, Device: s.Device}}, tx.DropSecret(secretSession, s.Key)
			}
		}
		return draft{}, missing("It may have ended by itself; look at the list again.", "there is no other session %q of yours", id)
	})
	return err
}

// Lock locks the session at once: the person steps aside for another.
func (d *Desk) Lock(ctx context.Context, who *Who) error {
	if who == nil || who.key == "" || who.roles != nil {
		return nil
	}
	return d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		s, err := secret[people.Session](tx, secretSession, who.key)
		if errors.Is(err, store.ErrNotFound) {
			return &people.SignInError{Reason: "the session has ended", Hint: "Sign in again."}
		}
		if err != nil {
			return err
		}
		s.Lock()
		who.session = s
		return putSecret(tx, secretSession, who.key, s)
	})
}
