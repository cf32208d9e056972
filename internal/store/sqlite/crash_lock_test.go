package sqlite

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/store"
)

const crashShop = "river-street"

// beside starts this test again in a process of its own, where it runs role instead.
func beside(t *testing.T, role, path string) *exec.Cmd {
	t.Helper()
	c := exec.Command(os.Args[0], "-test.run=^"+t.Name()+"$")
	c.Env = append(os.Environ(), "WREATH_ROLE="+role, "WREATH_FILE="+path)
	c.Stderr = os.Stderr
	return c
}

func role() (name, path string) { return os.Getenv("WREATH_ROLE"), os.Getenv("WREATH_FILE") }

// writeAs adds n entries and begins the log when it is not there yet.
func writeAs(path, who string, n int) error {
	ctx := context.Background()
	s, err := Open(ctx, path, Options{})
	if err != nil {
		return err
	}
	defer s.Close()
	for i := range n {
		err := s.Write(ctx, crashShop, func(tx *store.Tx) error {
			if _, err := tx.PublicKey(); err != nil {
				_, public, err := ledger.NewKey(crashShop)
				if err != nil {
					return err
				}
				if err := tx.OpenLog(public); err != nil {
					return err
				}
			}
			key := fmt.Sprintf("%s-%d", who, i)
			_, err := tx.Append(ledger.Entry{Head: ledger.Head{Kind: "demo", Key: key, Time: time.Now()}, Body: ledger.Document(`{}`)})
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// Two processes make the same store at once and write to it: both succeed, one after the other.
func TestTwoProcessesAtOnce(t *testing.T) {
	const each = 60
	if who, path := role(); who != "" {
		if err := writeAs(path, who, each); err != nil {
			t.Fatal(err)
		}
		return
	}
	t.Parallel()
	for round := range 4 {
		path := filepath.Join(t.TempDir(), "a.wreath")
		var processes sync.WaitGroup
		for _, who := range []string{"left", "right"} {
			processes.Add(1)
			go func() {
				defer processes.Done()
				if out, err := beside(t, who, path).Output(); err != nil {
					t.Errorf("round %d, %s: %v\n%s", round, who, err, out)
				}
			}()
		}
		processes.Wait()
		s, err := Open(context.Background(), path, Options{MustBe: true})
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		report, err := s.Verify(context.Background(), crashShop, nil, nil, nil)
		if err != nil || report.Entries != 2*each {
			t.Errorf("round %d: %d entries, %v; want %d", round, report.Entries, err, 2*each)
		}
	}
}

// A third program that keeps the lock is named as the hindrance after ten seconds, and nothing is
// wrong once it has ended.
func TestAnotherProgramHoldsTheStore(t *testing.T) {
	if who, path := role(); who != "" {
		db := open(path, Options{}, true)
		tx, err := db.Begin() // immediate: it takes the lock
		if err != nil {
			t.Fatal(err)
		}
		defer tx.Rollback()
		fmt.Println("\nholding")
		time.Sleep(time.Minute)
		return
	}
	t.Parallel()
	path := filepath.Join(t.TempDir(), "a.wreath")
	if err := writeAs(path, "before", 3); err != nil {
		t.Fatal(err)
	}
	holder := beside(t, "holder", path)
	said, err := holder.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := holder.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(said)
	for lines.Scan() && lines.Text() != "holding" {
	}
	begun := time.Now()
	err = writeAs(path, "meanwhile", 1)
	waited := time.Since(begun)
	if err == nil || !strings.Contains(err.Error(), "another program holds the store; end it, or wait") {
		t.Errorf("the error is %v", err)
	}
	if waited < 9*time.Second || waited > 15*time.Second {
		t.Errorf("it came after %v, want about 10 s", waited)
	}
	holder.Process.Kill()
	holder.Wait()
	if err := writeAs(path, "after", 1); err != nil {
		t.Errorf("after the holder has ended: %v", err)
	}
	if err := Sound(context.Background(), path); err != nil {
		t.Error(err)
	}
}
