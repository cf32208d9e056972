package web

import (
	"net/url"
	"strconv"

	"wreath/internal/determination"
	"wreath/internal/plan"
)

// outlook says on a sheet, before the item is wet there, whether the balance can answer the claim.
type outlook struct {
	Known bool // mass and claim are known
	plan.Outlook
	Link string // the plan with what the sheet knows
}

// outlookOf plans the sheet; nil where nothing is claimed that a plan could be made for.
func outlookOf(v *sheetView, d *determination.Draft) *outlook {
	c := v.Draft.Claim
	if c == nil || c.Stone != "" || c.Fineness == nil && c.Carat == nil || d.Method != "" && d.Method != "immersion" {
		return nil
	}
	ask := url.Values{"sheet": {v.ID}} // what was read on it holds for the plan: the liquid, its temperature, the check piece
	out := &outlook{}
	grams, known := massOf(v, d)
	if known {
		ask.Set("mass", strconv.FormatFloat(grams, 'f', -1, 64))
		ask.Set("unit", "g")
	}
	ask.Set("metal", c.Metal)
	if c.Carat != nil {
		ask.Set("fineness", strconv.FormatFloat(*c.Carat, 'f', -1, 64)+"ct")
	} else {
		ask.Set("fineness", strconv.FormatFloat(*c.Fineness, 'f', -1, 64))
	}
	colour := ""
	if v.Draft.Item != nil {
		colour = v.Draft.Item.Colour
	}
	for name, text := range map[string]string{"family": c.Family, "colour": colour, "house_rule": v.Draft.HouseRule} {
		if text != "" {
			ask.Set(name, text)
		}
	}
	if s := v.Sheet.Station; s != nil {
		ask.Set("station", s.ID)
	} else if d.Balance != nil && d.Balance.ResolutionG != nil {
		ask.Set("resolution", strconv.FormatFloat(*d.Balance.ResolutionG, 'f', -1, 64)+" g")
		ask.Set("arrangement", d.Arrangement)
	}
	out.Link = "/plan?" + ask.Encode()
	if !known || v.Slots[1].taken() > 0 {
		return out
	}
	var err error
	if out.Outlook, err = plan.Answerable(plan.Question{Draft: dryDraft(d), MassG: grams}); err == nil {
		out.Known = true // an error is said where the sheet is evaluated
	}
	return out
}

// massOf is what the item weighs: as weighed in air here, or as written down when it was taken in.
func massOf(v *sheetView, d *determination.Draft) (grams float64, known bool) {
	if n := len(d.AirG); n > 0 && v.Slots[0].taken() > 0 {
		for _, r := range d.AirG {
			grams += r.Gram / float64(n)
		}
		return grams, true
	}
	if d.Item != nil && d.Item.IntakeMassG != nil {
		return *d.Item.IntakeMassG, true
	}
	return 0, false
}

// dryDraft is what holds at the place, with the claim and without readings of the item. A check piece
// that was weighed in the liquid holds too.
func dryDraft(d *determination.Draft) *determination.Draft {
	out := &determination.Draft{
		Method: d.Method, Arrangement: d.Arrangement, HouseRule: d.HouseRule, Claim: d.Claim, Air: d.Air, Balance: d.Balance,
		Hanger: d.Hanger, ExpansionPerK: d.ExpansionPerK, ExpansionUPerK: d.ExpansionUPerK, Liquid: &determination.Liquid{Kind: "water"},
	}
	if d.Liquid != nil {
		liquid := *d.Liquid
		if p := liquid.Proof; p != nil && (len(p.AirG) == 0 || len(p.LiquidG)+len(p.GainG) == 0) {
			liquid.Proof = nil // not weighed yet
		}
		out.Liquid = &liquid
	}
	if d.Item != nil && d.Item.Colour != "" {
		out.Item = &determination.Item{Colour: d.Item.Colour}
	}
	return out
}
