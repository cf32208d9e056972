package plan

import (
	"cmp"
	"math"
	"slices"
	"strings"
)

// Improvement is one cause of uncertainty and what it is worth to mend it.
type Improvement struct {
	Cause  string  `json:"cause"`
	Share  float64 `json:"share"`        // of the variance
	Alone  float64 `json:"alone_g_cm3"`  // expanded uncertainty that it would give alone
	Halved float64 `json:"halved_g_cm3"` // expanded uncertainty of all with this cause halved
	Gone   float64 `json:"gone_g_cm3"`   // with this cause gone
	Act    string  `json:"act"`
}

// acts say how each cause is made smaller. Common practice at the bench.
var acts = []struct{ ends, cause, act string }{
	{"repeatability", "repeatability of the balance", "repeat the weighing, shield the balance from draught"},
	{"resolution", "scale interval of the balance", "take a finer balance, or weigh several like items together"},
	{"non-linearity", "non-linearity of the balance", "have the balance adjusted; weigh near one load"},
	{"surface force on the wire", "wetting of the wire", "thinner wire, or one drop of wetting agent"},
	{"liquid temperature", "temperature of the liquid", "read a better thermometer in the vessel, at the item's depth"},
	{"air density", "density of the air", "read pressure, temperature and humidity at the bench"},
	{"liquid: dissolved air", "air dissolved in the water", "boil the water, or say how long it stood"},
	{"liquid: purity", "purity of the water", "take distilled water, or prove it with a check piece"},
	{"rise of the liquid along the wires", "rise of the liquid along the wires", "state the diameters of wire and vessel"},
	{"expansion of the item", "expansion of the item", "weigh nearer to 20 °C"},
}

// improvements lists the causes, the largest first.
func improvements(e expectation) []Improvement {
	var all []Improvement
	for _, r := range e.answer.Budget {
		if r.Share <= 0 {
			continue
		}
		cause, act := r.Input, "prove the liquid with a check piece"
		for _, known := range acts {
			if strings.HasSuffix(r.Input, known.ends) {
				cause, act = known.cause, known.act
				break
			}
		}
		i := slices.IndexFunc(all, func(x Improvement) bool { return x.Cause == cause })
		if i < 0 {
			i = len(all)
			all = append(all, Improvement{Cause: cause, Act: act})
		}
		all[i].Share += r.Share
	}
	for i := range all {
		x := &all[i]
		x.Alone = e.expanded * math.Sqrt(x.Share)
		x.Halved = e.expanded * math.Sqrt(1-0.75*x.Share)
		x.Gone = e.expanded * math.Sqrt(math.Max(0, 1-x.Share))
	}
	slices.SortStableFunc(all, func(x, y Improvement) int { return cmp.Compare(y.Share, x.Share) })
	return all
}
