package desk

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/store"
	"wreath/internal/store/sqlite"
)

// weak hashes fast, for tests only.
var weak = people.Cost{MemoryKiB: 19 * 1024, Passes: 2, Lanes: 1}

// newDesk is a desk at an invented shop in a new store.
func newDesk(t testing.TB) *Desk {
	t.Helper()
	d := deskAt(t, filepath.Join(t.TempDir(), "shop.wreath"))
	opening := Opening{Shop: Shop{Name: "Invented Shop", TimeZone: "UTC", Currency: "EUR"}, Person: people.Person{ID: "ada", Name: "Ada Invented"}}
	if err := d.OpenShop(t.Context(), opening, ""); err != nil {
		t.Fatal(err)
	}
	return d
}

func deskAt(t testing.TB, path string) *Desk {
	t.Helper()
	s := openFile(t, path)
	private, public, err := ledger.NewKey("river-street")
	if err != nil {
		t.Fatal(err)
	}
	d, err := New(Options{
		Store: s, Shop: "river-street", Private: private, Public: public, Version: "test", Cost: weak,
		Snapshot: func(ctx context.Context, to string) error { return sqlite.Snapshot(ctx, path, to) },
		OpenFile: func(ctx context.Context, path string, write bool) (*store.Store, error) {
			return sqlite.Open(ctx, path, sqlite.Options{ReadOnly: !write})
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func openFile(t testing.TB, path string) *store.Store {
	t.Helper()
	s, err := sqlite.Open(t.Context(), path, sqlite.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func local(t testing.TB, d *Desk) By {
	t.Helper()
	who, err := d.Local(t.Context(), people.Console)
	if err != nil {
		t.Fatal(err)
	}
	return By{Who: who}
}

func ring(t testing.TB) []byte {
	t.Helper()
	data, err := os.ReadFile("../../examples/ring.json")
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func TestOneBenchFromFirstItemToBackup(t *testing.T) {
	d := newDesk(t)
	by := local(t, d)
	by.Key = "first"
	ctx := t.Context()
	item, err := d.EnterItem(ctx, by, Item{Description: "plain band", Barcode: "T-7"})
	if err != nil {
		t.Fatal(err)
	}
	by.Key = "second"
	given := Given{Begin: Begin{Item: item.ID, Document: ring(t)}, Source: record.Typed}
	r, err := d.Record(ctx, by, given)
	if err != nil {
		t.Fatal(err)
	}
	again, err := d.Record(ctx, by, given)
	if err != nil || again.ID != r.ID {
		t.Fatalf("sent again: %v, %v", again, err)
	}
	by.Key = ""
	shown, err := d.Sign(ctx, by, r.Number, people.Approved)
	if err != nil {
		t.Fatal(err)
	}
	if !shown.State.Complete || len(shown.Missing) > 0 || shown.Statement != people.OnePersonStatement {
		t.Errorf("signed: %+v %v %q", shown.State, shown.Missing, shown.Statement)
	}
	found, err := d.Find(ctx, by.Who, store.Query{Text: "band t-7"})
	if err != nil || len(found) != 1 {
		t.Fatalf("%v %v", found, err)
	}
	repeat, err := d.Again(ctx, by.Who, r.Number)
	if err != nil || !repeat.Same {
		t.Fatalf("%+v %v", repeat, err)
	}
	bundle, err := d.Evidence(ctx, by.Who, []string{r.Number})
	if err != nil {
		t.Fatal(err)
	}
	if _, entries, err := bundle.Verify(d.o.Public); err != nil || len(entries) != 2 {
		t.Fatalf("%d %v", len(entries), err)
	}
	made, err := d.Backup(ctx, by, filepath.Join(t.TempDir(), "backup.wreath"))
	if err != nil {
		t.Fatal(err)
	}
	if made.Entries != sizeOf(t, d)-1 {
		t.Errorf("the backup has %d entries", made.Entries)
	}
}
