package people

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"wreath/internal/strictjson"
)

// Person is someone who works at the desk. A person is never deleted, and an id is never given
// to someone else: signatures of years ago still say who signed.
type Person struct {
	Format     int        `json:"format"`          // 1
	ID         string     `json:"id"`              // short, lower case: "ada"; what is typed to sign in
	Name       string     `json:"name"`            // as printed beside signatures
	Roles      []Role     `json:"roles"`           // at least one
	Since      time.Time  `json:"since"`           // when the person began
	Until      *time.Time `json:"until,omitempty"` // when the person left, or is to leave
	Ended      bool       `json:"ended"`           // has left; for good
	Generation int        `json:"generation"`      // from 1; rises when password or roles change and when the person leaves
}

// Check refuses a person that cannot be stored.
func (p Person) Check() error {
	if p.Format != 1 {
		return &strictjson.FieldError{Path: "format", Reason: fmt.Sprintf("is %d, but 1 is meant", p.Format), Hint: "Is this document from a newer version of the program?"}
	}
	if err := checkID(p.ID); err != nil {
		return err
	}
	if err := checkName(p.Name); err != nil {
		return err
	}
	if err := CheckRoles("roles", p.Roles); err != nil {
		return err
	}
	switch {
	case p.Since.IsZero():
		return &strictjson.FieldError{Path: "since", Reason: "is missing", Hint: "Say when the person began."}
	case p.Until != nil && p.Until.Before(p.Since):
		return &strictjson.FieldError{Path: "until", Reason: "is before since", Hint: "Check both dates."}
	case p.Ended && p.Until == nil:
		return &strictjson.FieldError{Path: "until", Reason: "is missing, but the person has left", Hint: "Say when the person left."}
	case p.Generation < 1:
		return &strictjson.FieldError{Path: "generation", Reason: "is less than 1", Hint: "A new person has generation 1."}
	}
	return nil
}

func checkID(id string) error {
	ok := len(id) >= 2 && len(id) <= 32 && id[0] >= 'a' && id[0] <= 'z'
	for _, c := range []byte(id) {
		ok = ok && (c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '-')
	}
	if !ok {
		return &strictjson.FieldError{Path: "id", Reason: fmt.Sprintf("%q cannot be a person's id", id),
			Hint: "Use 2 to 32 small letters a to z, digits and hyphens, a letter first: ada."}
	}
	return nil
}

// checkName lets through any writing system, but nothing that would not show in print or would
// make two names look the same.
func checkName(name string) error {
	bad := func(why string) error {
		return &strictjson.FieldError{Path: "name", Reason: why, Hint: "Write the name as it is to be printed beside signatures: Ada Example."}
	}
	switch {
	case strings.TrimSpace(name) == "":
		return bad("is empty")
	case len(name) > 200:
		return bad("is longer than 200 bytes")
	case name != strings.TrimSpace(name) || strings.Contains(name, "  "):
		return bad("has a space too many")
	case !norm.NFC.IsNormalString(name):
		return bad("is not in composed form (Unicode NFC)")
	}
	for _, r := range name {
		if r != ' ' && !unicode.IsGraphic(r) || r != ' ' && unicode.IsSpace(r) || r == unicode.ReplacementChar {
			return bad(fmt.Sprintf("has a character that does not print (U+%04X)", r))
		}
	}
	return nil
}

// Active tells whether the person works here at the time.
func (p Person) Active(now time.Time) bool {
	return !p.Ended && !now.Before(p.Since) && (p.Until == nil || now.Before(*p.Until))
}

// Allow returns nil when the person may do the action now, and *Refused when not.
func (p Person) Allow(a Action, now time.Time) error {
	r, known := rule(a)
	switch {
	case !known:
		return &Refused{a, p.Name, "there is no such action", "Nobody may do it. Is the program out of date?"}
	case !p.Active(now):
		return &Refused{a, p.Name, "they do not work here at this time", "Ask an administrator whether the dates are right."}
	case !May(p.Roles, a):
		return &Refused{a, p.Name, "it needs the role " + strings.ReplaceAll(joinRoles(r.Roles), ", ", " or ") + "; they have " + joinRoles(p.Roles),
			"Ask someone with that role, or an administrator to give it."}
	}
	return nil
}

// PasswordChanged returns the person after a new password: what was begun before has ended.
func (p Person) PasswordChanged() Person {
	p.Generation++
	return p
}

// WithRoles returns the person with other roles: what was begun before has ended.
func (p Person) WithRoles(roles []Role) Person {
	p.Roles = slices.Clone(roles)
	p.Generation++
	return p
}

// Leave returns the person after leaving. It ends sessions, PINs and tokens and is for good: who
// comes back gets a new id.
func (p Person) Leave(now time.Time) Person {
	if p.Ended {
		return p
	}
	if now.Before(p.Since) { // added and ended while the clock was being mended
		now = p.Since
	}
	p.Until, p.Ended = &now, true
	p.Generation++
	return p
}

// CheckAdd refuses a new person whose id was ever used, or whose printed name is that of
// someone else who works here.
func CheckAdd(all []Person, p Person, now time.Time) error {
	if err := p.Check(); err != nil {
		return err
	}
	for _, other := range all {
		if other.ID == p.ID {
			return &strictjson.FieldError{Path: "id", Reason: fmt.Sprintf("%s is or was %s, and an id is never given again", p.ID, other.Name),
				Hint: "Choose another id, for example " + p.ID + "-2."}
		}
		if other.Active(now) && strings.EqualFold(other.Name, p.Name) {
			return &strictjson.FieldError{Path: "name", Reason: fmt.Sprintf("%s (id %s) works here already", other.Name, other.ID),
				Hint: "Add what tells them apart, as it is to be printed: Ada Example (cellar)."}
		}
	}
	return nil
}

// CheckChange refuses a change that would leave nobody who may administer. after replaces the
// person with the same id.
func CheckChange(all []Person, after Person, now time.Time) error {
	if err := after.Check(); err != nil {
		return err
	}
	found, left := false, 0
	for _, p := range all {
		if p.ID == after.ID {
			if p.Ended && !after.Ended {
				return &strictjson.FieldError{Path: "ended", Reason: p.Name + " has left, and leaving is for good", Hint: "Add the person again under a new id."}
			}
			if after.Generation < p.Generation {
				return &strictjson.FieldError{Path: "generation", Reason: "would go back", Hint: "Start from the person as stored."}
			}
			found, p = true, after
		}
		// A set end that has not come counts too, or the desk would lock itself on that day.
		if p.Active(now) && p.Until == nil && slices.Contains(p.Roles, Administer) {
			left++
		}
	}
	if !found {
		return &strictjson.FieldError{Path: "id", Reason: "there is no person " + after.ID, Hint: "Add the person first."}
	}
	if left == 0 {
		return &strictjson.FieldError{Path: "roles", Reason: "nobody would be left who may administer",
			Hint: "Give the role administer to someone who stays, then make this change."}
	}
	return nil
}
