package web

import (
	"net/http"
	"slices"
	"strconv"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/spool"
)

// paperPart is what can be put on paper of a record, and what was.
type paperPart struct {
	Languages []string
	Roll      string
	Reports   []desk.Report
	Printers  []printerView
	Slips     int // slips that may have come out
	Jobs      []jobView
	Moving    bool // a job changes by itself
}

// paperPart gathers it for who may print; nil for others.
func (s *Server) paperPart(r *http.Request, who *desk.Who, number string) (*paperPart, error) {
	if !who.May(people.PrintSlip) {
		return nil, nil
	}
	d := s.current()
	as, err := wantedBy(r)
	if err != nil {
		return nil, err
	}
	p := &paperPart{Languages: as.Languages, Roll: strconv.Itoa(int(as.Roll))}
	if p.Reports, err = d.Reports(r.Context(), who, number); err != nil {
		return nil, err
	}
	if p.Printers, err = s.printers(r, who); err != nil || !who.May(people.SeePrinters) {
		return p, err
	}
	var jobs []spool.Job
	add := func(document, subject string) (came int, err error) {
		came, of, err := d.Prints(r.Context(), who, document, subject)
		jobs = append(jobs, of...)
		return came, err
	}
	if p.Slips, err = add(spool.Slip, number); err != nil {
		return nil, err
	}
	if _, err = add(spool.Label, number); err != nil {
		return nil, err
	}
	for _, report := range p.Reports {
		if _, err = add(spool.Report, report.Number); err != nil {
			return nil, err
		}
	}
	slices.SortStableFunc(jobs, func(a, b spool.Job) int { return b.Asked.Compare(a.Asked) })
	for _, j := range jobs {
		v := s.jobWords(j)
		p.Jobs, p.Moving = append(p.Jobs, v), p.Moving || v.Moving
	}
	return p, nil
}
