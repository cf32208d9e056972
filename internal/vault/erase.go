package vault

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// Erasure is the record that the key of a customer was destroyed. It holds nothing personal and
// goes into the log.
type Erasure struct {
	Format   int       `json:"format"`
	Customer string    `json:"customer"`
	At       time.Time `json:"at"`
	By       string    `json:"by"`     // who destroyed the key: the identifier of one of our own people
	Reason   string    `json:"reason"` // "the time of keeping is over", "asked for by the customer", ...
}

// Check tells whether the record is complete.
func (e Erasure) Check() error {
	if e.Format != Format {
		return bad("format", "Read this document with the program that wrote it, or a newer one.", "is %d, but this program knows %d", e.Format, Format)
	}
	if err := checkCustomer(e.Customer); err != nil {
		return err
	}
	if e.At.IsZero() {
		return bad("at", "Give the time of the erasure.", "is missing")
	}
	if strings.TrimSpace(e.By) == "" {
		return bad("by", "Say who erases.", "is missing")
	}
	if strings.TrimSpace(e.Reason) == "" {
		return bad("reason", "Say why, without naming the customer.", "is missing")
	}
	if err := checkText("by", e.By, 100, false); err != nil {
		return err
	}
	return checkText("reason", e.Reason, 500, false)
}

// ErasedError is the answer to who asks for data that were erased.
type ErasedError struct{ Erasure Erasure }

func (e *ErasedError) Error() string {
	return fmt.Sprintf("the personal data of customer %s were erased on %s: %s",
		e.Erasure.Customer, e.Erasure.At.Format(time.DateOnly), e.Erasure.Reason)
}

// Custody is the key of one customer, or the record that it was destroyed; never both.
type Custody struct {
	customer string
	key      Key
	erased   *Erasure
}

// Keep is the custody of a key that exists.
func Keep(customer string, key Key) (Custody, error) {
	if err := checkCustomer(customer); err != nil {
		return Custody{}, err
	}
	if key.IsZero() {
		return Custody{}, errors.New("there is no key to keep for this customer")
	}
	return Custody{customer: customer, key: key}, nil
}

// Gone is the custody of a key that was destroyed.
func Gone(e Erasure) (Custody, error) {
	if err := e.Check(); err != nil {
		return Custody{}, err
	}
	return Custody{customer: e.Customer, erased: &e}, nil
}

// Customer is whose key this is.
func (c Custody) Customer() string { return c.customer }

// Erased returns the record of the erasure, and whether there was one.
func (c Custody) Erased() (Erasure, bool) {
	if c.erased == nil {
		return Erasure{}, false
	}
	return *c.erased, true
}

// Key is the key to store. An *ErasedError tells that it is gone.
func (c Custody) Key() (Key, error) {
	if c.erased != nil {
		return Key{}, &ErasedError{*c.erased}
	}
	if c.key.IsZero() {
		return Key{}, errors.New("there is no key for the personal data of this customer")
	}
	return c.key, nil
}

// Open opens one version of this customer's data, as the function Open.
func (c Custody) Open(s Sealed) (Person, error) {
	key, err := c.Key()
	if err != nil {
		return Person{}, err
	}
	if s.Customer != c.customer {
		return Person{}, fmt.Errorf("sealed data of customer %s do not belong to customer %s", s.Customer, c.customer)
	}
	return Open(key, s)
}

// Apply destroys the key, in this Custody and in every copy of it, for an erasure, be it new or one that the log knows and a restored backup
// has forgotten. To apply a second one changes nothing: the first stays the reason.
func (c *Custody) Apply(e Erasure) error {
	if err := e.Check(); err != nil {
		return err
	}
	if e.Customer != c.customer {
		return fmt.Errorf("the erasure of customer %s does not concern customer %s", e.Customer, c.customer)
	}
	c.key.destroy()
	c.key = Key{}
	if c.erased == nil {
		c.erased = &e
	}
	return nil
}
