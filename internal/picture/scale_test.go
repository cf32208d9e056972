package picture

import (
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"wreath/internal/determination"
	"wreath/uncertainty"

	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write the golden pictures anew")

var widths = []int{Narrow, Usual, Wide, Archive}

func TestScaleKeepsInsideAndNothingOverlaps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anything(t)
		for _, w := range widths {
			d := read(t, Scale(s, ScaleOptions{Width: w}))
			for _, c := range s.Answer.Candidates {
				if c.Fits && !slices.ContainsFunc(d.marks, func(m string) bool { return names(m, c.Name) }) {
					t.Errorf("at %d px %s fits and is not drawn", w, c.Name)
				}
			}
			if doubtful := Doubtful(s.Answer); d.classes["weak"] != doubtful {
				t.Errorf("dashed %t, doubtful %t", d.classes["weak"], doubtful)
			}
		}
		if close, ok := s.CloseWindow(); ok {
			read(t, Scale(s, ScaleOptions{Width: Narrow, Window: &close, NoWhole: true}))
		}
		read(t, Scale(s, ScaleOptions{Width: Slip, NoWhole: true, NoCloseUp: true, Tall: 180}))
	})
}

// TestLimitedHeightHidesNothingThatFits asks that a scale which has to be low still draws or names
// everything that fits, and is low where only lanes are left that must stay.
func TestLimitedHeightHidesNothingThatFits(t *testing.T) {
	const room = 330
	folded := 0
	rapid.Check(t, func(t *rapid.T) {
		s := anything(t)
		p := Scale(s, ScaleOptions{Width: Wide, Tall: room})
		d := read(t, p)
		for _, c := range s.Answer.Candidates {
			if c.Fits && !slices.ContainsFunc(d.marks, func(m string) bool { return names(m, c.Name) }) && !strings.Contains(strings.Join(p.Folded, ", ")+",", c.Name+",") {
				t.Errorf("%s fits, and is neither drawn nor named among %q", c.Name, p.Folded)
			}
		}
		folded += len(p.Folded)
		if p.Height <= room {
			return
		}
		if all := Scale(s, ScaleOptions{Width: Wide}); p.Height >= all.Height && len(all.Folded) == 0 && all.Height > room+stripTall {
			t.Errorf("it stays %d px high", p.Height)
		}
	})
	if folded == 0 {
		t.Error("no lane was ever left out")
	}
}

// TestLimitedHeightKeepsWhatFits asks that a low scale never shows look-alikes alone where a metal or stone
// fits: the claim or one that fits stays drawn.
func TestLimitedHeightKeepsWhatFits(t *testing.T) {
	pressed := 0
	rapid.Check(t, func(t *rapid.T) {
		s := anything(t)
		fitting := func(p Picture) bool {
			d := read(t, p)
			return d.classes["claim"] || slices.ContainsFunc(s.Answer.Candidates, func(c determination.Candidate) bool {
				return c.Fits && c.Kind != "look-alike" && slices.ContainsFunc(d.marks, func(m string) bool { return names(m, c.Name) })
			})
		}
		low := Scale(s, ScaleOptions{Width: Narrow, NoWhole: true, NoCloseUp: true, Tall: 60})
		if len(low.Folded) == 0 || !fitting(Scale(s, ScaleOptions{Width: Narrow, NoWhole: true, NoCloseUp: true})) {
			return
		}
		pressed++
		if !fitting(low) {
			t.Errorf("what fits was left out: %q", low.Folded)
		}
	})
	if pressed == 0 {
		t.Error("no scale was ever pressed")
	}
}

// names says whether a mark stands for a candidate, alone or among those drawn as one.
func names(mark, candidate string) bool {
	mark, _, _ = strings.Cut(mark, ": ")
	return slices.Contains(strings.Split(mark, "; "), candidate)
}

func TestSentenceAndTableAgreeWithTheAnswer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anything(t)
		d := s.Answer.Density20C
		sentence := Sentence(s)
		value, expanded := uncertainty.Round(d.KgM3/1000, d.UExpanded/1000)
		if want := fmt.Sprintf("Measured %s plus or minus %s ", value, expanded); !strings.HasPrefix(sentence, want) {
			t.Errorf("%q does not begin with %q", sentence, want)
		}
		fits := map[string]bool{}
		for _, c := range s.Answer.Candidates {
			if c.Fits {
				fits[c.Name] = true
			}
		}
		rows := Table(s, 12)
		inTable, claims := map[string]bool{}, 0
		for _, r := range rows {
			if r.Fits {
				inTable[r.Band] = true
			}
			if r.Claimed {
				claims++
			}
		}
		if said := strings.Count(sentence, ", the claim,"); said > claims || claims > 0 && said == 0 {
			t.Errorf("%q names the claim %d times, it has %d bands", sentence, said, claims)
		}
		for name := range fits {
			if !inTable[name] {
				t.Errorf("%s fits and is not in the table", name)
			}
		}
		for name := range inTable {
			if !fits[name] {
				t.Errorf("the table says that %s fits, the answer does not", name)
			}
		}
		told := min(len(fits), named)
		for name := range fits {
			if strings.Contains(sentence, name+" ") || strings.Contains(sentence, name+",") {
				told--
			}
		}
		if told > 0 {
			t.Errorf("%q leaves out %d of %v", sentence, told, fits)
		}
		wantEnd := ""
		switch more := len(fits) - named; {
		case len(fits) == 0:
			wantEnd = "Nothing in the tables fits."
		case more <= 0:
			wantEnd = "Nothing else in the tables fits."
		case more == 1:
			wantEnd = "One more fits."
		default:
			wantEnd = fmt.Sprintf(" %d more fit.", more)
		}
		if !strings.HasSuffix(sentence, wantEnd) {
			t.Errorf("%q does not end with %q", sentence, wantEnd)
		}
		if strings.Contains(sentence, "doubtful") != Doubtful(s.Answer) {
			t.Errorf("%q, doubtful %t", sentence, Doubtful(s.Answer))
		}
	})
}

// What is drawn beside the answer's own candidates must be what the answer has judged and left out,
// never something that fits.
func TestNothingFitsThatTheAnswerLeftOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anything(t)
		for _, l := range s.lanes() {
			for _, b := range l.bands {
				if b.kind == ofAlloy && !b.fits && b.z < 2.57 {
					t.Errorf("%s is drawn as not fitting at %.2f u", b.name, b.z)
				}
			}
		}
	})
}

func TestTableIsOrdered(t *testing.T) {
	rows := Table(example(t, "ring"), 12)
	if len(rows) < 5 {
		t.Fatalf("%d rows, want several", len(rows))
	}
	outside := false
	for _, r := range rows {
		if r.Distance == "inside" && outside {
			t.Errorf("%s is inside and stands after what is not", r.Band)
		}
		outside = outside || r.Distance != "inside"
	}
	for _, far := range Table(example(t, "ring"), 0) {
		if !far.Fits && !far.Claimed && far.Distance != "inside" {
			t.Errorf("%s at %s is in a table of what is near", far.Band, far.Distance)
		}
	}
}

func TestCaratIsTheFinenessOfTheAnswer(t *testing.T) {
	for _, carat := range []float64{8, 9, 10, 14, 18, 21, 22, 23, 24} {
		s := evaluate(t, fmt.Sprintf(`{"arrangement": "hanging", "air_g": [7.4218], "liquid_g": [6.9431], "liquid": {"kind": "water", "temperature_c": 21},
			"balance": {"resolution_g": 0.0001}, "claim": {"metal": "gold", "carat": %g, "family": "gold-any"}}`, carat))
		c := s.claim()
		if !slices.ContainsFunc(s.Answer.Candidates, func(k determination.Candidate) bool {
			return k.Family == "gold-any" && near(k.Fineness, 1000*c.fineness)
		}) {
			t.Errorf("%g carat is drawn at %.1f, which the answer did not judge", carat, 1000*c.fineness)
		}
	}
}

func TestScaleOfNothing(t *testing.T) {
	fineness := 750.0
	for name, s := range map[string]Subject{
		"nothing":    {},
		"gold":       {Claim: &determination.Claim{Metal: "gold"}},
		"gold 750":   {Claim: &determination.Claim{Metal: "gold", Fineness: &fineness, Family: "gold-yellow"}},
		"a stone":    {Claim: &determination.Claim{Stone: "corundum"}},
		"no density": {Answer: &determination.Answer{}},
	} {
		for _, w := range widths {
			p := Scale(s, ScaleOptions{Width: w})
			d := read(t, p)
			if d.classes["needle"] || d.classes["hill"] {
				t.Errorf("%s: a needle though nothing is weighed", name)
			}
			if !d.classes["band"] || !strings.HasPrefix(p.Title, "Nothing is weighed yet.") {
				t.Errorf("%s: %q", name, p.Title)
			}
			if strings.Contains(name, "750") != d.classes["claim"] && name != "a stone" {
				t.Errorf("%s: claim outlined %t", name, d.classes["claim"])
			}
		}
	}
}

func TestWindow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anything(t)
		m, weighed := s.reading()
		w := window(m, weighed, s.lanes())
		if w.High-w.Low < leastWindow-1e-9 || w.Low > m.rho || w.High < m.rho {
			t.Errorf("window %v of %.4f", w, m.rho)
		}
		if m.low > lightest && m.high < densest && (w.Low > m.low || w.High < m.high) {
			t.Errorf("window %v leaves out some of %.4f to %.4f", w, m.low, m.high)
		}
		if span := min(12*m.u, densest-lightest); m.rho-6*m.u > lightest && m.rho+6*m.u < densest && w.High-w.Low < span-1e-9 {
			t.Errorf("window %v is narrower than 12 u = %.3f", w, span)
		}
	})
}

// Labels that people give may hold anything.
func TestLabelsAreEscaped(t *testing.T) {
	s := example(t, "ring")
	s.Pairs = []Pair{{Name: `<b onclick="x">&` + "\x00\uFFFE", KgM3: 15449}}
	read(t, Scale(s, ScaleOptions{}))
	s.Answer.Budget[0].Input = `<script>alert("x")</script>` + strings.Repeat("é", 200)
	read(t, Budget(s.Answer, Narrow))
}

var examples = []string{"ring", "bar", "coin", "first", "stone", "spoon", "platinum-band", "gold-dust", "porous-casting", "ring-in-ethanol", "standing-vessel"}

// The golden pictures are made by this program (regression): they tell when one changes.
func TestGoldenRegression(t *testing.T) {
	check := func(name string, p Picture) {
		t.Helper()
		read(t, p)
		got := strings.ReplaceAll(string(p.SVG), "><", ">\n<") + "\n"
		file := filepath.Join("testdata", "golden", name+".svg")
		if *update {
			if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if where := differ(got, string(want)); where != "" {
			t.Errorf("%s has changed at %s; look at it, then -update", file, where)
		}
	}
	for _, name := range examples {
		s := example(t, name)
		check(name+"-wide", Scale(s, ScaleOptions{}))
		check(name+"-narrow", Scale(s, ScaleOptions{Width: Narrow}))
		check(name+"-dayrow", DayRow(s))
		check(name+"-density", Density(s.Answer, 440))
		check(name+"-fineness", Fineness(s.Answer, 440))
	}
	s := example(t, "ring")
	check("ring-budget", Budget(s.Answer, 560))
	check("doubtful-wide", Scale(doubtful(t), ScaleOptions{}))
	check("empty-wide", Scale(Subject{}, ScaleOptions{}))
}

var numbers = regexp.MustCompile(`-?[0-9]+(\.[0-9]+)?`)

// differ compares two pictures, coordinates to a tenth of a pixel: the last bits of a float differ
// between processors. It returns the first line that differs, empty where none does.
func differ(got, want string) string {
	a, b := strings.Split(got, "\n"), strings.Split(want, "\n")
	if len(a) != len(b) {
		return fmt.Sprintf("%d lines for %d", len(a), len(b))
	}
	for i := range a {
		x, y := numbers.FindAllString(a[i], -1), numbers.FindAllString(b[i], -1)
		if len(x) != len(y) || numbers.ReplaceAllString(a[i], "#") != numbers.ReplaceAllString(b[i], "#") {
			return a[i]
		}
		for j := range x {
			p, _ := strconv.ParseFloat(x[j], 64)
			q, _ := strconv.ParseFloat(y[j], 64)
			if math.Abs(p-q) > 0.101 {
				return a[i]
			}
		}
	}
	return ""
}

func TestDifferSees(t *testing.T) {
	for _, row := range []struct {
		a, b string
		same bool
	}{
		{`<rect x="10.1"/>`, `<rect x="10.2"/>`, true},
		{`<rect x="10.1"/>`, `<rect x="10.3"/>`, false},
		{`<rect x="10.1"/>`, `<line x="10.1"/>`, false},
		{`<rect x="10.1"/>`, "<rect x=\"10.1\"/>\n", false},
		{`<path d="M1 2"/>`, `<path d="M1 2L3 4"/>`, false},
	} {
		if got := differ(row.a, row.b) == ""; got != row.same {
			t.Errorf("%s and %s: same %t, want %t", row.a, row.b, got, row.same)
		}
	}
}

// doubtful is a ring with a bubble on its first pair of readings, invented.
func doubtful(t testing.TB) Subject {
	s := evaluate(t, `{"arrangement": "hanging", "air_g": [3.2140, 3.2140, 3.2140], "liquid_g": [3.0019, 3.0060, 3.0061], "closing_air_g": [3.2240],
		"liquid": {"kind": "water", "temperature_c": 21.6}, "balance": {"resolution_g": 0.0001},
		"claim": {"metal": "gold", "fineness": 750, "family": "gold-yellow"}}`)
	s.Pairs = []Pair{{"1", 15105, true}, {"2", 15403, false}, {"3", 15410, false}}
	settled := 15406.0
	s.Settled = &settled
	return s
}

func TestDoubtfulScale(t *testing.T) {
	for _, w := range widths {
		d := read(t, Scale(doubtful(t), ScaleOptions{Width: w}))
		for _, class := range []string{"weak", "ring", "dot", "doubtline"} {
			if !d.classes[class] {
				t.Errorf("at %d px a doubtful picture has no %s", w, class)
			}
		}
		for _, words := range []string{"pair 1", "pairs 2, 3"} {
			if !slices.ContainsFunc(d.texts, func(b box) bool { return b.words == words }) {
				t.Errorf("at %d px the label %q is missing", w, words)
			}
		}
	}
}

func BenchmarkScale(b *testing.B) {
	s := example(b, "ring")
	b.ReportAllocs()
	for b.Loop() {
		Scale(s, ScaleOptions{})
	}
}

// Records of other editions may hold what these tables do not: families that are gone, no upper
// end, hardly any degrees of freedom.
func TestScaleOfAnyRecord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rho := rapid.Float64Range(500, 22600).Draw(t, "density")
		u := rho * rapid.SampledFrom([]float64{1e-7, 1e-4, 1e-2, 0.3, 3}).Draw(t, "u")
		a := &determination.Answer{Density20C: determination.Density{KgM3: rho, UKgM3: u, UExpanded: 2 * u, K: 2, LowKgM3: rho / (1 + 2*u/rho), IntervalBy: "monte-carlo"}}
		if high := rho * (1 + 2*u/rho); rapid.Bool().Draw(t, "upper end") {
			a.Density20C.HighKgM3 = &high
			a.MonteCarlo = &determination.MonteCarlo{LowKgM3: a.Density20C.LowKgM3, HighKgM3: &high}
		} else {
			a.MonteCarlo = &determination.MonteCarlo{LowKgM3: a.Density20C.LowKgM3}
		}
		if rapid.Bool().Draw(t, "few") {
			dof := rapid.Float64Range(0.5, 5).Draw(t, "dof")
			a.Density20C.Dof = &dof
		}
		for range rapid.IntRange(0, 4).Draw(t, "candidates") {
			k := determination.Candidate{
				Name: "a thing that is gone", Kind: rapid.SampledFrom([]string{"alloy", "look-alike", "stone"}).Draw(t, "kind"), Family: rapid.SampledFrom([]string{"gone", "gold-yellow"}).Draw(t, "family"),
				Fineness: 777, LowKgM3: rho * 0.99, HighKgM3: rho * rapid.Float64Range(1, 1.2).Draw(t, "high"), Fits: true,
			}
			if k.Family == "gold-yellow" {
				k.Name = "yellow gold 777"
			}
			a.Candidates = append(a.Candidates, k)
		}
		s := Subject{Answer: a}
		for _, w := range widths {
			d := read(t, Scale(s, ScaleOptions{Width: w}))
			if a.Density20C.HighKgM3 == nil && !strings.Contains(d.title, "sets no upper end") {
				t.Errorf("%q does not say that there is no upper end", d.title)
			}
		}
		read(t, Density(a, Narrow))
		read(t, DayRow(s))
	})
}
