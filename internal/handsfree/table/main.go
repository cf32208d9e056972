// Command table weighs simulated sessions in front of the recogniser and writes the table of
// doc/handsfree.md between its two marks.
package main

import (
	"flag"
	"fmt"
	"os"
	"runtime"
	"strings"

	"wreath/internal/handsfree/trial"
)

const begin, end = "<!-- table: go run ./internal/handsfree/table -->\n", "<!-- end of table -->"

func main() {
	n := flag.Int("n", 10000, "sessions")
	seed := flag.Uint64("seed", 1, "seed of the first; the same seed gives the same table")
	workers := flag.Int("workers", runtime.GOMAXPROCS(0), "sessions simulated at a time")
	name := flag.String("o", "doc/handsfree.md", "file that holds the table")
	odd := flag.Bool("odd", false, "print the sessions that are not whole, and write nothing")
	flag.Parse()
	if err := run(*n, *seed, *workers, *name, *odd); err != nil {
		fmt.Fprintln(os.Stderr, "table: error:", err)
		os.Exit(1)
	}
}

func run(n int, seed uint64, workers int, name string, odd bool) error {
	tallies, sessions, err := trial.Count(seed, n, workers)
	if err != nil {
		return err
	}
	if odd {
		fmt.Println(strings.Join(sessions, "\n"))
		fmt.Print(trial.Markdown(tallies))
		return nil
	}
	text, err := os.ReadFile(name)
	if err != nil {
		return err
	}
	before, rest, ok := strings.Cut(string(text), begin)
	_, after, ok2 := strings.Cut(rest, end)
	if !ok || !ok2 {
		return fmt.Errorf("%s has no place for the table: put in %q and %q", name, strings.TrimSpace(begin), end)
	}
	return os.WriteFile(name, []byte(before+begin+trial.Markdown(tallies)+end+after), 0o644)
}
