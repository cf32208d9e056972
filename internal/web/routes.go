package web

import (
	"io"
	"net/http"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/picture"
)

func (s *Server) routes() {
	s.mux.Handle("GET /static/", s.static())
	s.mux.HandleFunc("GET /pictures.css", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/css; charset=utf-8")
		w.Header().Set("Cache-Control", "no-cache")
		io.WriteString(w, picture.Style)
	})
	s.mux.HandleFunc("GET /events", s.events)
	s.mux.HandleFunc("POST /look", s.look)
	s.api()

	s.mux.HandleFunc("GET /first", s.first)
	s.mux.HandleFunc("POST /first", s.firstDone)
	s.mux.HandleFunc("GET /sign-in", s.signInPage)
	s.mux.HandleFunc("POST /sign-in", s.signIn)
	s.mux.HandleFunc("POST /sign-out", s.signOut)

	s.page("GET /{$}", s.bench)
	s.page("POST /sheets", s.openSheet)
	s.page("POST /weigh", s.weigh)
	s.page("POST /items/{id}/photos", s.addPhoto)
	s.page("POST /items/{id}/place", s.moveItem)
	s.page("GET /photos/{hash}", s.photo)
	s.page("GET /sheet/{id}", s.sheet)
	s.page("POST /sheet/{id}/reading", s.takeReading)
	s.page("POST /sheet/{id}/set-aside", s.setAside)
	s.page("POST /sheet/{id}/restore", s.restore)
	s.page("POST /sheet/{id}/reread", s.reread)
	s.page("POST /sheet/{id}/move", s.moveSheet)
	s.page("POST /sheet/{id}/remark", s.remark)
	s.page("POST /sheet/{id}/item", s.changeItem)
	s.page("GET /sheet/{id}/item", s.itemPage)
	s.page("GET /sheet/{id}/lanes", s.lanes)
	s.page("POST /sheet/{id}/evidence", s.changeEvidence)
	s.page("GET /sheet/{id}/far", s.sheet)
	s.page("POST /sheet/{id}/carry-proof", s.carryProof)
	s.page("POST /sheet/{id}/balance", s.atTheBalance)
	s.page("POST /sheet/{id}/conclude", s.conclude)
	s.page("POST /sheet/{id}/drop", s.dropSheet)

	s.page("GET /scan", s.scan)
	s.page("GET /cards", s.cards)
	s.page("GET /stations", s.stations)
	s.page("GET /stations/{id}", s.equipment)
	s.page("POST /stations", s.setStation)
	s.page("POST /instruments", s.setInstrument)
	s.page("POST /instruments/{id}/service", s.outOfService)
	s.page("GET /instruments/{id}/line", s.learnLine)
	s.page("GET /instruments/{id}/line/now", s.lineNow)
	s.page("POST /instruments/{id}/line", s.teach)
	s.page("POST /instruments/{id}/check-weight", s.checkWeight)
	s.page("POST /instruments/{id}/typed", s.typedLine)
	s.page("GET /practice", s.practise)
	s.page("POST /practice", s.practiseLesson)
	s.page("GET /practice/shop", s.shopHands)
	s.page("POST /practice/shop", s.shopHand)
	s.page("GET /practice/{id}", s.practiceBench)
	s.page("GET /practice/{id}/events", s.practiceEvents)
	s.page("POST /practice/{id}/{act}", s.practiceAct)
	s.page("GET /plan", s.plan)
	s.page("GET /materials", s.materials)
	s.page("GET /materials/{table}", s.materials)
	s.page("GET /settings", s.settings)
	s.page("POST /people", s.addPerson)
	s.page("POST /people/{id}/end", s.endPerson)
	s.page("POST /password", s.setPassword)
	s.page("POST /prices", s.setPrice)
	s.page("POST /terms", s.setTerms)

	s.page("GET /book", s.book)
	s.page("GET /record/{name}", s.record)
	s.page("POST /record/{name}/sign", s.sign)
	s.page("GET /record/{name}/correct", s.correctPage)
	s.page("POST /record/{name}/correct", s.correct)
	s.page("POST /record/{name}/evidence", s.evidence)
	s.page("POST /record/{name}/value", s.valueRecord)
	s.page("GET /record/{name}/slip", s.slip)
	s.page("POST /record/{name}/slip", s.printHere)
	s.page("GET /record/{name}/proof", s.proofPage)
	s.page("GET /record/{name}/paper/{file}", s.paperFile)
	s.page("GET /record/{name}/report", s.issuePage)
	s.page("POST /record/{name}/report", s.issueReport)
	s.page("GET /items/{id}", s.itemCard)
	s.page("POST /items/{id}", s.changeItemText)
	s.page("GET /items/{id}/{file}", s.itemLabel)
	s.page("GET /stations/{id}/{file}", s.instrumentLabel)
	s.page("GET /printing", s.printing)
	s.page("POST /printing/{number}/again", s.printAgain)
	s.page("POST /printing/{number}/drop", s.dropPrint)
	s.page("POST /print", s.printAt)
	s.page("POST /printers", s.setPrinter)
	s.page("POST /printers/{name}/test", s.testPrinter)
	s.page("POST /printers/{name}/remove", s.removePrinter)
	s.page("POST /shop", s.setShop)
	s.page("POST /logo", s.setLogo)
	s.page("GET /logo", s.logo)
	s.page("GET /files", s.filesPage)
	s.page("GET /files/{file}", s.tableFile)
	s.page("GET /files/{kind}/{file}", s.tableFile)
	s.page("POST /files/register", s.registerFile)
	s.page("POST /files/evidence", s.periodEvidence)
	s.page("GET /import", s.importPage)
	s.page("POST /import", s.importList)
	s.mux.HandleFunc("GET /verify", s.verify)
	s.page("GET /verify/file", s.verifyWithList)
	s.page("GET /status-list", s.statusList)
	s.page("GET /compare", s.compare)
	s.page("GET /book/{file}", s.bookFile)
	s.page("GET /day", s.day)
	s.page("POST /lots", s.makeLot)
	s.page("GET /lots/{id}", s.lot)
}

// handler is a page or an act of somebody who was let in.
type handler func(w http.ResponseWriter, r *http.Request, who *desk.Who) error

// page lets people in and answers their errors.
func (s *Server) page(pattern string, h handler) {
	s.mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
		if s.current() == nil {
			back(w, r, "/first")
			return
		}
		who, err := s.who(r, r.Method != http.MethodGet)
		if err == nil {
			err = h(w, r, who)
		}
		if err != nil {
			s.fail(w, r, err)
		}
	})
}

// by is who does an act, under the mark that the form brought.
func by(r *http.Request, who *desk.Who) desk.By {
	return desk.By{Who: who, Key: r.FormValue("mark")}
}

// look keeps theme and language on this device.
func (s *Server) look(w http.ResponseWriter, r *http.Request) {
	for _, name := range []string{"theme", "language"} {
		if r.FormValue(name) == "" {
			continue
		}
		http.SetCookie(w, &http.Cookie{Name: "wreath-" + name, Value: r.FormValue(name), Path: "/", MaxAge: 365 * 24 * 3600, Secure: s.o.TLS, HttpOnly: true, SameSite: http.SameSiteStrictMode})
	}
	back(w, r, local(r.FormValue("then")))
}

// local is a path of these pages; anything else is the first page. Browsers pass over control characters
// and take \ for /, so that a path with them may lead elsewhere.
func local(path string) string {
	strange := func(r rune) bool { return r < ' ' || r == 0x7f || r == '\\' }
	if len(path) < 2 || path[0] != '/' || path[1] == '/' || strings.ContainsFunc(path, strange) {
		return "/"
	}
	return path
}
