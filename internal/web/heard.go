package web

import (
	"bytes"
	"errors"
	"math"
	"net/http"
	"strconv"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/ledger"
	"wreath/internal/line"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/source"
	"wreath/internal/station"
)

// heardView is what an instrument said before a reading.
type heardView struct {
	record.Reading
	Name  string // of the row
	Lines []string
	Path  string // the numbers in their order, as a line; "" where they can't be read
	Low   string // the smallest and the largest of them
	High  string
	Wrong string // it is not what was heard
}

// heardBefore are the streams kept beside the readings of a record, each held against its hash.
func (s *Server) heardBefore(r *http.Request, who *desk.Who, sheet record.Sheet, rows []slotView) ([]heardView, error) {
	var out []heardView
	var equipment desk.Equipment
	d := s.current()
	for _, row := range rows {
		for _, reading := range row.Readings {
			if reading.Evidence == "" {
				continue
			}
			if len(out) == 0 && who.May(people.SeeStations) {
				var err error
				if equipment, err = d.Equipment(r.Context(), who); err != nil {
					return nil, err
				}
			}
			v := heardView{Reading: reading, Name: row.Name}
			data, err := d.Stream(r.Context(), who, reading.Evidence)
			var user *desk.UserError
			switch {
			case err == nil:
				v.show(data, patternOf(equipment, sheet, reading))
			case errors.As(err, &user) || errors.Is(err, ledger.ErrBroken) || strings.Contains(err.Error(), "was changed"):
				v.Wrong = err.Error()
			default:
				return nil, err
			}
			out = append(out, v)
		}
	}
	return out, nil
}

// patternOf is how the lines of the instrument of a reading are read now; nil where nobody knows.
func patternOf(e desk.Equipment, sheet record.Sheet, r record.Reading) *line.Pattern {
	id := ""
	if r.Instrument != nil {
		id = r.Instrument.ID
	} else if at := sheet.TakenAt(r.No); at != nil {
		for _, place := range e.Stations {
			if place.ID != at.ID {
				continue
			}
			of := place.Balance
			if r.Slot == "liquid.temperature_c" {
				of = place.Thermometer
			}
			if of != nil {
				id = of.ID
			}
		}
	}
	for i := range e.Instruments {
		if instrument := &e.Instruments[i]; instrument.ID == id {
			return patternIn(instrument)
		}
	}
	return nil
}

func patternIn(i *station.Instrument) *line.Pattern {
	if i.Link == nil || i.Link.Pattern == nil {
		return nil
	}
	p, err := line.DecodePattern(i.Link.Pattern)
	if err != nil {
		return nil // the page of the instrument says so
	}
	return p
}

// show writes the lines down and draws the numbers in them. The times between the lines are not kept, so
// they stand at equal distances.
func (v *heardView) show(data []byte, p *line.Pattern) {
	for part := range bytes.FieldsFuncSeq(data, func(r rune) bool { return r == '\n' || r == '\r' }) {
		v.Lines = append(v.Lines, source.Escape(part))
	}
	if p == nil {
		return
	}
	var numbers []float64
	text := map[float64]string{}
	f := line.NewFramer(p.Framing)
	f.Whole()
	read := func(l line.Line) {
		value, err := p.Read(l.Bytes)
		if l.Damaged == "" && err == nil && value.State == line.Reading {
			numbers = append(numbers, value.Number)
			text[value.Number] = value.Text + " " + value.Unit
		}
	}
	f.Write(data, 0, read)
	f.Idle(60, read)
	if len(numbers) < 2 {
		return
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, x := range numbers {
		low, high = min(low, x), max(high, x)
	}
	v.Low, v.High = text[low], text[high]
	if high == low {
		low, high = low-1, high+1
	}
	var out strings.Builder
	for i, x := range numbers {
		command := "L"
		if i == 0 {
			command = "M"
		}
		at := signalWide * float64(i) / float64(len(numbers)-1)
		out.WriteString(command + strconv.FormatFloat(at, 'f', 1, 64) + " " + strconv.FormatFloat(1+(signalHigh-2)*(high-x)/(high-low), 'f', 1, 64))
	}
	v.Path = out.String()
}
