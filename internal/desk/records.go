package desk

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"wreath/internal/determination"
	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/store"
)

// standing is what the views keep of a record beside its row.
type standing struct {
	ID           string             `json:"id"`
	Number       string             `json:"number"`
	Seq          int64              `json:"seq"` // the entry that holds the record
	MeasuredBy   []string           `json:"measured_by,omitempty"`
	Signatures   []people.Signature `json:"signatures,omitempty"`
	Complete     bool               `json:"complete,omitempty"` // all signatures that are asked for are given
	Worth        json.RawMessage    `json:"worth,omitempty"`    // the newest value
	SupersededBy string             `json:"superseded_by,omitempty"`
}

// Conclude evaluates a sheet and records the result for good. What nobody has answered about its readings, such
// as a doubt of the program that took them, goes into the record as remarks; they were not on the sheet before.
func (d *Desk) Conclude(ctx context.Context, by By, id string, unanswered ...string) (*record.Record, error) {
	return d.keep(ctx, by, people.RecordDetermination, id, func(tx *store.Tx, made record.Act, number string) (*record.Record, error) {
		sheet, seq, err := get[record.Sheet](tx, "sheet", id)
		if err == nil {
			err = current("the sheet", by.Seen, seq)
		}
		if err != nil {
			return nil, err
		}
		for _, text := range unanswered {
			if sheet, err = sheet.Note(made, text); err != nil {
				return nil, err
			}
		}
		return d.make(tx, sheet, made, number, nil)
	})
}

// Given is a determination that comes as one document with its readings.
type Given struct {
	Begin
	Source string `json:"source"` // record.Typed or record.Imported
}

// Record evaluates a document with its readings and records the result for good.
func (d *Desk) Record(ctx context.Context, by By, g Given) (*record.Record, error) {
	id := d.draw("d-")
	return d.keep(ctx, by, people.RecordDetermination, g, func(tx *store.Tx, made record.Act, number string) (*record.Record, error) {
		sheet, err := d.sheetOf(tx, g, id, made)
		if err != nil {
			return nil, err
		}
		return d.make(tx, sheet, made, number, nil)
	})
}

func (d *Desk) sheetOf(tx *store.Tx, g Given, id string, made record.Act) (record.Sheet, error) {
	begin, err := d.begin(tx, g.Begin, id, made)
	if err != nil {
		return begin, err
	}
	return record.FromDocument(g.Document, begin, g.Source)
}

// Correct puts a new record in the place of a wrong one, which stays visible.
func (d *Desk) Correct(ctx context.Context, by By, old string, g Given, reason string) (*record.Record, error) {
	if reason == "" {
		return nil, bad("Say what was wrong, in a few words.", "a correction needs a reason")
	}
	if err := checkTexts(reason); err != nil {
		return nil, err
	}
	id := d.draw("d-")
	return d.keep(ctx, by, people.CorrectDetermination, []any{old, g, reason}, func(tx *store.Tx, made record.Act, number string) (*record.Record, error) {
		before, seq, err := d.standing(tx, old)
		if err == nil {
			err = current("the record", by.Seen, seq)
		}
		if err != nil {
			return nil, err
		}
		if before.SupersededBy != "" {
			return nil, bad("Correct that one instead.", "record %s was superseded by %s already", before.Number, before.SupersededBy)
		}
		sheet, err := d.sheetOf(tx, g, id, made)
		if err == nil {
			err = keepReadings(tx, before, &sheet)
		}
		if err != nil {
			return nil, err
		}
		return d.make(tx, sheet, made, number, &record.Supersedes{ID: before.ID, Number: before.Number, Reason: reason})
	})
}

// keep records what make gives, under the next number.
func (d *Desk) keep(ctx context.Context, by By, a people.Action, asked any, make func(*store.Tx, record.Act, string) (*record.Record, error)) (*record.Record, error) {
	e, err := d.act(ctx, by, a, asked, func(tx *store.Tx, at time.Time) (draft, error) {
		var last int64
		if _, err := tx.Get("counter", "determination", &last); ignoreMissing(err) != nil {
			return draft{}, err
		}
		r, err := make(tx, record.Act{Time: at, Person: by.Who.person.ID}, fmt.Sprintf("D-%06d", last+1))
		if err != nil {
			return draft{}, err
		}
		if mark := by.Who.Mark(); mark != "" {
			r.Marks = append(r.Marks, mark)
		}
		return draft{kind: "determination-recorded", subject: r.ID, station: stationName(r.Sheet), body: r}, nil
	})
	if err != nil {
		return nil, err
	}
	return decodeRecord(e)
}

func (d *Desk) make(tx *store.Tx, s record.Sheet, made record.Act, number string, supersedes *record.Supersedes) (*record.Record, error) {
	at, instruments, err := d.place(tx, s)
	if err != nil {
		return nil, err
	}
	return record.Make(s, record.Making{
		ID: s.ID, Number: number, Made: made, Station: at, Instruments: instruments, Supersedes: supersedes,
		Options: determination.Options{Version: d.o.Version},
	})
}

func decodeRecord(e ledger.Entry) (*record.Record, error) {
	r, err := record.Decode(e.Body)
	if err != nil {
		return nil, fmt.Errorf("entry %d holds no record that this program reads: %w", e.Seq, err)
	}
	return r, nil
}

// standing finds a record by its id or its number.
func (d *Desk) standing(tx *store.Tx, name string) (s standing, seq int64, err error) {
	seq, err = tx.Get("record", name, &s)
	if errors.Is(err, store.ErrNotFound) {
		found, err := tx.Find(store.Query{Number: name, Limit: 2})
		if err != nil {
			return s, 0, err
		}
		if len(found) != 1 {
			return s, 0, missing("Look it up with a search; numbers read like D-000123.", "there is no record %q", name)
		}
		seq, err = tx.Get("record", found[0].ID, &s)
		return s, seq, err
	}
	return s, seq, err
}

// Recorded is a record with everything that happened to it since.
type Recorded struct {
	Record       *record.Record     `json:"record"`
	Hash         string             `json:"hash"` // of its entry in the log, in hex
	Entry        int64              `json:"entry"`
	Seen         int64              `json:"seen"` // the entry that made its standing as it is
	State        record.State       `json:"state"`
	Signatures   []people.Signature `json:"signatures,omitempty"`
	Missing      []string           `json:"missing,omitempty"` // signatures that are still needed, in words
	Statement    string             `json:"statement,omitempty"`
	SupersededBy string             `json:"superseded_by,omitempty"`
	Worth        json.RawMessage    `json:"worth,omitempty"`
}

// Show reads a record by its id or number. It comes from the log itself, held against its hash.
func (d *Desk) Show(ctx context.Context, who *Who, name string) (out Recorded, err error) {
	err = d.look(ctx, who, people.SeeRecords, func(tx *store.Tx) error {
		s, seq, err := d.standing(tx, name)
		if err != nil {
			return err
		}
		out, err = d.recorded(tx, s, seq)
		if err == nil && who.allow(tx, people.SeePrices, d.o.Now()) != nil {
			out.Worth = nil
		}
		return err
	})
	return out, err
}

func (d *Desk) recorded(tx *store.Tx, s standing, seq int64) (out Recorded, err error) {
	raw, err := tx.Raw(s.Seq)
	if err != nil {
		return out, err
	}
	e, err := ledger.Decode(raw)
	if err != nil {
		return out, &ledger.Broken{Seq: s.Seq, Reason: err.Error()}
	}
	r, err := decodeRecord(e)
	if err != nil {
		return out, err
	}
	stand, asked, err := d.judge(tx, r, s)
	if err != nil {
		return out, err
	}
	leaf := ledger.LeafHash(raw)
	out = Recorded{
		Record: r, Hash: hex.EncodeToString(leaf[:]), Entry: s.Seq, Seen: seq, Signatures: s.Signatures, Missing: stand.Missing,
		Statement: stand.Statement, SupersededBy: s.SupersededBy, Worth: s.Worth,
		State: record.Facts{Evaluated: true, Recorded: true, Signed: len(s.Signatures), Asked: asked, SupersededBy: s.SupersededBy}.State(),
	}
	return out, nil
}

// Happening is one line of a history.
type Happening struct {
	Seq    int64           `json:"seq"`
	Time   time.Time       `json:"time"`
	Clock  string          `json:"clock,omitempty"`
	Kind   string          `json:"kind"`
	Person string          `json:"person,omitempty"`
	Body   json.RawMessage `json:"body"`
}

// shownTo lists what a history holds only for who may see it otherwise; the rest goes with the records.
var shownTo = map[string]people.Action{
	"signed-in": people.SeeAccessLog, "signed-out": people.SeeAccessLog, "sign-in-refused": people.SeeAccessLog, "clock-set-back": people.SeeAccessLog,
	"customer-seen": people.SeeAccessLog, "customer-disclosed": people.SeeAccessLog,
	"person-added": people.SeePeople, "person-changed": people.SeePeople, "person-ended": people.SeePeople,
	"password-set": people.SeePeople, "password-reset": people.SeePeople, "recovery-codes-made": people.SeePeople, "pin-set": people.SeePeople,
	"passkey-added": people.SeePeople, "passkey-removed": people.SeePeople,
	"device-enrolled": people.SeePeople, "device-ended": people.SeePeople, "token-issued": people.SeePeople, "token-ended": people.SeePeople,
	"item-valued": people.SeePrices, "lot-made": people.SeePrices, "prices-set": people.SeePrices, "terms-set": people.SeePrices,
	"deal-registered": people.SeePrices, "deal-voided": people.SeePrices, "deal-closed": people.SeePrices,
}

// History lists everything that happened to a record, a sheet, an item or any other subject, as far as
// the person may see it.
func (d *Desk) History(ctx context.Context, who *Who, subject string) (out []Happening, err error) {
	err = d.look(ctx, who, people.SeeRecords, func(tx *store.Tx) error {
		out = nil
		if s, _, err := d.standing(tx, subject); err == nil {
			subject = s.ID
		}
		var hidden error
		for e, err := range tx.Of(subject) {
			if err != nil {
				return err
			}
			if a, special := shownTo[e.Kind]; special {
				if err := who.allow(tx, a, d.o.Now()); err != nil {
					hidden = err
					continue
				}
			}
			out = append(out, Happening{e.Seq, e.Time, e.Clock, e.Kind, e.Person, e.Body})
		}
		if len(out) == 0 && hidden != nil {
			return hidden
		}
		if len(out) == 0 {
			return missing("Check the name.", "nothing is known of %q", subject)
		}
		return nil
	})
	return out, err
}

// Again evaluates a record again and compares with what was recorded.
func (d *Desk) Again(ctx context.Context, who *Who, name string) (*record.Repeat, error) {
	r, err := d.Show(ctx, who, name)
	if err != nil {
		return nil, err
	}
	return record.Again(r.Record, determination.Options{Version: d.o.Version})
}

// Compare lists what differs between a record and the one that it corrects.
func (d *Desk) Compare(ctx context.Context, who *Who, name string) (*record.Difference, error) {
	after, err := d.Show(ctx, who, name)
	if err != nil {
		return nil, err
	}
	if after.Record.Supersedes == nil {
		return nil, bad("Name the newer one of the two.", "record %s corrects no other", after.Record.Number)
	}
	before, err := d.Show(ctx, who, after.Record.Supersedes.ID)
	if err != nil {
		return nil, err
	}
	return record.Differences(before.Record, after.Record)
}

// Find searches the records.
func (d *Desk) Find(ctx context.Context, who *Who, q store.Query) (out []store.Determination, err error) {
	err = d.look(ctx, who, people.Search, func(tx *store.Tx) error {
		out, err = tx.Find(q)
		return err
	})
	return out, err
}
