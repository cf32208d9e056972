package web

import (
	"html"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"wreath/internal/picture"
	"wreath/internal/plan"
)

// planAt is the plan page of an address, as text.
func planAt(c *client, status int, fields ...string) string {
	c.t.Helper()
	ask := url.Values{}
	for i := 0; i+1 < len(fields); i += 2 {
		ask.Set(fields[i], fields[i+1])
	}
	return html.UnescapeString(c.get("/plan?" + ask.Encode()).want(status).body)
}

// TestPlanPage asks the page what a fine station and a coarse balance can tell.
func TestPlanPage(t *testing.T) {
	s := newBench(t)
	c := s.client()
	blank := planAt(c, 200)
	for _, w := range []string{`<a href="/plan" aria-current="page">Plan</a>`, `<option value="S-1" selected>`, "before hands get wet"} {
		if !strings.Contains(blank, w) {
			t.Errorf("the empty page does not say %q", w)
		}
	}
	if strings.Contains(blank, `id="expect"`) || strings.Contains(blank, `role="alert"`) {
		t.Error("the empty page gives an answer that nobody asked for")
	}
	fine := planAt(c, 200, "station", "S-1", "mass", "2", "unit", "g", "metal", "gold", "fineness", "18ct", "family", "gold-yellow")
	for _, w := range []string{"This station tells gold 750, yellow gold from gold 585 on an item of 2 g", "why?", "U = k·u", "No number of repeats passes", "smallest item", `value="18ct"`,
		"What to improve first", "repeatability of the balance", "repeat the weighing, shield the balance from draught", "a balance of", "0.00001 g", "the picture as a table", "2 g (this item)", "Density can't see a core under gold"} {
		if !strings.Contains(fine, w) {
			t.Errorf("the plan at a station does not say %q", w)
		}
	}
	if n := strings.Count(fine, `class="pic plan"`); n != 3 {
		t.Errorf("the plan is drawn %d times, want at three widths", n)
	}
	coarse := planAt(c, 200, "station", "", "mass", "2", "unit", "g", "metal", "gold", "fineness", "750", "colour", "yellow", "resolution", "0,01")
	for _, w := range []string{"This station can't tell gold 750 from gold 585 on an item of 2 g", "from 6.03 g on it can, and a balance that reads 0.001 g can", `<span class="tag stop">no</span>`, `<span class="tag watch">for most</span>`, `<span class="tag">yes</span>`, `value="0,01"`} {
		if !strings.Contains(coarse, w) {
			t.Errorf("the plan on a coarse balance does not say %q", w)
		}
	}
	if strings.Contains(coarse, "if the item is") {
		t.Error("how likely each finding is was worked out without being asked")
	}
	chances := regexp.MustCompile(`href="(/plan\?[^"]*chances=1[^"]*)#chances"`).FindStringSubmatch(coarse)
	if chances == nil {
		t.Fatal("the page has no way to how likely each finding is")
	}
	if body := c.get(chances[1]).want(200).body; !strings.Contains(body, "if the item is") || !strings.Contains(body, "&gt; 99.9 %") {
		t.Error("the page does not say how likely each finding is")
	}
	if body := planAt(c, 200, "station", "", "mass", "0.5", "unit", "g", "metal", "gold", "fineness", "750", "resolution", "0.1 g"); !strings.Contains(body, "does not see the weight that an item of 0.5 g loses") || !strings.Contains(body, "–") {
		t.Error("the page does not say that the balance sees nothing")
	}
	if carats := planAt(c, 200, "station", "S-1", "mass", "10 ct", "unit", "g", "metal", "gold", "fineness", "750"); !strings.Contains(carats, "an item of 2 g") {
		t.Error("a mass in carats is not read")
	}
	if units := planAt(c, 200, "station", "S-1", "mass", "1", "unit", "ozt", "metal", "gold", "fineness", "999"); !strings.Contains(units, "an item of 31.1 g") {
		t.Error("a mass in troy ounces is not read")
	}
	named := planAt(c, 200, "station", "S-1", "mass", "5", "metal", "gold", "fineness", "750", "against", "silver 925, tungsten", "repeats", "4", "temperature", "21,5", "house_rule", "first-look")
	for _, w := range []string{"from silver 925", "tungsten, wrought", "each: 4.", `<option value="first-look" selected>`} {
		if !strings.Contains(named, w) {
			t.Errorf("the plan of a question of one's own does not say %q", w)
		}
	}
}

// TestPlanPageSaysHowToMend sends bad questions: what was entered stays, and the field at fault is marked.
func TestPlanPageSaysHowToMend(t *testing.T) {
	s := newBench(t)
	c := s.client()
	for _, row := range []struct {
		name, field, says string
		change            []string
	}{
		{"no mass", "mass", "The mass is missing.", []string{"mass", "", "ask", "1"}},
		{"odd mass", "mass", "The mass can't be read.", []string{"mass", "two"}},
		{"no weight at all", "mass", "0 g cannot be right", []string{"mass", "0"}},
		{"beyond the balance", "mass", "capacity of 210 g", []string{"mass", "400"}},
		{"no metal", "metal", "Nothing is claimed of the item.", []string{"metal", ""}},
		{"odd fineness", "fineness", "The claimed fineness can't be read.", []string{"fineness", "fine"}},
		{"no fineness", "fineness", "The claimed fineness is missing.", []string{"fineness", ""}},
		{"alloy of another metal", "family", "one of another metal", []string{"family", "silver-copper"}},
		{"told from nothing known", "against", "unobtainium", []string{"against", "unobtainium"}},
		{"too many repeats", "repeats", "That number of repeats can't be used.", []string{"repeats", "21"}},
		{"no balance", "resolution", "Choose a station", []string{"station", ""}},
		{"odd step", "resolution", "Write number and unit, such as 0.1 mg.", []string{"resolution", "fine"}},
		{"odd temperature", "temperature", "The number can't be read.", []string{"temperature", "warm"}},
		{"water that is hot", "temperature", "120", []string{"temperature", "120"}},
		{"strong water", "strength", "Water has no strength.", []string{"liquid", "water", "strength", "40"}},
	} {
		form := map[string]string{"station": "S-1", "mass": "2.0404", "unit": "g", "metal": "gold", "fineness": "750", "colour": "yellow"}
		for i := 0; i < len(row.change); i += 2 {
			form[row.change[i]] = row.change[i+1]
		}
		var fields []string
		for name, text := range form {
			fields = append(fields, name, text)
		}
		body := planAt(c, 422, fields...)
		if !strings.Contains(body, `role="alert"`) || !strings.Contains(body, row.says) {
			t.Errorf("%s: the page does not say %q", row.name, row.says)
		}
		if !regexp.MustCompile(`name="` + row.field + `"[^>]* aria-invalid="true"`).MatchString(body) {
			t.Errorf("%s: the field %s is not marked", row.name, row.field)
		}
		if n := strings.Count(body, "aria-invalid"); n != 1 {
			t.Errorf("%s: %d fields are marked", row.name, n)
		}
		for name, text := range form {
			if text == "" || name == "ask" {
				continue
			}
			if !strings.Contains(body, `value="`+text+`"`) {
				t.Errorf("%s: %s was %q, and is gone", row.name, name, text)
			}
		}
		if strings.Contains(body, `id="expect"`) {
			t.Errorf("%s: there is an answer all the same", row.name)
		}
	}
	planAt(c, 404, "station", "nowhere", "mass", "2", "metal", "gold", "fineness", "750")
}

// TestPlanPageInOtherLanguages reads the page in German and Spanish: sentence, tables and picture.
func TestPlanPageInOtherLanguages(t *testing.T) {
	s := newBench(t)
	for lang, says := range map[string][]string{
		"de": {"Diese Station kann Gold 750 nicht von Gold 585 unterscheiden, an einem Stück von 2 g: zu erwarten ist ± 2,3 g/cm³", "ab 6,03 g geht es, und mit einer Waage, die 0,001 g anzeigt, auch", "Keine Zahl von Wiederholungen unterbietet", "Waage mit 0,001 g: ± 0,46 für dieses Stück", "unter ± 0,79: Gold 750 oder Gold 585", "Wiederholbarkeit der Waage", "für die meisten"},
		"es": {"Este puesto no puede distinguir oro 750 de oro 585 en una pieza de 2 g", "balanza de 0,001 g", "repetibilidad de la balanza", "para la mayoría"},
	} {
		c := s.client()
		body := html.UnescapeString(c.do("GET", "/plan?station=&mass=2&metal=gold&fineness=750&colour=yellow&resolution=0.01+g", nil, "Accept", "text/html", "Accept-Language", lang).want(200).body)
		for _, w := range says {
			if !strings.Contains(body, w) {
				t.Errorf("%s: the page does not say %q", lang, w)
			}
		}
		for _, w := range []string{"told from", "a balance", "this balance", "expect ", "g/cm³, ± 0."} {
			if strings.Contains(body, w) {
				t.Errorf("%s: the page says %q in English", lang, w)
			}
		}
	}
}

// TestPlanTableHoldsThePicture: what the picture draws stands in its table too.
func TestPlanTableHoldsThePicture(t *testing.T) {
	falls := func(by float64) func(float64) float64 {
		return func(m float64) float64 { return by / m }
	}
	p := &plan.Plan{MassG: 3, Curve: falls(3), Finer: []plan.Finer{{ResolutionG: 0.001, Curve: falls(0.3)}}}
	_, table := drawPlan(words{Decimal: "."}, p)
	if !slices.Equal(table.Names, []string{"this balance", "a balance of 0.001 g"}) || len(table.Names) != len(picture.PlanOf(p).Stations) {
		t.Errorf("the table is of %v", table.Names)
	}
	for _, row := range table.Rows {
		if row.Here != (row.Mass == "3 g") {
			t.Errorf("%s: the item at hand is %v", row.Mass, row.Here)
		}
		if row.Here && !slices.Equal(row.Values, []string{"± 1.0", "± 0.10"}) {
			t.Errorf("the row of the item is %v", row.Values)
		}
	}
}
