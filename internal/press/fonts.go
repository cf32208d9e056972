package press

import (
	"encoding/binary"
	"sync"

	"codeberg.org/go-pdf/fpdf"
	"github.com/go-fonts/dejavu/dejavusans"
	"github.com/go-fonts/dejavu/dejavusansbold"
	"github.com/go-fonts/dejavu/dejavusansmono"
	"github.com/go-fonts/dejavu/dejavuserif"
)

// The fonts of the papers. They are embedded, so that a paper looks the same everywhere.
const (
	sans  = "sans" // style "B" is its bold
	serif = "serif"
	mono  = "mono"
)

// addFonts makes the fonts known to a document. Only the letters that are used come into it.
func addFonts(pdf *fpdf.Fpdf) {
	pdf.AddUTF8FontFromBytes(sans, "", dejavusans.TTF)
	pdf.AddUTF8FontFromBytes(sans, "B", dejavusansbold.TTF)
	pdf.AddUTF8FontFromBytes(serif, "", dejavuserif.TTF)
	pdf.AddUTF8FontFromBytes(mono, "", dejavusansmono.TTF)
}

// letters are the characters that the sans has; the other fonts have fewer, and give way to it.
var letters = sync.OnceValue(func() map[rune]bool { return letterTable(dejavusans.TTF) })

// hasSerif tells whether a text can be set in the serif.
func hasSerif(text string) bool {
	table := serifLetters()
	for _, r := range text {
		if !table[r] {
			return false
		}
	}
	return true
}

var serifLetters = sync.OnceValue(func() map[rune]bool { return letterTable(dejavuserif.TTF) })

// hasBold tells whether a text can be set bold.
func hasBold(text string) bool {
	table := boldLetters()
	for _, r := range text {
		if !table[r] {
			return false
		}
	}
	return true
}

var boldLetters = sync.OnceValue(func() map[rune]bool { return letterTable(dejavusansbold.TTF) })

// letterTable reads the characters that a TrueType font has from its table cmap, subtable of format 4
// for the basic plane (OpenType specification, cmap; the layout from memory). A PDF of this program
// uses no others.
func letterTable(font []byte) map[rune]bool {
	be := binary.BigEndian
	out := map[rune]bool{}
	for i := range int(be.Uint16(font[4:])) {
		entry := font[12+16*i:]
		if string(entry[:4]) != "cmap" {
			continue
		}
		cmap := font[be.Uint32(entry[8:]):]
		for n := range int(be.Uint16(cmap[2:])) {
			table := cmap[be.Uint32(cmap[4+8*n+4:]):]
			if be.Uint16(table) != 4 {
				continue
			}
			segments := int(be.Uint16(table[6:])) / 2
			ends, starts := table[14:], table[16+2*segments:]
			deltas, offsets := table[16+4*segments:], table[16+6*segments:]
			for s := range segments {
				first, last := rune(be.Uint16(starts[2*s:])), rune(be.Uint16(ends[2*s:]))
				for r := first; r <= last && r < 0xffff; r++ {
					glyph := uint16(r)
					if offset := be.Uint16(offsets[2*s:]); offset != 0 {
						if glyph = be.Uint16(offsets[2*s+int(offset)+2*int(r-first):]); glyph == 0 {
							continue
						}
					}
					if glyph+be.Uint16(deltas[2*s:]) != 0 {
						out[r] = true
					}
				}
			}
		}
	}
	return out
}
