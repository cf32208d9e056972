package main

import (
	"fmt"
	"io"
	"reflect"
	"strconv"
	"strings"
	"text/tabwriter"

	"wreath/internal/materials"
)

type materialsCmd struct {
	Table  tableName `arg:"" optional:"" help:"Which table; without it the tables are listed."`
	Match  string    `placeholder:"WORD" help:"Only rows that hold this word in any column, whatever its case."`
	Format string    `enum:"text,json" default:"text" help:"text for people, json for programs."`
}

func (materialsCmd) Help() string {
	return `Examples:

  wreath materials
  wreath materials metals --match platinum
  wreath materials standards --match vienna
  wreath materials look-alikes --match tungsten --format json

Every row names its source; json holds every column. In a source, seen means that the text was read when the table was made, memory that it was not, computed that the number follows by calculation, chosen here that nobody has published it.`
}

// tableName names one of the tables.
type tableName string

// Choices lists the names, for completion.
func (tableName) Choices() []string {
	var names []string
	for _, t := range materials.Tables {
		names = append(names, t.Name)
	}
	return names
}

// Run lists the tables, or prints one.
func (c *materialsCmd) Run(s *streams) error {
	if c.Table == "" {
		if c.Match != "" {
			return wrong("Name one: wreath materials metals --match "+strconv.Quote(c.Match)+".", "--match is given without a table")
		}
		return listTables(s.Out, c.Format)
	}
	if t, found := materials.ByName(string(c.Table)); found {
		return printTable(s.Out, t, c.Match, c.Format)
	}
	return oneOf("table", string(c.Table), c.Table.Choices())
}

func listTables(w io.Writer, format string) error {
	type entry struct {
		Table string `json:"table"`
		Rows  int    `json:"rows"`
		About string `json:"about"`
	}
	var list []entry
	for _, t := range materials.Tables {
		list = append(list, entry{t.Name, reflect.ValueOf(t.Rows()).Len(), t.About})
	}
	if format == "json" {
		return writeJSON(w, list)
	}
	return writeRows(w, reflect.ValueOf(list))
}

// printedTable is a table in JSON.
type printedTable struct {
	Table string `json:"table"`
	About string `json:"about"`
	Rows  any    `json:"rows"`
}

func printTable(w io.Writer, t materials.Table, match, format string) error {
	rows := t.Match(match)
	if format == "json" {
		return writeJSON(w, printedTable{t.Name, t.About, rows.Interface()})
	}
	if rows.Len() == 0 {
		_, err := fmt.Fprintf(w, "No row of %s holds %q.\n", t.Name, match)
		return err
	}
	return writeRows(w, rows)
}

// writeRows prints a slice of structs in columns.
func writeRows(w io.Writer, rows reflect.Value) error {
	var b strings.Builder
	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	shown := materials.Show(rows)
	for _, line := range append([][]string{shown.Columns}, shown.Cells...) {
		fmt.Fprintln(t, strings.Join(line, "\t"))
	}
	t.Flush()
	_, err := io.WriteString(w, b.String())
	return err
}
