package batch

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"wreath/quantity"
)

// Format is how rows are written.
type Format uint8

const (
	SameAsInput Format = iota // CSV for CSV, JSON Lines for JSON Lines
	CSV
	JSONL
)

// appendCSVText appends a text cell. A text that a spreadsheet would run as a formula gets an
// apostrophe in front; numbers stay as they are. Control characters are written as \x1b, since
// answers may go to a terminal.
func appendCSVText(dst []byte, text string) []byte {
	text = showControls(text)
	if text != "" && strings.IndexByte("=+-@\t\n", text[0]) >= 0 {
		if _, err := quantity.ParseNumber(text, true); err != nil {
			text = "'" + text
		}
	}
	if !strings.ContainsAny(text, ",;\"\t\n") && strings.TrimSpace(text) == text {
		return append(dst, text...)
	}
	dst = append(dst, '"')
	dst = append(dst, strings.ReplaceAll(text, `"`, `""`)...)
	return append(dst, '"')
}

// showControls writes the control characters of a text as Go does, \x1b, but for tabs and line ends.
func showControls(text string) string {
	control := func(r rune) bool { return unicode.IsControl(r) && r != '\t' && r != '\n' }
	if strings.IndexFunc(text, control) < 0 {
		return text
	}
	var shown strings.Builder
	for _, r := range text {
		if control(r) {
			shown.WriteString(strings.Trim(strconv.QuoteRune(r), "'"))
		} else {
			shown.WriteRune(r)
		}
	}
	return shown.String()
}

// appendJSONText appends a JSON string.
func appendJSONText(dst []byte, text string) []byte {
	for i := range len(text) {
		if b := text[i]; b < ' ' || b == '"' || b == '\\' || b >= 0x7f {
			quoted, _ := json.Marshal(text) // a string always has a JSON form
			return appendJSON(dst, quoted)
		}
	}
	dst = append(append(dst, '"'), text...)
	return append(dst, '"')
}

// appendJSON appends JSON as package json writes it, without the control characters from U+007F on
// that it lets pass.
func appendJSON(dst, written []byte) []byte {
	if bytes.IndexFunc(written, unicode.IsControl) < 0 {
		return append(dst, written...)
	}
	for _, r := range string(written) {
		if unicode.IsControl(r) {
			dst = fmt.Appendf(dst, `\u%04x`, r)
		} else {
			dst = utf8.AppendRune(dst, r)
		}
	}
	return dst
}

// printable makes a text from an input fit for one line of a terminal: control characters and
// marks that turn the direction of writing are shown, not obeyed.
func printable(text string) string {
	for _, r := range text {
		if !unicode.IsPrint(r) {
			quoted := strconv.Quote(text)
			return quoted[1 : len(quoted)-1]
		}
	}
	return text
}
