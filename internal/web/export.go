package web

import (
	"encoding/csv"
	"encoding/json"
	"net/http"
	"strconv"
	"strings"
	"time"

	"wreath/internal/desk"
	"wreath/internal/store"
)

// bookColumns are the columns of the day book as a table, each with its unit.
var bookColumns = []string{"number", "recorded at", "item", "claim", "metal", "claimed fineness, parts per thousand", "finding, by the rule that its record names", "mass, g", "density at 20 degC, kg/m3", "expanded uncertainty of the density, kg/m3", "safe figure, parts per thousand", "doubts", "state", "person", "station", "superseded by"}

// bookFile hands the day book out as a file: what the search finds, all pages of it, newest first.
func (s *Server) bookFile(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	name := r.PathValue("file")
	if name != "day-book.csv" && name != "day-book.jsonl" {
		return &problem{Type: "missing", Status: http.StatusNotFound, Title: "There is no file " + name + ".", Hint: "The day book offers day-book.csv and day-book.jsonl."}
	}
	q, err := queryOf(r)
	if err != nil {
		return err
	}
	q.Limit = 1000
	rows, err := s.current().Find(r.Context(), who, q)
	if err != nil {
		return err // nothing is written yet, so that it can still be said
	}
	write := jsonLines(w)
	if name == "day-book.csv" {
		attach(w, name, "text/csv; charset=utf-8")
		table := csv.NewWriter(w)
		table.UseCRLF = true
		table.Write(bookColumns)
		defer table.Flush()
		write = func(row store.Determination) error { return table.Write(cells(row)) }
	} else {
		attach(w, name, "application/jsonl; charset=utf-8")
	}
	for {
		for _, row := range rows {
			if err := write(row); err != nil {
				return nil // the other side is gone
			}
		}
		if len(rows) < q.Limit {
			return nil
		}
		q.Before = rows[len(rows)-1].Seq
		if rows, err = s.current().Find(r.Context(), who, q); err != nil {
			s.o.Log.Error("day book cut short", "error", err)
			panic(http.ErrAbortHandler) // a file that is cut short must not look whole
		}
	}
}

func jsonLines(w http.ResponseWriter) func(store.Determination) error {
	out := json.NewEncoder(w)
	return func(row store.Determination) error { return out.Encode(row) }
}

// cells are one row of the table.
func cells(d store.Determination) []string {
	number := func(x float64) string {
		if x == 0 {
			return ""
		}
		return strconv.FormatFloat(x, 'f', -1, 64)
	}
	row := []string{d.Number, d.At.Format(time.RFC3339), d.Description, d.Claim, d.Metal, number(d.Fineness), d.Finding, number(d.MassG), number(d.DensityKgM3), number(d.DensityU), number(d.SafePpt), strconv.FormatInt(d.Doubts, 10), d.State, d.Person, d.Station, d.SupersededBy}
	for i := range row {
		row[i] = harmless(row[i])
	}
	return row
}

// harmless keeps a spreadsheet from taking a text for a formula: text that begins like one gets an
// apostrophe before it. Numbers stay numbers.
func harmless(cell string) string {
	if cell == "" || !strings.ContainsRune("=+-@\t\r\n|%", rune(cell[0])) {
		return cell
	}
	if _, err := strconv.ParseFloat(cell, 64); err == nil {
		return cell
	}
	return "'" + cell
}
