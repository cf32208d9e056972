package vault

import (
	"encoding/json"
	"time"
)

// Access is what one customer gets who asks which data are kept of them: the data of that
// customer and of nobody else, readable by people and programs.
type Access struct {
	Format   int             `json:"format"`
	Customer string          `json:"customer"`
	MadeAt   time.Time       `json:"made_at"`
	Facts    AccessFacts     `json:"facts"`
	Erased   *Erasure        `json:"erased,omitempty"`
	Versions []AccessVersion `json:"versions"` // oldest first; empty after an erasure
}

// AccessFacts is what the business adds: it stands in no sealed document.
type AccessFacts struct {
	Keeper     string         `json:"keeper"`               // the business that keeps the data, and how to reach it
	Purposes   []string       `json:"purposes,omitempty"`   // why they are kept, with the rule that asks
	Recipients []string       `json:"recipients,omitempty"` // who got them
	KeptUntil  string         `json:"kept_until,omitempty"` // until when, or by what that is decided
	Rights     []string       `json:"rights,omitempty"`     // what the customer may ask for, and where to complain
	Deals      []AccessDeal   `json:"deals,omitempty"`
	Views      []AccessViewed `json:"views,omitempty"`
}

// AccessDeal is one deal of the customer.
type AccessDeal struct {
	Number      string    `json:"number"`
	At          time.Time `json:"at"`
	Kind        string    `json:"kind"`
	Description string    `json:"description,omitempty"`
	Amount      string    `json:"amount,omitempty"`
	Currency    string    `json:"currency,omitempty"`
}

// AccessViewed is one occasion at which somebody looked at the data.
type AccessViewed struct {
	At     time.Time `json:"at"`
	Role   string    `json:"role"`
	Reason string    `json:"reason,omitempty"`
}

// AccessVersion is the data as they were kept from one moment on.
type AccessVersion struct {
	Version int       `json:"version"`
	Since   time.Time `json:"since"`
	Person  Person    `json:"person"`
}

// Dated is sealed data with the moment since which they hold.
type Dated struct {
	Since  time.Time
	Sealed Sealed
}

// NewAccess opens every version and puts the answer together. Data of another customer do not
// open, so none can slip in. After an erasure the answer says that, and holds no version.
func NewAccess(c Custody, versions []Dated, facts AccessFacts, now time.Time) (Access, error) {
	if facts.Keeper == "" {
		return Access{}, bad("facts.keeper", "Name the business that keeps the data, and how to reach it.", "is missing")
	}
	a := Access{Format: Format, Customer: c.customer, MadeAt: now, Facts: facts, Versions: []AccessVersion{}}
	if e, gone := c.Erased(); gone {
		a.Erased = &e
		return a, nil
	}
	for i, v := range versions {
		if i > 0 && v.Sealed.Version <= versions[i-1].Sealed.Version {
			return Access{}, bad("versions", "Give every version once, oldest first.",
				"version %d comes after version %d", v.Sealed.Version, versions[i-1].Sealed.Version)
		}
		p, err := c.Open(v.Sealed)
		if err != nil {
			return Access{}, err
		}
		a.Versions = append(a.Versions, AccessVersion{v.Sealed.Version, v.Since, p})
	}
	return a, nil
}

// Encode writes the answer as indented JSON.
func (a Access) Encode() ([]byte, error) { return json.MarshalIndent(a, "", "  ") }
