// Command table writes doc/settling.md: how well package settle reads invented balances.
package main

import (
	"flag"
	"fmt"
	"os"

	"wreath/internal/settling"
)

func main() {
	trials := flag.Int("n", 1000, "trials a row of balances")
	scenes := flag.Int("m", 300, "streams a row of troubles")
	file := flag.String("o", "doc/settling.md", "file to write")
	flag.Parse()
	if err := os.WriteFile(*file, []byte(settling.Markdown(*trials, *scenes)), 0o644); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}
