package main

import (
	"cmp"
	"context"
	"os"
	"path/filepath"
	"strings"
	"time"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/photo"
)

type shopCmd struct {
	Open shopOpenCmd `cmd:"" help:"Open a shop: make its store, its log and its signing key."`
	Show shopShowCmd `cmd:"" help:"What is known of the shop."`
	Set  shopSetCmd  `cmd:"" help:"Change what papers say of the shop: name, address, logo."`
}

type shopOpenCmd struct {
	place
	Name     string `required:"" help:"Name of the shop, as printed on paper."`
	Address  string `help:"Address, as printed on paper."`
	Currency string `help:"ISO 4217 code of its prices, such as EUR."`
	TimeZone string `help:"Time zone of the IANA table, such as Europe/Vienna; that of this machine unless said."`
	Person   string `default:"owner" help:"Short name of the first person, who may do everything."`
	Printed  string `help:"Name of the first person as printed beside signatures."`
	Password bool   `help:"Ask for a password: from the start everybody signs in."`
}

func (shopOpenCmd) Help() string {
	return `Examples:

  wreath shop open --name "Invented Gold Desk"
  wreath shop open --name "Invented Gold Desk" --person ada --printed "Ada Invented" --password
  wreath shop open --store postgres://wreath@db/wreath --shop river-street --name "River Street"

A bench of one needs no password; records then say that nobody signed in. From the second person on
everybody signs in. The signing key lies beside the store, encrypted for this account
of this machine: make a copy under a passphrase (wreath key copy) and keep it in another place.`
}

// Run opens the shop.
func (c *shopOpenCmd) Run(s *streams) error {
	ctx := context.Background()
	if err := c.resolve(); err != nil {
		return err
	}
	if c.Shop == "" {
		c.Shop = shortName(c.Name)
	}
	if c.TimeZone == "" {
		c.TimeZone = localZone()
	}
	if c.Printed == "" {
		c.Printed = c.Person
	}
	password := ""
	if c.Password {
		var err error
		if password, err = askTwice(s); err != nil {
			return err
		}
	}
	opening := desk.Opening{
		Shop:   desk.Shop{Name: c.Name, Address: c.Address, TimeZone: c.TimeZone, Currency: c.Currency},
		Person: people.Person{ID: c.Person, Name: c.Printed},
	}
	if err := opening.Shop.Check(); err != nil {
		return err
	}
	if !isPostgres(c.Store) {
		if err := os.MkdirAll(filepath.Dir(c.Store), 0o700); err != nil {
			return wrong("Name another file with --store.", "the folder of the store can't be made: %v", err)
		}
	}
	st, err := openStore(ctx, c.Store, true)
	if err != nil {
		return err
	}
	defer st.Close()
	key, err := c.makeKey()
	if err != nil {
		return err
	}
	d, err := desk.New(c.options(st, key.Private, key.Public))
	if err != nil {
		return wrong("Choose a short name with --shop.", "%v", err)
	}
	if err := d.OpenShop(ctx, opening, password); err != nil {
		return err
	}
	say(s, "%s is open as %s.", c.Name, c.Shop)
	say(s, "store        %s", c.Store)
	say(s, "signing key  %s (make a copy for another place: wreath key copy FILE)", filepath.Join(c.Keys, c.Shop+".key"))
	say(s, "public key   %s (give it to everybody who checks your papers)", key.Public)
	return nil
}

// shortName makes a name for the log out of the name of the shop. A letter with a mark loses the mark.
func shortName(name string) string {
	var out strings.Builder
	for _, r := range norm.NFD.String(strings.ToLower(name)) {
		switch {
		case unicode.Is(unicode.Mn, r):
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			out.WriteRune(r)
		case out.Len() > 0 && !strings.HasSuffix(out.String(), "-"):
			out.WriteByte('-')
		}
		if out.Len() == 40 {
			break
		}
	}
	if short := strings.Trim(out.String(), "-"); short != "" {
		return short
	}
	return "shop"
}

// localZone is the zone of this machine as the IANA table calls it, as far as the system tells.
func localZone() string {
	if zone := os.Getenv("TZ"); zone != "" {
		if _, err := time.LoadLocation(zone); err == nil {
			return zone
		}
	}
	if target, err := os.Readlink("/etc/localtime"); err == nil {
		if _, zone, found := strings.Cut(target, "zoneinfo/"); found {
			if _, err := time.LoadLocation(zone); err == nil {
				return zone
			}
		}
	}
	return "UTC"
}

type shopShowCmd struct{ place }

func (shopShowCmd) Help() string {
	return `Examples:

  wreath shop show`
}

// Run prints what is known of the shop.
func (c *shopShowCmd) Run(s *streams) error {
	ctx := context.Background()
	r, err := c.enter(ctx)
	if err != nil {
		return err
	}
	defer r.Close()
	shop, err := r.AboutShop(ctx)
	if err != nil {
		return err
	}
	return writeJSON(s.Out, shop)
}

type shopSetCmd struct {
	place
	once
	Name    string `help:"Name of the shop, as printed on paper."`
	Address string `help:"Address, as printed on paper."`
	Logo    string `placeholder:"FILE" help:"JPEG or PNG that stands at the head of reports; - for standard input."`
	NoLogo  bool   `help:"Take the logo away."`
	Reason  string `placeholder:"WHY" help:"Why, in a few words."`
}

func (shopSetCmd) Help() string {
	return `Examples:

  wreath shop set --address "Invented Lane 1, 1000 Invented Town"
  wreath shop set --logo logo.png

Reports that were issued keep what stood on them. A logo is written anew, made of pixels only.`
}

// Run changes the shop.
func (c *shopSetCmd) Run(s *streams) error {
	var logo []byte
	switch {
	case c.Logo != "" && c.NoLogo:
		return wrong("Give one of the two.", "a logo is given and taken away")
	case c.Logo == "" && !c.NoLogo && c.Name == "" && c.Address == "":
		return wrong("Give --name, --address, --logo or --no-logo.", "nothing is to be changed")
	case c.Logo != "":
		var err error
		if logo, err = readUpTo(c.Logo, s.In, photo.MaxBytes+1); err != nil {
			return err
		}
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		if c.Name != "" || c.Address != "" {
			if err := r.SetShop(ctx, c.by(who), c.Name, c.Address, c.Reason); err != nil {
				return err
			}
		}
		if c.Logo != "" || c.NoLogo {
			by := desk.By{Who: who}
			if c.Key != "" {
				by.Key = c.Key + "/logo"
			}
			if err := r.SetLogo(ctx, by, logo); err != nil {
				return err
			}
		}
		shop, err := r.AboutShop(ctx)
		if err != nil {
			return err
		}
		say(s, "%s, %s", shop.Name, cmp.Or(shop.Address, "no address"))
		if c.Logo != "" {
			say(s, "The logo stands on reports from now on.")
		}
		return nil
	})
}
