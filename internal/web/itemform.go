package web

import (
	"fmt"
	"net/http"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"wreath/gem"
	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/mint"
	"wreath/quantity"
)

// What an item can be made of, as its form asks.
const (
	withStones = "stones"
	inLayers   = "layers"
	inQuartz   = "quartz"
	aHeap      = "heap"
)

// blankRows are the rows for stones that a form offers beside those that are written down.
const blankRows = 2

// itemOf reads the item out of a form. What the form does not hold stays as it was.
func itemOf(r *http.Request, before *determination.Item) (*determination.Item, error) {
	item := determination.Item{}
	if before != nil {
		item = *before
	}
	texts := map[string]*string{"description": &item.Description, "colour": &item.Colour, "type": &item.Type}
	for name, to := range texts {
		if r.Form.Has(name) {
			*to = strings.TrimSpace(r.FormValue(name))
		}
	}
	for name, to := range map[string]**bool{"stones": &item.Stones, "hollow": &item.Hollow, "worn": &item.Worn} {
		if r.Form.Has(name) {
			*to = yesNo(r.FormValue(name))
		}
	}
	if t := item.Type; r.Form.Has("type") && t != "" {
		item.Type = typeOf(t)
	}
	if r.Form.Has("intake") {
		item.IntakeMassG = nil
		if text := strings.TrimSpace(r.FormValue("intake")); text != "" {
			grams, err := quantity.ParseMass(gramsText(text), false)
			if err != nil {
				return nil, illegible("The mass at the intake", text, "Write grams, or a number with its unit: 3.2 dwt.")
			}
			item.IntakeMassG = &grams
		}
	}
	if r.Form.Has("made_of") {
		if err := madeOf(r, &item); err != nil {
			return nil, err
		}
	}
	if reflect.ValueOf(item).IsZero() {
		return nil, nil
	}
	return &item, nil
}

func illegible(what, text, hint string) error {
	return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: fmt.Sprintf("%s, %q, can't be read.", what, text), Hint: hint}
}

// typeOf finds the type that was typed, by its key or its name. What is not known stays as typed: the
// answer says so.
func typeOf(text string) string {
	for _, t := range mint.Types() {
		if strings.EqualFold(text, typeName(t)) || strings.EqualFold(text, t.Name) {
			return t.Key
		}
	}
	return text
}

// typeName is a type as the list of types shows it.
func typeName(t mint.Type) string {
	if t.Country == "" || t.Country == "-" {
		return t.Name
	}
	return t.Country + " " + t.Name
}

// madeOf reads what the item is made of, and what is asked of that kind. An item is of one kind.
func madeOf(r *http.Request, item *determination.Item) (err error) {
	kind := r.FormValue("made_of")
	layers, quartz := item.Layers, item.Quartz
	stones := item.StonesSet
	item.StonesSet, item.Layers, item.Quartz, item.Heap = nil, nil, nil, nil
	switch kind {
	case "":
	case withStones:
		item.StonesSet, err = stonesOf(r, stones)
	case inLayers:
		l := determination.Layers{}
		if layers != nil {
			l = *layers
		}
		l.Core, l.Plate = strings.TrimSpace(r.FormValue("core")), strings.TrimSpace(r.FormValue("plate"))
		err = numberOf(r, "area_cm2", &l.AreaCm2)
		item.Layers = &l
	case inQuartz:
		q := determination.Quartz{}
		if quartz != nil {
			q = *quartz
		}
		item.Quartz = &q
	case aHeap:
		item.Heap = new(true)
	default:
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: fmt.Sprintf("Made of %q is not in the list.", kind), Hint: "Go back and choose one."}
	}
	return err
}

// numberOf reads a number out of a form; an empty field is none.
func numberOf(r *http.Request, name string, to **float64) error {
	text := strings.TrimSpace(r.FormValue(name))
	if text == "" {
		*to = nil
		return nil
	}
	x, err := quantity.ParseNumber(text, true)
	if err != nil {
		return illegible("A number", text, "Write it in digits, such as 12.5.")
	}
	*to = &x
	return nil
}

// stonesOf reads the rows of stones. A row without a kind of stone is left out; of a row that was there
// what the form does not ask stays.
func stonesOf(r *http.Request, before []determination.StonesSet) (out []determination.StonesSet, err error) {
	for i := range 50 {
		field := func(name string) string { return fmt.Sprintf("%s-%d", name, i) }
		if !r.Form.Has(field("species")) {
			break
		}
		row := determination.StonesSet{}
		if i < len(before) {
			row = before[i]
		}
		if row.Species = strings.TrimSpace(r.FormValue(field("species"))); row.Species == "" {
			continue
		}
		for _, s := range gem.All() {
			if strings.EqualFold(row.Species, s.FullName()) {
				row.Species = s.Key
			}
		}
		row.Number = nil
		if text := strings.TrimSpace(r.FormValue(field("number"))); text != "" {
			n, err := strconv.Atoi(text)
			if err != nil {
				return nil, illegible("The number of stones", text, "Count them: 1, 2, 3.")
			}
			row.Number = &n
		}
		for name, to := range map[string]**float64{"diameter": &row.DiameterMM, "depth": &row.DepthMM, "carat": &row.CaratEach} {
			if err := numberOf(r, field(name), to); err != nil {
				return nil, err
			}
		}
		out = append(out, row)
	}
	if len(out) == 0 {
		return nil, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "Which stones are set in it?", Hint: "Name the kind of stone, such as diamond, and its size or its carats."}
	}
	return out, nil
}

// askedOf reads when to stop, how candidates are weighted and what is at hand.
func askedOf(r *http.Request, draft *determination.Draft) error {
	if r.Form.Has("stop_least") {
		rule := determination.StopRule{}
		for name, to := range map[string]**int{"stop_least": &rule.Least, "stop_most": &rule.Most} {
			if text := strings.TrimSpace(r.FormValue(name)); text != "" {
				n, err := strconv.Atoi(text)
				if err != nil {
					return illegible("The number of weighings", text, "Count them: 2, 3, 4.")
				}
				*to = &n
			}
		}
		if err := numberOf(r, "stop_enough", &rule.ExpandedKgM3); err != nil {
			return err
		}
		if rule.ExpandedKgM3 != nil {
			*rule.ExpandedKgM3 *= 1000 // typed in g/cm³
			*rule.ExpandedKgM3, _ = strconv.ParseFloat(strconv.FormatFloat(*rule.ExpandedKgM3, 'g', 12, 64), 64)
		}
		if draft.StopRule = nil; rule != (determination.StopRule{}) {
			draft.StopRule = &rule
		}
	}
	if r.Form.Has("weighting") {
		weights := determination.Weights{}
		if draft.Weights != nil {
			weights = *draft.Weights
		}
		weights.Use = r.FormValue("weighting")
		if draft.Weights = nil; weights != (determination.Weights{}) {
			draft.Weights = &weights
		}
	}
	if r.Form.Has("at_hand_asked") {
		draft.AtHand = slices.DeleteFunc(slices.Clone(r.Form["at_hand"]), func(s string) bool { return s == "" })
	}
	return nil
}

// itemForm is what the whole form of an item shows beside item and claim.
type itemForm struct {
	Types      []mint.Type
	Species    []gem.Species
	Weightings []determination.Weighting
	Tools      []string // that a next step may need
	Stones     []determination.StonesSet
	MadeOf     string
	Intake     string
	Type       string
	Draft      *determination.Draft
}

// formOf is the whole form of an item, filled in.
func formOf(draft *determination.Draft) itemForm {
	f := itemForm{Types: mint.Types(), Species: gem.All(), Weightings: determination.Weightings, Draft: draft}
	for _, a := range determination.Actions() {
		if a.Needs != "" && !slices.Contains(f.Tools, a.Needs) {
			f.Tools = append(f.Tools, a.Needs)
		}
	}
	rows := blankRows
	if draft != nil && draft.Item != nil {
		item := draft.Item
		f.Stones = slices.Clone(item.StonesSet)
		if item.IntakeMassG != nil {
			f.Intake = strconv.FormatFloat(*item.IntakeMassG, 'f', -1, 64)
		}
		if f.Type = item.Type; f.Type != "" {
			if t, found := mint.ByKey(item.Type); found {
				f.Type = typeName(*t)
			}
		}
		switch {
		case len(item.StonesSet) > 0:
			f.MadeOf = withStones
		case item.Layers != nil:
			f.MadeOf = inLayers
		case item.Quartz != nil:
			f.MadeOf = inQuartz
		case item.Heap != nil && *item.Heap:
			f.MadeOf = aHeap
		}
	}
	for range rows {
		f.Stones = append(f.Stones, determination.StonesSet{})
	}
	return f
}

// Has tells whether a tool is at hand.
func (f itemForm) Has(tool string) bool {
	return f.Draft != nil && slices.Contains(f.Draft.AtHand, tool)
}

// toolWords are the tools of the next steps.
var toolWords = map[string]string{
	"caliper": say("calliper"), "second-liquid": say("second liquid"), "magnet": say("magnet"), "conductivity": say("conductivity meter"),
	"sound": say("ultrasound"), "xrf": say("X-ray instrument"), "touchstone": say("touchstone"), "refractometer": say("refractometer"),
}

// itemView is the page with the whole form of an item.
type itemView struct {
	ID, Name string
	Readings int
	Draft    *determination.Draft
}

// itemPage is the whole form: coin or bar, stones, layers, and when to stop.
func (s *Server) itemPage(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	id := r.PathValue("id")
	sheet, err := s.current().Sheet(r.Context(), who, id)
	if err != nil {
		return err
	}
	draft, err := determination.Decode(asked(sheet.Sheet))
	if err != nil {
		return err
	}
	body := itemView{ID: id, Readings: len(sheet.Sheet.Readings), Draft: draft}
	if draft.Item != nil {
		body.Name = draft.Item.Description
	}
	s.render(w, r, http.StatusOK, "item", view{Title: say("Item and claim"), Nav: "bench", Who: who, Body: body})
	return nil
}

// claimMade is the claim that a draft makes, by itself or by its type of coin or bar.
func claimMade(d *determination.Draft) *determination.Claim {
	if d.Claim != nil || d.Item == nil || d.Item.Type == "" {
		return d.Claim
	}
	t, found := mint.ByKey(d.Item.Type)
	if !found {
		return nil
	}
	ppt, _ := strconv.ParseFloat(strconv.FormatFloat(1000*t.Fineness, 'g', 6, 64), 64)
	return &determination.Claim{Metal: t.Metal, Fineness: &ppt, MadeBy: ""}
}
