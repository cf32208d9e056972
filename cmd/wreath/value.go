package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"wreath/internal/desk"
	"wreath/internal/strictjson"
	"wreath/internal/value"
)

type valueCmd struct {
	place
	once
	formatted
	Number    string `arg:"" help:"Number of the record, such as D-000123."`
	Terms     string `placeholder:"KEY" help:"Terms of the house; not needed where there is only one."`
	NonMetalG string `name:"non-metal-g" placeholder:"GRAM" help:"Declared non-metal that hung on the item in air, in grams; it is taken off."`
	NonMetal  string `placeholder:"WHAT" help:"What the non-metal is, such as enamel."`
	Pieces    int    `help:"How many pieces were weighed together."`
	OneMelt   bool   `help:"The pieces are known to be of one melt, so that they have one fineness."`
}

func (valueCmd) Help() string {
	return `Examples:

  wreath value D-000001
  wreath value D-000001 --terms counter --non-metal-g 0.12 --non-metal enamel
  wreath value D-000002 --pieces 3 --one-melt

The value is kept with the record, with every line of its computation. Several pieces that aren't of one
melt have no single fineness: weigh each by itself and make a lot of them.`
}

// Run values one record.
func (c *valueCmd) Run(s *streams) error {
	v := desk.Valuing{Records: []string{c.Number}, Terms: c.Terms, NonMetal: c.NonMetal, Pieces: c.Pieces, OneMelt: c.OneMelt}
	if c.NonMetalG != "" {
		if err := named("--non-metal-g", v.NonMetalG.FromText(c.NonMetalG)); err != nil {
			return err
		}
	}
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		worth, err := r.Value(ctx, c.by(who), v)
		if err != nil {
			return heap(every(err))
		}
		if c.forPrograms() {
			return writeJSON(s.Out, worth)
		}
		zone, err := shopZone(ctx, r)
		if err != nil {
			return err
		}
		return printWorth(s.Out, worth, zone)
	})
}

// heap says at more length why a mixed heap has no value.
func heap(err error) error {
	var f *strictjson.FieldError
	if !errors.Is(err, value.ErrMixedHeap) || !errors.As(err, &f) {
		return err
	}
	return wrong(strings.Replace(f.Hint, "say so.", "say so with --one-melt.", 1),
		"a mixed heap has no single fineness: %s, and two alloys together can weigh like a third one", f.Reason)
}

func printWorth(w io.Writer, v *value.Worth, zone *time.Location) error {
	finding := v.State
	if v.Finding != "" {
		finding += ". " + v.Finding
	}
	err := pairs(w, [2]string{"Record", v.ID}, [2]string{"Item", v.Item}, [2]string{"Finding", finding},
		[2]string{"Terms", fmt.Sprintf("%s, version %d", v.Terms, v.TermsVersion)}, [2]string{"Valued", stamp(v.At, zone)})
	if err != nil {
		return err
	}
	fmt.Fprintln(w)
	if err := printLines(w, append(append([]value.Line{}, v.Grams...), v.Money...)); err != nil {
		return err
	}
	fmt.Fprintln(w)
	return printEnd(w, v.State, v.Payout, v.Currency, v.NoPrice, v.Price, v.Stale, zone, v.Warnings)
}

// printLines prints a computation so that a person can do it again.
func printLines(w io.Writer, lines []value.Line) error {
	var rows [][]string
	for _, l := range lines {
		rows = append(rows, []string{l.What, l.Working, l.Result.String() + " " + l.Unit})
	}
	return safeGrid(w, "step|working|result", rows)
}

func printEnd(w io.Writer, state string, payout *value.Decimal, currency, noPrice string, price *value.Price, stale bool, zone *time.Location, warnings []string) error {
	if payout != nil {
		at := ""
		if stale {
			at = " at a STALE price"
		}
		fmt.Fprintf(w, "Payout %s %s%s; the finding is: %s.\n", payout, currency, at, state)
	} else {
		fmt.Fprintf(w, "No price; the finding is: %s. Reason: %s.\n", state, noPrice)
	}
	if price != nil {
		fmt.Fprintf(w, "Price %s, held at %s, from %s.\n", price, stamp(price.HeldAt.Time, zone), price.Source)
	}
	for _, warning := range warnings {
		fmt.Fprintf(w, "Note: %s.\n", warning)
	}
	return nil
}

type lotCmd struct {
	place
	once
	formatted
	Numbers []string `arg:"" name:"number" help:"Numbers of the records."`
	Terms   string   `placeholder:"KEY" help:"Terms of the house; not needed where there is only one."`
	Recipes string   `enum:",mixed scrap,one maker" default:"" placeholder:"HOW" help:"mixed scrap (unless said) or one maker: how much the recipes have in common."`
	Name    string   `help:"Your own name for the lot."`
}

func (lotCmd) Help() string {
	return `Examples:

  wreath lot D-000001 D-000002 D-000003 --name "scrap of November"
  wreath lot D-000001 D-000002 --recipes "one maker"

Each item is judged by its own determination, and every metal is summed apart. A mixed heap that was
weighed as one is refused: its mean density is that of no piece.`
}

// Run makes a lot.
func (c *lotCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		id, lot, err := r.Lot(ctx, c.by(who), desk.Valuing{Records: c.Numbers, Terms: c.Terms, Recipes: c.Recipes, Name: c.Name})
		if err != nil {
			return heap(every(err))
		}
		if c.forPrograms() {
			return writeJSON(s.Out, struct {
				ID  string          `json:"id"`
				Lot *value.LotWorth `json:"lot"`
			}{id, lot})
		}
		zone, err := shopZone(ctx, r)
		if err != nil {
			return err
		}
		return printLot(s.Out, id, c.Name, lot, zone)
	})
}

func printLot(w io.Writer, id, name string, l *value.LotWorth, zone *time.Location) error {
	err := pairs(w, [2]string{"Lot", id}, [2]string{"Name", name}, [2]string{"Recipes", l.Recipes},
		[2]string{"Terms", fmt.Sprintf("%s, version %d", l.Terms, l.TermsVersion)}, [2]string{"Valued", stamp(l.At, zone)})
	if err != nil {
		return err
	}
	fmt.Fprintln(w)
	var rows [][]string
	for _, i := range l.Items {
		rows = append(rows, []string{i.ID, i.Item, i.State, i.Metal, i.MetalG.String() + " g", i.Fineness.String(), i.FineG.String() + " g"})
	}
	if err := safeGrid(w, "record|item|finding|metal|weight|safe parts per thousand|fine, safe", rows); err != nil {
		return err
	}
	fmt.Fprintln(w)
	stale := false
	for i := range l.Metals {
		m := &l.Metals[i]
		stale = stale || m.Stale
		fmt.Fprintf(w, "Fine %s %.4f ± %.4f g (95 %%); at least %s g (95 %%); sum of the single safe figures %s g.\n",
			m.Metal, m.FineG, m.FineUExpanded, m.SafeG, m.SinglesG)
		if m.Price != nil {
			fmt.Fprintf(w, "Price %s, held at %s, from %s.\n", m.Price, stamp(m.Price.HeldAt.Time, zone), m.Price.Source)
		}
	}
	if len(l.Money) > 0 {
		fmt.Fprintln(w)
		if err := printLines(w, l.Money); err != nil {
			return err
		}
	}
	fmt.Fprintln(w)
	return printEnd(w, states(l), l.Payout, l.Currency, l.NoPrice, nil, stale, zone, l.Warnings)
}

// states counts the findings of a lot: met (2), undecided (1).
func states(l *value.LotWorth) string {
	var out []string
	for _, state := range []string{value.Met, value.NotMet, value.Undecided, value.NoClaim, value.Suspended} {
		n := 0
		for _, i := range l.Items {
			if i.State == state {
				n++
			}
		}
		if n > 0 {
			out = append(out, fmt.Sprintf("%s (%d)", state, n))
		}
	}
	return strings.Join(out, ", ")
}

type lotsCmd struct {
	place
	formatted
}

func (lotsCmd) Help() string {
	return `Examples:

  wreath lots
  wreath lots --format json`
}

// Run lists the lots.
func (c *lotsCmd) Run(s *streams) error {
	return c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		all, err := r.Lots(ctx, who)
		if err != nil {
			return err
		}
		if c.forPrograms() {
			return writeJSON(s.Out, append([]desk.LotRow{}, all...))
		}
		if len(all) == 0 {
			say(s, "No lot is made.")
			return nil
		}
		zone, err := shopZone(ctx, r)
		if err != nil {
			return err
		}
		var rows [][]string
		for _, l := range all {
			payout := "no price"
			if l.Lot.Payout != nil {
				payout = l.Lot.Payout.String() + " " + l.Lot.Currency
			}
			rows = append(rows, []string{l.ID, l.Name, stamp(l.Lot.At, zone), fmt.Sprint(len(l.Records)), states(l.Lot), payout})
		}
		return safeGrid(s.Out, "lot|name|valued|items|findings|payout", rows)
	})
}
