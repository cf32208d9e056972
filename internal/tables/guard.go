package tables

import "strings"

// risky are the characters with which a spreadsheet takes a text for a formula or a command, in their
// usual and in their wide form. The first seven are those that OWASP names for CSV injection (its page of
// that name); the bar and the per cent sign began commands of older programs (memory).
const risky = "=+-@\t\r\n＝＋－＠|%"

// begins tells whether a text begins like a formula, behind any spaces and apostrophes.
func begins(text string) bool {
	rest := strings.TrimLeft(text, " '")
	for _, r := range rest {
		return strings.ContainsRune(risky, r)
	}
	return false
}

// Guard puts an apostrophe before a text that a spreadsheet could take for a formula. No other text is
// changed, so that Unguard finds every text again as it was.
func Guard(text string) string {
	if begins(text) {
		return "'" + text
	}
	return text
}

// Unguard takes the apostrophe away that Guard put there.
func Unguard(text string) string {
	if rest, found := strings.CutPrefix(text, "'"); found && begins(rest) {
		return rest
	}
	return text
}
