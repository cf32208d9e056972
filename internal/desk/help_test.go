package desk

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	_ "modernc.org/sqlite"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/register"
	"wreath/internal/station"
	"wreath/internal/store"
	"wreath/internal/store/pgtest"
	"wreath/internal/store/postgres"
	"wreath/internal/store/sqlite"
	"wreath/internal/strictjson"
	"wreath/internal/value"
	"wreath/internal/vault"
)

func TestMain(m *testing.M) {
	if given := os.Getenv(printChild); given != "" {
		printUntilKilled(given)
	}
	// A day at the desk takes a second; the command line may ask for more of them.
	if err := flag.Set("rapid.checks", "25"); err != nil {
		panic(err)
	}
	pgtest.Main(m)
}

// Everything here is invented: people, customers, numbers and certificates.
const (
	password   = "seven copper ladders by the window"
	balanceDoc = `{"id": "B-1", "kind": "balance", "capacity_g": 210, "scale_interval_g": 0.0001,
 "repeatability_g": 0.0001, "repeatability_liquid_g": 0.0003, "repeatability_dof": 20,
 "certificates": [{"number": "B-77", "issuer": "Invented Calibration", "date": "2026-03-01", "next_due": "2027-03-01"}],
 "acceptance": {"date": "2026-03-02", "person": "A. Tester", "passed": true}}`
	thermometerDoc = `{"id": "T-1", "kind": "thermometer", "scale_interval_c": 0.1,
 "certificates": [{"number": "T-11", "issuer": "Invented Calibration", "date": "2026-06-01", "next_due": "2027-06-01",
                   "points_c": [{"shown": 15, "correction": -0.10, "expanded_u": 0.1, "k": 2}, {"shown": 25, "correction": -0.10, "expanded_u": 0.1, "k": 2}]}],
 "acceptance": {"date": "2026-06-02", "person": "A. Tester", "passed": true}}`
	pieceDoc = `{"id": "K-1", "kind": "check piece", "solid": {"density_kg_m3": 7930, "density_u_kg_m3": 0.4},
 "certificates": [{"number": "K-3", "issuer": "Invented Calibration", "date": "2026-01-10", "next_due": "2031-01-10"}],
 "acceptance": {"date": "2026-01-12", "person": "A. Tester", "passed": true}}`
	stationDoc = `{"id": "S-1", "version": 1, "arrangement": "hanging", "altitude_m": 40,
 "balance": {"id": "B-1", "version": 1}, "thermometer": {"id": "T-1", "version": 1}, "check_piece": {"id": "K-1", "version": 1},
 "hanger": {"wire_diameter_mm": 0.2, "wires": 1, "vessel_diameter_mm": 70, "surface_u_g": 0}, "liquid": {"kind": "water"}}`
	claimDoc = `{"item": {"description": "plain band, stamp 750", "colour": "yellow", "stones": false}, "claim": {"metal": "gold", "fineness": 750, "family": "gold-yellow", "made_by": "stamp"}}`
	termsDoc = `{"format": 1, "key": "counter", "version": 1, "name": "counter", "currency": "EUR", "max_price_age_min": 60,
 "metals": [{"metal": "gold", "percent": "92"}], "rounding": {"step": "0.01", "direction": "down"}}`
	rulesDoc = `{"format": 1, "name": "Invented Town", "time_zone": "UTC", "editions": [{"edition": "first", "source": "invented", "valid_from": "2020-01-01",
 "numbering": {"pattern": "A-{year}-{number:4}", "restart": "yearly"},
 "holds": [{"name": "ten days", "deals": ["buy"], "for": {"days": 10}}],
 "identity": [{"name": "from 100", "deals": ["buy", "pledge"], "from": {"amount": "100", "currency": "EUR"}, "ask": ["name", "address"]}],
 "retention": [{"name": "two years", "of": "personal-data", "deals": ["buy"], "from": "deal", "for": {"years": 2}}]}]}`
)

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

// world is an invented shop at work, with one person for each role, some who have several, and a
// counter.
type world struct {
	*Desk
	t      testing.TB
	path   string
	clock  *clock
	device string // secret of the counter
	who    map[string]*Who
	token  map[string]string // of sessions, by person
	open   string            // a sheet, in a stocked world
	lot    string            // a lot, in a stocked world
}

// team are the people of a world, beside boss, who has all roles. Gone has left.
var team = map[string][]people.Role{
	"measure": {people.Measure}, "sign": {people.Sign}, "instruments": {people.Instruments},
	"price": {people.Price}, "audit": {people.Audit}, "administer": {people.Administer},
	"second": {people.Sign, people.Measure}, "gone": people.Roles,
}

// template is a world that was set up once; tests work on copies of its file.
var template struct {
	sync.Once
	file            []byte
	private, public string
	device          string
	who             map[string]*Who
	token           map[string]string
	err             error
}

var counterPlace = Place{Source: "192.0.2.7"}

// open gives a test a world of its own.
func openWorld(t testing.TB) *world {
	t.Helper()
	template.Do(func() { template.err = setUp(t) })
	if template.err != nil {
		t.Fatal(template.err)
	}
	w := &world{t: t, path: filepath.Join(t.TempDir(), "shop.wreath"), clock: &clock{at: morning}, device: template.device, who: map[string]*Who{}, token: template.token}
	if err := os.WriteFile(w.path, template.file, 0o600); err != nil {
		t.Fatal(err)
	}
	w.Desk = sitAt(t, openFile(t, w.path), w.path, template.private, template.public, w.clock.now)
	for id, who := range template.who {
		copied := *who
		w.who[id] = &copied
	}
	return w
}

// sitAt is a desk at a store. A path is needed for backups only.
func sitAt(t testing.TB, s *store.Store, path, private, public string, now func() time.Time) *Desk {
	t.Helper()
	d, err := New(Options{
		Store: s, Shop: "river-street", Private: private, Public: public, Version: "test", Cost: weak, Now: now,
		Snapshot: func(ctx context.Context, to string) error { return sqlite.Snapshot(ctx, path, to) },
		OpenFile: func(ctx context.Context, path string, write bool) (*store.Store, error) {
			return sqlite.Open(ctx, path, sqlite.Options{ReadOnly: !write})
		},
		Scrub: func(ctx context.Context) error {
			if path == "" {
				return nil
			}
			return sqlite.Scrub(ctx, path)
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func setUp(t testing.TB) error {
	folder, err := os.MkdirTemp("", "wreath-desk-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)
	path := filepath.Join(folder, "shop.wreath")
	s, err := sqlite.Open(context.Background(), path, sqlite.Options{})
	if err != nil {
		return err
	}
	if template.private, template.public, err = ledger.NewKey("river-street"); err != nil {
		return err
	}
	c := &clock{at: morning.Add(-time.Minute)}
	d := sitAt(t, s, path, template.private, template.public, c.now)
	if err := errors.Join(furnish(d, c), s.Close()); err != nil {
		return err
	}
	template.file, err = os.ReadFile(path)
	return err
}

// furnish fills the template.
func furnish(d *Desk, c *clock) error {
	ctx := context.Background()
	template.who, template.token = map[string]*Who{}, map[string]string{}
	opening := Opening{Shop: Shop{Name: "Invented Shop", TimeZone: "UTC", Currency: "EUR", Demo: true}, Person: people.Person{ID: "boss", Name: "Boss Invented"}}
	if err := d.OpenShop(ctx, opening, password); err != nil {
		return err
	}
	token, boss, err := d.SignIn(ctx, "boss", password, counterPlace)
	if err != nil {
		return err
	}
	template.token["boss"], template.who["boss"] = token, boss
	by := By{Who: boss}
	if template.device, _, err = d.EnrolDevice(ctx, by, "front counter", true); err != nil {
		return err
	}
	for id, roles := range team {
		code, err := d.AddPerson(ctx, by, people.Person{ID: id, Name: strings.ToUpper(id[:1]) + id[1:] + " Invented", Roles: roles})
		if err == nil {
			err = d.NewPassword(ctx, id, code, password, counterPlace)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", id, err)
		}
		if template.token[id], template.who[id], err = d.SignIn(ctx, id, password, counterPlace); err != nil {
			return err
		}
	}
	for _, doc := range []string{balanceDoc, thermometerDoc, pieceDoc} {
		i, err := station.DecodeInstrument([]byte(strings.Replace(doc, `"kind"`, `"version": 1, "kind"`, 1)))
		if err == nil {
			_, err = d.SetInstrument(ctx, by, *i, "")
		}
		if err != nil {
			return err
		}
	}
	st, err := station.DecodeStation([]byte(stationDoc))
	if err == nil {
		_, err = d.SetStation(ctx, by, *st, "")
	}
	if err != nil {
		return err
	}
	terms, err := value.DecodeTerms([]byte(termsDoc))
	if err == nil {
		_, err = d.SetTerms(ctx, by, *terms, "")
	}
	if err == nil {
		err = d.SetPrices(ctx, by, []value.Price{goldPrice("80")})
	}
	if err != nil {
		return err
	}
	return d.EndPerson(ctx, by, "gone", "left")
}

func decimalOf(text string) value.Decimal {
	d, err := value.ParseDecimal(text)
	if err != nil {
		panic(err)
	}
	return d
}

func goldPrice(amount string) value.Price {
	return value.Price{Metal: "gold", Amount: decimalOf(amount), Per: "g", Currency: "EUR", HeldAt: value.Moment{Time: morning.Add(-2 * time.Minute)}, Source: "invented"}
}

func must[T any](t testing.TB) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatalf("%v: %s", err, hintOf(err))
		}
		return v
	}
}

func (w *world) ok(err error) {
	w.t.Helper()
	if err != nil {
		w.t.Fatalf("%v: %s", err, hintOf(err))
	}
}

// boss is who may do everything, in a new act.
func (w *world) boss() By { return By{Who: w.who["boss"]} }

func (w *world) as(id string) By { return By{Who: w.who[id]} }

func (w *world) item() Item {
	w.t.Helper()
	return must[Item](w.t)(w.EnterItem(w.t.Context(), w.boss(), Item{Description: "plain band"}))
}

// sheet is a sheet with its first readings, taken by boss.
func (w *world) sheet() string {
	w.t.Helper()
	s := must[Sheet](w.t)(w.OpenSheet(w.t.Context(), w.boss(), Begin{Station: "S-1", Document: []byte(claimDoc)}))
	for _, r := range [][2]string{
		{"liquid.temperature_c", "21,5"}, {"liquid.proof.air_g", "39.6500"}, {"liquid.proof.liquid_g", "34.6655"},
		{"air_g", "7.4218"}, {"liquid_g", "6.9431"}, {"liquid_g", "6.9428"}, {"closing_air_g", "7.4218"},
	} {
		must[Sheet](w.t)(w.Take(w.t.Context(), w.boss(), s.Sheet.ID, record.Reading{Slot: r[0], Text: r[1], Source: record.Typed}))
	}
	return s.Sheet.ID
}

func ringGiven(t testing.TB) Given {
	return Given{Begin: Begin{Document: ring(t)}, Source: record.Typed}
}

// recorded is the number of a new record that a person made.
func (w *world) recorded(by By) string {
	w.t.Helper()
	return must[*record.Record](w.t)(w.Record(w.t.Context(), by, ringGiven(w.t))).Number
}

func (w *world) sign(id, number string, m people.Meaning) Recorded {
	w.t.Helper()
	w.ok(w.Confirm(w.t.Context(), w.who[id], password, "", counterPlace))
	return must[Recorded](w.t)(w.Sign(w.t.Context(), w.as(id), number, m))
}

var somebody = vault.Person{Name: "Quilla Vandermeersch", Address: "17 Invented Quay", BornOn: "1980-02-03",
	Identity: &vault.Identity{Kind: "passport", Number: "ZQX7731905"}, Contact: "+00 555 0199"}

func (w *world) customer() string {
	w.t.Helper()
	return must[string](w.t)(w.EnterCustomer(w.t.Context(), w.boss(), somebody))
}

func (w *world) bought(item string) Deal {
	w.t.Helper()
	return must[Deal](w.t)(w.Register(w.t.Context(), w.boss(), Deal{Kind: "buy", Items: []string{item}, Amount: "50", Currency: "EUR"}))
}

func rulesOf(t testing.TB) register.Rules {
	t.Helper()
	return must[register.Rules](t)(register.Decode([]byte(rulesDoc)))
}

func picture(t testing.TB) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 40, 30))
	for i := range 40 {
		img.Set(i, i%30, color.RGBA{200, 160, 40, 255})
	}
	var out bytes.Buffer
	if err := png.Encode(&out, img); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// hintOf finds how an error says that it can be mended; "" when it doesn't.
func hintOf(err error) string {
	var user *UserError
	var field *strictjson.FieldError
	var refused *people.Refused
	var signIn *people.SignInError
	var code *people.CodeError
	var wait *people.WaitError
	var off *people.OffError
	var hinting interface{ Hint() string }
	var faults value.Faults
	var stale *StaleError
	switch {
	case errors.As(err, &user):
		return user.Hint
	case errors.As(err, &field):
		return field.Hint
	case errors.As(err, &refused):
		return refused.Hint
	case errors.As(err, &signIn):
		return signIn.Hint
	case errors.As(err, &code):
		return code.Hint
	case errors.As(err, &wait):
		return wait.Hint
	case errors.As(err, &off):
		return off.Hint
	case errors.As(err, &hinting):
		return hinting.Hint()
	case errors.As(err, &faults):
		return faults[0].Hint
	case errors.As(err, &stale):
		return "look at it again" // its own words say so
	}
	return ""
}

// refused asks that an error gives its reason and a hint.
func refused(t testing.TB, what string, err error) {
	t.Helper()
	switch {
	case err == nil:
		t.Errorf("%s: no error", what)
	case errors.Is(err, people.ErrLocked):
	case err.Error() == "" || hintOf(err) == "":
		t.Errorf("%s: %T %v, without a hint", what, err, err)
	}
}

func saying(t testing.TB, what string, err error, text string) {
	t.Helper()
	refused(t, what, err)
	if err != nil && !strings.Contains(err.Error(), text) {
		t.Errorf("%s: %v, want it to say %q", what, err, text)
	}
}

// size is the number of entries.
func (w *world) size() int64 {
	w.t.Helper()
	return sizeOf(w.t, w.Desk)
}

func sizeOf(t testing.TB, d *Desk) (size int64) {
	t.Helper()
	err := d.o.Store.Read(t.Context(), d.o.Shop, func(tx *store.Tx) (err error) { size, err = tx.Size(); return err })
	if err != nil {
		t.Fatal(err)
	}
	return size
}

func lastEntry(t testing.TB, d *Desk) (e ledger.Entry) {
	t.Helper()
	err := d.o.Store.Read(t.Context(), d.o.Shop, func(tx *store.Tx) error {
		size, err := tx.Size()
		if err == nil {
			e, err = tx.Entry(size - 1)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// all is a hash over everything in the store, and how many rows each table has.
func (w *world) all() string {
	w.t.Helper()
	db, err := sql.Open("sqlite", w.path)
	if err != nil {
		w.t.Fatal(err)
	}
	defer db.Close()
	sum := sha256.New()
	counts := ""
	for _, query := range []string{
		`select shop, size, hex(frontier), last_time from shop`, `select seq, hex(raw) from entry order by seq`, `select id, hex(hash) from node order by id`,
		`select size, reason from checkpoint order by size, reason`, `select kind, id, seq, doc from thing order by kind, id`,
		`select seq, id, state, superseded_by from determination order by seq`, `select word, seq from word order by word, seq`,
		`select kind, id, hex(value) from secret order by kind, id`, `select hash, length(data) from attachment order by hash`,
	} {
		rows, err := db.Query(query)
		if err != nil {
			w.t.Fatal(err)
		}
		columns, _ := rows.Columns()
		values, into := make([]string, len(columns)), make([]any, len(columns))
		for i := range values {
			into[i] = &values[i]
		}
		n := 0
		for rows.Next() {
			if err := rows.Scan(into...); err != nil {
				w.t.Fatal(err)
			}
			fmt.Fprintln(sum, values)
			n++
		}
		if err := errors.Join(rows.Err(), rows.Close()); err != nil {
			w.t.Fatal(err)
		}
		counts += fmt.Sprint(" ", n)
	}
	return hex.EncodeToString(sum.Sum(nil)) + counts
}

// exec changes the store behind the desk's back.
func exec(t testing.TB, path, statement string, args ...any) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	result, err := db.Exec(statement, args...)
	if err != nil {
		t.Fatal(err)
	}
	if n, err := result.RowsAffected(); err != nil || n == 0 {
		t.Fatalf("%s: %d rows, %v", statement, n, err)
	}
}

// verified asks that the log is whole and the views follow from it.
func verified(t testing.TB, d *Desk) store.Report {
	t.Helper()
	return must[store.Report](t)(d.Verify(t.Context(), []string{d.o.Public}, nil, openFile(t, filepath.Join(t.TempDir(), "scratch")), nil))
}

// onPostgres is a store in a new database.
func onPostgres(t testing.TB) *store.Store {
	t.Helper()
	s, err := postgres.Open(t.Context(), pgtest.Start(t).Database(t), postgres.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}
