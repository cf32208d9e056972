package web

import (
	"wreath/internal/determination"
	"wreath/internal/people"
	"wreath/internal/plan"
	"wreath/internal/station"
	"wreath/quantity"
)

// PlanAsked is a question about an item that is not weighed yet.
type PlanAsked struct {
	Mass     string         `json:"mass" doc:"what the item weighs, with its unit: 12.4 g"`
	Claim    string         `json:"claim" doc:"what it is said to be: gold 750, gold 18 ct yellow, gold-yellow 750"`
	Against  []string       `json:"against,omitempty" doc:"what to tell it from: 585, silver 925, tungsten; the neighbouring standards and look-alikes unless given"`
	Repeats  *int           `json:"repeats,omitempty" doc:"weighings of each kind, 1 to 20; as many as the house rule asks for unless given"`
	Density  *float64       `json:"density_g_cm3,omitempty" doc:"density to expect; the middle of what is claimed unless given"`
	Station  string         `json:"station,omitempty" doc:"its newest version is taken"`
	Document *draftDocument `json:"document,omitempty" doc:"what holds at the place, in the place of what the station says; its readings and its claim play no part"`
}

var planEndpoints = []endpoint{
	{Method: "POST", Path: "/plan", Summary: "What a weighing can be expected to decide; nothing is kept", Request: PlanAsked{}, Response: plan.Plan{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[PlanAsked](c)
			if err != nil {
				return nil, err
			}
			q := plan.Question{Station: asked.Station, Against: asked.Against}
			if asked.Repeats != nil {
				if q.Repeats = *asked.Repeats; q.Repeats < 1 {
					return nil, &problem{Type: "input", Status: 422, Title: "repeats: is less than 1.", Hint: "Leave it out for as many as the house rule asks for.", Field: "repeats"}
				}
			}
			if asked.Density != nil {
				if q.Density = *asked.Density; q.Density <= 0 {
					return nil, &problem{Type: "input", Status: 422, Title: "density_g_cm3: is not more than 0.", Hint: "Leave it out for the middle of what is claimed.", Field: "density_g_cm3"}
				}
			}
			if q.MassG, err = quantity.ParseMass(asked.Mass, false); err != nil {
				return nil, &problem{Type: "input", Status: 422, Title: "mass: " + err.Error() + ".", Hint: `Give it with its unit: "12.4 g", "2.3 ct", "1 ozt".`, Field: "mass"}
			}
			if q.Draft, err = placed(s, c, asked); err != nil {
				return nil, err
			}
			claim, colour, err := determination.ClaimOf(asked.Claim)
			if err != nil {
				return nil, err
			}
			q.Draft.Claim, q.Draft.Item = claim, nil
			if colour != "" {
				q.Draft.Item = &determination.Item{Colour: colour}
			}
			return plan.Make(q)
		}},
}

// placed is what holds at the place of a plan, without claim and readings.
func placed(s *Server, c *call, asked PlanAsked) (*determination.Draft, error) {
	own := &determination.Draft{}
	if asked.Document != nil {
		known, err := determination.Decode(asked.Document.RawMessage)
		if err != nil {
			return nil, err
		}
		own = &determination.Draft{
			Method: known.Method, Arrangement: known.Arrangement, HouseRule: known.HouseRule, Liquid: known.Liquid, Air: known.Air,
			Balance: known.Balance, Hanger: known.Hanger, ExpansionPerK: known.ExpansionPerK, ExpansionUPerK: known.ExpansionUPerK,
		}
	}
	var err error
	if asked.Station != "" {
		own, err = c.d.AtStation(c.r.Context(), c.who, asked.Station, own)
	} else {
		// As a document of a determination fills in what it leaves out.
		var applied *station.Applied
		if applied, err = station.Apply(nil, nil, own, nil, s.o.Now()); err == nil {
			own = applied.Draft
		}
	}
	if err == nil && own.Liquid == nil {
		own.Liquid = &determination.Liquid{Kind: "water"}
	}
	return own, err
}
