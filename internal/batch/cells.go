package batch

import "strings"

// quoting is how the quotation marks of a CSV row stand.
type quoting uint8

const (
	balanced quoting = iota
	open             // a quoted cell does not end within the text
	stray            // a quotation mark stands inside a cell that is not quoted, or text follows a quoted one
)

// splitCells appends the cells of a CSV row to dst. When the quotation marks do not stand as they
// must, the cell at fault is the one after those returned.
func splitCells(dst []string, row string, delimiter byte) ([]string, quoting) {
	for {
		start := strings.TrimLeft(row, " ")
		if !strings.HasPrefix(start, `"`) {
			end := strings.IndexByte(row, delimiter)
			last := end < 0
			if last {
				end = len(row)
			}
			if strings.IndexByte(row[:end], '"') >= 0 {
				return dst, stray
			}
			dst = append(dst, strings.TrimSpace(row[:end]))
			if last {
				return dst, balanced
			}
			row = row[end+1:]
			continue
		}
		cell, rest, closed := unquote(start[1:])
		if !closed {
			return dst, open
		}
		rest = strings.TrimLeft(rest, " ")
		if rest != "" && rest[0] != delimiter {
			return dst, stray
		}
		dst = append(dst, strings.TrimSpace(cell))
		if rest == "" {
			return dst, balanced
		}
		row = rest[1:]
	}
}

// unquote reads a quoted cell from behind its opening mark; two marks inside stand for one.
func unquote(text string) (cell, rest string, closed bool) {
	var doubled []byte
	for {
		i := strings.IndexByte(text, '"')
		if i < 0 {
			return "", "", false
		}
		if i+1 < len(text) && text[i+1] == '"' {
			doubled = append(doubled, text[:i+1]...)
			text = text[i+2:]
			continue
		}
		if doubled == nil {
			return text[:i], text[i+1:], true
		}
		return string(append(doubled, text[:i]...)), text[i+1:], true
	}
}
