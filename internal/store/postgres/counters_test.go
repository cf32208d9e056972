package postgres_test

import (
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

func BenchmarkCounters(b *testing.B) { storetest.BenchCounters(b, kind) }
