package postgres_test

import (
	"fmt"
	"testing"
	"time"

	"wreath/internal/store/pgtest"
	"wreath/internal/store/postgres"
	"wreath/internal/store/storetest"
)

// TestFortyShopsAtOnce: forty shops with three counters each, over as many connections as a small
// server gives.
func TestFortyShopsAtOnce(t *testing.T) {
	each := 10
	if testing.Short() {
		each = 3
	}
	begun := time.Now()
	took := storetest.Counters(t, open(t, pgtest.Start(t).Database(t), postgres.Options{Connections: 20}), 40, each)
	t.Logf("%d acts in %v, the slowest %v", len(took), time.Since(begun), took[len(took)-1])
}

// BenchmarkCounters measures how long one act of 12 KB takes while three counters of each shop
// write without a pause.
func BenchmarkCounters(b *testing.B) {
	for _, shops := range []int{1, 10, 40} {
		b.Run(fmt.Sprintf("shops=%d", shops), func(b *testing.B) {
			for b.Loop() {
				begun := time.Now()
				took := storetest.Counters(b, open(b, pgtest.Start(b).Database(b), postgres.Options{Connections: 20}), shops, 60)
				at := func(percent int) float64 {
					return float64(took[len(took)*percent/100].Microseconds()) / 1000
				}
				b.ReportMetric(at(50), "p50-ms")
				b.ReportMetric(at(95), "p95-ms")
				b.ReportMetric(at(99), "p99-ms")
				b.ReportMetric(float64(len(took))/time.Since(begun).Seconds(), "acts/s")
			}
		})
	}
}
