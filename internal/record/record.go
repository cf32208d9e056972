package record

import (
	"bytes"
	"encoding/json"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"unicode/utf8"

	"wreath/internal/determination"
	"wreath/internal/station"
)

// Record is a determination as it is kept for ever.
type Record struct {
	Format int    `json:"format" doc:"form of this document"`
	ID     string `json:"id" doc:"of the record"`
	Number string `json:"number" doc:"as people call it; given by who keeps the register"`
	Made   Act    `json:"made" doc:"who recorded it, and when"`

	Sheet       Sheet                `json:"sheet" doc:"what was asked and read, in full"`
	Station     *station.Station     `json:"station,omitempty" doc:"where it was weighed, in full"`
	Instruments []station.Instrument `json:"instruments,omitempty" doc:"the instruments that the station names or that were read, in full"`

	Document json.RawMessage `json:"document" doc:"the complete draft that was evaluated"`
	Answer   json.RawMessage `json:"answer" doc:"the answer, exactly as computed"`
	Versions Versions        `json:"versions" doc:"what computed it"`

	FromStation []string            `json:"from_station,omitempty" doc:"fields of the document that the station gave"`
	Used        []station.Ref       `json:"used,omitempty" doc:"instruments that took part"`
	Statements  []station.Statement `json:"statements,omitempty" doc:"what is to be said of the instruments"`
	Marks       []string            `json:"marks,omitempty" doc:"what is to be said of how the readings came about"`

	Supersedes *Supersedes `json:"supersedes,omitempty" doc:"the record that this one corrects"`
}

// Versions say what computed an answer, so that it can be computed again.
type Versions struct {
	Program    string `json:"program" doc:"version of the program"`
	Formulas   string `json:"formulas" doc:"edition of the formulas"`
	Tables     string `json:"tables" doc:"edition of the tables"`
	MonteCarlo string `json:"monte_carlo" doc:"when distributions were propagated: always or where-needed"`
	Go         string `json:"go" doc:"version of the compiler"`
	Arch       string `json:"arch" doc:"kind of processor"`
}

// Supersedes names the record that a correction takes the place of.
type Supersedes struct {
	ID     string `json:"id" doc:"of the earlier record"`
	Number string `json:"number" doc:"its number"`
	Reason string `json:"reason" doc:"why it is corrected"`
}

// Making is what a record is made with, beside the sheet.
type Making struct {
	ID, Number  string
	Made        Act
	Station     *station.Station     // the one that the sheet names
	Instruments []station.Instrument // all that may be needed; those that are not are left out
	Supersedes  *Supersedes          // nil unless this corrects another record
	Options     determination.Options
}

// Make evaluates a sheet and writes it down. The sheet may still be open for more readings
// afterwards; the record keeps it as it is now.
func Make(s Sheet, m Making) (*Record, error) {
	r := &Record{
		Format: Format, ID: m.ID, Number: m.Number, Made: Act{plain(m.Made.Time), m.Made.Person}, Sheet: s.copied(),
		Station: m.Station, Supersedes: m.Supersedes,
	}
	if err := r.checkHead(); err != nil {
		return nil, err
	}
	kit, err := needed(&s, m.Station, m.Instruments)
	if err != nil {
		return nil, err
	}
	r.Instruments = kit
	if err := r.derive(m.Options); err != nil {
		return nil, err
	}
	return r, nil
}

// derive computes everything of a record that follows from the rest.
func (r *Record) derive(o determination.Options) error {
	c, err := Document(&r.Sheet, r.Station, r.Instruments)
	if err != nil {
		return err
	}
	answer, err := evaluate(c.Document, o)
	if err != nil {
		return err
	}
	r.Document, r.Answer = c.Document, answer
	r.FromStation, r.Used, r.Statements, r.Marks = c.Fields, c.Instruments, c.Statements, r.Sheet.Marks()
	r.Versions = versions(o)
	return nil
}

func versions(o determination.Options) Versions {
	return Versions{
		Program: o.Version, Formulas: determination.FormulasEdition, Tables: determination.TablesEdition,
		MonteCarlo: monteCarlo(o.MonteCarlo), Go: runtime.Version(), Arch: runtime.GOARCH,
	}
}

func monteCarlo(m determination.MonteCarloMode) string {
	if m == determination.WhereNeeded {
		return "where-needed"
	}
	return "always"
}

func monteCarloMode(word string) (determination.MonteCarloMode, error) {
	switch word {
	case "always":
		return determination.Always, nil
	case "where-needed":
		return determination.WhereNeeded, nil
	}
	return 0, bad("versions.monte_carlo", "Known: always, where-needed.", "there is no %q", word)
}

func evaluate(document []byte, o determination.Options) (json.RawMessage, error) {
	d, err := determination.Decode(document)
	if err != nil {
		return nil, err
	}
	a, err := determination.Evaluate(d, o)
	if err != nil {
		return nil, err
	}
	return json.Marshal(a)
}

// needed are the instruments of the station and those that a reading names.
func needed(s *Sheet, at *station.Station, all []station.Instrument) ([]station.Instrument, error) {
	var kit []station.Instrument
	if at != nil {
		var err error
		if kit, err = at.Kit(all); err != nil {
			return nil, err
		}
	}
	for _, r := range s.Readings {
		is := func(i station.Instrument) bool { return i.Ref() == *r.Instrument }
		if r.Instrument == nil || slices.ContainsFunc(kit, is) {
			continue
		}
		n := slices.IndexFunc(all, is)
		if n < 0 {
			return nil, bad("readings", "Enter the instrument first.", "reading %d was taken on %s, which is not known here", r.No, r.Instrument)
		}
		kit = append(kit, all[n])
	}
	return kit, nil
}

// MakeFromDocument makes a record of one draft document that holds its readings. Each reading
// becomes one of the sheet, of the source, time and person given; the rest is the request.
func MakeFromDocument(document []byte, begin Sheet, source string, m Making) (*Record, error) {
	s, err := FromDocument(document, begin, source)
	if err != nil {
		return nil, err
	}
	return Make(s, m)
}

// FromDocument makes a sheet of one draft document that holds its readings.
func FromDocument(document []byte, begin Sheet, source string) (Sheet, error) {
	d, err := determination.Decode(document)
	if err != nil {
		return Sheet{}, err
	}
	var readings []Reading
	bare := clone(d)
	for _, slot := range Slots {
		list := *readingsOf(clone(bare), slot)
		if len(list) == 0 {
			continue
		}
		*readingsOf(bare, slot) = nil
		for _, r := range list {
			readings = append(readings, Reading{Slot: slot, Text: r.Text, Time: begin.Opened.Time, Person: begin.Opened.Person, Source: source})
		}
	}
	rest, err := station.WriteDraft(bare)
	if err != nil {
		return Sheet{}, err
	}
	s, err := Open(begin, rest)
	if err != nil {
		return Sheet{}, err
	}
	for i := range readings {
		r := &readings[i]
		r.No, r.Time = i+1, plain(r.Time)
		if err := r.check(); err != nil {
			return Sheet{}, under(r.Slot, err)
		}
	}
	s.Readings = append(s.Readings, readings...)
	return s, nil
}

// Encode writes a record for keeping. The same record always gives the same bytes.
func (r *Record) Encode() ([]byte, error) { return json.Marshal(r) }

// Encode writes a sheet for keeping.
func (s *Sheet) Encode() ([]byte, error) { return json.Marshal(s) }

// MaxRecord is the largest record that is read, in bytes.
const MaxRecord = 16 << 20

// Decode reads a record that Encode wrote. Anything that Encode would not have written, such as an
// unknown field or a field given twice, is refused.
func Decode(data []byte) (*Record, error) {
	r := &Record{}
	if err := decode(data, r); err != nil {
		return nil, err
	}
	return r, r.check()
}

// DecodeSheet reads a sheet that Encode wrote, as strictly as Decode does.
func DecodeSheet(data []byte) (*Sheet, error) {
	s := &Sheet{}
	if err := decode(data, s); err != nil {
		return nil, err
	}
	return s, s.check()
}

func decode(data []byte, dst any) error {
	if len(data) > MaxRecord {
		return bad("", "Give one record.", "the document is larger than %d bytes", MaxRecord)
	}
	const edited = "Records are written by the program only; was the file cut off or edited?"
	var given bytes.Buffer
	if err := json.Compact(&given, data); err != nil {
		return bad("", edited, "can't be read: %v", err)
	}
	d := json.NewDecoder(bytes.NewReader(given.Bytes()))
	d.DisallowUnknownFields()
	if err := d.Decode(dst); err != nil {
		return bad("", edited, "can't be read: %v", err)
	}
	text, err := json.Marshal(dst)
	if err != nil {
		return bad("", edited, "can't be written again: %v", err)
	}
	if !bytes.Equal(text, given.Bytes()) {
		return bad("", edited, "is not in the form that the program writes")
	}
	return nil
}

func (r *Record) checkHead() error {
	for _, f := range []struct{ name, text string }{{"id", r.ID}, {"number", r.Number}} {
		if f.text == "" || len(f.text) > station.MaxID || !utf8.ValidString(f.text) {
			return bad(f.name, "Give a text of 1 to 64 letters.", "%q names nothing", f.text)
		}
	}
	if err := r.Made.check("made"); err != nil {
		return err
	}
	if p := r.Supersedes; p != nil {
		switch {
		case p.ID == "" || p.Number == "":
			return bad("supersedes.id", "Name the earlier record by id and number.", "is missing")
		case p.ID == r.ID || p.Number == r.Number:
			return bad("supersedes.id", "Give the correction an id and a number of its own.", "a record can't take its own place")
		case strings.TrimSpace(p.Reason) == "":
			return bad("supersedes.reason", "Say why the earlier record is corrected.", "is missing")
		}
	}
	return nil
}

// check asks that a record read from a store is one that Make can have made.
func (r *Record) check() error {
	if r.Format != Format {
		return bad("format", "A newer program may read it.", "%d is not known here", r.Format)
	}
	if err := r.checkHead(); err != nil {
		return err
	}
	if err := r.Sheet.check(); err != nil {
		return under("sheet", err)
	}
	if err := r.Sheet.belongs(r.Station); err != nil {
		return err
	}
	for i := range r.Instruments {
		if err := r.Instruments[i].Check(); err != nil {
			return under(fmt.Sprintf("instruments[%d]", i), err)
		}
	}
	if _, err := determination.Decode(r.Document); err != nil {
		return under("document", err)
	}
	if _, err := r.answer(); err != nil {
		return bad("answer", "Records are written by the program only; was the file edited?", "can't be read: %v", err)
	}
	_, err := monteCarloMode(r.Versions.MonteCarlo)
	return err
}

// answer reads the stored answer.
func (r *Record) answer() (*determination.Answer, error) {
	a := &determination.Answer{}
	return a, json.Unmarshal(r.Answer, a)
}

// Restored computes all that follows from sheet, station and instruments anew, as this program
// computes it. Of what is stored it takes the version of the program and when distributions are
// propagated; nothing else that was derived.
func (r *Record) Restored() (*Record, error) {
	mode, err := monteCarloMode(r.Versions.MonteCarlo)
	if err != nil {
		return nil, err
	}
	again := &Record{
		Format: r.Format, ID: r.ID, Number: r.Number, Made: r.Made, Sheet: r.Sheet.copied(),
		Station: r.Station, Instruments: r.Instruments, Supersedes: r.Supersedes,
	}
	return again, again.derive(determination.Options{MonteCarlo: mode, Version: r.Versions.Program})
}
