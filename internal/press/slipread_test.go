package press

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/makiuchi-d/gozxing/qrcode"
)

// dpi is that of a thermal printer of eight dots to the millimetre.
const dpi = "203.2"

// outside runs a program of Debian's poppler-utils or zbar-tools.
func outside(t *testing.T, name string, arguments ...string) []byte {
	t.Helper()
	var complaints bytes.Buffer
	c := exec.Command(name, arguments...)
	c.Stderr = &complaints
	out, err := c.Output()
	// zbarimg ends with 4 where it finds no code.
	if err != nil && !(name == "zbarimg" && c.ProcessState != nil && c.ProcessState.ExitCode() == 4) {
		t.Fatalf("%s: %v\n%s(install Debian's poppler-utils and zbar-tools)", name, err, complaints.String())
	}
	return out
}

// printed renders a PDF as such a printer prints it: black dots or none. One picture a page.
func printed(t *testing.T, pdf []byte) (pages []*image.Gray) {
	t.Helper()
	folder := t.TempDir()
	file := filepath.Join(folder, "paper.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	outside(t, "pdftoppm", "-r", dpi, "-mono", "-png", file, filepath.Join(folder, "page"))
	names, err := filepath.Glob(filepath.Join(folder, "page*.png"))
	if err != nil || len(names) == 0 {
		t.Fatalf("no page was rendered: %v", err)
	}
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		page, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		grey := image.NewGray(page.Bounds())
		for y := range page.Bounds().Dy() {
			for x := range page.Bounds().Dx() {
				grey.Set(x, y, page.At(x, y))
			}
		}
		pages = append(pages, grey)
	}
	return pages
}

// scanned reads pictures with zbarimg and gives the text of the code in each, "" where it finds none or another
// number than one.
func scanned(t *testing.T, symbol string, pictures []*image.Gray) []string {
	t.Helper()
	folder := t.TempDir()
	arguments := []string{"-q", "--xml", "-Sdisable", "-S" + symbol + ".enable"}
	place := map[string]int{}
	for i, p := range pictures {
		var data bytes.Buffer
		if err := png.Encode(&data, p); err != nil {
			t.Fatal(err)
		}
		name := filepath.Join(folder, fmt.Sprintf("%d.png", i))
		if err := os.WriteFile(name, data.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		place[name] = i
		arguments = append(arguments, name)
	}
	var found struct {
		Sources []struct {
			Name  string `xml:"href,attr"`
			Codes []struct {
				Data string `xml:"data"`
			} `xml:"index>symbol"`
		} `xml:"source"`
	}
	if err := xml.Unmarshal(outside(t, "zbarimg", arguments...), &found); err != nil {
		t.Fatal(err)
	}
	out := make([]string, len(pictures))
	for _, s := range found.Sources {
		if len(s.Codes) == 1 {
			out[place[s.Name]] = s.Codes[0].Data
		}
	}
	return out
}

// seen is a picture as a camera sees it: for each of its pixels the place on the paper that it looks at, by the
// four nearest dots.
func seen(paper *image.Gray, wide, tall int, from func(x, y float64) (float64, float64)) *image.Gray {
	out := image.NewGray(image.Rect(0, 0, wide, tall))
	at := func(x, y int) float64 {
		if !image.Pt(x, y).In(paper.Rect) {
			return 255
		}
		return float64(paper.GrayAt(x, y).Y)
	}
	for y := range tall {
		for x := range wide {
			u, v := from(float64(x)+0.5, float64(y)+0.5)
			u, v = u-0.5, v-0.5
			i, j := math.Floor(u), math.Floor(v)
			a, b := u-i, v-j
			c, r := int(i), int(j)
			grey := (1-b)*((1-a)*at(c, r)+a*at(c+1, r)) + b*((1-a)*at(c, r+1)+a*at(c+1, r+1))
			out.SetGray(x, y, color.Gray{Y: uint8(math.Round(grey))})
		}
	}
	return out
}

// turned looks at paper under an angle and at a distance: degrees, and pixels a dot.
func turned(paper *image.Gray, degrees, scale float64) *image.Gray {
	w, h := float64(paper.Rect.Dx()), float64(paper.Rect.Dy())
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	wide, tall := math.Ceil(scale*(w*math.Abs(cos)+h*math.Abs(sin))), math.Ceil(scale*(w*math.Abs(sin)+h*math.Abs(cos)))
	return seen(paper, int(wide), int(tall), func(x, y float64) (float64, float64) {
		x, y = (x-wide/2)/scale, (y-tall/2)/scale
		return cos*x + sin*y + w/2, -sin*x + cos*y + h/2
	})
}

// crumpled bends paper in waves so many dots high and about so many long, as it lies after a pocket.
func crumpled(paper *image.Gray, dots, long float64, random *rand.Rand) *image.Gray {
	phase := func() float64 { return 2 * math.Pi * random.Float64() }
	a, b, c, d := phase(), phase(), phase(), phase()
	return seen(paper, paper.Rect.Dx(), paper.Rect.Dy(), func(x, y float64) (float64, float64) {
		k := 2 * math.Pi / long
		return x + dots/2*(math.Sin(k*y+a)+math.Sin(0.7*k*(x+y)+b)), y + dots/2*(math.Sin(k*x+c)+math.Sin(0.6*k*(x-y)+d))
	})
}

// smudged puts blots of ink and holes of bare paper, 1 to 4 mm across, on the code until they cover so much of
// it, 0 to 1. What a reader looks for first can be spared: the corners with the squares, and the strips between
// them that say which code it is.
func smudged(paper *image.Gray, code image.Rectangle, spare int, share float64, random *rand.Rand) *image.Gray {
	out := image.NewGray(paper.Rect)
	copy(out.Pix, paper.Pix)
	covered := map[image.Point]bool{}
	for float64(len(covered)) < share*float64(code.Dx()*code.Dy()) {
		x, y := code.Min.X+spare+random.IntN(code.Dx()-spare), code.Min.Y+spare+random.IntN(code.Dy()-spare)
		radius := 4 + random.IntN(12) // dots: blots of 1 to 4 mm
		grey := uint8(0)
		if random.IntN(2) == 0 {
			grey = 255
		}
		for j := -radius; j <= radius; j++ {
			for i := -radius; i <= radius; i++ {
				p := image.Pt(x+i, y+j)
				if i*i+j*j <= radius*radius && p.In(code) && (spare == 0 || p.X >= code.Min.X+spare && p.Y >= code.Min.Y+spare) {
					out.SetGray(p.X, p.Y, color.Gray{Y: grey})
					covered[p] = true
				}
			}
		}
	}
	return out
}

// faded is thermal paper after a summer: black becomes a grey of so much of its blackness, 0 to 1, paler to one
// side, with the noise of a camera; a share of the dots was never burnt.
func faded(paper *image.Gray, black, missing float64, random *rand.Rand) *image.Gray {
	out := image.NewGray(paper.Rect)
	for y := range paper.Rect.Dy() {
		for x := range paper.Rect.Dx() {
			ink := (255 - float64(paper.GrayAt(x, y).Y)) * black * (1 - 0.25*float64(x)/float64(paper.Rect.Dx()))
			if random.Float64() < missing {
				ink = 0
			}
			out.SetGray(x, y, color.Gray{Y: uint8(min(255, max(0, 240-ink+6*random.NormFloat64())))})
		}
	}
	return out
}

// blurred is what a camera makes of dots that it can't tell apart: each pixel the mean of nine.
func blurred(p *image.Gray) *image.Gray {
	out := image.NewGray(p.Rect)
	for y := range p.Rect.Dy() {
		for x := range p.Rect.Dx() {
			n, sum := 0, 0
			for j := max(0, y-1); j <= min(p.Rect.Max.Y-1, y+1); j++ {
				for i := max(0, x-1); i <= min(p.Rect.Max.X-1, x+1); i++ {
					n, sum = n+1, sum+int(p.GrayAt(i, j).Y)
				}
			}
			out.SetGray(x, y, color.Gray{Y: uint8(sum / n)})
		}
	}
	return out
}

// proofOnPaper is the end of a slip of 58 mm as printed, with the place of its code.
func proofOnPaper(t *testing.T) (paper *image.Gray, code image.Rectangle, text string) {
	t.Helper()
	f := priced(t, slipOf(t, "ring"), "430.57")
	var out bytes.Buffer
	if err := SlipPDF(&out, f, SlipOptions{}); err != nil {
		t.Fatal(err)
	}
	page := printed(t, out.Bytes())[0]
	c, dots, err := FitQR(f.Proof, 384, 40, moduleDots)
	if err != nil {
		t.Fatal(err)
	}
	// The code is the first thing under the last rule that has as many dark dots in a row as its upper left corner.
	side := c.Wide * dots
	left := (464 - side) / 2
	for y := page.Rect.Max.Y - side - 300; y < page.Rect.Max.Y-side; y++ {
		dark := true
		for x := range 7 * dots {
			dark = dark && page.GrayAt(left+x, y).Y == 0
		}
		if dark && page.GrayAt(left-1, y).Y == 255 && page.GrayAt(left+7*dots, y).Y == 255 {
			code := image.Rect(left, y, left+side, y+side)
			part := page.SubImage(image.Rect(0, y-60, page.Rect.Dx(), page.Rect.Max.Y)).(*image.Gray)
			paper := image.NewGray(image.Rect(0, 0, part.Rect.Dx(), part.Rect.Dy()))
			for j := range paper.Rect.Dy() {
				for i := range paper.Rect.Dx() {
					paper.SetGray(i, j, part.GrayAt(part.Rect.Min.X+i, part.Rect.Min.Y+j))
				}
			}
			return paper, code.Sub(image.Pt(0, y-60)), f.Proof
		}
	}
	t.Fatal("the code is not on the slip")
	return nil, image.Rectangle{}, ""
}

// TestModulesAreWholeDots: every module of the proof on the slip is a square of four dots, all of one colour.
func TestModulesAreWholeDots(t *testing.T) {
	paper, code, text := proofOnPaper(t)
	c, dots, err := FitQR(text, 384, 40, moduleDots)
	if err != nil {
		t.Fatal(err)
	}
	if dots != 4 || c.Corrects != CorrectQ {
		t.Errorf("a proof of the largest size has modules of %d dots at level %d", dots, c.Corrects)
	}
	wrong := 0
	for y := range code.Dy() {
		for x := range code.Dx() {
			if dark := paper.GrayAt(code.Min.X+x, code.Min.Y+y).Y == 0; dark != c.Dark(x/dots, y/dots) {
				wrong++
			}
		}
	}
	if wrong > 0 {
		t.Errorf("%d of %d dots have the wrong colour", wrong, code.Dx()*code.Dy())
	}
	for _, side := range []image.Rectangle{ // the quiet zone
		image.Rect(code.Min.X-16, code.Min.Y-16, code.Max.X+16, code.Min.Y), image.Rect(code.Min.X-16, code.Max.Y, code.Max.X+16, code.Max.Y+16),
		image.Rect(code.Min.X-16, code.Min.Y, code.Min.X, code.Max.Y), image.Rect(code.Max.X, code.Min.Y, code.Max.X+16, code.Max.Y),
	} {
		for y := side.Min.Y; y < side.Max.Y; y++ {
			for x := side.Min.X; x < side.Max.X; x++ {
				if paper.GrayAt(x, y).Y != 255 {
					t.Fatalf("the quiet zone is dark at %d, %d of %v", x, y, code)
				}
			}
		}
	}
}

// TestProofReadsBack reads the proof of the largest size from a slip of 58 mm as a printer of 203 dpi prints it,
// turned, far and near, smudged, crumpled and faded, with a decoder that is not ours. least is how many of the
// trials must be read; the rates are those of doc/paper.md.
func TestProofReadsBack(t *testing.T) {
	paper, code, text := proofOnPaper(t)
	const trials = 20
	drawn := func(f func(*rand.Rand) *image.Gray) (out []*image.Gray) {
		for seed := range trials {
			out = append(out, f(rand.New(rand.NewPCG(uint64(seed), 203))))
		}
		return out
	}
	smudge := func(spare int, share float64) []*image.Gray {
		return drawn(func(r *rand.Rand) *image.Gray { return smudged(paper, code, spare, share, r) })
	}
	crumple := func(dots, long float64) []*image.Gray {
		return drawn(func(r *rand.Rand) *image.Gray { return crumpled(paper, dots, long, r) })
	}
	fade := func(black, missing float64) []*image.Gray {
		return drawn(func(r *rand.Rand) *image.Gray { return blurred(faded(paper, black, missing, r)) })
	}
	var angles, sizes []*image.Gray
	for degrees := 0.0; degrees < 360; degrees += 5 {
		angles = append(angles, turned(paper, degrees, 1))
	}
	for percent := 70; percent <= 150; percent += 5 {
		sizes = append(sizes, turned(paper, 0, float64(percent)/100))
	}
	const corners = 9 * 4 // dots of the squares with what stands beside them
	for _, row := range []struct {
		damage   string
		pictures []*image.Gray
		least    int
		second   int // by the second decoder
	}{
		{"every 5 degrees", angles, 72, 45},
		{"0.7 to 1.5 times", sizes, 17, 14},
		{"blots beside the corners, 2 %", smudge(corners, 0.02), 20, 0},
		{"blots beside the corners, 4 %", smudge(corners, 0.04), 20, 0},
		{"blots beside the corners, 6 %", smudge(corners, 0.06), 18, 0},
		{"blots beside the corners, 8 %", smudge(corners, 0.08), 15, 0},
		{"blots beside the corners, 10 %", smudge(corners, 0.10), 10, 0},
		{"blots anywhere, 1 %", smudge(0, 0.01), 17, 0},
		{"blots anywhere, 4 %", smudge(0, 0.04), 13, 0},
		{"bent 2 dots on 300", crumple(2, 300), 20, 0},
		{"bent 4 dots on 500", crumple(4, 500), 17, 0},
		{"bent 8 dots on 800", crumple(8, 800), 18, 0},
		{"faded to a half", fade(0.5, 0), 20, 10},
		{"faded to a quarter", fade(0.25, 0), 20, 0},
		{"faded, 5 % of the dots missing", fade(0.5, 0.05), 20, 0},
		{"faded, 10 % of the dots missing", fade(0.5, 0.10), 13, 0},
	} {
		good, second := 0, 0
		for i, got := range scanned(t, "qrcode", row.pictures) {
			if got == text {
				good++
			} else if got != "" {
				t.Errorf("%s: a wrong text is read: %q", row.damage, got)
			}
			if row.second > 0 {
				if got, err := decoded(qrcode.NewQRCodeReader(), row.pictures[i], false); err == nil && got == text {
					second++
				}
			}
		}
		if good < row.least || second < row.second {
			t.Errorf("%s: %d of %d are read, %d by the second decoder; %d and %d must be", row.damage, good, len(row.pictures), second, row.least, row.second)
		}
		t.Logf("%-34s %d of %d, second decoder %d", row.damage, good, len(row.pictures), second)
	}
}
