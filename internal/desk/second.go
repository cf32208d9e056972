package desk

import (
	"context"
	"slices"
	"time"

	"wreath/internal/people"
	"wreath/internal/register"
	"wreath/internal/store"
)

// Second lets in a second person for one act, by password. No session begins, and who works at the
// desk stays the same.
func (d *Desk) Second(ctx context.Context, id, password string, at Place) (*Who, error) {
	device, err := d.deviceAt(ctx, at)
	if err != nil {
		return nil, err
	}
	p, err := d.prove(ctx, id, password, at.Source, device)
	if err != nil {
		return nil, err
	}
	return &Who{person: p, session: people.Session{How: people.ByPassword}, device: device}, nil
}

// checkWitness refuses an override whose two people are not the one who does it and another one who
// proved to be there, or who may not sign.
func checkWitness(tx *store.Tx, o *register.Override, by By, at time.Time) error {
	if !slices.Contains(o.People, by.Who.person.ID) {
		return bad("Name yourself and a second person.", "an override is done by one of the two people who stand for it")
	}
	if len(o.People) != 2 || by.Second == nil || by.Second.person.ID == by.Who.person.ID || !slices.Contains(o.People, by.Second.person.ID) {
		return bad("Let a second person, who may sign, give name and password.", "an override needs a second person who is there and agrees")
	}
	return by.Second.allow(tx, people.OverrideHold, at)
}
