package demo

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"wreath/internal/desk"
	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/store"
	"wreath/internal/store/sqlite"
)

var when = time.Date(2026, 11, 26, 15, 20, 0, 0, time.UTC)

func options(t testing.TB) desk.Options {
	t.Helper()
	path := filepath.Join(t.TempDir(), "demo.wreath")
	s, err := sqlite.Open(t.Context(), path, sqlite.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	private, public, err := ledger.NewKey("demo")
	if err != nil {
		t.Fatal(err)
	}
	return desk.Options{
		Store: s, Shop: "demo", Private: private, Public: public, Version: "test",
		OpenFile: func(ctx context.Context, path string, write bool) (*store.Store, error) {
			return sqlite.Open(ctx, path, sqlite.Options{ReadOnly: !write})
		},
		Scrub: func(ctx context.Context) error { return sqlite.Scrub(ctx, path) },
	}
}

func TestProbe(t *testing.T) {
	o := options(t)
	start := time.Now()
	if err := Fill(t.Context(), o, when); err != nil {
		t.Fatal(err)
	}
	t.Log(time.Since(start))
	o.Now = func() time.Time { return when.Add(time.Minute) }
	d, err := desk.New(o)
	if err != nil {
		t.Fatal(err)
	}
	who, err := d.Local(t.Context(), people.Console)
	if err != nil {
		t.Fatal(err)
	}
	found, err := d.Find(t.Context(), who, store.Query{Limit: 200})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range found {
		r, err := d.Show(t.Context(), who, f.Number)
		if err != nil {
			t.Fatal(err)
		}
		sum, _ := r.Record.Summary()
		t.Logf("%s %-40s %-30s %-10s %8.1f ± %-6.1f doubts %d susp %v %s", f.Number, sum.Description, sum.Claim, sum.Finding, sum.DensityKgM3, sum.UKgM3, sum.Doubts, sum.Suspended, r.State.Text)
	}
}
