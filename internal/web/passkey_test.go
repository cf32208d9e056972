package web

import (
	"encoding/json"
	"html"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/people/passkeytest"
)

// byItsName is a shop whose pages are reached under a name.
func byItsName(t *testing.T) *site {
	t.Helper()
	s := newShop(t)
	s.url = strings.Replace(s.url, "127.0.0.1", "localhost", 1)
	return s
}

// from is an honest answer at the pages of a shop.
func (s *site) from() passkeytest.Answer { return passkeytest.Answer{Origin: s.url} }

// postAt sends a form to the pages under a name, as a module does where accept is JSON.
func (c *client) postAt(host, accept, path string, fields ...string) answer {
	c.t.Helper()
	form := url.Values{}
	for i := 0; i+1 < len(fields); i += 2 {
		form.Add(fields[i], fields[i+1])
	}
	return c.do("POST", path, strings.NewReader(form.Encode()), "Content-Type", "application/x-www-form-urlencoded", "Accept", accept, "Host", host)
}

// ask sends a form as the module of the pages does.
func (c *client) ask(path string, fields ...string) answer {
	c.t.Helper()
	return c.postAt(strings.TrimPrefix(c.site.url, "http://"), "application/json", path, fields...)
}

// options asks for a passkey and gives what the browser is asked.
func (c *client) options(path string, fields ...string) []byte {
	c.t.Helper()
	a := c.ask(path, fields...).want(200)
	return into[struct {
		Options json.RawMessage `json:"options"`
	}](a).Options
}

// newPasskey makes a passkey in a session.
func (c *client) newPasskey(name string) *passkeytest.Key {
	c.t.Helper()
	key, made := passkeytest.Make(c.options("/passkeys/new", "password", password), c.site.from())
	c.post("/passkeys", "name", name, "passkey", string(made)).want(200).says(html.EscapeString(name))
	return key
}

var removal = regexp.MustCompile(`action="/passkeys/(k-[0-9a-z]+)/remove"`)

func TestSignInByPasskey(t *testing.T) {
	s := byItsName(t)
	c := s.signedIn("sign")
	s.clock.move(5 * time.Minute)
	c.ask("/passkeys/new").want(401).says("once more")
	key := c.newPasskey("my <b>phone")
	page := c.get("/settings").want(200).says("my &lt;b&gt;phone", "not used yet").hides("my <b>phone")
	if len(removal.FindAllString(page.body, -1)) != 1 {
		t.Errorf("the passkey can't be removed: %.600s", page.body)
	}
	c.post("/sign-out")

	// Without a name, in a browser that was signed out.
	c.get("/sign-in").want(200).says("With a passkey")
	asked := c.options("/passkeys/ask")
	given := string(key.Give(asked, s.from()))
	if c.held(askedCookie) == "" {
		t.Fatal("the browser does not know that it was asked")
	}
	other := s.client()
	other.post("/sign-in", "passkey", given).want(401).says("not asked for here") // stolen on the way
	if a := c.post("/sign-in", "passkey", given, "then", "/book").want(200).says("Sign Invented"); a.path != "/book" {
		t.Errorf("the sign-in leads to %s", a.path)
	}
	if c.held(askedCookie) != "" || c.held(sessionCookie) == "" {
		t.Error("cookies are not as they should be after signing in")
	}
	c.get("/settings").want(200).says("last used").hides("not used yet")
	c.post("/sign-in", "passkey", given).want(401)
	for name, a := range map[string]passkeytest.Answer{
		"another site":      {Origin: "http://localhost.example:4917"},
		"another challenge": {Origin: s.url, Challenge: "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"},
		"not verified":      {Origin: s.url, Unverified: true},
	} {
		b := s.client()
		refused := b.post("/sign-in", "passkey", string(key.Give(b.options("/passkeys/ask"), a))).want(401)
		if refused.says("not accepted"); b.held(sessionCookie) != "" {
			t.Errorf("%s: a session begins", name)
		}
	}
	late := s.client()
	question := late.options("/passkeys/ask")
	s.clock.move(4 * time.Minute)
	late.post("/sign-in", "passkey", string(key.Give(question, s.from()))).want(401).says("too late")

	// Locked, and opened by it under another token; a record is signed with it.
	c.post("/lock").want(200)
	before := c.held(sessionCookie)
	c.post("/unlock", "passkey", string(key.Give(c.options("/passkeys/ask", "for", "me"), s.from())), "then", "/book").want(200)
	if c.held(sessionCookie) == before {
		t.Error("the token that lay at the counter goes on")
	}
	number := s.recorded(s.who("measure"))
	c.post("/record/"+number+"/sign", "meaning", "approved").want(401)
	c.post("/record/"+number+"/sign", "meaning", "approved", "passkey", string(key.Give(c.options("/passkeys/ask", "for", "me"), s.from()))).want(200).says("approved")

	// Removed with the password.
	id := removal.FindStringSubmatch(c.get("/settings").body)[1]
	s.clock.move(5 * time.Minute)
	c.post("/passkeys/" + id + "/remove").want(401)
	s.signedIn("measure").post("/passkeys/"+id+"/remove", "password", password).want(404)
	c.post("/passkeys/"+id+"/remove", "password", password).want(200)
	c.get("/settings").want(200).hides("my &lt;b&gt;phone")
	b := s.client()
	b.post("/sign-in", "passkey", string(key.Give(b.options("/passkeys/ask"), s.from()))).want(401).says("not known")
}

// TestPasskeysNeedAName looks at what the pages say under addresses that passkeys don't know.
func TestPasskeysNeedAName(t *testing.T) {
	s := newSite(t, password, func(o *Options) { o.Hosts = []string{"bench.example", "192.0.2.10"} })
	in := s.client()
	for host, says := range map[string]string{"127.0.0.1:4917": "http://localhost:4917", "192.0.2.10:4917": "have a name", "bench.example": "encrypted"} {
		in.postAt(host, "text/html", "/sign-in", "id", "measure", "password", password).want(200)
		for _, path := range []string{"/sign-in", "/settings"} {
			in.do("GET", path, nil, "Host", host).want(200).says(says, `type="password"`).hides(`class="passkey"`, "Make a passkey")
		}
		for _, path := range []string{"/passkeys/ask", "/passkeys/new"} {
			if a := in.postAt(host, "application/json", path, "password", password); a.status != 422 || strings.Contains(a.body, "challenge") {
				t.Errorf("%s asks for a passkey at %s: %d %s", path, host, a.status, a.body)
			}
		}
	}
	in.postAt("localhost", "application/json", "/passkeys/ask").want(200)
	in.postAt("false.example", "application/json", "/passkeys/ask").want(421)
	secure := newSite(t, password, func(o *Options) { o.TLS, o.Hosts = true, []string{"bench.example"} })
	a := secure.client().postAt("bench.example:8443", "application/json", "/passkeys/ask").want(200).says(`"rpId":"bench.example"`, `"userVerification":"required"`)
	if cookie := a.header.Get("Set-Cookie"); !strings.Contains(cookie, "__Host-"+askedCookie) || !strings.Contains(cookie, "HttpOnly") || !strings.Contains(cookie, "Secure") || !strings.Contains(cookie, "SameSite=Strict") {
		t.Errorf("cookie %s", cookie)
	}
	bench := newBench(t)
	bench.url = strings.Replace(bench.url, "127.0.0.1", "localhost", 1)
	bench.client().ask("/passkeys/new").want(401).says("people who sign in")
}

// TestSecondFactor signs in through a proxy, which is another machine.
func TestSecondFactor(t *testing.T) {
	s := byItsName(t)
	boss := s.signedIn("boss")
	through := func(fields ...string) answer {
		form := url.Values{}
		for i := 0; i+1 < len(fields); i += 2 {
			form.Add(fields[i], fields[i+1])
		}
		return s.client().do("POST", "/sign-in", strings.NewReader(form.Encode()), "Content-Type", "application/x-www-form-urlencoded", "Accept", "text/html", "Via", "1.1 proxy.example")
	}
	through("id", "administer", "password", password).want(200)
	s.signedIn("price").post("/two-factors", "strict", "yes").want(403)
	boss.post("/two-factors", "strict", "yes", "reason", "invented").want(200).says("checked")
	through("id", "administer", "password", password).want(401).says("not enough", `name="code"`)
	through("id", "measure", "password", password).want(200)
	code := regexp.MustCompile(`<code>([^<]+)</code>`).FindStringSubmatch(boss.post("/people/administer/code").want(200).body)
	through("id", "administer", "password", password, "code", code[1]).want(200).says("Settings")
	through("id", "administer", "password", password, "code", code[1]).want(401)
	s.signedIn("administer") // at the machine itself
	boss.post("/two-factors", "reason", "invented").want(200)
	through("id", "administer", "password", password).want(200)

	// Who lost a passkey is helped by who administers.
	site := people.Site{Domain: "bench.example", Origin: "https://bench.example", Shop: "Invented Shop"}
	sign := s.who("sign")
	ticket, question, err := s.desk.AskNewPasskey(t.Context(), sign.Who, site)
	if err != nil {
		t.Fatal(err)
	}
	_, made := passkeytest.Make(question, passkeytest.Answer{Origin: site.Origin})
	if _, err := s.desk.AddPasskey(t.Context(), sign, ticket, "phone", made); err != nil {
		t.Fatal(err)
	}
	through("id", "sign", "password", password).want(401).says("not enough")
	staff, err := s.desk.Staff(t.Context(), s.who("boss").Who)
	if err != nil || len(staff.Passkeys) != 1 {
		t.Fatalf("%+v, %v", staff.Passkeys, err)
	}
	path := "/people/sign/passkeys/" + staff.Passkeys[0].ID + "/remove"
	boss.get("/settings").want(200).says(path)
	s.signedIn("audit").get("/settings").want(200).hides(path)
	boss.post(path, "reason", "phone lost").want(200)
	through("id", "sign", "password", password).want(200)
}

// TestEverybodyLandsSomewhere asks for the first page as everybody.
func TestEverybodyLandsSomewhere(t *testing.T) {
	s := newShop(t)
	for id := range team {
		a := s.signedIn(id).get("/").want(200)
		want := map[string]string{"price": "/book", "administer": "/settings"}[id]
		if want == "" {
			want = "/"
		}
		if a.path != want {
			t.Errorf("%s lands at %s, want %s", id, a.path, want)
		}
		if bench := strings.Contains(a.body, `<a href="/stations"`); bench != (want == "/") {
			t.Errorf("%s is shown the way to the stations: %t", id, bench)
		}
	}
	s.signedIn("measure").get("/record/" + s.recorded(s.who("boss")) + "/correct").want(403)
}

// TestNewPasswordTellsNobodyApart sends names that are and names that are not.
func TestNewPasswordTellsNobodyApart(t *testing.T) {
	s := newShop(t)
	if _, err := s.desk.ResetPassword(t.Context(), s.who("boss"), "price"); err != nil {
		t.Fatal(err)
	}
	code, err := s.desk.ResetPassword(t.Context(), s.who("boss"), "sign")
	if err != nil {
		t.Fatal(err)
	}
	if err := s.desk.NewPassword(t.Context(), "sign", code, "nine paper boats on a quiet lake", desk.Place{Source: "console"}); err != nil {
		t.Fatal(err)
	}
	pages := map[string]string{}
	for _, id := range []string{"measure", "price", "sign", "nobody-here"} {
		a := s.client().post("/new-password", "id", id, "code", code, "new", "ten paper boats on a quiet lake").want(401)
		pages[regexp.MustCompile(`(?s)<div class="wrong".*?</div>`).FindString(a.body)] = id
	}
	if len(pages) != 1 || pages[""] != "" {
		t.Errorf("they are told apart: %v", pages)
	}
}
