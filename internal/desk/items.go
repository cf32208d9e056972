package desk

import (
	"context"
	"errors"
	"slices"
	"strings"
	"time"
	"unicode"
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
	Declared    *Declared `json:"declared,omitempty"` // by the list that it came with; nobody here has looked

	Deal    string           `json:"deal,omitempty"`          // number of the deal by which it came
	Earlier []string         `json:"earlier_deals,omitempty"` // those by which it came before, such as a pledge that was bought later
	Sale    string           `json:"sale,omitempty"`          // number of the deal by which it was sold
	Voided  string           `json:"voided,omitempty"`        // the deal by which it came, when that came to nothing and no other followed
	Orders  []register.Order `json:"orders,omitempty"`
	Gone    string           `json:"gone,omitempty"` // sold, melted, returned
}

// MaxPhotos is how many photos one item may have; chosen here.
const MaxPhotos = 50

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
	if strings.TrimSpace(i.Description) == "" {
		return bad("Say what it is, as on a receipt: plain band, chain with a lobster clasp.", "the item needs a description")
	}
	return checkTexts(i.Description, i.Marks, i.Condition, i.Claim, i.ClaimBy, i.Barcode, i.PartOf, i.Place)
}

// checkTexts refuses what would not be shown as it is stored. They are written on one line.
func checkTexts(texts ...string) error {
	for _, text := range texts {
		switch {
		case len(text) > 2000:
			return bad("Shorten it.", "%.30q... is longer than 2000 bytes", text)
		case !utf8.ValidString(text) || strings.ContainsFunc(text, func(r rune) bool {
			return unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) || r == unicode.ReplacementChar
		}):
			return bad("Type it again on one line, instead of pasting it.", "%.60q holds characters that can't be shown", text)
		}
	}
	return nil
}

// deepest is how many levels parts of parts may have; chosen here.
const deepest = 20

// wholes are the items that an item is part of, the nearest first. A lot is not followed.
func wholes(tx *store.Tx, i Item) (out []Item, err error) {
	for above := i.PartOf; above != ""; {
		if strings.HasPrefix(above, "l-") {
			_, _, err := get[LotRow](tx, "lot", above)
			return out, err
		}
		whole, _, err := get[Item](tx, "item", above)
		switch {
		case err != nil:
			return nil, err
		case whole.ID == i.ID:
			return nil, bad("Name the larger one of the two.", "an item can't be part of itself")
		case len(out) == deepest:
			return nil, bad("Name the bag or the lot itself.", "parts of parts have at most %d levels", deepest)
		}
		out = append(out, whole)
		above = whole.PartOf
	}
	return out, nil
}

// join puts the name of what an item is part of in place of the barcode of its tray, and refuses an item
// that would be part of nothing or of itself.
func join(tx *store.Tx, i *Item) error {
	var id string
	if _, err := tx.Get("barcode", i.PartOf, &id); err == nil {
		i.PartOf = id
	} else if ignoreMissing(err) != nil {
		return err
	}
	_, err := wholes(tx, *i)
	return err
}

// parts are the items that are part of one, at every level.
func parts(tx *store.Tx, id string, level int) (out []Item, err error) {
	var ids []string
	if _, err := tx.Get("parts", id, &ids); err != nil || level > deepest {
		return nil, ignoreMissing(err)
	}
	for _, id := range ids {
		i, _, err := get[Item](tx, "item", id)
		if err != nil {
			return nil, err
		}
		below, err := parts(tx, id, level+1)
		if err != nil {
			return nil, err
		}
		out = append(append(out, i), below...)
	}
	return out, nil
}

// EnterItem writes down an item. The name is given here.
func (d *Desk) EnterItem(ctx context.Context, by By, i Item) (Item, error) {
	id := d.draw("i-")
	e, err := d.act(ctx, by, people.RegisterItem, i, func(tx *store.Tx, at time.Time) (draft, error) {
		i.Format, i.ID, i.Entered = 1, id, at
		i.Photos, i.Declared, i.Deal, i.Earlier, i.Sale, i.Orders, i.Gone = nil, nil, "", nil, "", nil, ""
		if err := i.check(); err != nil {
			return draft{}, err
		}
		if err := join(tx, &i); err != nil {
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
	if _, err := tx.Get("item", barcode, new(Item)); err == nil {
		return bad("Use the code that is printed on the tray or bag.", "%s is the name of an item, not of a tray", barcode)
	} else if ignoreMissing(err) != nil {
		return err
	}
	_, err := tx.Get("barcode", barcode, &other)
	if err != nil {
		return ignoreMissing(err)
	}
	if other != id {
		return bad("Take another tray, or note first where the other item went.", "the tray or bag %s holds the item %s", barcode, other)
	}
	return nil
}

// itemNamed reads an item by its name or by the barcode of its tray. It is done within the act, so that
// an act that is sent again is known by what was said, also when the tray is free meanwhile.
func itemNamed(tx *store.Tx, name string) (Item, int64, error) {
	var id string
	if _, err := tx.Get("barcode", name, &id); err == nil {
		name = id
	} else if ignoreMissing(err) != nil {
		return Item{}, 0, err
	}
	return get[Item](tx, "item", name)
}

// onItem changes an item, named by its own name or by the barcode of its tray.
func (d *Desk) onItem(ctx context.Context, by By, a people.Action, kind, id string, asked any, reason string, change func(tx *store.Tx, i *Item, at time.Time) error) (Item, error) {
	e, err := d.act(ctx, by, a, []any{id, asked}, func(tx *store.Tx, at time.Time) (draft, error) {
		i, seq, err := itemNamed(tx, id)
		if err == nil {
			err = current("the item", by.Seen, seq)
		}
		if err == nil {
			err = change(tx, &i, at)
		}
		if err == nil {
			err = i.check()
		}
		if err == nil {
			err = checkTexts(reason)
		}
		return draft{kind: kind, subject: i.ID, body: reasoned[Item]{i, reason}}, err
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
	// Only what can change here tells whether a change is sent again.
	asked := Item{Description: to.Description, Marks: to.Marks, Condition: to.Condition, Claim: to.Claim, ClaimBy: to.ClaimBy, Barcode: to.Barcode, PartOf: to.PartOf}
	return d.onItem(ctx, by, people.RegisterItem, "item-changed", to.ID, []any{asked, reason}, reason, func(tx *store.Tx, i *Item, at time.Time) error {
		if err := freeBarcode(tx, to.Barcode, i.ID); err != nil {
			return err
		}
		i.Description, i.Marks, i.Condition, i.Claim, i.ClaimBy = to.Description, to.Marks, to.Condition, to.Claim, to.ClaimBy
		if i.Gone != "" && to.Barcode != i.Barcode {
			return bad("Leave out the barcode.", "the item is %s, so it lies in no tray", i.Gone)
		}
		before := *i
		i.Barcode, i.PartOf = to.Barcode, to.PartOf
		if err := join(tx, i); err != nil {
			return err
		}
		return d.takenOut(tx, before, *i, at)
	})
}

// takenOut refuses to take an item out of what has left, or is held in any way: a hold would end with it.
func (d *Desk) takenOut(tx *store.Tx, before, after Item, at time.Time) error {
	if before.PartOf == after.PartOf {
		return nil
	}
	if err := stillHere(tx, before); err != nil {
		return err
	}
	was, err := wholes(tx, before)
	if err != nil {
		return err
	}
	is, err := wholes(tx, after)
	if err != nil {
		return err
	}
	book, err := d.book(tx)
	if err != nil {
		return err
	}
	for _, whole := range was {
		if slices.ContainsFunc(is, func(i Item) bool { return i.ID == whole.ID }) {
			continue
		}
		came, err := cameBy(tx, whole)
		if err != nil {
			return err
		}
		for _, c := range came {
			for _, verb := range register.Actions {
				err := book.May(verb, c, at, nil)
				if refused, is := errors.AsType[*register.RefusedError](err); is {
					return &HeldError{whole.ID, before.ID, refused}
				}
				if err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// moved is the body of an entry: the item as it is now, and what was done with it.
type moved struct {
	Is       Item               `json:"is"`
	Reason   string             `json:"reason,omitempty"`
	Done     string             `json:"done"`               // move, sell, melt, alter or return
	Override *register.Override `json:"override,omitempty"` // of a hold that forbade it
}

// MoveItem notes where an item lies, or that it left: gone is sold, melted, altered or returned. What a
// register rule or an authority holds back is refused with the date; an override breaks a rule, and
// is done by two people: by.Who and by.Second.
func (d *Desk) MoveItem(ctx context.Context, by By, id, place, gone, reason string, override *register.Override) (Item, error) {
	a := people.MoveItem
	if override != nil {
		a = people.OverrideHold
	}
	verb := map[string]string{"": "move", "sold": "sell", "melted": "melt", "altered": "alter", "returned": "return"}[gone]
	switch {
	case verb == "":
		return Item{}, bad("Use sold, melted, altered or returned, or leave it out.", "%q is no way for an item to go", gone)
	case gone == "" && place == "":
		return Item{}, bad("Say where it lies now, or how it left.", "nothing is said of where the item went")
	case (gone == "melted" || gone == "altered") && reason == "":
		return Item{}, bad("Say why, in a few words.", "an item that is %s can't be looked at again, so it needs a reason", gone)
	}
	e, err := d.act(ctx, by, a, []any{id, []any{place, gone, reason, override}}, func(tx *store.Tx, at time.Time) (draft, error) {
		i, seq, err := itemNamed(tx, id)
		if err == nil {
			err = current("the item", by.Seen, seq)
		}
		if err != nil {
			return draft{}, err
		}
		if i.Gone != "" {
			return draft{}, bad("Look at its history.", "the item is %s already", i.Gone)
		}
		if err := stillHere(tx, i); err != nil {
			return draft{}, err
		}
		body := moved{Reason: reason, Done: verb}
		var held *HeldError
		if err := d.free(tx, verb, i, at, nil); errors.As(err, &held) && override != nil {
			if err := checkWitness(tx, override, by, at); err != nil {
				return draft{}, err
			}
			if err := d.free(tx, verb, i, at, override); err != nil {
				return draft{}, err
			}
			body.Override = override
		} else if err != nil {
			return draft{}, err
		}
		if override != nil && body.Override == nil {
			return draft{}, bad("Leave out the override.", "nothing holds the item back, so there is nothing to override")
		}
		if place != "" {
			i.Place = place
		}
		if gone != "altered" {
			i.Gone = gone
		}
		body.Is = i
		return draft{kind: "item-moved", subject: i.ID, body: body}, errors.Join(i.check(), checkTexts(reason))
	})
	if err != nil {
		return Item{}, err
	}
	done, err := read[moved](e.Body)
	return done.Is, err
}

// HeldError says that an item may not go, because of itself, of what it is part of, or of a part.
type HeldError struct {
	Item string // the item that is held
	Of   string // the item that was to go
	*register.RefusedError
}

func (e *HeldError) Error() string {
	if e.Item == e.Of {
		return e.RefusedError.Error()
	}
	return e.RefusedError.Error() + "; that holds for " + e.Item + ", which belongs together with it"
}

func (e *HeldError) Unwrap() error { return e.RefusedError }

// free refuses with a *HeldError what may not be done with an item now. A ring out of a held bag is
// held, and so is a bag with a held ring in it.
func (d *Desk) free(tx *store.Tx, verb string, i Item, at time.Time, o *register.Override) error {
	book, err := d.book(tx)
	if err != nil {
		return err
	}
	if i.Voided != "" && (verb == "sell" || verb == "melt" || verb == "alter") {
		return bad("Return it, or enter a new deal by which it comes.", "deal %s by which the item %s came is void, so the item is the customer's", i.Voided, i.ID)
	}
	whole, err := wholes(tx, i)
	if err != nil {
		return err
	}
	below, err := parts(tx, i.ID, 0)
	if err != nil {
		return err
	}
	for _, one := range slices.Concat([]Item{i}, whole, below) {
		if one.Gone != "" && one.ID != i.ID {
			continue
		}
		came, err := cameBy(tx, one)
		if err != nil {
			return err
		}
		for _, c := range came {
			err := book.May(verb, c, at, o)
			if refused, is := errors.AsType[*register.RefusedError](err); is {
				return &HeldError{one.ID, i.ID, refused}
			}
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// stillHere refuses a part of something that left: it left with it, unless it was taken out before.
func stillHere(tx *store.Tx, i Item) error {
	above, err := wholes(tx, i)
	if err != nil {
		return err
	}
	for _, whole := range above {
		if whole.Gone != "" {
			return bad("It left with it. If that one is still here, void the deal by which it went.", "the item %s is part of %s, which is %s", i.ID, whole.ID, whole.Gone)
		}
	}
	return nil
}

// cameBy is what the holds of an item depend on: its orders, with each deal by which it came.
func cameBy(tx *store.Tx, i Item) ([]register.Item, error) {
	out := []register.Item{{Orders: i.Orders}}
	for _, number := range append(slices.Clone(i.Earlier), i.Deal) {
		if number == "" {
			continue
		}
		deal, _, err := get[Deal](tx, "deal", number)
		if err != nil {
			return nil, err
		}
		out = append(out, register.Item{Deal: deal.Kind, At: deal.At, Orders: i.Orders, Holds: deal.Holds})
	}
	return out, nil
}

// HoldItem keeps an item on the order of an authority. Nobody here can override that.
func (d *Desk) HoldItem(ctx context.Context, by By, id string, o register.Order) (Item, error) {
	return d.onItem(ctx, by, people.HoldItem, "item-held", id, o, o.Reference, func(tx *store.Tx, i *Item, at time.Time) error {
		if o.From.IsZero() {
			o.From = at
		}
		if i.Gone != "" {
			return bad("Tell the authority; its history shows when and why it went.", "the item is %s, so it can't be kept", i.Gone)
		}
		for _, before := range i.Orders {
			if before.Reference == o.Reference && before.Lifted == nil {
				return bad("Use the reference of the new order.", "an order %q holds the item already", o.Reference)
			}
		}
		o.Lifted = nil
		i.Orders = append(i.Orders, o)
		return errors.Join(o.Check(), checkTexts(o.Authority, o.Reference))
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
				return errors.Join(i.Orders[n].Check(), checkTexts(reference))
			}
		}
		return bad("Its history shows the orders.", "no order %q holds the item", order)
	})
}

// AddPhoto keeps a picture of an item, decoded and written anew without what cameras add.
func (d *Desk) AddPhoto(ctx context.Context, by By, id string, upload []byte, caption string) (Item, error) {
	// To decode a picture takes time and memory, so it is asked first whether it is wanted.
	err := d.look(ctx, by.Who, people.AddPhoto, func(tx *store.Tx) error {
		_, _, err := itemNamed(tx, id)
		return err
	})
	if err != nil {
		return Item{}, err
	}
	clean, err := photo.Clean(upload)
	if err != nil {
		return Item{}, err
	}
	return d.onItem(ctx, by, people.AddPhoto, "photo-added", id, []any{clean.SHA256, caption}, caption, func(tx *store.Tx, i *Item, at time.Time) error {
		if len(i.Photos) >= MaxPhotos {
			return bad("Keep further pictures with a part of it.", "the item has %d photos already", len(i.Photos))
		}
		if err := checkTexts(caption); err != nil {
			return err
		}
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
		if out.Item, out.Seen, err = itemNamed(tx, name); err != nil {
			return err
		}
		name := out.Item.ID
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
		if out.Item.Gone == "" {
			out.Held, err = d.held(tx, out.Item)
		}
		return err
	})
	return out, err
}

// held says why an item may not be sold now; "" when it may.
func (d *Desk) held(tx *store.Tx, i Item) (string, error) {
	err := d.free(tx, "sell", i, d.o.Now(), nil)
	if held, is := errors.AsType[*HeldError](err); is {
		return held.Error(), nil
	}
	return "", err
}
