package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/station"
	"wreath/internal/store"
	"wreath/internal/value"
)

// endpoint is one thing that a program can ask for. The description that the server publishes is made
// from this list, and so is the routing.
type endpoint struct {
	Method, Path string
	Summary      string
	Action       people.Action // that the sender must be allowed
	Query        []parameter
	Request      any // a value of the type that is sent; nil for none, draftDocument for a draft
	Response     any // a value of the type that comes back
	Status       int // of an answer that is fine
	Keyed        bool
	do           func(s *Server, c *call) (any, error)
}

// parameter is one parameter of the address.
type parameter struct{ Name, About string }

// call is one request of a program.
type call struct {
	r   *http.Request
	w   http.ResponseWriter
	who *desk.Who
	d   *desk.Desk
}

func (c *call) by() desk.By { return desk.By{Who: c.who, Key: c.r.Header.Get("Idempotency-Key")} }

// seen is what the sender saw of a thing, by If-Match.
func (c *call) seen() (int64, error) {
	text := c.r.Header.Get("If-Match")
	if text == "" || text == "*" {
		return 0, nil
	}
	seq, err := strconv.ParseInt(strings.Trim(text, `"`), 10, 64)
	if err != nil {
		return 0, &problem{Type: "input", Status: http.StatusBadRequest, Title: "If-Match can't be read.", Hint: "Send back the ETag as it came."}
	}
	return seq, nil
}

func (c *call) tag(seq int64) { c.w.Header().Set("ETag", fmt.Sprintf(`"%d"`, seq)) }

// maxJSON is the largest document that is read.
const maxJSON = 4 << 20

// body reads the document that was sent; unknown fields are refused by name.
func body[T any](c *call) (out T, err error) {
	data, err := io.ReadAll(http.MaxBytesReader(c.w, c.r.Body, maxJSON))
	if err != nil {
		return out, err
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&out); err != nil {
		return out, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The document can't be read: " + err.Error() + ".", Hint: "/api/v1/openapi.json describes every document."}
	}
	return out, nil
}

// raw reads the document as it came.
func (c *call) raw() (json.RawMessage, error) {
	data, err := io.ReadAll(http.MaxBytesReader(c.w, c.r.Body, determination.MaxDocument))
	if err == nil && !json.Valid(data) {
		err = &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The document is no JSON.", Hint: "/api/v1/openapi.json describes every document."}
	}
	return data, err
}

// draftDocument stands for a determination's draft, whose schema the determination publishes itself;
// answerDocument for its answer.
type (
	draftDocument  struct{}
	answerDocument struct{}
)

// Page is a part of a list; Next goes on from it.
type Page struct {
	Rows []store.Determination `json:"rows"`
	Next string                `json:"next,omitempty"`
}

type (
	// Taken is a reading that is sent.
	Taken struct {
		Slot       string       `json:"slot"`
		Text       string       `json:"text"`
		Unit       string       `json:"unit,omitempty"`
		Source     string       `json:"source,omitempty"`
		Settled    bool         `json:"settled,omitempty"`
		Instrument *station.Ref `json:"instrument,omitempty"`
	}
	// Reasoned is a reason alone.
	Reasoned struct {
		Reason string `json:"reason"`
	}
	// Changed is another request of a sheet.
	Changed struct {
		Document json.RawMessage `json:"document"`
		Reason   string          `json:"reason,omitempty"`
	}
	// Corrected is a correction of a record.
	Corrected struct {
		desk.Given
		Reason string `json:"reason"`
	}
	// Meant is a signature that is asked for, with the proof that it is the person's own.
	Meant struct {
		Meaning  people.Meaning `json:"meaning"`
		Password string         `json:"password,omitempty"`
		PIN      string         `json:"pin,omitempty"`
	}
	// Sealed is a checkpoint.
	Sealed struct {
		Signed string `json:"signed"`
		Short  string `json:"short"`
		Size   int64  `json:"size"`
	}
	// Named is the name of what was made.
	Named struct {
		ID  string          `json:"id"`
		Lot *value.LotWorth `json:"lot,omitempty"`
	}
	// Sheets, Items and the like are lists, in an object so that they can grow.
	Sheets struct {
		Sheets []record.Sheet `json:"sheets"`
	}
	// Events is a history.
	Events struct {
		Events []desk.Happening `json:"events"`
	}
	// Priced is a list of prices.
	Priced struct {
		Prices []value.Price `json:"prices"`
	}
)

const apiRoot = "/api/v1"

// endpoints lists all of them.
var endpoints = []endpoint{
	{Method: "GET", Path: "/shop", Summary: "What is known of the shop", Response: desk.Shop{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) { return c.d.AboutShop(c.r.Context()) }},
	{Method: "POST", Path: "/evaluate", Summary: "From a draft to its answer; nothing is kept", Request: draftDocument{}, Response: answerDocument{}, Action: people.SeeRecords,
		do: evaluateDraft},
	{Method: "GET", Path: "/determinations", Summary: "Search the records, newest first", Response: Page{}, Action: people.Search,
		Query: []parameter{{"text", "words, each may be cut short"}, {"number", ""}, {"barcode", ""}, {"item", ""}, {"person", ""}, {"station", ""}, {"finding", "met, not met or undecided"},
			{"state", "recorded, signed or superseded"}, {"metal", ""}, {"from", "first day, yyyy-mm-dd"}, {"until", "last day"}, {"density_low", "g/cm³"}, {"density_high", "g/cm³"}, {"before", "as next says"}, {"limit", "at most 1000"}},
		do: findRecords},
	{Method: "POST", Path: "/determinations", Summary: "Evaluate a determination and record it for good", Request: desk.Given{}, Response: record.Record{}, Status: http.StatusCreated, Keyed: true, Action: people.RecordDetermination,
		do: func(s *Server, c *call) (any, error) {
			given, err := body[desk.Given](c)
			if err != nil {
				return nil, err
			}
			if given.Source == "" {
				given.Source = record.Imported
			}
			r, err := c.d.Record(c.r.Context(), c.by(), given)
			if err != nil {
				return nil, err
			}
			c.w.Header().Set("Location", apiRoot+"/determinations/"+r.Number)
			s.hub.tell("book")
			return r, nil
		}},
	{Method: "GET", Path: "/determinations/{name}", Summary: "A record with its signatures", Response: desk.Recorded{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) {
			r, err := c.d.Show(c.r.Context(), c.who, c.r.PathValue("name"))
			c.tag(r.Seen)
			return r, err
		}},
	{Method: "GET", Path: "/determinations/{name}/history", Summary: "Everything that happened to it", Response: Events{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) {
			h, err := c.d.History(c.r.Context(), c.who, c.r.PathValue("name"))
			return Events{h}, err
		}},
	{Method: "GET", Path: "/determinations/{name}/again", Summary: "Evaluate it again and compare", Response: record.Repeat{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) {
			return c.d.Again(c.r.Context(), c.who, c.r.PathValue("name"))
		}},
	{Method: "GET", Path: "/determinations/{name}/evidence", Summary: "A bundle that can be verified without the log", Response: ledger.Bundle{}, Action: people.ExportEvidence,
		do: func(s *Server, c *call) (any, error) {
			return c.d.Evidence(c.r.Context(), c.who, []string{c.r.PathValue("name")})
		}},
	{Method: "POST", Path: "/determinations/{name}/corrections", Summary: "Put a new record in its place; both stay", Request: Corrected{}, Response: record.Record{}, Status: http.StatusCreated, Keyed: true, Action: people.CorrectDetermination,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[Corrected](c)
			if err != nil {
				return nil, err
			}
			if asked.Source == "" {
				asked.Source = record.Imported
			}
			by := c.by()
			if by.Seen, err = c.seen(); err != nil {
				return nil, err
			}
			return c.d.Correct(c.r.Context(), by, c.r.PathValue("name"), asked.Given, asked.Reason)
		}},
	{Method: "POST", Path: "/determinations/{name}/signatures", Summary: "Sign it", Request: Meant{}, Response: desk.Recorded{}, Status: http.StatusCreated, Keyed: true, Action: people.SignDetermination,
		do: signRecord},
	{Method: "POST", Path: "/determinations/{name}/values", Summary: "Put a value on it", Request: desk.Valuing{}, Response: value.Worth{}, Status: http.StatusCreated, Keyed: true, Action: people.ValueItem,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[desk.Valuing](c)
			if err != nil {
				return nil, err
			}
			asked.Records = []string{c.r.PathValue("name")}
			return c.d.Value(c.r.Context(), c.by(), asked)
		}},
	{Method: "POST", Path: "/lots", Summary: "Value several records together", Request: desk.Valuing{}, Response: Named{}, Status: http.StatusCreated, Keyed: true, Action: people.MakeLot,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[desk.Valuing](c)
			if err != nil {
				return nil, err
			}
			id, lot, err := c.d.Lot(c.r.Context(), c.by(), asked)
			return Named{id, lot}, err
		}},
	{Method: "GET", Path: "/sheets", Summary: "Determinations under way", Response: Sheets{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) {
			sheets, err := c.d.Sheets(c.r.Context(), c.who)
			return Sheets{sheets}, err
		}},
	{Method: "POST", Path: "/sheets", Summary: "Begin a determination", Request: desk.Begin{}, Response: desk.Sheet{}, Status: http.StatusCreated, Keyed: true, Action: people.OpenDraft,
		do: func(s *Server, c *call) (any, error) {
			begin, err := body[desk.Begin](c)
			if err != nil {
				return nil, err
			}
			sheet, err := c.d.OpenSheet(c.r.Context(), c.by(), begin)
			s.hub.tell("bench")
			return sheet, err
		}},
	{Method: "GET", Path: "/sheets/{id}", Summary: "A determination under way", Response: desk.Sheet{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) {
			sheet, err := c.d.Sheet(c.r.Context(), c.who, c.r.PathValue("id"))
			c.tag(sheet.Seq)
			return sheet, err
		}},
	{Method: "PUT", Path: "/sheets/{id}/request", Summary: "Ask something else of it: claim, rule, conditions", Request: Changed{}, Response: desk.Sheet{}, Keyed: true, Action: people.ChangeDraft,
		do: onSheet(func(s *Server, c *call, by desk.By, id string) (desk.Sheet, error) {
			asked, err := body[Changed](c)
			if err != nil {
				return desk.Sheet{}, err
			}
			return c.d.Change(c.r.Context(), by, id, asked.Document, asked.Reason)
		})},
	{Method: "POST", Path: "/sheets/{id}/readings", Summary: "Add a reading", Request: Taken{}, Response: desk.Sheet{}, Status: http.StatusCreated, Keyed: true, Action: people.TakeReading,
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
	{Method: "POST", Path: "/sheets/{id}/readings/{no}/withdrawal", Summary: "Set a reading aside; it stays", Request: Reasoned{}, Response: desk.Sheet{}, Keyed: true, Action: people.WithdrawReading,
		do: onSheet(func(s *Server, c *call, by desk.By, id string) (desk.Sheet, error) {
			why, err := body[Reasoned](c)
			if err != nil {
				return desk.Sheet{}, err
			}
			no, err := strconv.Atoi(c.r.PathValue("no"))
			if err != nil {
				return desk.Sheet{}, &problem{Type: "missing", Status: http.StatusNotFound, Title: "There is no reading " + c.r.PathValue("no") + ".", Hint: "Readings are numbered from 1."}
			}
			return c.d.Withdraw(c.r.Context(), by, id, no, why.Reason)
		})},
	{Method: "POST", Path: "/sheets/{id}/conclusion", Summary: "Evaluate it and record the result for good", Response: record.Record{}, Status: http.StatusCreated, Keyed: true, Action: people.RecordDetermination,
		do: func(s *Server, c *call) (any, error) {
			by, err := c.seenBy()
			if err != nil {
				return nil, err
			}
			r, err := c.d.Conclude(c.r.Context(), by, c.r.PathValue("id"))
			s.hub.tell(c.r.PathValue("id"))
			return r, err
		}},
	{Method: "GET", Path: "/equipment", Summary: "Stations and instruments, and how their papers stand", Response: desk.Equipment{}, Action: people.SeeStations,
		do: func(s *Server, c *call) (any, error) { return c.d.Equipment(c.r.Context(), c.who) }},
	{Method: "POST", Path: "/items", Summary: "Write down an item", Request: desk.Item{}, Response: desk.Item{}, Status: http.StatusCreated, Keyed: true, Action: people.RegisterItem,
		do: func(s *Server, c *call) (any, error) {
			item, err := body[desk.Item](c)
			if err != nil {
				return nil, err
			}
			return c.d.EnterItem(c.r.Context(), c.by(), item)
		}},
	{Method: "GET", Path: "/items/{name}", Summary: "An item with its determinations, by name or barcode", Response: desk.ItemSheet{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) {
			item, err := c.d.ItemBy(c.r.Context(), c.who, c.r.PathValue("name"))
			c.tag(item.Seen)
			return item, err
		}},
	{Method: "GET", Path: "/prices", Summary: "The newest prices", Response: Priced{}, Action: people.SeePrices,
		do: func(s *Server, c *call) (any, error) {
			prices, err := c.d.Prices(c.r.Context(), c.who)
			return Priced{prices}, err
		}},
	{Method: "POST", Path: "/prices", Summary: "Enter prices, all or none", Request: Priced{}, Response: Priced{}, Status: http.StatusCreated, Keyed: true, Action: people.SetPrice,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[Priced](c)
			if err != nil {
				return nil, err
			}
			return asked, c.d.SetPrices(c.r.Context(), c.by(), asked.Prices)
		}},
	{Method: "POST", Path: "/checkpoints", Summary: "Sign a checkpoint of the log", Response: Sealed{}, Status: http.StatusCreated, Action: people.MakeCheckpoint,
		do: func(s *Server, c *call) (any, error) {
			signed, cp, err := c.d.Checkpoint(c.r.Context(), c.who, "asked for over HTTP")
			return Sealed{signed, cp.Short().String(), cp.Size}, err
		}},
}

func (c *call) seenBy() (desk.By, error) {
	by := c.by()
	var err error
	by.Seen, err = c.seen()
	return by, err
}

// onSheet is an act on a sheet: it honours If-Match, tells the pages, and gives the new ETag.
func onSheet(do func(s *Server, c *call, by desk.By, id string) (desk.Sheet, error)) func(*Server, *call) (any, error) {
	return func(s *Server, c *call) (any, error) {
		by, err := c.seenBy()
		if err != nil {
			return nil, err
		}
		id := c.r.PathValue("id")
		sheet, err := do(s, c, by, id)
		if err != nil {
			return nil, err
		}
		c.tag(sheet.Seq)
		s.hub.tell(id)
		return sheet, nil
	}
}

func evaluateDraft(s *Server, c *call) (any, error) {
	data, err := c.raw()
	if err != nil {
		return nil, err
	}
	draft, err := determination.Decode(data)
	if err != nil {
		return nil, err
	}
	return determination.Evaluate(draft, determination.Options{Version: s.o.Version})
}

func findRecords(s *Server, c *call) (any, error) {
	q, err := queryOf(c.r)
	if err != nil {
		return nil, err
	}
	if text := c.r.URL.Query().Get("limit"); text != "" {
		if q.Limit, err = strconv.Atoi(text); err != nil || q.Limit < 1 || q.Limit > 1000 {
			return nil, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The limit " + text + " can't be used.", Hint: "Give 1 to 1000.", Field: "limit"}
		}
	} else {
		q.Limit = bookPage
	}
	rows, err := c.d.Find(c.r.Context(), c.who, q)
	if err != nil {
		return nil, err
	}
	page := Page{Rows: rows}
	if page.Rows == nil {
		page.Rows = []store.Determination{}
	}
	if len(rows) == q.Limit {
		next := c.r.URL.Query()
		next.Set("before", strconv.FormatInt(rows[len(rows)-1].Seq, 10))
		page.Next = c.r.URL.Path + "?" + next.Encode()
	}
	return page, nil
}

func signRecord(s *Server, c *call) (any, error) {
	asked, err := body[Meant](c)
	if err != nil {
		return nil, err
	}
	by, err := c.seenBy()
	if err != nil {
		return nil, err
	}
	if asked.Password != "" || asked.PIN != "" {
		if err := c.d.Confirm(c.r.Context(), c.who, asked.Password, asked.PIN, s.place(c.r)); err != nil {
			return nil, err
		}
	}
	return c.d.Sign(c.r.Context(), by, c.r.PathValue("name"), asked.Meaning)
}

// api routes the endpoints.
func (s *Server) api() {
	for _, e := range endpoints {
		s.mux.HandleFunc(e.Method+" "+apiRoot+e.Path, func(w http.ResponseWriter, r *http.Request) {
			if s.current() == nil {
				s.fail(w, r, &problem{Type: "missing", Status: http.StatusServiceUnavailable, Title: "No shop is open yet.", Hint: "Open the pages and go through the first run."})
				return
			}
			if key := r.Header.Get("Idempotency-Key"); len(key) > 200 {
				s.fail(w, r, &problem{Type: "input", Status: http.StatusBadRequest, Title: "The Idempotency-Key is too long.", Hint: "Use at most 200 characters."})
				return
			}
			who, err := s.who(r, r.Method != http.MethodGet)
			if err != nil {
				s.fail(w, r, err)
				return
			}
			out, err := e.do(s, &call{r, w, who, s.current()})
			if err != nil {
				s.fail(w, r, err)
				return
			}
			w.Header().Set("Content-Type", "application/json")
			status := e.Status
			if status == 0 {
				status = http.StatusOK
			}
			w.WriteHeader(status)
			encoder := json.NewEncoder(w)
			encoder.SetEscapeHTML(false)
			if err := encoder.Encode(out); err != nil && !errors.Is(err, http.ErrAbortHandler) {
				s.o.Log.Warn("answer was not taken", "path", r.URL.Path, "error", err)
			}
		})
	}
	s.mux.HandleFunc("GET "+apiRoot+"/openapi.json", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "application/openapi+json;version=3.1")
		json.NewEncoder(w).Encode(s.description())
	})
	s.mux.HandleFunc(apiRoot+"/", func(w http.ResponseWriter, r *http.Request) {
		s.fail(w, r, &problem{Type: "missing", Status: http.StatusNotFound, Title: "There is nothing under " + r.URL.Path + ".", Hint: apiRoot + "/openapi.json lists what there is."})
	})
}
