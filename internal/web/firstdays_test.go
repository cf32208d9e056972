package web

import (
	"regexp"
	"strings"
	"testing"
)

// TestTheSecondPersonsCodeIsShown walks from a bench of one to two people: who adds the second one does not
// see the settings after it, and still has to read the code.
func TestTheSecondPersonsCodeIsShown(t *testing.T) {
	c := newFirstRun(t, "").client()
	c.post("/first", "begin", "own", "interval", "0,0001", "liquid", "water", "arrangement", "hanging", "zone", "UTC").want(200)
	c.post("/password", "new", password).want(200)
	a := c.post("/people", "id", "ben", "name", "Ben Invented", "role", "measure").want(200)
	code := regexp.MustCompile(`<code>([0-9A-Z-]+)</code>`).FindStringSubmatch(a.body)
	if code == nil || !strings.Contains(a.body, "<b>owner</b>") || !strings.Contains(a.body, `value="owner"`) {
		t.Fatalf("no code, or not who signs in:\n%s", a.body)
	}
	c.post("/new-password", "id", "ben", "code", code[1], "new", password).want(200)
	if a := c.post("/sign-in", "id", "ben", "password", password).want(200); a.path != "/" {
		t.Errorf("ben comes to %s, want the bench", a.path)
	}
}

// TestAWrongFirstAnswerKeepsTheOthers asks once more for what can't be read, and for nothing else.
func TestAWrongFirstAnswerKeepsTheOthers(t *testing.T) {
	c := newFirstRun(t, "").client()
	a := c.post("/first", "begin", "own", "interval", "small", "liquid", "water", "name", "Invented Gold Desk", "currency", "chf", "zone", "UTC").want(422)
	for _, kept := range []string{`value="small"`, `value="Invented Gold Desk"`, `value="chf"`, "<details open>"} {
		if !strings.Contains(a.body, kept) {
			t.Errorf("%s is lost", kept)
		}
	}
}

// TestAChangedStationBeginsAsItIs opens the form of a station and an instrument that are there: what is not
// touched stays.
func TestAChangedStationBeginsAsItIs(t *testing.T) {
	c := newFirstRun(t, "").client()
	c.post("/first", "begin", "own", "interval", "0.1 mg", "liquid", "ethanol-water", "strength", "96", "arrangement", "standing", "zone", "UTC").want(200)
	if a := c.get("/stations/bench").want(200); !strings.Contains(a.body, `href="/stations?change=bench#station"`) {
		t.Error("nothing leads from the station to its form")
	}
	a := c.get("/stations?change=bench").want(200)
	for _, field := range []string{
		`name="id" value="bench"`, `name="name" value="Bench"`, `<option value="standing" selected>`, `<option value="balance" selected>`,
		`<option value="ethanol-water" selected>`, `name="strength" value="96"`,
	} {
		if !strings.Contains(a.body, field) {
			t.Errorf("%s is not in the form", field)
		}
	}
	if a := c.get("/stations?change=balance").want(200); !strings.Contains(a.body, `name="interval" value="0.0001 g"`) {
		t.Error("the form of the balance has lost its interval")
	}
}

// TestARefusalLeadsBack goes from a form that was refused to the page it stands on, and to no other site.
func TestARefusalLeadsBack(t *testing.T) {
	c := newShop(t).signedIn("boss")
	for from, want := range map[string]bool{c.site.url + "/settings": true, "https://elsewhere.example/settings": false, "": false, c.site.url + "//elsewhere.example": false} {
		a := c.do("POST", "/prices", strings.NewReader("metal=gold&amount=much&currency=EUR&per=g&source=list"), "Content-Type", "application/x-www-form-urlencoded", "Accept", "text/html", "Referer", from).want(422)
		if strings.Contains(a.body, "Back to the page before") != want {
			t.Errorf("from %q: leads back %t, want %t", from, !want, want)
		}
	}
}

func TestProbabilitiesLookLikeTheirFinding(t *testing.T) {
	if got := decided(0.9046) + ", " + decided(0.9496) + ", " + decided(0.0501) + ", " + decided(0.99999) + ", " + safePpt(740.68); got != "90.4 %, 94.9 %, 5.1 %, > 99.9 %, 740.6" {
		t.Errorf("prints %s", got)
	}
}

// TestAReadingOfLettersIsQuotedAsTyped refuses what is no number in the words of who typed it.
func TestAReadingOfLettersIsQuotedAsTyped(t *testing.T) {
	c := newBench(t).client()
	for _, typed := range []string{"abc", "g"} {
		if p := into[problem](c.do("POST", "/weigh", strings.NewReader("station=S-1&text="+typed), "Content-Type", "application/x-www-form-urlencoded", "Accept", "application/json")); p.Title != `"`+typed+`" is no number` || p.Field != "text" {
			t.Errorf("%s: %+v", typed, p)
		}
	}
}
