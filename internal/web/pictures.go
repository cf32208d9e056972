package web

import (
	"fmt"
	"html/template"
	"net/http"
	"strings"

	"wreath/internal/desk"
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
	Folded            []string // what the picture of the sheet leaves out for room
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
	tall := sheetTall - forDoubt*max(0, min(len(a.Doubts), mostShown)-1)
	if a.Type != nil || a.Composite != nil {
		tall -= forDoubt
	}
	return tall
}

// draw draws an answer; nil draws what there is before anything is weighed.
func draw(w words, a *determination.Answer, claim *determination.Claim, whole bool) pictures {
	subject := picture.Subject{Answer: a, Claim: claim, In: w.book}
	in := picture.Language{Book: w.book}
	at := func(width int) template.HTML { return picture.Scale(subject, picture.ScaleOptions{Width: width}).SVG }
	sheet := picture.Scale(subject, picture.ScaleOptions{Width: sheetWide, Tall: sheetRoom(a)})
	p := pictures{
		Scale: sheet.SVG, Folded: sheet.Folded, Middle: at(688), Narrow: at(picture.Narrow),
		Sign:     in.Sign(picture.FindingOf(a)).SVG,
		Sentence: picture.Sentence(subject),
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

// lanesView is the picture of a sheet with nothing left out, and all that fits.
type lanesView struct {
	ID, Name string
	Answer   *determination.Answer
	Picture  lanesPicture
}

// lanesPicture is that picture at three widths, and as a table.
type lanesPicture struct {
	Record, Middle, Narrow template.HTML
	Rows                   []picture.Row
}

// lanes shows every lane of a sheet's picture, the picture as a table, and everything that fits.
func (s *Server) lanes(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	v, err := s.sheetView(r, who, r.PathValue("id"))
	if err != nil {
		return err
	}
	subject := picture.Subject{Answer: v.Answer, Claim: claimMade(v.Draft), In: wordsFor(r).book}
	at := func(width int) template.HTML { return picture.Scale(subject, picture.ScaleOptions{Width: width}).SVG }
	body := lanesView{ID: v.ID, Answer: v.Answer, Picture: lanesPicture{Record: at(1184), Middle: at(688), Narrow: at(picture.Narrow)}}
	if v.Answer != nil {
		body.Picture.Rows = picture.Table(subject, 5)
	}
	if v.Draft.Item != nil {
		body.Name = v.Draft.Item.Description
	}
	s.render(w, r, http.StatusOK, "lanes", view{Title: say("What it can be"), Nav: "bench", Who: who, Body: body})
	return nil
}

// fewest are the bands that the sheet names of those that its picture leaves out; the page of all lanes has them all.
const fewest = 4

// few names the first of a list, and how many more there are.
func few(lists []string) string {
	names := strings.Split(strings.Join(lists, ", "), ", ")
	if len(names) <= fewest {
		return strings.Join(names, ", ")
	}
	return fmt.Sprintf("%s + %d", strings.Join(names[:fewest], ", "), len(names)-fewest)
}

// Held says that a doubt holds the finding back.
func (v *sheetView) Held() bool { return picture.Doubtful(v.Answer) }
