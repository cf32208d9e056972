package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"time"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/tables"
)

// filesView is what can be taken away as a file, as far as this person may see it.
type filesView struct {
	Formats     []tables.Format
	From, Until string // the period that stands in the forms
	Equipment   []string
	Lots        []desk.LotRow
	Register    bool // the person may see the register
	Named       bool // and the customers in it
}

// filesPage offers the day book, the register, lots, histories and items as tables.
func (s *Server) filesPage(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	d := s.current()
	now := s.o.Now().In(s.zone(r.Context()))
	body := filesView{Formats: tables.Formats, From: now.AddDate(0, -1, 0).Format(time.DateOnly), Until: now.Format(time.DateOnly),
		Register: who.May(people.SeePrices), Named: who.May(people.SeePrices) && who.May(people.SeePersonalData)}
	if who.May(people.SeeStations) {
		equipment, err := d.Equipment(r.Context(), who)
		if err != nil {
			return err
		}
		for _, i := range equipment.Instruments {
			body.Equipment = append(body.Equipment, i.ID)
		}
		for _, at := range equipment.Stations {
			body.Equipment = append(body.Equipment, at.ID)
		}
	}
	if who.May(people.SeePrices) {
		var err error
		if body.Lots, err = d.Lots(r.Context(), who); err != nil {
			return err
		}
	}
	s.render(w, r, http.StatusOK, "files", view{Title: say("Files"), Nav: "book", Who: who, Body: body})
	return nil
}

// tableNames says which tables there are, for the hint.
const tableNames = "The tables are day-book, register, items and claims, a lot by its name and the history of an instrument or a station by its name: day-book.csv, register.xlsx, lot/NAME.csv, history/NAME.jsonl."

// tableFile hands out a table, in the form that its name ends with.
func (s *Server) tableFile(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	return s.writeTable(w, r, who, r.PathValue("kind"), r.PathValue("file"), "")
}

// registerFile hands out the register with the customers in it; whoever looks says why.
func (s *Server) registerFile(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	reason := strings.TrimSpace(r.FormValue("reason"))
	if reason == "" {
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "Customers are named in the register only for a reason.", Hint: "Say why: it stands in the log beside every name that was looked at."}
	}
	return s.writeTable(w, r, who, "", "register."+r.FormValue("format"), reason)
}

// writeTable finds a table by its name and writes it.
func (s *Server) writeTable(w http.ResponseWriter, r *http.Request, who *desk.Who, kind, file, reason string) error {
	format, known := tables.FormatOf(file)
	if !known {
		return &problem{Type: "missing", Status: http.StatusNotFound, Title: "There is no table " + file + ".", Hint: "A table comes as .csv, .xlsx or .jsonl."}
	}
	name := file[:len(file)-len(format)-1]
	t, err := s.table(r, who, kind, name, reason)
	if err != nil {
		return err
	}
	return s.sendTable(r.Context(), w, format, t)
}

// table makes a table of the shop.
func (s *Server) table(r *http.Request, who *desk.Who, kind, name, reason string) (tables.Table, error) {
	d, ctx := s.current(), r.Context()
	switch {
	case kind == "lot":
		return d.LotTable(ctx, who, name)
	case kind == "history":
		return d.HistoryTable(ctx, who, name)
	case kind == "" && name == "items":
		return d.ItemsTable(ctx, who)
	case kind == "" && name == "claims":
		return d.ClaimsTable(ctx, who)
	case kind == "" && name == "day-book":
		q, err := queryOf(r)
		if err != nil {
			return tables.Table{}, err
		}
		return d.DayBookTable(ctx, who, q)
	case kind == "" && name == "register":
		from, until, err := s.period(r)
		if err != nil {
			return tables.Table{}, err
		}
		return d.RegisterTable(ctx, who, from, until, reason)
	}
	return tables.Table{}, &problem{Type: "missing", Status: http.StatusNotFound, Title: "There is no table " + name + ".", Hint: tableNames}
}

// sendTable writes a table as a file. Until its first byte an error can still be said; after that all that
// can be done is to break off, as a file that is cut short must not look whole.
func (s *Server) sendTable(ctx context.Context, w http.ResponseWriter, format tables.Format, t tables.Table) error {
	out := &fileOut{w: w, name: t.Name + "." + string(format), kind: format.MediaType()}
	err := tables.Write(out, format, t)
	if err != nil && out.begun {
		if !errors.Is(ctx.Err(), context.Canceled) {
			s.o.Log.Error("table broke off", "table", t.Name, "error", err)
		}
		panic(http.ErrAbortHandler)
	}
	return err
}

// fileOut is a file on its way out; what it is stands before its first byte.
type fileOut struct {
	w          http.ResponseWriter
	name, kind string
	begun      bool
}

func (f *fileOut) Write(p []byte) (int, error) {
	if !f.begun {
		f.begun = true
		attach(f.w, f.name, f.kind)
	}
	return f.w.Write(p)
}

// zone is the zone of the shop.
func (s *Server) zone(ctx context.Context) *time.Location {
	if shop, err := s.current().AboutShop(ctx); err == nil {
		if zone, err := time.LoadLocation(shop.TimeZone); err == nil {
			return zone
		}
	}
	return time.UTC
}

// dayOf reads a day as the moment at which it begins in the shop's zone.
func (s *Server) dayOf(r *http.Request, field, text string) (time.Time, error) {
	day, err := time.ParseInLocation(time.DateOnly, text, s.zone(r.Context()))
	if err != nil {
		return day, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The day " + text + " can't be read.", Hint: "Write it as 2026-03-04.", Field: field}
	}
	return day, nil
}

// period reads the first and the last day of a form, as moments of the shop's zone; the last day belongs to
// it. What is not filled in leaves that end open.
func (s *Server) period(r *http.Request) (from, until time.Time, err error) {
	return s.periodOf(r, r.FormValue("from"), r.FormValue("until"))
}

func (s *Server) periodOf(r *http.Request, first, last string) (from, until time.Time, err error) {
	if first != "" {
		if from, err = s.dayOf(r, "from", first); err != nil {
			return from, until, err
		}
	}
	if last != "" {
		if until, err = s.dayOf(r, "until", last); err != nil {
			return from, until, err
		}
		until = until.AddDate(0, 0, 1)
	}
	if !from.IsZero() && !until.IsZero() && !from.Before(until) {
		return from, until, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The period ends before it begins.", Hint: "Give the first day, then the last.", Field: "until"}
	}
	return from, until, nil
}

// periodEvidence hands out a bundle of everything that entered the log in a period.
func (s *Server) periodEvidence(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	from, until, err := s.period(r)
	if err != nil {
		return err
	}
	bundle, _, err := s.current().EvidenceOf(r.Context(), who, from, until)
	if err != nil {
		return err
	}
	data, err := json.MarshalIndent(bundle, "", " ")
	if err != nil {
		return err
	}
	attach(w, strings.Trim("evidence-"+r.FormValue("from")+"-"+r.FormValue("until"), "-")+".json", "application/json")
	_, err = w.Write(data)
	return err
}

// formatName is a form of file as its button says it.
func formatName(f any) string {
	switch tables.Format(fmt.Sprint(f)) {
	case tables.CSV:
		return say("CSV")
	case tables.XLSX:
		return say("Workbook (XLSX)")
	}
	return say("JSON Lines")
}

// bookFile hands the day book out as a file: what the search finds, all pages of it, newest first.
func (s *Server) bookFile(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	name, _, _ := strings.Cut(r.PathValue("file"), ".")
	if name != "day-book" {
		return &problem{Type: "missing", Status: http.StatusNotFound, Title: "There is no file " + r.PathValue("file") + ".", Hint: "The day book offers day-book.csv, day-book.xlsx and day-book.jsonl."}
	}
	return s.writeTable(w, r, who, "", r.PathValue("file"), "")
}
