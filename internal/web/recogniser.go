package web

import (
	"context"
	"slices"

	"wreath/alloy"
	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/handsfree"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/station"
)

// known is what is known of a sheet before the balance says anything.
type known struct {
	handsfree.Options
	order   []string // slots that it asks for, one entry a reading
	another bool     // a second liquid follows the first
}

// recogniserOptions are what is known of a sheet before the balance says anything.
func (s *Server) recogniserOptions(ctx context.Context, who *desk.Who, sheet record.Sheet) (o known, err error) {
	d := s.current()
	draft, err := d.Filled(ctx, who, sheet.ID)
	if err != nil {
		asked, decodeErr := determination.Decode(sheet.Requests[len(sheet.Requests)-1].Document)
		if decodeErr != nil {
			return o, decodeErr
		}
		draft = asked // the readings don't go together; what is asked still says how it hangs
	}
	o.Standing = draft.Arrangement == "standing"
	if b := draft.Balance; b != nil {
		o.ZeroRead = b.Zero == "read"
		o.IntervalG, o.RepeatabilityG, o.RepeatabilityLiquidG, o.CapacityG = or0(b.ResolutionG), or0(b.RepeatabilityG), or0(b.RepeatabilityLiquidG), or0(b.CapacityG)
	}
	if h := draft.Hanger; h != nil {
		o.HangerG = or0(h.MassG)
		o.UnderFloor = h.UnderFloor != nil && *h.UnderFloor
	}
	if i := draft.Item; i != nil {
		o.ItemG = or0(i.IntakeMassG)
	}
	o.DensityLow, o.DensityHigh = likelyDensity(draft)
	if l := draft.Liquid; l != nil {
		o.LiquidGCm3 = liquidDensity(l.Kind, l.DensityKgM3)
	}
	for _, r := range sheet.Readings {
		if !sheet.Counts(r) || unitOf(r.Slot) != "g" {
			continue
		}
		if x, err := r.Value(); err == nil {
			o.Held = append(o.Held, handsfree.Held{Slot: r.Slot, Value: x})
		}
	}
	rule, err := determination.HouseRuleByKey(draft.HouseRule)
	if err != nil {
		return o, err
	}
	if sheet.Station != nil && who.May(people.SeeStations) {
		equipment, err := d.Equipment(ctx, who)
		if err != nil {
			return o, err
		}
		o.Check = checkOf(equipment, *sheet.Station)
	}
	o.order = order(rule, o.Standing, o.Check != nil)
	if second := draft.SecondLiquid; second != nil {
		if o.another = len(remaining(o.order, sheet)) > 0; !o.another {
			o.SecondLiquid, o.LiquidGCm3 = true, liquidDensity(second.Kind, second.DensityKgM3)
			o.order = []string{handsfree.OtherLiquid}
			if o.Standing {
				o.order[0] = handsfree.OtherGain
			}
		}
	}
	o.Wanted = remaining(o.order, sheet)
	return o, nil
}

// liquidDensity is near enough to tell a load in a liquid from one in air, g/cm³; 0 is that of water.
func liquidDensity(kind string, measuredKgM3 *float64) float64 {
	switch {
	case measuredKgM3 != nil:
		return *measuredKgM3 / 1000
	case kind == "ethanol-water":
		return 0.8 // of any strength
	}
	return 0
}

// likelyDensity is the density that the claim lets expect, g/cm³, from all recipes that may have made it; zeros where
// it says nothing of the whole body.
func likelyDensity(d *determination.Draft) (low, high float64) {
	c, i := d.Claim, d.Item
	if i != nil && (len(i.StonesSet) > 0 || i.Layers != nil || i.Quartz != nil || i.Heap != nil && *i.Heap || i.Hollow != nil && *i.Hollow) {
		return 0, 0
	}
	if c == nil || c.Fineness == nil && c.Carat == nil {
		return 0, 0
	}
	fineness := or0(c.Carat) / 24
	if c.Fineness != nil {
		fineness = *c.Fineness / 1000
	}
	families := alloy.FamiliesOf(c.Metal)
	if f, found := alloy.FamilyByKey(c.Family); found {
		families = []*alloy.Family{f}
	}
	for _, f := range families {
		least, most, ok := f.Band(fineness, true) // cm³/g
		if !ok || least <= 0 {
			continue
		}
		high = max(high, 1/least)
		if low == 0 || 1/most < low {
			low = 1 / most
		}
	}
	return low, high
}

// checkOf is the check piece of a station, as the recogniser knows it; nil where there is none.
func checkOf(e desk.Equipment, at station.Ref) *handsfree.Check {
	for _, place := range e.Stations {
		if place.ID != at.ID || place.CheckPiece == nil {
			continue
		}
		for _, i := range e.Instruments {
			if i.ID != place.CheckPiece.ID || i.Solid == nil {
				continue
			}
			c := &handsfree.Check{AirG: or0(i.Solid.MassG), AirUG: or0(i.Solid.MassUG), VolumeCm3: or0(i.Solid.VolumeCm3)}
			if c.VolumeCm3 == 0 && i.Solid.DensityKgM3 != nil {
				c.VolumeCm3 = c.AirG / *i.Solid.DensityKgM3 * 1000
			}
			return c
		}
	}
	return nil
}

// order are the weighings that a house rule asks for, as they are mostly done: once in air, immersed, once in
// air again, then the check piece, where the station has one.
func order(rule determination.HouseRule, standing, check bool) []string {
	immersed, proof := handsfree.Liquid, handsfree.CheckLiquid
	if standing {
		immersed, proof = handsfree.Gain, handsfree.CheckGain
	}
	out := append([]string{handsfree.Air}, slices.Repeat([]string{immersed}, max(1, rule.Immersions))...)
	if rule.ClosingAir {
		out = append(out, handsfree.ClosingAir)
	}
	if rule.LiquidProof && check {
		out = append(out, handsfree.CheckAir, proof)
	}
	return out
}

// remaining is what a sheet does not hold yet of the slots that it asks for.
func remaining(order []string, sheet record.Sheet) []string {
	out := slices.Clone(order)
	for _, r := range sheet.Readings {
		if !sheet.Counts(r) {
			continue
		}
		if i := slices.Index(out, r.Slot); i >= 0 {
			out = slices.Delete(out, i, i+1)
		}
	}
	return out
}
