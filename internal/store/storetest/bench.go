package storetest

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"wreath/internal/ledger"
	"wreath/internal/store"
)

// large is an entry with a body of 12 KB, the size of a determination with its readings.
func large(n int) ledger.Entry {
	d := draft(n)
	d.Body = ledger.Document(`{"readings":"` + strings.Repeat("x", 12_000) + `"}`)
	return d
}

// Bench measures one kind of store.
func Bench(b *testing.B, k Kind) {
	b.Run("append 12 KB", func(b *testing.B) {
		sh := begin(b, k.New(b).Open(b), "demo")
		b.SetBytes(12_000)
		for i := 0; b.Loop(); i++ {
			sh.write(b, func(tx *store.Tx) error {
				_, err := tx.Append(large(i))
				return err
			})
		}
	})
	b.Run("verify", func(b *testing.B) {
		const n = 20_000
		sh := begin(b, k.New(b).Open(b), "demo")
		sh.grow(b, 0, n)
		b.ResetTimer()
		for b.Loop() {
			sh.verify(b)
		}
		b.ReportMetric(float64(n*b.N)/b.Elapsed().Seconds(), "entries/s")
	})
	b.Run("verify 12 KB", func(b *testing.B) {
		const n = 2000
		sh := begin(b, k.New(b).Open(b), "demo")
		sh.write(b, func(tx *store.Tx) error {
			for i := range n {
				if _, err := tx.Append(large(i)); err != nil {
					return err
				}
			}
			return nil
		})
		b.SetBytes(n * 12_000)
		b.ResetTimer()
		for b.Loop() {
			sh.verify(b)
		}
		b.ReportMetric(float64(n*b.N)/b.Elapsed().Seconds(), "entries/s")
	})
	b.Run("prove one of 20,000", func(b *testing.B) {
		const n = 20_000
		sh := begin(b, k.New(b).Open(b), "demo")
		sh.grow(b, 0, n)
		b.ResetTimer()
		for i := 0; b.Loop(); i++ {
			sh.read(b, func(tx *store.Tx) error {
				_, err := tlog.ProveRecord(n, int64(i)*7919%n, tx.Hashes())
				return err
			})
		}
	})
}

// Counters writes from three counters of each shop at once and gives how long each act took,
// shortest first. Nothing may be lost: each log is verified, and a number that every act raises by
// one must have counted them all.
func Counters(t testing.TB, s *store.Store, shops, each int) []time.Duration {
	t.Helper()
	var all []shop
	for i := range shops {
		sh := begin(t, s, fmt.Sprintf("shop-%d", i))
		sh.write(t, func(tx *store.Tx) error { return tx.Put("counter", "number", 0, 0) })
		all = append(all, sh)
	}
	const counters = 3
	var wg sync.WaitGroup
	var mu sync.Mutex
	var took []time.Duration
	for _, sh := range all {
		for counter := range counters {
			wg.Go(func() {
				for i := range each {
					begun := time.Now()
					err := sh.store.Write(ctx, sh.name, func(tx *store.Tx) error {
						var number int
						if _, err := tx.Get("counter", "number", &number); err != nil {
							return err
						}
						d := large(counter*each + i)
						e, err := tx.Append(d)
						if err != nil {
							return err
						}
						return tx.Put("counter", "number", e.Seq, number+1)
					})
					if err != nil {
						t.Errorf("%s, counter %d, act %d: %v", sh.name, counter, i, err)
						return
					}
					mu.Lock()
					took = append(took, time.Since(begun))
					mu.Unlock()
				}
			})
		}
	}
	wg.Wait()
	for _, sh := range all {
		if r := sh.verify(t); r.Entries != int64(counters*each) {
			t.Errorf("%s has %d entries, want %d", sh.name, r.Entries, counters*each)
		}
		sh.read(t, func(tx *store.Tx) error {
			var number int
			_, err := tx.Get("counter", "number", &number)
			if number != counters*each {
				t.Errorf("%s counted to %d, want %d", sh.name, number, counters*each)
			}
			return err
		})
	}
	slices.Sort(took)
	return took
}

// BenchCounters measures how long one act of 12 KB takes while three counters of each shop write
// without a pause: a row for 1, 10 and 40 shops.
func BenchCounters(b *testing.B, k Kind) {
	for _, shops := range []int{1, 10, 40} {
		b.Run(fmt.Sprintf("shops=%d", shops), func(b *testing.B) {
			for b.Loop() {
				begun := time.Now()
				took := Counters(b, k.New(b).Open(b), shops, 60)
				for _, percent := range []int{50, 95, 99} {
					b.ReportMetric(float64(took[len(took)*percent/100].Microseconds())/1000, fmt.Sprintf("p%d-ms", percent))
				}
				b.ReportMetric(float64(len(took))/time.Since(begun).Seconds(), "acts/s")
			}
		})
	}
}
