package web

import (
	"bytes"
	"cmp"
	"io"
	"net/http"
	"strings"
	"time"

	"wreath/internal/desk"
	"wreath/internal/paper"
	"wreath/internal/people"
	"wreath/internal/press"
	"wreath/internal/sentence"
	"wreath/internal/station"
)

// labelSizes are the sizes of labels that a page offers.
func labelSizes() (out []string) {
	for _, size := range press.LabelSizes {
		out = append(out, size.String())
	}
	return out
}

// labelWanted reads how a label is wanted.
func labelWanted(r *http.Request) (press.LabelOptions, error) {
	var o press.LabelOptions
	wrong := func(field, title, hint string) error {
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: title, Hint: hint, Field: field}
	}
	if text := r.FormValue("size"); text != "" {
		var err error
		if o.Size, err = press.ParseLabelSize(text); err != nil {
			return o, wrong("size", "There is no label of the size "+text+".", "Give width and height in mm, such as 57x32: 30 to 110 wide and 18 to 100 high.")
		}
	}
	switch o.Symbol = press.Symbol(r.FormValue("code")); o.Symbol {
	case press.AsFits, press.AsBars, press.AsQR:
	default:
		return o, wrong("code", "There is no code "+string(o.Symbol)+".", "Give code128 or qr, or leave it out.")
	}
	switch o.Sheet = r.FormValue("sheet"); o.Sheet {
	case "", "a4", "letter":
	default:
		return o, wrong("sheet", "There is no sheet "+o.Sheet+".", "Give a4 or letter, or leave it out for one label a page.")
	}
	return o, nil
}

// writeLabel writes a label as PDF or as text.
func writeLabel(out io.Writer, label press.Label, at time.Time, file string, o press.LabelOptions) (kind string, err error) {
	if strings.HasSuffix(file, ".txt") {
		kind, err = "text/plain; charset=utf-8", press.LabelText(out, []press.Label{label}, o)
	} else {
		kind, err = "application/pdf", press.LabelPDF(out, []press.Label{label}, at, o)
	}
	if err != nil && o.Symbol == press.AsBars { // a text that has no bars, or no room for them
		return "", &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The label can't have bars.", Hint: "Take a QR code, or a wider label.", Field: "code"}
	}
	return kind, err
}

// shopOnPaper is the shop as its labels name it.
func (s *Server) shopOnPaper(r *http.Request) (paper.Shop, error) {
	shop, err := s.current().AboutShop(r.Context())
	return paper.Shop{ID: s.current().Shop(), Name: shop.Name, Address: shop.Address, TimeZone: shop.TimeZone, Demo: shop.Demo}, err
}

// bookOf is the book of the language in which a label is wanted.
func bookOf(r *http.Request) (*sentence.Book, error) {
	as, err := wantedBy(r)
	if err != nil || as.Languages[0] == "en" {
		return nil, err
	}
	return sentence.In(as.Languages[0]), nil
}

// itemLabel hands out the label of an item: its name in a code, and what it is.
func (s *Server) itemLabel(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if !who.May(people.PrintSlip) {
		return refused(who, people.PrintSlip)
	}
	found, err := s.current().ItemBy(r.Context(), who, r.PathValue("id"))
	if err != nil {
		return err
	}
	shop, err := s.shopOnPaper(r)
	if err != nil {
		return err
	}
	return s.sendLabel(w, r, itemLabelOf(shop, found.Item), found.Item.Entered)
}

// itemLabelOf is the label of an item: the barcode of its tray, or its name where it lies in none.
func itemLabelOf(shop paper.Shop, i desk.Item) press.Label {
	l := press.TrayLabel(shop, cmp.Or(i.Barcode, i.ID))
	l.Lines = append([]string{i.Description}, l.Lines...)
	return l
}

// instrumentLabel hands out the label of an instrument.
func (s *Server) instrumentLabel(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	equipment, err := s.current().Equipment(r.Context(), who)
	if err != nil {
		return err
	}
	shop, err := s.shopOnPaper(r)
	if err != nil {
		return err
	}
	book, err := bookOf(r)
	if err != nil {
		return err
	}
	now := s.o.Now().In(s.zone(r.Context()))
	for i := range equipment.Instruments {
		if in := &equipment.Instruments[i]; in.ID == r.PathValue("id") {
			return s.sendLabel(w, r, press.InstrumentLabel(shop, in, station.Day(now), book), now)
		}
	}
	return &problem{Type: "missing", Status: http.StatusNotFound, Title: "There is no instrument " + r.PathValue("id") + ".", Hint: "The stations' page lists them."}
}

// sendLabel writes a label as the file that was asked for.
func (s *Server) sendLabel(w http.ResponseWriter, r *http.Request, label press.Label, at time.Time) error {
	file := r.PathValue("file")
	if file != "label.pdf" && file != "label.txt" {
		return &problem{Type: "missing", Status: http.StatusNotFound, Title: "There is no file " + file + ".", Hint: "A label comes as label.pdf or label.txt."}
	}
	o, err := labelWanted(r)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	kind, err := writeLabel(&out, label, at, file, o)
	if err != nil {
		return err
	}
	attach(w, label.Code+"-"+file, kind)
	_, err = w.Write(out.Bytes())
	return err
}
