package web

import (
	"html/template"

	"wreath/internal/determination"
)

// pictures are the drawings of one answer.
type pictures struct {
	Wide, Middle, Narrow template.HTML
	Sign                 template.HTML
	Sentence             string
}

func draw(*determination.Answer, *determination.Draft) (pictures, error) { return pictures{}, nil }
