package main

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write what the commands print into the documents")

// TestManual runs the commands of the documents for readers and compares what they print with
// what is shown. A command stands after "$ " in a block of the kind console; its output follows.
func TestManual(t *testing.T) {
	for file, least := range map[string]int{"README.md": 3, "doc/commands.md": 15, "doc/commands-records.md": 60, "doc/batch.md": 2, "doc/evidence.md": 2, "doc/plan.md": 2, "doc/composite.md": 2} {
		t.Run(file, func(t *testing.T) { manual(t, file, least) })
	}
}

func manual(t *testing.T, file string, least int) {
	manual, err := filepath.Abs("../../" + file)
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(manual)
	if err != nil {
		t.Fatal(err)
	}
	workshop(t)
	t.Setenv("XDG_DATA_HOME", t.TempDir())
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
			command := strings.TrimSpace(strings.TrimPrefix(line, "$ "))
			command = strings.Replace(command, "go run ./cmd/wreath", "wreath", 1)
			now.WriteString(inShell(t, command+" || true"))
		case !inBlock:
			now.WriteString(line)
		}
	}
	if commands < least {
		t.Errorf("%s shows %d commands, want %d or more", file, commands, least)
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
			t.Fatalf("line %d of %s shows\n%s\nbut the command prints\n%s\n(go test ./cmd/wreath -run TestManual -update writes it anew)", i+1, file, want[i], got[i])
		}
	}
	if len(got) != len(want) {
		t.Errorf("%s has %d lines, the commands make it %d", file, len(want), len(got))
	}
}

// TestManualIsWhole asks that the manual shows every command and names every flag.
func TestManualIsWhole(t *testing.T) {
	text, err := os.ReadFile("../../doc/commands.md")
	if err != nil {
		t.Fatal(err)
	}
	onRecords, err := os.ReadFile("../../doc/commands-records.md")
	if err != nil {
		t.Fatal(err)
	}
	text = append(text, onRecords...)
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
