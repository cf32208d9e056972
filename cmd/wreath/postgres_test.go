package main

import (
	"encoding/json"
	"net/url"
	"os/exec"
	"strings"
	"testing"

	"wreath/internal/store/pgtest"
)

// TestPostgres works with records in PostgreSQL from the command line, from the first act to the move
// into a file and back.
func TestPostgres(t *testing.T) {
	server := pgtest.New(t)
	workshop(t)
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	first, second := asURL(t, server.Database(t)), asURL(t, server.Database(t))
	t.Setenv("WREATH_STORE", first)
	runs := func(args ...string) string {
		t.Helper()
		out, err := exec.Command("wreath", args...).CombinedOutput()
		if err != nil {
			t.Fatalf("wreath %s: %v\n%s", strings.Join(args, " "), err, out)
		}
		return string(out)
	}
	root := func(args ...string) string {
		t.Helper()
		var v verified
		if err := json.Unmarshal([]byte(runs(append([]string{"verify", "--views", "--format", "json"}, args...)...)), &v); err != nil || !v.Views {
			t.Fatalf("verify gives %+v, %v", v, err)
		}
		return v.Root
	}
	refused := func(words string, args ...string) {
		t.Helper()
		out, err := exec.Command("wreath", args...).CombinedOutput()
		if err == nil || !strings.Contains(string(out), words) {
			t.Errorf("wreath %s gives %v and prints %s, want %q", strings.Join(args, " "), err, out, words)
		}
	}

	runs("shop", "open", "--name", "Invented Desk")
	runs("record", "examples/ring.json")
	runs("sign", "D-000001", "--as", "approved")
	if out := runs("find", "yellow"); !strings.Contains(out, "D-000001") {
		t.Errorf("find prints %s", out)
	}
	before := root()
	runs("backup", "backup.wreath")
	if got := root("backup.wreath"); got != before {
		t.Errorf("the root of the backup is %s, that of the store %s", got, before)
	}

	// A backup goes into an empty database, and never over a log.
	refused("never goes over a log", "restore", "backup.wreath", "--reason", "a drill")
	runs("restore", "backup.wreath", "--reason", "a drill", "--store", second)
	runs("show", "D-000001", "--store", second)
	root("--store", second)

	// Into a file, with the same root on both sides.
	before = root()
	out := runs("move", "moved.wreath", "--format", "json")
	var m struct {
		Root string `json:"root"`
		Left string `json:"root_left"`
	}
	if err := json.Unmarshal([]byte(out), &m); err != nil || m.Root != before || m.Left != before {
		t.Errorf("the roots are %s and %s, want %s (%v)", m.Left, m.Root, before, err)
	}
	refused("this log was moved", "record", "examples/ring.json")
	root()
	root("moved.wreath")
	runs("record", "examples/ring.json", "--store", "moved.wreath")
	runs("sign", "D-000002", "--as", "approved", "--store", "moved.wreath")
}

// asURL writes the address of a test's database as people write it.
func asURL(t *testing.T, address string) string {
	t.Helper()
	query := url.Values{}
	database := ""
	for field := range strings.FieldsSeq(address) {
		name, value, _ := strings.Cut(field, "=")
		if name == "dbname" {
			database = value
			continue
		}
		query.Set(name, value)
	}
	if database == "" {
		t.Fatalf("the address %q names no database", address)
	}
	return "postgres:///" + database + "?" + query.Encode()
}
