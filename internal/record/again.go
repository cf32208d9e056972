package record

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strings"

	"wreath/internal/determination"
	"wreath/internal/station"
)

// Repeat is what evaluating a record again shows.
type Repeat struct {
	Same     bool             `json:"same" doc:"true when document and answer came out bit for bit as they are stored"`
	Document []station.Change `json:"document,omitempty" doc:"how the document that sheet and station make now differs from the stored one"`
	Figures  []Figure         `json:"figures,omitempty" doc:"how the answer to the stored document differs from the stored one"`
	Versions []station.Change `json:"versions,omitempty" doc:"which versions differ"`
	Sentence string           `json:"sentence" doc:"in words"`
}

// Figure is one place where two answers differ.
type Figure struct {
	station.Change
	Shows bool `json:"shows" doc:"true when the difference shows in six significant digits, or in words"`
}

// Again evaluates the stored document again, in the way it was evaluated then, and compares the
// answer with the stored one, byte by byte. Of the options the version of the program counts: it
// tells which program evaluates now. An error says that this program can't evaluate the document.
func Again(r *Record, o determination.Options) (*Repeat, error) {
	mode, err := monteCarloMode(r.Versions.MonteCarlo)
	if err != nil {
		return nil, err
	}
	// The answer names the program; the stored name goes in, so that it makes no difference.
	answer, err := evaluate(r.Document, determination.Options{MonteCarlo: mode, Version: r.Versions.Program})
	if err != nil {
		return nil, under("document", err)
	}
	now := versions(determination.Options{MonteCarlo: mode, Version: o.Version})
	p := &Repeat{}
	if p.Versions, err = compare(r.Versions, now); err != nil {
		return nil, err
	}
	changes, err := station.Compare(r.Answer, answer)
	if err != nil {
		return nil, err
	}
	for _, c := range changes {
		p.Figures = append(p.Figures, Figure{c, shows(c)})
	}
	c, err := Document(&r.Sheet, r.Station, r.Instruments)
	if err != nil {
		return nil, under("sheet", err)
	}
	if p.Document, err = station.Compare(r.Document, c.Document); err != nil {
		return nil, err
	}
	p.Same = bytes.Equal(r.Answer, answer) && bytes.Equal(r.Document, c.Document)
	p.Sentence = p.sentence()
	return p, nil
}

func (p *Repeat) sentence() string {
	var other []string
	for _, v := range p.Versions {
		other = append(other, fmt.Sprintf("%s %s, then %s", v.Path, v.New, v.Old))
	}
	by := "by the same program"
	if len(other) > 0 {
		by = "by another program (" + strings.Join(other, "; ") + ")"
	}
	differ, show, news := 0, 0, 0
	for _, f := range p.Figures {
		switch {
		case strings.HasPrefix(f.Path, "program."):
			// The versions are said already.
		case f.Old == "":
			news++ // an older program did not say it at all
		case f.Shows:
			differ, show = differ+1, show+1
		default:
			differ++
		}
	}
	more := ""
	if news > 0 {
		more = fmt.Sprintf("; %d more were not given then", news)
	}
	switch {
	case p.Same:
		return "Evaluated again " + by + ": every figure is the same, bit for bit."
	case len(p.Document) > 0:
		return fmt.Sprintf("Evaluated again %s: readings and station make another document, in %d places.", by, len(p.Document))
	case show > 0:
		return fmt.Sprintf("Evaluated again %s: %s, %d of them visibly%s.", by, figures(differ), show, more)
	}
	return fmt.Sprintf("Evaluated again %s: %s in their last bits, none in six digits%s.", by, figures(differ), more)
}

func figures(n int) string {
	if n == 1 {
		return "1 figure differs"
	}
	return fmt.Sprintf("%d figures differ", n)
}

// shows is true where a difference is one of words, or of numbers at six significant digits.
// Numbers so small that they are the noise of a difference of large ones do not show.
func shows(c station.Change) bool {
	var x, y float64
	if json.Unmarshal([]byte(c.Old), &x) != nil || json.Unmarshal([]byte(c.New), &y) != nil {
		return true
	}
	return !(math.Abs(x-y) <= 1e-6*math.Max(math.Abs(x), math.Abs(y))+1e-12)
}

func compare(before, after any) ([]station.Change, error) {
	x, err := json.Marshal(before)
	if err != nil {
		return nil, err
	}
	y, err := json.Marshal(after)
	if err != nil {
		return nil, err
	}
	return station.Compare(x, y)
}

// Difference lists both sides of a correction.
type Difference struct {
	Sheet    []station.Change `json:"sheet,omitempty" doc:"what was asked and read"`
	Station  []station.Change `json:"station,omitempty" doc:"the station and its instruments"`
	Document []station.Change `json:"document,omitempty" doc:"what was evaluated"`
	Answer   []station.Change `json:"answer,omitempty" doc:"what came of it"`
}

// Differences lists what differs between a record and its correction.
func Differences(before, after *Record) (*Difference, error) {
	type place struct {
		Station     *station.Station     `json:"station,omitempty"`
		Instruments []station.Instrument `json:"instruments,omitempty"`
	}
	d := &Difference{}
	for _, part := range []struct {
		into *[]station.Change
		x, y any
	}{
		{&d.Sheet, before.Sheet, after.Sheet},
		{&d.Station, place{before.Station, before.Instruments}, place{after.Station, after.Instruments}},
		{&d.Document, before.Document, after.Document},
		{&d.Answer, before.Answer, after.Answer},
	} {
		var err error
		if *part.into, err = compare(part.x, part.y); err != nil {
			return nil, err
		}
	}
	return d, nil
}
