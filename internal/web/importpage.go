package web

import (
	"encoding/base64"
	"errors"
	"io"
	"net/http"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/tables"
)

// importView is a list before, while and after it is read. The file itself goes along in the page, so that
// it is chosen once.
type importView struct {
	Trial *desk.Trial
	Done  *desk.Imported
	Wrong *problem
	Name  string
	Data  string // the file in base64; "" before one is chosen
	Shown []desk.Item
	More  int // items that are not shown
}

// mostShownItems is how many items of a list the page shows; the file itself has them all.
const mostShownItems = 50

func (s *Server) importPage(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if !who.May(people.RegisterItem) {
		return refused(who, people.RegisterItem)
	}
	s.showImport(w, r, who, http.StatusOK, importView{})
	return nil
}

func (s *Server) showImport(w http.ResponseWriter, r *http.Request, who *desk.Who, status int, body importView) {
	if body.Trial != nil {
		n := min(len(body.Trial.Items), mostShownItems)
		body.Shown, body.More = body.Trial.Items[:n], len(body.Trial.Items)-n
	}
	s.render(w, r, status, "import", view{Title: say("Import a list"), Nav: "book", Who: who, Body: body})
}

// importList tries a list, or imports it. Whatever is wrong, the page comes back with the file in it.
func (s *Server) importList(w http.ResponseWriter, r *http.Request, who *desk.Who) error {
	if !who.May(people.RegisterItem) {
		return refused(who, people.RegisterItem)
	}
	list, err := listOf(r)
	if err != nil {
		return err
	}
	body := importView{Name: list.Name, Data: base64.StdEncoding.EncodeToString(list.Data)}
	d := s.current()
	if r.FormValue("act") != "import" {
		body.Trial, err = d.TryImport(r.Context(), who, list)
	} else {
		body.Done, err = d.ImportItems(r.Context(), by(r, who), list)
		if refused, is := errors.AsType[*desk.ListError](err); is {
			body.Trial, body.Wrong = refused.Trial, asProblem(err)
			s.showImport(w, r, who, http.StatusUnprocessableEntity, body)
			return nil
		}
		s.hub.tell("bench")
	}
	if p := asProblem(err); err != nil && p.Status == http.StatusUnprocessableEntity { // the file can't be read at all
		body.Wrong = p
		s.showImport(w, r, who, p.Status, body)
		return nil
	}
	if err != nil {
		return err
	}
	s.showImport(w, r, who, http.StatusOK, body)
	return nil
}

// listOf takes the list out of a form: a file that was chosen now, or the one that the page brought along.
func listOf(r *http.Request) (desk.ListFile, error) {
	file, header, err := r.FormFile("file")
	if err == nil {
		defer file.Close()
		data, err := io.ReadAll(file)
		return desk.ListFile{Name: header.Filename, Data: data}, err
	}
	if !errors.Is(err, http.ErrMissingFile) && !errors.Is(err, http.ErrNotMultipart) {
		return desk.ListFile{}, err
	}
	data, err := base64.StdEncoding.DecodeString(r.FormValue("data"))
	if err != nil || len(data) == 0 {
		return desk.ListFile{}, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "No list came with the form.", Hint: "Choose the file, then try it."}
	}
	return desk.ListFile{Name: r.FormValue("name"), Data: data}, nil
}

// listField is what a column of a list was taken for, in words.
func listField(f tables.Field) string {
	if words, known := listFields[f]; known {
		return words
	}
	return string(f)
}

var listFields = map[tables.Field]string{
	tables.Serial: say("serial number"), tables.Marks: say("marks"), tables.Description: say("description"), tables.Condition: say("condition"), tables.Metal: say("metal"),
	tables.Fineness: say("fineness, parts per thousand"), tables.Mass: say("mass"), tables.MassUnit: say("unit of mass"), tables.Claim: say("claim"), tables.ClaimBy: say("claimed by"), tables.Barcode: say("tray"),
	tables.Reference: say("owner's reference"), tables.PartOf: say("part of"), tables.Place: say("where it lies"),
}
