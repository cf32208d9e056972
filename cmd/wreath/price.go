package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"wreath/internal/desk"
	"wreath/internal/value"
)

type priceCmd struct {
	Set    priceSetCmd    `cmd:"" help:"Enter the price of a metal."`
	Import priceImportCmd `cmd:"" help:"Enter the prices of a file, all or none."`
	List   priceListCmd   `cmd:"" help:"The newest price of each metal; stale ones say so."`
}

type priceSetCmd struct {
	place
	once
	Metal    string `arg:"" help:"gold, silver, platinum or palladium."`
	Amount   string `arg:"" help:"Price of one unit of the fine metal, a decimal such as 101.40."`
	Per      string `arg:"" help:"The unit: g, kg, ozt (troy ounce), tola, ..."`
	Currency string `arg:"" help:"ISO 4217 code, such as EUR."`
	Source   string `required:"" help:"Where the price is from."`
	HeldAt   string `placeholder:"TIME" help:"When it held, with its offset: 2026-11-26T09:30:00+01:00; now unless said."`
}

func (priceSetCmd) Help() string {
	return `Examples:

  wreath price set gold 101.40 g EUR --source "invented for this example"
  wreath price set platinum 1402.50 ozt EUR --source "invented for this example" --held-at 2026-11-26T09:00:00+01:00`
}

// Run enters the price.
func (c *priceSetCmd) Run(s *streams) error {
	p := value.Price{Metal: c.Metal, Per: c.Per, Currency: c.Currency, Source: c.Source}
	if err := named("amount", p.Amount.FromText(c.Amount)); err != nil {
		return err
	}
	if c.HeldAt != "" {
		if err := named("--held-at", p.HeldAt.FromText(c.HeldAt)); err != nil {
			return err
		}
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		zone, err := shopZone(ctx, r)
		if err != nil {
			return err
		}
		if c.HeldAt == "" {
			p.HeldAt = value.Moment{Time: time.Now().In(zone).Truncate(time.Second)}
		}
		if err := r.SetPrices(ctx, c.by(who), []value.Price{p}); err != nil {
			return every(err)
		}
		say(s, "Entered: %s, held at %s.", &p, stamp(p.HeldAt.Time, zone))
		return nil
	})
}

type priceImportCmd struct {
	place
	once
	File   string `arg:"" help:"CSV or JSON file, or - for standard input."`
	DryRun bool   `help:"Only say what would be entered, row by row."`
}

func (priceImportCmd) Help() string {
	return `Examples:

  wreath price import examples/house/prices.csv --dry-run
  wreath price import examples/house/prices.json

The columns of a CSV file are metal, amount, per, currency, held_at and source. Every row is answered.
When one of them can't be used, none is entered and the exit code is 2.`
}

// Run reads the file, answers row by row, and enters all or none.
func (c *priceImportCmd) Run(s *streams) error {
	data, err := readUpTo(c.File, s.In, value.MaxPrices)
	if err != nil {
		return err
	}
	rows, err := value.ReadPrices(data, time.Now())
	if err != nil {
		return err
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		zone, err := shopZone(ctx, r)
		if err != nil {
			return err
		}
		bad := 0
		for _, row := range rows {
			if len(row.Faults) == 0 {
				say(s, "line %d: %s, held at %s", row.Line, &row.Price, stamp(row.Price.HeldAt.Time, zone))
				continue
			}
			bad++
			for _, f := range row.Faults {
				say(s, "line %d: can't be used: %s. %s", row.Line, f.Error(), f.Hint)
			}
		}
		if bad > 0 {
			return wrong("Mend these rows and import the file again.", "%s of %d can't be used, so nothing was entered", plural(bad, "row"), len(rows))
		}
		if c.DryRun {
			say(s, "%s would be entered. Nothing was.", plural(len(rows), "price"))
			return nil
		}
		prices, err := value.Prices(rows)
		if err == nil {
			err = r.SetPrices(ctx, c.by(who), prices)
		}
		if err != nil {
			return every(err)
		}
		say(s, "%s entered.", plural(len(prices), "price"))
		return nil
	})
}

type priceListCmd struct {
	place
	formatted
}

func (priceListCmd) Help() string {
	return `Examples:

  wreath price list
  wreath price list --format json

How old a price may be is said by the terms that are in its currency.`
}

// listed is a price with how old it is.
type listed struct {
	value.Price
	AgeMin int      `json:"age_min"`
	Stale  []string `json:"stale_for,omitempty"` // terms that do not take it any more
}

// Run lists the prices.
func (c *priceListCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		prices, err := r.Prices(ctx, who)
		if err != nil {
			return err
		}
		terms, err := r.TermsOf(ctx, who)
		if err != nil {
			return err
		}
		zone, err := shopZone(ctx, r)
		if err != nil {
			return err
		}
		now := time.Now()
		all := []listed{}
		for _, p := range prices {
			l := listed{Price: p, AgeMin: int(p.Age(now) / time.Minute)}
			for _, t := range terms {
				if t.Currency == p.Currency && p.Stale(now, time.Duration(t.MaxPriceAgeMin)*time.Minute) {
					l.Stale = append(l.Stale, t.Key)
				}
			}
			all = append(all, l)
		}
		if c.forPrograms() {
			return writeJSON(s.Out, all)
		}
		if len(all) == 0 {
			say(s, "No price is entered.")
			return nil
		}
		var rows [][]string
		for _, l := range all {
			state := "fresh"
			switch {
			case len(l.Stale) > 0:
				state = "STALE for " + strings.Join(l.Stale, ", ")
			case len(terms) == 0:
				state = "no terms say how old it may be"
			}
			rows = append(rows, []string{l.Metal, fmt.Sprintf("%s %s per %s", l.Amount, l.Currency, l.Per), stamp(l.HeldAt.Time, zone),
				ageOf(l.AgeMin), state, l.Source, l.EnteredBy})
		}
		return safeGrid(s.Out, "metal|price|held at|age|state|source|entered by", rows)
	})
}

// ageOf says how old a price is, as a valuation does.
func ageOf(minutes int) string {
	switch {
	case minutes >= 48*60:
		return fmt.Sprintf("%d days", minutes/60/24)
	case minutes >= 120:
		return fmt.Sprintf("%d h %d min", minutes/60, minutes%60)
	}
	return fmt.Sprintf("%d min", minutes)
}
