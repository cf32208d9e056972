package people

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"wreath/internal/strictjson"
)

// Length of a password. SP 800-63B-4 3.1.1.2 asks for 15 characters where the password is the
// only factor, and for room for 64. The room here ends where a request would be abuse.
const (
	MinPassword      = 15   // characters (code points), after normalization
	MaxPasswordBytes = 1024 // as UTF-8, after normalization
)

// PasswordHint is shown where a password is chosen.
const PasswordHint = "Use 15 characters or more: four or five words that do not belong together are easy to keep in mind. " +
	"Spaces and any script are fine, and so is a password manager. Nothing needs digits or signs, and it does not expire."

// CheckPassword refuses a new password that is too short or too easy to guess. context holds
// words that a guesser would try for this person: id, printed name, name of the shop.
// There are no rules about kinds of characters, and a password does not expire.
func CheckPassword(password string, context ...string) error {
	normal, err := normalize(password)
	if err != nil {
		return err
	}
	if n := utf8.RuneCountInString(normal); n < MinPassword {
		return passwordError(fmt.Sprintf("has %d characters, but at least %d are needed", n, MinPassword))
	}
	if why := guessable(normal, context); why != "" {
		return passwordError(why)
	}
	return nil
}

func passwordError(reason string) error {
	return &strictjson.FieldError{Path: "password", Reason: reason, Hint: PasswordHint}
}

// normalize brings the ways in which keyboards make the same text to one (Unicode NFC, process
// for stabilized strings, UAX #15 section 12.1, as SP 800-63B-4 3.1.1.2 asks). Spaces stay.
func normalize(password string) (string, error) {
	tooLong := fmt.Sprintf("is longer than %d bytes", MaxPasswordBytes)
	if len(password) > 4*MaxPasswordBytes { // before any work is done; composing only shortens so far
		return "", passwordError(tooLong)
	}
	if !utf8.ValidString(password) {
		return "", passwordError("is not UTF-8 text")
	}
	for _, r := range password {
		switch {
		case unicode.IsControl(r):
			return "", passwordError(fmt.Sprintf("has a control character (U+%04X), which some keyboards cannot type", r))
		case unicode.Is(unicode.Cn, r):
			// A later edition of Unicode could compose it otherwise, and the password would no longer fit.
			return "", passwordError(fmt.Sprintf("has a character (U+%04X) that is too new to be sure of", r))
		}
	}
	normal := norm.NFC.String(password)
	if len(normal) > MaxPasswordBytes {
		return "", passwordError(tooLong)
	}
	return strings.Clone(normal), nil
}
