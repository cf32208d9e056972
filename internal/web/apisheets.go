package web

import (
	"net/http"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/station"
)

type (
	// Begun is how a sheet is opened.
	Begun struct {
		Station  string        `json:"station,omitempty" doc:"its newest version is taken"`
		Item     string        `json:"item,omitempty"`
		Barcode  string        `json:"barcode,omitempty" doc:"of its tray or bag"`
		Document draftDocument `json:"document" doc:"a draft without readings"`
	}
	// Taken is a reading that is sent.
	Taken struct {
		Slot       string       `json:"slot" doc:"the field of the draft: air_g, liquid_g, liquid.temperature_c ..."`
		Text       string       `json:"text" doc:"as the instrument shows it"`
		Unit       string       `json:"unit,omitempty" doc:"g unless the text says otherwise"`
		Source     string       `json:"source,omitempty" doc:"received (unless said), typed or imported"`
		Settled    bool         `json:"settled,omitempty" doc:"the instrument said that it stands still"`
		Instrument *station.Ref `json:"instrument,omitempty"`
	}
	// Reasoned is a reason alone.
	Reasoned struct {
		Reason string `json:"reason"`
	}
	// Moved is another station for a sheet.
	Moved struct {
		Station string `json:"station" doc:"name of the station it goes to; its newest version is taken"`
		Reason  string `json:"reason,omitempty" doc:"needed after the first reading"`
	}
	// Noted is a remark.
	Noted struct {
		Text string `json:"text"`
	}
	// Changed is another request of a sheet.
	Changed struct {
		Document draftDocument `json:"document"`
		Reason   string        `json:"reason,omitempty" doc:"needed after the first reading"`
	}
	// Sheets is a list, in an object so that it can grow.
	Sheets struct {
		Sheets []record.Sheet `json:"sheets"`
	}
	// SoFar is what a sheet comes to so far.
	SoFar struct {
		Complete draftDocument  `json:"complete" doc:"the draft with the readings and what the station adds"`
		Answer   answerDocument `json:"answer"`
	}
	// Done says that an act was done that has no document of its own.
	Done struct {
		Done bool `json:"done"`
	}
)

// done is the answer to an act that has no document of its own.
func done(err error) (any, error) { return Done{err == nil}, err }

var sheetEndpoints = []endpoint{
	{Method: "GET", Path: "/sheets", Summary: "Determinations under way", Response: Sheets{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) {
			sheets, err := c.d.Sheets(c.r.Context(), c.who)
			return Sheets{orEmpty(sheets)}, err
		}},
	{Method: "POST", Path: "/sheets", Summary: "Begin a determination", Request: Begun{}, Response: desk.Sheet{}, Status: http.StatusCreated, Keyed: true, Action: people.OpenDraft,
		do: func(s *Server, c *call) (any, error) {
			b, err := body[Begun](c)
			if err != nil {
				return nil, err
			}
			sheet, err := c.d.OpenSheet(c.r.Context(), c.by(), desk.Begin{Station: b.Station, Item: b.Item, Barcode: b.Barcode, Document: b.Document.RawMessage})
			if err != nil {
				return nil, err
			}
			c.tag(sheet.Seq)
			c.w.Header().Set("Location", apiRoot+"/sheets/"+sheet.Sheet.ID)
			s.hub.tell("bench")
			return sheet, nil
		}},
	{Method: "GET", Path: "/sheets/{id}", Summary: "A determination under way", Response: desk.Sheet{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) {
			sheet, err := c.d.Sheet(c.r.Context(), c.who, c.name("id"))
			if err == nil {
				c.tag(sheet.Seq)
			}
			return sheet, err
		}},
	{Method: "GET", Path: "/sheets/{id}/answer", Summary: "What it comes to so far; nothing is kept", Response: SoFar{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) {
			so, err := c.d.Evaluate(c.r.Context(), c.who, c.name("id"))
			if err != nil {
				return nil, err
			}
			return SoFar{draftDocument{so.Complete.Document}, answerDocument{so.Answer}}, nil
		}},
	{Method: "PUT", Path: "/sheets/{id}/request", Summary: "Ask something else of it: claim, rule, conditions", Request: Changed{}, Response: desk.Sheet{}, Keyed: true, Seen: true, Action: people.ChangeDraft,
		do: onSheet(func(s *Server, c *call, by desk.By, id string) (desk.Sheet, error) {
			asked, err := body[Changed](c)
			if err != nil {
				return desk.Sheet{}, err
			}
			return c.d.Change(c.r.Context(), by, id, asked.Document.RawMessage, asked.Reason)
		})},
	{Method: "POST", Path: "/sheets/{id}/readings", Summary: "Add a reading", Request: Taken{}, Response: desk.Sheet{}, Status: http.StatusCreated, Keyed: true, Seen: true, Action: people.TakeReading,
		do: onSheet(func(s *Server, c *call, by desk.By, id string) (desk.Sheet, error) {
			t, err := body[Taken](c)
			if err != nil {
				return desk.Sheet{}, err
			}
			if t.Source == "" {
				t.Source = record.Received
			}
			return c.d.Take(c.r.Context(), by, id, record.Reading{Slot: t.Slot, Text: t.Text, Unit: t.Unit, Source: t.Source, Settled: t.Settled, Instrument: t.Instrument})
		})},
	{Method: "POST", Path: "/sheets/{id}/readings/{no}/withdrawal", Summary: "Set a reading aside; it stays", Request: Reasoned{}, Response: desk.Sheet{}, Keyed: true, Seen: true, Action: people.WithdrawReading,
		do: onReading(func(d *desk.Desk) readingAct { return d.Withdraw })},
	{Method: "POST", Path: "/sheets/{id}/readings/{no}/restoration", Summary: "Let a reading that was set aside count again; both acts stay", Request: Reasoned{}, Response: desk.Sheet{}, Keyed: true, Seen: true, Action: people.WithdrawReading,
		do: onReading(func(d *desk.Desk) readingAct { return d.RestoreReading })},
	{Method: "POST", Path: "/sheets/{id}/station", Summary: "Move it to another station; readings stay with the station they were taken at", Request: Moved{}, Response: desk.Sheet{}, Keyed: true, Seen: true, Action: people.ChangeDraft,
		do: onSheet(func(s *Server, c *call, by desk.By, id string) (desk.Sheet, error) {
			m, err := body[Moved](c)
			if err != nil {
				return desk.Sheet{}, err
			}
			return c.d.MoveSheet(c.r.Context(), by, id, m.Station, m.Reason)
		})},
	{Method: "POST", Path: "/sheets/{id}/notes", Summary: "Add a remark", Request: Noted{}, Response: desk.Sheet{}, Status: http.StatusCreated, Keyed: true, Seen: true, Action: people.ChangeDraft,
		do: onSheet(func(s *Server, c *call, by desk.By, id string) (desk.Sheet, error) {
			note, err := body[Noted](c)
			if err != nil {
				return desk.Sheet{}, err
			}
			return c.d.Note(c.r.Context(), by, id, note.Text)
		})},
	{Method: "POST", Path: "/sheets/{id}/conclusion", Summary: "Evaluate it and record the result for good", Response: record.Record{}, Status: http.StatusCreated, Keyed: true, Seen: true, Action: people.RecordDetermination,
		do: func(s *Server, c *call) (any, error) {
			by, err := c.seenBy()
			if err != nil {
				return nil, err
			}
			r, err := c.d.Conclude(c.r.Context(), by, c.name("id"), s.unanswered(c.name("id"))...)
			s.changedBy(c, c.name("id"))
			return s.made(c, r, err)
		}},
	{Method: "POST", Path: "/sheets/{id}/end", Summary: "Give it up, with the reason", Request: Reasoned{}, Response: Done{}, Keyed: true, Seen: true, Action: people.DropDraft,
		do: func(s *Server, c *call) (any, error) {
			why, err := body[Reasoned](c)
			if err != nil {
				return nil, err
			}
			by, err := c.seenBy()
			if err != nil {
				return nil, err
			}
			err = c.d.Drop(c.r.Context(), by, c.name("id"), why.Reason)
			s.changedBy(c, c.name("id"))
			return done(err)
		}},
}

// onReading is an act of the desk at one reading of a sheet, with its reason.
func onReading(act func(*desk.Desk) readingAct) func(*Server, *call) (any, error) {
	return onSheet(func(s *Server, c *call, by desk.By, id string) (desk.Sheet, error) {
		why, err := body[Reasoned](c)
		if err != nil {
			return desk.Sheet{}, err
		}
		no, err := c.readingNo()
		if err != nil {
			return desk.Sheet{}, err
		}
		return act(c.d)(c.r.Context(), by, id, no, why.Reason)
	})
}

// onSheet is an act on a sheet: it honours If-Match, tells the pages, and gives the new ETag.
func onSheet(do func(s *Server, c *call, by desk.By, id string) (desk.Sheet, error)) func(*Server, *call) (any, error) {
	return func(s *Server, c *call) (any, error) {
		by, err := c.seenBy()
		if err != nil {
			return nil, err
		}
		id := c.name("id")
		sheet, err := do(s, c, by, id)
		if err != nil {
			return nil, err
		}
		c.tag(sheet.Seq)
		s.changedBy(c, id)
		return sheet, nil
	}
}

// changedBy tells the balance and the pages that a program has changed a sheet. What is done is done: that the
// balance was not told is no failure of it.
func (s *Server) changedBy(c *call, id string) {
	if err := s.keepUp(c.r.Context(), c.who, id); err != nil {
		s.o.Log.Warn("the balance was not told of a change", "sheet", id, "error", err)
	}
	s.hub.tell(id)
}
