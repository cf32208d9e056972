//go:build linux

package crashtest

import (
	"context"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"wreath/internal/store/pgtest"
	"wreath/internal/store/postgres"
)

// settled waits until so many acts more are acknowledged.
func (l *loop) settled(p *process, more int) {
	l.t.Helper()
	count := func() int {
		l.mu.Lock()
		defer l.mu.Unlock()
		return len(l.promises.acked)
	}
	enough := count() + more
	for deadline := time.Now().Add(time.Minute); count() < enough; time.Sleep(2 * time.Millisecond) {
		select {
		case <-p.ended:
			l.t.Fatal("the driver ended, and nobody killed it")
		default:
		}
		if time.Now().After(deadline) {
			l.t.Fatal("the clients got no answer within a minute")
		}
	}
}

// sound asks the server whether its indexes fit their tables.
func sound(t *testing.T, address string) {
	t.Helper()
	db, err := sql.Open("pgx", address)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec(`create extension if not exists amcheck`); err != nil {
		t.Fatalf("this test needs PostgreSQL's own amcheck: %v", err)
	}
	if _, err := db.Exec(`select bt_index_check(c.oid, true) from pg_class c join pg_index i on i.indexrelid = c.oid
		where c.relkind = 'i' and c.relnamespace = 'public'::regnamespace`); err != nil {
		t.Fatal(err)
	}
}

// Half of the time the server and all of its processes are killed while clients write; the clients
// don't give up. The other half the clients' process kills itself or is killed.
func TestKilledPostgres(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	kills := wanted(t, "WREATH_PG_KILLS", 12)
	random := rand.New(rand.NewPCG(seed(t), 0))
	server := pgtest.New(t)
	sum, entries := newTally(), int64(0)
	for kill := 0; kill < kills; {
		l := newLoop(t, random.Uint64(), sum)
		l.job.Postgres = server.Database(t)
		for age := 0; age < 50 && kill < kills; age++ {
			kill++
			if age%2 == 1 {
				p := l.start([]int{0, 1, 2, 3, 4, 5, 6, 7}, "", 0)
				l.settled(p, 1)
				time.Sleep(time.Duration(random.IntN(200)) * time.Millisecond)
				server.Kill(t)
				l.killed["the server"]++
				server.Restart(t)
				l.settled(p, 20)
				l.end(p)
			} else {
				at := points[random.IntN(10)] // those that the database passes too
				if age == 0 {
					at = making[2+random.IntN(2)]
				}
				l.kill(l.start([]int{0, 1, 2, 3, 4, 5, 6, 7}, at.name, 1+random.IntN(at.pass)))
			}
			s, err := postgres.Open(ctx, l.job.Postgres, postgres.Options{})
			if err != nil {
				t.Fatal(err)
			}
			entries = l.check(s)
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			sound(t, l.job.Postgres)
		}
		sum = l.tally
		sum.acts += len(l.promises.acked)
	}
	sum.tell(t, entries)
	if n := sum.killed["the server"]; n < kills/3 {
		t.Errorf("the server was killed only %d times", n)
	}
}

// Eight clients reach the server through a line that is cut again and again, after any number of
// bytes. Each act is there once.
func TestCutConnections(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithTimeout(context.Background(), 4*time.Minute)
	defer cancel()
	const cuts, clients = 200, 8
	l := newLoop(t, seed(t), newTally())
	server := pgtest.Start(t)
	address := server.Database(t)
	line := newLine(t, server.Socket(), l.random.Uint64())
	through := line.address(address)

	s, err := postgres.Open(ctx, through, postgres.Options{Connections: clients})
	for err != nil && ctx.Err() == nil {
		s, err = postgres.Open(ctx, through, postgres.Options{Connections: clients})
	}
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for err = openLog(ctx, s, l.job.Public); err != nil && ctx.Err() == nil; {
		err = openLog(ctx, s, l.job.Public)
	}
	failed := make(chan error, clients)
	for client := range clients {
		go func() {
			failed <- func() error {
				for n := 0; line.cuts.Load() < cuts; n++ {
					a := act{client, n}
					d, err := a.persist(ctx, s, l.job.Private)
					if err == nil {
						err = l.hear(fmt.Sprintf("ack %d %d %d %d", client, n, d.seq, d.number), nil)
					}
					if err != nil {
						return fmt.Errorf("%s: %w", a.key(), err)
					}
				}
				return nil
			}()
		}()
	}
	for range clients {
		if err := <-failed; err != nil {
			t.Error(err)
		}
	}
	direct, err := postgres.Open(ctx, address, postgres.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer direct.Close()
	entries := l.promises.check(t, direct)
	if entries != int64(len(l.promises.acked)) {
		t.Errorf("%d entries for %d acts", entries, len(l.promises.acked))
	}
	t.Logf("%d cuts, %d acts acknowledged, each there once", line.cuts.Load(), len(l.promises.acked))
}
