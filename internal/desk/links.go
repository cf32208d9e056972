package desk

import (
	"bytes"
	"context"
	"strings"

	"wreath/internal/line"
	"wreath/internal/people"
	"wreath/internal/station"
	"wreath/internal/store"
)

// Linked lists the instruments that are linked and in service, for the program itself, which follows them
// whoever is signed in.
func (d *Desk) Linked(ctx context.Context) (out []station.Instrument, err error) {
	err = d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		all, err := list[station.Instrument](tx, "instrument")
		out = nil
		for _, i := range all {
			if i.Link != nil && i.OutOfService == nil {
				out = append(out, i)
			}
		}
		return err
	})
	return out, err
}

// realLink refuses a link to a simulated instrument where the records are real. A link that stood before goes
// on, so that it can be taken away.
func realLink(tx *store.Tx, before, i *station.Instrument) error {
	if i.Link == nil || !strings.HasPrefix(i.Link.Address, "simulated:") || before != nil && before.Link != nil && before.Link.Address == i.Link.Address {
		return nil
	}
	shop, _, err := get[Shop](tx, shopKind, shopID)
	if err != nil || shop.TakesInvented() {
		return err
	}
	return bad("Link a real instrument, or look around in the demonstration shop.", "%s would be a simulated instrument, and the records of this shop are real", i.ID)
}

// readable refuses a pattern that can't read lines, so that nobody finds out when the first line comes. A
// pattern that stood before goes on, so that everything else of the instrument can still be changed.
func readable(before, i *station.Instrument) error {
	if i.Link == nil || i.Link.Pattern == nil || before != nil && before.Link != nil && bytes.Equal(before.Link.Pattern, i.Link.Pattern) {
		return nil
	}
	if _, err := line.DecodePattern(i.Link.Pattern); err != nil {
		return bad("Learn the line anew, or give the pattern as it was learned.", "the pattern of %s can't be used: %v", i.ID, err)
	}
	return nil
}

// LinkInstrument says how the readings of an instrument reach the program; nil unlinks it. Everything else
// of its file stays as it is.
func (d *Desk) LinkInstrument(ctx context.Context, by By, id string, link *station.Link, reason string) (station.Ref, error) {
	return d.instrument(ctx, by, people.ManageInstrument, id, []any{"link", link, reason}, reason, func(before *station.Instrument, _ station.Date) (station.Instrument, error) {
		if before == nil {
			return station.Instrument{}, missing("A list shows the instruments.", "there is no instrument %q", id)
		}
		i := *before
		if link == nil && before.Link == nil {
			return i, bad("Nothing is left to do.", "%s is not linked", id)
		}
		i.Link = link
		return i, nil
	})
}

// Bound is what an instrument showed with its check weight on.
type Bound struct {
	Port  string  `json:"port"`   // what the port is called
	ReadG float64 `json:"read_g"` // what it showed, g
}

// BindInstrument keeps that the check weight was put on and the instrument at the port showed it. Whoever
// weighs may do it; a reading that is not the weight's is refused, and the instrument stays unbound to that
// port.
func (d *Desk) BindInstrument(ctx context.Context, by By, id string, b Bound) (station.Ref, error) {
	return d.instrument(ctx, by, people.CheckInstrument, id, []any{"bind", b}, "", func(before *station.Instrument, today station.Date) (station.Instrument, error) {
		if before == nil {
			return station.Instrument{}, missing("A list shows the instruments.", "there is no instrument %q", id)
		}
		i := *before
		if i.Link == nil || i.Link.Binding == nil {
			return i, bad("Say on the page of the instrument which weight it is known by.", "%s has no check weight", id)
		}
		link, binding := *i.Link, *i.Link.Binding
		if !binding.Fits(b.ReadG) {
			return i, bad("Look at the weight and at the cable: another instrument may be at its end. Set the instrument to zero and put the weight on once more.",
				"%g g is not the check weight of %g g within %g g", b.ReadG, *binding.CheckG, *binding.ToleranceG)
		}
		binding.Port, binding.ReadG, binding.On = b.Port, &b.ReadG, today
		link.Binding, i.Link = &binding, &link
		return i, nil
	})
}
