package simulation

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"wreath/alloy"
	"wreath/internal/determination"
)

// What density can't tell apart is never hidden: each material at its usual density stands among
// the candidates of the claim that it can pass for, as one that fits. Densities in g/cm³ are those
// of the materials table unless another source is named; the items are weighed on a balance of
// 0.1 mg and of 1 mg, hanging and standing.
func TestTwinsAreNeverHidden(t *testing.T) {
	for _, row := range []struct {
		what    string
		density float64
		claim   determination.Claim
		colour  string
		want    string // part of the candidate's name
		named   string // word that NeverExcluded or the candidate's Why must hold; empty: none asked
	}{
		{"tungsten for fine gold", 19.255, gold(999, ""), "yellow", "tungsten", "tungsten"},
		{"tungsten for fine gold 999.9", 19.255, gold(999.9, "gold-fine"), "yellow", "tungsten", "tungsten"},
		{"gold for tungsten's twin", 19.30, gold(999, ""), "yellow", "tungsten", "tungsten"},
		{"heavy alloy for 22 ct", 17.80, gold(916, "gold-yellow"), "yellow", "heavy alloy", "tungsten"},
		{"heavy alloy class 3 for 22 ct", 18.05, gold(916, "gold-yellow"), "yellow", "heavy alloy", "tungsten"},
		{"tungsten-copper for 18 ct", 15.45, gold(750, "gold-yellow"), "yellow", "tungsten-copper", "tungsten"},
		{"tungsten-copper for 18 ct red", 14.94, gold(750, "gold-red"), "red", "tungsten-copper", "tungsten"},
		{"lead for 9 ct", 11.34, gold(375, "gold-yellow"), "yellow", "lead", "lead"},
		{"hard lead for 8 ct", 10.90, gold(333, "gold-yellow"), "yellow", "lead", "lead"},
		{"lead-antimony for silver", 10.50, silver(999), "", "lead", "lead"},
		{"lead-tin for 800 silver", 10.21, silver(800), "", "lead", "lead"},
		{"lead alloy for sterling", 10.36, silver(925), "", "lead", "lead"},
		{"molybdenum for 800 silver", 10.22, silver(800), "", "molybdenum", ""},
		// 585 with palladium alone beside it: volumes add, 1/(0.585/19.30 + 0.415/12.02) = 15.42.
		{"palladium-white 585 for yellow 750", 15.42, gold(750, ""), "", "palladium white gold 585", ""},
		// Silver and copper by the mixing model, from one quenched phase to fully parted.
		{"unmixed sterling", silverCopper(t, 0.925, alloy.Unmixed), silver(925), "", "copper 925", ""},
		{"quenched sterling", silverCopper(t, 0.925, alloy.Quenched), silver(925), "", "copper 925", ""},
		{"unmixed 800", silverCopper(t, 0.800, alloy.Unmixed), silver(800), "", "copper 800", ""},
		{"quenched 800", silverCopper(t, 0.800, alloy.Quenched), silver(800), "", "copper 800", ""},
		{"diamond for topaz", 3.52, determination.Claim{Stone: "topaz"}, "", "diamond", ""},
		{"topaz for diamond", 3.53, determination.Claim{Stone: "diamond"}, "", "topaz", ""},
		{"sphene for diamond", 3.53, determination.Claim{Stone: "diamond"}, "", "sphene", ""},
		{"diamond for sphene", 3.52, determination.Claim{Stone: "diamond"}, "", "sphene", ""},
	} {
		for i, d := range []float64{0.0001, 0.001} {
			for _, standing := range []bool{false, true} {
				a := weighed(t, row.density, d, standing, uint64(i), &row.claim, row.colour)
				at := slices.IndexFunc(a.Candidates, func(c determination.Candidate) bool {
					return c.Fits && strings.Contains(strings.ToLower(c.Name), row.want)
				})
				if at < 0 {
					t.Errorf("%s, d %g g, standing %t (%.0f ± %.0f kg/m³): no candidate %q fits, there are %v", row.what, d, standing,
						a.Density20C.KgM3, a.Density20C.UKgM3, row.want, names(a.Candidates))
					continue
				}
				said := strings.ToLower(a.Candidates[at].Why + " " + a.Candidates[at].Name + " " + strings.Join(a.NeverExcluded, " "))
				if row.named != "" && !(len(a.NeverExcluded) > 0 && strings.Contains(said, row.named)) {
					t.Errorf("%s: what is never excluded does not name %q: %q", row.what, row.named, a.NeverExcluded)
				}
			}
		}
	}
}

func gold(ppt float64, family string) determination.Claim {
	return determination.Claim{Metal: "gold", Fineness: &ppt, Family: family}
}

// silverCopper is the density of an alloy of silver and copper in one of its two states, in g/cm³.
func silverCopper(t *testing.T, fineness float64, state alloy.State) float64 {
	t.Helper()
	m, err := alloy.Mix(alloy.Parts{{Symbol: "Ag", Fraction: fineness}, {Symbol: "Cu", Fraction: 1 - fineness}}, alloy.Options{State: state})
	if err != nil {
		t.Fatal(err)
	}
	return m.Density.GramPerCm3()
}

func silver(ppt float64) determination.Claim {
	return determination.Claim{Metal: "silver", Fineness: &ppt}
}

// weighed is the answer on ten cubic centimetres of a material.
func weighed(t *testing.T, density, d float64, standing bool, seed uint64, claim *determination.Claim, colour string) *determination.Answer {
	t.Helper()
	r := rand.New(rand.NewPCG(11, seed))
	station := Station{Standing: standing, Interval: d, Capacity: 220, Repeatability: d, RepeatabilityLiquid: 2 * d,
		TemperatureC: 20, TemperatureU: 0.1, AirKgM3: 1.2, AirU: 0.01, WireMM: 0.2, VesselMM: 80, HangerMass: 2, HangerVolume: 0.25}
	s := &Session{Bench: NewBench(r, station, Plain("", 10*density, density)), Claim: Claims()[0], Check: CheckPiece{Mass: 80, Volume: 10, VolumeU: 0.001}}
	s.Run()
	draft := s.Draft(Stages[ClosedProved].Plan)
	draft.Claim, draft.Item.Colour = claim, colour
	draft.Item.IntakeMassG = nil
	a, err := determination.Evaluate(draft, determination.Options{})
	if err != nil {
		t.Fatalf("density %g: %v", density, err)
	}
	return a
}

func names(candidates []determination.Candidate) (all []string) {
	for _, c := range candidates {
		all = append(all, c.Name)
	}
	return all
}
