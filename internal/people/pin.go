package people

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"wreath/internal/strictjson"
)

// A PIN is for handing over a shared counter within seconds. It is no password: it works only at
// one enrolled device, whose secret is mixed into its hash, and only for 12 hours after its person
// signed in there by password. SP 800-63B-4 2.2.3 lets a session that was idle go on by a short
// proof with the session's secret; 3.2.10 recommends six digits (from memory).
const (
	MinPIN    = 6
	MaxPIN    = 12
	PINTries  = 5 // wrong ones in a row; then the password is needed
	PINWindow = 12 * time.Hour
)

// PIN is what is stored of one person's PIN at one device.
type PIN struct {
	Person     string    `json:"person"`
	Device     string    `json:"device"`
	Hash       string    `json:"hash"`       // Argon2id of the PIN, keyed with the device's secret
	Generation int       `json:"generation"` // of the person when it was set
	Set        time.Time `json:"set"`
	PasswordAt time.Time `json:"password_at"` // when the person last gave the password at the device; zero: not since signing out
	Wrong      int       `json:"wrong"`       // in a row
	Seen       time.Time `json:"seen"`        // latest time at which it was looked at
}

// CheckPIN refuses a new PIN that is too short or among those tried first. Dates are let through:
// five tries at one counter do not go far among them.
func CheckPIN(pin string) error {
	bad := func(reason string) error {
		return &strictjson.FieldError{Path: "pin", Reason: reason,
			Hint: fmt.Sprintf("Choose %d to %d digits without a pattern.", MinPIN, MaxPIN)}
	}
	for _, c := range []byte(pin) {
		if c < '0' || c > '9' {
			return bad("has something other than the digits 0 to 9")
		}
	}
	switch {
	case len(pin) < MinPIN:
		return bad(fmt.Sprintf("has %d digits, but at least %d are needed", len(pin), MinPIN))
	case len(pin) > MaxPIN:
		return bad(fmt.Sprintf("has more than %d digits", MaxPIN))
	case steady(pin):
		return bad("counts up or down, or is one digit")
	case period([]rune(pin)) < len(pin):
		return bad("repeats a shorter piece")
	case mirrored(pin):
		return bad("reads the same backwards")
	case doubled(pin):
		return bad("is made of pairs")
	case pin == "159753" || pin == "147258" || pin == "147258369" || pin == "258456" || pin == "789456" || pin == "741852963" || pin == "456789123":
		return bad("draws a figure on the keys") // from memory
	}
	return nil
}

// steady tells whether all digits follow by the same step, 0 after 9.
func steady(pin string) bool {
	for i := 2; i < len(pin); i++ {
		if (pin[i]-pin[i-1]+10)%10 != (pin[1]-pin[0]+10)%10 {
			return false
		}
	}
	return true
}

func mirrored(pin string) bool {
	for i := range len(pin) / 2 {
		if pin[i] != pin[len(pin)-1-i] {
			return false
		}
	}
	return true
}

func doubled(pin string) bool {
	for i := 0; i+1 < len(pin); i += 2 {
		if pin[i] != pin[i+1] {
			return false
		}
	}
	return len(pin)%2 == 0
}

// pinKey is what is hashed: without the device's secret a stolen store says nothing about the PIN.
func pinKey(secret []byte, person, pin string) []byte {
	mac := hmac.New(sha256.New, secret)
	fmt.Fprintf(mac, "wreath pin\x00%s\x00%s", person, pin)
	return []byte(hex.EncodeToString(mac.Sum(nil)))
}

// NewPIN sets a PIN at a device. The person has just signed in there by password; the caller
// has seen to that.
func (h *Hasher) NewPIN(ctx context.Context, pin string, p Person, d Device, deviceSecret string, now time.Time) (PIN, error) {
	if err := CheckPIN(pin); err != nil {
		return PIN{}, err
	}
	if err := d.Check(deviceSecret); err != nil {
		return PIN{}, err
	}
	secret, err := parseSecret(devicePrefix, deviceSecret)
	if err != nil {
		return PIN{}, err
	}
	hash, err := h.hash(ctx, pinKey(secret, p.ID, pin))
	if err != nil {
		return PIN{}, err
	}
	return PIN{Person: p.ID, Device: d.ID, Hash: hash, Generation: p.Generation, Set: now, PasswordAt: now, Seen: now}, nil
}

// PasswordGiven opens the window of 12 hours and forgives wrong tries. The caller has just
// verified the person's password at the PIN's device.
func (pin *PIN) PasswordGiven(now time.Time) { pin.PasswordAt, pin.Seen, pin.Wrong = now, now, 0 }

// Close ends the window: the person has signed out for the day.
func (pin *PIN) Close() { pin.PasswordAt = time.Time{} }

// VerifyPIN returns nil when the PIN is right and may be used, and *SignInError when not. It changes
// pin, which the caller stores in either case; no other try on the same PIN may run meanwhile.
func (h *Hasher) VerifyPIN(ctx context.Context, pin *PIN, entered string, p Person, d Device, deviceSecret string, now time.Time) error {
	const byPassword = "Sign in with your password."
	if err := d.Check(deviceSecret); err != nil {
		return err
	}
	secret, err := parseSecret(devicePrefix, deviceSecret)
	if err != nil {
		return err
	}
	if now.Before(pin.Seen.Add(-ClockSlack)) {
		pin.Close()
	}
	if now.After(pin.Seen) {
		pin.Seen = now
	}
	switch {
	case pin.Person != p.ID || pin.Device != d.ID:
		return &SignInError{p.Name + " has no PIN at this device", byPassword + " Then set a PIN."}
	case !p.Active(now):
		return &SignInError{p.Name + " does not work here at this time", "Ask an administrator."}
	case pin.Generation != p.Generation:
		return &SignInError{"password or roles have changed since the PIN was set", byPassword + " Then set the PIN anew."}
	case pin.Wrong >= PINTries:
		return &SignInError{fmt.Sprintf("the PIN is off after %d wrong tries", PINTries), byPassword}
	case pin.PasswordAt.IsZero():
		return &SignInError{"the PIN is closed until the next sign-in by password at this device", byPassword}
	case pin.Seen.Sub(pin.PasswordAt) >= PINWindow:
		return &SignInError{fmt.Sprintf("the last sign-in by password here is more than %.0f hours ago", PINWindow.Hours()), byPassword}
	}
	ok, err := h.verify(ctx, pin.Hash, pinKey(secret, p.ID, entered))
	switch {
	case err != nil:
		return err
	case !ok:
		pin.Wrong++
		left := PINTries - pin.Wrong
		if left == 0 {
			return &SignInError{"wrong PIN; it is now off", byPassword}
		}
		return &SignInError{"wrong PIN", fmt.Sprintf("Type it again, or use your password. Tries left: %d.", left)}
	}
	pin.Wrong = 0
	return nil
}
