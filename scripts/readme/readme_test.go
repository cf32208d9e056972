package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestParse(t *testing.T) {
	commands := parse("# Title\n\n$ not in a block\n\n```text\n$ nor in this one\n```\n```sh\n$ go build \\\n> ./cmd\n$ wreath list\none\n\n...\n```\nprose\n```console\n$ last\n\nout\n\n```\n")
	want := []command{
		{9, "go build \\\n./cmd", nil},
		{11, "wreath list", []string{"one", "", "..."}},
		{18, "last", []string{"out"}},
	}
	if len(commands) != len(want) {
		t.Fatalf("%d commands, want %d: %v", len(commands), len(want), commands)
	}
	for i, w := range want {
		if c := commands[i]; c.line != w.line || c.text != w.text || strings.Join(c.want, "|") != strings.Join(w.want, "|") {
			t.Errorf("command %d: %+v, want %+v", i, c, w)
		}
	}
}

func TestJudge(t *testing.T) {
	for _, row := range []struct {
		want         string
		output, code string
		complaint    string
	}{
		{"", "anything\n", "0", ""},
		{"", "", "1", "exit code 1"},
		{"a\nb", "a\nb  \n", "0", ""},
		{"a\nb", "a\nc\n", "0", "README says"},
		{"a\nb", "a\nb\nc\n", "0", "README says"},
		{"a\n...\nz", "a\nb\nc\nz\n", "0", ""},
		{"a\n...\nz", "a\nz\n", "0", ""},
		{"a\n...\nz", "a\nb\n", "0", "README says"},
		{"wreath: error: no", "wreath: error: no\n", "2", ""},
		{"wreath: error: no", "wreath: error: no\n", "0", "exit code 0"},
	} {
		c := command{text: "x"}
		if row.want != "" {
			c.want = strings.Split(row.want, "\n")
		}
		err := c.judge(row.output, row.code)
		switch {
		case row.complaint == "" && err != nil:
			t.Errorf("%q against %q: %v", row.want, row.output, err)
		case row.complaint != "" && (err == nil || !strings.Contains(err.Error(), row.complaint)):
			t.Errorf("%q against %q: %v, want %q", row.want, row.output, err, row.complaint)
		}
	}
}

func TestReadmeWithoutCommands(t *testing.T) {
	file := filepath.Join(t.TempDir(), "README.md")
	if err := os.WriteFile(file, []byte("```sh\n$ ./check\n```\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := run(file); err == nil || !strings.Contains(err.Error(), "shows no command") {
		t.Errorf("got %v, want a complaint that no command is shown", err)
	}
}

func TestReadmeThatWaits(t *testing.T) {
	patience = 200 * time.Millisecond
	t.Cleanup(func() { patience = 3 * time.Minute })
	file := filepath.Join(t.TempDir(), "README.md")
	if err := os.WriteFile(file, []byte("```sh\n$ true\n$ sleep 60\n```\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := run(file); err == nil || !strings.Contains(err.Error(), "not ended after") {
		t.Errorf("got %v, want a complaint that a command waits", err)
	}
}
