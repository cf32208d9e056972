package main

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write what the commands print into doc/commands.md")

// TestManual runs the commands of doc/commands.md and compares what they print with what the
// manual shows. A command stands after "$ " in a block of the kind console; its output follows.
func TestManual(t *testing.T) {
	manual, err := filepath.Abs("../../doc/commands.md")
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(manual)
	if err != nil {
		t.Fatal(err)
	}
	workshop(t)
	var now strings.Builder
	commands, inBlock := 0, false
	for line := range strings.Lines(string(text)) {
		switch {
		case strings.HasPrefix(line, "```"):
			inBlock = strings.TrimSpace(line) == "```console"
			now.WriteString(line)
		case inBlock && strings.HasPrefix(line, "$ "):
			commands++
			now.WriteString(line)
			now.WriteString(inShell(t, strings.TrimSpace(strings.TrimPrefix(line, "$ "))+" || true"))
		case !inBlock:
			now.WriteString(line)
		}
	}
	if commands < 15 {
		t.Errorf("the manual shows %d commands, want one or more of every command", commands)
	}
	if *update {
		if err := os.WriteFile(manual, []byte(now.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	got, want := strings.Split(now.String(), "\n"), strings.Split(string(text), "\n")
	for i := range min(len(got), len(want)) {
		if got[i] != want[i] {
			t.Fatalf("line %d of doc/commands.md shows\n%s\nbut the command prints\n%s\n(go test ./cmd/wreath -run TestManual -update writes it anew)", i+1, want[i], got[i])
		}
	}
	if len(got) != len(want) {
		t.Errorf("doc/commands.md has %d lines, the commands make it %d", len(want), len(got))
	}
}

// TestManualIsWhole asks that the manual shows every command and names every flag.
func TestManualIsWhole(t *testing.T) {
	text, err := os.ReadFile("../../doc/commands.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range spotsUnder(model(t).Model.Node, "") {
		command := "wreath" + strings.ReplaceAll(s.Path, "/", " ")
		if !strings.Contains(string(text), "$ "+command) {
			t.Errorf("the manual does not show %s", command)
		}
		for _, f := range s.Flags {
			if !strings.Contains(string(text), f.Name) {
				t.Errorf("the manual does not name %s of %s", f.Name, command)
			}
		}
	}
}
