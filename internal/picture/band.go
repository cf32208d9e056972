package picture

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"wreath/alloy"
	"wreath/gem"
	"wreath/internal/determination"
)

type kind uint8

const (
	ofAlloy kind = iota
	lookalike
	matched // a look-alike that can be made to any density of its reach
	ofStone
)

// band is one range of densities, in g/cm³.
type band struct {
	kind      kind
	name      string // in full: "yellow gold 750"
	family    string // the family's name; of other kinds what they are
	label     string // beside it in the picture: "750"
	short     string // the same where there is little room; empty: label
	low, high float64

	// Of an alloy: the usual recipes, within low to high, and the haze around all of them.
	usualLow, usualHigh float64
	hazeLow, hazeHigh   float64

	z       float64 // distance in standard uncertainties, 0 inside
	fits    bool    // as the answer says
	claimed bool
}

// lane is a row of the picture.
type lane struct {
	title string
	metal string // of alloys
	bands []band
}

// laneOf says in which lane a family is drawn, in the order of the lanes, and what is added to its
// finenesses there. A family that is missing has a lane of its own under its own name.
var laneOf = []struct{ family, lane, suffix string }{
	{"gold-fine", "gold, fine", ""},
	{"gold-yellow", "gold, yellow", ""},
	{"gold-pink", "gold, pink", ""},
	{"gold-red", "gold, red", ""},
	{"gold-green", "gold, green", ""},
	{"gold-white-palladium", "gold, white (Pd)", ""},
	{"gold-white-nickel", "gold, white (Ni)", ""},
	{"gold-white-silver", "gold, white (Ag)", ""},
	{"gold-any", "gold, any", ""},
	{"gold-0n", "gold 0N", ""},
	{"gold-1n", "gold 1N", ""},
	{"gold-2n", "gold 2N", ""},
	{"gold-3n", "gold 3N", ""},
	{"gold-4n", "gold 4N", ""},
	{"gold-5n", "gold 5N", ""},
	{"gold-2n-3n", "gold 2N to 3N", ""},
	{"silver-copper", "silver", ""},
	{"silver-fine", "silver", ""},
	{"palladium-any", "palladium", ""},
	{"palladium-fine", "palladium", ""},
	{"platinum-fine", "platinum", ""},
	{"platinum-any", "platinum", " any"},
	{"platinum-ruthenium", "platinum", " Ru"},
	{"platinum-iridium", "platinum", " Ir"},
	{"platinum-palladium", "platinum", " Pd"},
	{"platinum-cobalt", "platinum", " Co"},
	{"platinum-copper", "platinum", " Cu"},
	{"platinum-rhodium", "platinum", " Rh"},
}

const (
	alikeTitle   = "look-alikes"
	matchedTitle = "made to match"
	stonesTitle  = "stones"
)

// labels are the names of look-alikes as they are written into the picture, where the table's are
// too long.
var labels = map[string]string{
	"tungsten-wrought":    "tungsten",
	"tungsten-sintered":   "tungsten, sintered",
	"heavy-alloy-class-1": "heavy alloy 1",
	"heavy-alloy-class-2": "heavy alloy 2",
	"heavy-alloy-class-3": "heavy alloy 3",
	"heavy-alloy-class-4": "heavy alloy 4",
	"lead-antimony":       "lead-antimony",
	"antimonial-lead":     "hard lead",
	"nickel-silver":       "nickel silver",
	"cupronickel-75-25":   "cupronickel",
	"stainless-steel":     "stainless steel",
	"steel":               "steel",
	"zinc-die-cast":       "zinc die-cast",
	"pewter":              "pewter",
	"iridium":             "iridium",
	"glass-soda-lime":     "glass",
	"glass-lead":          "lead glass",
	"resin-fill":          "resin, plaster",
	"plated-core":         "core under plate",
}

var alikeByName = sync.OnceValue(func() map[string]*alloy.Lookalike {
	m := map[string]*alloy.Lookalike{}
	all := alloy.Lookalikes()
	for i := range all {
		m[all[i].Name] = &all[i]
	}
	return m
})

// common are the finenesses that the empty scale shows (common practice).
var common = map[string][]float64{
	"gold": {0.375, 0.585, 0.750, 0.916, 0.999}, "silver": {0.800, 0.925, 0.999}, "palladium": {0.500, 0.950}, "platinum": {0.950, 0.999},
}

// lanes returns everything there is to draw, in the order of the picture.
func (s Subject) lanes() []lane {
	m, weighed := s.reading()
	c := s.claim()
	var candidates []determination.Candidate
	if s.Answer != nil {
		candidates = s.Answer.Candidates
	}
	out := alloyLanes(m, weighed, c, candidates)
	if weighed {
		out = append(out, alikeLanes(m, candidates)...)
	}
	if c.stone != "" || weighed && m.rho < 8 {
		out = append(out, stoneLane(m, weighed, c, candidates))
	}
	for _, l := range out {
		for i := range l.bands {
			b := &l.bands[i]
			b.label, b.short = s.In.Say(b.label), s.In.Say(b.short)
		}
	}
	return slices.DeleteFunc(out, func(l lane) bool { return len(l.bands) == 0 })
}

// claimLanes are the lanes in which what is claimed stands; a day book has many rows, and needs no others.
func (s Subject) claimLanes() []lane {
	m, weighed := s.reading()
	c := s.claim()
	if c.stone != "" {
		return []lane{stoneLane(m, weighed, c, nil)}
	}
	if c.metal == "" {
		return nil
	}
	return alloyLanes(m, weighed, c, nil)
}

func alloyLanes(m measured, weighed bool, c claimed, candidates []determination.Candidate) []lane {
	type key struct {
		family string
		ppt    int64
	}
	at := func(family string, f float64) key { return key{family, int64(math.Round(f * 1e6))} }
	judged := map[key]determination.Candidate{}
	for _, k := range candidates {
		if k.Kind == "alloy" {
			judged[at(k.Family, k.Fineness/1000)] = k
		}
	}
	var out []lane
	put := func(f *alloy.Family, b band) {
		title, suffix := f.Name, ""
		for _, l := range laneOf {
			if l.family == f.Key {
				title, suffix = l.lane, l.suffix
			}
		}
		b.label += suffix
		i := slices.IndexFunc(out, func(l lane) bool { return l.title == title })
		if i < 0 {
			i, out = len(out), append(out, lane{title: title, metal: f.Metal})
		}
		out[i].bands = append(out[i].bands, b)
	}
	for _, f := range inOrder() {
		list := slices.Clone(alloy.Standards(standards, f.Metal))
		switch {
		case f.Metal == c.metal:
			list = slices.Clone(c.standards)
		case !weighed:
			list = slices.DeleteFunc(list, func(s float64) bool { return !slices.Contains(common[f.Metal], s) })
		}
		for _, k := range candidates {
			if k.Kind == "alloy" && k.Family == f.Key && !slices.ContainsFunc(list, func(s float64) bool { return at(f.Key, s) == at(f.Key, k.Fineness/1000) }) {
				list = append(list, k.Fineness/1000)
			}
		}
		for _, fineness := range list {
			k, isJudged := judged[at(f.Key, fineness)]
			isClaimed := fineness == c.fineness && f.Metal == c.metal && (f.Key == c.family || c.family == "" && f.Role == alloy.Candidate)
			if !isJudged && !(isClaimed && f.Key == c.family) && (f.Role != alloy.Candidate || !made(f, fineness)) {
				continue
			}
			if c.stone != "" && !(isJudged && k.Fits) {
				continue // beside a claimed stone only what it may be instead
			}
			b, ok := alloyBand(f, fineness)
			if !ok {
				continue
			}
			b.claimed = isClaimed
			switch {
			case isJudged:
				b.z, b.fits = math.Abs(k.Z), k.Fits
			case weighed:
				z, _ := f.Distance(m.observation(), fineness, true)
				b.z = math.Abs(z)
			}
			put(f, b)
		}
	}
	// What another metal could be is drawn where some of it fits.
	if c.metal != "" {
		out = slices.DeleteFunc(out, func(l lane) bool {
			return l.metal != c.metal && !slices.ContainsFunc(l.bands, func(b band) bool { return b.fits })
		})
	}
	// A record may name a family that these tables do not have.
	for _, k := range candidates {
		if _, known := alloy.FamilyByKey(k.Family); k.Kind != "alloy" || known {
			continue
		}
		low, high := k.LowKgM3/1000, k.HighKgM3/1000
		out = append(out, lane{title: "other alloy", bands: []band{{kind: ofAlloy, name: k.Name, label: k.Name, family: k.Name, low: low, high: high,
			usualLow: low, usualHigh: high, hazeLow: low, hazeHigh: high, z: math.Abs(k.Z), fits: k.Fits}}})
	}
	return out
}

// inOrder returns the families in the order of their lanes.
var inOrder = sync.OnceValue(func() []*alloy.Family {
	place := func(f *alloy.Family) int {
		for i, l := range laneOf {
			if l.family == f.Key {
				return i
			}
		}
		return len(laneOf)
	}
	all := slices.Clone(alloy.Families())
	slices.SortStableFunc(all, func(a, b *alloy.Family) int { return cmp.Compare(place(a), place(b)) })
	return all
})

// alloyBand returns the band of a fineness, nothing judged; false outside the family's span.
func alloyBand(f *alloy.Family, fineness float64) (band, bool) {
	light, dense, ok := f.Band(fineness, true)
	if !ok {
		return band{}, false
	}
	// The outer recipes enclose the usual ones; interpolation may leave a hair between them.
	usualLight, usualDense, _ := f.Band(fineness, false)
	light, dense = math.Min(light, usualLight), math.Max(dense, usualDense)
	b := band{
		kind: ofAlloy, family: f.Name, label: ppt(1000 * fineness),
		low: 1 / dense, high: 1 / light, usualLow: 1 / usualDense, usualHigh: 1 / usualLight,
	}
	b.name = f.Name + " " + b.label
	b.hazeLow, b.hazeHigh = b.low*(1-2*f.ModelU), b.high*(1+2*f.ModelU)
	return b, true
}

// made says whether a family is worth drawing at a fineness: from 980 up the fine metals take
// over, and white gold stops where its printed recipes do, give or take 70 ppt.
func made(f *alloy.Family, fineness float64) bool {
	switch {
	case f.Low >= 0.97:
		return true
	case fineness >= 0.980:
		return false
	}
	highest := 0.0
	for _, box := range f.Usual {
		for _, bounds := range box {
			if bounds.Fineness == 0 {
				return true
			}
			highest = math.Max(highest, bounds.Fineness)
		}
	}
	return fineness <= highest+0.070
}

// others is how many bands that do not fit are drawn in a lane of many small ones.
const others = 5

func alikeLanes(m measured, candidates []determination.Candidate) []lane {
	alikes, match := lane{title: alikeTitle}, lane{title: matchedTitle}
	drawn := map[string]bool{}
	for _, k := range candidates {
		if k.Kind != "look-alike" {
			continue
		}
		b := band{kind: lookalike, name: k.Name, label: alikeLabel(k.Name), family: "look-alike", low: k.LowKgM3 / 1000, high: k.HighKgM3 / 1000, z: k.Z, fits: k.Fits}
		b.short = strings.Replace(b.label, "tungsten-copper", "W-Cu", 1)
		if l := alikeByName()[k.Name]; l != nil && l.Tunable() && near(l.ReachLow.GramPerCm3(), b.low) && near(l.ReachHigh.GramPerCm3(), b.high) {
			b.kind, b.family = matched, "can be made to match"
			drawn[k.Name] = drawn[k.Name] || near(l.Low.GramPerCm3(), b.low)
			match.bands = append(match.bands, b)
			continue
		}
		drawn[k.Name] = true
		alikes.bands = append(alikes.bands, b)
	}
	var rest []band
	all := alloy.Lookalikes()
	for i := range all {
		l := &all[i]
		if drawn[l.Name] {
			continue
		}
		b := band{kind: lookalike, name: l.Name, label: alikeLabel(l.Name), family: "look-alike", low: l.Low.GramPerCm3(), high: l.High.GramPerCm3()}
		b.short = strings.Replace(b.label, "tungsten-copper", "W-Cu", 1)
		b.z = m.z(b.low, b.high)
		rest = append(rest, b)
	}
	alikes.bands = append(alikes.bands, nearest(rest)...)
	return []lane{alikes, match}
}

func near(a, b float64) bool { return math.Abs(a-b) < 1e-6*math.Abs(a) }

func alikeLabel(name string) string {
	if l := alikeByName()[name]; l != nil {
		if label, ok := labels[l.Key]; ok {
			return label
		}
	}
	return name
}

func stoneLane(m measured, weighed bool, c claimed, candidates []determination.Candidate) lane {
	out := lane{title: stonesTitle}
	drawn := map[string]bool{}
	species, _ := gem.ByKey(c.stone)
	isClaimed := func(name string) bool { return c.stone != "" && name == species.FullName() }
	for _, k := range candidates {
		if k.Kind != "stone" || drawn[k.Name] {
			continue // a claimed stone stands twice among the candidates of old answers
		}
		drawn[k.Name] = true
		out.bands = append(out.bands, band{kind: ofStone, name: k.Name, label: k.Name, family: "stone", low: k.LowKgM3 / 1000, high: k.HighKgM3 / 1000,
			z: k.Z, fits: k.Fits, claimed: isClaimed(k.Name)})
	}
	var rest []band
	for _, g := range gem.All() {
		b := band{kind: ofStone, name: g.FullName(), label: g.FullName(), family: "stone", low: g.Low.GramPerCm3(), high: g.High.GramPerCm3(), claimed: isClaimed(g.FullName())}
		if weighed {
			b.z = m.z(b.low, b.high)
		} else if c.stone != "" {
			b.z = math.Max(0, math.Max(b.low-species.High.GramPerCm3(), species.Low.GramPerCm3()-b.high))
		}
		switch {
		case drawn[b.name]:
		case b.claimed:
			out.bands = append(out.bands, b)
		default:
			rest = append(rest, b)
		}
	}
	out.bands = append(out.bands, nearest(rest)...)
	for i := range out.bands {
		out.bands[i].short = shortStones()[out.bands[i].name]
	}
	if weighed {
		return out
	}
	for i := range out.bands {
		out.bands[i].z = 0 // nothing is measured
	}
	return out
}

// shortStones are the names of stones where there is little room: the species, with its variety where
// several share the species. Garnets go by their variety.
var shortStones = sync.OnceValue(func() map[string]string {
	count := map[string]int{}
	for _, g := range gem.All() {
		count[g.Name]++
	}
	out := map[string]string{}
	for _, g := range gem.All() {
		name := g.Name
		variety, _, _ := strings.Cut(g.Variety, " (")
		variety, _, _ = strings.Cut(variety, ",")
		switch {
		case g.Name == "garnet" && variety != "":
			name = variety
		case count[g.Name] > 1 && variety != "":
			name += " " + variety
		}
		name, _, _ = strings.Cut(name, " (")
		out[g.FullName()] = name
	}
	return out
})

// nearest keeps the nearest few.
func nearest(bands []band) []band {
	slices.SortStableFunc(bands, func(a, b band) int { return cmp.Compare(a.z, b.z) })
	return bands[:min(others, len(bands))]
}

// says is the band in words, for whoever points at it.
func (b *band) says(weighed bool) string {
	words := fmt.Sprintf("%s: %s g/cm³", b.name, between(b.low, b.high))
	if b.kind == ofAlloy && (b.usualLow > b.low || b.usualHigh < b.high) {
		words += ", usual recipes " + between(b.usualLow, b.usualHigh)
	}
	if weighed {
		words += ", " + b.distance()
		if b.fits {
			words += ", fits"
		} else {
			words += ", does not fit"
		}
	}
	return words
}

// distance is "inside" or the distance in standard uncertainties.
func (b *band) distance() string {
	switch {
	case b.z < 0.05:
		return "inside"
	case b.z < 9.95:
		return fmt.Sprintf("%.1f u", b.z)
	case b.z < 99999.5:
		return fmt.Sprintf("%.0f u", b.z)
	}
	return fmt.Sprintf("%.0e u", b.z)
}

// between prints a range of densities.
func between(low, high float64) string {
	a, b := fixed(low, 2), fixed(high, 2)
	if a == b {
		return a
	}
	return a + " to " + b
}
