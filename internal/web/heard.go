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
	Lines []heardLine
	Path  string // the numbers over time, as a line; "" where they can't be read
	Low   string // the smallest and the largest of them
	High  string
	Wrong string // it is not what was heard
}

// heardLine is a line as it came.
type heardLine struct {
	Ago  string // seconds before the last; "" where the times were not kept
	Text string
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

// heardPiece is what came at one time, s.
type heardPiece struct {
	seconds float64
	bytes   []byte
}

// pieces parts what was kept. Of lines that were kept without their times, one stands a second after the other.
func pieces(data []byte) (out []heardPiece, timed bool) {
	_, err := source.ReadRecording(bytes.NewReader(data), func(e source.Event) bool {
		if e.Kind == source.Heard {
			out = append(out, heardPiece{e.Seconds, e.Bytes})
		}
		return true
	})
	if err == nil {
		return out, true
	}
	out = nil
	for line := range bytes.SplitAfterSeq(data, []byte("\n")) {
		if len(line) > 0 {
			out = append(out, heardPiece{float64(len(out)), line})
		}
	}
	return out, false
}

// show writes the lines down and draws the numbers in them over their time.
func (v *heardView) show(data []byte, p *line.Pattern) {
	all, timed := pieces(data)
	if len(all) == 0 {
		return
	}
	begin, end := all[0].seconds, all[len(all)-1].seconds
	for _, piece := range all {
		text := strings.TrimRight(string(piece.bytes), "\r\n")
		if text == "" {
			continue
		}
		l := heardLine{Text: source.Escape([]byte(text))}
		if timed {
			l.Ago = strconv.FormatFloat(piece.seconds-end, 'f', 2, 64)
		}
		v.Lines = append(v.Lines, l)
	}
	if p == nil {
		return
	}
	type point struct{ seconds, number float64 }
	var points []point
	text := map[float64]string{}
	f := line.NewFramer(p.Framing)
	f.Whole()
	read := func(l line.Line) {
		value, err := p.Read(l.Bytes)
		if l.Damaged == "" && err == nil && value.State == line.Reading {
			points = append(points, point{l.Seconds, value.Number})
			text[value.Number] = value.Text + " " + value.Unit
		}
	}
	for _, piece := range all {
		f.Write(piece.bytes, piece.seconds, read)
	}
	f.Idle(end+60, read)
	if len(points) < 2 {
		return
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, x := range points {
		low, high = min(low, x.number), max(high, x.number)
	}
	v.Low, v.High = text[low], text[high]
	if high == low {
		low, high = low-1, high+1
	}
	if end == begin {
		end++
	}
	var out strings.Builder
	for i, x := range points {
		command := "L"
		if i == 0 {
			command = "M"
		}
		at := signalWide * min(1, (x.seconds-begin)/(end-begin))
		out.WriteString(command + strconv.FormatFloat(at, 'f', 1, 64) + " " + strconv.FormatFloat(1+(signalHigh-2)*(high-x.number)/(high-low), 'f', 1, 64))
	}
	v.Path = out.String()
}
