package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"wreath/internal/determination"
	"wreath/internal/report"
)

type determineCmd struct {
	File    string `arg:"" help:"JSON document of the determination, or - for standard input."`
	Format  string `enum:"text,json" default:"text" help:"text for people, json for programs."`
	Details bool   `help:"Text with every family, the whole budget and every assumption."`
}

func (determineCmd) Help() string {
	return `Examples:

  wreath determine examples/ring.json
  wreath determine examples/ring.json --details
  wreath determine - --format json < examples/ring.json

The fields of the document: wreath schema draft. What is left out is assumed, and the answer says so.`
}

// Run answers one determination.
func (c *determineCmd) Run(s *streams) error {
	data, err := readInput(c.File, s.In)
	if err != nil {
		return err
	}
	draft, err := determination.Decode(data)
	if err != nil {
		return err
	}
	answer, err := determination.Evaluate(draft, determination.Options{Version: version})
	if err != nil {
		return err
	}
	if c.Format == "json" {
		return writeJSON(s.Out, answer)
	}
	return report.Text(s.Out, answer, c.Details)
}

// readInput reads a whole file, or standard input for "-", up to what a document may hold.
func readInput(name string, in io.Reader) ([]byte, error) {
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return nil, openFailure(name, err)
		}
		defer f.Close()
		in = f
	}
	data, err := io.ReadAll(io.LimitReader(in, determination.MaxDocument+1))
	if err != nil {
		return nil, &failure{exitUsage, fmt.Sprintf("%s can't be read: %v", name, err), "Name a file with one JSON document."}
	}
	return data, nil
}

func openFailure(name string, err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		err = path.Err
	}
	if errors.Is(err, fs.ErrExist) {
		return wrong("Name a new file.", "%s is there already", name)
	}
	return &failure{exitUsage, fmt.Sprintf("%s: %v", name, err), "Check the name; - reads standard input."}
}

func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}
