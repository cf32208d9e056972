package web

import (
	"cmp"
	"html/template"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"wreath/alloy"
	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/people"
	"wreath/internal/picture"
	"wreath/internal/plan"
	"wreath/internal/station"
	"wreath/quantity"
	"wreath/uncertainty"
)

// planView is the plan of a weighing, with the form that asked for it.
type planView struct {
	Form     map[string]string // what was entered, by field
	Problem  *problem          // why there is no plan
	Stations []station.Station
	Families []*alloy.Family
	Rules    []determination.HouseRule
	Units    []quantity.MassUnit

	Plan     *plan.Plan // nil: none was asked for, or the question is bad
	Density  string     // to expect, rounded as its interval
	U        string
	Pictures planPictures
	Curve    curveTable
	Workings []working
	Chances  string // address of the same plan with how likely each finding is
}

// planPictures are the drawings of a plan at the widths at which they are shown.
type planPictures struct{ Wide, Middle, Narrow template.HTML }

// curveTable is the picture of a plan in rows.
type curveTable struct {
	Names []string
	Rows  []curveRow
}

type curveRow struct {
	Mass   string
	Here   bool     // the item at hand
	Values []string // "" where the balance does not see the item
}

// planFields are the fields of the form; their values come back whatever becomes of them.
var planFields = []string{"mass", "unit", "metal", "fineness", "family", "colour", "against", "repeats", "station", "house_rule",
	"resolution", "repeatability", "repeatability_liquid", "arrangement", "liquid", "strength", "temperature", "chances", "sheet"}

// plan answers what a weighing can be expected to decide. Its form is an address, so that it can be kept.
func (s *Server) plan(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	v := &planView{Form: map[string]string{}, Families: alloy.Families(), Rules: determination.HouseRules, Units: quantity.MassUnits}
	for _, name := range planFields {
		v.Form[name] = strings.TrimSpace(r.FormValue(name))
	}
	if who.May(people.SeeStations) {
		equipment, err := s.current().Equipment(r.Context(), who)
		if err != nil {
			return err
		}
		v.Stations = equipment.Stations
	}
	if !r.URL.Query().Has("station") && v.Form["resolution"] == "" {
		if c, err := r.Cookie("wreath-station"); err == nil && slices.ContainsFunc(v.Stations, func(st station.Station) bool { return st.ID == c.Value }) {
			v.Form["station"] = c.Value
		} else if len(v.Stations) > 0 {
			v.Form["station"] = v.Stations[0].ID
		}
	}
	status := http.StatusOK
	if v.Form["mass"] != "" || r.URL.Query().Has("ask") {
		if err := s.makePlan(r, who, v); err != nil {
			v.Problem = asProblem(err)
			if status = v.Problem.Status; status >= http.StatusInternalServerError {
				return err
			}
		}
	}
	s.render(w, r, status, "plan", view{Title: say("Plan"), Nav: "plan", Who: who, Body: v})
	return nil
}

// makePlan reads the form and fills in the answer.
func (s *Server) makePlan(r *http.Request, who *desk.Who, v *planView) error {
	q, err := planQuestion(v.Form)
	if err != nil {
		return err
	}
	if q.Draft, err = s.atSheet(r, who, v, q.Draft); err != nil {
		return err
	}
	if id := v.Form["station"]; id != "" && v.Form["sheet"] == "" {
		claim, item := q.Draft.Claim, q.Draft.Item
		if q.Draft, err = s.current().AtStation(r.Context(), who, id, q.Draft); err != nil {
			return err
		}
		q.Draft.Claim, q.Draft.Item = claim, item
	}
	q.Station = v.Form["station"]
	if q.Draft.Liquid == nil || q.Draft.Liquid.Kind == "" {
		water := determination.Liquid{}
		if q.Draft.Liquid != nil {
			water = *q.Draft.Liquid
		}
		water.Kind, q.Draft.Liquid = "water", &water
	}
	ask := plan.Outline
	if v.Form["chances"] != "" {
		ask = plan.Make
	}
	p, err := ask(q)
	if err != nil {
		return err
	}
	in := wordsFor(r)
	v.Plan = p
	v.Density, v.U = expected(p)
	v.Pictures, v.Curve = drawPlan(in, p)
	v.Workings = planWorkings(p)
	again := url.Values{"chances": {"1"}}
	for name, text := range v.Form {
		if text != "" {
			again.Set(name, text)
		}
	}
	v.Chances = "/plan?" + again.Encode() + "#chances"
	return nil
}

// atSheet fills in what a sheet knows of its place, as far as the form does not say otherwise: its own
// figures, and the check piece that was weighed in its liquid. A sheet that is not there any more, or that
// lies at another station than the form names, gives nothing.
func (s *Server) atSheet(r *http.Request, who *desk.Who, v *planView, own *determination.Draft) (*determination.Draft, error) {
	id := v.Form["sheet"]
	v.Form["sheet"] = ""
	if id == "" {
		return own, nil
	}
	sheet, err := s.current().Sheet(r.Context(), who, id)
	if err != nil {
		return own, nil // the plan stands without it
	}
	at := ""
	if sheet.Sheet.Station != nil {
		at = sheet.Sheet.Station.ID
	}
	filled, err := s.current().Filled(r.Context(), who, id)
	if err != nil || at != v.Form["station"] {
		return own, nil
	}
	v.Form["sheet"] = id
	dry := dryDraft(filled)
	if l := own.Liquid; l != nil && dry.Liquid.Proof != nil && (l.Kind != "" && l.Kind != dry.Liquid.Kind || l.EthanolVolumePercent20 != nil) {
		dry.Liquid.Proof = nil // it was weighed in another liquid
	}
	place := &station.Station{Arrangement: dry.Arrangement, HouseRule: dry.HouseRule, Defaults: &station.Draft{
		Method: dry.Method, Liquid: dry.Liquid, Air: dry.Air, Balance: dry.Balance, Hanger: dry.Hanger,
		ExpansionPerK: dry.ExpansionPerK, ExpansionUPerK: dry.ExpansionUPerK,
	}}
	applied, err := station.Apply(place, nil, own, nil, s.o.Now())
	if err != nil {
		return nil, err
	}
	applied.Draft.Claim, applied.Draft.Item = own.Claim, own.Item
	return applied.Draft, nil
}

// expected is the density to expect, and its expanded uncertainty.
func expected(p *plan.Plan) (density, u string) {
	if p.TooSmall {
		return "", ""
	}
	if p.Expanded >= p.Density {
		return strconv.FormatFloat(p.Density, 'g', 3, 64), twoDigits(p.Expanded)
	}
	return uncertainty.Round(p.Density, p.Expanded)
}

// planQuestion reads the form of the page.
func planQuestion(form map[string]string) (plan.Question, error) {
	q := plan.Question{Draft: &determination.Draft{HouseRule: form["house_rule"], Arrangement: form["arrangement"], Balance: &determination.Balance{}}}
	mass := form["mass"]
	if mass == "" {
		return q, formProblem("mass", say("The mass is missing."), say("Give what the item weighs: 12.4 g, 2.3 ct, 1 ozt."))
	}
	if strings.Trim(mass, "0123456789.,+- ") == "" {
		mass += " " + cmp.Or(form["unit"], "g")
	}
	var err error
	if q.MassG, err = quantity.ParseMass(mass, true); err != nil {
		return q, formProblem("mass", say("The mass can't be read."), say("Write number and unit, such as 12.4 g or 2.3 ct."))
	}
	if form["metal"] == "" {
		return q, formProblem("metal", say("Nothing is claimed of the item."), say("Say what it is said to be: a metal and its fineness."))
	}
	kind := cmp.Or(form["family"], form["metal"])
	if f, known := alloy.FamilyByKey(form["family"]); known && f.Metal != form["metal"] {
		return q, formProblem("family", say("That kind of alloy is one of another metal."), say("Choose one of the claimed metal, or leave it open."))
	}
	claim, _, err := determination.ClaimOf(kind + " " + strings.ReplaceAll(form["fineness"], ",", "."))
	if err != nil {
		return q, formProblem("fineness", say("The claimed fineness can't be read."), say("Write 750, or 18 ct."))
	}
	if claim.Fineness == nil {
		return q, formProblem("fineness", say("The claimed fineness is missing."), say("Write 750, or 18 ct."))
	}
	q.Draft.Claim = claim
	if form["colour"] != "" {
		q.Draft.Item = &determination.Item{Colour: form["colour"]}
	}
	for text := range strings.SplitSeq(form["against"], ",") {
		if text = strings.TrimSpace(text); text != "" {
			q.Against = append(q.Against, text)
		}
	}
	if text := form["repeats"]; text != "" {
		if q.Repeats, err = strconv.Atoi(text); err != nil || q.Repeats < 1 || q.Repeats > plan.MostRepeats {
			return q, formProblem("repeats", say("That number of repeats can't be used."), say("Give 1 to 20, or leave it to the house rule."))
		}
	}
	return q, ownFigures(form, q.Draft)
}

// ownFigures reads what is said beside the station, or in its place.
func ownFigures(form map[string]string, d *determination.Draft) error {
	for name, to := range map[string]**float64{"resolution": &d.Balance.ResolutionG, "repeatability": &d.Balance.RepeatabilityG, "repeatability_liquid": &d.Balance.RepeatabilityLiquidG} {
		text := form[name]
		if text == "" {
			continue
		}
		if strings.Trim(text, "0123456789.,+- ") == "" {
			text += " g"
		}
		grams, err := quantity.ParseMass(text, true)
		if err != nil {
			return formProblem(name, say("The mass can't be read."), say("Write number and unit, such as 0.1 mg."))
		}
		*to = &grams
	}
	if form["station"] == "" && form["sheet"] == "" && d.Balance.ResolutionG == nil {
		return formProblem("resolution", say("The step of the balance's last digit is missing."), say("Choose a station, or write what the last digit steps by, such as 0.01 g."))
	}
	if form["liquid"] == "" && form["strength"] == "" && form["temperature"] == "" {
		return nil
	}
	d.Liquid = &determination.Liquid{Kind: form["liquid"]}
	for name, to := range map[string]**float64{"strength": &d.Liquid.EthanolVolumePercent20, "temperature": &d.Liquid.TemperatureC} {
		if form[name] == "" {
			continue
		}
		number, err := quantity.ParseNumber(form[name], true)
		if err != nil {
			return formProblem(name, say("The number can't be read."), say("Write it with a point or a comma."))
		}
		*to = &number
	}
	if d.Liquid.Kind == "water" && d.Liquid.EthanolVolumePercent20 != nil {
		return formProblem("strength", say("Water has no strength."), say("Choose ethanol in water, or leave the strength out."))
	}
	return nil
}

func formProblem(field, title, hint string) *problem {
	return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: title, Hint: hint, Field: field}
}

// Bad says whether a field of the form is the one at fault.
func (v *planView) Bad(name string) bool {
	if v.Problem == nil {
		return false
	}
	at := v.Problem.Field
	if of, known := map[string]string{"claim": "fineness", "balance.resolution_g": "resolution", "liquid.temperature_c": "temperature", "liquid.ethanol_volume_percent_20c": "strength",
		"balance.repeatability_g": "repeatability", "balance.repeatability_liquid_g": "repeatability_liquid"}[at]; known {
		at = of
	}
	return at == name
}

// Own says that own figures are given or needed.
func (v *planView) Own() bool {
	return v.Form["station"] == "" || slices.ContainsFunc(planFields[10:17], func(name string) bool { return v.Form[name] != "" || v.Bad(name) })
}

// drawPlan draws a plan, and gives what it draws in rows.
func drawPlan(w words, p *plan.Plan) (planPictures, curveTable) {
	drawn := picture.PlanOf(p)
	for i := range drawn.Stations {
		drawn.Stations[i].Expanded = remembered(drawn.Stations[i].Expanded)
	}
	in := picture.Language{Book: w.book}
	out := planPictures{Wide: in.Plan(drawn, 760).SVG, Middle: in.Plan(drawn, 640).SVG, Narrow: in.Plan(drawn, picture.Narrow).SVG}
	masses := []float64{0.5, 1, 2, 5, 10, 20, 50, 100}
	if !slices.Contains(masses, p.MassG) {
		masses = append(masses, p.MassG)
		slices.Sort(masses)
	}
	t := curveTable{}
	for _, line := range drawn.Stations {
		t.Names = append(t.Names, line.Name)
	}
	for _, m := range masses {
		row := curveRow{Mass: strconv.FormatFloat(m, 'g', 4, 64) + " g", Here: m == p.MassG}
		for _, line := range drawn.Stations {
			text := ""
			if u := line.Expanded(m); !math.IsNaN(u) {
				text = "± " + twoDigits(u)
			}
			row.Values = append(row.Values, text)
		}
		t.Rows = append(t.Rows, row)
	}
	return out, t
}

// remembered is a function that works each value out once: three pictures ask for the same.
func remembered(f func(float64) float64) func(float64) float64 {
	known := map[float64]float64{}
	return func(x float64) float64 {
		y, found := known[x]
		if !found {
			y = f(x)
			known[x] = y
		}
		return y
	}
}

// planWorkings says how the numbers of a plan come about.
func planWorkings(p *plan.Plan) []working {
	if p.TooSmall {
		return nil
	}
	t := p.Questions[0]
	out := []working{
		{say("interval to expect"), "± " + twoDigits(p.Expanded) + " g/cm³", "U = k·u", say("u: from the readings that such an item would give here, by the model of every weighing; its causes stand below"), "JCGM 100 5.1, G.4"},
		{say("what repeats can't pass"), "± " + twoDigits(p.Floor) + " g/cm³", "n → ∞", say("rounding, liquid and temperature are the same in every repeat; only the scatter gets smaller"), "chosen here"},
	}
	if t.Needs > 0 {
		out = append(out, working{say("needed interval"), "± " + twoDigits(t.Needs) + " g/cm³", "√(g²/4 − 4 m²) · ρ²", say("g: gap between the two bands in specific volume, m: standard uncertainty of the mixing model there"), "chosen here"})
	}
	if t.SmallestG != nil {
		out = append(out, working{say("smallest item"), smallest(*t.SmallestG), "U(m) = U", say("the mass from which the interval to expect is no wider than the one needed, with the repeats planned"), "chosen here"})
	}
	return append(out, working{say("wrong decisions"), chance(t.Error) + "; " + chance(t.Floor), "½ ∫ min(p₁, p₂) dv", say("p: how likely each material shows a specific volume; here, and on a balance without any error; both materials equally likely"), "chosen here"})
}

// smallest prints a mass that is known to two digits.
func smallest(g float64) string {
	if g >= 100 {
		return strconv.FormatFloat(g, 'f', 0, 64) + " g"
	}
	return twoDigits(g) + " g"
}

// Smallest is the smallest item of a question.
func (v *planView) Smallest(t plan.Told) string {
	if t.SmallestG == nil {
		return "–"
	}
	return smallest(*t.SmallestG)
}

// Sign is the sign of an answer, of the kind of tag that it is shown as.
func (v *planView) Sign(answer string) string {
	switch answer {
	case plan.No:
		return " stop"
	case plan.ForMost:
		return " watch"
	}
	return ""
}

// Largest are the causes worth looking at: the first five that make a two-thousandth of the variance.
func (v *planView) Largest() (out []plan.Improvement) {
	for _, x := range v.Plan.Improve {
		if len(out) < 5 && x.Share >= 0.0005 {
			out = append(out, x)
		}
	}
	return out
}

// Repeats are the numbers of repeats that are shown.
func (v *planView) Repeats() (out []plan.Repeat) {
	for _, x := range v.Plan.ByRepeats {
		if x.N <= 5 || x.N == 10 {
			out = append(out, x)
		}
	}
	return out
}

// Chance prints a share of cases.
func (v *planView) Chance(p float64) string { return chance(p) }

// Figure prints a number with all of its digits.
func (v *planView) Figure(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
