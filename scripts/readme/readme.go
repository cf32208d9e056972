// Readme runs the commands that a README shows, in the folder it is started in, and compares
// what they print with what the README prints.
//
// In a block fenced with ```sh or ```console, a line that starts with "$ " is a command; lines
// right below it that start with "> " continue it; the rest, up to the next command or the end
// of the block, is what it prints on both outputs together. A line of three dots stands for any
// number of lines; a command with nothing below it may print anything. All commands run in one
// bash, in order, and must succeed unless what they print holds "error:". Commands that fetch
// the sources or call ./check are shown and not run.
package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"time"
)

// patience is how long all commands together may take.
var patience = 3 * time.Minute

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: readme README.md")
		os.Exit(2)
	}
	if err := run(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, "readme:", err)
		os.Exit(1)
	}
}

// command is one command of the README and the lines it should print.
type command struct {
	line int // where it stands, counted from 1
	text string
	want []string
}

func run(file string) error {
	text, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	var commands []command
	for _, c := range parse(string(text)) {
		if elsewhere(c.text) {
			fmt.Printf("not run: %s\n", c.text)
			continue
		}
		commands = append(commands, c)
	}
	if len(commands) == 0 {
		return fmt.Errorf("%s shows no command: start it with \"$ \" in a block fenced with ```sh", file)
	}
	// Each command is followed by a mark with its exit code, so that one bash runs them all.
	mark := fmt.Sprintf("readme-%d-mark", os.Getpid())
	var script strings.Builder
	for _, c := range commands {
		fmt.Fprintf(&script, "%s\nprintf '\\n%s %%d\\n' $?\n", c.text, mark)
	}
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	bash := exec.CommandContext(ctx, "bash", "-c", script.String())
	bash.WaitDelay = time.Second // a command left running holds the pipe open
	printed, err := bash.CombinedOutput()
	if ctx.Err() != nil {
		return fmt.Errorf("%s: not ended after %v; a command that waits for something belongs in a block fenced with ```text\n%s", file, patience, printed)
	}
	if err != nil {
		return fmt.Errorf("bash: %w\n%s", err, printed)
	}
	rest := printed
	for _, c := range commands {
		output, after, found := bytes.Cut(rest, []byte("\n"+mark+" "))
		if !found {
			return fmt.Errorf("%s:%d: %s: ended the shell\n%s", file, c.line, c.text, output)
		}
		code, next, _ := bytes.Cut(after, []byte("\n"))
		rest = next
		if err := c.judge(string(output), string(code)); err != nil {
			return fmt.Errorf("%s:%d: %s: %w", file, c.line, c.text, err)
		}
		fmt.Printf("%s\n", c.text)
	}
	return nil
}

// elsewhere tells a command that makes sense only outside of the tree, or never ends here.
func elsewhere(text string) bool {
	for _, start := range []string{"git clone", "cd wreath", "./check"} {
		if strings.HasPrefix(text, start) {
			return true
		}
	}
	return false
}

// parse finds the commands in the blocks of a Markdown text.
func parse(text string) []command {
	var commands []command
	inBlock, shell, open := false, false, false
	for i, line := range strings.Split(text, "\n") {
		line = strings.TrimRight(line, " \r")
		fence, isFence := strings.CutPrefix(line, "```")
		switch {
		case isFence:
			inBlock = !inBlock
			shell = inBlock && (fence == "sh" || fence == "console")
			open = false
		case !shell:
		case strings.HasPrefix(line, "$ "):
			commands = append(commands, command{line: i + 1, text: line[2:]})
			open = true
		case len(commands) == 0:
		case open && strings.HasPrefix(line, "> "):
			commands[len(commands)-1].text += "\n" + line[2:]
		default:
			open = false
			last := &commands[len(commands)-1]
			last.want = append(last.want, line)
		}
	}
	for i := range commands {
		commands[i].want = trim(commands[i].want)
	}
	return commands
}

// judge compares what a command printed with what the README prints.
func (c command) judge(output, code string) error {
	wantFailure := strings.Contains(strings.Join(c.want, "\n"), "error:")
	if code != "0" != wantFailure {
		return fmt.Errorf("exit code %s\n%s", code, output)
	}
	lines := strings.Split(output, "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " \r")
	}
	if got := trim(lines); len(c.want) > 0 && !match(c.want, got) {
		return fmt.Errorf("prints\n%s\nand the README says\n%s", quoted(got), quoted(c.want))
	}
	return nil
}

// match compares lines; a wanted "..." stands for any number of them.
func match(want, got []string) bool {
	if len(want) == 0 {
		return len(got) == 0
	}
	if strings.TrimSpace(want[0]) == "..." {
		for skip := 0; skip <= len(got); skip++ {
			if match(want[1:], got[skip:]) {
				return true
			}
		}
		return false
	}
	return len(got) > 0 && want[0] == got[0] && match(want[1:], got[1:])
}

// trim drops empty lines at both ends.
func trim(lines []string) []string {
	for len(lines) > 0 && lines[0] == "" {
		lines = lines[1:]
	}
	for len(lines) > 0 && lines[len(lines)-1] == "" {
		lines = lines[:len(lines)-1]
	}
	return lines
}

func quoted(lines []string) string {
	var b strings.Builder
	for i, line := range lines {
		b.WriteString(strconv.Itoa(i+1) + "\t" + line + "\n")
	}
	return b.String()
}
