package batch

import (
	"bytes"
	"errors"
	"strings"

	"wreath/internal/determination"
)

// jsonLines gives the rows of JSON Lines: one draft a line, blank lines passed over.
type jsonLines struct{ lines *lines }

func (s *jsonLines) next(c *chunk) error {
	for {
		l, err := s.lines.next()
		if err != nil {
			return err
		}
		if len(bytes.TrimSpace(l.text)) == 0 {
			continue
		}
		start := len(c.text)
		if l.tooLong {
			c.add(l.number, start, errTooLong)
			return nil
		}
		c.text = append(c.text, l.text...)
		c.add(l.number, start, nil)
		return nil
	}
}

func (s *jsonLines) newDecoder() decoder { return decodeJSON }

// decodeJSON reads a draft from one line. Places are named within the line.
func decodeJSON(text []byte, d *determination.Draft) error {
	err := determination.DecodeInto(text, d)
	var field *determination.InputError
	if !errors.As(err, &field) {
		return err
	}
	field.Reason = strings.Replace(field.Reason, "on line 1, column", "at column", 1)
	switch {
	case strings.HasPrefix(field.Reason, "the document ends too early"):
		field.Reason, field.Hint = "the line ends before the document does", "Put each document on one line, with every brace and quote closed."
	case strings.HasPrefix(field.Reason, "more follows after the end"):
		field.Reason, field.Hint = "more follows after the document", "Put each document on a line of its own."
	case strings.HasPrefix(field.Reason, "the file is not UTF-8"):
		field.Reason, field.Hint = "the row is not UTF-8 text", saveAsUTF8
	}
	return field
}
