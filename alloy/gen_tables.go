//go:build ignore

// This program computes data/tables.bin from the data files beside it.
package main

import (
	"bufio"
	"log"
	"os"

	"wreath/alloy"
)

func main() {
	file, err := os.Create("data/tables.bin.new")
	if err != nil {
		log.Fatal(err)
	}
	w := bufio.NewWriter(file)
	if err := alloy.BuildTables(w); err != nil {
		log.Fatal(err)
	}
	if err := w.Flush(); err != nil {
		log.Fatal(err)
	}
	if err := file.Close(); err != nil {
		log.Fatal(err)
	}
	if err := os.Rename("data/tables.bin.new", "data/tables.bin"); err != nil {
		log.Fatal(err)
	}
}
