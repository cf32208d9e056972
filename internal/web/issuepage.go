package web

import (
	"errors"
	"net/http"
	"strings"
	"time"

	"wreath/internal/desk"
	"wreath/internal/paper"
	"wreath/internal/people"
)

// issueView is a report before it is issued: what it still lacks, and the earlier one that it would amend.
type issueView struct {
	Number  string
	Seen    int64
	Facts   *paper.Facts
	Lacks   []lack
	Before  *desk.Report // the report that stands; nil without one
	Wrong   *problem
	Form    desk.Issue
	Arrived string // the day on which the item came, as it was typed

	AskDescription, AskCondition, AskReceived bool // these can be given here
}

// lack is something that ISO/IEC 17025 asks of a report and nobody filled in.
type lack struct {
	paper.Missing
	Link string // the page on which it is filled in; "" where that is this one
	Here string // the field of this page
}

func (s *Server) issuePage(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if !who.May(people.IssueReport) {
		return refused(who, people.IssueReport)
	}
	return s.showIssue(w, r, who, http.StatusOK, desk.Issue{}, "", nil)
}

// showIssue shows what a report of a record would lack, with what was typed so far.
func (s *Server) showIssue(w http.ResponseWriter, r *http.Request, who *desk.Who, status int, form desk.Issue, arrived string, wrong *problem) error {
	d := s.current()
	name := r.PathValue("name")
	shown, err := d.Show(r.Context(), who, name)
	if err != nil {
		return err
	}
	facts, err := d.Paper(r.Context(), who, shown.Record.Number)
	if err != nil {
		return err
	}
	body := issueView{Number: shown.Record.Number, Seen: shown.Seen, Facts: facts, Wrong: wrong, Form: form, Arrived: arrived}
	reports, err := d.Reports(r.Context(), who, name)
	if err != nil {
		return err
	}
	for i := range reports {
		if reports[i].SupersededBy == "" {
			body.Before = &reports[i]
		}
	}
	body.AskDescription, body.AskCondition, body.AskReceived = facts.Item == nil && facts.Description() == "", facts.Condition() == "", facts.Received == nil
	if body.Before != nil && wrong == nil { // what was typed for the report that is amended need not be typed again
		earlier, err := d.Paper(r.Context(), who, body.Before.Number)
		if err != nil {
			return err
		}
		body.Form.Deviations = earlier.Report.Deviations
		if body.AskCondition {
			body.Form.Condition = earlier.Condition()
		}
		if body.AskReceived && earlier.Received != nil {
			body.Arrived = earlier.Received.Format(time.DateOnly)
		}
	}
	for _, l := range lacks(facts) {
		if filled := map[string]string{"condition": body.Form.Condition, "received": body.Arrived}[l.Here]; filled == "" {
			body.Lacks = append(body.Lacks, l)
		}
	}
	s.render(w, r, status, "issue", view{Title: say("Report"), Nav: "book", Who: who, Body: body})
	return nil
}

// lacks lists what a report of these facts would lack beside what issuing it fills in by itself: number, date
// and who authorises it.
func lacks(f *paper.Facts) (out []lack) {
	record := "/record/" + f.Record.Number
	for _, m := range f.Check() {
		if f.Report == nil && (m.Clause == "d" || m.Clause == "j" || m.Clause == "o" && !strings.HasPrefix(m.What, "signature")) {
			continue
		}
		l := lack{Missing: m}
		switch m.Clause {
		case "b":
			l.Link = "/settings#shop"
		case "c":
			l.Link = "/settings#shop"
			if at := f.Record.Station; at != nil {
				l.Link = "/stations?change=" + at.ID + "#station"
			}
		case "g":
			l.Here = "condition"
			if m.What == "description of the item" {
				l.Here = "description"
			}
		case "h":
			l.Here = "received"
		case "e":
			l.Here = "no_customer"
		case "o":
			l.Link = record + "#signatures"
		default:
			l.Link = record + "/correct"
		}
		out = append(out, l)
	}
	return out
}

// issueReport issues a report. Where something is missing the page comes back with what was typed.
func (s *Server) issueReport(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	text := func(name string) string { return strings.TrimSpace(r.FormValue(name)) }
	number := r.PathValue("name")
	issue := desk.Issue{Record: number, Description: text("description"), Condition: text("condition"), NoCustomer: text("no_customer"),
		Deviations: text("deviations"), Opinion: text("opinion"), Reason: text("reason")}
	var err error
	if arrived := text("received"); arrived != "" {
		var day time.Time
		day, err = s.dayOf(r, "received", arrived)
		issue.Received = &day
	}
	var made *paper.Facts
	if err == nil {
		doer := by(r, who)
		doer.Seen = seen(r)
		made, err = s.current().IssueReport(r.Context(), doer, issue)
	}
	if err == nil {
		s.hub.tell(number)
		back(w, r, "/record/"+made.Record.Number+"?issued="+made.Report.Number+"#paper")
		return nil
	}
	p := asProblem(err)
	if p.Status != http.StatusUnprocessableEntity && p.Status != http.StatusConflict {
		return err
	}
	if errors.As(err, new(*paper.MissingError)) { // the list on the page says what, one by one
		p = &problem{Title: "A report needs more than is known.", Hint: "What is missing stands below, each with the place where it is filled in.", Status: p.Status}
	}
	return s.showIssue(w, r, who, p.Status, issue, text("received"), p)
}
