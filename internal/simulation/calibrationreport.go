package simulation

import (
	"fmt"
	"strings"
)

// Spans are what was said, gathered around 50, 90 and 99 % and between.
var Spans = [][2]float64{{0, 0.02}, {0.02, 0.10}, {0.10, 0.30}, {0.30, 0.45}, {0.45, 0.55}, {0.55, 0.70}, {0.70, 0.80}, {0.80, 0.87}, {0.87, 0.93}, {0.93, 0.98}, {0.98, 0.998}, {0.998, 1.000001}}

// CalibrationMarkdown runs n items of each population and writes doc/calibration.md.
func CalibrationMarkdown(seed uint64, n, workers int) (string, error) {
	var b strings.Builder
	b.WriteString(calibrationHead)
	for _, part := range []struct {
		words      string
		known      bool
		population Population
	}{
		{"Neutral, family known", true, Neutral}, {"Trade, family known", true, Trade}, {"Sceptic, family known", true, Sceptic},
		{"Trade, colour right in nine of ten", false, Trade}, {"Sceptic, colour right in nine of ten", false, Sceptic}, {"Neutral, colour right in nine of ten", false, Neutral},
		{"Sceptic, where a quarter cheat", false, Cheats},
	} {
		forecasts, err := Calibration{Seed: seed, Population: part.population, Known: part.known, N: n, Workers: workers}.Run()
		if err != nil {
			return "", err
		}
		said, bayes := Brier(forecasts)
		fmt.Fprintf(&b, "\n## %s\n\n%d items. Brier score %.4f", part.words, len(forecasts), said)
		if part.population != Cheats {
			fmt.Fprintf(&b, "; who knows the population itself reaches %.4f", bayes)
		}
		b.WriteString(".\n\n| said | items | mean said | true | difference | one standard deviation |\n| --- | --- | --- | --- | --- | --- |\n")
		for _, span := range Spans {
			bin := Between(forecasts, span[0], span[1])
			if bin.N < 20 {
				continue
			}
			fmt.Fprintf(&b, "| %.3g to %.3g %% | %d | %.1f %% | %.1f %% | %+.1f | %.1f |\n", 100*bin.Low, min(100*bin.High, 100), bin.N, 100*bin.Said, 100*bin.True, 100*(bin.Said-bin.True), 100*bin.Spread())
		}
	}
	b.WriteString(calibrationTail)
	return b.String(), nil
}

const calibrationHead = `# How often a probability is right

Of the items for which the program says 90 %, nine in ten should reach the claim. This can only hold
for items that come from the population that the weighting describes; so they are drawn from it. Each
item is invented, cast from a recipe of its family, and weighed once on a simulated bench without any
fault. Claims: 333 to 916 yellow gold, red gold, white gold with palladium and with nickel. The tables
are written by ` + "`go run ./internal/simulation/confusion -only calibration`" + `.

The Brier score is the mean squared error of a probability: 0 is perfect, 0.25 is a coin. Beside it
stands the score of somebody who knows the population itself, from a sample of 12 000 of its items, and
the true scatter of the balance. No judge can do better than that on average.

A difference is in points, positive where the program says too much. *One standard deviation* is how
far the share wanders by chance alone, in points.
`

const calibrationTail = `
## What this shows

- With the family known, what is said near 50, 90 and 99 % is true as often, within the chance of the
  sample, and no judge could have said it better.
- Where the colour may be wrong, *sceptic* holds from 70 % up and *trade* within the chance of the sample.
  Below that *sceptic* and *neutral* say too little, by up to 15 points: families are held against each
  other by how well the standards made of them fit, and neither population is made of standards alone.
  That is the declared weighting and no slip of the arithmetic: *trade* is the one whose items are drawn
  as the colour step takes them, and there 50, 90 and 99 % hold within the chance of the sample.
  *Neutral* is a weighting to start from, no population that exists.
- Where a quarter cheat, *sceptic* says a little too much from 70 % up and far too much below it. Never
  read the middle as a bet.
`
