package web

import (
	"context"
	"encoding/json"
	"net"
	"net/http"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	_ "modernc.org/sqlite"

	"wreath/internal/desk"
	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/station"
	"wreath/internal/store/sqlite"
	"wreath/internal/value"
)

// bench is an invented bench of one at its pages, which listen on this machine.
type benchWorld struct {
	t       testing.TB
	path    string
	private string
	public  string
	options Options
	server  *Server
	address string
	desk    *desk.Desk
	who     *desk.Who
	pace    int          // how many times faster than it says its balance speaks; 0 is 1
	lines   atomic.Int64 // that its balance said

	mu   sync.Mutex
	stop func()
}

// sit opens the store and sits down at its desk.
func (w *benchWorld) sit() *desk.Desk {
	w.t.Helper()
	d, err := desk.New(w.seat())
	if err != nil {
		w.t.Fatal(err)
	}
	return d
}

// seat opens the store and says where its desk stands.
func (w *benchWorld) seat() desk.Options {
	w.t.Helper()
	s, err := sqlite.Open(context.Background(), w.path, sqlite.Options{})
	if err != nil {
		w.t.Fatal(err)
	}
	w.t.Cleanup(func() { s.Close() })
	return desk.Options{Store: s, Shop: "invented-bench", Private: w.private, Public: w.public, Version: "test"}
}

// emptyWorld has no shop yet: its pages begin with the first run.
func emptyWorld(t testing.TB) *benchWorld {
	t.Helper()
	w := &benchWorld{t: t, path: filepath.Join(t.TempDir(), "bench.wreath")}
	var err error
	if w.private, w.public, err = ledger.NewKey("invented-bench"); err != nil {
		t.Fatal(err)
	}
	w.options = Options{Version: "test", OpenOwn: func(ctx context.Context, o desk.Opening, password string) (*desk.Desk, error) {
		w.desk = w.sit()
		return w.desk, w.desk.OpenShop(ctx, o, password)
	}, OpenDemo: func(context.Context) (*desk.Desk, error) { return nil, http.ErrNotSupported }}
	w.serve("127.0.0.1:0")
	return w
}

// openWorld has a bench in water whose balance steps by 0.1 mg, prices and terms.
func openWorld(t testing.TB) *benchWorld {
	t.Helper()
	w := emptyWorld(t)
	w.halt()
	ctx := context.Background()
	w.desk = w.sit()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	must(w.desk.OpenShop(ctx, desk.Opening{Shop: desk.Shop{Name: "Invented Bench", TimeZone: "UTC", Currency: "EUR", Demo: true}, Person: people.Person{ID: "owner", Name: "Q. Weigher (invented)"}}, ""))
	var err error
	w.who, err = w.desk.Local(ctx, people.Console)
	must(err)
	by := desk.By{Who: w.who}
	for _, doc := range []string{
		`{"id": "B-1", "version": 1, "kind": "balance", "capacity_g": 210, "scale_interval_g": 0.0001, "repeatability_g": 0.0001, "repeatability_liquid_g": 0.0002, "repeatability_dof": 20}`,
		`{"id": "K-1", "version": 1, "kind": "check piece", "solid": {"density_kg_m3": 7930, "density_u_kg_m3": 0.4}}`,
	} {
		i, err := station.DecodeInstrument([]byte(doc))
		must(err)
		_, err = w.desk.SetInstrument(ctx, by, *i, "")
		must(err)
	}
	at, err := station.DecodeStation([]byte(`{"id": "bench", "version": 1, "name": "Bench", "arrangement": "hanging", "balance": {"id": "B-1", "version": 1},
		"check_piece": {"id": "K-1", "version": 1}, "hanger": {"wire_diameter_mm": 0.2, "wires": 1, "vessel_diameter_mm": 70, "surface_u_g": 0.0001}, "liquid": {"kind": "water"}}`))
	must(err)
	_, err = w.desk.SetStation(ctx, by, *at, "")
	must(err)
	terms, err := value.DecodeTerms([]byte(`{"format": 1, "key": "counter", "version": 1, "name": "counter", "currency": "EUR", "max_price_age_min": 600, "metals": [{"metal": "gold", "percent": "92"}], "rounding": {"step": "0.01", "direction": "down"}}`))
	must(err)
	_, err = w.desk.SetTerms(ctx, by, *terms, "")
	must(err)
	amount, err := value.ParseDecimal("80")
	must(err)
	must(w.desk.SetPrices(ctx, by, []value.Price{{Metal: "gold", Amount: amount, Per: "g", Currency: "EUR", HeldAt: value.Moment{Time: time.Now().Add(-time.Minute)}, Source: "invented"}}))
	w.options.Desk = w.desk
	w.serve(w.address)
	return w
}

// serve begins to answer at an address.
func (w *benchWorld) serve(address string) {
	w.t.Helper()
	var err error
	if w.server, err = New(w.options); err != nil {
		w.t.Fatal(err)
	}
	listener, err := net.Listen("tcp", address)
	if err != nil {
		w.t.Fatal(err)
	}
	w.address = listener.Addr().String()
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		if err := w.server.Serve(ctx, listener); err != nil {
			w.t.Errorf("the pages ended: %v", err)
		}
	}()
	w.mu.Lock()
	defer w.mu.Unlock()
	w.stop = sync.OnceFunc(func() { cancel(); <-done })
	w.t.Cleanup(w.stop)
}

// halt ends the pages as a kill would, apart from what is written already.
func (w *benchWorld) halt() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.stop()
}

func (w *benchWorld) home() string { return "http://" + w.address }

// claimed is the request of a yellow 750 band.
const claimed = `{"item": {"description": "plain band, stamp 750 (invented)", "colour": "yellow", "stones": false}, "claim": {"metal": "gold", "fineness": 750, "family": "gold-yellow", "made_by": "stamp"}}`

// openSheet opens a sheet with readings; a slot may stand several times.
func (w *benchWorld) openSheet(barcode string, readings ...[2]string) string {
	w.t.Helper()
	ctx := context.Background()
	s, err := w.desk.OpenSheet(ctx, desk.By{Who: w.who}, desk.Begin{Station: "bench", Barcode: barcode, Document: json.RawMessage(claimed)})
	if err != nil {
		w.t.Fatal(err)
	}
	for _, r := range readings {
		if _, err := w.desk.Take(ctx, desk.By{Who: w.who}, s.Sheet.ID, record.Reading{Slot: r[0], Text: r[1], Source: record.Typed}); err != nil {
			w.t.Fatal(err)
		}
	}
	return s.Sheet.ID
}

// weighed is a whole weighing of a band of 5 g and 15.58 g/cm³ in water of 21.4 °C, with a check piece
// of 7.93 g/cm³; the readings are computed from those.
var weighed = [][2]string{
	{"air_g", "5.0000"}, {"liquid_g", "4.6801"}, {"liquid_g", "4.6802"}, {"closing_air_g", "5.0000"}, {"liquid.temperature_c", "21.4"},
	{"liquid.proof.air_g", "20.0000"}, {"liquid.proof.liquid_g", "17.4859"},
}

// keep records a whole weighing.
func (w *benchWorld) keep() string {
	w.t.Helper()
	made, err := w.desk.Conclude(context.Background(), desk.By{Who: w.who}, w.openSheet("", weighed...))
	if err != nil {
		w.t.Fatal(err)
	}
	return made.Number
}
