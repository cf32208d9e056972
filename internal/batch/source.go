package batch

import (
	"bytes"
	"errors"
	"io"
	"unicode/utf8"

	"wreath/internal/determination"
)

// source gives the rows of an input and reads drafts from them.
type source interface {
	// next adds the next row to the chunk; io.EOF when there is none left.
	next(c *chunk) error
	// newDecoder returns a reader of rows for one worker.
	newDecoder() decoder
}

// decoder reads the text of one row into an empty draft. A row that fails may have filled in some
// of the draft, its ID among it. errBlank means that nothing stands in the row.
type decoder func(text []byte, d *determination.Draft) error

var errBlank = errors.New("blank row")

// openSource finds out whether the input is CSV or JSON Lines and reads up to its first row.
func openSource(in io.Reader) (source, *lines, Format, error) {
	l := newLines(in)
	mark, err := checkEncoding(l)
	if err != nil {
		return nil, nil, 0, err
	}
	first, err := firstLine(l)
	if err != nil {
		return nil, nil, 0, err
	}
	switch text := bytes.TrimSpace(first.text); {
	case text[0] == '[':
		return nil, nil, 0, &determination.InputError{Reason: "it begins with a list in brackets", Hint: "JSON Lines holds one document on each line, without brackets around them and commas between them."}
	case text[0] != '{':
		s, err := newCSV(l, first)
		return s, l, CSV, err
	case mark:
		return nil, nil, 0, &determination.InputError{Reason: "it starts with a byte order mark", Hint: "Save it as UTF-8 without a byte order mark."}
	}
	l.putBack([]line{first})
	return &jsonLines{l}, l, JSONL, nil
}

// firstLine reads the first line that holds anything, as the caller's own.
func firstLine(l *lines) (line, error) {
	for {
		first, err := l.next()
		if err == io.EOF {
			return first, &determination.InputError{Reason: "it is empty", Hint: "Give a CSV file with a line of column names and at least one row, or JSON Lines."}
		}
		if err != nil {
			return first, &determination.InputError{Reason: "it can't be read: " + plain(err).Error(), Hint: "Name a file of CSV or JSON Lines."}
		}
		if len(bytes.TrimSpace(first.text)) > 0 {
			first.text = bytes.Clone(first.text)
			return first, nil
		}
	}
}

const saveAsUTF8 = "Save it as UTF-8; spreadsheets call it \"CSV UTF-8\"."

// checkEncoding looks at the beginning of the input without reading on, except over a UTF-8 byte
// order mark, which it reports.
func checkEncoding(l *lines) (mark bool, err error) {
	l.in.Peek(1) // waits for something to be there
	begin, _ := l.in.Peek(l.in.Buffered())
	switch {
	case bytes.HasPrefix(begin, []byte{0xef, 0xbb, 0xbf}):
		n, _ := l.in.Discard(3)
		l.bytes += int64(n)
		mark, begin = true, begin[3:]
	case bytes.HasPrefix(begin, []byte{0xff, 0xfe}), bytes.HasPrefix(begin, []byte{0xfe, 0xff}):
		return false, &determination.InputError{Reason: "it is UTF-16, not UTF-8", Hint: saveAsUTF8}
	case bytes.HasPrefix(begin, []byte("PK\x03\x04")):
		return false, &determination.InputError{Reason: "it is a spreadsheet or archive, not text", Hint: "Open it and save it as CSV (UTF-8)."}
	}
	if i := bytes.IndexByte(begin, 0); i >= 0 {
		return mark, &determination.InputError{Reason: "it holds zero bytes: it is UTF-16, or not text at all", Hint: saveAsUTF8}
	}
	if !utf8.Valid(wholeRunes(begin)) {
		return mark, &determination.InputError{Reason: "it is not UTF-8 text", Hint: saveAsUTF8}
	}
	return mark, nil
}

// wholeRunes leaves out a last rune that was cut off.
func wholeRunes(text []byte) []byte {
	for i := 1; i <= min(utf8.UTFMax, len(text)); i++ {
		if end := text[len(text)-i:]; utf8.RuneStart(end[0]) {
			if !utf8.FullRune(end) {
				return text[:len(text)-i]
			}
			break
		}
	}
	return text
}

// checkText refuses a row that is not text.
func checkText(text []byte) error {
	if utf8.Valid(text) && bytes.IndexByte(text, 0) < 0 {
		return nil
	}
	return &determination.InputError{Reason: "the row is not UTF-8 text", Hint: saveAsUTF8}
}

var errTooLong = &determination.InputError{Reason: "the row is longer than 1 MiB", Hint: "One row holds one determination; is a line end or a closing quotation mark missing?"}
