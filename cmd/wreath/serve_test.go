package main

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/web"
)

// spoken is what a command printed so far.
type spoken struct {
	sync.Mutex
	bytes.Buffer
}

func (s *spoken) Write(p []byte) (int, error) {
	s.Lock()
	defer s.Unlock()
	return s.Buffer.Write(p)
}

func (s *spoken) text() string {
	s.Lock()
	defer s.Unlock()
	return s.String()
}

// serving runs wreath serve until the test ends, or stop is called, which gives what it ended with.
func serving(t testing.TB, c serveCmd) (address, said string, stop func() error) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	out := &spoken{}
	ended := make(chan error, 1)
	go func() { ended <- c.serve(ctx, &streams{Out: out, Err: out}) }()
	stop = sync.OnceValue(func() error { cancel(); return <-ended })
	t.Cleanup(func() { stop() })
	open := regexp.MustCompile(`Open (https?://\S+)`)
	for range 500 {
		if found := open.FindStringSubmatch(out.text()); found != nil {
			return found[1], out.text(), stop
		}
		select {
		case err := <-ended:
			t.Fatalf("%v: %s", err, out.text())
		case <-time.After(10 * time.Millisecond):
		}
	}
	t.Fatalf("nothing is served: %s", out.text())
	return "", "", nil
}

func fetched(t testing.TB, client *http.Client, address string) (int, string) {
	t.Helper()
	got, err := client.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer got.Body.Close()
	data, err := io.ReadAll(got.Body)
	if err != nil {
		t.Fatal(err)
	}
	return got.StatusCode, string(data)
}

func TestServeRefuses(t *testing.T) {
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	for what, row := range map[string]struct {
		command      serveCmd
		reason, hint string
	}{
		"other machines, in the open": {serveCmd{Listen: "203.0.113.9:4917"}, "without encryption", "--local-certificate"},
		"all addresses, in the open":  {serveCmd{Listen: ":4917"}, "without encryption", "--insist-on-plain"},
		"a certificate without a key": {serveCmd{Listen: "127.0.0.1:0", Cert: "a.pem"}, "belong together", "both"},
		"two certificates":            {serveCmd{Listen: "127.0.0.1:0", Cert: "a.pem", Key: "a.key", Local: true}, "makes one", "one of them"},
		"a certificate that is none":  {serveCmd{Listen: "127.0.0.1:0", Cert: "none.pem", Key: "none.key"}, "can't be used", "PEM"},
		"an address without a port":   {serveCmd{Listen: "127.0.0.1"}, "can't be read", "127.0.0.1:4917"},
		"a port that is taken":        {serveCmd{Listen: taken.Addr().String()}, "another program listens on " + taken.Addr().String(), "--listen"},
	} {
		err := row.command.serve(t.Context(), &streams{Out: io.Discard, Err: io.Discard})
		var f *failure
		if !errors.As(err, &f) || !strings.Contains(f.Reason, row.reason) || !strings.Contains(f.Hint, row.hint) {
			t.Errorf("%s: %+v, want %q and %q", what, err, row.reason, row.hint)
		}
	}
}

func TestServeFirstRunThenStop(t *testing.T) {
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	address, _, stop := serving(t, serveCmd{Listen: "127.0.0.1:0"})
	if _, page := fetched(t, http.DefaultClient, address); !strings.Contains(page, "First run") || !strings.Contains(page, "Look around") {
		t.Errorf("first page: %.300s", page)
	}
	got, err := http.PostForm(address+"/first", url.Values{"begin": {"own"}, "interval": {"0.1 mg"}, "liquid": {"water"}, "arrangement": {"hanging"}})
	if err != nil {
		t.Fatal(err)
	}
	got.Body.Close()
	if got.StatusCode != 200 || got.Request.URL.Path != "/" {
		t.Fatalf("the first run ends with %d at %s", got.StatusCode, got.Request.URL)
	}
	stream, err := http.Get(address + "/events")
	if err != nil {
		t.Fatal(err)
	}
	defer stream.Body.Close()
	begun := time.Now()
	if err := stop(); err != nil {
		t.Errorf("stopped with %v", err)
	}
	if took := time.Since(begun); took > 3*time.Second { // one second on a machine that does nothing else
		t.Errorf("stopping took %s with an open stream", took)
	}
	again, _, _ := serving(t, serveCmd{Listen: "127.0.0.1:0"})
	if _, page := fetched(t, http.DefaultClient, again); !strings.Contains(page, "Bench") || strings.Contains(page, "First run") {
		t.Errorf("after a restart: %.300s", page)
	}
}

func TestServeDemoStaysApart(t *testing.T) {
	data := t.TempDir()
	t.Setenv("XDG_DATA_HOME", data)
	for range 2 { // made anew each time
		address, _, stop := serving(t, serveCmd{Listen: "127.0.0.1:0"})
		got, err := http.PostForm(address+"/first", url.Values{"begin": {"demo"}})
		if err != nil {
			t.Fatal(err)
		}
		got.Body.Close()
		if _, page := fetched(t, http.DefaultClient, address+"/book"); !strings.Contains(page, "invented") || !strings.Contains(page, "D-0000") {
			t.Errorf("day book of the invented shop: %.400s", page)
		}
		if err := stop(); err != nil {
			t.Error(err)
		}
		if _, err := os.Stat(filepath.Join(data, "wreath", "records.wreath")); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("looking around made a store of one's own: %v", err)
		}
	}
	if _, err := os.Stat(filepath.Join(data, "wreath", "demo.wreath")); err != nil {
		t.Error(err)
	}
}

func TestServeWithLocalCertificate(t *testing.T) {
	data := t.TempDir()
	t.Setenv("XDG_DATA_HOME", data)
	command := serveCmd{Listen: "127.0.0.1:0", Host: []string{"bench.example"}, Local: true}
	address, said, stop := serving(t, command)
	keys := filepath.Join(data, "wreath", "records.wreath.keys")
	if !strings.Contains(said, filepath.Join(keys, authorityFile)) || !strings.Contains(said, "SHA-256 ") {
		t.Errorf("nothing says what the tablets need: %s", said)
	}
	files, err := filepath.Glob(filepath.Join(keys, "*"))
	if err != nil || len(files) < 4 {
		t.Fatal(files, err)
	}
	for _, name := range files {
		if info, err := os.Stat(name); err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v %v, want 0600", name, info.Mode(), err)
		}
	}
	authority, err := os.ReadFile(filepath.Join(keys, authorityFile))
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AppendCertsFromPEM(authority)
	trusting := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots}}}
	if status, page := fetched(t, trusting, address); status != 200 || !strings.Contains(page, "First run") {
		t.Errorf("%d %.200s", status, page)
	}
	if _, err := http.Get(address); err == nil {
		t.Error("who does not trust the authority is served")
	}
	old := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots, MaxVersion: tls.VersionTLS12}}}
	if _, err := old.Get(address); err == nil {
		t.Error("an older version of TLS is served")
	}
	trusting.CloseIdleConnections()
	if err := stop(); err != nil {
		t.Error(err)
	}
	again, _, _ := serving(t, command)
	if status, _ := fetched(t, trusting, again); status != 200 {
		t.Error("after a restart the tablets have to trust anew")
	}
}

func TestLocalCertificateIsRenewed(t *testing.T) {
	at := time.Date(2026, 3, 4, 9, 0, 0, 0, time.UTC)
	now := at
	a := &localAuthority{folder: filepath.Join(t.TempDir(), "keys"), hosts: []string{"bench.example", "192.0.2.10"}, now: func() time.Time { return now }}
	serial := func(a *localAuthority) string {
		t.Helper()
		c, err := a.Certificate(nil)
		if err != nil {
			t.Fatal(err)
		}
		authority, err := readPair(a.file(authorityFile))
		if err != nil {
			t.Fatal(err)
		}
		roots := x509.NewCertPool()
		roots.AddCert(authority.Leaf)
		for _, name := range []string{"bench.example", "192.0.2.10", "localhost", "127.0.0.1", "::1"} {
			if _, err := c.Leaf.Verify(x509.VerifyOptions{DNSName: name, Roots: roots, CurrentTime: now}); err != nil {
				t.Errorf("%s on %s: %v", name, now, err)
			}
		}
		return c.Leaf.SerialNumber.String()
	}
	first, print := serial(a), a.fingerprint()
	now = at.AddDate(0, 0, serverDays-renewalDays-1)
	if serial(a) != first {
		t.Error("renewed too early")
	}
	now = at.AddDate(0, 0, serverDays-renewalDays+1)
	if serial(a) == first || a.fingerprint() != print {
		t.Error("near its end the certificate is made anew, by the same authority")
	}
	more := &localAuthority{folder: a.folder, hosts: append([]string{"other.example"}, a.hosts...), now: a.now}
	if _, err := more.Certificate(nil); err == nil || !strings.Contains(err.Error(), "other.example") {
		t.Errorf("a name that the authority may not speak for: %v", err)
	}
	now = at.AddDate(authorityYears, 0, -10)
	if serial(a); a.fingerprint() == print {
		t.Error("the authority itself comes to its end")
	}
	if err := os.WriteFile(a.file(serverFile), []byte("nonsense"), 0o600); err != nil {
		t.Fatal(err)
	}
	var f *failure
	if _, err := (&localAuthority{folder: a.folder, hosts: a.hosts, now: a.now}).Certificate(nil); !errors.As(err, &f) || f.Hint == "" {
		t.Errorf("a damaged file: %v", err)
	}
}

// TestSameDocumentsAsTheCommandLine makes a record over HTTP and shows it by the command.
func TestSameDocumentsAsTheCommandLine(t *testing.T) {
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	ring, err := os.ReadFile("../../examples/ring.json")
	if err != nil {
		t.Fatal(err)
	}
	command := serveCmd{Listen: "127.0.0.1:0"}
	if err := command.resolve(); err != nil {
		t.Fatal(err)
	}
	d, err := command.openOwn(t.Context(), desk.Opening{Shop: desk.Shop{Name: "Invented Shop", TimeZone: "UTC"}, Person: people.Person{ID: "owner", Name: "Owner Invented"}}, "")
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	address, _, stop := serving(t, command)
	got, err := http.Post(address+"/api/v1/determinations", "application/json", strings.NewReader(fmt.Sprintf(`{"document": %s}`, ring)))
	if err != nil {
		t.Fatal(err)
	}
	var made record.Record
	if err := json.NewDecoder(got.Body).Decode(&made); err != nil || got.StatusCode != 201 {
		t.Fatal(got.Status, err)
	}
	got.Body.Close()
	_, shown := fetched(t, http.DefaultClient, address+"/api/v1/determinations/"+made.Number)
	const place = `{"balance": {"resolution_g": 0.001}, "arrangement": "standing", "liquid": {"kind": "water", "temperature_c": 21}}`
	got, err = http.Post(address+"/api/v1/plan", "application/json", strings.NewReader(`{"mass": "12.4 g", "claim": "gold 750 yellow", "against": ["585", "tungsten"], "repeats": 3, "document": `+place+`}`))
	if err != nil {
		t.Fatal(err)
	}
	planned, err := io.ReadAll(got.Body)
	if err != nil || got.StatusCode != 200 {
		t.Fatal(got.Status, err, string(planned))
	}
	got.Body.Close()
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	samePlan(t, planned, place)
	out := &spoken{}
	show := showCmd{Number: made.Number}
	show.Format = "json"
	if err := show.Run(&streams{Out: out, Err: out}); err != nil {
		t.Fatal(err)
	}
	var byHTTP, byCommand map[string]any
	if err := errors.Join(json.Unmarshal([]byte(shown), &byHTTP), json.Unmarshal([]byte(out.text()), &byCommand)); err != nil {
		t.Fatal(err)
	}
	delete(byCommand, "checkpoint")
	if !reflect.DeepEqual(byHTTP, byCommand) {
		t.Errorf("over HTTP\n%s\nby the command\n%s", shown, out.text())
	}
}

// samePlan asks the command for the plan that came over HTTP.
func samePlan(t *testing.T, overHTTP []byte, place string) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "place.json")
	if err := os.WriteFile(file, []byte(place), 0o600); err != nil {
		t.Fatal(err)
	}
	out := &spoken{}
	ask := planCmd{Mass: "12.4 g", Claim: "gold 750 yellow", Against: []string{"585", "tungsten"}, Repeats: new(3), Draft: file, Format: "json"}
	if err := ask.Run(&streams{Out: out, Err: out}); err != nil {
		t.Fatal(err)
	}
	var byHTTP, byCommand map[string]any
	if err := errors.Join(json.Unmarshal(overHTTP, &byHTTP), json.Unmarshal([]byte(out.text()), &byCommand)); err != nil {
		t.Fatal(err)
	}
	if len(byHTTP) < 10 || !reflect.DeepEqual(byHTTP, byCommand) {
		t.Errorf("the plan over HTTP\n%s\nby the command\n%s", overHTTP, out.text())
	}
}

// BenchmarkStart opens a shop and answers the first page; it tells what memory that leaves in use.
func BenchmarkStart(b *testing.B) {
	b.Setenv("XDG_DATA_HOME", b.TempDir())
	command := serveCmd{Listen: "127.0.0.1:0"}
	if err := command.resolve(); err != nil {
		b.Fatal(err)
	}
	made, err := command.openOwn(b.Context(), desk.Opening{Shop: desk.Shop{Name: "Invented Shop", TimeZone: "UTC"}, Person: people.Person{ID: "owner", Name: "Owner Invented"}}, "")
	if err != nil {
		b.Fatal(err)
	}
	defer made.Close()
	for b.Loop() {
		p := place{}
		r, err := p.enter(b.Context())
		if err != nil {
			b.Fatal(err)
		}
		server, err := web.New(web.Options{Version: version, Desk: r.Desk})
		if err != nil {
			b.Fatal(err)
		}
		w, q := httptest.NewRecorder(), httptest.NewRequest("GET", "http://localhost/", nil)
		q.RemoteAddr = "127.0.0.1:1"
		if server.Handler().ServeHTTP(w, q); w.Code != 200 {
			b.Fatal(w.Code, w.Body)
		}
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		b.ReportMetric(float64(m.Sys-m.HeapReleased)/1e6, "MB-idle")
		r.Close()
	}
}
