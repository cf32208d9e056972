package web

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"wreath/internal/desk"
	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/station"
	"wreath/internal/store"
	"wreath/internal/store/sqlite"
	"wreath/internal/value"
)

// Everything here is invented: shop, people, numbers and certificates.
const (
	password   = "seven copper ladders by the window"
	balanceDoc = `{"id": "B-1", "version": 1, "kind": "balance", "capacity_g": 210, "scale_interval_g": 0.0001,
 "repeatability_g": 0.0001, "repeatability_liquid_g": 0.0003, "repeatability_dof": 20,
 "certificates": [{"number": "B-77", "issuer": "Invented Calibration", "date": "2026-03-01", "next_due": "2027-03-01"}],
 "acceptance": {"date": "2026-03-02", "person": "A. Tester", "passed": true}}`
	stationDoc = `{"id": "S-1", "version": 1, "name": "Invented bench", "arrangement": "hanging", "altitude_m": 40,
 "balance": {"id": "B-1", "version": 1}, "hanger": {"wire_diameter_mm": 0.2, "wires": 1, "vessel_diameter_mm": 70, "surface_u_g": 0}, "liquid": {"kind": "water"}}`
	claimDoc = `{"item": {"description": "plain band, stamp 750", "colour": "yellow", "stones": false}, "claim": {"metal": "gold", "fineness": 750, "family": "gold-yellow", "made_by": "stamp"}}`
	termsDoc = `{"format": 1, "key": "counter", "version": 1, "name": "counter", "currency": "EUR", "max_price_age_min": 60,
 "metals": [{"metal": "gold", "percent": "92"}], "rounding": {"step": "0.01", "direction": "down"}}`
)

// readings are a whole determination of the item in claimDoc at the station S-1.
var readings = [][2]string{{"liquid.temperature_c", "21.5"}, {"air_g", "7.4218"}, {"liquid_g", "6.9431"}, {"liquid_g", "6.9428"}, {"closing_air_g", "7.4218"}}

var morning = time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC)

// clock is a clock that a test sets.
type clock struct {
	sync.Mutex
	at time.Time
}

func (c *clock) now() time.Time {
	c.Lock()
	defer c.Unlock()
	return c.at
}

func (c *clock) move(by time.Duration) {
	c.Lock()
	defer c.Unlock()
	c.at = c.at.Add(by)
}

// team are the people of a shop beside boss, who has all roles: one for each role. All have the same
// password.
var team = map[string]people.Role{
	"measure": people.Measure, "sign": people.Sign, "instruments": people.Instruments,
	"price": people.Price, "audit": people.Audit, "administer": people.Administer,
}

// site is an invented shop whose pages are served.
type site struct {
	t      testing.TB
	desk   *desk.Desk // nil before a first run
	server *Server
	http   *httptest.Server
	url    string // without a slash at its end
	path   string // of the store
	clock  *clock
	log    *bytes.Buffer
	public string // checks the checkpoints
}

// newBench serves a bench of one with a station, at which nobody signs in.
func newBench(t testing.TB) *site { return newSite(t, "", nil) }

// newShop serves a shop with boss and the team, where everybody signs in.
func newShop(t testing.TB) *site { return newSite(t, password, nil) }

// templates are stores that were set up once; tests work on copies. One is locked at a time.
var templates struct {
	sync.Mutex
	files           map[string][]byte // by the password of boss
	private, public string
}

// newSite serves a copy of an invented shop; change may change how it is served.
func newSite(t testing.TB, password string, change func(*Options)) *site {
	t.Helper()
	templates.Lock()
	defer templates.Unlock()
	if templates.files == nil {
		var err error
		if templates.private, templates.public, err = ledger.NewKey("river-street"); err != nil {
			t.Fatal(err)
		}
		templates.files = map[string][]byte{}
	}
	if templates.files[password] == nil {
		templates.files[password] = furnished(t, password)
	}
	path := filepath.Join(t.TempDir(), "shop.wreath")
	if err := os.WriteFile(path, templates.files[password], 0o600); err != nil {
		t.Fatal(err)
	}
	st, err := sqlite.Open(t.Context(), path, sqlite.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })
	c := &clock{at: morning}
	return serve(t, path, c, deskAt(t, st, path, c.now), change)
}

// newFirstRun serves what there is before a shop is open.
func newFirstRun(t testing.TB, code string) *site {
	t.Helper()
	c := &clock{at: morning}
	path := filepath.Join(t.TempDir(), "shop.wreath")
	return serve(t, path, c, nil, func(o *Options) {
		o.SetUpCode = code
		o.OpenOwn = func(ctx context.Context, opening desk.Opening, password string) (*desk.Desk, error) {
			st, err := sqlite.Open(ctx, path, sqlite.Options{})
			if err != nil {
				return nil, err
			}
			t.Cleanup(func() { st.Close() })
			if opening.Shop.TimeZone == "" {
				opening.Shop.TimeZone = "UTC"
			}
			d := deskAt(t, st, path, c.now)
			return d, d.OpenShop(ctx, opening, password)
		}
	})
}

// serve begins to serve pages; d is nil before the first run.
func serve(t testing.TB, path string, c *clock, d *desk.Desk, change func(*Options)) *site {
	t.Helper()
	s := &site{t: t, desk: d, path: path, clock: c, log: &bytes.Buffer{}, public: templates.public}
	o := Options{Desk: d, Version: "test", Now: c.now, Log: slog.New(slog.NewTextHandler(s.log, nil))}
	if change != nil {
		change(&o)
	}
	var err error
	if s.server, err = New(o); err != nil {
		t.Fatal(err)
	}
	s.http = httptest.NewUnstartedServer(s.server.Handler())
	if o.TLS {
		s.http.StartTLS()
	} else {
		s.http.Start()
	}
	s.url = s.http.URL
	t.Cleanup(func() { s.http.CloseClientConnections(); s.http.Close() })
	return s
}

func deskAt(t testing.TB, st *store.Store, path string, now func() time.Time) *desk.Desk {
	t.Helper()
	private, public := templates.private, templates.public
	if private == "" { // a first run: no template was made
		var err error
		if private, public, err = ledger.NewKey("river-street"); err != nil {
			t.Fatal(err)
		}
	}
	d, err := desk.New(desk.Options{
		Store: st, Shop: "river-street", Private: private, Public: public, Version: "test", Now: now,
		Cost:     people.Cost{MemoryKiB: 19 * 1024, Passes: 2, Lanes: 1}, // fast, for tests only
		Snapshot: func(ctx context.Context, to string) error { return sqlite.Snapshot(ctx, path, to) },
		OpenFile: func(ctx context.Context, path string, write bool) (*store.Store, error) {
			return sqlite.Open(ctx, path, sqlite.Options{ReadOnly: !write})
		},
		Scrub: func(ctx context.Context) error { return sqlite.Scrub(ctx, path) },
	})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// furnished is the file of a shop with a station, terms and a price; with people where there is a password.
func furnished(t testing.TB, password string) []byte {
	t.Helper()
	path := filepath.Join(t.TempDir(), "template.wreath")
	st, err := sqlite.Open(t.Context(), path, sqlite.Options{})
	if err != nil {
		t.Fatal(err)
	}
	d := deskAt(t, st, path, func() time.Time { return morning.Add(-time.Minute) })
	ctx := t.Context()
	ok := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	ok(d.OpenShop(ctx, desk.Opening{
		Shop:   desk.Shop{Name: "Invented Shop", TimeZone: "UTC", Currency: "EUR", Demo: true},
		Person: people.Person{ID: "boss", Name: "Boss Invented"},
	}, password))
	var who *desk.Who
	if password == "" {
		who, err = d.Local(ctx, people.Console)
	} else {
		_, who, err = d.SignIn(ctx, "boss", password, desk.Place{Source: people.Console})
	}
	ok(err)
	by := desk.By{Who: who}
	balance, err := station.DecodeInstrument([]byte(balanceDoc))
	ok(err)
	_, err = d.SetInstrument(ctx, by, *balance, "")
	ok(err)
	place, err := station.DecodeStation([]byte(stationDoc))
	ok(err)
	_, err = d.SetStation(ctx, by, *place, "")
	ok(err)
	terms, err := value.DecodeTerms([]byte(termsDoc))
	ok(err)
	_, err = d.SetTerms(ctx, by, *terms, "")
	ok(err)
	amount, err := value.ParseDecimal("80")
	ok(err)
	ok(d.SetPrices(ctx, by, []value.Price{{Metal: "gold", Amount: amount, Per: "g", Currency: "EUR", HeldAt: value.Moment{Time: morning.Add(-2 * time.Minute)}, Source: "invented"}}))
	if password != "" {
		for _, role := range people.Roles {
			id := string(role)
			code, err := d.AddPerson(ctx, by, people.Person{ID: id, Name: strings.ToUpper(id[:1]) + id[1:] + " Invented", Roles: []people.Role{role}})
			ok(err)
			ok(d.NewPassword(ctx, id, code, password, desk.Place{Source: people.Console}))
		}
	}
	ok(st.Close())
	data, err := os.ReadFile(path)
	ok(err)
	return data
}

// who is somebody at the desk itself, without the pages.
func (s *site) who(id string) desk.By {
	s.t.Helper()
	shop, err := s.desk.AboutShop(s.t.Context())
	if err != nil {
		s.t.Fatal(err)
	}
	var who *desk.Who
	if shop.SignIn {
		_, who, err = s.desk.SignIn(s.t.Context(), id, password, desk.Place{Source: people.Console})
	} else {
		who, err = s.desk.Local(s.t.Context(), people.Console)
	}
	if err != nil {
		s.t.Fatal(err)
	}
	return desk.By{Who: who}
}

// sheet opens a sheet with all readings at the desk itself.
func (s *site) sheet(by desk.By) string {
	s.t.Helper()
	sheet, err := s.desk.OpenSheet(s.t.Context(), by, desk.Begin{Station: "S-1", Document: []byte(claimDoc)})
	if err != nil {
		s.t.Fatal(err)
	}
	for _, r := range readings {
		if _, err := s.desk.Take(s.t.Context(), by, sheet.Sheet.ID, record.Reading{Slot: r[0], Text: r[1], Source: record.Typed}); err != nil {
			s.t.Fatal(err)
		}
	}
	return sheet.Sheet.ID
}

// recorded makes a record at the desk itself and gives its number.
func (s *site) recorded(by desk.By) string {
	s.t.Helper()
	r, err := s.desk.Conclude(s.t.Context(), by, s.sheet(by))
	if err != nil {
		s.t.Fatal(err)
	}
	return r.Number
}

// client is a browser without script, or a program.
type client struct {
	t     testing.TB
	site  *site
	http  *http.Client
	token string // of a program
}

// answer is what came back.
type answer struct {
	t      testing.TB
	status int
	header http.Header
	body   string
	path   string // where a redirect ended
}

// client is a browser that nobody has signed in with. It follows redirects.
func (s *site) client() *client {
	s.t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		s.t.Fatal(err)
	}
	c := s.http.Client()
	return &client{t: s.t, site: s, http: &http.Client{Jar: jar, Transport: c.Transport, Timeout: time.Minute}}
}

// signedIn is a browser with which somebody has signed in.
func (s *site) signedIn(id string) *client {
	s.t.Helper()
	c := s.client()
	a := c.post("/sign-in", "id", id, "password", password)
	if a.path == "/sign-in" {
		s.t.Fatalf("%s can't sign in: %d %s", id, a.status, a.body)
	}
	return c
}

// program is a program with a token that boss gave it.
func (s *site) program(roles ...people.Role) *client {
	s.t.Helper()
	shown, _, err := s.desk.IssueToken(s.t.Context(), s.who("boss"), "invented program", roles, s.clock.now().Add(24*time.Hour))
	if err != nil {
		s.t.Fatal(err)
	}
	c := s.client()
	c.token = shown
	return c
}

// still is the same client, but redirects are not followed.
func (c *client) still() *client {
	quiet := *c
	h := *c.http
	h.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	quiet.http = &h
	return &quiet
}

// do sends a request; headers come in pairs.
func (c *client) do(method, path string, body io.Reader, headers ...string) answer {
	c.t.Helper()
	r, err := http.NewRequestWithContext(c.t.Context(), method, c.site.url+path, body)
	if err != nil {
		c.t.Fatal(err)
	}
	if c.token != "" {
		r.Header.Set("Authorization", "Bearer "+c.token)
	}
	for i := 0; i+1 < len(headers); i += 2 {
		if headers[i] == "Host" {
			r.Host = headers[i+1]
		} else {
			r.Header.Set(headers[i], headers[i+1])
		}
	}
	got, err := c.http.Do(r)
	if err != nil {
		c.t.Fatal(err)
	}
	defer got.Body.Close()
	data, err := io.ReadAll(got.Body)
	if err != nil {
		c.t.Fatal(err)
	}
	return answer{c.t, got.StatusCode, got.Header, string(data), got.Request.URL.Path}
}

func (c *client) get(path string) answer {
	c.t.Helper()
	return c.do("GET", path, nil, "Accept", "text/html")
}

// post sends a form of names and values, in pairs.
func (c *client) post(path string, fields ...string) answer {
	c.t.Helper()
	form := url.Values{}
	for i := 0; i+1 < len(fields); i += 2 {
		form.Add(fields[i], fields[i+1])
	}
	return c.do("POST", path, strings.NewReader(form.Encode()), "Content-Type", "application/x-www-form-urlencoded", "Accept", "text/html")
}

// call sends a document to an endpoint; nil for none.
func (c *client) call(method, path string, document any, headers ...string) answer {
	c.t.Helper()
	var body io.Reader
	if document != nil {
		data, err := json.Marshal(document)
		if err != nil {
			c.t.Fatal(err)
		}
		body = bytes.NewReader(data)
		headers = append([]string{"Content-Type", "application/json"}, headers...)
	}
	return c.do(method, apiRoot+path, body, headers...)
}

// want asks for a status.
func (a answer) want(status int) answer {
	a.t.Helper()
	if a.status != status {
		a.t.Fatalf("status %d, want %d: %.600s", a.status, status, a.body)
	}
	return a
}

// into reads a JSON answer.
func into[T any](a answer) (out T) {
	a.t.Helper()
	if err := json.Unmarshal([]byte(a.body), &out); err != nil {
		a.t.Fatalf("%v in %.600s", err, a.body)
	}
	return out
}
