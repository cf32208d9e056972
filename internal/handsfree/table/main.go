// Command table weighs simulated sessions in front of the recogniser and writes the tables of
// doc/handsfree.md between their marks.
package main

import (
	"flag"
	"fmt"
	"os"
	"runtime"
	"strings"

	"wreath/internal/handsfree/trial"
)

const begin, end = "<!-- tables: go run ./internal/handsfree/table -->\n", "<!-- end of tables -->"

func main() {
	n := flag.Int("n", 10000, "sessions")
	seed := flag.Uint64("seed", 1, "seed of the first; the same seed gives the same tables")
	workers := flag.Int("workers", runtime.GOMAXPROCS(0), "sessions simulated at a time")
	name := flag.String("o", "doc/handsfree.md", "file that holds the tables")
	odd := flag.Bool("odd", false, "print the sessions that are not whole, and write nothing")
	flag.Parse()
	if err := run(*n, *seed, *workers, *name, *odd); err != nil {
		fmt.Fprintln(os.Stderr, "table: error:", err)
		os.Exit(1)
	}
}

func run(n int, seed uint64, workers int, name string, odd bool) error {
	var tables strings.Builder
	for _, plain := range []bool{false, true} {
		tallies, sessions, err := trial.Count(seed, n, workers, plain)
		if err != nil {
			return err
		}
		if odd {
			fmt.Println(strings.Join(sessions, "\n"))
		}
		title := "With package settle:"
		if plain {
			title = "With the plain rule:"
		}
		tables.WriteString("\n" + title + "\n\n" + trial.Markdown(tallies) + "\n")
	}
	if odd {
		fmt.Print(tables.String())
		return nil
	}
	text, err := os.ReadFile(name)
	if err != nil {
		return err
	}
	before, rest, ok := strings.Cut(string(text), begin)
	_, after, ok2 := strings.Cut(rest, end)
	if !ok || !ok2 {
		return fmt.Errorf("%s has no place for the tables: put in %q and %q", name, strings.TrimSpace(begin), end)
	}
	return os.WriteFile(name, []byte(before+begin+tables.String()+end+after), 0o644)
}
