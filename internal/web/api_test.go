package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/plan"
	"wreath/internal/record"
	"wreath/internal/station"
)

// contract holds every answer of the endpoints against the description that the server publishes.
type contract struct {
	*client
	compiler *jsonschema.Compiler
	good     map[string]bool // endpoints that gave what they promise
	bad      map[string]bool // endpoints that refused something
}

const publishedAt = "https://description.invalid/openapi.json"

// newContract reads the description as a program would. Fields that it doesn't name are faults here, so that
// nothing is given out that is not described.
func newContract(c *client) *contract {
	c.t.Helper()
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(c.call("GET", "/openapi.json", nil).want(200).body))
	if err != nil {
		c.t.Fatal(err)
	}
	for _, schema := range doc.(map[string]any)["components"].(map[string]any)["schemas"].(map[string]any) {
		if s := schema.(map[string]any); s["properties"] != nil && s["additionalProperties"] == nil {
			s["additionalProperties"] = false
		}
	}
	k := &contract{client: c, compiler: jsonschema.NewCompiler(), good: map[string]bool{}, bad: map[string]bool{}}
	k.compiler.DefaultDraft(jsonschema.Draft2020)
	k.compiler.AssertFormat()
	if err := k.compiler.AddResource(publishedAt, doc); err != nil {
		c.t.Fatal(err)
	}
	return k
}

// holds asks that a document is as a place of the description says.
func (k *contract) holds(what, document string, place ...string) {
	k.t.Helper()
	pointer := "#"
	for _, p := range place {
		pointer += "/" + url.PathEscape(strings.NewReplacer("~", "~0", "/", "~1").Replace(p))
	}
	schema, err := k.compiler.Compile(publishedAt + pointer)
	if err != nil {
		k.t.Errorf("%s: %v", what, err)
		return
	}
	value, err := jsonschema.UnmarshalJSON(strings.NewReader(document))
	if err == nil {
		err = schema.Validate(value)
	}
	if err != nil {
		k.t.Errorf("%s: %v\n%.900s", what, err, document)
	}
}

// call sends a request and holds request and answer against the description.
func (k *contract) call(method, path string, document any, headers ...string) answer {
	k.t.Helper()
	a := k.client.call(method, path, document, headers...)
	r := httptest.NewRequest(method, apiRoot+path, nil)
	_, pattern := k.site.server.mux.Handler(r)
	what := method + " " + path
	if a.status >= 400 {
		k.bad[pattern] = true
		if a.header.Get("Content-Type") != problemMedia {
			k.t.Errorf("%s: %d comes as %q, want %s", what, a.status, a.header.Get("Content-Type"), problemMedia)
		}
		k.holds(what, a.body, "components", "schemas", "Problem")
		p := into[problem](a)
		if p.Status != a.status || p.Title == "" || p.Hint == "" || !strings.HasPrefix(p.Type, "/problems/") {
			k.t.Errorf("%s: status %d with the problem %+v", what, a.status, p)
		}
		return a
	}
	_, template, _ := strings.Cut(pattern, " ")
	place := []string{"paths", template, strings.ToLower(method)}
	kind, _, _ := strings.Cut(a.header.Get("Content-Type"), ";")
	if kind == "application/json" {
		k.holds(what, a.body, append(place, "responses", fmt.Sprint(a.status), "content", kind, "schema")...)
		if document != nil {
			sent, err := json.Marshal(document)
			if err != nil {
				k.t.Fatal(err)
			}
			k.holds(what+", what was sent", string(sent), append(place, "requestBody", "content", kind, "schema")...)
		}
	}
	k.good[pattern] = true
	return a
}

// refuses asks for a problem.
func (k *contract) refuses(status int, kind, method, path string, document any, headers ...string) problem {
	k.t.Helper()
	a := k.call(method, path, document, headers...)
	p := problem{}
	if a.status >= 400 {
		p = into[problem](a)
	}
	if a.status != status || p.Type != "/problems/"+kind {
		k.t.Errorf("%s %s: %d %s, want %d %s: %.300s", method, path, a.status, p.Type, status, kind, a.body)
	}
	return p
}

// doc is a JSON object under construction.
type doc = map[string]any

func parsed(t testing.TB, text string) (out doc) {
	t.Helper()
	if err := json.Unmarshal([]byte(text), &out); err != nil {
		t.Fatal(err)
	}
	return out
}

// ringDoc is a determination with its readings.
func ringDoc(t testing.TB) doc {
	d := parsed(t, claimDoc)
	d["air_g"], d["liquid_g"], d["arrangement"] = "7.4218 g", "6.9431 g", "hanging"
	d["liquid"] = doc{"kind": "water", "temperature_c": 21.5}
	return d
}

// TestContract calls every endpoint with good and with bad input.
func TestContract(t *testing.T) {
	s := newSite(t, password, func(o *Options) { withHub(t, o) })
	k := newContract(s.signedIn("boss"))
	later := s.clock.now().Add(24 * time.Hour)

	// Without being let in there is nothing but the description.
	nobody := newContract(s.client())
	for _, e := range endpoints {
		path := strings.NewReplacer("{name}", "x", "{id}", "x", "{no}", "1", "{number}", "x", "{hash}", "x", "{key}", "x").Replace(e.Path)
		a := nobody.call(e.Method, path, nil)
		if a.status != 401 || a.header.Get("WWW-Authenticate") != "Bearer" {
			t.Errorf("%s %s without being let in: %d", e.Method, e.Path, a.status)
		}
	}

	// Records.
	k.call("GET", "/shop", nil).want(200)
	k.refuses(400, "input", "GET", "/shop?x=1", nil)
	k.call("POST", "/evaluate", ringDoc(t)).want(200)
	if p := k.refuses(422, "input", "POST", "/evaluate", doc{"air": "7 g"}); p.Field != "air" {
		t.Errorf("unknown field: %+v, want it named", p)
	}
	// A plan.
	asked := doc{"mass": "2 g", "claim": "gold 750 yellow", "document": doc{"balance": doc{"resolution_g": 0.01}}}
	if p := into[plan.Plan](k.call("POST", "/plan", asked).want(200)); p.Questions[0].Answer != plan.No || !strings.Contains(p.Sentence, "can't tell") || len(p.Findings) == 0 {
		t.Errorf("the plan of a small ring on a coarse balance: %+v", p)
	}
	if p := into[plan.Plan](k.call("POST", "/plan", doc{"mass": "2 g", "claim": "gold-yellow 750", "station": "S-1", "against": []string{"585"}, "repeats": 3}).want(200)); p.Station != "S-1" || p.Questions[0].Answer != plan.Yes || p.Repeats != 3 {
		t.Errorf("the plan at a station: %+v", p)
	}
	for field, spoilt := range map[string]doc{
		"mass": {"mass": "2", "claim": "gold 750", "station": "S-1"}, "claim": {"mass": "2 g", "claim": "brass", "station": "S-1"},
		"balance.resolution_g": {"mass": "2 g", "claim": "gold 750"}, "repeats": {"mass": "2 g", "claim": "gold 750", "station": "S-1", "repeats": 21},
		"density_g_cm3": {"mass": "2 g", "claim": "gold 750", "station": "S-1", "density_g_cm3": 0},
		"against":       {"mass": "2 g", "claim": "gold 750", "station": "S-1", "against": []string{"unobtainium"}}, "gewicht": {"gewicht": "2 g"},
		"document.colour": {"mass": "2 g", "claim": "gold 750", "document": doc{"colour": "red"}},
	} {
		if p := k.refuses(422, "input", "POST", "/plan", spoilt); p.Field != field && "document."+p.Field != field {
			t.Errorf("%v: the field at fault is %q, want %q", spoilt, p.Field, field)
		}
	}
	k.refuses(404, "missing", "POST", "/plan", doc{"mass": "2 g", "claim": "gold 750", "station": "nowhere"})
	first := into[record.Record](k.call("POST", "/determinations", doc{"document": ringDoc(t), "barcode": "T-1"}).want(201))
	if p := k.refuses(422, "input", "POST", "/determinations", doc{"dokument": ringDoc(t)}); p.Field != "dokument" {
		t.Errorf("unknown field: %+v, want it named", p)
	}
	k.call("GET", "/determinations?text=plain&limit=1", nil).want(200)
	k.refuses(422, "input", "GET", "/determinations?limit=0", nil)
	k.refuses(422, "input", "GET", "/determinations?from=yesterday", nil)
	k.refuses(400, "input", "GET", "/determinations?text=a&text=b", nil)
	k.call("GET", "/determinations/"+first.Number, nil).want(200)
	k.refuses(404, "missing", "GET", "/determinations/D-999999", nil)
	k.call("GET", "/determinations/"+first.Number+"/again", nil).want(200)
	k.refuses(404, "missing", "GET", "/determinations/D-999999/again", nil)
	k.call("GET", "/determinations/"+first.Number+"/evidence", nil).want(200)
	k.refuses(404, "missing", "GET", "/determinations/D-999999/evidence", nil)
	k.call("POST", "/determinations/"+first.Number+"/signatures", doc{"meaning": "approved", "password": password}).want(201)
	k.refuses(401, "sign-in", "POST", "/determinations/"+first.Number+"/signatures", doc{"meaning": "reviewed"})
	second := into[record.Record](k.call("POST", "/determinations/"+first.Number+"/corrections", doc{"document": ringDoc(t), "reason": "wrong tray"}).want(201))
	k.refuses(422, "input", "POST", "/determinations/"+second.Number+"/corrections", doc{"document": ringDoc(t)})
	k.call("GET", "/determinations/"+second.Number+"/changes", nil).want(200)
	k.refuses(422, "input", "GET", "/determinations/"+first.Number+"/changes", nil)
	k.call("POST", "/determinations/"+second.Number+"/values", doc{"pieces": 1}).want(201)
	k.refuses(404, "missing", "POST", "/determinations/"+second.Number+"/values", doc{"terms": "none such"})
	k.call("POST", "/lots", doc{"records": []string{second.Number}, "recipes": "mixed scrap", "name": "invented lot"}).want(201)
	k.refuses(422, "input", "POST", "/lots", doc{"records": []string{}, "recipes": "mixed scrap"})
	k.call("GET", "/lots", nil).want(200)
	k.refuses(400, "input", "GET", "/lots?after=1", nil)
	k.call("GET", "/history/"+first.Number+"?limit=2", nil).want(200)
	k.refuses(404, "missing", "GET", "/history/nothing", nil)

	// Sheets.
	sheet := into[desk.Sheet](k.call("POST", "/sheets", doc{"station": "S-1", "document": parsed(t, claimDoc)}).want(201))
	at := "/sheets/" + sheet.Sheet.ID
	k.refuses(422, "input", "POST", "/sheets", doc{"document": doc{"air_g": "7 g"}})
	k.call("GET", "/sheets", nil).want(200)
	k.refuses(400, "input", "GET", "/sheets?x=1", nil)
	k.call("GET", at, nil).want(200)
	k.refuses(404, "missing", "GET", "/sheets/d-none", nil)
	k.refuses(422, "input", "GET", at+"/answer", nil)
	for _, r := range readings {
		k.call("POST", at+"/readings", doc{"slot": r[0], "text": r[1]}).want(201)
	}
	k.refuses(422, "input", "POST", at+"/readings", doc{"slot": "air_g", "text": "heavy"})
	k.call("GET", at+"/answer", nil).want(200)
	k.call("POST", at+"/readings/2/withdrawal", doc{"reason": "still moving"}).want(200)
	k.refuses(422, "input", "POST", at+"/readings/2/withdrawal", doc{"reason": "again"})
	k.refuses(404, "missing", "POST", at+"/readings/two/withdrawal", doc{"reason": "again"})
	k.refuses(422, "input", "POST", at+"/readings/2/restoration", doc{"reason": ""})
	k.call("POST", at+"/readings/2/restoration", doc{"reason": "it stood still"}).want(200)
	k.refuses(422, "input", "POST", at+"/readings/2/restoration", doc{"reason": "again"})
	k.refuses(404, "missing", "POST", at+"/readings/two/restoration", doc{"reason": "again"})
	k.call("POST", at+"/readings/2/withdrawal", doc{"reason": "still moving"}).want(200)
	k.refuses(404, "missing", "POST", at+"/station", doc{"station": "nowhere", "reason": "better"})
	loose := into[desk.Sheet](k.call("POST", "/sheets", doc{"document": parsed(t, claimDoc)}).want(201))
	if moved := into[desk.Sheet](k.call("POST", "/sheets/"+loose.Sheet.ID+"/station", doc{"station": "S-1"}).want(200)); moved.Sheet.Station == nil || moved.Sheet.Station.ID != "S-1" {
		t.Errorf("the sheet went to %v", moved.Sheet.Station)
	}
	k.call("POST", "/sheets/"+loose.Sheet.ID+"/end", doc{"reason": "moved for a trial"}).want(200)
	k.call("POST", at+"/notes", doc{"text": "a scratch inside"}).want(201)
	k.refuses(422, "input", "POST", at+"/notes", doc{"text": ""})
	k.call("PUT", at+"/request", doc{"document": parsed(t, strings.ReplaceAll(claimDoc, "750", "585")), "reason": "stamp read again"}).want(200)
	k.refuses(422, "input", "PUT", at+"/request", doc{"document": doc{"air_g": "7 g"}, "reason": "x"})
	k.refuses(422, "input", "POST", at+"/conclusion", nil)
	k.call("POST", at+"/readings", doc{"slot": "air_g", "text": "7.4218", "source": "typed"}).want(201)
	k.call("POST", at+"/conclusion", nil).want(201)
	given := into[desk.Sheet](k.call("POST", "/sheets", doc{"document": doc{}}).want(201))
	k.call("POST", "/sheets/"+given.Sheet.ID+"/end", doc{"reason": "customer left"}).want(200)
	k.refuses(404, "missing", "POST", "/sheets/"+given.Sheet.ID+"/end", doc{"reason": "customer left"})

	// Items and the register.
	item := into[desk.Item](k.call("POST", "/items", doc{"description": "chain", "barcode": "T-9"}).want(201))
	k.refuses(422, "input", "POST", "/items", doc{"description": ""})
	k.call("GET", "/items/T-9", nil).want(200)
	k.refuses(404, "missing", "GET", "/items/none", nil)
	k.call("PUT", "/items/"+item.ID, doc{"description": "chain, worn", "barcode": "T-9", "reason": "looked again"}).want(200)
	k.refuses(404, "missing", "PUT", "/items/none", doc{"description": "chain", "reason": "x"})
	k.call("POST", "/items/T-9/move", doc{"place": "safe"}).want(200)
	k.refuses(422, "input", "POST", "/items/T-9/move", doc{"gone": "vanished"})
	k.call("POST", "/items/T-9/holds", doc{"authority": "Invented Police", "reference": "P-1"}).want(201)
	k.refuses(422, "input", "POST", "/items/T-9/holds", doc{"authority": "", "reference": ""})
	k.refuses(403, "held", "POST", "/items/T-9/move", doc{"gone": "sold"})
	k.call("POST", "/items/T-9/releases", doc{"order": "P-1", "reference": "P-2"}).want(201)
	k.refuses(422, "input", "POST", "/items/T-9/releases", doc{"order": "P-9", "reference": "P-2"})
	var photo bytes.Buffer
	img := image.NewRGBA(image.Rect(0, 0, 40, 30))
	img.Set(3, 3, color.White)
	if err := png.Encode(&photo, img); err != nil {
		t.Fatal(err)
	}
	a := k.do("POST", apiRoot+"/items/T-9/photos?caption=front", &photo, "Content-Type", "image/png").want(201)
	k.holds("photo", a.body, "components", "schemas", "desk.Item")
	k.good["POST "+apiRoot+"/items/{name}/photos"] = true
	k.refuses(422, "input", "POST", "/items/T-9/photos", doc{"no": "picture"})
	k.call("GET", "/pictures/"+into[desk.Item](a).Photos[0].Hash, nil).want(200)
	k.refuses(404, "missing", "GET", "/pictures/none", nil)
	rules := parsed(t, `{"format": 1, "name": "Invented Town", "time_zone": "UTC", "editions": [{"edition": "first", "source": "invented", "valid_from": "2020-01-01",
 "numbering": {"pattern": "A-{year}-{number:4}", "restart": "yearly"},
 "identity": [{"name": "from 100", "deals": ["buy"], "from": {"amount": "100", "currency": "EUR"}, "ask": ["name"]}]}]}`)
	k.call("PUT", "/register-rules?reason=invented", rules).want(200)
	k.refuses(422, "input", "PUT", "/register-rules", doc{"format": 1})
	k.call("GET", "/register-rules", nil).want(200)
	k.refuses(400, "input", "GET", "/register-rules?x=1", nil)
	k.call("POST", "/deals/asked", doc{"kind": "buy", "items": []string{item.ID}, "amount": "500", "currency": "EUR"}).want(200)
	k.refuses(422, "input", "POST", "/deals/asked", doc{"kind": "buy", "amount": "much", "currency": "EUR", "items": []string{}})
	customer := into[Named](k.call("POST", "/customers", doc{"name": "Quilla Invented"}).want(201))
	k.refuses(422, "input", "POST", "/customers", doc{})
	k.call("PUT", "/customers/"+customer.ID, doc{"name": "Quilla Otherwise"}).want(200)
	k.refuses(404, "missing", "PUT", "/customers/c-none", doc{"name": "X Y"})
	k.call("POST", "/customers/"+customer.ID+"/views", doc{"reason": "collects the chain"}).want(200)
	k.refuses(422, "input", "POST", "/customers/"+customer.ID+"/views", doc{"reason": ""})
	k.call("POST", "/customers/"+customer.ID+"/disclosures", doc{"to": "the customer", "keeper": "Invented Shop"}).want(200)
	k.refuses(422, "input", "POST", "/customers/"+customer.ID+"/disclosures", doc{"to": "", "keeper": ""})
	deal := into[desk.Deal](k.call("POST", "/deals", doc{"kind": "buy", "items": []string{item.ID}, "customer": customer.ID, "amount": "500", "currency": "EUR"}).want(201))
	k.refuses(422, "input", "POST", "/deals", doc{"kind": "steal", "items": []string{item.ID}})
	k.call("POST", "/deals/"+deal.Number+"/close", doc{"reason": "settled"}).want(200)
	k.refuses(404, "missing", "POST", "/deals/A-0/close", doc{"reason": "settled"})
	other := into[desk.Item](k.call("POST", "/items", doc{"description": "band"}).want(201))
	void := into[desk.Deal](k.call("POST", "/deals", doc{"kind": "buy", "items": []string{other.ID}, "amount": "5", "currency": "EUR"}).want(201))
	k.call("POST", "/deals/"+void.Number+"/void", doc{"reason": "came to nothing"}).want(200)
	k.refuses(404, "missing", "POST", "/deals/A-0/void", doc{"reason": "came to nothing"})
	k.call("GET", "/deals", nil).want(200)
	k.refuses(422, "input", "GET", "/deals?limit=none", nil)
	free := into[Named](k.call("POST", "/customers", doc{"name": "Otto Invented"}).want(201))
	k.call("POST", "/customers/"+free.ID+"/erasure", doc{"reason": "asked for"}).want(200)
	k.refuses(404, "missing", "POST", "/customers/c-none/erasure", doc{"reason": "asked for"})

	// Equipment.
	k.call("GET", "/equipment", nil).want(200)
	k.refuses(400, "input", "GET", "/equipment?x=1", nil)
	k.call("PUT", "/instruments/B-2?reason=new", parsed(t, strings.ReplaceAll(balanceDoc, "B-1", "B-2"))).want(200)
	k.refuses(422, "input", "PUT", "/instruments/B-3", parsed(t, balanceDoc))
	k.call("PUT", "/stations/S-2?reason=new", parsed(t, strings.ReplaceAll(stationDoc, "S-1", "S-2"))).want(200)
	if p := k.refuses(422, "input", "PUT", "/stations/S-2", doc{"id": "S-2", "heigth": 4}); p.Field != "heigth" {
		t.Errorf("unknown field: %+v, want it named", p)
	}
	k.call("GET", "/equipment/S-2/versions", nil).want(200)
	k.refuses(404, "missing", "GET", "/equipment/none/versions", nil)
	if _, err := s.desk.LinkInstrument(t.Context(), s.who("boss"), "B-1", &station.Link{Address: "push:b1", Pattern: inventedPattern(t)}, ""); err != nil {
		t.Fatal(err)
	}
	s.server.relink(t.Context())
	if f := into[Following](k.call("GET", "/instruments", nil).want(200)); len(f.Instruments) != 1 || f.Instruments[0].Address != "push:b1" {
		t.Errorf("linked: %+v", f)
	}
	k.refuses(400, "input", "GET", "/instruments?x=1", nil)
	var pushed answer
	awaits(t, "the feed runs", func() bool {
		pushed = k.do("POST", apiRoot+"/instruments/B-1/lines", strings.NewReader(says(5, true)), "Content-Type", "application/octet-stream")
		return pushed.status == 200
	})
	k.holds("lines", pushed.body, "paths", apiRoot+"/instruments/{id}/lines", "post", "responses", "200", "content", "application/json", "schema")
	k.good["POST "+apiRoot+"/instruments/{id}/lines"] = true
	k.refuses(404, "missing", "POST", "/instruments/B-9/lines", doc{"no": "line"})
	listening, err := s.desk.OpenSheet(t.Context(), s.who("boss"), desk.Begin{Station: "S-1", Document: []byte("{}")})
	if err != nil {
		t.Fatal(err)
	}
	heard, err := s.desk.TakeHeard(t.Context(), s.who("boss"), listening.Sheet.ID, record.Reading{Slot: "air_g", Text: "5.0000", Source: record.Received}, desk.Heard{Stream: []byte(says(5, true))})
	if err != nil {
		t.Fatal(err)
	}
	if a := k.call("GET", "/streams/"+heard.Sheet.Readings[0].Evidence, nil).want(200); a.body != says(5, true) {
		t.Errorf("the stream comes back as %q", a.body)
	}
	k.refuses(404, "missing", "GET", "/streams/none", nil)
	k.call("POST", "/instruments/B-2/out-of-service", doc{"reason": "dropped"}).want(200)
	k.refuses(404, "missing", "POST", "/instruments/none/out-of-service", doc{"reason": "dropped"})
	k.call("POST", "/instruments/B-2/in-service", doc{"reason": "checked"}).want(200)
	k.refuses(422, "input", "POST", "/instruments/B-2/in-service", doc{"reason": "checked"})

	// Money.
	k.call("GET", "/prices", nil).want(200)
	k.refuses(400, "input", "GET", "/prices?x=1", nil)
	price := doc{"metal": "gold", "amount": "81.20", "per": "g", "currency": "EUR", "held_at": s.clock.now().Format(time.RFC3339), "source": "invented"}
	k.call("POST", "/prices", doc{"prices": []any{price}}).want(201)
	price["amount"] = "-3"
	k.refuses(422, "input", "POST", "/prices", doc{"prices": []any{price}})
	k.call("GET", "/terms", nil).want(200)
	k.refuses(400, "input", "GET", "/terms?x=1", nil)
	k.call("PUT", "/terms/counter?reason=less", parsed(t, strings.ReplaceAll(termsDoc, "92", "90"))).want(200)
	k.refuses(422, "input", "PUT", "/terms/other", parsed(t, termsDoc))

	// People.
	k.call("GET", "/staff", nil).want(200)
	k.refuses(400, "input", "GET", "/staff?x=1", nil)
	k.call("POST", "/people", doc{"id": "newcomer", "name": "New Invented", "roles": []string{"measure"}}).want(201)
	k.refuses(422, "input", "POST", "/people", doc{"id": "other", "name": "Other Invented", "roles": []string{"king"}})
	k.call("PUT", "/people/newcomer/roles", doc{"roles": []string{"sign"}, "reason": "grown"}).want(200)
	k.refuses(404, "missing", "PUT", "/people/none/roles", doc{"roles": []string{"sign"}})
	k.call("POST", "/people/newcomer/code", nil).want(201)
	k.refuses(404, "missing", "POST", "/people/none/code", nil)
	k.call("POST", "/people/newcomer/end", doc{"reason": "left"}).want(200)
	k.refuses(404, "missing", "POST", "/people/none/end", doc{"reason": "left"})
	device := into[Shown](k.call("POST", "/devices", doc{"name": "front counter", "shared": true}).want(201))
	k.refuses(422, "input", "POST", "/devices", doc{"name": "", "shared": true})
	k.call("POST", "/devices/"+device.ID+"/end", doc{"reason": "lost"}).want(200)
	k.refuses(404, "missing", "POST", "/devices/none/end", doc{"reason": "lost"})
	token := into[Shown](k.call("POST", "/tokens", doc{"name": "reader", "roles": []string{"audit"}, "expires": later.Format(time.RFC3339)}).want(201))
	k.refuses(422, "input", "POST", "/tokens", doc{"name": "signer", "roles": []string{"sign"}, "expires": later.Format(time.RFC3339)})
	staff := k.call("GET", "/staff", nil).want(200).body
	if strings.Contains(staff, token.Secret) || strings.Contains(staff, "hash") || strings.Contains(staff, `"key"`) {
		t.Error("the list of people, devices and tokens gives out secrets or their hashes")
	}
	k.call("POST", "/tokens/"+token.ID+"/end", doc{"reason": "lost"}).want(200)
	k.refuses(404, "missing", "POST", "/tokens/none/end", doc{"reason": "lost"})
	k.call("POST", "/second-person", doc{"format": 1, "from": "2026-11-27", "reason": "invented", "above_amount": "5000", "currency": "EUR"}).want(201)
	k.refuses(422, "input", "POST", "/second-person", doc{"format": 1, "from": "soon", "reason": "invented"})
	k.call("GET", "/second-person", nil).want(200)
	k.refuses(400, "input", "GET", "/second-person?x=1", nil)

	k.paper(second.Number, deal.Number)

	// The log.
	k.call("POST", "/checkpoints", nil).want(201)
	k.refuses(400, "input", "POST", "/checkpoints?x=1", nil)
	k.call("GET", "/checkpoints", nil).want(200)
	k.refuses(422, "input", "GET", "/checkpoints?limit=5000", nil)
	v := into[Verified](k.call("GET", "/log/verification", nil).want(200))
	k.refuses(400, "input", "GET", "/log/verification?x=1", nil)
	lines := strings.Split(strings.TrimSuffix(k.call("GET", "/log", nil).want(200).body, "\n"), "\n")
	if int64(len(lines)) != v.Entries {
		t.Errorf("the log has %d lines, verified are %d entries", len(lines), v.Entries)
	}
	k.refuses(400, "input", "GET", "/log?x=1", nil)

	for _, e := range endpoints {
		name := e.Method + " " + apiRoot + e.Path
		if !k.good[name] {
			t.Errorf("%s was not called with good input", name)
		}
		if !k.bad[name] {
			t.Errorf("%s was not called with bad input", name)
		}
	}
}

// TestDescriptionIsWhole asks that all that is routed is described, and the other way round.
func TestDescriptionIsWhole(t *testing.T) {
	s := newBench(t)
	described := into[struct {
		Paths map[string]map[string]struct {
			OperationID string `json:"operationId"`
			Roles       []string
		} `json:"paths"`
	}](s.client().call("GET", "/openapi.json", nil).want(200))
	ids, count := map[string]bool{}, 0
	for path, methods := range described.Paths {
		for method, op := range methods {
			count++
			if ids[op.OperationID] {
				t.Errorf("two operations are called %s", op.OperationID)
			}
			ids[op.OperationID] = true
			r := httptest.NewRequest(strings.ToUpper(method), strings.NewReplacer("{", "", "}", "").Replace(path), nil)
			if _, pattern := s.server.mux.Handler(r); pattern != strings.ToUpper(method)+" "+path {
				t.Errorf("%s %s is described and leads to %q", method, path, pattern)
			}
		}
	}
	if count != len(endpoints) {
		t.Errorf("%d operations are described, %d are routed", count, len(endpoints))
	}
	for _, e := range endpoints {
		if len(rolesOf(e)) == 0 {
			t.Errorf("%s %s: nobody may %s", e.Method, e.Path, e.Action)
		}
	}
}

func TestSameActTwiceIsDoneOnce(t *testing.T) {
	s := newShop(t)
	k := newContract(s.program(people.Measure))
	entries := func() int64 { return into[Verified](s.signedIn("audit").call("GET", "/log/verification", nil)).Entries }
	const mark = "Idempotency-Key"
	one := into[record.Record](k.call("POST", "/determinations", doc{"document": ringDoc(t)}, mark, "m-1").want(201))
	before := entries()
	two := into[record.Record](k.call("POST", "/determinations", doc{"document": ringDoc(t)}, mark, "m-1").want(201))
	if one.Number != two.Number || one.ID != two.ID {
		t.Errorf("sent twice: %s and %s", one.Number, two.Number)
	}
	k.refuses(409, "mark", "POST", "/determinations", doc{"document": ringDoc(t), "barcode": "T-2"}, mark, "m-1")
	if now := entries() - 1; now != before { // signing in to count is an entry as well
		t.Errorf("%d entries after sending again, want %d", now, before)
	}
	k.refuses(400, "input", "POST", "/determinations", doc{"document": ringDoc(t)}, mark, strings.Repeat("m", 201))
}

func TestWhoSawAnOlderStateIsToldSo(t *testing.T) {
	s := newShop(t)
	k := newContract(s.program(people.Measure))
	opened := k.call("POST", "/sheets", doc{"station": "S-1", "document": parsed(t, claimDoc)}).want(201)
	at, tag := "/sheets/"+into[desk.Sheet](opened).Sheet.ID, opened.header.Get("ETag")
	if tag == "" {
		t.Fatal("an opened sheet has no ETag")
	}
	after := k.call("POST", at+"/readings", doc{"slot": "air_g", "text": "7.4218"}, "If-Match", tag).want(201)
	k.refuses(409, "stale", "POST", at+"/readings", doc{"slot": "air_g", "text": "7.4219"}, "If-Match", tag)
	k.refuses(400, "input", "POST", at+"/readings", doc{"slot": "air_g", "text": "7.4219"}, "If-Match", `"soon"`)
	k.call("POST", at+"/readings", doc{"slot": "air_g", "text": "7.4219"}, "If-Match", after.header.Get("ETag")).want(201)
	k.call("POST", at+"/readings", doc{"slot": "air_g", "text": "7.4220"}, "If-Match", "*").want(201)
	now := into[desk.Sheet](k.call("GET", at, nil).want(200))
	var texts []string
	for _, r := range now.Sheet.Readings {
		texts = append(texts, r.Text)
	}
	if got := strings.Join(texts, " "); got != "7.4218 7.4219 7.4220" {
		t.Errorf("readings %s, want all that were accepted, in order", got)
	}
}

func TestListsEndAndRepeatNothing(t *testing.T) {
	s := newShop(t)
	k := newContract(s.program(people.Measure, people.Audit))
	want := map[string]bool{}
	for range 7 {
		want[into[record.Record](k.call("POST", "/determinations", doc{"document": ringDoc(t)}).want(201)).Number] = true
	}
	got := map[string]bool{}
	next := "/determinations?limit=3"
	for pages := 0; next != ""; pages++ {
		page := into[Page](k.call("GET", strings.TrimPrefix(next, apiRoot), nil).want(200))
		for _, row := range page.Rows {
			if got[row.Number] {
				t.Errorf("%s comes twice", row.Number)
			}
			got[row.Number] = true
		}
		if next = page.Next; pages > 3 {
			t.Fatal("the list does not end")
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d records, want %d", len(got), len(want))
	}
	opened := into[desk.Sheet](k.call("POST", "/sheets", doc{"station": "S-1", "document": parsed(t, claimDoc)}).want(201))
	for range 5 {
		k.call("POST", "/sheets/"+opened.Sheet.ID+"/notes", doc{"text": "a note"}).want(201)
	}
	var seqs []int64
	for next = "/history/" + opened.Sheet.ID + "?limit=4"; next != ""; {
		part := into[Events](k.call("GET", strings.TrimPrefix(next, apiRoot), nil).want(200))
		for _, e := range part.Events {
			seqs = append(seqs, e.Seq)
		}
		next = part.Next
	}
	if len(seqs) != 6 {
		t.Errorf("history of %d entries, want 6: %v", len(seqs), seqs)
	}
}

func TestProgramsDoOnlyWhatTheirTokenSays(t *testing.T) {
	s := newShop(t)
	number := s.recorded(s.who("measure"))
	reader, weigher := newContract(s.program(people.Audit)), newContract(s.program(people.Measure))
	reader.call("GET", "/determinations/"+number, nil).want(200)
	reader.refuses(403, "not-allowed", "POST", "/determinations", doc{"document": ringDoc(t)})
	weigher.call("POST", "/determinations", doc{"document": ringDoc(t)}).want(201)
	weigher.refuses(403, "not-allowed", "POST", "/prices", doc{"prices": []any{}})
	weigher.refuses(403, "not-allowed", "GET", "/log", nil)
	weigher.refuses(403, "not-allowed", "GET", "/log/verification", nil)
	weigher.refuses(401, "sign-in", "POST", "/determinations/"+number+"/signatures", doc{"meaning": "measured", "password": password})
	weigher.refuses(403, "not-allowed", "POST", "/determinations/"+number+"/signatures", doc{"meaning": "approved"})
	s.clock.move(25 * time.Hour)
	reader.refuses(401, "sign-in", "GET", "/determinations/"+number, nil)
	reader.token = "wreath-token-of-nobody"
	reader.refuses(401, "sign-in", "GET", "/determinations/"+number, nil)
}

func TestMethodsAndPathsThatAreNot(t *testing.T) {
	s := newBench(t)
	k := newContract(s.client())
	for _, row := range []struct{ method, path, allow string }{
		{"DELETE", "/determinations", "GET, POST"}, {"PATCH", "/determinations/D-000001", "GET"}, {"GET", "/evaluate", "POST"}, {"TRACE", "/shop", "GET, PUT"}, {"OPTIONS", "/prices", "GET, POST"},
	} {
		a := k.call(row.method, row.path, nil).want(http.StatusMethodNotAllowed)
		if a.header.Get("Allow") != row.allow {
			t.Errorf("%s %s allows %q, want %q", row.method, row.path, a.header.Get("Allow"), row.allow)
		}
	}
	k.refuses(404, "missing", "GET", "/elsewhere", nil)
	k.refuses(404, "missing", "POST", "/determinations/x/y/z", nil)
	s.client().get("/no/such/page").want(404)
	s.client().do("DELETE", "/book", nil, "Accept", "text/html").want(405)
	s.client().do("HEAD", "/book", nil, "Accept", "text/html").want(200)
}

func TestDocumentsThatCantBeRead(t *testing.T) {
	s := newBench(t)
	c := s.client()
	for _, row := range []struct {
		kind, body string
		status     int
		says       string
	}{
		{"application/json", `{"slot": "air_g", "slot": "liquid_g"}`, 422, "twice"},
		{"application/json", `{"slot": 7}`, 422, "slot"},
		{"application/json", `{"__proto__": {}}`, 422, "__proto__"},
		{"application/json", `{"slot": "air_g"} {}`, 422, "can't be read"},
		{"application/json", `[1`, 422, "can't be read"},
		{"application/json", ``, 422, "can't be read"},
		{"text/plain", `{"slot": "air_g", "text": "7"}`, 415, "document"},
		{"application/x-www-form-urlencoded", `slot=air_g`, 415, "document"},
		{"", `{}`, 415, "document"},
		{"application/json", `{"slot": "` + strings.Repeat("a", maxJSON) + `"}`, 413, "larger"},
		{"application/json", strings.Repeat("[", 200_000), 422, "can't be read"},
	} {
		a := c.do("POST", apiRoot+"/sheets/d-1/readings", strings.NewReader(row.body), "Content-Type", row.kind)
		if p := into[problem](a); a.status != row.status || !strings.Contains(p.Title, row.says) {
			t.Errorf("%s %.40q: %d %q, want %d and %q", row.kind, row.body, a.status, p.Title, row.status, row.says)
		}
	}
}

func TestFirstRunLeadsToTheBench(t *testing.T) {
	s := newFirstRun(t, "ABCD-EFGH")
	c := s.client()
	if p := into[problem](c.call("GET", "/shop", nil).want(503)); p.Type != "/problems/first-run" {
		t.Errorf("before the first run: %+v", p)
	}
	if a := c.still().get("/").want(303); a.header.Get("Location") != "/first" {
		t.Errorf("goes to %s, want /first", a.header.Get("Location"))
	}
	own := []string{"begin", "own", "interval", "0.1 mg", "liquid", "water", "arrangement", "hanging", "zone", "UTC"}
	c.post("/first", append(own, "code", "WRONG")...).want(403)
	c.get("/health/live").want(200)
	c.get("/health/ready").want(503)
	if a := c.post("/first", append(own, "code", "abcd-efgh")...).want(200); a.path != "/" {
		t.Errorf("ends at %s, want the bench", a.path)
	}
	if a := c.get("/health/ready").want(200); a.body != "{\"ok\":true}\n" {
		t.Errorf("ready says %q, want nothing but yes", a.body)
	}
}

func FuzzWhole(f *testing.F) {
	for _, seed := range []string{`{}`, `{"a":1,"a":2}`, `[{"a":{"b":[]},"b":1}]`, `{"a":"a"}`, `"`, ``} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if whole(data) == nil != json.Valid(data) && json.Valid(data) {
			// Refused although it is JSON: then some object names a field twice, and writing it anew is shorter.
			var value any
			if err := json.Unmarshal(data, &value); err != nil {
				return
			}
			anew, err := json.Marshal(value)
			if err == nil && whole(anew) != nil {
				t.Errorf("%q is refused, and so is %q, which names nothing twice", data, anew)
			}
		}
	})
}
