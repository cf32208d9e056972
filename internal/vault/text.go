package vault

import (
	"unicode"
	"unicode/utf8"
)

// checkText refuses what would be shown otherwise than it is stored. Letters of every script pass,
// and so do the joiners that Persian and Indian names need.
func checkText(path, text string, longest int, lines bool) error {
	if !utf8.ValidString(text) {
		return bad(path, "Type it again, or save the file as UTF-8.", "is not UTF-8 text")
	}
	if n := utf8.RuneCountInString(text); n > longest {
		return bad(path, "Shorten it.", "has %d characters, at most %d are allowed", n, longest)
	}
	place := 0
	for _, r := range text {
		place++
		if r == '\n' && lines {
			continue
		}
		if what, hint := unwanted(r); what != "" {
			return bad(path, hint, "holds %s (U+%04X) as character %d", what, r, place)
		}
	}
	return nil
}

func unwanted(r rune) (what, hint string) {
	const again = "Delete it, or type the text again instead of pasting it."
	switch {
	case r == '\n' || r == '\r' || r == '\u2028' || r == '\u2029':
		return "a line break", "Write it on one line; only address and note may have several, separated by a plain line feed."
	case r == '\t':
		return "a tab", "Use a space."
	case unicode.IsControl(r):
		return "a control character", again
	case unicode.Is(unicode.Bidi_Control, r):
		return "a character that changes the direction of writing", again
	case r == utf8.RuneError:
		return "the mark of an unreadable character", "Type that character again."
	case unicode.Is(unicode.Cf, r) && r != '\u200c' && r != '\u200d':
		return "an invisible character", again
	case unicode.In(r, unicode.Co, unicode.Cs, unicode.Noncharacter_Code_Point):
		return "a character without a meaning", again
	}
	return "", ""
}
