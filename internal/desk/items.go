package desk

import (
	"context"
	"errors"
	"slices"
	"time"
	"unicode/utf8"

	"wreath/internal/people"
	"wreath/internal/photo"
	"wreath/internal/register"
	"wreath/internal/store"
)

// Item is a thing that came over the counter.
type Item struct {
	Format      int       `json:"format"`
	ID          string    `json:"id"`
	Description string    `json:"description" doc:"what it is, in words"`
	Marks       string    `json:"marks,omitempty" doc:"stamps and marks as seen"`
	Condition   string    `json:"condition,omitempty" doc:"how it arrived"`
	Claim       string    `json:"claim,omitempty" doc:"what it is said to be"`
	ClaimBy     string    `json:"claim_by,omitempty" doc:"who says so: stamp, seller, list, certificate"`
	Barcode     string    `json:"barcode,omitempty" doc:"of its tray or bag"`
	PartOf      string    `json:"part_of,omitempty" doc:"the lot or item that it belongs to"`
	Place       string    `json:"place,omitempty" doc:"where it lies"`
	Entered     time.Time `json:"entered"`
	Photos      []Photo   `json:"photos,omitempty"`

	Deal   string           `json:"deal,omitempty"` // number of the deal by which it came
	Orders []register.Order `json:"orders,omitempty"`
	Gone   string           `json:"gone,omitempty"` // sold, melted, returned
}

// Photo is a picture of an item, by the SHA-256 of its bytes.
type Photo struct {
	Hash      string    `json:"hash"`
	Thumbnail string    `json:"thumbnail"`
	MediaType string    `json:"media_type"`
	Width     int       `json:"width"`
	Height    int       `json:"height"`
	Caption   string    `json:"caption,omitempty"`
	Taken     time.Time `json:"taken"`
}

func (i *Item) check() error {
	if i.Description == "" {
		return bad("Say what it is, as on a receipt: plain band, chain with a lobster clasp.", "the item needs a description")
	}
	for _, text := range []string{i.Description, i.Marks, i.Condition, i.Claim, i.ClaimBy, i.Barcode, i.PartOf, i.Place} {
		if len(text) > 2000 || !utf8.ValidString(text) {
			return bad("Shorten it; longer texts belong into a note.", "%.30q... is longer than 2000 bytes, or no text", text)
		}
	}
	return nil
}

// EnterItem writes down an item. The name is given here.
func (d *Desk) EnterItem(ctx context.Context, by By, i Item) (Item, error) {
	id := d.draw("i-")
	e, err := d.act(ctx, by, people.RegisterItem, i, func(tx *store.Tx, at time.Time) (draft, error) {
		i.Format, i.ID, i.Entered = 1, id, at
		i.Photos, i.Deal, i.Orders, i.Gone = nil, "", nil, ""
		if err := i.check(); err != nil {
			return draft{}, err
		}
		if err := freeBarcode(tx, i.Barcode, id); err != nil {
			return draft{}, err
		}
		return draft{kind: "item-entered", subject: id, body: i}, nil
	})
	if err != nil {
		return Item{}, err
	}
	return read[Item](e.Body)
}

// freeBarcode refuses a tray or bag that holds another item.
func freeBarcode(tx *store.Tx, barcode, id string) error {
	if barcode == "" {
		return nil
	}
	var other string
	_, err := tx.Get("barcode", barcode, &other)
	if err != nil {
		return ignoreMissing(err)
	}
	if other != id {
		return bad("Take another tray, or note first where the other item went.", "the tray or bag %s holds the item %s", barcode, other)
	}
	return nil
}

// onItem changes an item.
func (d *Desk) onItem(ctx context.Context, by By, a people.Action, kind, id string, asked any, reason string, change func(tx *store.Tx, i *Item, at time.Time) error) (Item, error) {
	e, err := d.act(ctx, by, a, []any{id, asked}, func(tx *store.Tx, at time.Time) (draft, error) {
		i, seq, err := get[Item](tx, "item", id)
		if err == nil {
			err = current("the item", by.Seen, seq)
		}
		if err == nil {
			err = change(tx, &i, at)
		}
		if err == nil {
			err = i.check()
		}
		return draft{kind: kind, subject: id, body: reasoned[Item]{i, reason}}, err
	})
	if err != nil {
		return Item{}, err
	}
	changed, err := read[reasoned[Item]](e.Body)
	return changed.Is, err
}

// ChangeItem changes what is written of an item: description, marks, condition, claim, barcode, what
// it is part of. All versions stay in the log.
func (d *Desk) ChangeItem(ctx context.Context, by By, to Item, reason string) (Item, error) {
	return d.onItem(ctx, by, people.RegisterItem, "item-changed", to.ID, []any{to, reason}, reason, func(tx *store.Tx, i *Item, at time.Time) error {
		if err := freeBarcode(tx, to.Barcode, i.ID); err != nil {
			return err
		}
		i.Description, i.Marks, i.Condition, i.Claim, i.ClaimBy = to.Description, to.Marks, to.Condition, to.Claim, to.ClaimBy
		i.Barcode, i.PartOf = to.Barcode, to.PartOf
		return nil
	})
}

// MoveItem notes where an item lies, or that it left: gone is sold, melted, altered or returned. What a
// register rule or an authority holds back is refused with the date; an override breaks a rule.
func (d *Desk) MoveItem(ctx context.Context, by By, id, place, gone, reason string, override *register.Override) (Item, error) {
	a := people.MoveItem
	if override != nil {
		a = people.OverrideHold
	}
	verb := map[string]string{"": "move", "sold": "sell", "melted": "melt", "altered": "alter", "returned": "return"}[gone]
	if verb == "" {
		return Item{}, bad("Use sold, melted, altered or returned, or leave it out.", "%q is no way for an item to go", gone)
	}
	return d.onItem(ctx, by, a, "item-moved", id, []any{place, gone, reason, override}, reason, func(tx *store.Tx, i *Item, at time.Time) error {
		if i.Gone != "" {
			return bad("Look at its history.", "the item is %s already", i.Gone)
		}
		book, err := d.book(tx)
		if err != nil {
			return err
		}
		held := register.Item{Orders: i.Orders}
		if i.Deal != "" {
			deal, _, err := get[Deal](tx, "deal", i.Deal)
			if err != nil {
				return err
			}
			held.Deal, held.At = deal.Kind, deal.At
		}
		if err := checkWitness(tx, override, by.Who.person.ID, at); err != nil {
			return err
		}
		if err := book.May(verb, held, at, override); err != nil {
			return err
		}
		if place != "" {
			i.Place = place
		}
		if gone != "altered" {
			i.Gone = gone
		}
		return nil
	})
}

// checkWitness refuses an override whose two people are not the one who does it and another one who
// may sign.
func checkWitness(tx *store.Tx, o *register.Override, doer string, at time.Time) error {
	if o == nil {
		return nil
	}
	if !slices.Contains(o.People, doer) {
		return bad("Name yourself and a second person.", "an override is done by one of the two people who stand for it")
	}
	for _, id := range o.People {
		p, _, err := get[people.Person](tx, "person", id)
		if err == nil {
			err = p.Allow(people.OverrideHold, at)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// HoldItem keeps an item on the order of an authority. Nobody here can override that.
func (d *Desk) HoldItem(ctx context.Context, by By, id string, o register.Order) (Item, error) {
	return d.onItem(ctx, by, people.HoldItem, "item-held", id, o, o.Reference, func(tx *store.Tx, i *Item, at time.Time) error {
		if o.From.IsZero() {
			o.From = at
		}
		i.Orders = append(i.Orders, o)
		return o.Check()
	})
}

// ReleaseItem notes that an authority lifted its order.
func (d *Desk) ReleaseItem(ctx context.Context, by By, id, order, reference string) (Item, error) {
	if reference == "" {
		return Item{}, bad("Give the authority's reference.", "lifting an order needs the reference by which it was lifted")
	}
	return d.onItem(ctx, by, people.ReleaseItem, "item-released", id, []any{order, reference}, reference, func(tx *store.Tx, i *Item, at time.Time) error {
		for n := range i.Orders {
			if i.Orders[n].Reference == order && i.Orders[n].Lifted == nil {
				i.Orders[n].Lifted = &register.Lifting{At: at, Reference: reference}
				return nil
			}
		}
		return bad("Its history shows the orders.", "no order %q holds the item", order)
	})
}

// AddPhoto keeps a picture of an item, decoded and written anew without what cameras add.
func (d *Desk) AddPhoto(ctx context.Context, by By, id string, upload []byte, caption string) (Item, error) {
	clean, err := photo.Clean(upload)
	if err != nil {
		return Item{}, err
	}
	return d.onItem(ctx, by, people.AddPhoto, "photo-added", id, []any{clean.SHA256, caption}, caption, func(tx *store.Tx, i *Item, at time.Time) error {
		p := Photo{MediaType: clean.MediaType, Width: clean.Width, Height: clean.Height, Caption: caption, Taken: at}
		var err error
		if p.Hash, err = tx.Attach(clean.Bytes); err != nil {
			return err
		}
		if p.Thumbnail, err = tx.Attach(clean.Thumbnail.Bytes); err != nil {
			return err
		}
		i.Photos = append(i.Photos, p)
		return nil
	})
}

// Picture reads a photo by its hash.
func (d *Desk) Picture(ctx context.Context, who *Who, hash string) (data []byte, err error) {
	err = d.look(ctx, who, people.SeeRecords, func(tx *store.Tx) error {
		data, err = tx.Attachment(hash)
		if errors.Is(err, store.ErrNotFound) {
			err = missing("Check the hash.", "there is no picture %.16s", hash)
		}
		return err
	})
	return data, err
}

// ItemSheet is an item with its determinations and when it may go.
type ItemSheet struct {
	Item    Item                  `json:"item"`
	Seen    int64                 `json:"seen"`
	Records []store.Determination `json:"records,omitempty"`
	Parts   []Item                `json:"parts,omitempty"`
	Held    string                `json:"held,omitempty"` // why it may not be sold now
}

// ItemBy reads an item by its name or by the barcode of its tray.
func (d *Desk) ItemBy(ctx context.Context, who *Who, name string) (out ItemSheet, err error) {
	err = d.look(ctx, who, people.SeeRecords, func(tx *store.Tx) error {
		out = ItemSheet{}
		var id string
		if _, err := tx.Get("barcode", name, &id); err == nil {
			name = id
		} else if ignoreMissing(err) != nil {
			return err
		}
		if out.Item, out.Seen, err = get[Item](tx, "item", name); err != nil {
			return err
		}
		if out.Records, err = tx.Find(store.Query{Item: name, Limit: 200}); err != nil {
			return err
		}
		var parts []string
		if _, err := tx.Get("parts", name, &parts); ignoreMissing(err) != nil {
			return err
		}
		for _, p := range parts {
			part, _, err := get[Item](tx, "item", p)
			if err != nil {
				return err
			}
			out.Parts = append(out.Parts, part)
		}
		held, err := d.held(tx, out.Item)
		out.Held = held
		return err
	})
	return out, err
}

// held says why an item may not be sold now; "" when it may.
func (d *Desk) held(tx *store.Tx, i Item) (string, error) {
	book, err := d.book(tx)
	if err != nil {
		return "", err
	}
	held := register.Item{Orders: i.Orders}
	if i.Deal != "" {
		deal, _, err := get[Deal](tx, "deal", i.Deal)
		if err != nil {
			return "", err
		}
		held.Deal, held.At = deal.Kind, deal.At
	}
	var refused *register.RefusedError
	if err := book.May("sell", held, d.o.Now(), nil); errors.As(err, &refused) {
		return refused.Error(), nil
	} else if err != nil {
		return "", err
	}
	return "", nil
}
