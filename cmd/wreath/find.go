package main

import (
	"cmp"
	"context"
	"fmt"
	"strings"
	"time"

	"wreath/internal/desk"
	"wreath/internal/store"
	"wreath/uncertainty"
)

type findCmd struct {
	place
	formatted
	Words       []string `arg:"" optional:"" help:"Words of number, barcode, description and claim; each may be cut short after two letters."`
	Number      string   `help:"Number of the record."`
	Barcode     string   `help:"Barcode of tray or bag."`
	Item        string   `help:"Item, by its name."`
	Person      string   `help:"Who recorded it."`
	Station     string   `help:"Station at which it was weighed."`
	Finding     string   `enum:",met,not-met,undecided" default:"" help:"met, not-met or undecided."`
	State       string   `enum:",recorded,signed,superseded" default:"" help:"recorded (nobody signed), signed or superseded."`
	Metal       string   `enum:",gold,silver,platinum,palladium" default:"" help:"gold, silver, platinum or palladium."`
	From        string   `placeholder:"DAY" help:"First day, or a moment."`
	Until       string   `placeholder:"DAY" help:"Last day, which counts whole; or the moment before which."`
	DensityLow  decimal  `name:"density-low-g-cm3" help:"Least density in g/cm³."`
	DensityHigh decimal  `name:"density-high-g-cm3" help:"Greatest density in g/cm³."`
	Before      int64    `placeholder:"ENTRY" help:"Only records older than this entry, to go on after a page."`
	Limit       int      `default:"50" help:"Most records to list, up to 1000."`
}

func (findCmd) Help() string {
	return `Examples:

  wreath find
  wreath find yellow ring --finding met
  wreath find --metal gold --from 2026-01-01 --density-low-g-cm3 15 --density-high-g-cm3 16
  wreath find --state recorded --format json

All conditions together narrow the search; the newest record comes first. A day is one of the shop's
own calendar.`
}

// found is a page of a search.
type found struct {
	Found []store.Determination `json:"found"`
	Next  int64                 `json:"next,omitempty"` // entry for --before, where there may be more
}

// Run searches.
func (c *findCmd) Run(s *streams) error {
	if c.Limit < 1 || c.Limit > 1000 {
		return wrong("Go on with --before after a page.", "--limit %d is outside 1 to 1000", c.Limit)
	}
	if c.Before < 0 {
		return wrong("Take the number that the page before ended with.", "--before %d is no entry", c.Before)
	}
	const hint = "Give it in g/cm³; gold has 19.3."
	if err := firstError(within("density-low-g-cm3", c.DensityLow, 0, 100, "g/cm³", hint), within("density-high-g-cm3", c.DensityHigh, 0, 100, "g/cm³", hint)); err != nil {
		return err
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		zone, err := shopZone(ctx, r)
		if err != nil {
			return err
		}
		from, err := day("from", c.From, zone, false)
		if err != nil {
			return err
		}
		until, err := day("until", c.Until, zone, true)
		if err != nil {
			return err
		}
		rows, err := r.Find(ctx, who, store.Query{
			Text: strings.Join(c.Words, " "), Number: c.Number, Barcode: c.Barcode, Item: c.Item, Person: c.Person, Station: c.Station,
			Finding: strings.ReplaceAll(c.Finding, "-", " "), State: c.State, Metal: c.Metal, From: from, Until: until,
			DensityLow: 1000 * c.DensityLow.value, DensityHigh: 1000 * c.DensityHigh.value, Before: c.Before, Limit: c.Limit,
		})
		if err != nil {
			return err
		}
		page := found{Found: append([]store.Determination{}, rows...)}
		if len(rows) == c.Limit {
			page.Next = rows[len(rows)-1].Seq
		}
		if c.forPrograms() {
			return writeJSON(s.Out, page)
		}
		return page.print(s, zone)
	})
}

func (p found) print(s *streams, zone *time.Location) error {
	if len(p.Found) == 0 {
		say(s, "No record fits.")
		return nil
	}
	var rows [][]string
	for _, d := range p.Found {
		density, u := uncertainty.Round(d.DensityKgM3/1000, d.DensityU/1000)
		finding := cmp.Or(d.Finding, "none")
		if d.Doubts > 0 {
			finding += fmt.Sprintf(" (doubts: %d)", d.Doubts)
		}
		state := d.State
		if d.SupersededBy != "" {
			state += " by " + d.SupersededBy
		}
		rows = append(rows, []string{
			d.Number, d.At.In(zone).Format("2006-01-02 15:04"), short(d.Description, 32), fmt.Sprintf("%.4f", d.MassG),
			density + " ± " + u, short(d.Claim, 24), finding, state, d.Person, d.Station,
		})
	}
	if err := safeGrid(s.Out, "number|recorded|description|mass g|density ± U g/cm³|claim|finding|state|by|station", rows); err != nil {
		return err
	}
	if p.Next > 0 {
		say(s, "\nThere may be more: the same with --before %d goes on.", p.Next)
	}
	return nil
}
