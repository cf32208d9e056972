package web

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"wreath/alloy"
	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/station"
	"wreath/internal/strictjson"
	"wreath/quantity"
)

// evidenceKind is one kind of further test, as its form asks for it.
type evidenceKind struct {
	Key, Name string
	About     string // how it is done, and what to mind
	Fields    []evidenceField
}

// evidenceField is one thing that a test finds.
type evidenceField struct {
	Name, Label, Unit string
	Choices           []string
	List              bool // several numbers, or metals with their parts
}

var evidenceKinds = []evidenceKind{
	{"size", say("size"), say("A coin: diameter, and thickness over the rim. A bar: three sides. Measure each at three places."), []evidenceField{
		{Name: "diameter_mm", Label: say("diameter"), Unit: "mm"}, {Name: "length_mm", Label: say("length"), Unit: "mm"}, {Name: "width_mm", Label: say("width"), Unit: "mm"},
		{Name: "thickness_mm", Label: say("thickness"), Unit: "mm"}, {Name: "u_mm", Label: say("known to, ±"), Unit: "mm"}}},
	{"magnet", say("magnet"), say("Hold a strong magnet to a bare place, away from clasp and pin."), []evidenceField{
		{Name: "result", Label: say("does it pull?"), Choices: []string{say("none"), say("weak"), say("strong")}}}},
	{"conductivity", say("conductivity"), say("On a flat, thick place, at room temperature."), []evidenceField{
		{Name: "percent_iacs", Label: say("reading"), Unit: "% IACS"}, {Name: "ms_per_m", Label: say("or"), Unit: "MS/m"}, {Name: "u_percent", Label: say("known to, ±"), Unit: "%"}}},
	{"sound", say("sound"), say("The velocity, or the time between two echoes with the thickness under the probe."), []evidenceField{
		{Name: "velocity_m_per_s", Label: say("velocity"), Unit: "m/s"}, {Name: "echo_us", Label: say("or time"), Unit: "µs"}, {Name: "thickness_mm", Label: say("with thickness"), Unit: "mm"}}},
	{"surface", say("surface"), say("What the analysis read, in parts per thousand. It sees the skin only."), []evidenceField{
		{Name: "parts", Label: say("such as: gold 752, silver 125, copper 123"), Unit: "‰", List: true}, {Name: "u_ppt", Label: say("known to, ±"), Unit: "‰"}}},
	{"touchstone", say("touchstone"), say("The needle whose streak it matches. Acid burns: gloves, goggles, air."), []evidenceField{
		{Name: "metal", Label: say("metal"), Choices: []string{say("gold"), say("silver"), say("platinum"), say("palladium")}}, {Name: "fineness_ppt", Label: say("fineness"), Unit: "‰"}, {Name: "u_ppt", Label: say("known to, ±"), Unit: "‰"}}},
	{"refraction", say("refraction"), say("Lowest and highest index while the stone turns. Contact liquid is toxic: gloves, air."), []evidenceField{
		{Name: "index", Label: say("one index, or two"), List: true}, {Name: "index_above", Label: say("or above, the end of the scale")}, {Name: "birefringence", Label: say("birefringence")}}},
}

// kindOf finds a kind of test.
func kindOf(key string) *evidenceKind {
	for i := range evidenceKinds {
		if evidenceKinds[i].Key == key {
			return &evidenceKinds[i]
		}
	}
	return nil
}

// pieceView is one piece of further evidence on a sheet.
type pieceView struct {
	Mark   string // by which it is known
	Kind   string // in words
	Given  []givenField
	Off    bool
	Effect *determination.EvidenceEffect // nil while there is no answer
	Aside  *record.Request               // the change that set it aside; nil: it counts
}

// givenField is one thing that was found, as it is printed.
type givenField struct{ Label, Text string }

// markOf is what a piece is known by; being switched off or on changes nothing of it.
func markOf(e determination.Evidence) string {
	e.Off = false
	text, err := json.Marshal(e)
	if err != nil { // a number that is none can't be in a draft that was decoded
		return ""
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:6])
}

func pieceOf(e determination.Evidence) pieceView {
	p := pieceView{Mark: markOf(e), Kind: e.Kind, Off: e.Off}
	kind := kindOf(e.Kind)
	text, err := json.Marshal(e)
	if kind == nil || err != nil {
		return p
	}
	p.Kind = kind.Name
	var found map[string]any
	if json.Unmarshal(text, &found) != nil {
		return p
	}
	for _, f := range kind.Fields {
		words := ""
		switch v := found[f.Name].(type) {
		case float64:
			words = strconv.FormatFloat(v, 'f', -1, 64)
		case string:
			words = v
		case []any:
			var parts []string
			for i := range v {
				if part, is := v[i].(map[string]any); is {
					parts = append(parts, fmt.Sprintf("%v %v", part["metal"], part["ppt"]))
				} else {
					parts = append(parts, fmt.Sprint(v[i]))
				}
			}
			words = strings.Join(parts, ", ")
		}
		if words != "" {
			label := f.Label
			if f.List {
				label = ""
			}
			p.Given = append(p.Given, givenField{label, strings.TrimSpace(words + " " + f.Unit)})
		}
	}
	return p
}

// piecesOf are the pieces of further evidence of a sheet: those that count in the order of the draft, then
// those that were set aside.
func piecesOf(requests []record.Request, draft *determination.Draft, answer *determination.Answer) (out []pieceView, err error) {
	counts := map[string]bool{}
	for i, e := range draft.Evidence {
		p := pieceOf(e)
		counts[p.Mark] = true
		if answer != nil && i < len(answer.Evidence) {
			p.Effect = &answer.Evidence[i]
		}
		out = append(out, p)
	}
	aside := map[string]pieceView{}
	var order []string
	before := map[string]determination.Evidence{}
	for i := range requests {
		then, err := determination.Decode(requests[i].Document)
		if err != nil {
			return nil, err
		}
		now := map[string]determination.Evidence{}
		for _, e := range then.Evidence {
			now[markOf(e)] = e
		}
		for mark, e := range before {
			if _, still := now[mark]; !still && !counts[mark] {
				if _, known := aside[mark]; !known {
					order = append(order, mark)
				}
				p := pieceOf(e)
				p.Aside = &requests[i]
				aside[mark] = p
			}
		}
		before = now
	}
	slices.Sort(order)
	slices.SortStableFunc(order, func(a, b string) int { return aside[a].Aside.Version - aside[b].Aside.Version })
	for _, mark := range order {
		out = append(out, aside[mark])
	}
	return out, nil
}

// everSaid finds a piece that a sheet holds or once held.
func everSaid(requests []record.Request, mark string) (*determination.Evidence, error) {
	for i := len(requests) - 1; i >= 0; i-- {
		then, err := determination.Decode(requests[i].Document)
		if err != nil {
			return nil, err
		}
		for j := range then.Evidence {
			if markOf(then.Evidence[j]) == mark {
				return &then.Evidence[j], nil
			}
		}
	}
	return nil, nil
}

// evidenceOf reads what a test found out of its form.
func evidenceOf(r *http.Request, w words) (*determination.Evidence, error) {
	kind := kindOf(r.FormValue("kind"))
	if kind == nil {
		return nil, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "Which test was it?", Hint: "Choose it in the list."}
	}
	found := map[string]any{"kind": kind.Key}
	for _, f := range kind.Fields {
		text := strings.TrimSpace(r.FormValue(kind.Key + "-" + f.Name))
		if text == "" {
			continue
		}
		switch {
		case f.Name == "parts":
			parts, err := partsOf(text, w)
			if err != nil {
				return nil, err
			}
			found[f.Name] = parts
		case f.List:
			var numbers []float64
			for _, each := range strings.FieldsFunc(text, func(c rune) bool { return c == ' ' || c == ';' }) {
				x, err := quantity.ParseNumber(strings.TrimSuffix(each, ","), true)
				if err != nil {
					return nil, illegible("A number", each, "Write the two with a blank between them: 1.762 1.770.")
				}
				numbers = append(numbers, x)
			}
			found[f.Name] = numbers
		case f.Choices != nil:
			found[f.Name] = text
		default:
			x, err := quantity.ParseNumber(text, true)
			if err != nil {
				return nil, illegible("A number", text, "Write it in digits, such as 12.5.")
			}
			found[f.Name] = x
		}
	}
	// A metal is chosen from the start: by itself it says nothing.
	if len(found) == 1 || len(found) == 2 && found["metal"] != nil {
		return nil, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "What did the test find?", Hint: "Write down at least one number of it."}
	}
	text, err := json.Marshal(found)
	if err != nil {
		return nil, err
	}
	e := new(determination.Evidence)
	return e, json.Unmarshal(text, e)
}

// partsOf reads the metals of a surface analysis: gold 752, silver 125. Names are those of the page's
// language, English ones or symbols.
func partsOf(text string, w words) (out []map[string]any, err error) {
	const how = "Write each metal with its parts per thousand: gold 752, silver 125, copper 123."
	names := map[string]string{}
	for _, m := range alloy.Metals() {
		for _, name := range []string{m.Name, m.Symbol, w.T(m.Name), w.S(m.Name)} {
			names[strings.ToLower(name)] = m.Name
		}
	}
	words := strings.Fields(strings.NewReplacer(";", " ", ", ", " ", "\n", " ").Replace(text))
	for i := 0; i < len(words); i += 2 {
		metal, known := names[strings.ToLower(words[i])]
		if !known {
			return nil, illegible("A metal", words[i], how)
		}
		if i+1 == len(words) {
			return nil, illegible("What follows the metal", words[i], how)
		}
		x, err := quantity.ParseNumber(strings.TrimSuffix(words[i+1], ","), true)
		if err != nil {
			return nil, illegible("A number", words[i+1], how)
		}
		out = append(out, map[string]any{"metal": metal, "ppt": x})
	}
	return out, nil
}

// changeEvidence adds further evidence to a sheet, switches it off or on, sets it aside or takes it back.
// Each is a change of what the sheet asks, so what was there before stays to be seen.
func (s *Server) changeEvidence(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if !who.May(people.ChangeDraft) {
		return refused(who, people.ChangeDraft)
	}
	id, d := r.PathValue("id"), s.current()
	sheet, err := d.Sheet(r.Context(), who, id)
	if err != nil {
		return err
	}
	requests := sheet.Sheet.Requests
	draft, err := determination.Decode(asked(sheet.Sheet))
	if err != nil {
		return err
	}
	mark := r.FormValue("piece")
	at := slices.IndexFunc(draft.Evidence, func(e determination.Evidence) bool { return markOf(e) == mark })
	list, reason := slices.Clone(draft.Evidence), ""
	switch act := r.FormValue("act"); {
	case act == "add":
		e, err := evidenceOf(r, wordsFor(r))
		if err != nil {
			return err
		}
		if slices.ContainsFunc(list, func(other determination.Evidence) bool { return markOf(other) == markOf(*e) }) {
			return s.done(w, r, id, nil) // it is there: sent twice
		}
		list, reason = append(list, *e), "evidence added: "+e.Kind
	case act == "restore":
		e, err := everSaid(requests, mark)
		if err != nil {
			return err
		}
		if e == nil || at >= 0 {
			return s.done(w, r, id, nil)
		}
		list, reason = append(list, *e), "evidence taken back: "+e.Kind
	case at < 0: // somebody else was faster
		return s.done(w, r, id, nil)
	case act == "off" || act == "on":
		if list[at].Off == (act == "off") {
			return s.done(w, r, id, nil)
		}
		list[at].Off = act == "off"
		reason = "evidence switched " + act + ": " + list[at].Kind
	case act == "aside":
		why := strings.TrimSpace(r.FormValue("reason"))
		if why == "" {
			why = "taken by mistake"
		}
		reason = "evidence set aside, " + list[at].Kind + ": " + why
		list = slices.Delete(list, at, at+1)
	default:
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "No act was chosen.", Hint: "Go back and choose one."}
	}
	if err := s.sensible(r, who, id, list); err != nil {
		return err
	}
	draft.Evidence = list
	document, err := station.WriteDraft(draft)
	if err != nil {
		return err
	}
	doer := by(r, who)
	doer.Seen = sheet.Seq // what was read above is what is changed
	_, err = d.Change(r.Context(), doer, id, document, reason)
	return s.done(w, r, id, err)
}

// sensible refuses evidence that can't be evaluated, before it is written down. Where readings are still
// missing it is looked at when they are there.
func (s *Server) sensible(r *http.Request, who *desk.Who, id string, list []determination.Evidence) error {
	complete, err := s.current().Filled(r.Context(), who, id)
	if err != nil {
		return nil // said where the sheet is evaluated
	}
	complete.Evidence = list
	_, err = determination.Evaluate(complete, determination.Options{})
	var field *strictjson.FieldError
	if errors.As(err, &field) && strings.HasPrefix(field.Path, "evidence") {
		return err
	}
	return nil
}
