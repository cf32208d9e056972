package web

import (
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"
)

// held is the value of a cookie that the browser holds; "" without it.
func (c *client) held(name string) string {
	c.t.Helper()
	r, err := http.NewRequest("GET", c.site.url, nil)
	if err != nil {
		c.t.Fatal(err)
	}
	for _, k := range c.http.Jar.Cookies(r.URL) {
		if k.Name == name {
			return k.Value
		}
	}
	return ""
}

func (a answer) says(texts ...string) answer {
	a.t.Helper()
	for _, text := range texts {
		if !strings.Contains(a.body, text) {
			a.t.Errorf("%d %s does not say %q: %.900s", a.status, a.path, text, a.body)
		}
	}
	return a
}

func (a answer) hides(texts ...string) answer {
	a.t.Helper()
	for _, text := range texts {
		if strings.Contains(a.body, text) {
			a.t.Errorf("%d %s says %q", a.status, a.path, text)
		}
	}
	return a
}

// counter is a browser at a shared counter that boss enrolled, with nobody signed in.
func (s *site) counter() *client {
	s.t.Helper()
	c := s.signedIn("boss")
	if a := c.post("/device", "name", "front counter", "shared", "yes").want(200); a.path != "/sign-in" {
		s.t.Fatalf("after enrolling the page is %s, want a new sign-in", a.path)
	}
	return c
}

func TestHandOverByPIN(t *testing.T) {
	s := newShop(t)
	c := s.counter()
	for _, id := range []string{"sign", "measure"} {
		c.post("/sign-in", "id", id, "password", password).want(200)
		c.get("/settings").want(200).says("front counter")
		c.post("/pin", "password", password, "pin", "123456").want(422) // counts up
		c.post("/pin", "pin", "830274").want(200)                       // the password was given just now
	}
	number := s.recorded(s.who("measure"))
	c.get("/record/"+number).want(200).says(number, "Measure Invented")

	// Measure steps aside; the page behind is gone, whichever is asked for.
	if a := c.post("/lock").want(200); a.path != "/unlock" {
		t.Fatalf("locking leads to %s", a.path)
	}
	for _, path := range []string{"/", "/book", "/record/" + number, "/settings", "/device"} {
		if a := c.get(path).want(200).says("Measure Invented", "Somebody else").hides("plain band", "S-1", "g/cm"); a.path != "/unlock" {
			t.Errorf("%s shows %s while locked", path, a.path)
		}
	}
	c.call("GET", "/determinations/"+number, nil).want(401).hides("plain band")
	c.post("/sheets", "station", "S-1").want(401)
	if a := c.still().get("/events"); a.status == 200 {
		t.Error("a locked session listens to what others do")
	}

	// Sign takes over by PIN, and the session of measure is over.
	before := c.held(sessionCookie)
	c.post("/sign-in", "id", "sign", "pin", "111222").want(401)
	c.post("/sign-in", "id", "sign", "pin", "830274").want(200).says("Sign Invented")
	if c.held(sessionCookie) == before {
		t.Error("two people share one session")
	}

	// A session that is idle locks by itself, and is opened by its own person only.
	s.clock.move(6 * time.Minute)
	if a := c.get("/book").want(200); a.path != "/unlock" {
		t.Errorf("after six idle minutes the page is %s", a.path)
	}
	c.post("/unlock", "pin", "000111", "then", "/book").want(401).says("wrong PIN")
	if a := c.post("/unlock", "pin", "830274", "then", "/book").want(200); a.path != "/book" {
		t.Errorf("unlocking leads to %s", a.path)
	}
	c.post("/sign-out", "day", "yes").want(200)
	c.post("/sign-in", "id", "sign", "pin", "830274").want(401).says("closed")
	c.post("/device/forget").want(200)
	c.post("/sign-in", "id", "sign", "pin", "830274").want(401)
	if c.held(deviceCookie) != "" {
		t.Error("the browser still is a counter")
	}
}

func TestOneTimeAndRecoveryCodes(t *testing.T) {
	s := newShop(t)
	boss, browser := s.signedIn("boss"), s.client()
	const anew = "nine paper boats on a quiet lake"
	shown := regexp.MustCompile(`<code>([^<]+)</code>`)
	code := shown.FindStringSubmatch(boss.post("/people/measure/code").want(200).body)
	if code == nil {
		t.Fatal("no code is shown")
	}
	boss.get("/settings").want(200).hides(code[1])
	browser.post("/new-password", "id", "measure", "code", "AAAA-AAAA-AAAA", "new", anew).says("role=\"alert\"")
	browser.post("/new-password", "id", "measure", "code", code[1], "new", "short").want(422)
	if a := browser.post("/new-password", "id", "measure", "code", code[1], "new", anew).want(200); a.path != "/sign-in" {
		t.Errorf("after the code the page is %s, want a sign-in", a.path)
	}
	if a := browser.post("/new-password", "id", "measure", "code", code[1], "new", anew+" again"); a.status < 400 {
		t.Error("a one-time code works twice")
	}
	browser.post("/sign-in", "id", "measure", "password", password).want(401)
	browser.post("/sign-in", "id", "measure", "password", anew).want(200)

	s.clock.move(5 * time.Minute)
	browser.post("/recovery-codes").want(401) // whoever stands before an open session gets none
	codes := shown.FindAllStringSubmatch(browser.post("/recovery-codes", "password", anew).want(200).body, -1)
	if len(codes) != 10 {
		t.Fatalf("%d recovery codes, want 10", len(codes))
	}
	other := s.client()
	other.post("/new-password", "id", "measure", "code", codes[3][1], "new", password).want(200)
	if a := other.post("/new-password", "id", "measure", "code", codes[3][1], "new", anew); a.status < 400 {
		t.Error("a recovery code works twice")
	}
	if a := browser.get("/").want(200); a.path != "/sign-in" {
		t.Error("a session goes on after the password was set anew elsewhere")
	}
}

func TestSessionsAreListedAndEnded(t *testing.T) {
	s := newShop(t)
	here := s.signedIn("measure")
	s.clock.move(time.Minute)
	there := s.signedIn("measure")
	page := here.get("/settings").want(200)
	ends := regexp.MustCompile(`action="/sessions/([0-9a-f]+)/end"`).FindAllStringSubmatch(page.body, -1)
	if len(ends) != 1 {
		t.Fatalf("%d sessions can be ended, want the other one: %s", len(ends), page.body)
	}
	for _, c := range []*client{here, there} {
		page.hides(c.held(sessionCookie))
	}
	s.signedIn("sign").post("/sessions/" + ends[0][1] + "/end").want(404) // somebody else's
	here.post("/sessions/" + ends[0][1] + "/end").want(200)
	if a := there.get("/").want(200); a.path != "/sign-in" {
		t.Error("the ended session goes on")
	}
	here.get("/book").want(200)
	here.post("/sign-out").want(200)
	if a := here.get("/book").want(200); a.path != "/sign-in" {
		t.Error("who signed out is still in")
	}
}

func TestSessionEndsInTime(t *testing.T) {
	s := newShop(t)
	c := s.signedIn("measure")
	s.clock.move(59 * time.Minute)
	c.post("/sheets", "station", "S-1").want(200)
	s.clock.move(61 * time.Minute)
	if a := c.get("/book"); a.path != "/sign-in" {
		t.Errorf("after an idle hour the page is %s", a.path)
	}
	c.post("/sign-in", "id", "measure", "password", password)
	for range 13 { // working all day does not make it last longer than 12 hours
		s.clock.move(55 * time.Minute)
		c.post("/sheets", "station", "S-1").want(200)
	}
	s.clock.move(10 * time.Minute)
	if a := c.get("/book"); a.path != "/sign-in" {
		t.Errorf("after 12 hours the page is %s", a.path)
	}
}
