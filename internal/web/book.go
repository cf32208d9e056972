package web

import (
	"html/template"
	"net/http"
	"strconv"
	"time"

	"wreath/internal/desk"
	"wreath/internal/determination"
	"wreath/internal/people"
	"wreath/internal/picture"
	"wreath/internal/store"
	"wreath/quantity"
)

// bookView is the day book: what was recorded, newest first.
type bookView struct {
	Query  map[string]string
	Rows   []bookRow
	Counts map[string]int // by finding, of the rows shown
	Older  int64          // where the next page goes on; 0 when there is none
	Filter template.URL   // what is searched for, as the address says it
	Lots   bool           // the person may value a lot
}

// filterOf is the search of an address, without the page.
func filterOf(r *http.Request) template.URL {
	q := r.URL.Query()
	q.Del("before")
	return template.URL(q.Encode())
}

// bookRow is a record with its small picture.
type bookRow struct {
	store.Determination
	Picture, Sign template.HTML
}

// rowOf draws a row. The list of records holds no distribution and no pairs; the picture needs none.
func rowOf(w words, row store.Determination) bookRow {
	high := row.DensityKgM3 + row.DensityU
	a := &determination.Answer{Density20C: determination.Density{KgM3: row.DensityKgM3, UKgM3: row.DensityU / 2, UExpanded: row.DensityU, LowKgM3: row.DensityKgM3 - row.DensityU, HighKgM3: &high}}
	if row.Doubts > 0 && row.Finding == string(picture.Undecided) {
		a.Doubts = []determination.Doubt{{Suspends: true}}
	}
	var claim *determination.Claim
	if row.Claim != "" && row.Metal != "" {
		claim = &determination.Claim{Metal: row.Metal}
		if row.Fineness > 0 {
			claim.Fineness = &row.Fineness
		}
	}
	finding := picture.Finding(row.Finding)
	if len(a.Doubts) > 0 {
		finding = picture.InDoubt
	}
	if row.Finding == "" || row.Finding == "none" {
		finding = picture.NoneYet
	}
	return bookRow{row, picture.DayRow(picture.Subject{Answer: a, Claim: claim, In: w.book}).SVG, picture.Language{Book: w.book}.Sign(finding).SVG}
}

const bookPage = 50

func (s *Server) book(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	q, err := queryOf(r)
	if err != nil {
		return err
	}
	q.Limit = bookPage
	rows, err := s.current().Find(r.Context(), who, q)
	if err != nil {
		return err
	}
	body := bookView{Query: map[string]string{}, Counts: map[string]int{}, Filter: filterOf(r), Lots: who.May(people.MakeLot) && who.May(people.SeePrices)}
	for name := range r.URL.Query() {
		body.Query[name] = r.URL.Query().Get(name)
	}
	for _, row := range rows {
		body.Rows = append(body.Rows, rowOf(wordsFor(r), row))
		finding := row.Finding
		if finding == "none" {
			finding = ""
		}
		body.Counts[finding]++
	}
	if len(rows) == bookPage {
		body.Older = rows[len(rows)-1].Seq
	}
	s.render(w, r, http.StatusOK, "book", view{Title: "Day book", Nav: "book", Who: who, Body: body})
	return nil
}

// queryOf reads a search from the address of a page.
func queryOf(r *http.Request) (store.Query, error) {
	f := r.URL.Query()
	q := store.Query{Text: f.Get("text"), Number: f.Get("number"), Barcode: f.Get("barcode"), Person: f.Get("person"), Station: f.Get("station"),
		Item: f.Get("item"), Finding: f.Get("finding"), State: f.Get("state"), Metal: f.Get("metal")}
	for name, to := range map[string]*time.Time{"from": &q.From, "until": &q.Until} {
		if text := f.Get(name); text != "" {
			day, err := time.Parse(time.DateOnly, text)
			if err != nil {
				return q, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The day " + text + " can't be read.", Hint: "Write it as 2026-03-04."}
			}
			*to = day
		}
	}
	if !q.Until.IsZero() {
		q.Until = q.Until.AddDate(0, 0, 1) // the day itself belongs to it
	}
	for name, to := range map[string]*float64{"density_low": &q.DensityLow, "density_high": &q.DensityHigh} {
		if text := f.Get(name); text != "" {
			density, err := quantity.ParseNumber(text, true)
			if err != nil {
				return q, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The density " + text + " can't be read.", Hint: "Write it in g/cm³, such as 15.4."}
			}
			*to = density * 1000
		}
	}
	if text := f.Get("before"); text != "" {
		before, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			return q, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The page to go on from can't be read.", Hint: "Begin again at the day book."}
		}
		q.Before = before
	}
	return q, nil
}
