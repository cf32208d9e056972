package web

import (
	"net/http"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/spool"
)

// jobView is a print job in words.
type jobView struct {
	spool.Job
	Is     string // its state, of the catalogue
	Means  string // what that means for who looks at the paper; "" where the state says it all
	Link   string // to what it is about
	Repeat bool   // it can be printed again
	Drop   bool   // it can be put away
	Moving bool   // its state changes by itself
}

// jobStates are the states of a job in words, and what they mean.
var jobStates = map[spool.State]struct{ is, means string }{
	spool.Waiting:   {say("waiting"), say("Nothing of it was sent. It is sent by itself as soon as the printer takes it.")},
	spool.Printing:  {say("printing"), say("It may be coming out now.")},
	spool.Printed:   {say("handed over"), ""}, // Job.Said tells how much that is
	spool.Failed:    {say("failed"), say("It is not sent again by itself. Look at the paper, then print it again or put it away.")},
	spool.BrokenOff: {say("broken off"), say("Whether it came out nobody knows: look at the paper. It is never sent again by itself. Printed again, it says COPY.")},
	spool.Dropped:   {say("put away"), say("It was taken out of the queue before anything was sent.")},
}

// documentWords are the papers in words.
var documentWords = map[string]string{spool.Report: say("report"), spool.Slip: say("slip"), spool.Label: say("label"), spool.Test: say("test page")}

// jobWords says a job in words.
func (s *Server) jobWords(j spool.Job) jobView {
	state := jobStates[j.State]
	v := jobView{Job: j, Is: state.is, Means: state.means, Moving: j.State == spool.Waiting || j.State == spool.Printing}
	v.Repeat = j.Printer != desk.BrowserDialog && j.Again == "" && (j.State == spool.Printed || j.State == spool.Failed || j.State == spool.BrokenOff || j.State == spool.Dropped)
	v.Drop = j.State == spool.Waiting || (j.State == spool.Failed || j.State == spool.BrokenOff) && j.Again == ""
	if j.State == spool.Failed && j.Sent == 0 {
		v.Means = say("Nothing of it was sent. It is not tried again by itself any more.")
	}
	switch {
	case strings.HasPrefix(j.Subject, "D-"):
		v.Link = "/record/" + j.Subject
	case strings.HasPrefix(j.Subject, "R-"):
		v.Link = "/reports/" + j.Subject
	case strings.HasPrefix(j.Subject, "i-"):
		v.Link = "/items/" + j.Subject
	case j.Document == spool.Label:
		v.Link = "/stations/" + j.Subject
	}
	return v
}

// printerView is a printer with what troubles it.
type printerView struct {
	spool.Printer
	Trouble *spool.Trouble // why it takes nothing; nil where nothing is known
	Waiting int            // jobs
}

// printingView is the queue of the printers.
type printingView struct {
	Jobs     []jobView
	Printers []printerView
	Runs     bool // this program works off the queue
	Moving   bool
}

// printing shows what waits for the printers, what is being printed, and what failed or broke off.
func (s *Server) printing(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	body := printingView{Runs: s.o.Printing != nil}
	jobs, err := s.current().PrintQueue(r.Context(), who)
	if err != nil {
		return err
	}
	waits := map[string]int{}
	for _, j := range jobs {
		v := s.jobWords(j)
		body.Jobs, body.Moving = append(body.Jobs, v), body.Moving || v.Moving
		if j.State == spool.Waiting {
			waits[j.Printer]++
		}
	}
	if body.Printers, err = s.printers(r, who); err != nil {
		return err
	}
	for i := range body.Printers {
		body.Printers[i].Waiting = waits[body.Printers[i].Name]
	}
	s.render(w, r, http.StatusOK, "printing", view{Title: say("Printing"), Nav: "book", Who: who, Body: body})
	return nil
}

// printers lists the printers with their troubles, as far as this program knows them.
func (s *Server) printers(r *http.Request, who *desk.Who) (out []printerView, err error) {
	if !who.May(people.SeePrinters) {
		return nil, nil
	}
	all, err := s.current().Printers(r.Context(), who)
	if err != nil {
		return nil, err
	}
	var troubles map[string]*spool.Trouble
	if s.o.Printing != nil {
		troubles = s.o.Printing.Troubles()
	}
	for _, p := range all {
		out = append(out, printerView{Printer: p, Trouble: troubles[p.Name]})
	}
	return out, nil
}

// wakePrinting lets a job that was just asked for be printed at once.
func (s *Server) wakePrinting() {
	if s.o.Printing != nil {
		s.o.Printing.Wake()
	}
}

// ask reads what a form wants on paper.
func askOf(r *http.Request, subject string) (desk.PrintAsk, error) {
	as, err := wantedBy(r)
	if err != nil {
		return desk.PrintAsk{}, err
	}
	return desk.PrintAsk{Document: r.FormValue("document"), Subject: subject, Printer: r.FormValue("printer"), Languages: as.Languages}, nil
}

// printAt puts a paper of a record, an item or an instrument into the queue of a printer.
func (s *Server) printAt(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	subject := strings.TrimSpace(r.FormValue("subject"))
	ask, err := askOf(r, subject)
	if err != nil {
		return err
	}
	if _, err := s.current().AskPrint(r.Context(), by(r, who), ask); err != nil {
		return err
	}
	s.wakePrinting()
	back(w, r, local(r.FormValue("then")))
	return nil
}

// printAgain prints the paper of an earlier job once more.
func (s *Server) printAgain(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if _, err := s.current().PrintAgain(r.Context(), by(r, who), r.PathValue("number"), r.FormValue("printer")); err != nil {
		return err
	}
	s.wakePrinting()
	back(w, r, "/printing")
	return nil
}

// dropPrint puts a job away.
func (s *Server) dropPrint(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if err := s.current().DropPrint(r.Context(), by(r, who), r.PathValue("number"), strings.TrimSpace(r.FormValue("reason"))); err != nil {
		return err
	}
	s.wakePrinting()
	back(w, r, "/printing")
	return nil
}

// printerName is a printer in a list; the dialog of a browser is none of the shop's.
func printerName(name string) string {
	if name == desk.BrowserDialog {
		return say("by the dialog of a browser")
	}
	return name
}
