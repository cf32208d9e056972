package web

import (
	"net/http"
	"strconv"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/store"
	"wreath/internal/value"
)

type (
	// Page is a part of a list; Next goes on from it.
	Page struct {
		Rows []store.Determination `json:"rows"`
		Next string                `json:"next,omitempty" doc:"address of the rest; absent at the end"`
	}
	// Events is a history, or a part of it.
	Events struct {
		Events []desk.Happening `json:"events"`
		Next   string           `json:"next,omitempty" doc:"address of the rest; absent at the end"`
	}
	// Whole is a determination that comes as one document with its readings.
	Whole struct {
		Station  string        `json:"station,omitempty" doc:"its newest version is taken"`
		Item     string        `json:"item,omitempty"`
		Barcode  string        `json:"barcode,omitempty" doc:"of its tray or bag"`
		Document draftDocument `json:"document"`
		Source   string        `json:"source,omitempty" doc:"typed or imported; imported unless said"`
	}
	// Corrected is a correction of a record.
	Corrected struct {
		Whole
		Reason string `json:"reason"`
	}
	// Meant is a signature that is asked for, with the proof that it is the person's own.
	Meant struct {
		Meaning  people.Meaning `json:"meaning" doc:"measured, reviewed, approved, witnessed or refused"`
		Password string         `json:"password,omitempty"`
		PIN      string         `json:"pin,omitempty" doc:"at an enrolled device, in place of the password"`
	}
	// Valued is how one record is valued.
	Valued struct {
		Terms     string         `json:"terms,omitempty" doc:"key; may be left out where there is only one"`
		NonMetalG *value.Decimal `json:"non_metal_g,omitempty" doc:"mass of what is no metal"`
		NonMetal  string         `json:"non_metal,omitempty" doc:"what it is"`
		Pieces    int            `json:"pieces,omitempty" doc:"weighed together"`
		OneMelt   bool           `json:"one_melt,omitempty" doc:"the pieces are known to be of one melt"`
	}
	// Lotted is a lot that is valued.
	Lotted struct {
		Records []string `json:"records" doc:"ids or numbers"`
		Terms   string   `json:"terms,omitempty"`
		Recipes string   `json:"recipes" doc:"mixed scrap, or one maker"`
		Name    string   `json:"name,omitempty"`
	}
	// Lot is a lot that was made.
	Lot struct {
		ID  string          `json:"id"`
		Lot *value.LotWorth `json:"lot"`
	}
	// Lots lists them.
	Lots struct {
		Lots []desk.LotRow `json:"lots"`
	}
)

func (w Whole) given() desk.Given {
	g := desk.Given{Begin: desk.Begin{Station: w.Station, Item: w.Item, Barcode: w.Barcode, Document: w.Document.RawMessage}, Source: w.Source}
	if g.Source == "" {
		g.Source = record.Imported
	}
	return g
}

var recordEndpoints = []endpoint{
	{Method: "GET", Path: "/shop", Summary: "What is known of the shop", Response: desk.Shop{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) { return c.d.AboutShop(c.r.Context()) }},
	{Method: "POST", Path: "/evaluate", Summary: "From a draft to its answer; nothing is kept", Request: draftDocument{}, Response: answerDocument{}, Action: people.SeeRecords,
		do: evaluateDraft},
	{Method: "GET", Path: "/determinations", Summary: "Search the records, newest first", Response: Page{}, Action: people.Search,
		Query: []parameter{{"text", "words, each may be cut short"}, {"number", ""}, {"barcode", ""}, {"item", ""}, {"person", ""}, {"station", ""}, {"finding", "met, not met or undecided"},
			{"state", "recorded, signed or superseded"}, {"metal", ""}, {"from", "first day, yyyy-mm-dd"}, {"until", "last day"}, {"density_low", "g/cm³"}, {"density_high", "g/cm³"}, {"before", "as next says"}, {"limit", "1 to 1000; 50 unless given"}},
		do: findRecords},
	{Method: "POST", Path: "/determinations", Summary: "Evaluate a determination and record it for good", Request: Whole{}, Response: record.Record{}, Status: http.StatusCreated, Keyed: true, Action: people.RecordDetermination,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[Whole](c)
			if err != nil {
				return nil, err
			}
			r, err := c.d.Record(c.r.Context(), c.by(), asked.given())
			return s.made(c, r, err)
		}},
	{Method: "GET", Path: "/determinations/{name}", Summary: "A record with its signatures, by number or id", Response: desk.Recorded{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) {
			r, err := c.d.Show(c.r.Context(), c.who, c.name("name"))
			if err == nil {
				c.tag(r.Seen)
			}
			return r, err
		}},
	{Method: "GET", Path: "/determinations/{name}/again", Summary: "Evaluate it again and compare", Response: record.Repeat{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) { return c.d.Again(c.r.Context(), c.who, c.name("name")) }},
	{Method: "GET", Path: "/determinations/{name}/changes", Summary: "What differs from the record that it corrects", Response: record.Difference{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) { return c.d.Compare(c.r.Context(), c.who, c.name("name")) }},
	{Method: "GET", Path: "/determinations/{name}/evidence", Summary: "A bundle that can be verified without the log", Response: ledger.Bundle{}, Action: people.ExportEvidence,
		do: func(s *Server, c *call) (any, error) {
			return c.d.Evidence(c.r.Context(), c.who, []string{c.name("name")})
		}},
	{Method: "POST", Path: "/determinations/{name}/corrections", Summary: "Put a new record in its place; both stay", Request: Corrected{}, Response: record.Record{}, Status: http.StatusCreated, Keyed: true, Seen: true, Action: people.CorrectDetermination,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[Corrected](c)
			if err != nil {
				return nil, err
			}
			by, err := c.seenBy()
			if err != nil {
				return nil, err
			}
			r, err := c.d.Correct(c.r.Context(), by, c.name("name"), asked.given(), asked.Reason)
			s.hub.tell(c.name("name"))
			return s.made(c, r, err)
		}},
	{Method: "POST", Path: "/determinations/{name}/signatures", Summary: "Sign it", Request: Meant{}, Response: desk.Recorded{}, Status: http.StatusCreated, Keyed: true, Seen: true, Action: people.SignDetermination, Or: people.SignAsMeasurer,
		do: signRecord},
	{Method: "POST", Path: "/determinations/{name}/values", Summary: "Put a value on it, by the newest price", Request: Valued{}, Response: value.Worth{}, Status: http.StatusCreated, Keyed: true, Action: people.ValueItem,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[Valued](c)
			if err != nil {
				return nil, err
			}
			v := desk.Valuing{Records: []string{c.name("name")}, Terms: asked.Terms, NonMetal: asked.NonMetal, Pieces: asked.Pieces, OneMelt: asked.OneMelt}
			if asked.NonMetalG != nil {
				v.NonMetalG = *asked.NonMetalG
			}
			return c.d.Value(c.r.Context(), c.by(), v)
		}},
	{Method: "GET", Path: "/lots", Summary: "The lots that were valued", Response: Lots{}, Action: people.SeePrices,
		do: func(s *Server, c *call) (any, error) {
			lots, err := c.d.Lots(c.r.Context(), c.who)
			return Lots{orEmpty(lots)}, err
		}},
	{Method: "POST", Path: "/lots", Summary: "Value several records together", Request: Lotted{}, Response: Lot{}, Status: http.StatusCreated, Keyed: true, Action: people.MakeLot,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[Lotted](c)
			if err != nil {
				return nil, err
			}
			id, lot, err := c.d.Lot(c.r.Context(), c.by(), desk.Valuing{Records: asked.Records, Terms: asked.Terms, Recipes: asked.Recipes, Name: asked.Name})
			return Lot{id, lot}, err
		}},
	{Method: "GET", Path: "/history/{name}", Summary: "Everything that happened to a record, sheet, item, station or person, as far as the sender may see it", Response: Events{}, Action: people.SeeRecords, Query: parts,
		do: func(s *Server, c *call) (any, error) {
			all, err := c.d.History(c.r.Context(), c.who, c.name("name"))
			if err != nil {
				return nil, err
			}
			part, next, err := partOf(c, all)
			return Events{part, next}, err
		}},
}

// made tells where a new record is.
func (s *Server) made(c *call, r *record.Record, err error) (any, error) {
	if err != nil {
		return nil, err
	}
	c.w.Header().Set("Location", apiRoot+"/determinations/"+r.Number)
	s.hub.tell("book")
	return r, nil
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
	limit, err := c.count("limit", bookPage, 1, maxPart)
	if err != nil {
		return nil, err
	}
	q.Limit = int(limit)
	rows, err := c.d.Find(c.r.Context(), c.who, q)
	if err != nil {
		return nil, err
	}
	page := Page{Rows: orEmpty(rows)}
	if len(rows) == q.Limit {
		page.Next = c.further("before", rows[len(rows)-1].Seq)
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
	signed, err := c.d.Sign(c.r.Context(), by, c.name("name"), asked.Meaning)
	if err == nil {
		c.tag(signed.Seen)
		s.hub.tell(c.name("name"))
	}
	return signed, err
}

// readingNo is the number of a reading in the path.
func (c *call) readingNo() (int, error) {
	no, err := strconv.Atoi(c.name("no"))
	if err != nil {
		return 0, &problem{Type: "missing", Status: http.StatusNotFound, Title: "There is no reading " + c.name("no") + ".", Hint: "Readings are numbered from 1."}
	}
	return no, nil
}
