package simulation

import (
	"math"
	"slices"
	"testing"
)

// The sizes of the sample: per fault, of which the visible ones count.
const (
	perFault  = 240
	perClean  = 2400
	seedOfAll = 20261127
)

// below says how far a share of n may fall short of what is asked by chance: two and a half
// binomial standard deviations, one case in 160.
func below(asked float64, n int) float64 {
	return asked - 2.5*math.Sqrt(asked*(1-asked)/float64(n))
}

// atLeast complains when a share falls short of what is asked by more than chance.
func atLeast(t *testing.T, what string, n, of int, asked float64) {
	t.Helper()
	if of < 10 {
		return // too few are visible to say anything
	}
	if Share(n, of) < below(asked, of) {
		t.Errorf("%s: %.1f %% of %d, want %.0f %% (one binomial standard deviation is %.1f points)", what, 100*Share(n, of), of, 100*asked, 100*math.Sqrt(asked*(1-asked)/float64(of)))
	}
}

// Faults whose readings are those of another one are asked for less; what is asked of each stands
// here with its reason.
var (
	// With two immersions, closing weighing and check piece: named in the first three lines.
	threeLess = map[string]float64{
		"bubble": 0.90, // one that stays through both immersions is a hollow to the readings
		"wire":   0.87, // the same, and within the scatter of wetting that every balance has
		"drift":  0.90, // over two immersions it is one step, as a bubble's
	}
	// After the settling acts and the look-over: named first. All acts are done before the third
	// immersion, so a reading that comes right does not say which of them helped.
	firstLess = map[string]float64{
		"zero":        0.60, // 0.75 would be wished for
		"wire":        0.55,
		"bubble":      0.45,
		"core":        0.50, // has the density of a lower standard or another material
		"look-alike":  0.84,
		"ethanol":     0.38, // a check piece finds the factor of a liquid, not its reason
		"temperature": 0.68,
		"digit":       0.88, // in the last digits it is a moved zero
		"draught":     0.86, // in few readings it is a drift
	}
)

// TestFaultsAreNamed seeds every fault with sizes from laws that the judge does not know and asks
// how it is named.
func TestFaultsAreNamed(t *testing.T) {
	group := []string{"bubble", "zero", "touching", "wire", "pores", "hollow", "stones", "core", "lower-standard", "look-alike"}
	var grouped, all Count
	for _, f := range Faults {
		counts, err := Study{Seed: seedOfAll, Fault: f.Key, Law: Unexpected, N: perFault, Workers: workers()}.Run()
		if err != nil {
			t.Fatal(err)
		}
		if slices.Contains(group, f.Key) {
			grouped.add(counts[OneImmersion])
		}
		c := counts[ClosedProved]
		all.add(c)
		asked, less := threeLess[f.Key]
		if !less {
			asked = 0.94
		}
		atLeast(t, f.Key+", in the first three lines after "+Stages[ClosedProved].Name, c.Three, c.Visible, asked)
		c = counts[Settled]
		if asked, less = firstLess[f.Key]; !less {
			asked = 0.90
		}
		atLeast(t, f.Key+", first after "+Stages[Settled].Name, c.First, c.Visible, asked)
	}
	atLeast(t, "every fault, in the first three lines after "+Stages[ClosedProved].Name, all.Three, all.Visible, 0.94)
	atLeast(t, "the group of what lightens an item, in the first line after one immersion", grouped.Group, grouped.Visible, 0.90)
}

// TestCleanSessionsStaySilent: nothing is suspected where nothing is wrong.
func TestCleanSessionsStaySilent(t *testing.T) {
	counts, err := Study{Seed: seedOfAll, N: perClean, Workers: workers()}.Run()
	if err != nil {
		t.Fatal(err)
	}
	for k, c := range counts {
		// 2400 sessions: one binomial standard deviation is 0.14 points at 0.5 %, 0.20 at 1 %.
		atMost(t, Stages[k].Name+": a fault is favoured", c.Favoured, c.Sessions, 0.005)
		atMost(t, Stages[k].Name+": a doubt is shown", c.Shown, c.Sessions, 0.01)
	}
	if met := Share(counts[ClosedProved].Met, counts[ClosedProved].Sessions); met < 0.70 {
		t.Errorf("only %.0f %% of clean sessions of honest items meet their claim: a judge who never says yes is silent too", 100*met)
	}
}

func atMost(t *testing.T, what string, n, of int, asked float64) {
	t.Helper()
	if Share(n, of) > asked+2.5*math.Sqrt(asked*(1-asked)/float64(of)) {
		t.Errorf("%s in %.2f %% of %d, want at most %.1f %%", what, 100*Share(n, of), of, 100*asked)
	}
}

// TestFalseClaimWithFaultIsNeverMet: an item of the next lower standard, and a fault on top that
// may push it into the claim's band, is never called met under the default house rule. The item
// lies at least six standard uncertainties off the claim: nearer, a sound weighing errs by chance.
func TestFalseClaimWithFaultIsNeverMet(t *testing.T) {
	for _, f := range Faults {
		if f.Key == "lower-standard" || f.Key == "look-alike" || f.Key == "wrong-item" || f.Key == "core" {
			continue // these replace the item, or make a twin of it
		}
		for _, law := range []Law{Expected, Unexpected} {
			counts, err := Study{Seed: seedOfAll + 1, Fault: f.Key, Law: law, False: true, N: 180, Workers: workers()}.Run()
			if err != nil {
				t.Fatal(err)
			}
			for k, c := range counts {
				if k >= ClosedProved && c.Sessions < 50 {
					t.Errorf("%s: only %d sessions to judge by", f.Key, c.Sessions)
				}
				if c.Met > 0 {
					t.Errorf("%s, %s: %d of %d false claims are met, want none", f.Key, Stages[k].Name, c.Met, c.Sessions)
				}
			}
		}
	}
}
