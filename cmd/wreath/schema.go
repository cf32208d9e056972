package main

import (
	"fmt"

	"wreath/internal/determination"
)

type schemaCmd struct {
	Document string `arg:"" enum:"draft,answer" default:"draft" help:"draft: what determine reads. answer: what it writes."`
}

func (schemaCmd) Help() string {
	return `Examples:

  wreath schema draft
  wreath schema answer`
}

// Run prints a schema.
func (c *schemaCmd) Run(s *streams) error {
	write := determination.DraftSchema
	if c.Document == "answer" {
		write = determination.AnswerSchema
	}
	schema, err := write()
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.Out, "%s\n", schema)
	return err
}
