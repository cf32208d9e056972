package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"reflect"
	"strings"

	"wreath/internal/determination"
	"wreath/internal/station"
	"wreath/quantity"
)

// documentOf makes the request of a sheet out of a form: item and claim, and what else the sheet asked
// for before.
func documentOf(r *http.Request, before *determination.Draft) (json.RawMessage, error) {
	draft := determination.Draft{}
	if before != nil {
		draft = *before
	}
	draft.Item = &determination.Item{
		Description: strings.TrimSpace(r.FormValue("description")),
		Colour:      r.FormValue("colour"),
		Stones:      yesNo(r.FormValue("stones")),
		Hollow:      yesNo(r.FormValue("hollow")),
	}
	if reflect.ValueOf(*draft.Item).IsZero() {
		draft.Item = nil
	}
	claim, err := claimOf(r)
	if err != nil {
		return nil, err
	}
	draft.Claim = claim
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

// claimOf reads what the item is said to be.
func claimOf(r *http.Request) (*determination.Claim, error) {
	metal, family, fineness := r.FormValue("metal"), r.FormValue("family"), strings.TrimSpace(r.FormValue("fineness"))
	if metal == "" && fineness == "" {
		return nil, nil
	}
	claim := &determination.Claim{Metal: metal, Family: family, MadeBy: strings.TrimSpace(r.FormValue("made_by"))}
	if metal == "" {
		return nil, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "A fineness is claimed, but of which metal?", Hint: "Choose the metal beside it."}
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
