package determination

import (
	"fmt"
	"math"
	"slices"

	"wreath/fault"
	"wreath/fluid"
	"wreath/quantity"
)

// Done is one thing that was done between the weighings, and what was seen. What comes right after
// it says what was wrong before.
type Done struct {
	Act    string `json:"act" doc:"what was done, as wreath materials settlers lists it: brushed, centred, wire-dipped, zero-set, zero-read, immersed-anew, read-again, bag-and-photo, streaked, thermometer or strength"`
	Before *int   `json:"before" doc:"number of the immersed reading that it went before, from 1 to their number; it came after the last unless said"`
	Found  *bool  `json:"found" doc:"true when what it looks for was found: a bubble went off, the item had touched, another number stands on the display; false when looked for and not found"`

	ZeroG              *float64 `json:"zero_g" doc:"zero-read: what the balance showed with the empty hanger in the liquid, grams"`
	TemperatureC       *float64 `json:"temperature_c" doc:"thermometer: what the second one reads in the liquid, °C"`
	EthanolMassPercent *float64 `json:"ethanol_mass_percent" doc:"strength: what was measured, by mass"`
	U                  *float64 `json:"u" doc:"thermometer, strength: standard uncertainty of what was read; 0.2 K and 0.5 % unless said"`
}

// settlerKeys are the acts that a draft may name.
func settlerKeys() (keys []string) {
	for _, s := range fault.Settlers() {
		keys = append(keys, s.Key)
	}
	return keys
}

// checkDone refuses acts that nobody knows, and such that lack what they are done for.
func (d *Draft) checkDone() error {
	if d.ClosingZeroG != nil && len(d.ClosingZeroG) == 0 || len(d.ClosingZeroG) > 1000 {
		return bad("closing_zero_g", "Give the reading of the empty hanger, or leave it out.", "holds %d readings", len(d.ClosingZeroG))
	}
	for i, r := range d.ClosingZeroG {
		field := "closing_zero_g"
		if len(d.ClosingZeroG) > 1 {
			field = fmt.Sprintf("closing_zero_g[%d]", i)
		}
		if err := d.emptyHanger(field, r.Gram); err != nil {
			return err
		}
	}
	immersions := max(len(d.LiquidG), len(d.GainG))
	for i := range d.Done {
		x := &d.Done[i]
		field := fmt.Sprintf("done[%d]", i)
		if x.Act == "" {
			return bad(field+".act", "Name what was done.", "is missing")
		}
		if err := oneOf(field+".act", x.Act, settlerKeys()...); err != nil {
			return err
		}
		if x.Before != nil && (*x.Before < 1 || *x.Before > 1000) {
			return bad(field+".before", "It is the number of an immersed reading, from 1.", "%d cannot be right", *x.Before)
		}
		if x.Before != nil && immersions > 0 && *x.Before > immersions {
			return bad(field+".before", "Leave it out where it was done after the last reading.", "is %d, the number of immersed readings is %d", *x.Before, immersions)
		}
		if x.ZeroG != nil {
			if err := d.emptyHanger(field+".zero_g", *x.ZeroG); err != nil {
				return err
			}
		}
		if err := firstError(within(field+".temperature_c", x.TemperatureC, -50, 150, "°C"),
			within(field+".ethanol_mass_percent", x.EthanolMassPercent, 0, 100, "%"),
			within(field+".u", x.U, 0, 20, "")); err != nil {
			return err
		}
		s, _ := fault.SettlerByKey(x.Act)
		for _, taken := range [...]struct {
			takes, name, hint string
			given             bool
		}{
			{"zero", "zero_g", "Give what the balance showed with the empty hanger.", x.ZeroG != nil},
			{"celsius", "temperature_c", "Give what the second thermometer reads.", x.TemperatureC != nil},
			{"percent", "ethanol_mass_percent", "Give the strength that was measured.", x.EthanolMassPercent != nil},
		} {
			if s.Takes == taken.takes && !taken.given {
				return bad(field+"."+taken.name, taken.hint, "is missing")
			}
			if s.Takes != taken.takes && taken.given {
				return bad(field+"."+taken.name, "Leave it out, or name the act that it was read with.", "does not belong to %s", x.Act)
			}
		}
	}
	return nil
}

// emptyHanger refuses what no empty hanger shows: more than the item and the heaviest hanger weigh. One that
// was not tared shows its own weight, which may be more than that of a small item.
func (d *Draft) emptyHanger(field string, grams float64) error {
	air, _ := mean(d.AirG)
	if len(d.AirG) == 0 {
		air = MaxReadingG
	}
	if heaviest := fault.Hanger.Fault().High; math.Abs(grams) <= math.Abs(air)+heaviest {
		return nil
	}
	return bad(field, "It is what the balance shows of the empty hanger in the liquid, in grams: 0 when the zero stayed.",
		"%.10g g is more than the item weighs in air (%.10g g), with any hanger", grams, air)
}

// describeDone tells the engine what was done between the weighings, and what was read beside them.
func (e *evaluation) describeDone(w *fault.Weighing) {
	n := len(w.Immersed)
	w.Done, w.Zeros = w.Done[:0], w.Zeros[:0]
	for i := range e.draft.Done {
		x := &e.draft.Done[i]
		s, ok := fault.SettlerByKey(x.Act)
		if !ok {
			continue // checkDone refused it
		}
		before := n
		if x.Before != nil {
			before = min(*x.Before-1, n)
		}
		w.Done = append(w.Done, fault.Done{Settler: s, Before: before, Found: seen(x.Found)})
		switch {
		case x.ZeroG != nil:
			w.Zeros = append(w.Zeros, fault.ZeroReading{Before: before, Gram: *x.ZeroG})
		case x.TemperatureC != nil:
			w.Thermometer = &fault.Second{Off: *x.TemperatureC - e.liquidC, U: math.Hypot(or(x.U, 0.2), e.statedTU())}
		case x.EthanolMassPercent != nil && w.Ethanol:
			w.Strength = e.secondStrength(*x.EthanolMassPercent/100, or(x.U, 0.5)/100)
		}
	}
	if len(e.draft.ClosingZeroG) > 0 {
		zero, _ := mean(e.draft.ClosingZeroG)
		w.Zeros = append(w.Zeros, fault.ZeroReading{Before: n, Gram: zero})
	}
	slices.SortStableFunc(w.Zeros, func(a, b fault.ZeroReading) int { return a.Before - b.Before })
}

// statedTU is the standard uncertainty of the temperature as it was read, whatever a check piece says.
func (e *evaluation) statedTU() float64 {
	u := e.inputs[e.liquidT].U
	if l := e.draft.Liquid; l != nil {
		u = math.Max(u, or(l.TemperatureUC, 0.3))
	}
	return u
}

// secondStrength is what a measured strength by mass says of the liquid's density; nil where the
// formula does not reach.
func (e *evaluation) secondStrength(strength, u float64) *fault.Second {
	stated := e.weighed.LiquidRho
	celsius := quantity.Temperature(e.liquidC)
	found, err := fluid.EthanolWater(strength, celsius)
	near, err2 := fluid.EthanolWater(math.Abs(strength-0.01), celsius)
	if err != nil || err2 != nil || stated <= 0 {
		return nil
	}
	perShare := (found.GramPerCm3() - near.GramPerCm3()) / 0.01
	return &fault.Second{Off: found.GramPerCm3()/stated - 1, U: math.Hypot(perShare*u/stated, e.weighed.LiquidU)}
}

// zeroSeen says that the zero is known to have stayed through the immersions: it was read or set
// between them, or read at the end.
func (e *evaluation) zeroSeen() bool {
	if len(e.draft.ClosingZeroG) > 0 {
		return true
	}
	return slices.ContainsFunc(e.draft.Done, func(x Done) bool {
		return x.Act == "zero-read" || x.Act == "zero-set" && x.Before != nil && *x.Before > 1
	})
}
