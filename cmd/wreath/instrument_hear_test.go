package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"strings"
	"testing"

	"wreath/internal/source"
)

// TestWhyNothingIsHeard asks for the exit code and the words of each reason.
func TestWhyNothingIsHeard(t *testing.T) {
	serial := source.Address{Kind: source.Serial, Where: "/dev/ttyUSB0"}
	for _, c := range []struct {
		address source.Address
		err     error
		code    int
		says    string
	}{
		{serial, fmt.Errorf("open: %w", fs.ErrNotExist), exitMissing, "there is no port /dev/ttyUSB0"},
		{serial, fmt.Errorf("open: %w", fs.ErrPermission), exitRefused, "this user may not open /dev/ttyUSB0"},
		{serial, errors.New("open /dev/ttyUSB0: another program holds the port; end that program"), exitLater, "another program holds the port"},
		{serial, errors.New("something else"), exitFailed, "something else"},
		{source.Address{Kind: source.TCP, Where: "192.0.2.7:4001"}, errors.New("connection refused"), exitLater, "nobody answers at 192.0.2.7:4001"},
		{source.Address{Kind: source.Play, Where: "a.txt"}, &source.RecordingError{Line: 3, Reason: "it is cut"}, exitUsage, "a.txt: line 3: it is cut"},
	} {
		var f *failure
		if err := hearFailure(c.address, c.err); !errors.As(err, &f) || f.Code != c.code || !strings.Contains(f.Reason, c.says) || f.Hint == "" {
			t.Errorf("%v: %+v, want code %d and %q", c.err, f, c.code, c.says)
		}
	}
	if err := hearFailure(serial, nil); err != nil {
		t.Errorf("a line that ends in order: %v", err)
	}
}

// TestPortsInUse listens where another program does, and calls where nobody does.
func TestPortsInUse(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	taken := l.Addr().String()
	check := func(code int, says string, args ...string) {
		t.Helper()
		var out, complaints bytes.Buffer
		got := run(append([]string{"instrument"}, args...), streams{In: strings.NewReader(""), Out: &out, Err: &complaints})
		if got != code || !strings.Contains(complaints.String(), says) {
			t.Errorf("%v: exit code %d, want %d; it says %q, want %q", args, got, code, complaints.String(), says)
		}
	}
	check(exitLater, "another program listens on "+taken, "watch", "listen://"+taken)
	check(exitLater, "another program listens on "+taken, "simulate", "--listen", taken)
	check(exitLater, "nothing was heard from tcp://"+taken+" within 100ms", "watch", "tcp://"+taken, "--wait", "100ms")
	l.Close()
	check(exitLater, "nobody answers at "+taken, "watch", "tcp://"+taken)
}

// TestFileIsThere names the way out where a file would be written over.
func TestFileIsThere(t *testing.T) {
	var f *failure
	if err := openFailure("a.txt", &fs.PathError{Op: "open", Path: "a.txt", Err: fs.ErrExist}); !errors.As(err, &f) || f.Hint != "Name a new file." {
		t.Errorf("%v", err)
	}
}
