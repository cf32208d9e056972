package press

import (
	"html/template"

	"wreath/internal/paper"
	"wreath/internal/picture"
	"wreath/internal/sentence"
)

// SlipPart is a piece of a slip for a page that is printed by a browser: the same pieces in the same order as
// on the slip as text and as PDF.
type SlipPart struct {
	Kind  string // banner, centred, large, rule, pair, scale, finding, says, strong, item, small or code
	Label string // of a pair
	Text  string // in the language of the part; of a code the proof; of a scale what it leaves out
	// Lang is the language of the words that this program says, as an HTML page names it.
	Lang    string
	Picture template.HTML // of a scale, a finding and a code; "" without one
}

var slipKinds = map[slipKind]string{
	slipBanner: "banner", slipCentred: "centred", slipLarge: "large", slipLine: "rule", slipPair: "pair", slipScale: "scale",
	slipFinding: "finding", slipSays: "says", slipStrong: "strong", slipItem: "item", slipSmall: "small", slipCode: "code",
}

// SlipParts are the pieces of a slip. The quiet zone of its code may reach into the margins of the roll.
func SlipParts(f *paper.Facts, o SlipOptions) ([]SlipPart, error) {
	books, err := o.books()
	if err != nil {
		return nil, err
	}
	s, err := compose(f, books)
	if err != nil {
		return nil, err
	}
	langs := map[*sentence.Book]string{nil: "en"}
	for i, book := range books {
		langs[book] = o.Languages[i]
	}
	var out []SlipPart
	for _, b := range s.blocks {
		part := SlipPart{Kind: slipKinds[b.kind], Label: b.label, Text: b.text, Lang: langs[b.book]}
		switch b.kind {
		case slipScale:
			drawn, rest := s.drawn(b.book, o.Roll)
			part.Picture, part.Text = drawn.SVG, rest
		case slipFinding:
			part.Picture = picture.Language{Book: b.book}.Sign(b.sign).SVG
		case slipCode:
			if b.text == "" {
				continue
			}
			wide := int(o.Roll.Printable() / Dot)
			margin := int((float64(o.Roll) - o.Roll.Printable()) / 2 / Dot)
			code, dots, err := FitQR(b.text, wide, margin, moduleDots)
			if err != nil {
				return nil, err
			}
			part.Picture = template.HTML(code.SVG(dots, 0, b.book.Say("signed proof of this slip")))
		}
		out = append(out, part)
	}
	return out, nil
}
