package people

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wreath/internal/strictjson"
)

// Meaning says what a signature means.
type Meaning string

// The meanings.
const (
	Measured  Meaning = "measured"
	Reviewed  Meaning = "reviewed"
	Approved  Meaning = "approved"
	Witnessed Meaning = "witnessed"
	Released  Meaning = "released"
	Declined  Meaning = "refused"
)

// Meanings lists the meanings with the action that a person must be allowed, and the sentence that
// stands above the button and in the record.
var Meanings = []struct {
	Meaning  Meaning
	Action   Action
	Sentence string
}{
	{Measured, SignAsMeasurer, "I took the readings of this record."},
	{Reviewed, ReviewDetermination, "I have read this record and its history."},
	{Approved, SignDetermination, "I answer for this record and its finding."},
	{Witnessed, WitnessDetermination, "I did not measure or approve this record; I have checked it as the second person."},
	{Released, ReleaseItem, "The item may leave its hold."},
	{Declined, RefuseDetermination, "I do not accept this record."},
}

// ActionOf returns the action that a signature with this meaning is.
func ActionOf(m Meaning) (Action, error) {
	var known []string
	for _, row := range Meanings {
		if row.Meaning == m {
			return row.Action, nil
		}
		known = append(known, string(row.Meaning))
	}
	return "", &strictjson.FieldError{Path: "meaning", Reason: fmt.Sprintf("%q is no meaning of a signature", m), Hint: "Meanings are " + strings.Join(known, ", ") + "."}
}

// Signature is what is kept of a person's signing. What binds it to the record is the entry of
// the ledger in which it stands.
type Signature struct {
	Person  string    `json:"person"` // id
	Name    string    `json:"name"`   // as printed, at the time of signing
	Roles   []Role    `json:"roles"`  // at the time of signing
	Meaning Meaning   `json:"meaning"`
	At      time.Time `json:"at"`  // with the offset of the place
	How     How       `json:"how"` // the proof given for this signature
}

// Line prints the signature as it stands in every readable form: name, date and time with zone,
// meaning, and the mark of one made without signing in.
func (s Signature) Line() string {
	line := fmt.Sprintf("%s, %s, %s", s.Name, s.At.Format("2006-01-02 15:04:05 -07:00"), s.Meaning)
	if mark := s.How.Mark(); mark != "" {
		line += " (" + mark + ")"
	}
	return line
}

func (s Signature) by(r Role) bool { return slices.Contains(s.Roles, r) }
