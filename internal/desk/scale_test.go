package desk

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/record"
	"wreath/internal/store"
	"wreath/internal/store/postgres"
	"wreath/internal/store/sqlite"
)

// TestSearchFindsWhatAFilterWould asks every question of a store of 10,000 records and holds the
// answers against a filter over all of them.
func TestSearchFindsWhatAFilterWould(t *testing.T) {
	const records = 10_000
	m := newMill(t, 300)
	d := deskAt(t, filepath.Join(t.TempDir(), "shop.wreath"))
	m.staff(t, d)
	first := size(t, d)
	var all []filed
	err := d.o.Store.Write(t.Context(), d.o.Shop, func(tx *store.Tx) error {
		for n := range int64(records) {
			row, _ := m.record(n + 1)
			row.Seq = first + n
			texts := []string{row.Number, row.Barcode, row.Description, row.Claim, row.Item}
			all = append(all, filed{row, store.Words(strings.Join(texts, " "))})
			if err := tx.PutDetermination(row, texts...); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	by := clerk(t, d)
	rng := rand.New(rand.NewPCG(3, 3))
	for _, q := range questions {
		found := 0
		for range 6 {
			ask := q.ask(m, rng, records)
			ask.Limit = []int{0, 7, 1000}[rng.IntN(3)]
			got, err := d.Find(t.Context(), by.Who, ask)
			if err != nil {
				t.Fatalf("%s: %v", q.name, err)
			}
			want := filterRows(all, ask)
			if !slices.Equal(got, want) {
				t.Fatalf("%s: %+v gives %d records, want %d", q.name, ask, len(got), len(want))
			}
			found += len(got)
		}
		if nothing := strings.Contains(q.name, "nothing") || strings.Contains(q.name, "no record") || strings.Contains(q.name, "contradict") || strings.Contains(q.name, "never meet"); nothing != (found == 0) {
			t.Errorf("%s found %d records", q.name, found)
		}
	}
}

// filed is a row and the words under which it is found.
type filed struct {
	store.Determination
	words []string
}

// filterRows answers a question without any index.
func filterRows(all []filed, q store.Query) (out []store.Determination) {
	is := func(asked, has string) bool { return asked == "" || asked == has }
	limit := q.Limit
	if limit == 0 {
		limit = 50
	}
	var asked [][]string // each word with those that it may stand for
	for _, w := range store.Words(q.Text) {
		known := map[string]bool{}
		for _, f := range all {
			for _, has := range f.words {
				if has != w && strings.HasPrefix(has, w) {
					known[has] = true
				}
			}
		}
		longer := slices.Sorted(maps.Keys(known))
		asked = append(asked, append(longer[:min(20, len(longer))], w))
	}
	for _, f := range slices.Backward(all) {
		switch {
		case !is(q.Number, f.Number), !is(q.Barcode, f.Barcode), !is(q.Item, f.Item), !is(q.Person, f.Person), !is(q.Station, f.Station),
			!is(q.Finding, f.Finding), !is(q.State, f.State), !is(q.Metal, f.Metal),
			f.DensityKgM3 < q.DensityLow, q.DensityHigh > 0 && f.DensityKgM3 > q.DensityHigh,
			f.At.Before(q.From), !q.Until.IsZero() && !f.At.Before(q.Until), q.Before > 0 && f.Seq >= q.Before:
			continue
		}
		meets := true
		for _, any := range asked {
			meets = meets && slices.ContainsFunc(any, func(w string) bool { return slices.Contains(f.words, w) })
		}
		if meets && len(out) < limit {
			out = append(out, f.Determination)
		}
	}
	return out
}

func size(t testing.TB, d *Desk) (n int64) {
	t.Helper()
	err := d.o.Store.Read(t.Context(), d.o.Shop, func(tx *store.Tx) (err error) { n, err = tx.Size(); return err })
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// BenchmarkScale measures the desk over a store of WREATH_SCALE records, 10,000 unless set. The store
// is kept in the folder WREATH_SCALE_DIR for the next run when that is set; with WREATH_SCALE_POSTGRES,
// the address of a database, it stands there.
func BenchmarkScale(b *testing.B) {
	records := int64(10_000)
	if text := os.Getenv("WREATH_SCALE"); text != "" {
		var err error
		if records, err = strconv.ParseInt(text, 10, 64); err != nil {
			b.Fatal(err)
		}
	}
	folder := os.Getenv("WREATH_SCALE_DIR")
	if folder == "" {
		folder = b.TempDir()
	}
	m := newMill(b, 2000)
	d := scaleDesk(b, folder, records)
	m.fill(b, d, records)
	by := clerk(b, d)
	ctx := b.Context()
	rng := rand.New(rand.NewPCG(4, 4))
	b.Run("find", func(b *testing.B) {
		for _, q := range questions {
			b.Run(q.name, func(b *testing.B) {
				timed(b, func(i int) error {
					_, err := d.Find(ctx, by.Who, q.ask(m, rng, records))
					return err
				})
			})
		}
	})
	b.Run("open", func(b *testing.B) {
		for b.Loop() {
			s, err := openScale(b, folder, records)
			if err != nil {
				b.Fatal(err)
			}
			s.Close()
		}
	})
	b.Run("show", func(b *testing.B) {
		timed(b, func(i int) error { _, err := d.Show(ctx, by.Who, m.any(rng, records).ID); return err })
	})
	b.Run("history", func(b *testing.B) {
		timed(b, func(i int) error { _, err := d.History(ctx, by.Who, m.any(rng, records).ID); return err })
	})
	b.Run("evidence", func(b *testing.B) {
		timed(b, func(i int) error { _, err := d.Evidence(ctx, by.Who, []string{m.any(rng, records).ID}); return err })
	})
	b.Run("checkpoint", func(b *testing.B) {
		timed(b, func(i int) error {
			_, _, err := d.Checkpoint(ctx, by.Who, fmt.Sprint("timed ", rng.Uint64()))
			return err
		})
	})
	b.Run("record", func(b *testing.B) {
		given := Given{Begin: Begin{Document: ring(b)}, Source: record.Typed}
		timed(b, func(i int) error { _, err := d.Record(ctx, by, given); return err })
	})
	b.Run("append", func(b *testing.B) {
		_, body := m.record(1)
		timed(b, func(i int) error {
			return d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
				_, err := tx.Append(ledger.Entry{Head: ledger.Head{Time: time.Now(), Kind: "signed-out", Subject: "timed", Key: d.draw("")}, Body: body})
				return err
			})
		})
	})
	whole := func(name string, do func() error) {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if err := do(); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(records)*float64(b.N)/b.Elapsed().Seconds(), "records/s")
			b.ReportMetric(peak(b), "peak-MB")
		})
	}
	whole("verify", func() error { _, err := d.Verify(ctx, nil, nil, nil, nil); return err })
	whole("rebuild", func() error { return d.Rebuild(ctx) })
	if d.o.Store.Name() == "sqlite" {
		whole("backup", func() error {
			to := filepath.Join(folder, "backup.wreath")
			defer os.Remove(to)
			_, err := d.Backup(ctx, by, to)
			return err
		})
		whole("snapshot", func() error {
			to := filepath.Join(folder, "snapshot.wreath")
			defer os.Remove(to)
			return d.o.Snapshot(ctx, to)
		})
	}
}

// openScale opens the store of a scale.
func openScale(b *testing.B, folder string, records int64) (*store.Store, error) {
	if address := os.Getenv("WREATH_SCALE_POSTGRES"); address != "" {
		return postgres.Open(b.Context(), address, postgres.Options{})
	}
	return sqlite.Open(b.Context(), filepath.Join(folder, fmt.Sprintf("shop-%d.wreath", records)), sqlite.Options{})
}

// scaleDesk sits down at the store of a scale. Its key is kept beside it.
func scaleDesk(b *testing.B, folder string, records int64) *Desk {
	b.Helper()
	s, err := openScale(b, folder, records)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { s.Close() })
	name := filepath.Join(folder, fmt.Sprintf("shop-%d", records))
	o := Options{Store: s, Shop: "river-street", Version: "test", Cost: weak}
	if s.Name() == "sqlite" {
		o.Snapshot = func(ctx context.Context, to string) error { return sqlite.Snapshot(ctx, name+".wreath", to) }
		o.OpenFile = func(ctx context.Context, path string, write bool) (*store.Store, error) {
			return sqlite.Open(ctx, path, sqlite.Options{ReadOnly: !write})
		}
	} else {
		name += "-postgres"
	}
	keys, err := os.ReadFile(name + ".key")
	if errors.Is(err, os.ErrNotExist) {
		private, public, err := ledger.NewKey(o.Shop)
		if err == nil {
			err = os.WriteFile(name+".key", []byte(private+"\n"+public), 0o600)
		}
		if err != nil {
			b.Fatal(err)
		}
		keys = []byte(private + "\n" + public)
	} else if err != nil {
		b.Fatal(err)
	}
	o.Private, o.Public, _ = strings.Cut(string(keys), "\n")
	d, err := New(o)
	if err != nil {
		b.Fatal(err)
	}
	return d
}

// timed reports how long one of many takes: half, 95 % and 99 % take no longer.
func timed(b *testing.B, do func(i int) error) {
	b.Helper()
	var took []time.Duration
	for i := 0; b.Loop(); i++ {
		begun := time.Now()
		if err := do(i); err != nil {
			b.Fatal(err)
		}
		took = append(took, time.Since(begun))
	}
	slices.Sort(took)
	for _, percent := range []int{50, 95, 99} {
		b.ReportMetric(float64(took[len(took)*percent/100].Microseconds())/1000, fmt.Sprintf("p%d-ms", percent))
	}
	b.ReportMetric(float64(took[len(took)-1].Microseconds())/1000, "max-ms")
}

// peak is the most memory that the process ever held, in MB; 0 where the system doesn't tell.
func peak(b *testing.B) (mb float64) {
	b.Helper()
	text, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(text)) {
		if _, err := fmt.Sscanf(line, "VmHWM: %f kB", &mb); err == nil {
			return mb / 1000
		}
	}
	return 0
}
