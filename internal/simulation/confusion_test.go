package simulation

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The sizes of the sample: per fault, of which the visible ones count.
const (
	perFault  = 120
	perClean  = 1600
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

// What is asked of every fault with sizes from laws that the judge does not know: named in the
// first three lines once there are two immersions, the closing weighing and the check piece; named
// first once what settles was done one by one. A zero that moves looks like whatever moved last.
const (
	threeAsked = 0.94
	firstAsked = 0.90
	zeroAsked  = 0.75
	groupAsked = 0.90
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
		atLeast(t, f.Key+", in the first three lines after "+Stages[ClosedProved].Name, c.Three, c.Visible, threeAsked)
		c = counts[Settled]
		asked := firstAsked
		if f.Key == "zero" {
			asked = zeroAsked
		}
		atLeast(t, f.Key+", first after "+Stages[Settled].Name, c.First, c.Visible, asked)
	}
	atLeast(t, "every fault, in the first three lines after "+Stages[ClosedProved].Name, all.Three, all.Visible, threeAsked)
	atLeast(t, "the group of what lightens an item, in the first line after one immersion", grouped.Group, grouped.Visible, groupAsked)
}

// TestCleanSessionsStaySilent: nothing is suspected where nothing is wrong.
func TestCleanSessionsStaySilent(t *testing.T) {
	counts, err := Study{Seed: seedOfAll, N: perClean, Workers: workers()}.Run()
	if err != nil {
		t.Fatal(err)
	}
	for k, c := range counts {
		// 1600 sessions: one binomial standard deviation is 0.18 points at 0.5 %, 0.25 at 1 %.
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
			counts, err := Study{Seed: seedOfAll + 1, Fault: f.Key, Law: law, False: true, N: 70, Workers: workers()}.Run()
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

// TestFalseClaimWithMovedZeroIsNeverMet: a zero that moved and stayed agrees with every reading of
// the item, and only the empty hanger tells it. Of more than 3000 sessions none is met: with 95 %
// confidence fewer than one in a thousand ever is.
func TestFalseClaimWithMovedZeroIsNeverMet(t *testing.T) {
	sessions, met := 0, 0
	for _, law := range []Law{Expected, Unexpected} {
		counts, err := Study{Seed: seedOfAll + 2, Fault: "zero", Law: law, False: true, N: 2100, Workers: workers()}.Run()
		if err != nil {
			t.Fatal(err)
		}
		sessions, met = sessions+counts[ClosedProved].Sessions, met+counts[ClosedProved].Met+counts[Settled].Met
	}
	if sessions < 3000 || met > 0 {
		t.Errorf("%d of %d false claims with a moved zero are met, want none of 3000 and more", met, sessions)
	}
}

// TestSecondLiquidPartsItemFromWeighing: after one immersion without a check piece nothing tells
// whether the liquid is another one, the item touches the vessel, or a hollow or stones are in it. A
// weighing in a second liquid tells the side: in the first line stands a cause of the right one.
func TestSecondLiquidPartsItemFromWeighing(t *testing.T) {
	inItem := []string{"hollow", "stones", "core", "lower-standard", "look-alike", "finer-standard"}
	right, rightWithout, of := 0, 0, 0
	for _, key := range []string{"liquid", "touching", "hollow", "stones"} {
		for i := range 100 {
			s, err := New(rand.New(rand.NewPCG(seedOfAll, uint64(i))), Case{Claim: Claims()[i/2%len(Claims())], Fault: key, Law: Unexpected, Standing: i%2 == 1})
			if err != nil {
				t.Fatal(err)
			}
			p := Plan{Immersions: 1, Intake: true}
			if !s.See(p).Any() {
				continue
			}
			of++
			side := func(v Verdict) int {
				return count(len(v.Lines) > 0 && slices.Contains(inItem, v.Lines[0][0]) == slices.Contains(inItem, key))
			}
			rightWithout += side(Judge(s, p))
			p.Another = true
			right += side(Judge(s, p))
		}
	}
	t.Logf("right side %.1f %% of %d, %.1f %% without the second liquid", 100*Share(right, of), of, 100*Share(rightWithout, of))
	atLeast(t, "the side of the first cause after a second liquid", right, of, 0.94)
	if right <= rightWithout {
		t.Errorf("a second liquid tells nothing: %d right with it, %d without", right, rightWithout)
	}
}
