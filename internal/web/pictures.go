package web

import (
	"html/template"

	"wreath/internal/determination"
	"wreath/internal/picture"
)

// pictures are the drawings of one answer, each at the widths at which it is shown.
type pictures struct {
	Scale, Narrow     template.HTML
	Middle, Record    template.HTML
	Sign              template.HTML
	Density, Fineness template.HTML
	Sentence          string
	Folded            []string      // what the picture of the sheet leaves out for room
	FitsOnly          bool          // the same of neighbours that do not fit
	All               template.HTML // that picture with nothing left out, where something is
	Rows              []picture.Row
}

// The sheet's picture at 1280x800 px: what lies above and below it is seen without scrolling, too.
// Each doubt after the first takes a sentence's room from it.
const (
	sheetWide = 768
	sheetTall = 366
	forDoubt  = 44
	mostShown = 3 // doubts
)

func sheetRoom(a *determination.Answer) int {
	if a == nil {
		return sheetTall
	}
	return sheetTall - forDoubt*max(0, min(len(a.Doubts), mostShown)-1)
}

// draw draws an answer; nil draws what there is before anything is weighed.
func draw(w words, a *determination.Answer, claim *determination.Claim, whole bool) pictures {
	subject := picture.Subject{Answer: a, Claim: claim, In: w.book}
	in := picture.Language{Book: w.book}
	at := func(width int) template.HTML { return picture.Scale(subject, picture.ScaleOptions{Width: width}).SVG }
	sheet := picture.Scale(subject, picture.ScaleOptions{Width: sheetWide, Tall: sheetRoom(a)})
	p := pictures{
		Scale: sheet.SVG, Folded: sheet.Folded, FitsOnly: sheet.FitsOnly, Middle: at(688), Narrow: at(picture.Narrow),
		Sign:     in.Sign(picture.FindingOf(a)).SVG,
		Sentence: picture.Sentence(subject),
	}
	if len(p.Folded) > 0 || p.FitsOnly {
		p.All = at(sheetWide)
	}
	if a == nil {
		return p
	}
	p.Rows = picture.Table(subject, 5)
	if whole {
		p.Record = at(1184)
		p.Density = in.Density(a, 460).SVG
		if a.Fineness != nil {
			p.Fineness = in.Fineness(a, 460).SVG
		}
	}
	return p
}

// Held says that a doubt holds the finding back.
func (v *sheetView) Held() bool { return picture.Doubtful(v.Answer) }
