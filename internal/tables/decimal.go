package tables

import "strings"

// plain tells whether a text is a decimal number: digits, at most one point between digits, and perhaps a
// minus.
func plain(text string) bool {
	whole, part, point := strings.Cut(strings.TrimPrefix(text, "-"), ".")
	digits := func(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }
	return digits(whole) && (!point || digits(part))
}

// decimals counts the digits behind the point.
func decimals(text string) int {
	_, part, _ := strings.Cut(text, ".")
	return len(part)
}
