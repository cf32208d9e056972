package main

import (
	"context"
	"os"
	"slices"
	"strings"
	"time"

	"golang.org/x/term"

	"wreath/internal/desk"
	"wreath/internal/photo"
	"wreath/internal/register"
	"wreath/internal/store"
	"wreath/uncertainty"
)

type itemCmd struct {
	Enter   itemEnterCmd   `cmd:"" help:"Enter an item that came over the counter."`
	Change  itemChangeCmd  `cmd:"" help:"Change what is written of an item; what stood there before stays in its history."`
	Show    itemShowCmd    `cmd:"" help:"An item with its determinations, its deals and whether it may go."`
	Photo   itemPhotoCmd   `cmd:"" help:"Keep a photo of an item, without what cameras add to it."`
	Picture itemPictureCmd `cmd:"" help:"Write a kept photo to standard output."`
	Move    itemMoveCmd    `cmd:"" help:"Note where an item lies, or how it left."`
	Hold    itemHoldCmd    `cmd:"" help:"Keep an item on the order of an authority."`
	Release itemReleaseCmd `cmd:"" help:"Note that an authority lifted its order."`
}

type itemEnterCmd struct {
	place
	once
	formatted
	Description string `required:"" help:"What it is, as on a receipt."`
	Marks       string `help:"Stamps and marks as seen."`
	Condition   string `help:"How it arrived."`
	Claim       string `help:"What it is said to be."`
	ClaimBy     string `placeholder:"WHO" help:"Who says so: stamp, seller, list, certificate."`
	Barcode     string `help:"Barcode of its tray or bag."`
	PartOf      string `placeholder:"NAME" help:"The item, bag or lot that it belongs to."`
	Place       string `name:"place" help:"Where it lies."`
}

func (itemEnterCmd) Help() string {
	return `Examples:

  wreath item enter --description "plain yellow band" --marks 750 --claim "gold 750" --claim-by stamp --barcode T-7
  wreath item enter --description "clasp of it" --part-of i-0000000000000000 --key till-4-0018

No personal data belong here: the record of an item stays for good.`
}

// Run enters the item.
func (c *itemEnterCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		i, err := r.EnterItem(ctx, c.by(who), desk.Item{
			Description: c.Description, Marks: c.Marks, Condition: c.Condition, Claim: c.Claim, ClaimBy: c.ClaimBy,
			Barcode: c.Barcode, PartOf: c.PartOf, Place: c.Place,
		})
		return told(s, c.formatted, i, err, "%s entered: %s.", i.ID, i.Description)
	})
}

// told prints what an act came to.
func told(s *streams, f formatted, what any, err error, line string, args ...any) error {
	if err != nil {
		return err
	}
	if f.forPrograms() {
		return writeJSON(s.Out, what)
	}
	say(s, line, args...)
	return nil
}

type itemChangeCmd struct {
	place
	once
	formatted
	ID          string  `arg:"" help:"Name of the item, or barcode of its tray."`
	Description *string `help:"What it is."`
	Marks       *string `help:"Stamps and marks as seen."`
	Condition   *string `help:"How it arrived."`
	Claim       *string `help:"What it is said to be."`
	ClaimBy     *string `placeholder:"WHO" help:"Who says so."`
	Barcode     *string `help:"Barcode of its tray or bag."`
	PartOf      *string `placeholder:"NAME" help:"The item, bag or lot that it belongs to."`
	Reason      string  `required:"" help:"Why it changes."`
}

func (itemChangeCmd) Help() string {
	return `Examples:

  wreath item change T-7 --marks "750, maker's mark worn" --reason "seen under the glass"
  wreath item change T-7 --barcode "" --reason "taken out of its tray"

What isn't named stays as it is; an empty text takes it away.`
}

// Run changes the item.
func (c *itemChangeCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		sheet, err := r.ItemBy(ctx, who, c.ID)
		if err != nil {
			return err
		}
		i, named := sheet.Item, false
		for _, f := range []struct {
			to   *string
			text *string
		}{
			{&i.Description, c.Description}, {&i.Marks, c.Marks}, {&i.Condition, c.Condition}, {&i.Claim, c.Claim},
			{&i.ClaimBy, c.ClaimBy}, {&i.Barcode, c.Barcode}, {&i.PartOf, c.PartOf},
		} {
			if f.text != nil {
				*f.to, named = *f.text, true
			}
		}
		if !named {
			return wrong("Name what changes, such as --marks; a place is noted with wreath item move.", "nothing is said to change")
		}
		by := c.by(who)
		by.Seen = sheet.Seen
		changed, err := r.ChangeItem(ctx, by, i, c.Reason)
		return told(s, c.formatted, changed, err, "%s changed.", changed.ID)
	})
}

type itemShowCmd struct {
	place
	formatted
	Name string `arg:"" help:"Name of the item, or barcode of its tray."`
}

func (itemShowCmd) Help() string {
	return `Examples:

  wreath item show T-7
  wreath item show T-7 --format json`
}

// Run shows the item.
func (c *itemShowCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		sheet, err := r.ItemBy(ctx, who, c.Name)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, sheet)
		}
		zone, err := shopZone(ctx, r)
		if err != nil {
			return err
		}
		return printItem(s, &sheet, zone)
	})
}

func printItem(s *streams, sheet *desk.ItemSheet, zone *time.Location) error {
	i := &sheet.Item
	deals := strings.Join(append(slices.Clone(i.Earlier), i.Deal), ", ")
	listed := desk.Declared{}
	if i.Declared != nil {
		listed = *i.Declared
	}
	err := pairs(s.Out, [2]string{"Item", i.ID}, [2]string{"Description", i.Description}, [2]string{"Marks", i.Marks},
		[2]string{"Condition", i.Condition}, [2]string{"Claim", i.Claim}, [2]string{"Claimed by", i.ClaimBy},
		[2]string{"Serial, by list", listed.Serial}, [2]string{"Reference, by list", listed.Reference}, [2]string{"Came with list", listed.List}, [2]string{"Barcode", i.Barcode},
		[2]string{"Part of", i.PartOf}, [2]string{"Place", i.Place}, [2]string{"Entered", stamp(i.Entered, zone)},
		[2]string{"Came by deal", deals}, [2]string{"Sold by deal", i.Sale}, [2]string{"Gone", i.Gone}, [2]string{"Held", sheet.Held})
	if err != nil {
		return err
	}
	for _, o := range i.Orders {
		state := "in force since " + stamp(o.From, zone)
		if o.Lifted != nil {
			state = "lifted " + stamp(o.Lifted.At, zone) + " (" + o.Lifted.Reference + ")"
		}
		say(s, "Order of %s, %s: %s.", o.Authority, o.Reference, state)
	}
	for _, p := range i.Photos {
		say(s, "Photo %s  %d x %d, %s%s", p.Hash, p.Width, p.Height, stamp(p.Taken, zone), before(", ", p.Caption))
	}
	for _, p := range sheet.Parts {
		say(s, "Part %s: %s%s", p.ID, p.Description, before(", ", p.Gone))
	}
	if len(sheet.Records) == 0 {
		say(s, "Not weighed yet.")
		return nil
	}
	say(s, "")
	return printFound(s, sheet.Records, zone)
}

// printFound lists determinations of an item: never a density without its uncertainty.
func printFound(s *streams, all []store.Determination, zone *time.Location) error {
	var rows [][]string
	for _, d := range all {
		density, u := uncertainty.Round(d.DensityKgM3/1000, d.DensityU/1000)
		state := d.State
		if d.SupersededBy != "" {
			state += " by " + d.SupersededBy
		}
		rows = append(rows, []string{d.Number, stamp(d.At, zone), density + " ± " + u,
			or(d.Claim, "nothing claimed"), or(d.Finding, "no finding"), plural(int(d.Doubts), "doubt"), state})
	}
	if err := safeGrid(s.Out, "record|when|density ± U g/cm³|claim|finding|doubts|state", rows); err != nil {
		return err
	}
	say(s, "")
	say(s, "A density determination is no hallmark and no assay; density can't see tungsten in gold.")
	return nil
}

type itemPhotoCmd struct {
	place
	once
	formatted
	ID      string `arg:"" help:"Name of the item, or barcode of its tray."`
	File    string `arg:"" help:"JPEG or PNG file, or - for standard input."`
	Caption string `help:"What it shows."`
}

func (itemPhotoCmd) Help() string {
	return `Examples:

  wreath item photo T-7 band.jpg --caption "the stamp"

The picture is decoded, turned upright, scaled down and written anew: place, time and camera stay behind.`
}

// Run keeps the photo.
func (c *itemPhotoCmd) Run(s *streams) error {
	data, err := readUpTo(c.File, s.In, photo.MaxBytes)
	if err != nil {
		return err
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		i, err := r.AddPhoto(ctx, c.by(who), c.ID, data, c.Caption)
		if err != nil {
			return err
		}
		p := i.Photos[len(i.Photos)-1]
		return told(s, c.formatted, p, nil, "Photo %s of %s kept.", p.Hash, i.ID)
	})
}

type itemPictureCmd struct {
	place
	Hash string `arg:"" help:"Hash of the photo, as wreath item show gives it."`
}

func (itemPictureCmd) Help() string {
	return `Examples:

  wreath item picture 1f0c9d... > band.jpg`
}

// Run writes the picture.
func (c *itemPictureCmd) Run(s *streams) error {
	if f, isFile := s.Out.(*os.File); isFile && term.IsTerminal(int(f.Fd())) {
		return wrong("Send it to a file: wreath item picture HASH > picture.jpg.", "a picture can't be shown on a terminal")
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		data, err := r.Picture(ctx, who, c.Hash)
		if err != nil {
			return err
		}
		_, err = s.Out.Write(data)
		return err
	})
}

type itemMoveCmd struct {
	place
	once
	formatted
	ID             string `arg:"" help:"Name of the item, or barcode of its tray."`
	To             string `name:"place" placeholder:"PLACE" help:"Where it lies now."`
	Gone           string `enum:",sold,melted,altered,returned" default:"" placeholder:"HOW" help:"How it left, or that it was altered: sold, melted, altered or returned."`
	Reason         string `help:"Why."`
	OverrideGround string `placeholder:"LAW" and:"override" help:"Break a hold: the law or decision that allows it."`
	OverridePerson string `placeholder:"NAME" and:"override" help:"Break a hold: the second person who stands for it, asked for the password. Needs --override-ground."`
}

func (itemMoveCmd) Help() string {
	return `Examples:

  wreath item move T-7 --place "safe, shelf 2"
  wreath item move T-7 --gone melted --reason "own stock, lot of November"
  wreath item move T-7 --gone sold --override-ground "written consent of the town, no. 12" --override-person bert

What a register rule holds back is refused with the date until when. An override needs two people who
may sign, and stands in the history with its ground. The order of an authority can't be overridden.`
}

// Run moves the item.
func (c *itemMoveCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		by := c.by(who)
		var override *register.Override
		if c.OverrideGround != "" {
			password, err := ask(s, "password of "+c.OverridePerson)
			if err != nil {
				return err
			}
			at, err := c.at()
			if err != nil {
				return err
			}
			if by.Second, err = r.Second(ctx, c.OverridePerson, password, at); err != nil {
				return err
			}
			override = &register.Override{Ground: c.OverrideGround, People: []string{who.Person().ID, c.OverridePerson}}
		}
		i, err := r.MoveItem(ctx, by, c.ID, c.To, c.Gone, c.Reason, override)
		if err != nil {
			return err
		}
		line := i.ID + " lies in " + or(i.Place, "its old place") + "."
		switch {
		case i.Gone != "":
			line = i.ID + " is " + i.Gone + "."
		case c.Gone == "altered":
			line = i.ID + " was altered; what was weighed before may hold no longer."
		}
		return told(s, c.formatted, i, nil, "%s", line)
	})
}

type itemHoldCmd struct {
	place
	once
	formatted
	ID        string `arg:"" help:"Name of the item, or barcode of its tray."`
	Authority string `required:"" help:"Who gave the order."`
	Reference string `required:"" help:"The authority's own reference."`
}

func (itemHoldCmd) Help() string {
	return `Examples:

  wreath item hold T-7 --authority "Police of Nowhere" --reference 2026/11-044

It has no end of its own, and nobody here can override it.`
}

// Run holds the item.
func (c *itemHoldCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		i, err := r.HoldItem(ctx, c.by(who), c.ID, register.Order{Authority: c.Authority, Reference: c.Reference})
		return told(s, c.formatted, i, err, "%s is held on order %s until the authority lifts it.", i.ID, c.Reference)
	})
}

type itemReleaseCmd struct {
	place
	once
	formatted
	ID        string `arg:"" help:"Name of the item, or barcode of its tray."`
	Order     string `required:"" placeholder:"REFERENCE" help:"Reference of the order that is lifted."`
	Reference string `required:"" help:"Reference by which the authority lifted it."`
}

func (itemReleaseCmd) Help() string {
	return `Examples:

  wreath item release T-7 --order 2026/11-044 --reference 2026/12-007`
}

// Run releases the item.
func (c *itemReleaseCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		i, err := r.ReleaseItem(ctx, c.by(who), c.ID, c.Order, c.Reference)
		return told(s, c.formatted, i, err, "Order %s on %s is lifted.", c.Order, i.ID)
	})
}
