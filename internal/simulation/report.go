package simulation

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Confusion is the whole confusion table.
type Confusion struct {
	N     int // sessions for each fault
	Clean map[Law][]Count
	Fault map[Law]map[string][]Count // by law and key
	False map[string][]Count         // items of the next lower standard with a fault, by key; "" without
}

// Confuse simulates n sessions of each fault under both laws of size, ten times as many clean
// ones under each, and as many of each fault on an item of the next lower standard.
func Confuse(seed uint64, n, workers int) (Confusion, error) {
	c := Confusion{N: n, Clean: map[Law][]Count{}, Fault: map[Law]map[string][]Count{}, False: map[string][]Count{}}
	var err error
	for _, law := range []Law{Expected, Unexpected} {
		if c.Clean[law], err = (Study{Seed: seed, Law: law, N: 10 * n, Workers: workers}).Run(); err != nil {
			return c, err
		}
		c.Fault[law] = map[string][]Count{}
		for _, f := range Faults {
			if c.Fault[law][f.Key], err = (Study{Seed: seed, Fault: f.Key, Law: law, N: n, Workers: workers}).Run(); err != nil {
				return c, err
			}
		}
	}
	if c.False[""], err = (Study{Seed: seed, False: true, N: n, Workers: workers}).Run(); err != nil {
		return c, err
	}
	for _, f := range Faults {
		if f.Key == "lower-standard" || f.Key == "look-alike" || f.Key == "wrong-item" {
			continue // these replace the item
		}
		if c.False[f.Key], err = (Study{Seed: seed, Fault: f.Key, Law: Unexpected, False: true, N: n, Workers: workers}).Run(); err != nil {
			return c, err
		}
	}
	return c, nil
}

// Markdown writes the table as doc/confusion.md shows it.
func (c Confusion) Markdown() string {
	var b strings.Builder
	b.WriteString(confusionHead)
	for _, law := range []Law{Expected, Unexpected} {
		if law == Expected {
			b.WriteString("\n## Sizes as the table of faults expects them\n\n")
		} else {
			b.WriteString("\n## Sizes by other laws\n\nBubbles around 2 mm, temperatures off by 6 K, hollows of 2 to 60 %, zeros moved by up to 1000 scale\nintervals, liquids and strengths that no bottle has, wider ranges of all else. The judge does not know\nthese laws.\n\n")
		}
		c.table(&b, law)
	}
	c.instead(&b)
	c.clean(&b)
	c.falseClaims(&b)
	b.WriteString(confusionTail)
	return b.String()
}

func percent(n, of int) string {
	if of == 0 {
		return "-"
	}
	return fmt.Sprintf("%.0f", 100*Share(n, of))
}

func (c Confusion) table(b *strings.Builder, law Law) {
	b.WriteString("| fault |")
	for _, s := range Stages {
		fmt.Fprintf(b, " %s |", s.Name)
	}
	b.WriteString("\n| --- |" + strings.Repeat(" --- |", len(Stages)) + "\n")
	for _, f := range Faults {
		fmt.Fprintf(b, "| %s |", f.Words)
		for k := range Stages {
			x := c.Fault[law][f.Key][k]
			fmt.Fprintf(b, " %s: %s / %s / %s |", percent(x.Visible, x.Sessions), percent(x.First, x.Visible), percent(x.Three, x.Visible), percent(x.Group, x.Visible))
		}
		b.WriteString("\n")
	}
}

// instead lists what is named in place of a fault once the evidence is in.
func (c Confusion) instead(b *strings.Builder) {
	fmt.Fprintf(b, "\n## What is named in its place\n\nStage \"%s\", sizes by other laws, of the visible sessions; one in a hundred and more.\n\n| fault | named first instead | refused | nothing is said |\n| --- | --- | --- | --- |\n", Stages[ClosedProved].Name)
	for _, f := range Faults {
		x := c.Fault[Unexpected][f.Key][ClosedProved]
		keys := slices.SortedFunc(maps.Keys(x.Instead), func(a, b string) int {
			return cmp.Or(cmp.Compare(x.Instead[b], x.Instead[a]), strings.Compare(a, b))
		})
		var words []string
		for _, key := range keys {
			if key != "nothing" && Share(x.Instead[key], x.Visible) >= 0.01 {
				words = append(words, key+" "+percent(x.Instead[key], x.Visible)+" %")
			}
		}
		fmt.Fprintf(b, "| %s | %s | %s %% | %s %% |\n", f.Words, strings.Join(words, ", "), percent(x.Refused, x.Visible), percent(x.Silent, x.Visible))
	}
}

func (c Confusion) clean(b *strings.Builder) {
	fmt.Fprintf(b, "\n## Clean sessions\n\n%d sessions under each law without any fault. *Favoured*: some fault is called likelier than all else\ntogether. *Shown*: the probability that nothing is wrong is below one half.\n\n| stage | favoured | shown | claim met |\n| --- | --- | --- | --- |\n", c.Clean[Expected][0].Sessions)
	for k, s := range Stages {
		x := c.Clean[Expected][k]
		x.add(c.Clean[Unexpected][k])
		fmt.Fprintf(b, "| %s | %.2f %% | %.2f %% | %.0f %% |\n", s.Name, 100*Share(x.Favoured, x.Sessions), 100*Share(x.Shown, x.Sessions), 100*Share(x.Met, x.Sessions))
	}
}

func (c Confusion) falseClaims(b *strings.Builder) {
	b.WriteString("\n## A false claim and a fault\n\nItems of the next lower standard, weighed with a fault on top: how many are called *met* under the\ndefault house rule. Counted are those that lie six standard uncertainties of a sound weighing off the\nclaim; nearer, chance alone errs now and then. A core of tungsten in a lower standard can make a twin of\nthe claim: no weighing tells it, and every answer says so.\n\n| fault | sessions | met, " + Stages[ClosedProved].Name + " | met, " + Stages[Settled].Name + " |\n| --- | --- | --- | --- |\n")
	row := func(words string, counts []Count) {
		fmt.Fprintf(b, "| %s | %d | %d | %d |\n", words, counts[ClosedProved].Sessions, counts[ClosedProved].Met, counts[Settled].Met)
	}
	row("none", c.False[""])
	for _, f := range Faults {
		if counts, ok := c.False[f.Key]; ok {
			row(f.Words, counts)
		}
	}
}

const confusionHead = `# Which faults are found

A doubt that names the wrong cause sends a person to do the wrong thing. This table counts it on
simulated weighings of invented items: 1 g to 13 kg, claims of 585, 750 and 916 yellow gold, 750 red
gold, fine gold and sterling silver, scale intervals of 0.1 mg to 1 g, half of them hanging and half
standing, a quarter in ethanol. A simulated bench adds up the forces on the pan and knows none of the
formulas that judge. The table is written by ` + "`go run ./internal/simulation/confusion`" + `.

A cell reads *visible: first / three / line* in per cent. *Visible*: the numbers written down so far
show it by more than three standard uncertainties (the density leaves the claim's recipes, immersions
differ, the closing weighing or the check piece differs, the mass is not that of the intake). The rest
refers to the visible ones. *First*: the fault is named first. *Three*: it stands in the first three
lines. *Line*: it stands in the first line, alone or in the group of those that these readings can't
tell apart. A session that is refused because no density follows counts by the causes that are named
beside the refusal. From the check piece on, the empty hanger is read after the last immersion.

The last stage is another sitting with the same item and the same fault, of a person who settles it at
once. The item hangs, is read, is brushed, read, hung free of the wall, read, its wire is dipped, read;
then the empty hanger is read and set to zero, and the item is immersed once more with all of that done.
What was done stands in the draft. A second thermometer is read (0.1 K), the strength of ethanol
measured (0.3 %), display and sheet are read again, the item is held against its photo, streaked, looked
over for stones and hollows, and looked into for a core. Looks miss three in a hundred of what is there
and see one in a thousand that is not; stones and hollows they always tell. What is another material is
not plated here: under a plate it is a core, and a streak does not see it.
`

const confusionTail = `
## What can't be seen

- A bubble on a bar: 2 mm are 4 mg, and a bar of 12 kg displaces 620 g on a balance of 0.1 g. Nothing
  shows, nothing is said, and nothing is wrong with the result either.
- Three kelvin on one item: 0.06 % in water, less than alloys differ among each other. Only a check piece
  shows it.
- From one immersion, a lower standard, another material, a hollow, stones and a core are one thing:
  less weight for the volume. So are a bubble, a moved zero, a touching item and pores. What comes first
  among them is what is commoner, not what was measured. A second immersion parts the two groups.
- A bubble that stays through every immersion reads as a hollow. Brush it off between immersions.
- A zero that moves once and stays through all immersions reads as another density, and the item's own
  readings agree with it: one in four of the moved zeros here is such. The empty hanger, read after the
  last immersion, shows it; without that reading nothing does.
- Why a reading came right, where all was done at once and nothing was read between: a bubble brushed
  off, the item centred, the wire dipped and the zero set then look alike. One act, one reading.
- What changed a liquid's density. A check piece finds the factor; temperature, strength and dirt are
  reasons that it can't tell apart, and stand in one line. The second thermometer and the measured
  strength part them.
- Density never tells a core from a lower standard or another material. They stand in one line until
  somebody looks into it: sound, conductivity, a filed edge or a cut.
- A material of the same density as the claim: nothing that is weighed can show it.
`
