package press

import (
	"image"
	"image/color"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/oned"
	"github.com/makiuchi-d/gozxing/qrcode"
)

// drawn is a code with its quiet zone as a picture, modules of so many pixels.
func drawn(c Code, pixels, barsTall int) *image.Gray {
	wide, tall := (c.Wide+2*c.Quiet)*pixels, (c.Tall+2*c.Quiet)*pixels
	if c.IsBars() {
		tall = barsTall
	}
	out := image.NewGray(image.Rect(0, 0, wide, tall))
	for y := range tall {
		for x := range wide {
			row := 0
			if !c.IsBars() {
				row = y/pixels - c.Quiet
			}
			out.SetGray(x, y, color.Gray{Y: 255})
			if c.Dark(x/pixels-c.Quiet, row) {
				out.SetGray(x, y, color.Gray{})
			}
		}
	}
	return out
}

// decoded reads a picture of a code with a decoder that shares nothing with the encoder. A pure picture is
// nothing but the code.
func decoded(reader gozxing.Reader, from image.Image, pure bool) (string, error) {
	bitmap, err := gozxing.NewBinaryBitmapFromImage(from)
	if err != nil {
		return "", err
	}
	hint := gozxing.DecodeHintType_TRY_HARDER
	if pure {
		hint = gozxing.DecodeHintType_PURE_BARCODE
	}
	result, err := reader.Decode(bitmap, map[gozxing.DecodeHintType]any{hint: true})
	if err != nil {
		return "", err
	}
	return result.GetText(), nil
}

// TestCodesReadBack holds every level and length of codes against another decoder.
func TestCodesReadBack(t *testing.T) {
	for _, text := range []string{"D-000417", "2026-0417", "20000001", "https://example.org/x?y=1", "Prüfstück Nr. 7 – 上皿", inventedProof(120, 1), inventedProof(350, 2)} {
		for level := CorrectL; level <= CorrectH; level++ {
			c, err := QR(text, level)
			if err != nil {
				t.Fatalf("%d bytes, level %d: %v", len(text), level, err)
			}
			if got, err := decoded(qrcode.NewQRCodeReader(), drawn(c, 4, 0), true); err != nil || got != text {
				t.Errorf("QR of level %d: %q is read as %q, %v", level, text, got, err)
			}
		}
	}
	for _, text := range []string{"D-000417", "20000001", "T1", "balance-210/3", "A b~c", strings.Repeat("7", 30)} {
		c, err := Code128(text)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := decoded(oned.NewCode128Reader(), drawn(c, 2, 60), true); err != nil || got != text {
			t.Errorf("Code 128: %q is read as %q, %v", text, got, err)
		}
	}
}

func TestWhatACodeRefuses(t *testing.T) {
	if _, err := QR("", CorrectL); err == nil {
		t.Error("a QR code of nothing was made")
	}
	if _, err := QR(strings.Repeat("ü", 3000), CorrectL); err == nil {
		t.Error("a QR code of more than it holds was made")
	}
	for _, text := range []string{"", "Prüfstück", "a\nb", "上", strings.Repeat("x", 200)} {
		if _, err := Code128(text); err == nil {
			t.Errorf("a Code 128 of %.20q was made", text)
		}
	}
}

// TestFitQR finds the most correction whose modules are large enough: on narrow paper a proof of the largest
// size has modules of four dots, half a millimetre.
func TestFitQR(t *testing.T) {
	for _, row := range []struct {
		size, wide, white, dots int
		module                  int
		level                   Correction
	}{
		{350, 384, 40, 4, 4, CorrectQ}, // paper of 58 mm, 48 of them printed on
		{350, 384, 0, 4, 4, CorrectM},
		{350, 576, 32, 4, 4, CorrectH}, // of 80 mm
		{350, 230, 0, 4, 3, CorrectL},  // none has modules of four dots
		{120, 384, 0, 4, 4, CorrectH},
	} {
		c, module, err := FitQR(inventedProof(row.size, 3), row.wide, row.white, row.dots)
		if err != nil {
			t.Fatal(err)
		}
		if module != row.module || c.Corrects != row.level {
			t.Errorf("%d bytes on %d dots: %d dots a module at level %d (%d modules), want %d at level %d", row.size, row.wide, module, c.Corrects, c.Wide, row.module, row.level)
		}
		if c.Wide*module > row.wide || (c.Wide+2*c.Quiet)*module > row.wide+2*row.white {
			t.Errorf("%d bytes: %d dots wide, %d and %d white ones are there", row.size, c.Wide*module, row.wide, 2*row.white)
		}
	}
	if c, _, err := FitQR(inventedProof(350, 3), 60, 0, 4); err == nil {
		t.Errorf("a code of %d modules was made for 60 dots", c.Wide)
	} else if !strings.Contains(err.Error(), "wider") {
		t.Errorf("the error of a code that is too wide says %v", err)
	}
}

// TestRunsCoverEachDarkModuleOnce, so that what is drawn is the code.
func TestRunsCoverEachDarkModuleOnce(t *testing.T) {
	c, err := QR(inventedProof(350, 4), CorrectM)
	if err != nil {
		t.Fatal(err)
	}
	times := map[image.Point]int{}
	runs := c.runs()
	for _, r := range runs {
		for y := range r.tall {
			for x := range r.wide {
				times[image.Pt(r.x+x, r.y+y)]++
			}
		}
	}
	for y := range c.Tall {
		for x := range c.Wide {
			want := 0
			if c.Dark(x, y) {
				want = 1
			}
			if n := times[image.Pt(x, y)]; n != want {
				t.Fatalf("module %d, %d is covered %d times, want %d", x, y, n, want)
			}
		}
	}
	if len(runs) > c.Wide*c.Tall/3 {
		t.Errorf("%d rectangles for %d modules", len(runs), c.Wide*c.Tall)
	}
}

// TestCharactersAreTheCode turns the half blocks back into modules and reads them.
func TestCharactersAreTheCode(t *testing.T) {
	c, err := QR("D-000417", CorrectM)
	if err != nil {
		t.Fatal(err)
	}
	lines := c.Characters()
	const pixels = 3
	out := image.NewGray(image.Rect(0, 0, len([]rune(lines[0]))*pixels, 2*len(lines)*pixels))
	for y, line := range lines {
		for x, r := range []rune(line) {
			for half := range 2 {
				grey := color.Gray{Y: 255}
				if r == '█' || half == 0 && r == '▀' || half == 1 && r == '▄' {
					grey.Y = 0
				}
				for i := range pixels * pixels {
					out.SetGray(x*pixels+i%pixels, (2*y+half)*pixels+i/pixels, grey)
				}
			}
		}
	}
	if got, err := decoded(qrcode.NewQRCodeReader(), out, true); err != nil || got != c.Text {
		t.Errorf("%q is read as %q, %v", c.Text, got, err)
	}
}

// TestAlphanumericCapacities holds the table against the encoder, and against the figures of ISO/IEC 18004
// for versions 1 and 40 (from memory): 25 and 4296 characters at level L, 10 and 1852 at level H.
func TestAlphanumericCapacities(t *testing.T) {
	if l, h := alphanumeric[CorrectL], alphanumeric[CorrectH]; l[0] != 25 || l[39] != 4296 || h[0] != 10 || h[39] != 1852 {
		t.Errorf("versions 1 and 40 hold %d and %d at level L, %d and %d at level H", l[0], l[39], h[0], h[39])
	}
	for level := CorrectL; level <= CorrectH; level++ {
		for _, version := range []int{1, 2, 7, 9, 10, 13, 18, 21, 26, 27} {
			holds := alphanumeric[level][version-1]
			for _, row := range []struct{ length, version int }{{holds, version}, {holds + 1, version + 1}} {
				c, err := QR(strings.Repeat("A", row.length), level)
				if err != nil {
					t.Fatal(err)
				}
				if want := 17 + 4*row.version; c.Wide != want || sideQR(c.Text, level) != want {
					t.Errorf("%d characters at level %d: %d modules, looked up %d, want %d", row.length, level, c.Wide, sideQR(c.Text, level), want)
				}
			}
		}
	}
}
