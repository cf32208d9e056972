package web

import (
	"io"
	"net/http"

	"wreath/internal/desk"
	"wreath/internal/proof"
)

// verify serves the page with which anybody checks proofs, with the shop's public keys in it. Nobody signs in
// for it: it holds nothing but the shop's name and its public keys, and it asks the program for nothing more.
// Saved as a file it works without the program.
func (s *Server) verify(w http.ResponseWriter, r *http.Request) {
	if s.current() == nil {
		back(w, r, "/first")
		return
	}
	if err := s.verifyPage(w, r, ""); err != nil {
		s.fail(w, r, err)
	}
}

// verifyWithList is the same page as a file, with the newest status list in it.
func (s *Server) verifyWithList(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	list, err := s.current().StatusList(r.Context(), who)
	if err != nil {
		return err
	}
	attach(w, "verify-"+s.current().Shop()+".html", "text/html; charset=utf-8")
	return s.verifyPage(w, r, list)
}

func (s *Server) verifyPage(w http.ResponseWriter, r *http.Request, list string) error {
	d := s.current()
	shop, err := d.AboutShop(r.Context())
	if err != nil {
		return err
	}
	_, keys, err := s.proofKeys(r)
	if err != nil {
		return err
	}
	page, err := proof.Page(proof.PageOptions{ShopName: shop.Name, Keys: keys, List: list, Language: wordsFor(r).Lang})
	if err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("Content-Security-Policy", proof.PagePolicy+"; frame-ancestors 'none'") // its own script and style, by their hashes
	h.Set("Permissions-Policy", "camera=(self), microphone=(), geolocation=(), payment=(), usb=()")
	_, err = w.Write(page)
	return err
}

// statusList hands out the signed list of what became of records.
func (s *Server) statusList(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	list, err := s.current().StatusList(r.Context(), who)
	if err != nil {
		return err
	}
	attach(w, "status-"+s.current().Shop()+".txt", "text/plain; charset=utf-8")
	_, err = io.WriteString(w, list+"\n")
	return err
}
