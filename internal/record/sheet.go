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
	Moves    []Move       `json:"moves,omitempty" doc:"from one station to another; readings stay with the station they were taken at"`
}

// Move is that the item went on to another station.
type Move struct {
	From     *station.Ref `json:"from,omitempty" doc:"the station it left; absent for none"`
	To       station.Ref  `json:"to" doc:"the station it went to"`
	Made     Act          `json:"made" doc:"who moved it, and when"`
	Reason   string       `json:"reason,omitempty" doc:"why, for a move after the first reading"`
	Readings int          `json:"readings" doc:"readings on the sheet when it was moved; those belong to the stations before"`
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
	s.Requests, s.Readings, s.Notes, s.Moves = slices.Clone(s.Requests), slices.Clone(s.Readings), slices.Clone(s.Notes), slices.Clone(s.Moves)
	return s
}

// Take adds a reading. Its number is given here. A *FieldError names the field at fault.
func (s Sheet) Take(r Reading) (Sheet, error) {
	r.No, r.Time = len(s.Readings)+1, plain(r.Time)
	if r.Withdrawn != nil || r.Restored != nil {
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
		return s, bad("no", "Restore it, or take it again, if it is needed.", "reading %d was set aside already: %s", no, w.Reason)
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

// Restore takes back that a reading was set aside. That it was stays on the sheet, with both reasons.
func (s Sheet) Restore(no int, by Act, reason string) (Sheet, error) {
	if no < 1 || no > len(s.Readings) {
		return s, bad("no", "Name a reading of this sheet by its number.", "there is no reading %d", no)
	}
	w := s.Readings[no-1].Withdrawn
	if w == nil {
		return s, bad("no", "Only what was set aside can be restored.", "reading %d counts already", no)
	}
	if strings.TrimSpace(reason) == "" {
		return s, bad("reason", "Say why, such as: set aside by mistake.", "is missing")
	}
	if err := by.check(""); err != nil {
		return s, err
	}
	s = s.copied()
	r := &s.Readings[no-1]
	r.Restored = append(slices.Clone(r.Restored), Restored{Withdrawal: *w, Time: plain(by.Time), Person: by.Person, Reason: reason})
	r.Withdrawn = nil
	return s, nil
}

// Move takes the sheet to another station. Readings stay with the station they were taken at, and
// those of another than the present one are not evaluated: neither the errors of two balances nor
// two liquids cancel in one density. After the first reading a reason is needed.
func (s Sheet) Move(to station.Ref, by Act, reason string) (Sheet, error) {
	if s.Station != nil && *s.Station == to {
		return s, bad("station", "Name the station that it goes to.", "the sheet is at %s already", to)
	}
	if to.ID == "" || to.Version < 1 {
		return s, bad("station", "Name the station that it goes to.", "%s names none", to)
	}
	if len(s.Readings) > 0 && strings.TrimSpace(reason) == "" {
		return s, bad("reason", "Say why it is moved now that readings are taken.", "is missing")
	}
	if err := by.check(""); err != nil {
		return s, err
	}
	s = s.copied()
	s.Moves = append(s.Moves, Move{From: s.Station, To: to, Made: Act{plain(by.Time), by.Person}, Reason: reason, Readings: len(s.Readings)})
	s.Station = &to
	return s, nil
}

// TakenAt is the station that a reading was taken at; nil is none.
func (s *Sheet) TakenAt(no int) *station.Ref {
	for _, m := range s.Moves {
		if no <= m.Readings {
			return m.From
		}
	}
	return s.Station
}

// Counts is true of a reading that is evaluated: it is not set aside, and was taken at the sheet's
// present station.
func (s *Sheet) Counts(r Reading) bool { return r.Withdrawn == nil && s.Here(r.No) }

// Here is true of a reading that was taken at the sheet's present station.
func (s *Sheet) Here(no int) bool {
	at := s.TakenAt(no)
	if at == nil || s.Station == nil {
		return at == s.Station
	}
	return *at == *s.Station
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
	aside, restored, elsewhere := 0, 0, 0
	for _, r := range s.Readings {
		switch {
		case r.Withdrawn != nil:
			aside++
		case !s.Here(r.No):
			elsewhere++
		}
		if len(r.Restored) > 0 {
			restored++
		}
	}
	if aside > 0 {
		marks = append(marks, fmt.Sprintf("Readings set aside: %d of %d.", aside, len(s.Readings)))
	}
	if restored > 0 {
		marks = append(marks, fmt.Sprintf("Readings set aside and restored: %d of %d.", restored, len(s.Readings)))
	}
	if elsewhere > 0 {
		marks = append(marks, fmt.Sprintf("Readings taken at another station, and not evaluated: %d of %d.", elsewhere, len(s.Readings)))
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
		for j, q := range r.Restored {
			at := fmt.Sprintf("%s.restored[%d]", at, j)
			if err := (Act{q.Time, q.Person}).check(at); err != nil {
				return err
			}
			if err := (Act{q.Withdrawal.Time, q.Withdrawal.Person}).check(at + ".withdrawal"); err != nil {
				return err
			}
			if q.Reason == "" || q.Withdrawal.Reason == "" {
				return bad(at+".reason", "A reading is set aside and restored for a reason.", "is missing")
			}
		}
	}
	return s.checkMoves()
}

// checkMoves asks that every move leaves the station that the one before it went to.
func (s *Sheet) checkMoves() error {
	taken := 0
	for i, m := range s.Moves {
		at := fmt.Sprintf("moves[%d]", i)
		if m.Readings < taken || m.Readings > len(s.Readings) {
			return bad(at+".readings", "It counts the readings on the sheet when it was moved.", "%d cannot be right", m.Readings)
		}
		taken = m.Readings
		if m.To.ID == "" || m.To.Version < 1 {
			return bad(at+".to", "Name a station by id and version.", "%s names none", m.To)
		}
		if i > 0 && (m.From == nil || *m.From != s.Moves[i-1].To) {
			return bad(at+".from", "A sheet leaves the station that it was moved to.", "is not %s", s.Moves[i-1].To)
		}
		if err := m.Made.check(at + ".made"); err != nil {
			return err
		}
	}
	if n := len(s.Moves); n > 0 && (s.Station == nil || *s.Station != s.Moves[n-1].To) {
		return bad("station", "A sheet is at the station that it was moved to last.", "is not %s", s.Moves[n-1].To)
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
