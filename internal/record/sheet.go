package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"unicode/utf8"

	"wreath/internal/determination"
	"wreath/internal/station"
)

// Format is the number of the form in which sheets and records are written.
const Format = 1

// Sheet is a determination under way.
type Sheet struct {
	Format   int          `json:"format" doc:"form of this document"`
	ID       string       `json:"id" doc:"of the determination"`
	Station  *station.Ref `json:"station,omitempty" doc:"where it is weighed"`
	Item     string       `json:"item,omitempty" doc:"id of the item"`
	Barcode  string       `json:"barcode,omitempty" doc:"of its tray or bag"`
	Opened   Act          `json:"opened" doc:"who opened it, and when"`
	Requests []Request    `json:"requests" doc:"what was asked: claim, rule and conditions; all versions, the last one counts"`
	Readings []Reading    `json:"readings" doc:"every reading, those set aside too, in the order they were taken"`
	Notes    []Note       `json:"notes,omitempty" doc:"anything worth keeping"`
}

// Request is one version of what is asked of a determination: a draft without readings.
type Request struct {
	Version  int             `json:"version" doc:"counted from 1"`
	Document json.RawMessage `json:"document" doc:"draft without readings"`
	Made     Act             `json:"made" doc:"who made this version, and when"`
	Reason   string          `json:"reason,omitempty" doc:"why, for a version made after the first reading"`
	Readings int             `json:"readings" doc:"readings on the sheet when it was made"`
	Late     bool            `json:"late,omitempty" doc:"true when claim or rule were changed after the first reading of the item"`
}

// Note is a remark of a person.
type Note struct {
	Made Act    `json:"made" doc:"who wrote it, and when"`
	Text string `json:"text" doc:"the remark"`
}

// Open starts a sheet. Of begin it takes the id, the station, the item, the barcode and who opens
// it; document is a draft without readings. A *FieldError names the field at fault.
func Open(begin Sheet, document []byte) (Sheet, error) {
	s := Sheet{Format: Format, ID: begin.ID, Station: begin.Station, Item: begin.Item, Barcode: begin.Barcode, Opened: begin.Opened, Readings: []Reading{}}
	s.Opened.Time = plain(s.Opened.Time)
	if err := s.checkHead(); err != nil {
		return Sheet{}, err
	}
	text, err := request(document)
	if err != nil {
		return Sheet{}, err
	}
	s.Requests = []Request{{Version: 1, Document: text, Made: s.Opened}}
	return s, nil
}

func (s *Sheet) checkHead() error {
	switch {
	case s.Format != Format:
		return bad("format", fmt.Sprintf("This program reads format %d; a newer one may read it.", Format), "%d is not known here", s.Format)
	case s.ID == "" || len(s.ID) > station.MaxID:
		return bad("id", "Give the determination an id of 1 to 64 letters.", "%q is no id", s.ID)
	}
	for _, f := range []struct{ name, text string }{{"id", s.ID}, {"item", s.Item}, {"barcode", s.Barcode}, {"opened.person", s.Opened.Person}} {
		if !utf8.ValidString(f.text) || len(f.text) > 1000 {
			return bad(f.name, "Give a short text.", "is too long, or no text")
		}
	}
	return s.Opened.check("opened")
}

// request reads what is asked and writes it in the form that is kept.
func request(document []byte) (json.RawMessage, error) {
	d, err := determination.Decode(document)
	if err != nil {
		return nil, err
	}
	for _, slot := range Slots {
		if len(*readingsOf(clone(d), slot)) > 0 {
			return nil, bad(slot, "Take readings one by one; a request holds none.", "is a reading")
		}
	}
	return station.WriteDraft(d)
}

// clone copies a draft as far down as readingsOf reaches.
func clone(d *determination.Draft) *determination.Draft {
	c := *d
	if d.Reference != nil {
		r := *d.Reference
		c.Reference = &r
	}
	if d.Liquid != nil {
		l := *d.Liquid
		c.Liquid = &l
		if l.Proof != nil {
			p := *l.Proof
			c.Liquid.Proof = &p
		}
	}
	return &c
}

// copied is a sheet whose lists can grow apart from this one's.
func (s Sheet) copied() Sheet {
	s.Requests, s.Readings, s.Notes = slices.Clone(s.Requests), slices.Clone(s.Readings), slices.Clone(s.Notes)
	return s
}

// Take adds a reading. Its number is given here. A *FieldError names the field at fault.
func (s Sheet) Take(r Reading) (Sheet, error) {
	r.No, r.Time = len(s.Readings)+1, plain(r.Time)
	if r.Withdrawn != nil {
		return s, bad("withdrawn", "Take the reading first, then set it aside.", "is set aside before it is taken")
	}
	if err := r.check(); err != nil {
		return s, err
	}
	if r.Instrument != nil {
		ref := *r.Instrument
		r.Instrument = &ref
	}
	s = s.copied()
	s.Readings = append(s.Readings, r)
	return s, nil
}

// Withdraw sets a reading aside. It stays on the sheet and is no longer evaluated.
func (s Sheet) Withdraw(no int, by Act, reason string) (Sheet, error) {
	if no < 1 || no > len(s.Readings) {
		return s, bad("no", "Name a reading of this sheet by its number.", "there is no reading %d", no)
	}
	if w := s.Readings[no-1].Withdrawn; w != nil {
		return s, bad("no", "Take it again if it is needed.", "reading %d was set aside already: %s", no, w.Reason)
	}
	if strings.TrimSpace(reason) == "" {
		return s, bad("reason", "Say why, such as: bubble seen, wrong item.", "is missing")
	}
	if err := by.check(""); err != nil {
		return s, err
	}
	s = s.copied()
	s.Readings[no-1].Withdrawn = &Withdrawal{Time: plain(by.Time), Person: by.Person, Reason: reason}
	return s, nil
}

// Change asks something else: another claim, another rule, other conditions. The earlier request
// stays. After the first reading a reason is needed, and a change of claim or rule is marked.
func (s Sheet) Change(document []byte, by Act, reason string) (Sheet, error) {
	text, err := request(document)
	if err != nil {
		return s, err
	}
	if err := by.check(""); err != nil {
		return s, err
	}
	now := s.request()
	if string(now.Document) == string(text) {
		return s, bad("", "Change a field, or leave it.", "nothing is changed")
	}
	begun := slices.ContainsFunc(s.Readings, func(r Reading) bool { return ofItem(r.Slot) })
	if len(s.Readings) > 0 && strings.TrimSpace(reason) == "" {
		return s, bad("reason", "Say why it is changed now that readings are taken.", "is missing")
	}
	late := false
	if begun {
		late, err = otherQuestion(now.Document, text)
		if err != nil {
			return s, err
		}
	}
	s = s.copied()
	s.Requests = append(s.Requests, Request{
		Version: now.Version + 1, Document: text, Made: Act{plain(by.Time), by.Person}, Reason: reason, Readings: len(s.Readings), Late: late,
	})
	return s, nil
}

// Note adds a remark.
func (s Sheet) Note(by Act, text string) (Sheet, error) {
	if err := by.check(""); err != nil {
		return s, err
	}
	if strings.TrimSpace(text) == "" || len(text) > 10000 || !utf8.ValidString(text) {
		return s, bad("text", "Write up to 10000 letters.", "is empty, too long, or no text")
	}
	s = s.copied()
	s.Notes = append(s.Notes, Note{Act{plain(by.Time), by.Person}, text})
	return s, nil
}

// request is the one that counts.
func (s *Sheet) request() Request { return s.Requests[len(s.Requests)-1] }

// otherQuestion is true where two requests differ in what is claimed, how it is decided, or when
// to stop weighing.
func otherQuestion(before, after []byte) (bool, error) {
	x, err := determination.Decode(before)
	if err != nil {
		return false, err
	}
	y, err := determination.Decode(after)
	if err != nil {
		return false, err
	}
	return x.HouseRule != y.HouseRule || !reflect.DeepEqual(x.Claim, y.Claim) || !reflect.DeepEqual(x.StopRule, y.StopRule), nil
}

// Marks are what a reader of the result must know of how it came about, in words.
func (s *Sheet) Marks() []string {
	var marks []string
	aside := 0
	for _, r := range s.Readings {
		if r.Withdrawn != nil {
			aside++
		}
	}
	if aside > 0 {
		marks = append(marks, fmt.Sprintf("Readings set aside: %d of %d.", aside, len(s.Readings)))
	}
	for _, q := range s.Requests {
		if q.Late {
			marks = append(marks, fmt.Sprintf("Claim or rule was changed after %d readings, at %s by %s: %s.",
				q.Readings, q.Made.Time.Format("2006-01-02 15:04 -07:00"), q.Made.Person, strings.TrimSuffix(q.Reason, ".")))
		}
	}
	return marks
}

// check asks that a sheet read from a store is one that the operations above can have made.
func (s *Sheet) check() error {
	if err := s.checkHead(); err != nil {
		return err
	}
	if len(s.Requests) == 0 {
		return bad("requests", "A sheet has at least one.", "is missing")
	}
	taken := 0
	for i, q := range s.Requests {
		at := fmt.Sprintf("requests[%d]", i)
		if q.Version != i+1 {
			return bad(at+".version", "Versions count from 1 without a gap.", "%d stands where %d belongs", q.Version, i+1)
		}
		if q.Readings < taken || q.Readings > len(s.Readings) {
			return bad(at+".readings", "It counts the readings on the sheet when the request was made.", "%d cannot be right", q.Readings)
		}
		taken = q.Readings
		if err := q.Made.check(at + ".made"); err != nil {
			return err
		}
		text, err := request(q.Document)
		if err != nil {
			return under(at+".document", err)
		}
		if string(text) != string(q.Document) {
			return bad(at+".document", "It is kept in the form that the program writes.", "is not in the form that is kept")
		}
	}
	for i := range s.Readings {
		r := &s.Readings[i]
		at := fmt.Sprintf("readings[%d]", i)
		if r.No != i+1 {
			return bad(at+".no", "Readings count from 1 without a gap.", "%d stands where %d belongs", r.No, i+1)
		}
		if err := r.check(); err != nil {
			return under(at, err)
		}
		if w := r.Withdrawn; w != nil {
			if err := (Act{w.Time, w.Person}).check(at + ".withdrawn"); err != nil {
				return err
			}
			if w.Reason == "" {
				return bad(at+".withdrawn.reason", "A reading is set aside for a reason.", "is missing")
			}
		}
	}
	return nil
}

// under puts the place of a document before the place of an error in it.
func under(path string, err error) error {
	var f *FieldError
	if !errors.As(err, &f) {
		return fmt.Errorf("%s: %w", path, err)
	}
	place := path
	if f.Path != "" {
		place += "." + f.Path
	}
	return &FieldError{Path: place, Reason: f.Reason, Hint: f.Hint}
}
