package main

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"
	"time"
)

// script is the completion script for a shell.
func script(t *testing.T, shell string) string {
	t.Helper()
	var out, complaints bytes.Buffer
	if code := run([]string{"completion", shell}, streams{In: strings.NewReader(""), Out: &out, Err: &complaints}); code != exitFine {
		t.Fatalf("wreath completion %s: exit code %d, %s", shell, code, complaints.String())
	}
	return out.String()
}

// completions are command lines up to the place where tab is pressed, and some of the words that
// must be offered there.
var completions = []struct {
	line []string // the last word is the one that is begun
	want []string
}{
	{[]string{""}, []string{
		"determine", "batch", "plan", "fineness", "alloy", "liquid", "air", "materials", "schema", "completion", "version",
		"shop", "serve", "station", "instrument", "item", "customer", "deal", "rules", "price", "terms", "value", "lot", "lots",
		"record", "sheet", "show", "find", "correct", "compare", "sign", "again",
		"slip", "label", "report", "print", "printer", "queue", "table", "import", "key", "proof", "status-list",
		"verify", "checkpoint", "prove", "evidence", "export", "witness", "backup", "restore", "move", "rebuild",
		"person", "roles", "sign-in", "sign-out", "password", "new-password", "recovery-codes", "pin", "device", "token", "four-eyes",
	}},
	{[]string{"sheet", "with"}, []string{"withdraw"}},
	{[]string{"sign", "--as", "app"}, []string{"approved"}},
	{[]string{"find", "--state", ""}, []string{"recorded", "signed", "superseded"}},
	{[]string{"person", "add", "--roles", "adm"}, []string{"administer"}},
	{[]string{"restore", "readings-of-t"}, []string{"readings-of-today.json"}},
	{[]string{"show", "readings-of-t"}, nil},
	{[]string{"liq"}, []string{"liquid"}},
	{[]string{"liquid", ""}, []string{"water", "ethanol-water", "measured", "sinker", "solid"}},
	{[]string{"liquid", "water", "--temperature"}, []string{"--temperature-c", "--temperature-u-c"}},
	{[]string{"liquid", "water", "--format", ""}, []string{"text", "json"}},
	{[]string{"fineness", "--family", "gold-gr"}, []string{"gold-green"}},
	{[]string{"fineness", "--standards", "vie"}, []string{"vienna-convention"}},
	{[]string{"materials", "house"}, []string{"house-rules"}},
	{[]string{"schema", ""}, []string{"draft", "answer"}},
	{[]string{"completion", "po"}, []string{"powershell"}},
	{[]string{"air", "--temperature-c", ""}, nil},
	{[]string{"determine", "readings-of-t"}, []string{"readings-of-today.json"}},
}

// needs says whether a shell is there. Where it is not the test says so; under CI that is a
// failure.
func needs(t *testing.T, shell string) bool {
	t.Helper()
	if _, err := exec.LookPath(shell); err == nil {
		return true
	}
	if os.Getenv("CI") != "" {
		t.Errorf("%s is missing; install it", shell)
	}
	t.Logf("!!! %s is missing, so its completion was NOT tried; install it and run this again", shell)
	return false
}

func inFolder(t *testing.T) {
	t.Helper()
	t.Chdir(t.TempDir())
	if err := os.WriteFile("readings-of-today.json", nil, 0o644); err != nil {
		t.Fatal(err)
	}
}

// shell runs a shell with a time limit.
func shell(t *testing.T, name string, args ...string) string {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	out, err := exec.CommandContext(ctx, name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, out)
	}
	return string(out)
}

func TestBashCompletion(t *testing.T) {
	inFolder(t)
	const load = "source <(wreath completion bash)\n"
	if got := shell(t, "bash", "-c", load+"complete -p wreath"); !strings.Contains(got, "-F _wreath wreath") {
		t.Fatalf("complete -p wreath prints %q", got)
	}
	for _, c := range completions {
		// A function of completion reads the words of the line and where the cursor is.
		got := shell(t, "bash", append([]string{"-c", load + `COMP_WORDS=(wreath "$@"); COMP_CWORD=$#; _wreath; printf '%s\n' "${COMPREPLY[@]}"`, "bash"}, c.line...)...)
		compare(t, c.line, strings.Fields(got), c.want)
	}
	// An equals sign is a word of its own in bash.
	got := shell(t, "bash", "-c", load+`COMP_WORDS=(wreath fineness --family = gold-gr); COMP_CWORD=4; _wreath; echo "${COMPREPLY[@]}"`)
	compare(t, []string{"fineness", "--family=gold-gr"}, strings.Fields(got), []string{"gold-green"})
}

func compare(t *testing.T, line, got, want []string) {
	t.Helper()
	slices.Sort(got)
	want = slices.Sorted(slices.Values(want))
	if !slices.Equal(got, want) {
		t.Errorf("wreath %s<tab> offers %q, want %q", strings.Join(line, " "), got, want)
	}
}

func TestFishCompletion(t *testing.T) {
	if !needs(t, "fish") {
		return
	}
	inFolder(t)
	for _, c := range completions {
		out := shell(t, "fish", "--no-config", "-c", "wreath completion fish | source; complete -C $argv[1]", "--", "wreath "+strings.Join(c.line, " "))
		var got []string
		for line := range strings.Lines(out) {
			word, _, _ := strings.Cut(strings.TrimSpace(line), "\t") // its help follows the tab
			got = append(got, word)
		}
		compare(t, c.line, got, c.want)
	}
}

func TestZshCompletion(t *testing.T) {
	if !needs(t, "zsh") {
		return
	}
	typist := "testdata/completion.zsh"
	text, err := os.ReadFile(typist)
	if err != nil {
		t.Fatal(err)
	}
	inFolder(t)
	// Lines to type, each with the command that comes of it when tabs complete.
	lines := [][2]string{
		{"wreath liq\twat\t--temperature-u\t0.1", "liquid water --temperature-u-c 0.1"},
		{"wreath liquid water --for\tjs\t", "liquid water --format json"},
		{"wreath fineness --family gold-gr\t", "fineness --family gold-green"},
		{"wreath fineness --family=gold-gr\t", "fineness --family=gold-green"},
		{"wreath fineness --standards vie\t", "fineness --standards vienna-convention"},
		{"wreath materials house\t", "materials house-rules"},
		{"wreath completion po\t", "completion powershell"},
		{"wreath determine readings-of-t\t", "determine readings-of-today.json"},
		{"wreath air --temperature-c 2\t", "air --temperature-c 2"},
	}
	args := []string{"-f", "-c", string(text), "zsh"}
	for _, l := range lines {
		args = append(args, l[0])
	}
	got := strings.Split(strings.TrimSpace(shell(t, "zsh", args...)), "\n")
	if len(got) != len(lines) {
		t.Fatalf("%d lines came back of %d: %q", len(got), len(lines), got)
	}
	for i, l := range lines {
		if want := "GOT:" + l[1]; strings.TrimSpace(got[i]) != want {
			t.Errorf("%q becomes %q, want %q", l[0], got[i], want)
		}
	}
}

// TestPowershellCompletion checks that quotes and brackets are balanced and that every command,
// flag and value is there. PowerShell itself is not tried.
func TestPowershellCompletion(t *testing.T) {
	text := script(t, "powershell")
	var open []rune
	closes := map[rune]rune{')': '(', ']': '[', '}': '{'}
	quoted := false
	for line := range strings.Lines(text) {
		if strings.HasPrefix(strings.TrimSpace(line), "#") {
			continue
		}
		for _, r := range line {
			switch {
			case r == '\'':
				quoted = !quoted
			case quoted:
			case strings.ContainsRune("([{", r):
				open = append(open, r)
			case closes[r] != 0:
				if len(open) == 0 || open[len(open)-1] != closes[r] {
					t.Fatalf("%q closes nothing in: %s", r, line)
				}
				open = open[:len(open)-1]
			}
		}
		if quoted {
			t.Fatalf("a quote stays open in: %s", line)
		}
	}
	if len(open) > 0 {
		t.Errorf("%q stays open", string(open))
	}
	for _, s := range spotsUnder(model(t).Model.Node, "") {
		for _, word := range slices.Concat(s.Words(), s.FlagNames()) {
			if !strings.Contains(text, "'"+word+"'") {
				t.Errorf("%s: %s is missing", s.Path, word)
			}
		}
	}
}

// TestCompletionFollowsTheCommandLine asks for every command and flag in every script.
func TestCompletionFollowsTheCommandLine(t *testing.T) {
	for _, shell := range []string{"bash", "zsh", "fish", "powershell"} {
		text := script(t, shell)
		for _, s := range spotsUnder(model(t).Model.Node, "") {
			for _, f := range s.Flags {
				name := f.Name
				if shell == "fish" {
					name = "-l " + strings.TrimPrefix(name, "--")
				}
				if !strings.Contains(text, name) {
					t.Errorf("%s: %s %s is missing", shell, s.Path, f.Name)
				}
			}
			for _, c := range s.Commands {
				if !strings.Contains(text, c.Name) {
					t.Errorf("%s: the command %s is missing", shell, c.Name)
				}
			}
		}
	}
}
