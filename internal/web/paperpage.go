package web

import (
	"bytes"
	"html/template"
	"image"
	"image/color"
	"image/png"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/paper"
	"wreath/internal/press"
	"wreath/internal/proof"
	"wreath/internal/spool"
)

// wanted is how a paper is wanted: language, sheet or roll. It is read from a form or an address, and what is
// not said there is as on this device.
type wanted struct {
	Languages []string
	Sheet     press.Paper
	Roll      press.Roll
}

// rollCookie keeps on this device which roll its printer takes.
const rollCookie = "wreath-roll"

// wantedBy reads how a paper is wanted.
func wantedBy(r *http.Request) (wanted, error) {
	out := wanted{Languages: []string{wordsFor(r).Lang}, Sheet: press.A4, Roll: press.Roll58}
	wrong := func(field, text, hint string) error {
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "There is no " + field + " " + text + ".", Hint: hint, Field: field}
	}
	if first := r.FormValue("language"); first != "" {
		out.Languages = []string{first}
	}
	if second := r.FormValue("second"); second != "" && second != out.Languages[0] {
		out.Languages = append(out.Languages, second)
	}
	for _, lang := range out.Languages {
		if _, known := dictionaries[lang]; !known {
			return out, wrong("language", lang, "Give en, de or es.")
		}
	}
	if sheet := r.FormValue("sheet"); sheet != "" {
		if out.Sheet = press.Paper(sheet); !slices.Contains(press.Papers, out.Sheet) {
			return out, wrong("sheet", sheet, "Give a4 or letter.")
		}
	}
	width := r.FormValue("width")
	if c, err := r.Cookie(rollCookie); width == "" && err == nil && (c.Value == "58" || c.Value == "80") {
		width = c.Value
	}
	switch width {
	case "", "58":
	case "80":
		out.Roll = press.Roll80
	default:
		return out, wrong("width", width, "Give 58 or 80, the width of the roll in millimetres.")
	}
	return out, nil
}

type spokenName struct{ Code, Name string }

// spokenNames are the languages of a paper, by their codes, in their own words.
var spokenNames = []spokenName{{"en", "English"}, {"de", "Deutsch"}, {"es", "Español"}}

// facts gathers what the papers of a record say, with the signed proof of it and with how often it was printed
// already: what came out once says COPY. Where no proof can be made the paper goes without one, and says why.
func (s *Server) facts(r *http.Request, who *desk.Who, document, number string) (f *paper.Facts, unproven error, err error) {
	d := s.current()
	var text string
	if text, unproven = d.Prove(r.Context(), who, number); unproven != nil { // first: it seals the log, and the paper names the checkpoint
		s.o.Log.Warn("paper without a proof", "number", number, "error", unproven)
	}
	if f, err = d.Paper(r.Context(), who, number); err != nil {
		return nil, nil, err
	}
	f.Proof = text
	if f.Copy, _, err = d.Prints(r.Context(), who, document, f.Number()); err != nil {
		return nil, nil, err
	}
	return f, unproven, nil
}

// papers are the papers of a record as files, by their names.
var papers = []string{"report.pdf", "report.json", "slip.pdf", "slip.txt", "label.pdf", "label.txt", "proof.txt", "proof.svg", "proof.png", "proof.jwt"}

// paperFile hands out a paper of a record as a file. A report is named by its number.
func (s *Server) paperFile(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	return s.sendPaper(w, r, who, r.PathValue("name"), r.PathValue("file"))
}

// sendPaper writes a paper, whole before its first byte is sent.
func (s *Server) sendPaper(w http.ResponseWriter, r *http.Request, who *desk.Who, number, file string) error {
	as, err := wantedBy(r)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	name, kind, err := s.writePaper(r, who, &out, number, file, as)
	if err != nil {
		return err
	}
	attach(w, name, kind)
	_, err = w.Write(out.Bytes())
	return err
}

// writePaper writes a paper, and says how its file is called and of which type it is.
func (s *Server) writePaper(r *http.Request, who *desk.Who, out io.Writer, number, file string, as wanted) (name, kind string, err error) {
	const pdf, text = "application/pdf", "text/plain; charset=utf-8"
	document, _, _ := strings.Cut(file, ".")
	if !slices.Contains(papers, file) {
		return "", "", &problem{Type: "missing", Status: http.StatusNotFound, Title: "There is no paper " + file + ".", Hint: "Papers are " + strings.Join(papers, ", ") + "."}
	}
	if document == "proof" {
		return s.writeProof(r, who, out, number, file)
	}
	f, _, err := s.facts(r, who, document, number)
	if err != nil {
		return "", "", err
	}
	name = f.Number() + "-" + file
	if document == "report" && f.Report == nil {
		return "", "", &problem{Type: "missing", Status: http.StatusNotFound, Title: "No report of " + f.Record.Number + " was issued.", Hint: "Issue it first; it gets its number then."}
	}
	slip := press.SlipOptions{Roll: as.Roll, Languages: as.Languages}
	switch file {
	case "report.pdf":
		return name, pdf, press.Report(out, f, press.Options{Paper: as.Sheet, Languages: as.Languages})
	case "report.json":
		twin, err := f.Twin()
		if err == nil {
			_, err = out.Write(twin)
		}
		return name, "application/json", err
	case "slip.pdf":
		return name, pdf, press.SlipPDF(out, f, slip)
	case "slip.txt":
		return name, text, press.SlipText(out, f, slip)
	}
	o, err := labelWanted(r)
	if err != nil {
		return "", "", err
	}
	book, err := bookOf(r)
	if err != nil {
		return "", "", err
	}
	label, err := press.BagLabel(f, book)
	if err != nil {
		return "", "", err
	}
	kind, err = writeLabel(out, label, f.Record.Made.Time, file, o)
	return name, kind, err
}

// slipView is a slip as a page for the browser's print dialog.
type slipView struct {
	Number    string
	Roll      press.Roll
	Rolls     []press.Roll
	Languages []string
	Parts     []press.SlipPart
	Unproven  *problem
	Printed   int    // times that it may have come out already
	Job       string // the print that is counted with this page; "" before it is asked for
	Address   template.URL
}

// slip shows the slip of a record. The page itself counts nothing; see printHere.
func (s *Server) slip(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	as, err := wantedBy(r)
	if err != nil {
		return err
	}
	d := s.current()
	f, unproven, err := s.facts(r, who, spool.Slip, r.PathValue("name"))
	if err != nil {
		return err
	}
	body := slipView{Number: f.Record.Number, Roll: as.Roll, Rolls: press.Rolls, Languages: as.Languages, Printed: f.Copy}
	if unproven != nil {
		body.Unproven = asProblem(unproven)
	}
	if name := r.FormValue("job"); name != "" {
		job, err := d.PrintJob(r.Context(), who, name)
		if err != nil {
			return err
		}
		if job.Document != spool.Slip || job.Subject != f.Record.Number {
			return &problem{Type: "missing", Status: http.StatusNotFound, Title: "The print " + name + " is of another paper.", Hint: "Print the slip from its record."}
		}
		f.Copy, body.Job = job.Copy, job.Number
	}
	if body.Parts, err = press.SlipParts(f, press.SlipOptions{Roll: as.Roll, Languages: as.Languages}); err != nil {
		return err
	}
	if r.FormValue("width") != "" {
		http.SetCookie(w, &http.Cookie{Name: rollCookie, Value: strconv.Itoa(int(as.Roll)), Path: "/", MaxAge: 365 * 24 * 3600, Secure: s.o.TLS, HttpOnly: true, SameSite: http.SameSiteStrictMode})
	}
	s.render(w, r, http.StatusOK, "slip", view{Title: say("Slip"), Nav: "book", Who: who, Body: body})
	return nil
}

// printHere counts a print through this browser's dialog, and leads to the page that is printed.
func (s *Server) printHere(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	return s.printSlip(w, r, by(r, who), r.PathValue("name"))
}

func (s *Server) printSlip(w http.ResponseWriter, r *http.Request, doer desk.By, number string) error {
	as, err := wantedBy(r)
	if err != nil {
		return err
	}
	job, err := s.current().PrintHere(r.Context(), doer, desk.PrintAsk{Document: spool.Slip, Subject: number, Languages: as.Languages})
	if err != nil {
		return err
	}
	s.hub.tell(number)
	q := url.Values{"job": {job.Number}, "width": {strconv.Itoa(int(as.Roll))}, "language": {as.Languages[0]}}
	if len(as.Languages) > 1 {
		q.Set("second", as.Languages[1])
	}
	back(w, r, "/record/"+url.PathEscape(job.Subject)+"/slip?"+q.Encode())
	return nil
}

// proofKeys are the public keys of the shop, as a proof is checked with them.
func (s *Server) proofKeys(r *http.Request) (keys []proof.Key, lines []string, err error) {
	all, err := s.current().Keys(r.Context())
	if err != nil {
		return nil, nil, err
	}
	for _, k := range all {
		key, err := proof.ParseKey(k.Public)
		if err != nil {
			return nil, nil, err
		}
		keys, lines = append(keys, key), append(lines, k.Public)
	}
	return keys, lines, nil
}

// writeProof writes the signed proof of a record or a report: as text, as a code, or as a credential.
func (s *Server) writeProof(r *http.Request, who *desk.Who, out io.Writer, number, file string) (name, kind string, err error) {
	d := s.current()
	name = number + "-" + file
	if file == "proof.jwt" {
		jwt, err := d.Credential(r.Context(), who, number)
		if err == nil {
			_, err = io.WriteString(out, jwt)
		}
		return name, proof.MediaType, err
	}
	text, err := d.Prove(r.Context(), who, number)
	if err != nil {
		return "", "", err
	}
	if file == "proof.txt" {
		_, err = io.WriteString(out, text+"\n")
		return name, "text/plain; charset=utf-8", err
	}
	code, err := press.QR(text, press.CorrectM)
	if err != nil {
		return "", "", err
	}
	if file == "proof.svg" {
		_, err = io.WriteString(out, code.SVG(proofModule, 0, wordsFor(r).T("signed proof")+" "+number))
		return name, "image/svg+xml", err
	}
	return name, "image/png", png.Encode(out, pictureOf(code))
}

// proofModule is the size of a module of a proof's code on a page, in dots: half a millimetre.
const proofModule = 4

// pictureOf draws a code with its quiet zone, eight pixels a module.
func pictureOf(code press.Code) image.Image {
	const pixels = 8
	side := (code.Wide + 2*code.Quiet) * pixels
	img := image.NewPaletted(image.Rect(0, 0, side, side), color.Palette{color.White, color.Black})
	for y := range side {
		for x := range side {
			if code.Dark(x/pixels-code.Quiet, y/pixels-code.Quiet) {
				img.SetColorIndex(x, y, 1)
			}
		}
	}
	return img
}

// proofView is the signed proof of a record.
type proofView struct {
	Number string
	Text   string
	Bytes  int // of the signed message
	Code   template.HTML
	Says   proof.Statement
	Key    string // that signed it
	Wrong  *problem
}

// proofPage shows the proof of a record: the code, its text, and what it proves and doesn't.
func (s *Server) proofPage(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	number := r.PathValue("name")
	text, err := s.current().Prove(r.Context(), who, number)
	if err != nil {
		return err
	}
	keys, lines, err := s.proofKeys(r)
	if err != nil {
		return err
	}
	opened, err := proof.Open(text, keys...)
	if err != nil {
		return err
	}
	message, err := proof.ParseText(text)
	if err != nil {
		return err
	}
	code, err := press.QR(text, press.CorrectM)
	if err != nil {
		return err
	}
	body := proofView{Number: opened.Statement.Number, Text: text, Bytes: len(message), Says: opened.Statement, Code: template.HTML(code.SVG(proofModule, 0, wordsFor(r).T("signed proof")+" "+number))}
	for i, key := range keys {
		if key.Mark == opened.Key.Mark {
			body.Key = lines[i]
		}
	}
	s.render(w, r, http.StatusOK, "proof", view{Title: say("Proof"), Nav: "book", Who: who, Body: body})
	return nil
}

// proofNumber writes a number of a proof with its expanded uncertainty, where it tells one.
func proofNumber(n proof.Number) string {
	if n.U == 0 {
		return n.String()
	}
	return n.String() + " ± " + n.Uncertainty()
}
