package press

import (
	"slices"
	"strings"
	"testing"

	"codeberg.org/go-pdf/fpdf"
	"pgregory.net/rapid"
)

// someText draws texts of all scripts, with marks, controls and signs beyond the basic plane.
func someText() *rapid.Generator[string] {
	letters := rapid.OneOf(
		rapid.RuneFrom([]rune("abc XYZ 0123 .,:;()[]-±")), rapid.RuneFrom([]rune("אבגד السلام عربي 7")), rapid.RuneFrom([]rune("ΑβγЖдё 金山 नम 👑\u0301\u202e\t")), rapid.Rune())
	return rapid.Custom(func(t *rapid.T) string { return string(rapid.SliceOfN(letters, 0, 120).Draw(t, "letters")) })
}

// TestLinesFit: no line is wider than asked, unless one letter is; no letter is lost, and what is printed twice
// is the same.
func TestLinesFit(t *testing.T) {
	pdf := fpdf.New("P", "mm", "A4", "")
	addFonts(pdf)
	pdf.AddPage()
	s := &setter{pdf: pdf}
	rapid.Check(t, func(t *rapid.T) {
		text := someText().Draw(t, "text")
		width := rapid.Float64Range(3, 120).Draw(t, "width")
		st := rapid.SampledFrom([]style{plainStyle, boldStyle, serifStyle}).Draw(t, "style")
		const size = 9
		var got []rune
		for _, line := range s.lines([]span{{text: text, style: st}}, size, width) {
			for _, p := range line.pieces {
				got = append(got, []rune(strings.ReplaceAll(p.text, " ", ""))...)
			}
			if n := 0; line.wide > width+0.01 {
				for _, p := range line.pieces {
					n += len([]rune(p.text))
				}
				if n > 1 {
					t.Fatalf("a line of %d letters is %.2f mm wide, asked were %.2f", n, line.wide, width)
				}
			}
		}
		printed, _ := printable(text)
		want := []rune(strings.ReplaceAll(printed, " ", ""))
		// Brackets turn where the text does, so each counts as either.
		for _, all := range [][]rune{got, want} {
			for i, r := range all {
				if other, mirrored := mirror[string(r)]; mirrored {
					all[i] = min(r, []rune(other)[0])
				}
			}
			slices.Sort(all)
		}
		if string(got) != string(want) {
			t.Fatalf("%q is set as %q, want the letters %q", text, string(got), string(want))
		}
		if err := pdf.Error(); err != nil {
			t.Fatal(err)
		}
	})
}

// TestLeftToRightStays: a text without letters from right to left stands as it is.
func TestLeftToRightStays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOf(rapid.RuneFrom([]rune("abcÄß 0123.,:()±→ΩЖ"))).Draw(t, "text")
		if got := visual(text); got != text {
			t.Fatalf("%q stands as %q", text, got)
		}
	})
}
