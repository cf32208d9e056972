package sqlite

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"wreath/internal/ledger"
	"wreath/internal/store"
)

// TestFilesOfSomebodyElse opens stores that the user may not write or not even read. Root may do
// everything, so the work is done by a process of the user nobody.
func TestFilesOfSomebodyElse(t *testing.T) {
	if _, path := role(); path != "" {
		asNobody(t, path)
		return
	}
	folder := t.TempDir()
	for _, f := range []string{filepath.Dir(folder), folder} {
		if err := os.Chmod(f, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	path := filepath.Join(folder, "demo.wreath")
	if err := writeAs(path, "demo", 3); err != nil {
		t.Fatal(err)
	}
	c := beside(t, "nobody", path)
	if os.Geteuid() == 0 {
		program := filepath.Join(folder, "program") // the other one lies where nobody may not look
		data, err := os.ReadFile(os.Args[0])
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(program, data, 0o755); err != nil {
			t.Fatal(err)
		}
		again := exec.Command(program, c.Args[1:]...)
		again.Env = c.Env
		again.Dir = folder
		again.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
		c = again
	}
	for _, row := range []struct {
		name         string
		file, folder os.FileMode
	}{
		{"unreadable", 0o000, 0o755},
		{"file", 0o444, 0o755},
		{"both", 0o444, 0o555},
	} {
		for name, mode := range map[string]os.FileMode{path: row.file, folder: row.folder} {
			if err := os.Chmod(name, mode); err != nil {
				t.Fatal(err)
			}
		}
		one := *c
		one.Stderr = nil // CombinedOutput takes it
		one.Env = append(c.Env, "WREATH_CASE="+row.name)
		out, err := one.CombinedOutput()
		if err != nil || !strings.Contains(string(out), "PASS") {
			t.Errorf("%s: %v\n%s", row.name, err, out)
		}
	}
	if err := os.Chmod(folder, 0o755); err != nil { // so that it can be cleared away
		t.Fatal(err)
	}
}

func asNobody(t *testing.T, path string) {
	if os.Geteuid() == 0 {
		t.Fatal("this must not run as root")
	}
	s, err := Open(ctx, path, Options{})
	if err == nil {
		err = s.Write(ctx, crashShop, func(tx *store.Tx) error {
			_, err := tx.Append(ledger.Entry{Head: ledger.Head{Kind: "demo"}, Body: ledger.Document(`{}`)})
			return err
		})
		s.Close()
	}
	wantError(t, err, "can't be written")
	if os.Getenv("WREATH_CASE") == "unreadable" {
		_, err := Open(ctx, path, Options{ReadOnly: true})
		wantError(t, err, path)
		return
	}
	wantError(t, Snapshot(ctx, path, filepath.Join(filepath.Dir(path), "copy")), "")
	// Even a reader needs room for SQLite's shared memory beside a file with a write-ahead log.
	_, err = Open(ctx, path, Options{ReadOnly: true})
	wantError(t, err, "check who owns the file and its folder")
}
