package people

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"
)

func TestCheckPIN(t *testing.T) {
	for _, c := range []struct{ pin, words string }{
		{"481620", ""}, {"4816203957", ""}, {"010203", ""}, {"190784", ""}, {"123789", ""}, {"999998", ""},
		{"", "at least 6"}, {"4816", "at least 6"}, {"48162", "has 5 digits"},
		{"4816203957123", "more than 12"},
		{"48162a", "digits 0 to 9"}, {"481 620", "digits 0 to 9"}, {"٤٨١٦٢٠", "digits 0 to 9"},
		{"000000", "one digit"}, {"777777", "one digit"},
		{"123456", "up or down"}, {"654321", "up or down"}, {"890123", "up or down"}, {"246802", "up or down"},
		{"121212", "repeats"}, {"123123", "repeats"}, {"48164816", "repeats"},
		{"123321", "backwards"}, {"481184", "backwards"},
		{"112233", "pairs"}, {"447711", "pairs"},
		{"159753", "figure"}, {"147258", "figure"},
	} {
		err := CheckPIN(c.pin)
		if c.words == "" {
			if err != nil {
				t.Errorf("%s: %v", c.pin, err)
			}
			continue
		}
		wantField(t, c.pin, err, "pin", c.words)
	}
	// Most PINs are let through, or people would be sent round in circles.
	refused := 0
	for n := range 1000000 {
		if CheckPIN(fmt.Sprintf("%06d", n)) != nil {
			refused++
		}
	}
	if refused > 4000 || refused < 1000 {
		t.Errorf("%d of a million are refused", refused)
	}
}

type counter struct {
	h      *Hasher
	ada    Person
	secret string
	device Device
	pin    PIN
}

const adaPIN = "481620"

func newCounter(t *testing.T) *counter {
	t.Helper()
	c := &counter{h: cheap(t), ada: person("ada", Measure, Sign)}
	c.secret, c.device = newDevice(t, true)
	var err error
	c.pin, err = c.h.NewPIN(t.Context(), adaPIN, c.ada, c.device, c.secret, noon)
	noError(t, err)
	return c
}

func (c *counter) try(t *testing.T, pin string, at time.Time) error {
	t.Helper()
	return c.h.VerifyPIN(t.Context(), &c.pin, pin, c.ada, c.device, c.secret, at)
}

func TestPIN(t *testing.T) {
	c := newCounter(t)
	noError(t, c.try(t, adaPIN, noon.Add(time.Minute)))
	wantSignIn(t, "wrong", c.try(t, "481621", noon.Add(time.Minute)), "wrong PIN")
	wantSignIn(t, "longer", c.try(t, adaPIN+strings.Repeat("0", 100), noon.Add(time.Minute)), "wrong PIN")
	wantSignIn(t, "none", c.try(t, "", noon.Add(time.Minute)), "wrong PIN")
	if c.pin.Wrong != 3 {
		t.Errorf("%d wrong tries counted", c.pin.Wrong)
	}
	noError(t, c.try(t, adaPIN, noon.Add(time.Minute)))
	if c.pin.Wrong != 0 {
		t.Error("a right PIN does not clear the wrong ones")
	}
	roundTrip(t, c.pin)
	if _, err := c.h.NewPIN(t.Context(), "1234", c.ada, c.device, c.secret, noon); err == nil {
		t.Error("four digits are taken")
	}
	if _, err := c.h.NewPIN(t.Context(), adaPIN, c.ada, c.device, "wreath-device-x", noon); err == nil {
		t.Error("set at a device that does not know its secret")
	}
}

func TestPINOffAfterFiveWrong(t *testing.T) {
	c := newCounter(t)
	for i := range PINTries {
		err := c.try(t, "999998", noon)
		wantSignIn(t, fmt.Sprint("try ", i), err, "wrong PIN")
	}
	wantSignIn(t, "the right one", c.try(t, adaPIN, noon), "off after 5")
	c.pin.PasswordGiven(noon.Add(time.Minute))
	noError(t, c.try(t, adaPIN, noon.Add(time.Minute)))
}

// Somebody at the counter who tries PINs all day gets five, and Ada's password opens it again.
func TestGuessingPINs(t *testing.T) {
	c := newCounter(t)
	hashed := 0
	derive := c.h.derive
	c.h.derive = func(secret, salt []byte, cost Cost, n int) []byte { hashed++; return derive(secret, salt, cost, n) }
	for n := range 10000 {
		if c.try(t, fmt.Sprintf("%06d", n), noon.Add(time.Duration(n)*time.Second)) == nil {
			t.Fatal("guessed")
		}
	}
	if hashed != PINTries {
		t.Errorf("%d guesses were looked at, want %d", hashed, PINTries)
	}
}

func TestPINWindow(t *testing.T) {
	c := newCounter(t)
	noError(t, c.try(t, adaPIN, noon.Add(PINWindow-time.Second)))
	wantSignIn(t, "after 12 hours", c.try(t, adaPIN, noon.Add(PINWindow)), "12 hours ago")
	wantSignIn(t, "clock set back a little", c.try(t, adaPIN, noon.Add(PINWindow-time.Minute)), "12 hours ago")
	wantSignIn(t, "clock set back", c.try(t, adaPIN, noon.Add(time.Hour)), "closed")
	wantSignIn(t, "clock set right", c.try(t, adaPIN, noon.Add(PINWindow)), "closed")
	c.pin.PasswordGiven(noon.Add(PINWindow))
	noError(t, c.try(t, adaPIN, noon.Add(PINWindow+time.Hour)))
	c.pin.Close()
	wantSignIn(t, "after signing out", c.try(t, adaPIN, noon.Add(PINWindow+time.Hour)), "closed")
}

func TestPINIsBound(t *testing.T) {
	c := newCounter(t)
	otherSecret, other, err := NewDevice(strings.NewReader(strings.Repeat("another device ", 9)), "back office", false, "ada", noon)
	noError(t, err)
	ben := person("ben", Measure)
	ended := c.device
	ended.Ended = &noon
	for _, x := range []struct {
		name   string
		person Person
		device Device
		secret string
		words  string
	}{
		{"at another device", c.ada, other, otherSecret, "no PIN at this device"},
		{"with another device's secret", c.ada, c.device, otherSecret, "not enrolled"},
		{"without a secret", c.ada, c.device, "", "not enrolled"},
		{"device ended", c.ada, ended, c.secret, "no longer enrolled"},
		{"another person", ben, c.device, c.secret, "no PIN at this device"},
		{"after a new password", c.ada.PasswordChanged(), c.device, c.secret, "have changed"},
		{"after new roles", c.ada.WithRoles([]Role{Measure}), c.device, c.secret, "have changed"},
		{"after leaving", c.ada.Leave(noon), c.device, c.secret, "does not work here"},
	} {
		pin := c.pin
		wantSignIn(t, x.name, c.h.VerifyPIN(t.Context(), &pin, adaPIN, x.person, x.device, x.secret, noon), x.words)
	}
	// Signing in by password does not bring back a PIN from before the password changed.
	pin := c.pin
	pin.PasswordGiven(noon)
	wantSignIn(t, "old PIN, new password", c.h.VerifyPIN(t.Context(), &pin, adaPIN, c.ada.PasswordChanged(), c.device, c.secret, noon), "have changed")
}

// Who has stolen the store has everything but the device's secret: no PIN fits, not even the right one.
func TestStolenStoreDoesNotGiveThePIN(t *testing.T) {
	c := newCounter(t)
	for _, guess := range []string{adaPIN, c.device.SecretHash} {
		for _, key := range [][]byte{[]byte(guess), pinKey(nil, "ada", adaPIN), pinKey([]byte(c.device.SecretHash), "ada", adaPIN), pinKey([]byte(c.device.ID), "ada", adaPIN)} {
			if ok, err := c.h.verify(t.Context(), c.pin.Hash, key); ok || err != nil {
				t.Errorf("the PIN can be found: %v, %v", ok, err)
			}
		}
	}
	secret, err := parseSecret(devicePrefix, c.secret)
	noError(t, err)
	if ok, _ := c.h.verify(t.Context(), c.pin.Hash, pinKey(secret, "ada", adaPIN)); !ok {
		t.Error("with the secret it does not fit either")
	}
}

func TestPINHashDamaged(t *testing.T) {
	c := newCounter(t)
	c.pin.Hash = "$argon2id$v=19$m=1073741824,t=1,p=1$c29tZXNhbHRzb21lc2FsdA$AAAA"
	if err := c.try(t, adaPIN, noon); !errors.Is(err, ErrBadHash) {
		t.Errorf("error %v", err)
	}
}

func TestDevice(t *testing.T) {
	secret, d := newDevice(t, true)
	noError(t, d.Check(secret))
	roundTrip(t, d)
	if strings.Contains(fmt.Sprintf("%+v", d), strings.TrimPrefix(secret, devicePrefix)) {
		t.Error("the secret is stored")
	}
	for _, name := range []string{"", " front", strings.Repeat("x", 101)} {
		_, _, err := NewDevice(dice(), name, false, "ada", noon)
		wantField(t, "name "+name, err, "name", "cannot be a name")
	}
	_, _, err := NewDevice(dice(), "front\ncounter", false, "ada", noon)
	wantField(t, "line break", err, "name", "U+000A")
	if _, _, err := NewDevice(strings.NewReader(""), "front", false, "ada", noon); err == nil {
		t.Error("a device without randomness")
	}
}
