package web

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/value"
)

// addresses are paths of every kind: page, problem, redirect, file, document, stream of lines.
var addresses = []string{"/", "/book", "/sign-in", "/no/such/page", "/static/wreath.css", "/pictures.css", apiRoot + "/shop", apiRoot + "/openapi.json", apiRoot + "/nothing", "/health/live", "/health/ready"}

func TestHeadersAreOnEveryAnswer(t *testing.T) {
	for _, tls := range []bool{false, true} {
		s := newSite(t, password, func(o *Options) { o.TLS = tls })
		for who, c := range map[string]*client{"nobody": s.client(), "boss": s.signedIn("boss")} {
			for _, path := range addresses {
				a := c.still().get(path)
				for name, want := range map[string]string{
					"X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin",
					"Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin",
				} {
					if got := a.header.Get(name); got != want {
						t.Errorf("%s as %s: %s: %q, want %q", path, who, name, got, want)
					}
				}
				policy := a.header.Get("Content-Security-Policy")
				for _, part := range []string{"default-src 'none'", "script-src 'self'", "style-src 'self'", "form-action 'self'", "base-uri 'none'", "frame-ancestors 'none'"} {
					if !strings.Contains(policy, part) {
						t.Errorf("%s as %s: the policy %q lacks %q", path, who, policy, part)
					}
				}
				if strings.Contains(policy, "unsafe") || strings.Contains(policy, "*") {
					t.Errorf("%s as %s: the policy %q is open", path, who, policy)
				}
				if secure := a.header.Get("Strict-Transport-Security") != ""; secure != tls {
					t.Errorf("%s: Strict-Transport-Security is %t with TLS %t", path, secure, tls)
				}
				if !strings.Contains(path, "css") && a.header.Get("Cache-Control") != "no-store" {
					t.Errorf("%s as %s may be kept: %q", path, who, a.header.Get("Cache-Control"))
				}
				if kind := a.header.Get("Content-Type"); a.status != 303 && kind == "" {
					t.Errorf("%s has no type", path)
				}
				for name := range a.header {
					if name == "Server" || strings.HasPrefix(name, "X-Powered") || strings.HasPrefix(name, "Access-Control") {
						t.Errorf("%s sends %s", path, name)
					}
				}
			}
		}
	}
}

func TestPagesHoldNoScriptAndNoStyle(t *testing.T) {
	s := newShop(t)
	number := s.recorded(s.who("boss"))
	c := s.signedIn("boss")
	inline := regexp.MustCompile(`(?i)<script(?:[^>]*)>[^<]|<style|\sstyle=|\son[a-z]+=|javascript:|<iframe|<object|<embed`)
	for _, path := range []string{"/", "/book", "/record/" + number, "/sheet/" + s.sheet(s.who("boss")), "/settings", "/stations", "/stations/B-1", "/materials", "/device", "/no/such/page"} {
		if found := inline.FindString(c.get(path).body); found != "" {
			t.Errorf("%s holds %q", path, found)
		}
	}
}

func TestOtherNamesAreRefused(t *testing.T) {
	s := newSite(t, "", func(o *Options) { o.Hosts = []string{"bench.example"} })
	for host, status := range map[string]int{
		"127.0.0.1": 200, "127.0.0.1:4917": 200, "localhost:4917": 200, "[::1]:4917": 200, "bench.example": 200, "BENCH.example:4917": 200,
		"evil.example": 421, "evil.example:4917": 421, "127.0.0.1.evil.example": 421, "bench.example.evil": 421, "localhost.evil": 421, "203.0.113.9": 421,
	} {
		a := s.client().do("GET", "/book", nil, "Host", host, "Accept", "text/html")
		if a.status != status {
			t.Errorf("asked for as %q: %d, want %d", host, a.status, status)
		}
		if status != 200 {
			a.hides("Day book</h1>")
		}
	}
}

func TestOtherSitesCanDoNothing(t *testing.T) {
	s := newBench(t)
	c := s.client()
	for what, headers := range map[string][]string{
		"form":           {"Sec-Fetch-Site", "cross-site", "Origin", "https://evil.example"},
		"sibling":        {"Sec-Fetch-Site", "same-site", "Origin", "http://other.localhost"},
		"older browser":  {"Origin", "https://evil.example"},
		"sandboxed page": {"Origin", "null"},
	} {
		before := s.entries()
		for _, path := range []string{"/sheets", "/prices", "/people", "/look", "/sign-out", "/device/forget", "/lock", apiRoot + "/items"} {
			a := c.do("POST", path, strings.NewReader("description=x"), append([]string{"Content-Type", "text/plain", "Accept", "text/html"}, headers...)...)
			if a.status != 403 {
				t.Errorf("%s to %s: %d, want 403", what, path, a.status)
			}
		}
		if s.entries() != before {
			t.Errorf("%s changed something", what)
		}
	}
	a := c.do("OPTIONS", apiRoot+"/items", nil, "Origin", "https://evil.example", "Access-Control-Request-Method", "POST")
	if a.status < 400 || a.header.Get("Access-Control-Allow-Origin") != "" {
		t.Errorf("a preflight is answered: %d %v", a.status, a.header)
	}
	c.do("POST", "/look", strings.NewReader("theme=dark"), "Content-Type", "application/x-www-form-urlencoded", "Sec-Fetch-Site", "same-origin", "Accept", "text/html").want(200)
}

func (s *site) entries() int64 {
	s.t.Helper()
	r, err := s.desk.Verify(s.t.Context(), nil, nil, nil, nil)
	if err != nil {
		s.t.Fatal(err)
	}
	return r.Entries
}

func TestCookies(t *testing.T) {
	for _, tls := range []bool{false, true} {
		s := newSite(t, password, func(o *Options) { o.TLS = tls })
		c := s.client().still()
		prefix := ""
		if tls {
			prefix = "__Host-"
		}
		check := func(a answer, name string) {
			t.Helper()
			for _, set := range (&http.Response{Header: a.header}).Cookies() {
				if set.Name != name {
					continue
				}
				if !set.HttpOnly || set.SameSite != http.SameSiteStrictMode || set.Secure != tls || set.Path != "/" || set.Domain != "" {
					t.Errorf("cookie %+v with TLS %t", set, tls)
				}
				return
			}
			t.Errorf("no cookie %s: %v", name, a.header["Set-Cookie"])
		}
		a := c.post("/sign-in", "id", "boss", "password", password).want(303)
		check(a, prefix+sessionCookie)
		check(c.post("/device", "name", "front counter").want(303), prefix+deviceCookie)
		check(c.post("/look", "theme", "dark").want(303), "wreath-theme")
		if a := c.post("/sign-out").want(303); a.header.Get("Clear-Site-Data") == "" {
			t.Error("signing out leaves what the browser keeps")
		}
	}
}

func TestSessionIsNotFixed(t *testing.T) {
	s := newShop(t)
	victim := s.signedIn("measure")
	planted := victim.held(sessionCookie)
	// Whoever plants a session of theirs gains nothing: signing in makes a new one, and ends the old.
	if a := victim.post("/sign-in", "id", "boss", "password", password); a.path == "/sign-in" {
		t.Fatal(a.body)
	}
	now := victim.held(sessionCookie)
	if now == planted || len(now) < 32 {
		t.Errorf("session %q after %q", now, planted)
	}
	thief := s.client().still()
	if a := thief.do("GET", "/book", nil, "Cookie", sessionCookie+"="+planted, "Accept", "text/html"); a.status != 303 {
		t.Errorf("the planted session still works: %d", a.status)
	}
	for _, given := range []string{"x", strings.Repeat("a", 4000), "wreath-session", now + "x", now[:len(now)-1]} {
		if a := thief.do("GET", "/book", nil, "Cookie", sessionCookie+"="+given, "Accept", "text/html"); a.status != 303 {
			t.Errorf("the session %.20q works: %d", given, a.status)
		}
	}
}

func TestSecretsStandInNoAddress(t *testing.T) {
	s := newShop(t)
	c := s.signedIn("boss").still()
	token := c.held(sessionCookie)
	var seen strings.Builder
	for _, path := range []string{"/", "/settings", "/book", "/record/" + s.recorded(s.who("boss"))} {
		a := c.get(path)
		seen.WriteString(a.body + a.header.Get("Location"))
	}
	if strings.Contains(seen.String(), token) {
		t.Error("a page holds the session's token")
	}
	// A token, password or session in an address opens nothing.
	program := s.program(people.Audit)
	for _, path := range []string{"/book?token=" + program.token, "/book?wreath-session=" + token, apiRoot + "/shop?access_token=" + program.token, "/sign-in?id=boss&password=" + strings.ReplaceAll(password, " ", "+")} {
		a := s.client().still().get(path)
		if a.status == 200 && !strings.HasPrefix(path, "/sign-in") || a.header.Get("Set-Cookie") != "" {
			t.Errorf("%.20s lets in: %d", path, a.status)
		}
		a.hides(password)
	}
	if strings.Contains(s.log.String(), token) || strings.Contains(s.log.String(), password) {
		t.Error("the log of the program holds a secret")
	}
}

func TestRedirectsStayHere(t *testing.T) {
	s := newShop(t)
	for _, then := range []string{"https://evil.example", "//evil.example", `/\evil.example`, "/\t/evil.example", `\\evil.example`, "javascript:alert(1)", "evil.example", "", "/\r\nSet-Cookie: a=b"} {
		for _, a := range []answer{
			s.client().still().post("/sign-in", "id", "boss", "password", password, "then", then),
			s.client().still().post("/look", "theme", "dark", "then", then),
		} {
			to := a.header.Get("Location")
			clean := strings.NewReplacer("\t", "", "\n", "", "\r", "").Replace(to) // as browsers do
			if a.status != 303 || !strings.HasPrefix(clean, "/") || strings.HasPrefix(clean, "//") || strings.HasPrefix(clean, `/\`) {
				t.Errorf("%q leads to %q", then, to)
			}
		}
		s.client().get("/sign-in?then="+strings.ReplaceAll(strings.ReplaceAll(then, "\r\n", ""), "\t", "")).hides(`value="https:`, `value="//`)
	}
	for _, path := range []string{"//evil.example/", "/%2f/evil.example", "/..//evil.example"} {
		if to := s.client().still().get(path).header.Get("Location"); strings.HasPrefix(to, "//") || strings.Contains(to, "://") {
			t.Errorf("%s leads to %q", path, to)
		}
	}
}

// TestTextStaysText stores markup wherever people write, and looks at every page that shows it.
func TestTextStaysText(t *testing.T) {
	const evil = `<img src=x onerror=alert(1)>"'</textarea></title></script>{{.}}`
	s := newShop(t)
	c := s.signedIn("boss")
	c.post("/sheets", "description", evil, "barcode", "T-1", "metal", "gold", "fineness", "750", "made_by", evil).want(200)
	by := s.who("boss")
	sheets, err := s.desk.Sheets(t.Context(), by.Who)
	if err != nil || len(sheets) != 1 {
		t.Fatal(sheets, err)
	}
	id := sheets[0].ID
	c.post("/sheet/"+id+"/reading", "slot", "air_g", "text", "7.4218", "unit", "g").want(200)
	c.post("/sheet/"+id+"/set-aside", "no", "1", "reason", evil).want(200)
	for _, r := range readings {
		unit := "g"
		if strings.Contains(r[0], "temp") {
			unit = "°C"
		}
		c.post("/sheet/"+id+"/reading", "slot", r[0], "text", r[1], "unit", unit).want(200)
	}
	if _, err := s.desk.Note(t.Context(), by, id, evil); err != nil {
		t.Fatal(err)
	}
	sheetPage := c.get("/sheet/" + id).want(200)
	made, err := s.desk.Conclude(t.Context(), by, id)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.desk.Correct(t.Context(), by, made.Number, desk.Given{Begin: desk.Begin{Document: made.Document}, Source: "typed"}, evil); err != nil {
		t.Fatal(err)
	}
	c.post("/people", "id", "evil", "name", evil, "role", "measure").want(200)
	c.post("/stations", "id", "S-1", "name", evil, "where", evil, "arrangement", "hanging", "balance", "B-1", "liquid", "water", "reason", evil).want(200)
	c.post("/instruments", "id", "B-1", "kind", "balance", "maker", evil, "interval", "0.1 mg", "reason", evil, "certificate", evil, "issuer", evil, "date", "2026-01-01", "due", "2027-01-01").want(200)
	c.post("/instruments/B-1/service", "reason", evil).want(200)
	c.post("/prices", "metal", "gold", "amount", "80", "per", "g", "currency", "EUR", "source", evil)
	item, err := s.desk.EnterItem(t.Context(), by, desk.Item{Description: evil, Barcode: "T-7", Marks: evil, Place: evil})
	if err != nil {
		t.Fatal(err)
	}
	pages := []answer{sheetPage}
	for _, path := range []string{"/", "/book", "/book?text=" + "onerror", "/record/" + made.Number, "/record/D-000002", "/compare?of=D-000002", "/stations", "/stations/S-1", "/stations/B-1", "/settings", "/day", "/scan?code=T-7", "/scan?code=" + item.ID,
		"/materials/x%3Cimg%20src=x%20onerror=alert(1)%3E", "/%3Cimg%20src=x%20onerror=alert(1)%3E", "/sign-in?then=/%22%3E%3Cimg%20src=x%20onerror=alert(1)%3E", "/materials?match=%3Cimg%20src=x%20onerror=alert(1)%3E"} {
		pages = append(pages, c.get(path))
	}
	shown := 0
	for _, a := range pages {
		a.hides("<img src=x", `onerror=alert(1)>"`, "</textarea></title>")
		if strings.Contains(a.body, "&lt;img src=x") {
			shown++
		}
		if a.status >= 500 {
			t.Errorf("%s breaks down: %d", a.path, a.status)
		}
	}
	if shown < 6 {
		t.Errorf("only %d pages show the text: the test looks at the wrong ones", shown)
	}
	if a := c.call("GET", "/determinations/"+made.Number, nil).want(200); a.header.Get("Content-Type") != "application/json" {
		t.Errorf("a document comes as %q", a.header.Get("Content-Type"))
	}
}

func TestGuessingPasswordsTakesLonger(t *testing.T) {
	s := newShop(t)
	c := s.client()
	var last answer
	for n := range 40 {
		if last = c.post("/sign-in", "id", "boss", "password", fmt.Sprintf("wrong guess number %d here", n)); last.status != 401 {
			break
		}
	}
	last.want(429)
	if wait := last.header.Get("Retry-After"); wait == "" || wait == "0" {
		t.Errorf("Retry-After is %q", wait)
	}
	if a := c.post("/sign-in", "id", "boss", "password", password); a.status != 429 {
		t.Errorf("the right password gets around the wait: %d", a.status)
	}
	unknown := s.client().post("/sign-in", "id", "nobody-here", "password", password)
	known := s.client().post("/sign-in", "id", "price", "password", "not the password at all")
	if unknown.status != known.status && unknown.status != 429 {
		t.Errorf("an unknown name is told apart: %d and %d", unknown.status, known.status)
	}
}

func TestInsideStaysInside(t *testing.T) {
	s := newBench(t)
	if err := os.Remove(s.path); err != nil {
		t.Fatal(err)
	}
	inner := errors.New("sql: no such table at /home/someone/secret.go:12")
	for _, accept := range []string{"text/html", "application/json"} {
		w := &recorder{header: http.Header{}}
		r, _ := http.NewRequest("GET", "/book", nil)
		r.Header.Set("Accept", accept)
		r.RemoteAddr = "127.0.0.1:1"
		s.server.fail(w, r, inner)
		if w.status != 500 || strings.Contains(w.body.String(), "sql") || strings.Contains(w.body.String(), "secret") || !strings.Contains(w.body.String(), "mark") {
			t.Errorf("%d %s", w.status, w.body.String())
		}
	}
	if !strings.Contains(s.log.String(), "no such table") {
		t.Error("the cause stands nowhere")
	}
	s.server.mux.HandleFunc("GET /broken", func(http.ResponseWriter, *http.Request) { panic("inner cause") })
	s.client().get("/broken").want(500).hides("inner cause", "goroutine", ".go:")
	if !strings.Contains(s.log.String(), "inner cause") {
		t.Error("the cause of a breakdown stands nowhere")
	}
}

// recorder keeps an answer.
type recorder struct {
	header http.Header
	status int
	body   strings.Builder
}

func (r *recorder) Header() http.Header         { return r.header }
func (r *recorder) WriteHeader(status int)      { r.status = status }
func (r *recorder) Write(p []byte) (int, error) { return r.body.Write(p) }

// TestLinesThatAreNoRequests speaks to the server that Serve makes, byte by byte.
func TestLinesThatAreNoRequests(t *testing.T) {
	s := newBench(t)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- s.server.Serve(ctx, l) }()
	host := "Host: " + l.Addr().String() + "\r\n"
	for what, row := range map[string]struct {
		lines  string
		status string
	}{
		"two lengths":          {"POST /look HTTP/1.1\r\n" + host + "Content-Length: 3\r\nContent-Length: 30\r\n\r\na=b", "400"},
		"length and chunks":    {"POST /look HTTP/1.1\r\n" + host + "Content-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\nGET /book HTTP/1.1\r\n" + host + "\r\n", ""},
		"unknown encoding":     {"POST /look HTTP/1.1\r\n" + host + "Transfer-Encoding: gzip, identity\r\n\r\n", "501"},
		"header with a space":  {"GET /book HTTP/1.1\r\n" + host + "Content-Length : 5\r\n\r\n", "400"},
		"headers without end":  {"GET /book HTTP/1.1\r\n" + host + "X-A: " + strings.Repeat("a", 80<<10) + "\r\n\r\n", "431"},
		"no host":              {"GET /book HTTP/1.1\r\n\r\n", "400"},
		"two hosts":            {"GET /book HTTP/1.1\r\n" + host + "Host: evil.example\r\n\r\n", "400"},
		"another site's name":  {"GET http://evil.example/book HTTP/1.1\r\n" + host + "\r\n", "421"},
		"a proxy's request":    {"CONNECT evil.example:443 HTTP/1.1\r\nHost: evil.example:443\r\n\r\n", "421"},
		"an unknown procedure": {"BREW /book HTTP/1.1\r\n" + host + "\r\n", "405"},
	} {
		conn, err := net.Dial("tcp", l.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		conn.SetDeadline(time.Now().Add(5 * time.Second))
		io.WriteString(conn, row.lines)
		line, _ := bufio.NewReader(conn).ReadString('\n')
		conn.Close()
		if row.status != "" && !strings.Contains(line, " "+row.status+" ") {
			t.Errorf("%s: %q, want %s", what, line, row.status)
		}
	}

	// Ending the server ends an open stream at once.
	conn, err := net.Dial("tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	io.WriteString(conn, "GET /events HTTP/1.1\r\n"+host+"\r\n")
	if line, err := bufio.NewReader(conn).ReadString('\n'); err != nil || !strings.Contains(line, "200") {
		t.Fatal(line, err)
	}
	stop()
	select {
	case err := <-ended:
		if err != nil {
			t.Error(err)
		}
	case <-time.After(3 * time.Second):
		t.Error("an open stream keeps the server from ending")
	}
}

func TestProxiesAreNotThisMachine(t *testing.T) {
	s := newBench(t)
	s.client().get("/book").want(200)
	for _, name := range []string{"X-Forwarded-For", "Forwarded", "X-Real-IP", "Via"} {
		if a := s.client().still().do("GET", "/book", nil, name, "127.0.0.1", "Accept", "text/html"); a.status != 303 {
			t.Errorf("with %s: %d, want a sign-in", name, a.status)
		}
	}
	if a := s.client().still().do("GET", "/book", nil, "Authorization", "Basic Ym9zczp4", "Accept", "text/html"); a.status != 303 {
		t.Errorf("another way of signing in: %d", a.status)
	}
}

// pageActions says which action each page and each form stands for; "" for everybody who was let in.
var pageActions = map[string]people.Action{
	"GET /practice": "", "POST /practice": "", "GET /practice/{id}": "", "GET /practice/{id}/events": "", "POST /practice/{id}/{act}": "", "GET /practice/shop": people.TakeReading, "POST /practice/shop": people.TakeReading,
	"GET /{$}": "", "POST /sheets": people.OpenDraft, "POST /weigh": people.OpenDraft, "GET /sheet/{id}": people.SeeRecords, "GET /sheet/{id}/far": people.SeeRecords,
	"POST /sheet/{id}/reading": people.TakeReading, "POST /sheet/{id}/set-aside": people.WithdrawReading, "POST /sheet/{id}/item": people.ChangeDraft,
	"POST /sheet/{id}/restore": people.WithdrawReading, "POST /sheet/{id}/reread": people.TakeReading, "POST /sheet/{id}/move": people.ChangeDraft, "POST /sheet/{id}/remark": people.ChangeDraft, "GET /cards": "",
	"GET /sheet/{id}/item": people.SeeRecords, "GET /sheet/{id}/lanes": people.SeeRecords, "POST /sheet/{id}/evidence": people.ChangeDraft, "GET /plan": "",
	"POST /sheet/{id}/carry-proof": people.TakeReading, "POST /sheet/{id}/conclude": people.RecordDetermination, "POST /sheet/{id}/drop": people.DropDraft,
	"POST /items/{id}/photos": people.AddPhoto, "POST /items/{id}/place": people.MoveItem, "GET /photos/{hash}": people.SeeRecords,
	"GET /scan": people.SeeRecords, "GET /stations": people.SeeStations, "GET /stations/{id}": people.SeeStations, "POST /stations": people.ManageStation,
	"POST /instruments": people.ManageInstrument, "POST /instruments/{id}/service": people.TakeOutOfService, "GET /materials": "", "GET /materials/{table}": "",
	"GET /instruments/{id}/line": people.ManageInstrument, "GET /instruments/{id}/line/now": people.ManageInstrument, "POST /instruments/{id}/line": people.ManageInstrument,
	"POST /instruments/{id}/check-weight": people.CheckInstrument, "POST /instruments/{id}/typed": people.TakeReading, "POST /sheet/{id}/balance": people.TakeReading,
	"GET /settings": "", "POST /people": people.AddPerson, "POST /people/{id}/end": people.EndPerson, "POST /people/{id}/code": people.ResetPassword,
	"POST /password": people.OwnCredentials, "POST /prices": people.SetPrice, "POST /terms": people.SetTerms,
	"GET /book": people.Search, "GET /book/{file}": people.Search, "GET /day": people.SeeRecords, "GET /record/{name}": people.SeeRecords, "POST /record/{name}/sign": people.SignDetermination,
	"GET /record/{name}/correct":  people.CorrectDetermination,
	"POST /record/{name}/correct": people.CorrectDetermination, "POST /record/{name}/evidence": people.ExportEvidence,
	"POST /record/{name}/value": people.ValueItem, "GET /compare": people.SeeRecords, "POST /lots": people.MakeLot, "GET /lots/{id}": people.SeePrices,
	"GET /record/{name}/slip": people.PrintSlip, "POST /record/{name}/slip": people.PrintSlip, "GET /record/{name}/proof": people.PrintSlip, "GET /record/{name}/paper/{file}": people.PrintSlip,
	"GET /record/{name}/report": people.IssueReport, "POST /record/{name}/report": people.IssueReport, "GET /items/{id}": people.SeeRecords, "POST /items/{id}": people.RegisterItem,
	"GET /items/{id}/{file}": people.PrintSlip, "GET /stations/{id}/{file}": people.SeeStations, "GET /printing": people.SeePrinters, "POST /printing/{number}/again": people.PrintSlip, "POST /printing/{number}/drop": people.PrintSlip, "POST /print": people.PrintSlip,
	"POST /printers": people.ManagePrinter, "POST /printers/{name}/test": people.ManagePrinter, "POST /printers/{name}/remove": people.ManagePrinter,
	"POST /shop": people.SetShop, "POST /logo": people.SetShop, "GET /logo": people.SeeRecords,
	"GET /files": "", "GET /files/{file}": "", "GET /files/{kind}/{file}": "", "POST /files/register": people.SeePersonalData, "POST /files/evidence": people.ExportEvidence,
	"GET /verify/file": people.ExportEvidence, "GET /status-list": people.ExportEvidence, "GET /import": people.RegisterItem, "POST /import": people.RegisterItem,
	"GET /device": people.EnrolDevice, "POST /device": people.EnrolDevice, "POST /pin": people.OwnCredentials, "POST /recovery-codes": people.OwnCredentials, "POST /sessions/{id}/end": people.OwnCredentials,
	"POST /passkeys/new": people.OwnCredentials, "POST /passkeys": people.OwnCredentials, "POST /passkeys/{id}/remove": people.OwnCredentials, "POST /people/{id}/passkeys/{passkey}/remove": people.RemovePasskey, "POST /two-factors": people.SetTwoFactors,
}

// TestRolesAndPages asks for every page and sends every form as everybody.
func TestRolesAndPages(t *testing.T) {
	sources, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	var patterns []string
	for _, name := range sources {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`s\.page\("((?:GET|POST) [^"]+)"`).FindAllStringSubmatch(string(text), -1) {
			patterns = append(patterns, m[1])
			if _, known := pageActions[m[1]]; !known {
				t.Errorf("%s is not in the table: say which action it stands for", m[1])
			}
		}
	}
	slices.Sort(patterns)
	if len(patterns) != len(pageActions) {
		t.Errorf("%d pages, %d in the table", len(patterns), len(pageActions))
	}
	everybody := append([]string{"nobody", "token"}, func() (ids []string) {
		for id := range team {
			ids = append(ids, id)
		}
		slices.Sort(ids)
		return ids
	}()...)
	for _, who := range everybody {
		t.Run(who, func(t *testing.T) {
			s := newShop(t)
			number := s.recorded(s.who("boss"))
			sheet := s.sheet(s.who("boss"))
			roles := []people.Role{team[who]}
			in := func() *client { return s.signedIn(who) }
			switch who {
			case "nobody":
				in = s.client
			case "token":
				roles = []people.Role{people.Measure}
				in = func() *client { return s.program(people.Measure) }
			}
			var c *client
			for _, pattern := range patterns {
				method, path, _ := strings.Cut(pattern, " ")
				path = strings.NewReplacer("/sheet/{id}", "/sheet/"+sheet, "/people/{id}", "/people/audit", "/sessions/{id}", "/sessions/0", "/lots/{id}", "/lots/none", "/items/{id}", "/items/none", "{id}", "B-1",
					"{name}", number, "{table}", "families", "{hash}", "none", "{passkey}", "none", "{file}", "records.csv", "{$}", "").Replace(path)
				if path == "/scan" {
					path = "/scan?code=" + number
				}
				if path == "/compare" {
					path = "/compare?of=" + number
				}
				if c == nil {
					c = in()
				}
				action := pageActions[pattern]
				may := who != "nobody" && (action == "" || people.May(roles, action)) && !(who == "token" && action == people.OwnCredentials)
				before := s.entries()
				var a answer
				if method == "GET" {
					a = c.still().get(path)
				} else {
					a = c.still().post(path, "description", "band", "station", "S-1", "slot", "air_g", "text", "7.4218", "unit", "g", "no", "1", "reason", "a reason", "arrangement", "hanging",
						"id", "x-"+strings.ToLower(who), "name", "Other Invented", "role", "measure", "kind", "balance", "interval", "0.1 mg", "liquid", "water", "metal", value.Metals[0], "amount", "80", "per", "g", "currency", "EUR",
						"source", "invented", "percent_gold", "90", "meaning", "approved", "password", password, "old", password, "new", password+" again", "pin", "830274", "place", "safe", "record", number, "recipes", value.MixedScrap, "shared", "yes",
						"document", claimDoc, "air_g", "7.4218", "liquid_g", "6.9431", "temperature", "21.5")
				}
				let := a.status != 401 && a.status != 403 && !(a.status == 303 && strings.HasPrefix(a.header.Get("Location"), "/sign-in?then=%2F"))
				switch {
				case may && !let && pattern != "POST /pin" && who != "token":
					t.Errorf("%s: %d, although %s may %s: %.300s", pattern, a.status, who, action, a.body)
				case !may && let && a.status < 400:
					t.Errorf("%s: %d, although %s may not %s", pattern, a.status, who, action)
				case !may && s.entries() != before:
					t.Errorf("%s: %s left something behind", pattern, who)
				case a.status >= 500:
					t.Errorf("%s as %s: %d %.300s", pattern, who, a.status, a.body)
					t.Log(s.log.String())
				}
				if pattern == "POST /device" || pattern == "POST /password" {
					c = nil // these end the session
				}
				if pattern == "POST /password" && may && a.status < 400 { // back to what the test signs in with
					by := desk.By{}
					_, by.Who, err = s.desk.SignIn(t.Context(), who, password+" again", desk.Place{Source: people.Console})
					if err == nil {
						err = s.desk.SetPassword(t.Context(), by, password+" again", password, desk.Place{Source: people.Console})
					}
					if err != nil {
						t.Fatal(err)
					}
				}
			}
		})
	}
}
