package trial

import (
	"flag"
	"strings"
	"testing"
)

var sequences = flag.Int("sequences", 120, "sessions of TestSequences; doc/handsfree.md holds ten thousand")

// TestSequences holds the recogniser to floors below what doc/handsfree.md counts.
func TestSequences(t *testing.T) {
	for _, row := range []struct {
		name   string
		plain  bool
		clean  float64 // right readings of sessions without a fault, %
		all    float64
		silent float64 // sessions with a wrong reading without a doubt, %
	}{
		{"settle", false, 98, 93, 2},
		{"plain rule", true, 98.5, 96, 2},
	} {
		tallies, odd, err := Count(1, *sequences, 2, row.plain)
		if err != nil {
			t.Fatal(err)
		}
		all, clean := tallies[All], tallies["fault: none"]
		t.Logf("%s: %+v; without a fault %.2f %%", row.name, all, clean.RightShare())
		if clean.RightShare() < row.clean || all.RightShare() < row.all || float64(all.WithSilent) > row.silent/100*float64(all.Sessions) {
			t.Errorf("%s: right %.2f %% without a fault, %.2f %% of all; %d sessions with a wrong one without a doubt\n%s",
				row.name, clean.RightShare(), all.RightShare(), all.WithSilent, strings.Join(odd, "\n"))
		}
		if all.Readings < 3*all.Sessions {
			t.Errorf("%s: %d sessions hold %d readings", row.name, all.Sessions, all.Readings)
		}
	}
}

// The same seed gives the same session and the same captures.
func TestSameSeed(t *testing.T) {
	for _, plain := range []bool{false, true} {
		a, _ := Run(7, Options{Plain: plain})
		b, err := Run(7, Options{Plain: plain})
		if err != nil || a.Right != b.Right || a.Asked != b.Asked || a.Readings == 0 {
			t.Errorf("%+v and %+v: %v", a, b, err)
		}
	}
}

// Sessions in which a wrong reading looks like a right one: the hanger lifts as the item does, the check piece
// reads like a bar, the zero was set or moved unseen, an arm leans on an immersed item, an item hung unseen.
func TestLookAlikes(t *testing.T) {
	for seed, known := range map[uint64]bool{653: true, 965: true, 1471: true, 3511: false, 3957: false, 4166: true, 4802: true,
		5082: true, 5435: false, 5468: true, 7181: false, 7248: true} {
		r, err := Run(seed, Options{Known: known})
		if err != nil || r.Readings == 0 || r.Silent > 0 {
			t.Errorf("session %d: %d of %d readings wrong without a doubt: %v, %v", seed, r.Silent, r.Readings, r.Told, err)
		}
	}
}
