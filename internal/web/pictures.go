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
	Rows              []picture.Row
}

// draw draws an answer; nil draws what there is before anything is weighed.
func draw(a *determination.Answer, claim *determination.Claim, whole bool) pictures {
	subject := picture.Subject{Answer: a, Claim: claim}
	at := func(width int) template.HTML { return picture.Scale(subject, picture.ScaleOptions{Width: width}).SVG }
	p := pictures{
		Scale: at(784), Middle: at(688), Narrow: at(picture.Narrow),
		Sign:     picture.Sign(picture.FindingOf(a)).SVG,
		Sentence: picture.Sentence(subject),
	}
	if a == nil {
		return p
	}
	p.Rows = picture.Table(subject, 5)
	if whole {
		p.Record = at(1184)
		p.Density = picture.Density(a, 460).SVG
		if a.Fineness != nil {
			p.Fineness = picture.Fineness(a, 460).SVG
		}
	}
	return p
}
