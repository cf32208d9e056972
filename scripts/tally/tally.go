// Tally reads the events of go test -json on standard input, prints one line per package and
// the full output of whatever failed or was skipped, and counts. It is the judge of ./check:
// it fails unless at least one test passed, none failed, none was skipped, and every package
// that was begun came to an end.
//
// The closing line, "N passed, M failed", goes to the file named by the one argument when all is
// well, so that it can be printed last, and to standard output otherwise. A subtest and a fuzz
// seed count as tests, as go test -v prints them.
package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: go test -json ./... | tally CLOSING-LINE-FILE")
		os.Exit(2)
	}
	counts, err := tally(os.Stdin, os.Stdout)
	if err == nil {
		err = os.WriteFile(os.Args[1], []byte(counts.String()+"\n"), 0o644)
	}
	if err != nil {
		fmt.Printf("\ntests: %v\n%s\n", err, counts)
		os.Exit(1)
	}
}

// event is one line of go test -json (go doc test2json).
type event struct {
	Action     string
	Package    string
	ImportPath string // of a build event
	Test       string
	Elapsed    float64
	Output     string
}

type counts struct {
	passed, failed, skipped int
}

func (c counts) String() string { return fmt.Sprintf("%d passed, %d failed", c.passed, c.failed) }

// verdict says why the counts are not good enough, or nil.
func (c counts) verdict() error {
	switch {
	case c.failed > 0:
		return fmt.Errorf("%d failed", c.failed)
	case c.skipped > 0:
		return fmt.Errorf("%d skipped; here a missing part is a failure, so install it or mend the test", c.skipped)
	case c.passed == 0:
		return errors.New("no test ran")
	}
	return nil
}

// tally counts the events and writes what a person wants to see of them.
func tally(events io.Reader, w io.Writer) (counts, error) {
	var c counts
	output := map[string]*strings.Builder{} // of a package, a test ("package test") or a build
	running := map[string]int{}             // package: tests that passed so far
	failedTests := map[string]bool{}        // packages with a failed test

	lines := bufio.NewReader(events)
	for {
		line, err := lines.ReadBytes('\n')
		if err == io.EOF && len(line) == 0 {
			break
		}
		if err != nil && err != io.EOF {
			return c, err
		}
		var e event
		if err := json.Unmarshal(line, &e); err != nil {
			return c, fmt.Errorf("not an event of go test -json: %.200q", line)
		}
		key := strings.TrimRight(e.Package+e.ImportPath+" "+e.Test, " ")
		said := output[key]
		if said == nil {
			said = &strings.Builder{}
			output[key] = said
		}
		switch e.Action {
		case "start":
			running[e.Package] = 0
		case "output", "build-output":
			said.WriteString(e.Output)
		case "build-fail":
			fmt.Fprint(w, said)
		case "pass", "fail", "skip":
			if e.Test == "" {
				c.endPackage(w, e, running[e.Package], said.String(), failedTests[e.Package])
				delete(running, e.Package)
				break
			}
			switch e.Action {
			case "pass":
				c.passed++
				running[e.Package]++
			case "fail":
				c.failed++
				failedTests[e.Package] = true
				fmt.Fprintf(w, "%s: %s", e.Package, said)
			case "skip":
				c.skipped++
				fmt.Fprintf(w, "%s: %s", e.Package, said)
			}
			delete(output, key)
		}
	}
	if len(running) > 0 {
		var names []string
		for name := range running {
			names = append(names, name)
		}
		slices.Sort(names)
		c.failed += len(names)
		return c, fmt.Errorf("begun and never ended: %s", strings.Join(names, ", "))
	}
	return c, c.verdict()
}

// endPackage counts a package that failed with no failed test: it did not build, or it ended early.
func (c *counts) endPackage(w io.Writer, e event, passed int, said string, hadFailure bool) {
	switch e.Action {
	case "pass":
		fmt.Fprintf(w, "ok    %-34s %5d passed %7.1f s\n", e.Package, passed, e.Elapsed)
	case "skip":
		fmt.Fprintf(w, "none  %-34s has no tests\n", e.Package)
	case "fail":
		if !hadFailure {
			c.failed++
		}
		fmt.Fprint(w, said)
		fmt.Fprintf(w, "FAIL  %s\n", e.Package)
	}
}
