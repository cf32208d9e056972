package main

import (
	"context"
	"fmt"
	"io"
	"time"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/picture"
	"wreath/internal/plan"
	"wreath/internal/station"
	"wreath/quantity"
)

type planCmd struct {
	place
	Mass      string   `required:"" placeholder:"MASS" help:"What the item weighs, with its unit: \"12.4 g\"."`
	Claim     string   `required:"" placeholder:"WORDS" help:"What it is said to be: \"gold 750\", \"gold 18 ct yellow\", \"silver 925\"; or a family: \"gold-yellow 750\"."`
	Against   []string `placeholder:"WORDS" help:"What to tell it from, parted by commas: 585, \"silver 925\", tungsten. The neighbouring standards and look-alikes unless said."`
	Repeats   *int     `placeholder:"N" help:"Weighings of each kind, 1 to 20; as many as the house rule asks for unless said."`
	HouseRule string   `placeholder:"KEY" help:"House rule, as wreath materials house-rules lists them."`
	Density   decimal  `name:"density-g-cm3" help:"Density to expect; the middle of what is claimed unless said."`

	Station string `group:"where" placeholder:"NAME" help:"Station of the store."`
	Draft   string `group:"where" placeholder:"FILE" help:"Instead: JSON document with what holds at the place, or - for standard input."`

	Resolution          decimal `name:"resolution-g" group:"where" help:"Scale interval of the balance."`
	Repeatability       decimal `name:"repeatability-g" group:"where" help:"Standard deviation of one reading in air; taken from the scale interval unless said."`
	RepeatabilityLiquid decimal `name:"repeatability-liquid-g" group:"where" help:"The same in the liquid."`
	Arrangement         string  `enum:",hanging,standing" default:"" group:"where" help:"hanging (the item hangs from the balance) or standing (the vessel stands on the pan)."`
	Liquid              string  `enum:",water,ethanol-water" default:"" group:"where" help:"water or ethanol-water; water unless said."`
	EthanolMassPercent  decimal `group:"where" help:"Strength of ethanol-water."`
	TemperatureC        decimal `group:"where" help:"Temperature of the liquid, °C."`
	TemperatureUC       decimal `name:"temperature-u-c" group:"where" help:"Its standard uncertainty, K."`

	Format string `enum:"text,json,svg" default:"text" help:"text for people, json for programs, svg for a picture."`
}

func (planCmd) Help() string {
	return `Examples:

  wreath plan --mass "2 g" --claim "gold 750 yellow" --resolution-g 0.01
  wreath plan --mass "12.4 g" --claim "gold 750" --against 585,tungsten --draft examples/station.json
  wreath plan --mass "1 ozt" --claim "gold 999" --resolution-g 0.001 --repeats 4
  wreath plan --mass "2 g" --claim "silver 925" --resolution-g 0.001 --format svg > plan.svg

With --station counter the plan is for a station of the store.
What is said beside --station or --draft takes the place of what they say.`
}

// Run plans.
func (c *planCmd) Run(s *streams) error {
	grams, err := quantity.ParseMass(c.Mass, false)
	if err != nil {
		return wrong("Give it with its unit: \"12.4 g\", \"2.3 ct\", \"1 ozt\".", "--mass: %v", err)
	}
	if c.Station != "" && c.Draft != "" {
		return wrong("Name a station of the store, or a document, one of the two.", "--station and --draft are given together")
	}
	if c.Repeats != nil && (*c.Repeats < 1 || *c.Repeats > plan.MostRepeats) {
		return wrong("Leave it out for as many as the house rule asks for.", "--repeats %d is outside 1 to %d", *c.Repeats, plan.MostRepeats)
	}
	if err := within("density-g-cm3", c.Density, 0.5, 23, "g/cm³", "Gold has 19.3 g/cm³. Leave it out for the middle of what is claimed."); err != nil {
		return err
	}
	q := plan.Question{MassG: grams, Against: c.Against, Density: c.Density.value, Station: c.Station}
	if c.Repeats != nil {
		q.Repeats = *c.Repeats
	}
	if q.Draft, err = c.draft(s); err != nil {
		return err
	}
	p, err := plan.Make(q)
	if err != nil {
		return err
	}
	switch c.Format {
	case "json":
		return writeJSON(s.Out, p)
	case "svg":
		return c.picture(s.Out, p)
	}
	return printPlan(s.Out, p)
}

// draft is what holds at the place, with the claim.
func (c *planCmd) draft(s *streams) (*determination.Draft, error) {
	own := &determination.Draft{HouseRule: c.HouseRule, Arrangement: c.Arrangement, Balance: &determination.Balance{
		ResolutionG: c.Resolution.pointer(), RepeatabilityG: c.Repeatability.pointer(), RepeatabilityLiquidG: c.RepeatabilityLiquid.pointer(),
	}}
	if c.Liquid != "" || c.TemperatureC.given() || c.TemperatureUC.given() || c.EthanolMassPercent.given() {
		own.Liquid = &determination.Liquid{Kind: c.Liquid, TemperatureC: c.TemperatureC.pointer(), TemperatureUC: c.TemperatureUC.pointer(), EthanolMassPercent: c.EthanolMassPercent.pointer()}
	}
	var err error
	switch {
	case c.Station != "":
		own, err = c.atStation(own)
	case c.Draft != "":
		own, err = c.inDocument(s, own)
	}
	if err != nil {
		return nil, err
	}
	if own.Liquid == nil {
		own.Liquid = &determination.Liquid{Kind: "water"}
	}
	claim, colour, err := determination.ClaimOf(c.Claim)
	if err != nil {
		return nil, named("--claim", err)
	}
	own.Claim = claim
	if colour != "" {
		own.Item = &determination.Item{Colour: colour}
	}
	return own, nil
}

// atStation fills in what a station of the store knows.
func (c *planCmd) atStation(own *determination.Draft) (draft *determination.Draft, err error) {
	err = c.work(func(ctx context.Context, r *room, who *desk.Who) error {
		var err error
		draft, err = r.AtStation(ctx, who, c.Station, own)
		return err
	})
	return draft, err
}

// inDocument fills in what a document says.
func (c *planCmd) inDocument(s *streams, own *determination.Draft) (*determination.Draft, error) {
	data, err := readInput(c.Draft, s.In)
	if err != nil {
		return nil, err
	}
	known, err := determination.Decode(data)
	if err != nil {
		return nil, err
	}
	// A document of one determination says where it was made; its readings and its claim play no part.
	place := &station.Station{Arrangement: known.Arrangement, HouseRule: known.HouseRule, Defaults: &station.Draft{
		Method: known.Method, Liquid: known.Liquid, Air: known.Air, Balance: known.Balance, Hanger: known.Hanger,
		ExpansionPerK: known.ExpansionPerK, ExpansionUPerK: known.ExpansionUPerK,
	}}
	applied, err := station.Apply(place, nil, own, nil, time.Now())
	if err != nil {
		return nil, err
	}
	return applied.Draft, nil
}

func (c *planCmd) picture(w io.Writer, p *plan.Plan) error {
	file, err := picturePlan(p).Standalone(picture.Light)
	if err != nil {
		return fmt.Errorf("draw the plan: %w", err)
	}
	_, err = w.Write(file)
	return err
}

// pointer is the number where it was given.
func (d decimal) pointer() *float64 {
	if !d.given() {
		return nil
	}
	return &d.value
}
