// Command confusion writes doc/confusion.md and doc/calibration.md from simulated weighings.
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"runtime"

	"wreath/internal/simulation"
)

func main() {
	n := flag.Int("n", 500, "sessions for each fault, law and arrangement of evidence")
	calibrated := flag.Int("items", 8000, "items for each weighting of the calibration")
	seed := flag.Uint64("seed", 20261127, "seed; the same seed gives the same tables")
	workers := flag.Int("workers", runtime.GOMAXPROCS(0), "sessions simulated at a time")
	folder := flag.String("o", "doc", "folder for confusion.md and calibration.md")
	only := flag.String("only", "", "confusion or calibration; both unless said")
	flag.Parse()
	write := func(name string, make func() (string, error)) {
		if *only != "" && *only != name {
			return
		}
		text, err := make()
		if err == nil {
			err = os.WriteFile(filepath.Join(*folder, name+".md"), []byte(text), 0o644)
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, "confusion: error:", err)
			os.Exit(1)
		}
	}
	write("confusion", func() (string, error) {
		c, err := simulation.Confuse(*seed, *n, *workers)
		return c.Markdown(), err
	})
	write("calibration", func() (string, error) { return simulation.CalibrationMarkdown(*seed, *calibrated, *workers) })
}
