package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
	"github.com/rogpeppe/go-internal/testscript"
)

// TestMain makes wreath a command on PATH, for the scripts and for every shell that a test starts.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"wreath": main})
}

// TestScripts runs the transcripts, one a command.
func TestScripts(t *testing.T) {
	examples, err := filepath.Abs("../../examples")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(env *testscript.Env) error {
			env.Setenv("EXAMPLES", examples)
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"refuses": refuses, "ends": ends, "near": near, "json": isJSON, "keep": keep},
	})
}

// refuses runs a command that must end with exit code 2, two lines on standard error and nothing
// on standard output.
func refuses(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) == 0 {
		ts.Fatalf("usage: refuses command args...")
	}
	ends(ts, false, append([]string{strconv.Itoa(exitUsage)}, args...))
	if out := ts.ReadFile("stdout"); out != "" {
		ts.Fatalf("%v: standard output holds %q, want nothing", args, out)
	}
}

// ends runs a command that must end with an exit code and two lines on standard error.
func ends(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: ends code command args...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	args = args[1:]
	var ended *exec.ExitError
	if err := ts.Exec(args[0], args[1:]...); !errors.As(err, &ended) {
		ts.Fatalf("%v: %v, want exit code %d", args, err, want)
	}
	if code := ended.ExitCode(); code != want {
		ts.Fatalf("%v: exit code %d, want %d: %s", args, code, want, ts.ReadFile("stderr"))
	}
	lines := strings.SplitAfter(ts.ReadFile("stderr"), "\n")
	if len(lines) != 3 || lines[2] != "" || !strings.HasPrefix(lines[0], "wreath: error: ") || !strings.HasPrefix(lines[1], "wreath: hint: ") {
		ts.Fatalf("%v: standard error is %q, want a line of error and a line of hint", args, lines)
	}
}

// keep sets an environment variable to a value of the JSON on standard output: keep NAME path.
func keep(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: keep NAME path")
	}
	text, ok := lookUp(ts, args[1]).(string)
	if !ok {
		ts.Fatalf("%s is no text", args[1])
	}
	ts.Setenv(args[0], text)
}

// near compares a number of the JSON on standard output: near path value tolerance.
func near(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: near path value tolerance")
	}
	want, err := strconv.ParseFloat(args[1], 64)
	ts.Check(err)
	tolerance, err := strconv.ParseFloat(args[2], 64)
	ts.Check(err)
	got, ok := lookUp(ts, args[0]).(float64)
	if !ok {
		ts.Fatalf("%s is no number", args[0])
	}
	if !(math.Abs(got-want) <= tolerance) {
		ts.Fatalf("%s = %.10g, want %s ± %s", args[0], got, args[1], args[2])
	}
}

// isJSON compares a value of the JSON on standard output with a text: json path text. Without a
// text the value must be null.
func isJSON(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 || len(args) > 2 {
		ts.Fatalf("usage: json path [text]")
	}
	value := lookUp(ts, args[0])
	if len(args) == 1 {
		if value != nil {
			ts.Fatalf("%s = %v, want null", args[0], value)
		}
		return
	}
	got, ok := value.(string)
	if !ok {
		b, err := json.Marshal(value)
		ts.Check(err)
		got = string(b)
	}
	if got != args[1] {
		ts.Fatalf("%s = %s, want %s", args[0], got, args[1])
	}
}

// lookUp finds a value in the JSON on standard output by its path, "families.0.safe_ppt".
func lookUp(ts *testscript.TestScript, path string) any {
	var value any
	d := json.NewDecoder(strings.NewReader(ts.ReadFile("stdout")))
	ts.Check(d.Decode(&value))
	if _, err := d.Token(); err != io.EOF {
		ts.Fatalf("standard output holds more than one JSON value")
	}
	for step := range strings.SplitSeq(path, ".") {
		switch v := value.(type) {
		case map[string]any:
			next, ok := v[step]
			if !ok {
				ts.Fatalf("%s: there is no %q", path, step)
			}
			value = next
		case []any:
			i, err := strconv.Atoi(step)
			ts.Check(err)
			if i < 0 || i >= len(v) {
				ts.Fatalf("%s: there is no item %d of %d", path, i, len(v))
			}
			value = v[i]
		default:
			ts.Fatalf("%s: %q leads nowhere", path, step)
		}
	}
	return value
}

// workshop changes to a new folder that holds the examples, as a reader of the manual has it.
func workshop(t *testing.T) {
	t.Helper()
	examples, err := filepath.Abs("../../examples")
	if err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	if err := os.CopyFS(filepath.Join(folder, "examples"), os.DirFS(examples)); err != nil {
		t.Fatal(err)
	}
	t.Chdir(folder)
}

// inShell runs a line in bash and returns everything it prints.
func inShell(t *testing.T, line string) string {
	t.Helper()
	out, err := exec.Command("bash", "-o", "pipefail", "-c", line).CombinedOutput()
	if err != nil {
		t.Errorf("%s: %v\n%s", line, err, out)
	}
	return string(out)
}

// model is the command line as kong understands it.
func model(t *testing.T) *kong.Kong {
	t.Helper()
	k, err := kong.New(&commands{}, kong.Name("wreath"))
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// TestHelpExamples tries every example that a --help shows. It must work and print something; one that
// needs a shop with its records must be understood.
func TestHelpExamples(t *testing.T) {
	workshop(t)
	examples := 0
	err := kong.Visit(model(t).Model, func(node kong.Visitable, next kong.Next) error {
		n, ok := node.(*kong.Node)
		if !ok {
			return next(nil)
		}
		found := 0
		for line := range strings.SplitSeq(n.Detail, "\n") {
			if line = strings.TrimSpace(line); !strings.HasPrefix(line, "wreath ") {
				continue
			}
			found++
			if onRecords(n) {
				if _, err := model(t).Parse(words(t, line)); err != nil {
					t.Errorf("%s: %v", line, err)
				}
			} else if out := inShell(t, line); out == "" && !strings.Contains(line, " > ") && !strings.Contains(line, "--out") {
				t.Errorf("%s: prints nothing", line)
			}
		}
		if found == 0 && n.Type == kong.CommandNode && n.Leaf() {
			t.Errorf("%s --help has no example", n.FullPath())
		}
		examples += found
		return next(nil)
	})
	if err != nil {
		t.Fatal(err)
	}
	if examples < 20 {
		t.Errorf("%d examples were found, want them all", examples)
	}
}

// onRecords tells whether a command works on a shop's records.
func onRecords(n *kong.Node) bool {
	for ; n != nil; n = n.Parent {
		if n.Group != nil && n.Group.Key == "records" {
			return true
		}
	}
	return false
}

// words parts a line as a shell does, without what it sends to a file.
func words(t *testing.T, line string) []string {
	t.Helper()
	line, _, _ = strings.Cut(line, " > ")
	out := inShell(t, `wreath() { printf '%s\0' "$@"; }; `+line)
	return strings.Split(strings.TrimSuffix(out, "\x00"), "\x00")
}

// TestHelp asks every command for its help: exit code 0, on standard output.
func TestHelp(t *testing.T) {
	err := kong.Visit(model(t).Model, func(node kong.Visitable, next kong.Next) error {
		n, ok := node.(*kong.Node)
		if !ok {
			return next(nil)
		}
		var out, complaints bytes.Buffer
		args := append(strings.Fields(n.FullPath())[1:], "--help")
		if code := run(args, streams{In: strings.NewReader(""), Out: &out, Err: &complaints}); code != exitFine || complaints.Len() > 0 {
			t.Errorf("%v: exit code %d, standard error %q", args, code, complaints.String())
		}
		if !strings.Contains(out.String(), "Usage: wreath") || !strings.Contains(out.String(), strings.TrimSuffix(n.Help, ".")) {
			t.Errorf("%v prints %q, want its usage and what it does", args, out.String())
		}
		return next(nil)
	})
	if err != nil {
		t.Fatal(err)
	}
}

// TestFlagNames asks that flags which take a number name its unit, and are written in small
// letters with hyphens.
func TestFlagNames(t *testing.T) {
	units := []string{"-c", "-k", "-g", "-hpa", "-m", "-percent", "-ppt", "-cm3", "-m3", "-mol", "-g-cm3", "-kg-m3", "-carat"}
	without := map[string]bool{"--dof": true, "--claim": true, "--air-saturation": true}
	for _, s := range spotsUnder(model(t).Model.Node, "") {
		for _, f := range s.Flags {
			if strings.ToLower(f.Name) != f.Name || strings.Contains(f.Name, "_") {
				t.Errorf("%s %s: flags are written in small letters with hyphens", s.Path, f.Name)
			}
		}
	}
	err := kong.Visit(model(t).Model, func(node kong.Visitable, next kong.Next) error {
		if f, ok := node.(*kong.Flag); ok {
			if _, ok := f.Target.Interface().(decimal); ok && !without["--"+f.Name] {
				named := false
				for _, u := range units {
					named = named || strings.HasSuffix(f.Name, u)
				}
				if !named {
					t.Errorf("--%s does not name its unit", f.Name)
				}
			}
		}
		return next(nil)
	})
	if err != nil {
		t.Fatal(err)
	}
}
