package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/store"
)

// MaxStream is the most that is kept of what an instrument said before a reading, in bytes.
const MaxStream = 4096

// Heard is what came with a reading from an instrument's line.
type Heard struct {
	Stream []byte // what the instrument said before it, byte by byte; kept beside the log under its SHA-256
	// Invented is true where no real instrument is known to have spoken: a simulated one, a recording,
	// another program. Such a reading enters a demonstration only.
	Invented bool
}

// TakeHeard is Take for a reading that an instrument's line brought. What was heard before it is kept and
// named in the reading by its hash.
func (d *Desk) TakeHeard(ctx context.Context, by By, id string, r record.Reading, h Heard) (Sheet, error) {
	switch {
	case len(h.Stream) > MaxStream:
		return Sheet{}, bad("Keep the last seconds only.", "%d bytes are more than is kept before a reading", len(h.Stream))
	case r.Source != record.Received:
		return Sheet{}, bad("Take it as a typed reading.", "a reading that was heard is a received one")
	case len(h.Stream) > 0:
		sum := sha256.Sum256(h.Stream)
		r.Evidence = hex.EncodeToString(sum[:])
	}
	return d.onSheetAt(ctx, by, people.TakeReading, "reading-taken", id, r, func(tx *store.Tx, s record.Sheet, made record.Act) (record.Sheet, any, error) {
		shop, _, err := get[Shop](tx, shopKind, shopID)
		if err != nil {
			return s, nil, err
		}
		if h.Invented && !shop.TakesInvented() {
			return s, nil, bad("Link a real instrument, or look around in the demonstration shop.", "no real instrument has said this reading, and the records of this shop are real")
		}
		s, taken, err := take(s, r, made)
		if err != nil || r.Evidence == "" {
			return s, taken, err
		}
		_, err = tx.Attach(h.Stream)
		return s, taken, err
	})
}

// TakesInvented says whether what no real instrument said may stand in the records of the shop: in a
// demonstration, where everything is invented. Everybody who opens, links or hears instruments asks this.
func (s Shop) TakesInvented() bool { return s.Demo }

// take adds a reading to a sheet.
func take(s record.Sheet, r record.Reading, made record.Act) (record.Sheet, any, error) {
	r.Person = made.Person
	if r.Time.IsZero() {
		r.Time = made.Time
	}
	s, err := s.Take(r)
	if err != nil {
		return s, nil, err
	}
	return s, s.Readings[len(s.Readings)-1], nil
}

// streamOf says which reading a stream was kept for.
type streamOf struct {
	Sheet string `json:"sheet"`
	No    int    `json:"no"`
}

func showTaken(tx *store.Tx, e ledger.Entry) error {
	if err := onSheet(func(s *record.Sheet, r record.Reading) { s.Readings = append(s.Readings, r) })(tx, e); err != nil {
		return err
	}
	r, err := read[record.Reading](e.Body)
	if err != nil || r.Evidence == "" {
		return err
	}
	return tx.Put("stream", r.Evidence, e.Seq, streamOf{e.Subject, r.No})
}

// Stream is what an instrument said before a reading, by the hash that the reading names. It is held
// against the hash; bytes that were changed are an error that says so.
func (d *Desk) Stream(ctx context.Context, who *Who, hash string) (data []byte, err error) {
	err = d.look(ctx, who, people.SeeRecords, func(tx *store.Tx) error {
		if _, _, err := get[streamOf](tx, "stream", hash); err != nil {
			return missing("Check the hash.", "nothing is kept that was heard under %.16s", hash)
		}
		data, err = tx.Attachment(hash)
		if errors.Is(err, store.ErrNotFound) {
			err = &ledger.Broken{Seq: -1, Reason: fmt.Sprintf("what was heard before a reading, %.16s, is missing", hash)}
		}
		return err
	})
	return slices.Clip(data), err
}

// checkStreams looks whether everything that a reading names as heard is there; its hash was held against
// it before.
func (d *Desk) checkStreams(ctx context.Context) error {
	return d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		for after := ""; ; {
			things, err := tx.List("stream", after, 500)
			if err != nil {
				return err
			}
			for _, t := range things {
				there, err := tx.Attached(t.ID)
				if err != nil {
					return err
				}
				if !there {
					return &ledger.Broken{Seq: t.Seq, Reason: fmt.Sprintf("what was heard before a reading, %.16s, is missing", t.ID)}
				}
				after = t.ID
			}
			if len(things) < 500 {
				return nil
			}
		}
	})
}
