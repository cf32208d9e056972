package desk

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"wreath/internal/determination"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/station"
	"wreath/internal/store"
)

// Begin is how a sheet is opened.
type Begin struct {
	Station  string          `json:"station,omitempty"` // its newest version is taken
	Item     string          `json:"item,omitempty"`
	Barcode  string          `json:"barcode,omitempty"`
	Document json.RawMessage `json:"document"` // a draft without readings
}

// Sheet is a determination under way, with the entry that made it as it is.
type Sheet struct {
	Seq   int64        `json:"seq"`
	Sheet record.Sheet `json:"sheet"`
}

// OpenSheet begins a determination.
func (d *Desk) OpenSheet(ctx context.Context, by By, b Begin) (Sheet, error) {
	id := d.draw("d-")
	e, err := d.act(ctx, by, people.OpenDraft, b, func(tx *store.Tx, at time.Time) (draft, error) {
		begin, err := d.begin(tx, b, id, record.Act{Time: at, Person: by.Who.person.ID})
		if err != nil {
			return draft{}, err
		}
		sheet, err := record.Open(begin, b.Document)
		return draft{kind: "sheet-opened", subject: id, station: stationName(sheet), body: sheet}, err
	})
	if err != nil {
		return Sheet{}, err
	}
	sheet, err := read[record.Sheet](e.Body)
	return Sheet{e.Seq, sheet}, err
}

// begin looks up what a sheet begins with.
func (d *Desk) begin(tx *store.Tx, b Begin, id string, by record.Act) (record.Sheet, error) {
	sheet := record.Sheet{ID: id, Item: b.Item, Barcode: b.Barcode, Opened: by}
	if b.Barcode != "" {
		var inTray string
		if _, err := tx.Get("barcode", b.Barcode, &inTray); ignoreMissing(err) != nil {
			return sheet, err
		}
		if inTray != "" && b.Item != "" && inTray != b.Item {
			return sheet, bad("Scan the tray again, or look at both items.", "the tray %s holds the item %s, not %s", b.Barcode, inTray, b.Item)
		}
		sheet.Item = cmp.Or(b.Item, inTray)
	}
	if sheet.Item != "" {
		item, _, err := get[Item](tx, "item", sheet.Item)
		if err != nil {
			return sheet, err
		}
		if sheet.Barcode == "" {
			sheet.Barcode = item.Barcode
		}
	}
	if b.Station != "" {
		s, _, err := get[station.Station](tx, "station", b.Station)
		if err != nil {
			return sheet, err
		}
		ref := s.Ref()
		sheet.Station = &ref
	}
	return sheet, nil
}

func stationName(s record.Sheet) string {
	if s.Station == nil {
		return ""
	}
	return s.Station.String()
}

// Take adds a reading to a sheet and gives the sheet back. Several people may add to one sheet.
func (d *Desk) Take(ctx context.Context, by By, id string, r record.Reading) (Sheet, error) {
	return d.onSheet(ctx, by, people.TakeReading, "reading-taken", id, r, func(s record.Sheet, made record.Act) (record.Sheet, any, error) {
		return take(s, r, made)
	})
}

// withdrawn is the body of an entry.
type withdrawn struct {
	No         int               `json:"no"`
	Withdrawal record.Withdrawal `json:"withdrawal"`
}

// Withdraw sets a reading of a sheet aside. It stays visible.
func (d *Desk) Withdraw(ctx context.Context, by By, id string, no int, reason string) (Sheet, error) {
	if err := checkTexts(reason); err != nil {
		return Sheet{}, err
	}
	return d.onSheet(ctx, by, people.WithdrawReading, "reading-withdrawn", id, []any{no, reason}, func(s record.Sheet, made record.Act) (record.Sheet, any, error) {
		s, err := s.Withdraw(no, made, reason)
		if err != nil {
			return s, nil, err
		}
		for _, r := range s.Readings {
			if r.No == no {
				return s, withdrawn{no, *r.Withdrawn}, nil
			}
		}
		return s, nil, fmt.Errorf("reading %d vanished", no)
	})
}

// restored is the body of an entry.
type restored struct {
	No       int             `json:"no"`
	Restored record.Restored `json:"restored"`
}

// RestoreReading takes back that a reading was set aside. Both acts stay visible. Who may set a reading
// aside may restore it.
func (d *Desk) RestoreReading(ctx context.Context, by By, id string, no int, reason string) (Sheet, error) {
	if err := checkTexts(reason); err != nil {
		return Sheet{}, err
	}
	return d.onSheet(ctx, by, people.WithdrawReading, "reading-restored", id, []any{no, reason, "restore"}, func(s record.Sheet, made record.Act) (record.Sheet, any, error) {
		s, err := s.Restore(no, made, reason)
		if err != nil {
			return s, nil, err
		}
		all := s.Readings[no-1].Restored
		return s, restored{no, all[len(all)-1]}, nil
	})
}

// MoveSheet takes a sheet on to another station, in its newest version. What was weighed before
// stays with its station and is not evaluated at the new one.
func (d *Desk) MoveSheet(ctx context.Context, by By, id, to, reason string) (Sheet, error) {
	if err := checkTexts(reason); err != nil {
		return Sheet{}, err
	}
	return d.onSheetAt(ctx, by, people.ChangeDraft, "sheet-moved", id, []any{to, reason, "move"}, func(tx *store.Tx, s record.Sheet, made record.Act) (record.Sheet, any, error) {
		at, _, err := get[station.Station](tx, "station", to)
		if err != nil {
			return s, nil, err
		}
		s, err = s.Move(at.Ref(), made, reason)
		if err != nil {
			return s, nil, err
		}
		return s, s.Moves[len(s.Moves)-1], nil
	})
}

// Change asks something else of a sheet: another claim, rule or other conditions.
func (d *Desk) Change(ctx context.Context, by By, id string, document json.RawMessage, reason string) (Sheet, error) {
	if err := checkTexts(reason); err != nil {
		return Sheet{}, err
	}
	return d.onSheet(ctx, by, people.ChangeDraft, "sheet-changed", id, []any{document, reason}, func(s record.Sheet, made record.Act) (record.Sheet, any, error) {
		s, err := s.Change(document, made, reason)
		if err != nil {
			return s, nil, err
		}
		return s, s.Requests[len(s.Requests)-1], nil
	})
}

// Note adds a remark to a sheet.
func (d *Desk) Note(ctx context.Context, by By, id, text string) (Sheet, error) {
	return d.onSheet(ctx, by, people.ChangeDraft, "sheet-noted", id, text, func(s record.Sheet, made record.Act) (record.Sheet, any, error) {
		s, err := s.Note(made, text)
		if err != nil {
			return s, nil, err
		}
		return s, s.Notes[len(s.Notes)-1], nil
	})
}

func (d *Desk) onSheet(ctx context.Context, by By, a people.Action, kind, id string, asked any, do func(record.Sheet, record.Act) (record.Sheet, any, error)) (Sheet, error) {
	return d.onSheetAt(ctx, by, a, kind, id, asked, func(_ *store.Tx, s record.Sheet, made record.Act) (record.Sheet, any, error) {
		return do(s, made)
	})
}

// onSheetAt is onSheet for an act that looks something up.
func (d *Desk) onSheetAt(ctx context.Context, by By, a people.Action, kind, id string, asked any, do func(*store.Tx, record.Sheet, record.Act) (record.Sheet, any, error)) (Sheet, error) {
	e, err := d.act(ctx, by, a, []any{id, asked}, func(tx *store.Tx, at time.Time) (draft, error) {
		sheet, seq, err := get[record.Sheet](tx, "sheet", id)
		if err == nil {
			err = current("the sheet", by.Seen, seq)
		}
		if err != nil {
			return draft{}, err
		}
		after, body, err := do(tx, sheet, record.Act{Time: at, Person: by.Who.person.ID})
		return draft{kind: kind, subject: id, station: stationName(after), body: body}, err
	})
	if err != nil {
		return Sheet{}, err
	}
	s, err := d.Sheet(ctx, by.Who, id)
	if errors.As(err, new(*UserError)) { // sent again after the sheet was concluded
		return Sheet{Seq: e.Seq}, nil
	}
	return s, err
}

// Drop gives a sheet up; its history stays in the log.
func (d *Desk) Drop(ctx context.Context, by By, id, reason string) error {
	if reason == "" {
		return bad("Say why, in a few words.", "giving up a sheet needs a reason")
	}
	if err := checkTexts(reason); err != nil {
		return err
	}
	_, err := d.act(ctx, by, people.DropDraft, []any{id, reason}, func(tx *store.Tx, at time.Time) (draft, error) {
		_, seq, err := get[record.Sheet](tx, "sheet", id)
		if err == nil {
			err = current("the sheet", by.Seen, seq)
		}
		return draft{kind: "sheet-dropped", subject: id, body: map[string]string{"reason": reason}}, err
	})
	return err
}

// Sheet reads a sheet.
func (d *Desk) Sheet(ctx context.Context, who *Who, id string) (s Sheet, err error) {
	err = d.look(ctx, who, people.SeeRecords, func(tx *store.Tx) error {
		s.Sheet, s.Seq, err = get[record.Sheet](tx, "sheet", id)
		return err
	})
	return s, err
}

// Sheets lists the determinations under way.
func (d *Desk) Sheets(ctx context.Context, who *Who) (out []record.Sheet, err error) {
	err = d.look(ctx, who, people.SeeRecords, func(tx *store.Tx) error {
		out, err = list[record.Sheet](tx, "sheet")
		return err
	})
	return out, err
}

// Evaluated is what a sheet comes to so far. Nothing of it is kept.
type Evaluated struct {
	Complete *record.Complete
	Answer   *determination.Answer
}

// Evaluate computes what a sheet comes to so far.
func (d *Desk) Evaluate(ctx context.Context, who *Who, id string) (out Evaluated, err error) {
	err = d.look(ctx, who, people.SeeRecords, func(tx *store.Tx) error {
		sheet, _, err := get[record.Sheet](tx, "sheet", id)
		if err != nil {
			return err
		}
		at, instruments, err := d.place(tx, sheet)
		if err != nil {
			return err
		}
		if out.Complete, err = record.Document(&sheet, at, instruments); err != nil {
			return err
		}
		draft, err := determination.Decode(out.Complete.Document)
		if err != nil {
			return err
		}
		out.Answer, err = determination.Evaluate(draft, determination.Options{Version: d.o.Version})
		return err
	})
	return out, err
}

// Filled is the document of a sheet with what its station gives, as far as it is known.
func (d *Desk) Filled(ctx context.Context, who *Who, id string) (out *determination.Draft, err error) {
	err = d.look(ctx, who, people.SeeRecords, func(tx *store.Tx) error {
		sheet, _, err := get[record.Sheet](tx, "sheet", id)
		if err != nil {
			return err
		}
		at, instruments, err := d.place(tx, sheet)
		if err != nil {
			return err
		}
		complete, err := record.Document(&sheet, at, instruments)
		if err != nil {
			return err
		}
		out, err = determination.Decode(complete.Document)
		return err
	})
	return out, err
}

// place reads the station that a sheet names, and every instrument that it or a reading may name.
func (d *Desk) place(tx *store.Tx, s record.Sheet) (*station.Station, []station.Instrument, error) {
	var at *station.Station
	refs := map[station.Ref]bool{}
	if s.Station != nil {
		found, _, err := get[station.Station](tx, "station-version", s.Station.String())
		if err != nil {
			return nil, nil, err
		}
		at = &found
		for _, ref := range []*station.Ref{at.Barometer, at.Hygrometer, at.AirThermometer, at.Thermometer, at.Balance, at.CheckPiece, at.Reference, at.Sinker} {
			if ref != nil {
				refs[*ref] = true
			}
		}
	}
	for _, r := range s.Readings {
		if r.Instrument != nil {
			refs[*r.Instrument] = true
		}
	}
	var instruments []station.Instrument
	for ref := range refs {
		i, _, err := get[station.Instrument](tx, "instrument-version", ref.String())
		if err != nil {
			return nil, nil, err
		}
		// What happened to an instrument later counts: one that was taken out of service stays out.
		now, _, err := get[station.Instrument](tx, "instrument", ref.ID)
		if err != nil {
			return nil, nil, err
		}
		if now.OutOfService != nil {
			i.OutOfService = now.OutOfService
		}
		instruments = append(instruments, i)
	}
	return at, instruments, nil
}
