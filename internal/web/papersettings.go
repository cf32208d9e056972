package web

import (
	"io"
	"net/http"
	"strconv"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/spool"
	"wreath/internal/strictjson"
)

// paperSettings is what papers say of the shop, and the printers.
type paperSettings struct {
	Printers []printerView
	Logo     bool
	Form     paperForm
}

// paperForm is what was typed of a printer, and what was wrong with it.
type paperForm struct {
	Printer map[string]string
	Wrong   *problem
}

func (s *Server) paperSettings(r *http.Request, who *desk.Who, form paperForm) (out paperSettings, err error) {
	out.Form = form
	if out.Form.Printer == nil {
		out.Form.Printer = map[string]string{"takes": spool.Text, "columns": "32", "encoding": spool.UTF8, "feed_lines": "4", "paper": spool.A4}
	}
	if out.Printers, err = s.printers(r, who); err != nil {
		return out, err
	}
	if who.May(people.SeeRecords) {
		logo, err := s.current().Logo(r.Context(), who)
		if err != nil {
			return out, err
		}
		out.Logo = logo != nil
	}
	return out, nil
}

// printerFields are the fields of the form of a printer.
var printerFields = []string{"name", "address", "takes", "columns", "encoding", "feed_lines", "paper", "reason"}

// setPrinter writes down a printer. What was typed stays where it can't be.
func (s *Server) setPrinter(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	typed := map[string]string{}
	for _, name := range printerFields {
		typed[name] = strings.TrimSpace(r.FormValue(name))
	}
	p, err := printerOf(typed)
	if err == nil {
		_, err = s.current().SetPrinter(r.Context(), by(r, who), p, typed["reason"])
	}
	if err == nil {
		s.wakePrinting()
		back(w, r, "/settings#printers")
		return nil
	}
	wrong := asProblem(err)
	if wrong.Status != http.StatusUnprocessableEntity {
		return err
	}
	return s.settingsPage(w, r, who, wrong.Status, shownOnce{}, paperForm{Printer: typed, Wrong: wrong})
}

// printerOf makes the document of a printer out of its form. What belongs to the other kind of printer is
// left out.
func printerOf(typed map[string]string) (spool.Printer, error) {
	p := spool.Printer{Format: spool.Format, Name: typed["name"], Address: typed["address"], Takes: typed["takes"]}
	if p.Takes == spool.PDF {
		p.Paper = typed["paper"]
		return p, nil
	}
	p.Encoding = typed["encoding"]
	for name, to := range map[string]*int{"columns": &p.Columns, "feed_lines": &p.FeedLines} {
		n, err := strconv.Atoi(typed[name])
		if err != nil {
			return p, &strictjson.FieldError{Path: name, Reason: "can't be read as a number: " + typed[name], Hint: "Write digits only."}
		}
		*to = n
	}
	return p, nil
}

// testPrinter asks for a test page.
func (s *Server) testPrinter(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	ask := desk.PrintAsk{Document: spool.Test, Printer: r.PathValue("name"), Languages: []string{wordsFor(r).Lang}}
	if _, err := s.current().AskPrint(r.Context(), by(r, who), ask); err != nil {
		return err
	}
	s.wakePrinting()
	back(w, r, "/printing")
	return nil
}

// removePrinter takes a printer out of use.
func (s *Server) removePrinter(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if err := s.current().RemovePrinter(r.Context(), by(r, who), r.PathValue("name"), strings.TrimSpace(r.FormValue("reason"))); err != nil {
		return err
	}
	s.wakePrinting()
	back(w, r, "/settings#printers")
	return nil
}

// setShop changes what papers say of the shop.
func (s *Server) setShop(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	text := func(name string) string { return strings.TrimSpace(r.FormValue(name)) }
	if err := s.current().SetShop(r.Context(), by(r, who), text("name"), text("address"), text("reason")); err != nil {
		return err
	}
	back(w, r, "/settings#shop")
	return nil
}

// setLogo puts a picture at the head of the papers, or takes it away.
func (s *Server) setLogo(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	var data []byte
	if r.FormValue("act") != "remove" {
		file, _, err := r.FormFile("logo")
		if err != nil {
			return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "No picture came with the form.", Hint: "Choose a JPEG or PNG, then set it."}
		}
		defer file.Close()
		if data, err = io.ReadAll(file); err != nil {
			return err
		}
		if len(data) == 0 {
			return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The file is empty.", Hint: "Choose a JPEG or PNG, then set it."}
		}
	}
	if err := s.current().SetLogo(r.Context(), by(r, who), data); err != nil {
		return err
	}
	back(w, r, "/settings#shop")
	return nil
}

// logo serves the shop's logo.
func (s *Server) logo(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	p, err := s.current().Logo(r.Context(), who)
	if err != nil {
		return err
	}
	if p == nil {
		return &problem{Type: "missing", Status: http.StatusNotFound, Title: "The shop has no logo.", Hint: "Set one in the settings."}
	}
	w.Header().Set("Content-Type", p.MediaType)
	_, err = w.Write(p.Bytes)
	return err
}
