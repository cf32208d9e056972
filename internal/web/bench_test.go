package web

import (
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/store/sqlite"
)

// BenchmarkPages asks the server for one page after the other, without a browser, and reports the slowest
// twentieth too. With WREATH_SCALE_DIR and WREATH_SCALE it works on the store that BenchmarkScale of
// internal/desk filled there; it gives the first person of that store a password.
func BenchmarkPages(b *testing.B) {
	handler, cookie, by, d := pagesOf(b)
	sheet, err := d.OpenSheet(b.Context(), by, desk.Begin{Station: "S-1", Document: []byte(claimDoc)})
	if err != nil {
		b.Fatal(err)
	}
	for _, r := range readings {
		if _, err := d.Take(b.Context(), by, sheet.Sheet.ID, record.Reading{Slot: r[0], Text: r[1], Source: record.Typed}); err != nil {
			b.Fatal(err)
		}
	}
	for _, page := range []struct{ name, path string }{
		{"bench", "/"}, {"sheet", "/sheet/" + sheet.Sheet.ID}, {"far", "/sheet/" + sheet.Sheet.ID + "/far"},
		{"book", "/book"}, {"book-word", "/book?text=ring"}, {"book-finding", "/book?finding=met"},
		{"book-all", "/book?text=ring&finding=undecided&from=2020-01-01&until=2030-01-01&density_low=10&density_high=20&state=recorded"},
		{"record", "/record/D-000001"}, {"compare", "/compare?record=D-000001&record=D-000002"},
		{"stations", "/stations"}, {"materials", "/materials"}, {"families", "/materials/families"}, {"settings", "/settings"}, {"day", "/day"},
		{"plan-empty", "/plan"}, {"plan", coarsePlan}, {"plan-chances", coarsePlan + "&chances=1"},
	} {
		b.Run(page.name, func(b *testing.B) {
			took := make([]time.Duration, 0, b.N)
			for b.Loop() {
				r := httptest.NewRequest(http.MethodGet, "http://localhost"+page.path, nil)
				r.Header.Set("Accept", "text/html")
				r.RemoteAddr = "127.0.0.1:40000"
				if cookie != nil {
					r.AddCookie(cookie)
				}
				w := httptest.NewRecorder()
				start := time.Now()
				handler.ServeHTTP(w, r)
				took = append(took, time.Since(start))
				if w.Code != http.StatusOK {
					b.Fatalf("%s: %d %.300s", page.path, w.Code, w.Body.String())
				}
			}
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "ms/p95")
		})
	}
}

// pagesOf is what answers for pages, of the store that is named or of a small one.
func pagesOf(b *testing.B) (handler http.Handler, cookie *http.Cookie, by desk.By, d *desk.Desk) {
	b.Helper()
	folder, records := os.Getenv("WREATH_SCALE_DIR"), os.Getenv("WREATH_SCALE")
	if folder == "" || records == "" {
		s := newBench(b)
		by := s.who("boss")
		s.recorded(by)
		s.recorded(by)
		return s.server.Handler(), nil, by, s.desk
	}
	name := filepath.Join(folder, "shop-"+records)
	keys, err := os.ReadFile(name + ".key")
	if err != nil {
		b.Fatal(err)
	}
	st, err := sqlite.Open(b.Context(), name+".wreath", sqlite.Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { st.Close() })
	private, public, _ := strings.Cut(string(keys), "\n")
	d, err = desk.New(desk.Options{Store: st, Shop: "river-street", Private: private, Public: public, Version: "test", Now: time.Now, Cost: people.Cost{MemoryKiB: 19 * 1024, Passes: 2, Lanes: 1}})
	if err != nil {
		b.Fatal(err)
	}
	const first = "person-00"
	console := desk.Place{Source: people.Console}
	_, who, err := d.SignIn(b.Context(), first, password, console)
	if err != nil {
		code, err := d.ResetFromConsole(b.Context(), first)
		if err != nil {
			b.Fatal(err)
		}
		if err := d.NewPassword(b.Context(), first, code, password, console); err != nil {
			b.Fatal(err)
		}
		if _, who, err = d.SignIn(b.Context(), first, password, console); err != nil {
			b.Fatal(err)
		}
	}
	server, err := New(Options{Desk: d, Version: "test", Now: time.Now})
	if err != nil {
		b.Fatal(err)
	}
	return server.Handler(), signedInAt(b, server.Handler(), first), desk.By{Who: who}, d
}

// signedInAt is the cookie of a session of the pages.
func signedInAt(b *testing.B, handler http.Handler, id string) *http.Cookie {
	b.Helper()
	form := url.Values{"id": {id}, "password": {password}}.Encode()
	r := httptest.NewRequest(http.MethodPost, "http://localhost/sign-in", strings.NewReader(form))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	r.RemoteAddr = "127.0.0.1:40000"
	w := httptest.NewRecorder()
	handler.ServeHTTP(w, r)
	for _, c := range w.Result().Cookies() {
		if c.Value != "" {
			return c
		}
	}
	body, _ := io.ReadAll(w.Result().Body)
	b.Fatal(fmt.Errorf("no session: %d %.300s", w.Code, body))
	return nil
}
