package people

import (
	"errors"
	"fmt"
	"io"
	"time"
)

// Life and tries of a one-time code.
const (
	OneTimeLife  = time.Hour
	OneTimeTries = 5
)

// For says what a one-time code is good for.
type For string

// The uses of a one-time code.
const (
	ForSetup    For = "set-up"       // the first administrator, shown on the console at first run
	ForPassword For = "new password" // given by an administrator to one person
)

// OneTimeCode is a stored code that works once, within an hour.
type OneTimeCode struct {
	For     For        `json:"for"`
	Person  string     `json:"person,omitempty"` // id of the person it is for; none at set-up
	Hash    string     `json:"hash"`             // SHA-256, hex
	Made    time.Time  `json:"made"`
	Expires time.Time  `json:"expires"`
	Wrong   int        `json:"wrong"`
	Used    *time.Time `json:"used,omitempty"`
	Seen    time.Time  `json:"seen"` // latest time at which it was looked at
}

// NewOneTimeCode makes a code; shown is given to the person and not stored.
func NewOneTimeCode(random io.Reader, what For, person string, now time.Time) (shown string, c OneTimeCode, err error) {
	if (what == ForSetup) != (person == "") {
		return "", c, fmt.Errorf("a code for %s with person %q", what, person)
	}
	shown, hash, err := newCode(random)
	if err != nil {
		return "", c, err
	}
	return shown, OneTimeCode{For: what, Person: person, Hash: hash, Made: now, Expires: now.Add(OneTimeLife), Seen: now}, nil
}

// Use takes the code once. It changes c, which the caller stores whether or not there is an error.
// A mistyped code (*CodeError) does not count as a try.
func (c *OneTimeCode) Use(text string, now time.Time) error {
	again := "Ask for a new code."
	if c.For == ForSetup {
		again = "Start the program anew on the console; it shows a new code."
	}
	earlier := now.Before(c.Seen.Add(-ClockSlack))
	if now.After(c.Seen) {
		c.Seen = now
	}
	switch {
	case c.Used != nil:
		return &SignInError{"this code was used already", again}
	case c.Wrong >= OneTimeTries:
		return &SignInError{fmt.Sprintf("the code is off after %d wrong tries", OneTimeTries), again}
	case earlier:
		return &SignInError{"the clock was set back since the code was made", "Set the clock right. " + again}
	case !c.Seen.Before(c.Expires):
		return &SignInError{"the code has expired", again}
	}
	b, err := decodeCode(text)
	if err != nil {
		return err
	}
	if !sameHash(hashSecret(b), c.Hash) {
		c.Wrong++
		return &SignInError{"this is not the code", fmt.Sprintf("Compare it group by group. Tries left: %d.", OneTimeTries-c.Wrong)}
	}
	c.Used = &now
	return nil
}

// RecoveryCount is how many recovery codes a person gets.
const RecoveryCount = 10

// RecoveryCodes let a person back in who forgot the password. Each works once.
type RecoveryCodes struct {
	Made  time.Time      `json:"made"`
	Codes []RecoveryCode `json:"codes"`
}

// RecoveryCode is one of them.
type RecoveryCode struct {
	Hash string     `json:"hash"` // SHA-256, hex
	Used *time.Time `json:"used,omitempty"`
}

// NewRecoveryCodes makes ten codes; shown is printed for the person and not stored. Codes made
// before are replaced.
func NewRecoveryCodes(random io.Reader, now time.Time) (shown []string, r RecoveryCodes, err error) {
	r.Made = now
	for range RecoveryCount {
		text, hash, err := newCode(random)
		if err != nil {
			return nil, RecoveryCodes{}, err
		}
		shown = append(shown, text)
		r.Codes = append(r.Codes, RecoveryCode{Hash: hash})
	}
	return shown, r, nil
}

// Use takes one of the codes. Wrong codes are counted by Tries, like wrong passwords; a mistyped
// code (*CodeError) is none of the possible codes and need not be.
func (r *RecoveryCodes) Use(text string, now time.Time) error {
	b, err := decodeCode(text)
	if err != nil {
		return err
	}
	hash := hashSecret(b)
	found := -1
	for i, c := range r.Codes {
		if sameHash(hash, c.Hash) {
			found = i
		}
	}
	switch {
	case found < 0:
		return &SignInError{"this is none of your recovery codes", "Are they the latest ones? Making new codes ends the old."}
	case r.Codes[found].Used != nil:
		return &SignInError{"this recovery code was used already", "Take the next one on the sheet, and cross out those used."}
	}
	r.Codes[found].Used = &now
	return nil
}

// Left returns how many codes can still be used.
func (r RecoveryCodes) Left() int {
	n := 0
	for _, c := range r.Codes {
		if c.Used == nil {
			n++
		}
	}
	return n
}

// Mistyped tells whether an error is about the form of a code only.
func Mistyped(err error) bool {
	var c *CodeError
	return errors.As(err, &c)
}
