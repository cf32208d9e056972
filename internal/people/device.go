package people

import (
	"fmt"
	"io"
	"time"
	"unicode"

	"wreath/internal/strictjson"
)

// Device is a counter terminal that an administrator has enrolled. It holds a secret of its own;
// PINs work only there.
type Device struct {
	ID         string     `json:"id"`          // "d-7k2m9q4x"
	Name       string     `json:"name"`        // "front counter"
	Shared     bool       `json:"shared"`      // several people use it: sessions lock early
	SecretHash string     `json:"secret_hash"` // SHA-256, hex
	Enrolled   time.Time  `json:"enrolled"`
	EnrolledBy string     `json:"enrolled_by"` // a person's id
	Ended      *time.Time `json:"ended,omitempty"`
}

// NewDevice enrols a device. shown goes to the device and is not stored here.
func NewDevice(random io.Reader, name string, shared bool, by string, now time.Time) (secret string, d Device, err error) {
	if err := checkLabel("name", name); err != nil {
		return "", Device{}, err
	}
	id, err := newID(random, "d-")
	if err != nil {
		return "", Device{}, err
	}
	secret, hash, err := newSecret(devicePrefix, random)
	return secret, Device{ID: id, Name: name, Shared: shared, SecretHash: hash, Enrolled: now, EnrolledBy: by}, err
}

// DeviceKey returns the key under which the device with this secret is stored, its SecretHash.
func DeviceKey(secret string) (string, error) { return lookUp(devicePrefix, secret) }

// Check returns nil when the secret is this device's and the device is still enrolled.
func (d Device) Check(secret string) error {
	hash, err := DeviceKey(secret)
	switch {
	case err != nil || !sameHash(hash, d.SecretHash):
		return &SignInError{"this device is not enrolled", "Sign in with your password, and ask an administrator to enrol the device."}
	case d.Ended != nil:
		return &SignInError{"the device " + d.Name + " is no longer enrolled", "Sign in with your password, and ask an administrator to enrol it anew."}
	}
	return nil
}

// SignInError says why somebody could not sign in or go on, and what to do.
type SignInError struct{ Reason, Hint string }

func (e *SignInError) Error() string { return e.Reason }

func checkLabel(path, s string) error {
	if s == "" || len(s) > 100 || s[0] == ' ' || s[len(s)-1] == ' ' {
		return &strictjson.FieldError{Path: path, Reason: fmt.Sprintf("%q cannot be a name", s), Hint: "Use 1 to 100 characters: front counter."}
	}
	for _, r := range s {
		if r != ' ' && (!unicode.IsGraphic(r) || unicode.IsSpace(r) || r == unicode.ReplacementChar) {
			return &strictjson.FieldError{Path: path, Reason: fmt.Sprintf("has a character that does not print (U+%04X)", r), Hint: "Leave it out."}
		}
	}
	return nil
}
