package press

import (
	"errors"
	"fmt"
	"html"
	"image/color"
	"math"
	"strconv"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	"github.com/boombuler/barcode"
	"github.com/boombuler/barcode/code128"
	"github.com/boombuler/barcode/qr"
)

// Dot is the pitch of a thermal printer of 203 dpi in mm: eight dots to the millimetre. Modules of codes
// are whole dots, and codes begin on a dot, so that no bar comes out a dot wider than its neighbour.
const Dot = 0.125

// The quiet zones in modules: ISO/IEC 18004 asks for four around a QR code, ISO/IEC 15417 for ten on both
// sides of a Code 128.
const (
	quietQR   = 4
	quietBars = 10
)

// Correction is how much of a QR code may be damaged: the levels of ISO/IEC 18004, which recover about 7,
// 15, 25 and 30 % of the codewords.
type Correction byte

// The levels of correction, the least first.
const (
	CorrectL Correction = iota
	CorrectM
	CorrectQ
	CorrectH
)

// Code is a code as squares (QR) or bars (Code 128), dark on light, without its quiet zone.
type Code struct {
	Text       string     // what it says
	Wide, Tall int        // modules; bars have one row
	Quiet      int        // light modules that belong to it: on all sides of a QR, left and right of bars
	Corrects   Correction // of a QR
	dark       []bool     // by rows
}

// Dark tells the colour of a module; outside of the code all is light.
func (c Code) Dark(x, y int) bool {
	return x >= 0 && y >= 0 && x < c.Wide && y < c.Tall && c.dark[y*c.Wide+x]
}

// IsBars tells a Code 128 from a QR code.
func (c Code) IsBars() bool { return c.Tall == 1 }

// QR makes a QR code of a text. A text of digits, capital letters and $%*+-./: and space alone takes about
// two thirds of the room of any other. The error says that the text is empty or longer than a code holds.
func QR(text string, level Correction) (Code, error) {
	if text == "" {
		return Code{}, errors.New("a QR code of nothing: give it a text")
	}
	made, err := qr.Encode(text, []qr.ErrorCorrectionLevel{qr.L, qr.M, qr.Q, qr.H}[level], qr.Auto)
	if err != nil {
		return Code{}, fmt.Errorf("a QR code of %d bytes: %w; give it a shorter text", len(text), err)
	}
	c := readCode(made)
	c.Text, c.Quiet, c.Corrects = text, quietQR, level
	return c, nil
}

// FitQR makes the QR code with the most correction whose modules have so many dots on a place of the given
// width, in dots. Beside the place lie so many white dots on both sides, where the quiet zone may reach.
// Where even the least correction has smaller modules it is the one with the largest. The dots of a module
// come with it, never more than asked for: a code that is printed larger than that reads no better.
func FitQR(text string, wide, white, dots int) (c Code, module int, err error) {
	level, _, module, err := fitQR(text, wide, white, dots)
	if err != nil {
		return Code{}, 0, err
	}
	c, err = QR(text, level)
	return c, module, err
}

// fitQR finds the level of FitQR, with the modules on a side and the dots of a module, and makes no code.
func fitQR(text string, wide, white, dots int) (level Correction, side, module int, err error) {
	for try := CorrectH; ; try-- {
		if n := sideQR(text, try); n > 0 {
			if fits := min(dots, wide/n, (wide+2*white)/(n+2*quietQR)); fits > module {
				level, side, module = try, n, fits
			}
		}
		if try == CorrectL || module == dots {
			break
		}
	}
	if module > 0 {
		return level, side, module, nil
	}
	if _, err := QR(text, CorrectL); err != nil {
		return 0, 0, 0, err
	}
	return 0, 0, 0, fmt.Errorf("a QR code of %d bytes is wider than %s mm: give it a shorter text or wider paper", len(text), dotted(float64(wide)*Dot))
}

// sideQR is how many modules a QR code of a text has on a side; 0 where none holds it.
func sideQR(text string, level Correction) int {
	if !inAlphanumeric(text) {
		c, err := QR(text, level)
		if err != nil {
			return 0
		}
		return c.Wide
	}
	for version, holds := range alphanumeric[level] {
		if len(text) <= holds {
			return 21 + 4*version
		}
	}
	return 0
}

// inAlphanumeric tells whether a text is one of the alphanumeric mode and not of digits alone, which take
// less room.
func inAlphanumeric(text string) bool {
	return strings.Trim(text, "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:") == "" && strings.Trim(text, "0123456789") != ""
}

// alphanumeric is how many characters of the alphanumeric mode the versions 1 to 40 hold, by level of
// correction: the capacities of ISO/IEC 18004, as the encoder shows them. Encoding a large code costs more
// than all the rest of a slip, so its size is looked up first.
var alphanumeric = [4][40]int{
	{25, 47, 77, 114, 154, 195, 224, 279, 335, 395, 468, 535, 619, 667, 758, 854, 938, 1046, 1153, 1249, 1352, 1460, 1588, 1704, 1853, 1990, 2132, 2223, 2369, 2520, 2677, 2840, 3009, 3183, 3351, 3537, 3729, 3927, 4087, 4296},
	{20, 38, 61, 90, 122, 154, 178, 221, 262, 311, 366, 419, 483, 528, 600, 656, 734, 816, 909, 970, 1035, 1134, 1248, 1326, 1451, 1542, 1637, 1732, 1839, 1994, 2113, 2238, 2369, 2506, 2632, 2780, 2894, 3054, 3220, 3391},
	{16, 29, 47, 67, 87, 108, 125, 157, 189, 221, 259, 296, 352, 376, 426, 470, 531, 574, 644, 702, 742, 823, 890, 963, 1041, 1094, 1172, 1263, 1322, 1429, 1499, 1618, 1700, 1787, 1867, 1966, 2071, 2181, 2298, 2420},
	{10, 20, 35, 50, 64, 84, 93, 122, 143, 174, 200, 227, 259, 283, 321, 365, 408, 452, 493, 557, 587, 640, 672, 744, 779, 864, 910, 958, 1016, 1080, 1150, 1226, 1307, 1394, 1431, 1530, 1591, 1658, 1774, 1852},
}

// Code128 makes the bars of a text of ASCII characters.
func Code128(text string) (Code, error) {
	if text == "" {
		return Code{}, errors.New("a Code 128 of nothing: give it a text")
	}
	if i := strings.IndexFunc(text, func(r rune) bool { return r < 0x20 || r > 0x7e }); i >= 0 {
		return Code{}, fmt.Errorf("a Code 128 holds letters without accents, digits and signs, and not the %q of %q: use a QR code", []rune(text[i:])[0], text)
	}
	made, err := code128.Encode(text)
	if err != nil {
		return Code{}, fmt.Errorf("a Code 128 of %q: %w; give it a shorter text, or use a QR code", text, err)
	}
	c := readCode(made)
	c.Text, c.Quiet = text, quietBars
	return c, nil
}

// readCode takes the modules out of a code of the library.
func readCode(made barcode.Barcode) Code {
	size := made.Bounds().Size()
	c := Code{Wide: size.X, Tall: size.Y, dark: make([]bool, 0, size.X*size.Y)}
	for y := range c.Tall {
		for x := range c.Wide {
			grey := color.Gray16Model.Convert(made.At(x, y)).(color.Gray16)
			c.dark = append(c.dark, grey.Y < 0x8000)
		}
	}
	return c
}

// codeRun is a dark rectangle of a code, in modules.
type codeRun struct{ x, y, wide, tall int }

// runs are rectangles that cover the dark modules, each module once. Equal runs of rows that follow each
// other are one, so that a vertical edge is one edge.
func (c Code) runs() []codeRun {
	var out []codeRun
	open := map[[2]int]int{} // by its ends, the codeRun that reached the row above
	for y := range c.Tall {
		next := map[[2]int]int{}
		for x := 0; x < c.Wide; x++ {
			if !c.Dark(x, y) {
				continue
			}
			from := x
			for c.Dark(x+1, y) {
				x++
			}
			ends := [2]int{from, x + 1}
			at, found := open[ends]
			if found {
				out[at].tall++
			} else {
				at = len(out)
				out = append(out, codeRun{from, y, x + 1 - from, 1})
			}
			next[ends] = at
		}
		open = next
	}
	return out
}

// draw fills the dark modules of a code black on the current page, with its top left module at x, y (mm),
// modules of so many dots, bars so many mm tall. All rectangles are one path, so no seam shows between
// them. The caller leaves the quiet zone free.
func (c Code) draw(pdf *fpdf.Fpdf, x, y float64, dots int, tall float64) {
	_, page := pdf.GetPageSize()
	// A rasterizer may paint every dot that a shape touches, and the size of a page is written to a hundredth of
	// a point only: edges stay so far inside of their dots.
	const shy = 0.012 // points
	module := float64(dots) * Dot
	x, y = onDot(x), onDot(y)
	var path strings.Builder
	path.WriteString("q 0 g")
	for _, r := range c.runs() {
		height := float64(r.tall) * module
		if c.IsBars() {
			height = tall
		}
		left, top := x+float64(r.x)*module, y+float64(r.y)*module
		for _, v := range [...]float64{left/point + shy, (page-top-height)/point + shy, float64(r.wide)*module/point - 2*shy, height/point - 2*shy} {
			path.WriteByte(' ')
			path.WriteString(strconv.FormatFloat(v, 'f', 4, 64))
		}
		path.WriteString(" re")
	}
	path.WriteString(" f Q")
	pdf.RawWriteStr(path.String())
}

// onDot moves a place on paper to the nearest dot.
func onDot(mm float64) float64 { return math.Round(mm/Dot) * Dot }

// SVG draws the code with its quiet zone, modules of so many dots and bars so many mm tall, sized in mm.
func (c Code) SVG(dots int, tall float64, title string) string {
	module := float64(dots) * Dot
	wide, height := c.Wide+2*c.Quiet, float64(c.Tall+2*c.Quiet)
	top := float64(c.Quiet)
	if c.IsBars() {
		height, top = tall/module, 0
	}
	var out strings.Builder
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" class="code" role="img" width="%smm" height="%smm" viewBox="0 0 %d %s" shape-rendering="crispEdges"><title>%s</title><path d="`,
		dotted(float64(wide)*module), dotted(height*module), wide, dotted(height), html.EscapeString(title))
	for _, r := range c.runs() {
		down := float64(r.tall)
		if c.IsBars() {
			down = height
		}
		fmt.Fprintf(&out, "M%d %sh%dv%sh-%dz", c.Quiet+r.x, dotted(top+float64(r.y)), r.wide, dotted(down), r.wide)
	}
	out.WriteString(`"/></svg>`)
	return out.String()
}

// Characters writes a QR code with half blocks, two rows of modules a line, for a text printer or a terminal
// with dark letters on a light ground. The quiet zone is within; a line has Wide + 2 Quiet columns.
func (c Code) Characters() []string {
	var lines []string
	for y := -c.Quiet; y < c.Tall+c.Quiet; y += 2 {
		var line strings.Builder
		for x := -c.Quiet; x < c.Wide+c.Quiet; x++ {
			switch upper, lower := c.Dark(x, y), c.Dark(x, y+1); {
			case upper && lower:
				line.WriteRune('█')
			case upper:
				line.WriteRune('▀')
			case lower:
				line.WriteRune('▄')
			default:
				line.WriteByte(' ')
			}
		}
		lines = append(lines, line.String())
	}
	return lines
}

// dotted writes a number without an exponent and without zeros at its end.
func dotted(v float64) string {
	return strconv.FormatFloat(math.Round(v*1e4)/1e4, 'f', -1, 64)
}
