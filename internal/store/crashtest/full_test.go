//go:build linux

package crashtest

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"wreath/internal/ledger"
	"wreath/internal/store"
	"wreath/internal/store/sqlite"
)

// A disk that is really full: a small one in memory where mounting is allowed, otherwise a limit on
// the size of files in a process of its own.
func TestFullDisk(t *testing.T) {
	const roleVariable = "WREATH_LIMIT"
	if folder := os.Getenv(roleVariable); folder != "" {
		limited(t, folder)
		return
	}
	folder := t.TempDir()
	if err := syscall.Mount("tmpfs", folder, "tmpfs", 0, "size=3m"); err == nil {
		t.Cleanup(func() {
			if err := syscall.Unmount(folder, 0); err != nil {
				t.Error(err)
			}
		})
		ballast := filepath.Join(folder, "ballast")
		if err := os.WriteFile(ballast, make([]byte, 1<<20), 0o600); err != nil {
			t.Fatal(err)
		}
		fill(t, folder, func(err error) {
			if errors.Is(err, store.ErrFailing) || !strings.Contains(err.Error(), "the disk is full: the act was not kept") {
				t.Errorf("a full disk says %v", err)
			}
		}, func() error { return os.Remove(ballast) })
	} else {
		t.Logf("no disk can be mounted here (%v)", err) // then the limit below stands alone
	}
	c := exec.Command(os.Args[0], "-test.run=^TestFullDisk$", "-test.v")
	c.Env = append(os.Environ(), roleVariable+"="+t.TempDir())
	if out, err := c.CombinedOutput(); err != nil || !strings.Contains(string(out), "acts until it was full") {
		t.Errorf("with a limit on the size of files: %v\n%s", err, out)
	}
}

// limited fills a file up to a limit of this process. SQLite takes that for a failing disk, not a
// full one.
func limited(t *testing.T, folder string) {
	signal.Ignore(syscall.SIGXFSZ)
	var before syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &before); err != nil {
		t.Fatal(err)
	}
	limit := before
	limit.Cur = 1 << 20
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit); err != nil {
		t.Fatal(err)
	}
	fill(t, folder, func(err error) {
		if !errors.Is(err, store.ErrFailing) {
			t.Errorf("a file that can't grow says %v", err)
		}
	}, func() error { return syscall.Setrlimit(syscall.RLIMIT_FSIZE, &before) })
}

// fill writes until the disk is full, makes room and goes on.
func fill(t *testing.T, folder string, says func(error), makeRoom func() error) {
	t.Helper()
	ctx := context.Background()
	private, public, err := ledger.NewKey(shop)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(folder, "full.wreath")
	s, err := sqlite.Open(ctx, path, sqlite.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	if err := openLog(ctx, s, public); err != nil {
		t.Fatal(err)
	}
	p := newPromises()
	try := func(n int) error {
		a := act{0, n}
		d, err := a.write(ctx, s, private)
		if err != nil {
			return err
		}
		return p.ack(a, d)
	}
	n := 0
	for err = try(0); err == nil && n < 1000; err = try(n) {
		n++
	}
	if n == 1000 {
		t.Fatal("a thousand acts did not fill the disk")
	}
	t.Logf("%d acts until it was full: %v", n, err)
	says(err)
	for range 3 { // small acts may fit; nothing else may be wrong
		if err := try(n); err != nil {
			says(err)
		} else {
			n++
		}
	}
	if err := s.Read(ctx, shop, p.compare); err != nil {
		t.Errorf("reading from a full disk: %v", err)
	}
	backup := path + ".backup"
	if err := sqlite.Snapshot(ctx, path, backup); err != nil {
		if left, _ := filepath.Glob(backup + "*"); len(left) > 0 {
			t.Errorf("a backup that failed leaves %v", left)
		}
		if !strings.Contains(err.Error(), "there is no backup") && !strings.Contains(err.Error(), "the disk does not") {
			t.Errorf("a backup without room says %v", err)
		}
	}
	if err := makeRoom(); err != nil {
		t.Fatal(err)
	}
	err = try(n)
	if errors.Is(err, store.ErrFailing) { // then it must be opened anew
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		if s, err = sqlite.Open(ctx, path, sqlite.Options{}); err != nil {
			t.Fatal(err)
		}
		err = try(n)
	}
	for err == nil && len(p.acked) < n+5 {
		err = try(len(p.acked))
	}
	if err != nil {
		t.Fatalf("with room again: %v", err)
	}
	if entries := p.check(t, s); entries != int64(len(p.acked)) {
		t.Errorf("%d entries for %d acts", entries, len(p.acked))
	}
	if err := errors.Join(s.Close(), sqlite.Sound(ctx, path)); err != nil {
		t.Error(err)
	}
}
