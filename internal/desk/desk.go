package desk

import (
	"context"
	"crypto/rand"
	"encoding/base32"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/store"
)

// Desk is one shop's desk.
type Desk struct {
	o         Options
	hasher    *people.Hasher
	questions unanswered
	key       signingKey
}

// Options say where a desk stands.
type Options struct {
	Store   *store.Store
	Shop    string // short name of the shop, as its log is called
	Private string // key that signs the shop's checkpoints
	// Unlock gives that key when something is first sealed, where Private is empty: it may ask for a
	// passphrase.
	Unlock  func() (private string, err error)
	Public  string // key that checks them
	Version string // of this program
	Now     func() time.Time
	Random  io.Reader
	Cost    people.Cost // of a password's hash; people.StandardCost unless set

	// Snapshot writes a consistent copy of the store to a new file, and OpenFile opens a store in
	// such a file. Backups need both.
	Snapshot func(ctx context.Context, to string) error
	OpenFile func(ctx context.Context, path string, write bool) (*store.Store, error)
	// Scrub removes what was deleted from the disk, where the database can.
	Scrub func(ctx context.Context) error
}

// New sits down at a desk. The shop may not be open yet; see OpenShop.
func New(o Options) (*Desk, error) {
	if err := ledger.CheckShop(o.Shop); err != nil {
		return nil, err
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Random == nil {
		o.Random = rand.Reader
	}
	if o.Cost == (people.Cost{}) {
		o.Cost = people.StandardCost
	}
	hasher, err := people.NewHasher(o.Cost, o.Random)
	if err != nil {
		return nil, err
	}
	return &Desk{o: o, hasher: hasher}, nil
}

// Shop is the short name of the shop.
func (d *Desk) Shop() string { return d.o.Shop }

// By says who does an act, and how it is recognised when it is sent again.
type By struct {
	Who  *Who
	Key  string // the sender's own mark for this act; drawn here when empty
	Seen int64  // the entry that the sender last saw of what is changed; 0 does not care

	Second *Who // who stands for it as well, where an act needs two people; see Second
}

// StaleError says that somebody else changed a thing after the sender looked at it.
type StaleError struct {
	What string
	Now  int64 // the entry that made it as it is now
}

func (e *StaleError) Error() string {
	return fmt.Sprintf("%s was changed by someone else meanwhile; look at it again, then repeat what is still wanted", e.What)
}

// UserError is bad input, said in two parts.
type UserError struct {
	Reason, Hint string
	Missing      bool // what was named is not there
}

func (e *UserError) Error() string { return e.Reason }

func bad(hint, reason string, args ...any) error {
	return &UserError{Reason: fmt.Sprintf(reason, args...), Hint: hint}
}

// missing says that what was named is not there.
func missing(hint, reason string, args ...any) error {
	return &UserError{Reason: fmt.Sprintf(reason, args...), Hint: hint, Missing: true}
}

// draft is an entry before it has its place.
type draft struct {
	kind, subject, station string
	body                   any
}

// act does one act: it checks who may, looks whether it was done before under the same mark, appends
// one entry and brings the views up to date, in one transaction. Asked is all that the sender gave.
func (d *Desk) act(ctx context.Context, by By, a people.Action, asked any, do func(tx *store.Tx, at time.Time) (draft, error)) (ledger.Entry, error) {
	if by.Who == nil {
		return ledger.Entry{}, bad("Sign in first.", "nobody is signed in")
	}
	return d.append(ctx, by.Key, by.Who.person.ID, []any{a, by.Who.person.ID, asked}, func(tx *store.Tx, at time.Time) (draft, error) {
		if err := by.Who.allow(tx, a, at); err != nil {
			return draft{}, err
		}
		return do(tx, at)
	})
}

// append is act for what happens before or without a person who is signed in.
func (d *Desk) append(ctx context.Context, key, person string, asked any, do func(tx *store.Tx, at time.Time) (draft, error)) (done ledger.Entry, err error) {
	if key == "" {
		key = d.draw("")
	}
	if len(key) > 256 || !utf8.ValidString(key) || strings.Contains(key, "\x00") {
		return done, bad("Use at most 256 bytes of plain text, such as a number drawn at random.", "the mark %.40q of the act can't be kept", key)
	}
	digest, err := store.Digest(asked)
	if err != nil { // a document inside is broken
		if inside, is := errors.AsType[*json.MarshalerError](err); is {
			err = inside.Err
		}
		return done, bad("It must be one whole JSON document.", "what was sent can't be read: %v", err)
	}
	for range 3 {
		err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
			var found bool
			if done, found, err = tx.Earlier(key, digest); found || err != nil {
				return err
			}
			if err := open(tx); err != nil {
				return err
			}
			at := d.o.Now()
			draft, err := do(tx, at)
			if err != nil {
				return err
			}
			body, err := json.Marshal(draft.body)
			if err != nil {
				return fmt.Errorf("write down %s: %w", draft.kind, err)
			}
			done, err = tx.Append(ledger.Entry{
				Head: ledger.Head{Time: at, Kind: draft.kind, Subject: draft.subject, Person: person, Station: draft.station, Key: key, Request: digest},
				Body: body,
			})
			if err != nil {
				return err
			}
			return view(tx, done)
		})
		// Where nobody knows whether the act was kept, its mark tells when it is sent again.
		if !errors.Is(err, store.ErrUnknown) {
			break
		}
	}
	return done, err
}

// look reads without changing anything.
func (d *Desk) look(ctx context.Context, who *Who, a people.Action, do func(tx *store.Tx) error) error {
	if who == nil {
		return bad("Sign in first.", "nobody is signed in")
	}
	return d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		if err := who.allow(tx, a, d.o.Now()); err != nil {
			return err
		}
		return do(tx)
	})
}

// letters leave out what is mistaken when read aloud.
var letters = base32.NewEncoding("0123456789abcdefghjkmnpqrstvwxyz").WithPadding(base32.NoPadding)

// draw makes a name that nothing else has: 80 random bits behind a prefix.
func (d *Desk) draw(prefix string) string {
	var b [10]byte
	if _, err := io.ReadFull(d.o.Random, b[:]); err != nil {
		panic("the system gives no random numbers: " + err.Error())
	}
	return prefix + letters.EncodeToString(b[:])
}

// current refuses a change to something that the sender saw in an older state.
func current(what string, seen, now int64) error {
	if seen != 0 && seen != now {
		return &StaleError{what, now}
	}
	return nil
}

// read decodes a document that this program wrote.
func read[T any](data []byte) (out T, err error) {
	if err = json.Unmarshal(data, &out); err != nil {
		err = fmt.Errorf("read %T: %w", out, err)
	}
	return out, err
}

// get reads a thing of the views; a missing one is said by its name.
func get[T any](tx *store.Tx, kind, id string) (out T, seq int64, err error) {
	seq, err = tx.Get(kind, id, &out)
	if errors.Is(err, store.ErrNotFound) {
		err = missing("Check the name; a list shows what there is.", "there is no %s %q", strings.ReplaceAll(kind, "-", " "), id)
	}
	return out, seq, err
}

// list reads all things of a kind.
func list[T any](tx *store.Tx, kind string) (out []T, err error) {
	after := ""
	for {
		things, err := tx.List(kind, after, 500)
		if err != nil {
			return nil, err
		}
		for _, t := range things {
			one, err := read[T](t.Doc)
			if err != nil {
				return nil, err
			}
			out = append(out, one)
			after = t.ID
		}
		if len(things) < 500 {
			return out, nil
		}
	}
}
