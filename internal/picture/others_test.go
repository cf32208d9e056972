package picture

import (
	"encoding/xml"
	"io"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"wreath/alloy"
	"wreath/internal/determination"

	"pgregory.net/rapid"
)

func TestOtherPicturesKeepInsideAndNothingOverlaps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anything(t)
		d := read(t, DayRow(s))
		if d.classes["bar"] && Doubtful(s.Answer) && !d.classes["weak"] {
			t.Errorf("a doubtful row is not dashed")
		}
		read(t, Sign(FindingOf(s.Answer)))
		for _, w := range []int{Narrow, 440, 560} {
			read(t, Budget(s.Answer, w))
			read(t, Density(s.Answer, w))
			p := Fineness(s.Answer, w)
			read(t, p)
			if f := s.Answer.Fineness; f != nil && !strings.Contains(p.Title, "safe figure "+ppt(f.Safe)) {
				t.Errorf("%q does not tell the safe figure %v", p.Title, f.Safe)
			}
		}
		for _, r := range s.Answer.Budget {
			read(t, BudgetBar(r, s.Answer.Budget[0].Contribution))
		}
	})
}

func TestPicturesOfNothing(t *testing.T) {
	for _, p := range []Picture{
		Budget(nil, 440), Density(nil, 440), Fineness(nil, 440), DayRow(Subject{}), Sign(FindingOf(nil)), Proof(Path{}, 440),
		Control{}.Draw(440), Plan{}.Draw(440), Density(&determination.Answer{}, 440),
	} {
		read(t, p)
	}
}

// The bar must lie on the side of the limit that the finding says.
func TestSignsStandOnTheirSide(t *testing.T) {
	for _, row := range []struct {
		finding     Finding
		left, right bool // there is a bar left, right of the limit
	}{
		{Met, false, true}, {NotMet, true, false}, {Undecided, true, true}, {InDoubt, true, true}, {Contradicts, true, true}, {NoneYet, false, false}, {Held, false, false},
	} {
		d := read(t, Sign(row.finding))
		limit, left, right := math.NaN(), false, false
		for _, s := range d.shapes {
			if strings.Contains(s.words, "limitline") || s.words == "soft" {
				limit = s.x1
			}
		}
		for _, s := range d.shapes {
			if strings.Contains(s.words, "thick") {
				left, right = left || s.x1 < limit, right || s.x2 > limit
			}
		}
		if left != row.left || right != row.right || d.classes["weak"] != (row.finding == InDoubt) {
			t.Errorf("%s: bar left %t, right %t, want %t, %t", row.finding, left, right, row.left, row.right)
		}
	}
}

func TestFindingOf(t *testing.T) {
	s := example(t, "ring")
	if got := FindingOf(s.Answer); string(got) != s.Answer.Finding.Result {
		t.Errorf("FindingOf = %q, the answer says %q", got, s.Answer.Finding.Result)
	}
	if got := FindingOf(doubtful(t).Answer); got != InDoubt {
		t.Errorf("FindingOf a doubtful answer = %q", got)
	}
}

// The band has the same width in every row, and what is off the picture is an arrowhead on its side.
func TestDayRowScale(t *testing.T) {
	wide := func(d drawing) float64 {
		for _, s := range d.shapes {
			if s.words == "claim" {
				return s.x2 - s.x1
			}
		}
		return 0
	}
	for _, name := range []string{"ring", "coin", "stone", "spoon", "bar"} {
		if got := wide(read(t, DayRow(example(t, name)))); math.Abs(got-0.28*170) > 0.2 {
			t.Errorf("%s: the claim's band is %.1f px wide, want %.1f", name, got, 0.28*170)
		}
	}
	fineness := 999.0
	far := example(t, "ring")
	far.Claim = &determination.Claim{Metal: "gold", Fineness: &fineness, Family: "gold-fine"}
	d := read(t, DayRow(far))
	if d.classes["bar"] || !strings.Contains(d.title, "below the picture") {
		t.Errorf("%q: 15.4 g/cm³ is on the picture of fine gold", d.title)
	}
}

// The bars are ordered and as long as what they contribute.
func TestBudgetBars(t *testing.T) {
	s := example(t, "ring")
	d := read(t, Budget(s.Answer, 560))
	var long []float64
	for _, b := range d.shapes {
		if b.words == "dot" {
			long = append(long, b.x2-b.x1)
		}
	}
	if len(long) != len(s.Answer.Budget) {
		t.Fatalf("%d bars for %d inputs", len(long), len(s.Answer.Budget))
	}
	for i, l := range long {
		want := math.Max(1, long[0]*s.Answer.Budget[i].Contribution/s.Answer.Budget[0].Contribution)
		if math.Abs(l-want) > 0.15 {
			t.Errorf("bar of %s is %.1f px, want %.1f", s.Answer.Budget[i].Input, l, want)
		}
	}
}

// The curve's mass agrees with the posterior's own quantiles.
func TestFinenessCurve(t *testing.T) {
	s := example(t, "ring")
	f := finenessCurve(s.Answer)
	family, _ := alloy.FamilyByKey(s.Answer.Fineness.Family)
	if family == nil {
		t.Fatalf("the example has several families: %s", s.Answer.Fineness.Family)
	}
	below, all := 0.0, 0.0
	for x := 650.0; x < 900; x += 0.1 {
		all += f(x)
		if x < s.Answer.Fineness.Median {
			below += f(x)
		}
	}
	if math.Abs(below/all-0.5) > 0.01 {
		t.Errorf("%.3f of the curve lies below the median, want 0.5", below/all)
	}
}

// Paths of the tree of seven leaves (RFC 6962, section 2.1.3): the audit paths of d0, d3, d4 and d6
// are [b, h, l], [c, g, l], [f, j, k] and [i, k].
func TestPathSides(t *testing.T) {
	for _, row := range []struct {
		index uint64
		sides string
	}{{0, "RRR"}, {3, "LLR"}, {4, "RRL"}, {6, "LL"}} {
		got := ""
		for _, left := range (Path{Index: row.index, Size: 7}).lefts() {
			got += map[bool]string{true: "L", false: "R"}[left]
		}
		if got != row.sides {
			t.Errorf("path of d%d of 7 goes %s, want %s", row.index, got, row.sides)
		}
	}
}

func TestProofKeepsInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.Uint64Range(1, math.MaxUint64).Draw(t, "size")
		p := Path{Index: rapid.Uint64Range(0, size-1).Draw(t, "index"), Size: size, Head: rapid.String().Draw(t, "head")}
		for range p.lefts() {
			p.Hashes = append(p.Hashes, "9f86d081884c7d65")
		}
		d := read(t, Proof(p, rapid.SampledFrom([]int{Narrow, 560}).Draw(t, "width")))
		shown := 0
		for _, text := range d.texts {
			if strings.HasPrefix(text.words, "9f86") {
				shown++
			}
		}
		if shown != len(p.lefts()) {
			t.Errorf("%d of %d neighbours shown", shown, len(p.lefts()))
		}
		p.Hashes = append(p.Hashes, "one too many")
		if got := Proof(p, 440).Title; !strings.HasPrefix(got, "No path") {
			t.Errorf("a path that is too long is drawn: %s", got)
		}
	})
}

func TestControlChart(t *testing.T) {
	k := Control{Name: "invented check piece", Unit: "g/cm³", Centre: 7.930, Watch: 0.002, Stop: 0.003, Decimals: 4}
	for i, v := range []float64{7.930, 7.9312, 7.9325, 7.9335, 7.92} {
		k.Points = append(k.Points, ControlPoint{[]string{"20 Nov", "21 Nov", "22 Nov", "23 Nov", "24 Nov"}[i], v})
	}
	for _, w := range []int{Narrow, 760} {
		d := read(t, k.Draw(w))
		for _, class := range []string{"dot", "ring", "solid"} {
			if !d.classes[class] {
				t.Errorf("the chart has no %s", class)
			}
		}
		if want := "5 points, 2 inside, 1 to watch, 2 beyond"; !strings.Contains(d.title, want) {
			t.Errorf("%q, want %q", d.title, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		k := k
		k.Watch = rapid.Float64Range(1e-6, 1).Draw(t, "watch")
		k.Stop = k.Watch * rapid.Float64Range(1.01, 3).Draw(t, "stop")
		k.Points = nil
		for range rapid.IntRange(0, 60).Draw(t, "points") {
			k.Points = append(k.Points, ControlPoint{"24 Nov", k.Centre + k.Stop*rapid.Float64Range(-9, 9).Draw(t, "value")})
		}
		read(t, k.Draw(Narrow))
	})
}

func TestPlan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.Float64Range(1e-5, 1).Draw(t, "repeatability")
		station := func(of float64) func(float64) float64 {
			return func(m float64) float64 { return 2 * 15 * 15 * of / m }
		}
		p := Plan{
			Stations:  []PlanLine{{"station 1, 0.01 g", station(s)}, {"station 2, 0.1 mg", station(s / 100)}},
			Questions: []PlanLevel{{"585 told from 750", 0.33}, {"beyond the picture", 99}},
			MassG:     rapid.SampledFrom([]float64{0, 0.01, 2.05, 12442}).Draw(t, "mass"),
		}
		for _, w := range []int{Narrow, 560} {
			d := read(t, p.Draw(w))
			if !slices.ContainsFunc(d.texts, func(b box) bool { return strings.Contains(b.words, "585 told from 750") }) {
				t.Errorf("the question is not named")
			}
		}
	})
}

// Every class that a picture uses is in the style sheet, and a file has all its colours.
func TestStyle(t *testing.T) {
	s := example(t, "ring")
	pictures := []Picture{Scale(s, ScaleOptions{}), Scale(doubtful(t), ScaleOptions{Width: Narrow}), Scale(example(t, "stone"), ScaleOptions{}), Scale(Subject{}, ScaleOptions{}),
		DayRow(s), Budget(s.Answer, 440), Density(s.Answer, 440), Fineness(s.Answer, 440), Proof(Path{Index: 2, Size: 7}, 440),
		Control{Name: "x", Centre: 1, Watch: 1, Stop: 2, Points: []ControlPoint{{"", 1}, {"", 2.5}, {"", 9}}}.Draw(440),
		Plan{Stations: []PlanLine{{"a", math.Sqrt}, {"b", math.Cbrt}, {"c", math.Abs}}, Questions: []PlanLevel{{"q", 1}}, MassG: 3}.Draw(440)}
	for _, f := range []Finding{Met, NotMet, Undecided, InDoubt, Contradicts, Held, NoneYet} {
		pictures = append(pictures, Sign(f))
	}
	// These name a picture or an element and need no rule.
	free := []string{"pic", "scale", "narrow", "doubtful", "sign", "dayrow", "budget", "budgetbar", "density", "fineness", "proof", "control", "plan"}
	for _, p := range pictures {
		for class := range read(t, p).classes {
			if !regexp.MustCompile(`\.`+class+`\b`).MatchString(Style) && !slices.Contains(free, class) {
				t.Errorf("%.30s: class %s is not in the style sheet", p.Title, class)
			}
		}
		for name, palette := range map[string]Palette{"light": Light, "dark": Dark, "print": Print} {
			file, err := p.Standalone(palette)
			if err != nil {
				t.Fatal(err)
			}
			if strings.Contains(string(file), "var(") {
				t.Errorf("%.30s, %s: a variable is left", p.Title, name)
			}
			for decoder := xml.NewDecoder(strings.NewReader(string(file))); ; {
				if _, err := decoder.Token(); err == io.EOF {
					break
				} else if err != nil {
					t.Fatalf("%.30s, %s: %v", p.Title, name, err)
				}
			}
		}
	}
	if _, err := pictures[0].Standalone(Palette{"--ink": "#000"}); err == nil {
		t.Error("a palette without colours is taken")
	}
}

// Print is ink only: every colour a grey, so that a picture that reads in it reads on any paper.
func TestPrintIsGrey(t *testing.T) {
	hex := regexp.MustCompile(`^#([0-9a-f]{2})([0-9a-f]{2})([0-9a-f]{2})$`)
	for name, value := range Print {
		if name == "--data" {
			continue
		}
		if m := hex.FindStringSubmatch(value); m == nil || m[1] != m[2] || m[2] != m[3] {
			t.Errorf("%s is %s, not a grey", name, value)
		}
	}
	for name := range Light {
		if Dark[name] == "" || Print[name] == "" {
			t.Errorf("%s is not in every palette", name)
		}
	}
}
