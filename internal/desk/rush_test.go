package desk

import (
	"bytes"
	"context"
	"fmt"
	"os"
	programs "os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/store"
	"wreath/internal/store/pgtest"
	"wreath/internal/store/postgres"
)

// BenchmarkScaleShops lets three counters at each of many shops record without a pause into one
// PostgreSQL, each shop with a program and three connections of its own.
func BenchmarkScaleShops(b *testing.B) {
	server := pgtest.New(b)
	for _, shops := range []int{1, 10, 40} {
		b.Run(fmt.Sprintf("shops=%d", shops), func(b *testing.B) {
			address := server.Database(b)
			var desks []*Desk
			for i := range shops {
				s, err := postgres.Open(b.Context(), address, postgres.Options{Connections: 3})
				if err != nil {
					b.Fatal(err)
				}
				b.Cleanup(func() { s.Close() })
				desks = append(desks, shopIn(b, s, fmt.Sprintf("shop-%d", i)))
			}
			for b.Loop() {
				rush(b, desks, 3, "")
			}
			for _, d := range desks {
				checkNumbers(b, d)
			}
			conn, err := pgx.Connect(b.Context(), address)
			if err != nil {
				b.Fatal(err)
			}
			defer conn.Close(context.Background())
			var deadlocks int
			if err := conn.QueryRow(b.Context(), `select deadlocks from pg_stat_database where datname = current_database()`).Scan(&deadlocks); err != nil {
				b.Fatal(err)
			}
			if deadlocks > 0 {
				b.Errorf("the server counted %d deadlocks", deadlocks)
			}
		})
	}
}

// BenchmarkScaleClients lets WREATH_SCALE_CLIENTS clients of one program, 8 unless set, record without
// a pause into one file, WREATH_SCALE_FILE or a new one.
func BenchmarkScaleClients(b *testing.B) {
	clients := 8
	if text := os.Getenv("WREATH_SCALE_CLIENTS"); text != "" {
		var err error
		if clients, err = strconv.Atoi(text); err != nil {
			b.Fatal(err)
		}
	}
	path := os.Getenv("WREATH_SCALE_FILE")
	if path == "" {
		path = filepath.Join(b.TempDir(), "shop.wreath")
	}
	d := shopIn(b, openFile(b, path), "river-street")
	for b.Loop() {
		rush(b, []*Desk{d}, clients, fmt.Sprint(os.Getpid()))
	}
	if os.Getenv("WREATH_SCALE_FILE") == "" { // other programs may be at work in a file that is given
		checkNumbers(b, d)
	}
}

// BenchmarkScalePrograms lets four programs of two clients each record into one file.
func BenchmarkScalePrograms(b *testing.B) {
	path := filepath.Join(b.TempDir(), "shop.wreath")
	d := shopIn(b, openFile(b, path), "river-street")
	program, err := os.Executable()
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		var started []*programs.Cmd
		var outputs []*bytes.Buffer
		for range 4 {
			c := programs.CommandContext(b.Context(), program, "-test.run=^$", "-test.bench=^BenchmarkScaleClients$")
			c.Env = append(os.Environ(), "WREATH_SCALE_CLIENTS=2", "WREATH_SCALE_FILE="+path)
			out := &bytes.Buffer{}
			c.Stdout, c.Stderr = out, out
			if err := c.Start(); err != nil {
				b.Fatal(err)
			}
			started, outputs = append(started, c), append(outputs, out)
		}
		for i, c := range started {
			if err := c.Wait(); err != nil {
				b.Errorf("program %d: %v\n%s", i+1, err, outputs[i])
			}
			for line := range strings.Lines(outputs[i].String()) {
				if strings.HasPrefix(line, "Benchmark") {
					b.Logf("program %d: %s", i+1, strings.TrimSpace(line))
				}
			}
		}
	}
	b.ReportMetric(float64(checkNumbers(b, d))/b.Elapsed().Seconds(), "acts/s")
}

// shopIn sits down at a shop of one person, which is opened when it is new.
func shopIn(b *testing.B, s *store.Store, name string) *Desk {
	b.Helper()
	private, public, err := ledger.NewKey(name)
	if err != nil {
		b.Fatal(err)
	}
	d, err := New(Options{Store: s, Shop: name, Private: private, Public: public, Version: "test", Cost: weak})
	if err != nil {
		b.Fatal(err)
	}
	known, err := d.Known(b.Context())
	if err == nil && !known {
		err = d.OpenShop(b.Context(), Opening{Shop: Shop{Name: "Invented Shop", TimeZone: "UTC"}, Person: people.Person{ID: "ada", Name: "Ada Invented"}}, "")
	}
	if err != nil {
		b.Fatal(err)
	}
	return d
}

// rush records from so many counters of each desk for 20 s and reports how long one act takes.
func rush(b *testing.B, desks []*Desk, counters int, mark string) {
	b.Helper()
	given := Given{Begin: Begin{Document: ring(b)}, Source: record.Typed}
	end := time.Now().Add(20 * time.Second)
	var group sync.WaitGroup
	var lock sync.Mutex
	var took []time.Duration
	for _, d := range desks {
		by := local(b, d)
		for counter := range counters {
			group.Go(func() {
				for i := 0; time.Now().Before(end); i++ {
					begun := time.Now()
					_, err := d.Record(b.Context(), By{Who: by.Who, Key: fmt.Sprintf("%s-%d-%d", mark, counter, i)}, given)
					if err != nil {
						b.Errorf("%s, counter %d, act %d: %v", d.Shop(), counter, i, err)
						return
					}
					lock.Lock()
					took = append(took, time.Since(begun))
					lock.Unlock()
				}
			})
		}
	}
	group.Wait()
	if len(took) == 0 {
		return
	}
	slices.Sort(took)
	for _, percent := range []int{50, 95, 99} {
		b.ReportMetric(float64(took[len(took)*percent/100].Microseconds())/1000, fmt.Sprintf("p%d-ms", percent))
	}
	b.ReportMetric(float64(took[len(took)-1].Microseconds())/1000, "max-ms")
	b.ReportMetric(float64(len(took))/20, "acts/s")
}

// checkNumbers verifies a log and that its records are numbered without a gap, none of them lost. It
// gives how many there are.
func checkNumbers(b *testing.B, d *Desk) (records int) {
	b.Helper()
	if _, err := d.Verify(context.Background(), nil, nil, nil, nil); err != nil {
		b.Errorf("%s: %v", d.Shop(), err)
	}
	err := d.o.Store.Read(context.Background(), d.o.Shop, func(tx *store.Tx) error {
		for e, err := range tx.Entries(0) {
			if err != nil {
				return err
			}
			if e.Kind != "determination-recorded" {
				continue
			}
			records++
			r, err := read[struct{ Number string }](e.Body)
			if want := fmt.Sprintf("D-%06d", records); err != nil || r.Number != want {
				return fmt.Errorf("record %q stands where %s belongs (%v)", r.Number, want, err)
			}
			if shown, err := tx.Determination(e.Subject); err != nil || shown.Number != r.Number {
				return fmt.Errorf("record %s is shown as %q (%v)", r.Number, shown.Number, err)
			}
		}
		return nil
	})
	if err != nil {
		b.Errorf("%s: %v", d.Shop(), err)
	}
	return records
}
