package people

import (
	"fmt"
	"io"
	"slices"
	"time"

	"wreath/internal/strictjson"
)

// LongestToken is how long a service token may last.
const LongestToken = 366 * 24 * time.Hour

// ServiceToken lets a program act with some of its owner's roles. It cannot sign, witness or
// administer: those are acts of people.
type ServiceToken struct {
	ID       string     `json:"id"`
	Name     string     `json:"name"`  // what it is for: "label printer"
	Owner    string     `json:"owner"` // id of the person who answers for it
	Roles    []Role     `json:"roles"`
	Key      string     `json:"key"` // SHA-256 of the token, hex
	Made     time.Time  `json:"made"`
	Expires  time.Time  `json:"expires"`
	LastUsed *time.Time `json:"last_used,omitempty"`
	Ended    *time.Time `json:"ended,omitempty"`
}

// NewServiceToken makes a token for a program. secret is shown once and not stored.
func NewServiceToken(random io.Reader, name string, owner Person, roles []Role, expires, now time.Time) (secret string, t ServiceToken, err error) {
	if err := checkLabel("name", name); err != nil {
		return "", t, err
	}
	if err := CheckRoles("roles", roles); err != nil {
		return "", t, err
	}
	for _, r := range roles {
		switch {
		case r == Sign || r == Administer:
			return "", t, &strictjson.FieldError{Path: "roles", Reason: "a program cannot have the role " + string(r), Hint: "Signing and administering are done by people, in a session."}
		case !slices.Contains(owner.Roles, r):
			return "", t, &strictjson.FieldError{Path: "roles", Reason: fmt.Sprintf("%s does not have the role %s", owner.Name, r), Hint: "A token can have only roles of its owner."}
		}
	}
	switch {
	case !owner.Active(now):
		return "", t, &SignInError{owner.Name + " does not work here at this time", "Choose an owner who does."}
	case !expires.After(now) || expires.Sub(now) > LongestToken:
		return "", t, &strictjson.FieldError{Path: "expires", Reason: "is not within the coming 366 days", Hint: "Choose a day within a year."}
	}
	id, err := newID(random, "t-")
	if err != nil {
		return "", t, err
	}
	secret, key, err := newSecret(tokenPrefix, random)
	return secret, ServiceToken{ID: id, Name: name, Owner: owner.ID, Roles: slices.Clone(roles), Key: key, Made: now, Expires: expires}, err
}

// TokenKey returns the key under which the token is stored.
func TokenKey(secret string) (string, error) { return lookUp(tokenPrefix, secret) }

// Use returns the roles with which the program may act now: those of the token that its owner
// still has. It changes t, which the caller stores whether or not there is an error.
func (t *ServiceToken) Use(owner Person, now time.Time) ([]Role, error) {
	latest := now
	if t.LastUsed != nil && t.LastUsed.After(latest) {
		latest = *t.LastUsed
	}
	var roles []Role
	for _, r := range t.Roles {
		if slices.Contains(owner.Roles, r) && r != Sign && r != Administer {
			roles = append(roles, r)
		}
	}
	switch {
	case owner.ID != t.Owner:
		return nil, fmt.Errorf("token %s with the owner %s instead of %s", t.ID, owner.ID, t.Owner)
	case t.Ended == nil && (owner.Ended || !latest.Before(t.Expires)):
		t.Ended = &now // so that a clock set back does not bring it to life
	}
	switch {
	case t.Ended != nil:
		return nil, &SignInError{"the token " + t.Name + " has ended or expired", "Ask an administrator for a new one."}
	case !owner.Active(now):
		return nil, &SignInError{owner.Name + ", who answers for the token " + t.Name + ", does not work here at this time", "Ask an administrator for a token of someone else."}
	case len(roles) == 0:
		return nil, &SignInError{owner.Name + " has none of the roles of the token " + t.Name + " any more", "Ask an administrator for a new token."}
	}
	t.LastUsed = &latest
	return roles, nil
}

// End ends the token for good.
func (t *ServiceToken) End(now time.Time) {
	if t.Ended == nil {
		t.Ended = &now
	}
}
