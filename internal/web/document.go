package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"

	"wreath/internal/determination"
	"wreath/internal/station"
	"wreath/quantity"
)

// documentOf makes the request of a sheet out of a form: item and claim, and what else the sheet asked
// for before. A field that the form does not hold stays as it was.
func documentOf(r *http.Request, before *determination.Draft) (json.RawMessage, error) {
	draft := determination.Draft{}
	if before != nil {
		draft = *before
	}
	if err := r.ParseForm(); err != nil {
		return nil, err
	}
	item, err := itemOf(r, draft.Item)
	if err != nil {
		return nil, err
	}
	draft.Item = item
	if r.Form.Has("metal") || r.Form.Has("fineness") {
		if draft.Claim, err = claimOf(r, draft.Claim); err != nil {
			return nil, err
		}
	}
	if err := askedOf(r, &draft); err != nil {
		return nil, err
	}
	if rule := r.FormValue("house_rule"); rule != "" {
		draft.HouseRule = rule
	}
	if arrangement := r.FormValue("arrangement"); arrangement != "" {
		draft.Arrangement = arrangement
	}
	return station.WriteDraft(&draft)
}

func yesNo(text string) *bool {
	switch text {
	case "yes":
		return new(true)
	case "no":
		return new(false)
	}
	return nil
}

// claimOf reads what the item is said to be. What the form does not ask of a claim stays, unless another
// metal is claimed.
func claimOf(r *http.Request, before *determination.Claim) (*determination.Claim, error) {
	metal, fineness := r.FormValue("metal"), strings.TrimSpace(r.FormValue("fineness"))
	if metal == "" && fineness == "" {
		if before != nil && before.Stone != "" {
			return before, nil
		}
		return nil, nil
	}
	if metal == "" {
		return nil, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "A fineness is claimed, but of which metal?", Hint: "Choose the metal beside it."}
	}
	claim := &determination.Claim{}
	if before != nil && before.Metal == metal {
		*claim = *before
	}
	claim.Metal, claim.Fineness, claim.Carat = metal, nil, nil
	if r.Form.Has("family") {
		claim.Family = r.FormValue("family")
	}
	if r.Form.Has("made_by") {
		claim.MadeBy = strings.TrimSpace(r.FormValue("made_by"))
	}
	text, isCarat := strings.CutSuffix(strings.ToLower(fineness), "ct")
	number, err := quantity.ParseNumber(strings.TrimSpace(text), true)
	if err != nil {
		return nil, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: fmt.Sprintf("The claimed fineness %q can't be read.", fineness), Hint: "Write 750, or 18ct."}
	}
	if isCarat || metal == "gold" && number <= 24 {
		claim.Carat = &number
	} else {
		claim.Fineness = &number
	}
	return claim, nil
}

// claimWords is a claim in a few words.
func claimWords(c *determination.Claim) string {
	switch {
	case c == nil:
		return ""
	case c.Stone != "":
		return c.Stone
	case c.Carat != nil:
		return fmt.Sprintf("%s %g ct", c.Metal, *c.Carat)
	case c.Fineness != nil:
		return fmt.Sprintf("%s %g", c.Metal, *c.Fineness)
	}
	return c.Metal
}
