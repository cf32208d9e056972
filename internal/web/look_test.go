package web

import (
	"html"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"wreath/internal/determination"
	"wreath/internal/picture"
)

// pairs are what stands on what, and the contrast it must have at least. Text of the pages 4.5 (WCAG
// 2.2, 1.4.3), what is drawn and the edges of controls 3 (WCAG 2.2, 1.4.11); 7 chosen here, for what is
// read at arm's length with wet hands.
var pairs = []struct {
	on, under string
	least     float64
	source    string
}{
	{"ink", "paper", 7, "chosen here"}, {"ink", "sheet", 7, "chosen here"}, {"on-stop", "stop", 7, "chosen here"},
	{"ink-2", "paper", 4.5, "WCAG 2.2, 1.4.3"}, {"ink-2", "sheet", 4.5, "WCAG 2.2, 1.4.3"}, {"ink-2", "well", 4.5, "WCAG 2.2, 1.4.3"},
	{"measured", "sheet", 4.5, "WCAG 2.2, 1.4.3"}, {"measured", "paper", 4.5, "WCAG 2.2, 1.4.3"},
	{"claim", "sheet", 4.5, "WCAG 2.2, 1.4.3"}, {"claim", "paper", 4.5, "WCAG 2.2, 1.4.3"},
	{"doubt", "sheet", 4.5, "WCAG 2.2, 1.4.3"}, {"doubt", "paper", 4.5, "WCAG 2.2, 1.4.3"}, {"ink", "doubt-soft", 4.5, "WCAG 2.2, 1.4.3"},
	{"on-fit", "fit", 4.5, "WCAG 2.2, 1.4.3"}, {"on-band", "band", 4.5, "WCAG 2.2, 1.4.3"},
	{"measured", "well", 3, "WCAG 2.2, 1.4.11"}, {"fit", "sheet", 3, "WCAG 2.2, 1.4.11"}, {"edge", "sheet", 3, "WCAG 2.2, 1.4.11"},
	{"edge", "paper", 3, "WCAG 2.2, 1.4.11"}, {"measured", "measured-soft", 3, "WCAG 2.2, 1.4.11"}, {"focus", "paper", 3, "WCAG 2.2, 1.4.11"},
	{"focus", "sheet", 3, "WCAG 2.2, 1.4.11"},
}

// luminance is the relative luminance of a colour #rrggbb (WCAG 2.2, the definition of that term).
func luminance(t *testing.T, colour string) float64 {
	t.Helper()
	var sum float64
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		part, err := strconv.ParseUint(colour[1+2*i:3+2*i], 16, 8)
		if err != nil {
			t.Fatalf("%s is no colour: %v", colour, err)
		}
		c := float64(part) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += weight * c
	}
	return sum
}

func contrast(t *testing.T, a, b string) float64 {
	x, y := luminance(t, a), luminance(t, b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

var colourToken = regexp.MustCompile(`--([a-z0-9-]+): (#[0-9a-f]{6})\b`)

// tokensOf are the colours that a block of the style sheet sets, over those of the light theme.
func tokensOf(t *testing.T, style, opening string) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, from := range []string{":root {", opening} {
		_, block, found := strings.Cut(style, from)
		if !found {
			t.Fatalf("the style sheet has no %q", from)
		}
		block, _, _ = strings.Cut(block, "}")
		for _, m := range colourToken.FindAllStringSubmatch(block, -1) {
			out[m[1]] = m[2]
		}
	}
	return out
}

func TestContrastOfEveryTheme(t *testing.T) {
	if got := contrast(t, "#000000", "#ffffff"); math.Abs(got-21) > 1e-9 {
		t.Fatalf("black on white has %.3f, want 21 (WCAG 2.2)", got)
	}
	text, err := os.ReadFile("static/wreath.css")
	if err != nil {
		t.Fatal(err)
	}
	style := string(text)
	for theme, opening := range map[string]string{
		"light": ":root {", "dark": `:root[data-theme="dark"] {`, "high": `:root[data-theme="high"] {`, "high-dark": `:root[data-theme="high-dark"] {`,
		"dark by the system":      `@media (prefers-color-scheme: dark) { :root:not([data-theme]) {`,
		"high by the system":      `@media (prefers-contrast: more) { :root:not([data-theme]) {`,
		"high-dark by the system": `@media (prefers-contrast: more) and (prefers-color-scheme: dark) { :root:not([data-theme]) {`,
	} {
		colours := tokensOf(t, style, opening)
		for _, p := range pairs {
			a, b := colours[p.on], colours[p.under]
			if a == "" || b == "" {
				t.Fatalf("%s: --%s or --%s is not set", theme, p.on, p.under)
			}
			if got := contrast(t, a, b); got < p.least {
				t.Errorf("%s: %s (%s) on %s (%s) has %.2f, want %.1f (%s)", theme, p.on, a, p.under, b, got, p.least, p.source)
			}
		}
	}
}

// TestEveryStateHasAShapeOfItsOwn asks that no two findings look alike without colour: their signs
// differ in what is drawn, not in a class of colour.
func TestEveryStateHasAShapeOfItsOwn(t *testing.T) {
	attributes := regexp.MustCompile(`<title>.*?</title>|class="[^"]*(ink|quiet|soft|gap|solid)[^"]*"`)
	seen := map[string]picture.Finding{}
	for _, f := range []picture.Finding{picture.Met, picture.NotMet, picture.Undecided, picture.InDoubt, picture.NoneYet} {
		sign := string(picture.Sign(f).SVG)
		shape := attributes.ReplaceAllString(sign, "")
		if strings.Contains(sign, "weak") {
			shape += " dashed"
		}
		if other, twice := seen[shape]; twice {
			t.Errorf("%q and %q have one shape: %s", f, other, shape)
		}
		seen[shape] = f
	}
	if !regexp.MustCompile(`\.weak \{ stroke-dasharray: \d`).MatchString(picture.Style) {
		t.Error("what is doubtful is not dashed")
	}
}

// TestPictureSpeaksWithoutColour asks a drawn scale for the shapes that carry its meaning: hatched
// look-alikes, a flag at the claim, a dashed bar while a doubt is open.
func TestPictureSpeaksWithoutColour(t *testing.T) {
	fineness := 750.0
	high := 15603.0
	a := &determination.Answer{Density20C: determination.Density{KgM3: 15583, UKgM3: 9.5, UExpanded: 19, LowKgM3: 15564, HighKgM3: &high}}
	claim := &determination.Claim{Metal: "gold", Fineness: &fineness, Family: "gold-yellow"}
	for _, doubtful := range []bool{false, true} {
		a.Doubts = nil
		if doubtful {
			a.Doubts = []determination.Doubt{{Suspends: true}}
		}
		svg := string(picture.Scale(picture.Subject{Answer: a, Claim: claim}, picture.ScaleOptions{Width: sheetWide}).SVG)
		for _, shape := range []string{`class="flag"`, `class="hatch`, `class="needle`, ">claim<"} {
			if !strings.Contains(svg, shape) {
				t.Errorf("the scale has no %s", shape)
			}
		}
		if dashed := strings.Contains(svg, `class="bar weak"`); dashed != doubtful {
			t.Errorf("doubtful %t, dashed %t", doubtful, dashed)
		}
	}
}

func TestNumbersWithoutPowersOfTen(t *testing.T) {
	for _, c := range []struct {
		v    float64
		unit string
		want string
	}{{0.000032, "g", "0.032 mg"}, {0.0000014, "g", "1.4 µg"}, {0.3, "°C", "0.30 °C"}, {0.00068, "kg/m³", "0.00068 kg/m³"}, {1e-5, "1/K", "10 ppm/K"}, {1.6e-6, "1", "1.6 ppm"}, {0, "g", "0 g"}, {12345.6, "kg/m³", "12346 kg/m³"}} {
		if got := amount(c.v, c.unit); got != c.want {
			t.Errorf("amount(%g, %q) = %q, want %q", c.v, c.unit, got, c.want)
		}
	}
	if got := estimate(8.16327e-6, "1"); got != "8.16327 ppm" {
		t.Errorf("the wire's share is %q", got)
	}
	if got := chance(0.99997) + ", " + chance(0.979) + ", " + chance(0.0001); got != "> 99.9 %, 97.9 %, < 0.1 %" {
		t.Errorf("chances are %s", got)
	}
}

// TestEveryNumberSaysWhy opens what stands behind the numbers of a sheet and of a record, and asks for
// a formula or an account, the inputs and the source of each, and for the budget.
func TestEveryNumberSaysWhy(t *testing.T) {
	s := newBench(t)
	by := s.who("boss")
	for _, path := range []string{"/sheet/" + s.sheet(by), "/record/" + s.recorded(by)} {
		body := html.UnescapeString(s.client().get(path).want(200).body)
		for _, text := range []string{"density in the liquid", "ρ = A / ((A − B)(1 − κ)) · (ρL − ρa) + ρa", "OIML R 111-1 B.7", "ρ20 = ρ (1 + γ (t − 20))", "U = k·u, k = ", "JCGM 100 5.1, G.4",
			"density of the liquid", "density of the air", "CIPM-2007", "V = m / ρ", "m = A (1 − ρa'/8000) + ρa·V", "safe figure", "probability of the standard", "JCGM 106", "probability of the legal limit",
			"immersed reading: repeatability", "budgetbar", "mg/cm³"} {
			if !strings.Contains(body, text) {
				t.Errorf("%s does not say %q", path, text)
			}
		}
	}
}
