package main

import (
	"fmt"
	"runtime"

	"wreath/internal/determination"
)

type versionCmd struct {
	Format string `enum:"text,json" default:"text" help:"text for people, json for programs."`
}

func (versionCmd) Help() string {
	return `Examples:

  wreath version
  wreath version --format json`
}

// Run prints the versions.
func (c *versionCmd) Run(s *streams) error {
	if c.Format == "json" {
		return writeJSON(s.Out, map[string]string{"version": version, "tables": determination.TablesEdition, "go": runtime.Version()})
	}
	_, err := fmt.Fprintf(s.Out, "wreath %s, tables %s, %s %s/%s\n", version, determination.TablesEdition, runtime.Version(), runtime.GOOS, runtime.GOARCH)
	return err
}
