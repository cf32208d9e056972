package batch

import (
	"encoding/json"
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
// apostrophe in front; numbers stay as they are.
func appendCSVText(dst []byte, text string) []byte {
	if text != "" && strings.IndexByte("=+-@\t\r", text[0]) >= 0 {
		if _, err := quantity.ParseNumber(text, true); err != nil {
			text = "'" + text
		}
	}
	if !strings.ContainsAny(text, ",;\"\t\r\n") && strings.TrimSpace(text) == text {
		return append(dst, text...)
	}
	dst = append(dst, '"')
	dst = append(dst, strings.ReplaceAll(text, `"`, `""`)...)
	return append(dst, '"')
}

// appendJSONText appends a JSON string.
func appendJSONText(dst []byte, text string) []byte {
	for i := range len(text) {
		if b := text[i]; b < ' ' || b == '"' || b == '\\' || b >= utf8.RuneSelf {
			quoted, _ := json.Marshal(text) // a string always has a JSON form
			return append(dst, quoted...)
		}
	}
	dst = append(append(dst, '"'), text...)
	return append(dst, '"')
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
