package picture

import (
	"cmp"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Shape is one element of a picture with its style, for who draws on something else than a page: a path
// or a text. Lengths are in px of the picture, y goes down.
type Shape struct {
	Path []Step // nil for a text

	Text   string
	X, Y   float64 // where the text stands, on its baseline
	Anchor string  // start, middle or end of the text is at X
	Size   float64
	Bold   bool

	Fill, Stroke               string // colours as #rrggbb; "" paints nothing
	FillOpacity, StrokeOpacity float64
	Width                      float64 // of the stroke
	Dash                       []float64
	Square, Round              bool // ends of the stroke are square; corners are round
	Halo                       bool // of a text: its stroke lies below it
}

// Step is one step of a path: M to begin, L for a line, C for a curve by two control points, Z to close. Its
// numbers are absolute: x, y for M and L, six for C.
type Step struct {
	Do byte
	To [6]float64
}

// Scene gives the shapes of a picture in the order in which they are drawn, with the colours of a
// palette. The error says that the palette lacks a colour.
func (p Picture) Scene(palette Palette) ([]Shape, error) {
	style, err := resolve(Style, palette)
	if err != nil {
		return nil, err
	}
	rules := styleRules(style)
	d := xml.NewDecoder(strings.NewReader(string(p.SVG)))
	var out []Shape
	var text *Shape
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		if err != nil {
			return nil, fmt.Errorf("picture %q: %w", p.Title, err)
		}
		switch token := token.(type) {
		case xml.StartElement:
			at := map[string]string{}
			for _, a := range token.Attr {
				at[a.Name.Local] = a.Value
			}
			switch name := token.Name.Local; name {
			case "rect", "line", "circle", "path", "text":
				s, err := shape(name, at)
				if err != nil {
					return nil, fmt.Errorf("picture %q: %w", p.Title, err)
				}
				s.paint(rules, name, strings.Fields(at["class"]))
				out = append(out, s)
				if name == "text" {
					text = &out[len(out)-1]
				}
			}
		case xml.CharData:
			if text != nil {
				text.Text += string(token)
			}
		case xml.EndElement:
			text = nil
		}
	}
}

// shape reads the geometry of an element.
func shape(name string, at map[string]string) (Shape, error) {
	var numbers [6]float64
	keys := map[string][]string{"rect": {"x", "y", "width", "height"}, "line": {"x1", "y1", "x2", "y2"}, "circle": {"cx", "cy", "r"}, "text": {"x", "y"}}[name]
	for i, key := range keys {
		v, err := strconv.ParseFloat(at[key], 64)
		if err != nil {
			return Shape{}, fmt.Errorf("the %s of a %s is %q", key, name, at[key])
		}
		numbers[i] = v
	}
	a, b, c, d := numbers[0], numbers[1], numbers[2], numbers[3]
	switch name {
	case "rect":
		return Shape{Path: []Step{move(a, b), lineTo(a+c, b), lineTo(a+c, b+d), lineTo(a, b+d), {Do: 'Z'}}}, nil
	case "line":
		return Shape{Path: []Step{move(a, b), lineTo(c, d)}}, nil
	case "circle":
		// Four curves; 0.5523 is the usual length of their control points.
		k := 0.5523 * c
		return Shape{Path: []Step{
			move(a+c, b),
			{'C', [6]float64{a + c, b + k, a + k, b + c, a, b + c}}, {'C', [6]float64{a - k, b + c, a - c, b + k, a - c, b}},
			{'C', [6]float64{a - c, b - k, a - k, b - c, a, b - c}}, {'C', [6]float64{a + k, b - c, a + c, b - k, a + c, b}}, {Do: 'Z'},
		}}, nil
	case "path":
		steps, err := pathSteps(at["d"])
		return Shape{Path: steps}, err
	}
	return Shape{X: a, Y: b, Anchor: cmp.Or(at["text-anchor"], start)}, nil
}

func move(x, y float64) Step   { return Step{'M', [6]float64{x, y}} }
func lineTo(x, y float64) Step { return Step{'L', [6]float64{x, y}} }

var pathToken = regexp.MustCompile(`[A-Za-z]|-?[0-9.]+`)

// pathSteps reads the paths that track writes.
func pathSteps(d string) ([]Step, error) {
	var out []Step
	var x, y, x0, y0 float64
	tokens := pathToken.FindAllString(d, -1)
	next := func() (v float64, err error) {
		if len(tokens) == 0 {
			return 0, fmt.Errorf("the path %q ends too early", d)
		}
		v, err = strconv.ParseFloat(tokens[0], 64)
		tokens = tokens[1:]
		return v, err
	}
	command := byte(0)
	for len(tokens) > 0 {
		if c := tokens[0][0]; c >= 'A' && c != '-' {
			command, tokens = c, tokens[1:]
			if command == 'Z' || command == 'z' {
				out, x, y = append(out, Step{Do: 'Z'}), x0, y0
				continue
			}
		}
		var u, v float64
		var err error
		switch command {
		case 'M', 'L', 'm', 'l':
			if u, err = next(); err == nil {
				v, err = next()
			}
		case 'H', 'h', 'V', 'v':
			u, err = next()
		default:
			err = fmt.Errorf("the path %q has a step %q", d, command)
		}
		if err != nil {
			return nil, err
		}
		switch command {
		case 'M', 'L':
			x, y = u, v
		case 'm', 'l':
			x, y = x+u, y+v
		case 'H':
			x = u
		case 'h':
			x += u
		case 'V':
			y = u
		case 'v':
			y += u
		}
		if command == 'M' || command == 'm' {
			x0, y0 = x, y
			out = append(out, move(x, y))
			command = map[byte]byte{'M': 'L', 'm': 'l'}[command]
		} else {
			out = append(out, lineTo(x, y))
		}
	}
	return out, nil
}

// styleRule is one selector of the style sheet: an element, classes, and what they set.
type styleRule struct {
	element string
	classes []string
	weight  int
	set     map[string]string
}

// styleRules reads a resolved style sheet: selectors of one class after .pic, as Style writes them.
func styleRules(style string) []styleRule {
	var out []styleRule
	for {
		_, rest, found := strings.Cut(style, "*/")
		if !found {
			break
		}
		style = rest
	}
	for _, block := range strings.Split(style, "}") {
		selectors, body, found := strings.Cut(block, "{")
		if !found {
			continue
		}
		set := map[string]string{}
		for _, line := range strings.Split(body, ";") {
			if key, value, found := strings.Cut(line, ":"); found {
				set[strings.TrimSpace(key)] = strings.TrimSpace(value)
			}
		}
		for _, selector := range strings.Split(selectors, ",") {
			below, found := strings.CutPrefix(strings.TrimSpace(selector), ".pic ")
			if !found {
				continue
			}
			parts := strings.Split(below, ".")
			r := styleRule{element: parts[0], classes: parts[1:], weight: 10 * (len(parts) - 1), set: set}
			if r.element != "" {
				r.weight++
			}
			out = append(out, r)
		}
	}
	slices.SortStableFunc(out, func(a, b styleRule) int { return cmp.Compare(a.weight, b.weight) })
	return out
}

// paint sets the style of an element; what a heavier rule says counts.
func (s *Shape) paint(rules []styleRule, element string, classes []string) {
	set := map[string]string{"fill": "#000000", "stroke-width": "1", "fill-opacity": "1", "stroke-opacity": "1", "font-size": "13"}
	for _, r := range rules {
		if r.element != "" && r.element != element || slices.ContainsFunc(r.classes, func(c string) bool { return !slices.Contains(classes, c) }) {
			continue
		}
		for key, value := range r.set {
			set[key] = value
		}
	}
	colour := func(key string) string {
		if v := set[key]; v != "none" && utf8.RuneCountInString(v) == 7 {
			return v
		}
		return ""
	}
	number := func(key string) float64 {
		v, err := strconv.ParseFloat(strings.TrimSuffix(set[key], "px"), 64)
		if err != nil {
			return 0
		}
		return v
	}
	s.Fill, s.Stroke = colour("fill"), colour("stroke")
	s.FillOpacity, s.StrokeOpacity, s.Width, s.Size = number("fill-opacity"), number("stroke-opacity"), number("stroke-width"), number("font-size")
	s.Bold = set["font-weight"] == "600"
	s.Square, s.Round = set["stroke-linecap"] == "square", set["stroke-linejoin"] == "round"
	s.Halo = set["paint-order"] == "stroke"
	if dash := set["stroke-dasharray"]; dash != "" && dash != "none" {
		for _, field := range strings.Fields(dash) {
			v, err := strconv.ParseFloat(field, 64)
			if err == nil {
				s.Dash = append(s.Dash, v)
			}
		}
	}
	if element == "line" {
		s.Fill = ""
	}
}
