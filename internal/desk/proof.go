package desk

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/store"
)

// carried is the body of an entry: readings of a check piece that were taken on another sheet, and the
// remark that says so.
type carried struct {
	From     string           `json:"from"` // id of the other determination
	Readings []record.Reading `json:"readings"`
	Note     record.Note      `json:"note"`
}

func showCarried(s *record.Sheet, c carried) {
	s.Readings = append(s.Readings, c.Readings...)
	s.Notes = append(s.Notes, c.Note)
}

// proofSlots begins the name of every reading of a check piece.
const proofSlots = "liquid.proof."

// CarryProof takes the check piece's readings of the latest sheet or record at the same station today.
// They keep their own time and person.
func (d *Desk) CarryProof(ctx context.Context, by By, id string) (Sheet, error) {
	e, err := d.act(ctx, by, people.TakeReading, []any{id, "carry-proof"}, func(tx *store.Tx, at time.Time) (draft, error) {
		s, seq, err := get[record.Sheet](tx, "sheet", id)
		if err == nil {
			err = current("the sheet", by.Seen, seq)
		}
		if err != nil {
			return draft{}, err
		}
		if len(proofOn(s, time.Time{})) > 0 {
			return draft{}, bad("Set those readings aside first, if they are wrong.", "the check piece was weighed on this sheet already")
		}
		from, readings, err := d.lastProof(tx, s, at)
		if err != nil {
			return draft{}, err
		}
		body := carried{From: from.ID}
		known := len(s.Readings)
		for _, r := range readings {
			if s, err = s.Take(r); err != nil {
				return draft{}, err
			}
		}
		s, err = s.Note(record.Act{Time: at, Person: by.Who.person.ID}, "The check piece's readings were carried over from the determination "+from.ID+".")
		if err != nil {
			return draft{}, err
		}
		body.Readings, body.Note = s.Readings[known:], s.Notes[len(s.Notes)-1]
		return draft{kind: "proof-carried", subject: id, station: stationName(s), body: body}, nil
	})
	if err != nil {
		return Sheet{}, err
	}
	done, err := d.Sheet(ctx, by.Who, id)
	if errors.As(err, new(*UserError)) { // sent again after the sheet was concluded
		return Sheet{Seq: e.Seq}, nil
	}
	return done, err
}

// ProofAtHand tells whether CarryProof would find readings for a sheet.
func (d *Desk) ProofAtHand(ctx context.Context, who *Who, id string) (found bool, err error) {
	err = d.look(ctx, who, people.SeeRecords, func(tx *store.Tx) error {
		s, _, err := get[record.Sheet](tx, "sheet", id)
		if err != nil || len(proofOn(s, time.Time{})) > 0 {
			return err
		}
		_, readings, err := d.lastProof(tx, s, d.o.Now())
		found = len(readings) > 0
		if errors.As(err, new(*UserError)) {
			return nil
		}
		return err
	})
	return found, err
}

// lastProof finds the readings of a check piece that were taken last at a sheet's station today.
func (d *Desk) lastProof(tx *store.Tx, s record.Sheet, at time.Time) (from record.Sheet, readings []record.Reading, err error) {
	none := bad("Weigh the check piece in air and in the liquid.", "no check piece was weighed at this station today")
	if s.Station == nil {
		return from, nil, none
	}
	zone, err := zoneOf(tx)
	if err != nil {
		return from, nil, err
	}
	year, month, day := at.In(zone).Date()
	morning := time.Date(year, month, day, 0, 0, 0, 0, zone)
	sheets, err := list[record.Sheet](tx, "sheet")
	if err != nil {
		return from, nil, err
	}
	rows, err := tx.Find(store.Query{Station: s.Station.ID, From: morning, Limit: 20})
	if err != nil {
		return from, nil, err
	}
	for _, row := range rows {
		e, err := tx.Entry(row.Seq)
		if err != nil {
			return from, nil, err
		}
		r, err := decodeRecord(e)
		if err != nil {
			return from, nil, err
		}
		sheets = append(sheets, r.Sheet)
	}
	var latest time.Time
	for _, other := range sheets {
		if other.ID == s.ID || other.Station == nil || *other.Station != *s.Station {
			continue
		}
		found := proofOn(other, morning)
		if len(found) < 2 { // in air and in the liquid
			continue
		}
		last := slices.MaxFunc(found, func(a, b record.Reading) int { return a.Time.Compare(b.Time) }).Time
		if c := last.Compare(latest); c > 0 || c == 0 && cmp.Less(from.ID, other.ID) {
			from, readings, latest = other, found, last
		}
	}
	if readings == nil {
		return from, nil, none
	}
	return from, readings, nil
}

// proofOn lists a sheet's readings of the check piece since a time that count.
func proofOn(s record.Sheet, since time.Time) (out []record.Reading) {
	for _, r := range s.Readings {
		if strings.HasPrefix(r.Slot, proofSlots) && s.Counts(r) && !r.Time.Before(since) {
			out = append(out, r)
		}
	}
	return out
}
