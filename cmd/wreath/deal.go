package main

import (
	"context"
	"fmt"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/register"
)

type dealCmd struct {
	Ask      dealAskCmd      `cmd:"" help:"What the register rules will ask of the customer. Nothing is entered."`
	Register dealRegisterCmd `cmd:"" help:"Enter a deal in the register, under the next number."`
	Void     dealVoidCmd     `cmd:"" help:"Note that a deal came to nothing. Its number stays used."`
	Close    dealCloseCmd    `cmd:"" help:"Note that what came of a deal has ended."`
	List     dealListCmd     `cmd:"" help:"The register, and what is missing in it."`
}

// dealTerms are what the rules look at.
type dealTerms struct {
	Kind     string `required:"" enum:"buy,sell,exchange,pledge,consign,measure-only" placeholder:"KIND" help:"buy, sell, exchange, pledge, consign or measure-only."`
	Customer string `placeholder:"NAME" help:"Name of the customer, as wreath customer enter gave it."`
	Amount   string `help:"Amount of the deal, a decimal such as 1250.50."`
	Currency string `placeholder:"CODE" help:"ISO 4217 code of the amounts; that of the shop unless said."`
	Cash     string `placeholder:"AMOUNT" help:"The part of it paid in cash."`
}

func (t *dealTerms) deal(ctx context.Context, r *room) (desk.Deal, error) {
	d := desk.Deal{Kind: t.Kind, Customer: t.Customer, Amount: t.Amount, Currency: t.Currency, Cash: t.Cash}
	if d.Currency == "" && (d.Amount != "" || d.Cash != "") {
		shop, err := r.AboutShop(ctx)
		if err != nil {
			return d, err
		}
		if d.Currency = shop.Currency; d.Currency == "" {
			return d, wrong("Say it with --currency, such as EUR.", "the amount is in no currency")
		}
	}
	return d, nil
}

type dealAskCmd struct {
	place
	formatted
	dealTerms
}

func (dealAskCmd) Help() string {
	return `Examples:

  wreath deal ask --kind buy --amount 420.00
  wreath deal ask --kind buy --amount 3500 --cash 3500 --customer c-0000000000000000

Deals of the same customer add up where the rules say so.`
}

// Run asks.
func (c *dealAskCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		deal, err := c.deal(ctx, r)
		if err != nil {
			return err
		}
		asked, err := r.AskedOf(ctx, who, deal)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, struct {
				Ask     []string          `json:"ask"`
				Because []register.Reason `json:"because"`
				Unclear []register.Reason `json:"unclear"`
			}{append([]string{}, asked.Fields...), append([]register.Reason{}, asked.Because...), append([]register.Reason{}, asked.Unclear...)})
		}
		if len(asked.Fields) == 0 {
			say(s, "The rules ask no personal data for this deal.")
		} else {
			say(s, "Ask for: %s.", strings.Join(asked.Fields, ", "))
		}
		for _, b := range asked.Because {
			say(s, "  %s (rule %q of edition %q)", b.Text, b.Rule, b.Edition)
		}
		for _, u := range asked.Unclear {
			say(s, "Decide yourself: %s (rule %q of edition %q)", u.Text, u.Rule, u.Edition)
		}
		rules, err := r.RegisterRules(ctx, who)
		if err == nil && len(rules.Editions) == 0 {
			say(s, "No register rules are set (wreath rules set). Whether a law asks for more, this program doesn't know.")
		}
		return err
	})
}

type dealRegisterCmd struct {
	place
	once
	formatted
	dealTerms
	Item []string `required:"" sep:"none" placeholder:"NAME" help:"Item that it is about, by name or by the barcode of its tray; may be repeated."`
	Note string   `help:"Anything worth keeping. No personal data here."`
}

func (dealRegisterCmd) Help() string {
	return `Examples:

  wreath deal register --kind buy --item T-7 --customer c-0000000000000000 --amount 420.00
  wreath deal register --kind measure-only --item T-8

An item that is sold is gone with this one act; what a rule or an authority holds back is refused. What
was only measured can be bought afterwards.`
}

// Run registers the deal.
func (c *dealRegisterCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		deal, err := c.deal(ctx, r)
		if err != nil {
			return err
		}
		deal.Note, deal.Items = c.Note, c.Item
		deal, err = r.Register(ctx, c.by(who), deal)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, deal)
		}
		say(s, "%s registered: %s of %s%s.", deal.Number, deal.Kind, plural(len(deal.Items), "item"), before(" for ", money(deal.Amount, deal.Currency)))
		for _, u := range deal.Unclear {
			say(s, "Decide yourself: %s.", u)
		}
		for _, id := range deal.Items {
			sheet, err := r.ItemBy(ctx, who, id)
			if err != nil {
				return err
			}
			say(s, "%s: %s.", id, findingOf(&sheet))
			if sheet.Held != "" {
				say(s, "%s: %s.", id, sheet.Held)
			}
		}
		return nil
	})
}

// findingOf says what was found of an item, which stands beside every amount that was agreed for it.
func findingOf(sheet *desk.ItemSheet) string {
	for _, r := range sheet.Records {
		if r.SupersededBy == "" {
			return r.Number + ", " + before("the finding is ", or(r.Finding, "none, because nothing was claimed"))
		}
	}
	return "not weighed, so nothing was found"
}

func money(amount, currency string) string {
	if amount == "" {
		return ""
	}
	return amount + " " + currency
}

type dealVoidCmd struct {
	place
	once
	Number string `arg:"" help:"Number of the deal."`
	Reason string `required:"" help:"Why it came to nothing."`
}

func (dealVoidCmd) Help() string {
	return `Examples:

  wreath deal void A-2026-00012 --reason "the customer took the item back before payment"

Its items are free again. A deal of which something came, such as a melted item, is closed instead.`
}

// Run voids the deal.
func (c *dealVoidCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		if err := r.VoidDeal(ctx, c.by(who), c.Number, c.Reason); err != nil {
			return err
		}
		say(s, "%s is void.", c.Number)
		return nil
	})
}

type dealCloseCmd struct {
	place
	once
	Number string `arg:"" help:"Number of the deal."`
	Reason string `required:"" help:"How it ended: sold, redeemed, returned."`
}

func (dealCloseCmd) Help() string {
	return `Examples:

  wreath deal close A-2026-00012 --reason "redeemed"

From that day the time of keeping runs where a rule counts it from the end.`
}

// Run closes the deal.
func (c *dealCloseCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		if err := r.CloseDeal(ctx, c.by(who), c.Number, c.Reason); err != nil {
			return err
		}
		say(s, "%s is closed.", c.Number)
		return nil
	})
}

type dealListCmd struct {
	place
	formatted
}

func (dealListCmd) Help() string {
	return `Examples:

  wreath deal list
  wreath deal list --format json

Customers stand there by the name that the log knows; no personal data are printed. A number that is
missing, or stands there twice, ends with exit code 6.`
}

// Run lists the register.
func (c *dealListCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		deals, faults, err := r.Book(ctx, who)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			err = writeJSON(s.Out, struct {
				Deals  []desk.Deal `json:"deals"`
				Faults []string    `json:"faults"`
			}{append([]desk.Deal{}, deals...), sentences(faults)})
		} else {
			err = printBook(ctx, s, r, deals, faults)
		}
		if err == nil {
			err = notWhole(faults)
		}
		return err
	})
}

// notWhole ends a command that showed a register with faults.
func notWhole(faults []register.Fault) error {
	if len(faults) == 0 {
		return nil
	}
	return &failure{exitBroken, "the register is not whole: " + strings.Join(sentences(faults), "; "), "Verify the log, and compute the views anew."}
}

func sentences(faults []register.Fault) []string {
	out := []string{}
	for _, f := range faults {
		out = append(out, f.String())
	}
	return out
}

func printBook(ctx context.Context, s *streams, r *room, deals []desk.Deal, faults []register.Fault) error {
	zone, err := shopZone(ctx, r)
	if err != nil {
		return err
	}
	if len(deals) == 0 && len(faults) == 0 {
		say(s, "No deal is registered.")
		return nil
	}
	var rows [][]string
	for _, d := range deals {
		state := "open"
		switch {
		case d.Void != "":
			state = "void: " + d.Void
		case d.Closed != nil:
			state = "closed " + stamp(*d.Closed, zone)
		}
		rows = append(rows, []string{d.Number, stamp(d.At, zone), d.Kind, fmt.Sprint(len(d.Items)), money(d.Amount, d.Currency), d.Customer, state})
	}
	if err := safeGrid(s.Out, "number|when|kind|items|amount agreed|customer|state", rows); err != nil {
		return err
	}
	say(s, "")
	if len(faults) == 0 {
		say(s, "%s, no number missing.", plural(len(deals), "deal"))
	}
	return nil
}
