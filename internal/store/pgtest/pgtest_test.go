package pgtest

import (
	"context"
	"testing"

	"github.com/jackc/pgx/v5"
)

func TestMain(m *testing.M) { Main(m) }

func ask(t *testing.T, address, query string) (answer string) {
	t.Helper()
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	if err := conn.QueryRow(ctx, query, pgx.QueryExecModeSimpleProtocol).Scan(&answer); err != nil {
		t.Fatal(err)
	}
	return answer
}

func TestOneServerManyDatabases(t *testing.T) {
	a, b := Start(t), Start(t)
	if a != b {
		t.Fatal("two servers in one process")
	}
	one, two := a.Database(t), a.Database(t)
	conn, err := pgx.Connect(context.Background(), one)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.Background())
	if _, err := conn.Exec(context.Background(), `create schema only_here`); err != nil {
		t.Fatal(err)
	}
	if got := ask(t, two, `select count(*)::text from pg_namespace where nspname = 'only_here'`); got != "0" {
		t.Error("two databases share what is in them")
	}
}

func TestSettingsKillRestartStop(t *testing.T) {
	s := New(t, "work_mem=7MB")
	address := s.Database(t)
	if got := ask(t, address, `show work_mem`); got != "7MB" {
		t.Errorf("work_mem = %s, want 7MB", got)
	}
	s.Kill(t)
	if _, err := pgx.Connect(context.Background(), address); err == nil {
		t.Fatal("a killed server answers")
	}
	s.Restart(t, "work_mem=9MB")
	if got := ask(t, address, `show work_mem`); got != "9MB" {
		t.Errorf("after a kill and another setting work_mem = %s, want 9MB", got)
	}
	s.Stop(t)
	if _, err := pgx.Connect(context.Background(), address); err == nil {
		t.Fatal("a stopped server answers")
	}
	s.Restart(t)
	if got := ask(t, address, `show listen_addresses`); got != "" {
		t.Errorf("the server listens on %q", got)
	}
}
