//go:build unix

package main

import (
	"bytes"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/creack/pty"
)

// terminal runs a command on a terminal of its own.
type terminal struct {
	t    *testing.T
	file *os.File
	done chan error

	mu   sync.Mutex
	seen bytes.Buffer
}

func onTerminal(t *testing.T, args ...string) *terminal {
	t.Helper()
	command := exec.Command("wreath", args...)
	file, err := pty.Start(command)
	if err != nil {
		t.Fatal(err)
	}
	x := &terminal{t: t, file: file, done: make(chan error, 1)}
	go func() {
		b := make([]byte, 1024)
		for {
			n, err := file.Read(b)
			x.mu.Lock()
			x.seen.Write(b[:n])
			x.mu.Unlock()
			if err != nil { // the other end is closed with the command
				x.done <- command.Wait()
				return
			}
		}
	}()
	t.Cleanup(func() { command.Process.Kill(); file.Close() })
	return x
}

func (x *terminal) text() string {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.seen.String()
}

// answer waits for a prompt and types a line.
func (x *terminal) answer(prompt, line string) {
	x.t.Helper()
	for deadline := time.Now().Add(time.Minute); !strings.HasSuffix(x.text(), prompt); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(deadline) {
			x.t.Fatalf("no prompt %q came, but %q", prompt, x.text())
		}
	}
	if _, err := x.file.WriteString(line + "\n"); err != nil {
		x.t.Fatal(err)
	}
}

// end waits for the command and gives all that stood on the terminal.
func (x *terminal) end() string {
	x.t.Helper()
	select {
	case err := <-x.done:
		if err != nil {
			x.t.Fatalf("%v: %s", err, x.text())
		}
	case <-time.After(time.Minute):
		x.t.Fatalf("the command does not end: %s", x.text())
	}
	return x.text()
}

// TestSecretsAreNotShown types passwords at a terminal, which must not show them.
func TestSecretsAreNotShown(t *testing.T) {
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	workshop(t)
	const secret = "four unlikely words here"
	check := func(text, said string) {
		t.Helper()
		if strings.Contains(text, secret) || strings.Contains(text, "unlikely") {
			t.Errorf("the terminal shows the password: %q", text)
		}
		if !strings.Contains(text, said) {
			t.Errorf("the terminal shows %q, want %q", text, said)
		}
	}
	x := onTerminal(t, "shop", "open", "--name", "Invented Desk", "--password")
	x.answer("new password: ", secret)
	x.answer("the same again: ", secret)
	check(x.end(), "is open as invented-desk")

	x = onTerminal(t, "sign-in", "owner")
	x.answer("password: ", secret)
	check(x.end(), "owner is signed in")

	inShell(t, "wreath record examples/ring.json")
	x = onTerminal(t, "sign", "D-000001", "--as", "approved")
	x.answer("password: ", secret)
	check(x.end(), "signed (1 of 1)")
}
