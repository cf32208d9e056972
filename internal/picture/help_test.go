package picture

import (
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"wreath/internal/determination"

	"pgregory.net/rapid"
)

// failer is what testing.T and rapid.T have in common.
type failer interface {
	Helper()
	Errorf(format string, args ...any)
	Fatalf(format string, args ...any)
}

// box is where an element lies.
type box struct {
	x1, y1, x2, y2 float64
	words          string
}

func (b box) meets(o box) bool {
	const hair = 0.3
	return b.x1 < o.x2-hair && o.x1 < b.x2-hair && b.y1 < o.y2-hair && o.y1 < b.y2-hair
}

// drawing is a picture read back.
type drawing struct {
	title   string
	texts   []box
	shapes  []box
	marks   []string // what groups say when pointed at
	classes map[string]bool
}

var (
	colour   = regexp.MustCompile(`#[0-9a-fA-F]{3,8}\b|rgba?\(|hsl|url\(`)
	pathStep = regexp.MustCompile(`([MLHVmlhvZ])([^MLHVmlhvZ]*)`)
)

// read parses a picture and checks what holds for every picture.
func read(t failer, p Picture) drawing {
	t.Helper()
	text := string(p.SVG)
	if m := colour.FindString(text); m != "" && !strings.Contains(p.Title, m) {
		t.Errorf("%.24s: colour or link %q in the picture", p.Title, m)
	}
	d := drawing{classes: map[string]bool{}}
	decoder := xml.NewDecoder(strings.NewReader(text))
	var stack []string
	var last xml.StartElement
	var words strings.Builder
	for {
		token, err := decoder.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("%.24s: not well-formed: %v", p.Title, err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			for _, a := range e.Attr {
				switch a.Name.Local {
				case "style", "fill", "stroke", "id", "href", "font-size", "transform":
					t.Errorf("%.24s: attribute %s", p.Title, a.Name.Local)
				case "class":
					for _, class := range strings.Fields(a.Value) {
						d.classes[class] = true
					}
				}
				if strings.HasPrefix(a.Name.Local, "on") {
					t.Errorf("%.24s: script in %s", p.Title, a.Name.Local)
				}
			}
			if e.Name.Local == "script" || e.Name.Local == "style" {
				t.Errorf("%.24s: element %s", p.Title, e.Name.Local)
			}
			if len(stack) == 0 && (attr(e, "role") != "img" || attr(e, "viewBox") != fmt.Sprintf("0 0 %d %d", p.Width, p.Height)) {
				t.Errorf("%.24s: root is %v", p.Title, e.Attr)
			}
			stack, last = append(stack, e.Name.Local), e
			words.Reset()
			d.shapes = append(d.shapes, shapeOf(t, e)...)
		case xml.CharData:
			words.Write(e)
		case xml.EndElement:
			switch {
			case e.Name.Local == "title" && len(stack) == 2:
				d.title = words.String()
			case e.Name.Local == "title":
				d.marks = append(d.marks, words.String())
			case e.Name.Local == "text":
				d.texts = append(d.texts, textBox(t, last, words.String()))
			}
			stack = stack[:len(stack)-1]
		}
	}
	if d.title == "" || d.title != p.Title {
		t.Errorf("title %q, want %q", d.title, p.Title)
	}
	w, h := float64(p.Width), float64(p.Height)
	for _, s := range append(d.shapes, d.texts...) {
		const stroke = 1.5
		if s.x1 < -stroke || s.y1 < -stroke || s.x2 > w+stroke || s.y2 > h+stroke {
			t.Errorf("%.24s: %q at %.1f,%.1f to %.1f,%.1f leaves the picture of %g by %g", p.Title, s.words, s.x1, s.y1, s.x2, s.y2, w, h)
		}
	}
	for i, a := range d.texts {
		for _, b := range d.texts[:i] {
			if a.meets(b) {
				t.Errorf("%.24s: %q (%.0f to %.0f, y %.0f) runs into %q (%.0f to %.0f, y %.0f)", p.Title, a.words, a.x1, a.x2, a.y1, b.words, b.x1, b.x2, b.y1)
			}
		}
	}
	return d
}

func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

func number(t failer, e xml.StartElement, name string) float64 {
	v, err := strconv.ParseFloat(attr(e, name), 64)
	if err != nil {
		t.Fatalf("%s %s=%q: %v", e.Name.Local, name, attr(e, name), err)
	}
	return v
}

func textBox(t failer, e xml.StartElement, words string) box {
	px, bold := 13.0, false
	for _, class := range strings.Fields(attr(e, "class")) {
		switch class {
		case "s":
			px = 12
		case "b", "c", "v", "d", "onfit":
			bold = true
		}
	}
	x, y, w := number(t, e, "x"), number(t, e, "y"), widthOf(words, px, bold)
	switch attr(e, "text-anchor") {
	case "middle":
		x -= w / 2
	case "end":
		x -= w
	}
	return box{x, y - ascent, x + w, y + 3, words}
}

func shapeOf(t failer, e xml.StartElement) []box {
	n := func(name string) float64 { return number(t, e, name) }
	class := attr(e, "class")
	switch e.Name.Local {
	case "rect":
		if n("width") < 0 || n("height") < 0 {
			t.Errorf("%s of negative size", class)
		}
		return []box{{n("x"), n("y"), n("x") + n("width"), n("y") + n("height"), class}}
	case "circle":
		return []box{{n("cx") - n("r"), n("cy") - n("r"), n("cx") + n("r"), n("cy") + n("r"), class}}
	case "line":
		return []box{{min(n("x1"), n("x2")), min(n("y1"), n("y2")), max(n("x1"), n("x2")), max(n("y1"), n("y2")), class}}
	case "path":
		var out []box
		x, y := 0.0, 0.0
		for _, m := range pathStep.FindAllStringSubmatch(attr(e, "d"), -1) {
			var v []float64
			for _, f := range strings.Fields(m[2]) {
				number, err := strconv.ParseFloat(f, 64)
				if err != nil {
					t.Fatalf("path %q: %v", attr(e, "d"), err)
				}
				v = append(v, number)
			}
			switch m[1] {
			case "M", "L":
				x, y = v[0], v[1]
			case "m", "l":
				x, y = x+v[0], y+v[1]
			case "H":
				x = v[0]
			case "h":
				x += v[0]
			case "V":
				y = v[0]
			case "v":
				y += v[0]
			}
			out = append(out, box{x, y, x, y, class})
		}
		return out
	}
	return nil
}

// example evaluates one of the invented examples that come with the program.
func example(t testing.TB, name string) Subject {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "examples", name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	return evaluate(t, string(data))
}

func evaluate(t interface {
	Helper()
	Fatalf(string, ...any)
}, draft string) Subject {
	t.Helper()
	d, err := determination.Decode([]byte(draft))
	if err != nil {
		t.Fatalf("%s: %v", draft, err)
	}
	a, err := determination.Evaluate(d, determination.Options{})
	if err != nil {
		t.Fatalf("%s: %v", draft, err)
	}
	return Subject{Answer: a, Claim: d.Claim}
}

// anything draws a subject whose answer comes from readings of an invented item: any metal or
// stone, tiny to huge uncertainty, right and wrong claims, doubts.
func anything(t *rapid.T) Subject {
	density := rapid.Float64Range(1.02, 22.3).Draw(t, "density")
	if rapid.Bool().Draw(t, "near a metal") {
		density = rapid.SampledFrom([]float64{3.52, 4.0, 10.36, 10.5, 11.34, 12.0, 13.2, 14.9, 15.45, 17.7, 19.25, 19.3, 20.7, 21.45}).Draw(t, "metal") *
			rapid.Float64Range(0.995, 1.005).Draw(t, "off")
	}
	mass := rapid.SampledFrom([]float64{0.5, 2, 7.5, 40, 1000, 12000}).Draw(t, "mass")
	interval := mass * rapid.SampledFrom([]float64{2e-3, 1e-3, 1e-4, 1e-5, 1e-6}).Draw(t, "fineness of the balance")
	lost := mass / density * 0.998
	if lost < 3*interval {
		interval = lost / 3
	}
	wet := mass - lost
	type object = map[string]any
	draft := object{
		"arrangement": "hanging",
		"air_g":       []float64{mass, mass},
		"liquid_g":    []float64{wet, wet - interval*rapid.Float64Range(0, 1).Draw(t, "second")},
		"liquid":      object{"kind": "water", "temperature_c": 21, "temperature_u_c": rapid.SampledFrom([]float64{0.05, 0.5}).Draw(t, "temperature")},
		"balance":     object{"resolution_g": interval},
	}
	if rapid.IntRange(0, 4).Draw(t, "doubt") == 0 {
		draft["closing_air_g"] = []float64{mass + 30*interval}
	}
	switch rapid.IntRange(0, 6).Draw(t, "claim") {
	case 0:
	case 1:
		draft["claim"] = object{"stone": rapid.SampledFrom([]string{"corundum", "diamond", "amber", "topaz"}).Draw(t, "stone")}
	case 2:
		draft["claim"] = object{"metal": rapid.SampledFrom([]string{"gold", "silver", "platinum", "palladium"}).Draw(t, "claimed metal")}
	case 3:
		draft["claim"] = object{"metal": "gold", "carat": rapid.SampledFrom([]float64{8, 9, 10, 14, 18, 21, 22, 24}).Draw(t, "carat")}
	default:
		family := rapid.SampledFrom([]string{"gold-yellow", "gold-3n", "gold-any", "gold-fine", "gold-white-palladium", "silver-copper", "platinum-any", "palladium-any", "platinum-ruthenium"}).Draw(t, "family")
		fineness := rapid.SampledFrom([]float64{333, 585, 750, 800, 925, 950, 995, 999.9}).Draw(t, "fineness")
		draft["claim"] = object{"metal": strings.SplitN(family, "-", 2)[0], "family": family, "fineness": fineness}
		if rapid.Bool().Draw(t, "list") {
			draft["claim"].(object)["standards"] = "trade-wide"
		}
	}
	data, err := json.Marshal(draft)
	if err != nil {
		t.Fatal(err)
	}
	d, err := determination.Decode(data)
	if err != nil {
		t.Fatalf("%s: %v", data, err)
	}
	a, err := determination.Evaluate(d, determination.Options{MonteCarlo: determination.WhereNeeded})
	if err != nil {
		t.Skipf("no density follows: %v", err) // rapid draws another
	}
	s := Subject{Answer: a, Claim: d.Claim}
	if rapid.Bool().Draw(t, "pairs") {
		for i := range rapid.IntRange(1, 5).Draw(t, "how many") {
			s.Pairs = append(s.Pairs, Pair{Name: strconv.Itoa(i + 1), KgM3: a.Density20C.KgM3 + a.Density20C.UKgM3*rapid.Float64Range(-4, 4).Draw(t, "pair"), Stray: rapid.Bool().Draw(t, "stray")})
		}
		settled := a.Density20C.KgM3 + 3*a.Density20C.UKgM3
		s.Settled = &settled
	}
	return s
}
