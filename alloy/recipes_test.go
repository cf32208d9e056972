package alloy

import (
	"math"
	"strings"
	"testing"

	"wreath/quantity"
)

// Published compositions: the densities beside them were computed with numpy; the published
// densities are of the trade (composition often not stated), within 2.5 %.
func TestRecipes(t *testing.T) {
	doubtful := map[string]string{
		"10 ct green": "printed 11030 is impossible for a silver-rich alloy",
		"Pt 950/Co":   "printed 20800 equals the mean of densities",
		"Pt 950/Ru":   "printed 20100 stands for all alloys of 950",
	}
	for _, r := range Recipes() {
		for _, c := range []struct {
			state State
			want  quantity.Density
		}{{Ideal, r.Ideal}, {Quenched, r.Quenched}, {Unmixed, r.Unmixed}} {
			m, err := Mix(r.Parts, Options{State: c.state, ZincMolarVolume: 8.612})
			if err != nil {
				t.Fatal(err)
			}
			near(t, r.Name+" "+c.state.String(), m.Density.KgPerM3(), c.want.KgPerM3(), 0.6)
		}
		word, _, _ := strings.Cut(r.Published, " ")
		if word == "" || word == "about" || strings.Contains(word, "-") || doubtful[r.Name] != "" {
			continue
		}
		near(t, r.Name+" as published", number(t, word), r.Quenched.KgPerM3(), 0.025*r.Quenched.KgPerM3())
	}
	if n := len(Recipes()); n != 86 {
		t.Errorf("%d recipes, want 86", n)
	}
}

// S13: what one trade web page gives for a fineness, and the model over the published recipes.
func TestTradeRanges(t *testing.T) {
	for _, row := range fields(t, "trade-ranges.txt", 5) {
		fineness, metal, _ := strings.Cut(row[0], " ")
		symbol := map[string]string{"": "Au", "silver": "Ag", "platinum": "Pt"}[metal]
		from, to := interval(t, fineness)
		low, high := math.Inf(1), 0.0
		add := func(p Parts) {
			for _, state := range []State{Quenched, Unmixed} {
				m, err := Mix(p, Options{State: state, ZincMolarVolume: 8.612})
				if err != nil {
					t.Fatal(err)
				}
				low, high = min(low, m.Density.GramPerCm3()), max(high, m.Density.GramPerCm3())
			}
		}
		for _, r := range Recipes() {
			ppt := 1000 * r.Parts.Fraction(symbol)
			white := r.Colour == "white"
			if ppt < from-0.1 || ppt > to+0.1 || row[1] == "white" && !white || row[1] == "coloured" && white || strings.Contains(r.Name, "zinc 30") {
				continue
			}
			add(r.Parts)
		}
		if row[4] != "" {
			add(parts(t, row[4]))
		}
		wantLow, wantHigh := interval(t, row[3])
		tolerance := 0.051
		if symbol == "Ag" {
			tolerance = 0.0051
		}
		near(t, "S13 "+row[0]+" "+row[1]+", lightest", low, wantLow, tolerance)
		near(t, "S13 "+row[0]+" "+row[1]+", densest", high, wantHigh, tolerance)
		pageLow, pageHigh := interval(t, row[2])
		if pageHigh < low-0.05 || pageLow > high+0.05 {
			t.Errorf("S13 %s %s: the page's %s and the recipes' %.3f to %.3f have nothing in common", row[0], row[1], row[2], low, high)
		}
	}
}

// interval reads "10.9-12.7" or a single number.
func interval(t *testing.T, text string) (low, high float64) {
	t.Helper()
	a, b, ok := strings.Cut(text, "-")
	if !ok {
		b = a
	}
	return number(t, a), number(t, b)
}

// Every published composition says where it is from, and so does every published density.
func TestRecipesHaveSources(t *testing.T) {
	for _, r := range Recipes() {
		if r.Name == "" || r.Colour == "" || r.Source == "" || (r.Published == "") != (r.PublishedSource == "") {
			t.Errorf("%s is incomplete: %+v", r.Name, r)
		}
	}
}
