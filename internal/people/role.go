package people

import (
	"slices"
	"strings"

	"wreath/internal/strictjson"
)

// Role is a part that a person plays.
type Role string

// The roles. A person may have several; at a bench of one, all of them.
const (
	Measure     Role = "measure"     // weighs and records determinations
	Sign        Role = "sign"        // answers for determinations: signs, witnesses, corrects
	Instruments Role = "instruments" // keeps stations and instruments
	Price       Role = "price"       // sets prices and terms, deals with customers
	Audit       Role = "audit"       // reads everything but personal data, and changes nothing
	Administer  Role = "administer"  // people, devices, rules, backups
)

// Roles lists all roles in the order in which they are printed.
var Roles = []Role{Measure, Sign, Instruments, Price, Audit, Administer}

// CheckRoles refuses unknown roles, roles named twice, and an empty list.
func CheckRoles(path string, roles []Role) error {
	if len(roles) == 0 {
		return &strictjson.FieldError{Path: path, Reason: "no role is given", Hint: "Give at least one of " + joinRoles(Roles) + "."}
	}
	for i, r := range roles {
		if !slices.Contains(Roles, r) {
			return &strictjson.FieldError{Path: path, Reason: "there is no role " + string(r), Hint: "Roles are " + joinRoles(Roles) + "."}
		}
		if slices.Contains(roles[:i], r) {
			return &strictjson.FieldError{Path: path, Reason: "the role " + string(r) + " is given twice", Hint: "Keep one of them."}
		}
	}
	return nil
}

func joinRoles(roles []Role) string {
	words := make([]string, len(roles))
	for i, r := range roles {
		words[i] = string(r)
	}
	return strings.Join(words, ", ")
}
