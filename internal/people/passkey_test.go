package people

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"wreath/internal/people/passkeytest"
)

var (
	invented = Site{Domain: "bench.example", Origin: "https://bench.example:4917", Shop: "Invented Shop"}
	honest   = passkeytest.Answer{Origin: invented.Origin}
)

// enrolled makes a passkey for a person.
func enrolled(t *testing.T, p Person, have ...Passkey) (*passkeytest.Key, Passkey, PasskeyUse) {
	t.Helper()
	options, q, err := AskNewPasskey(dice(), p, "session", have, invented, noon)
	noError(t, err)
	key, answer := passkeytest.Make(options, honest)
	k, use, err := q.Enrol(dice(), p, "phone", answer, noon)
	noError(t, err)
	return key, k, use
}

func TestSite(t *testing.T) {
	for _, c := range []struct {
		host      string
		encrypted bool
		domain    string
		origin    string
	}{
		{"bench.example:4917", true, "bench.example", "https://bench.example:4917"},
		{"Bench.Example", true, "bench.example", "https://bench.example"},
		{"localhost:4917", false, "localhost", "http://localhost:4917"},
		{"localhost", true, "localhost", "https://localhost"},
	} {
		s, err := NewSite(c.host, c.encrypted, "")
		if err != nil || s.Domain != c.domain || s.Origin != c.origin || s.Shop == "" {
			t.Errorf("%s: %+v, %v", c.host, s, err)
		}
	}
	for host, why := range map[string]string{"127.0.0.1:4917": "a number", "192.0.2.7": "a number", "[::1]:4917": "a number", "[2001:db8::7]": "a number", "bench.example:4917": "encrypted", "": "none"} {
		_, err := NewSite(host, false, "")
		wantSignIn(t, host, err, why)
	}
	_, err := NewSite("192.0.2.7:443", true, "")
	wantSignIn(t, "a number, encrypted", err, "a number")
}

func TestPasskey(t *testing.T) {
	ada := person("ada", Measure)
	key, k, use := enrolled(t, ada)
	roundTrip(t, k)
	if k.Person != "ada" || k.Name != "phone" || k.Domain != "bench.example" || !bytes.Equal(k.Credential, key.ID) || bytes.Contains(k.Handle, []byte("ada")) {
		t.Errorf("%+v", k)
	}
	if _, second, _ := enrolled(t, ada, k); !bytes.Equal(second.Handle, k.Handle) {
		t.Error("the second passkey stands for somebody else")
	}
	options, _, err := AskNewPasskey(dice(), ada, "session", []Passkey{k}, invented, noon)
	noError(t, err)
	for _, part := range []string{`"residentKey":"required"`, `"userVerification":"required"`, `"excludeCredentials":[{`, `"id":"bench.example"`} {
		if !strings.Contains(string(options), part) {
			t.Errorf("the browser is not asked for %s: %s", part, options)
		}
	}
	options, q, err := AskPasskey(dice(), "", "", nil, invented, noon)
	noError(t, err)
	if !strings.Contains(string(options), `"userVerification":"required"`) || strings.Contains(string(options), "allowCredentials\":[{") {
		t.Errorf("the browser is asked %s", options)
	}
	answer := key.Give(options, honest)
	credential, err := AnsweredBy(answer)
	if err != nil || !bytes.Equal(credential, k.Credential) {
		t.Errorf("%x, %v", credential, err)
	}
	at := noon.Add(time.Minute)
	noError(t, q.Given(k, &use, ada, answer, at))
	if use.Count != 1 || use.Last == nil || !use.Last.Equal(at) {
		t.Errorf("%+v", use)
	}
	many := make([]Passkey, MostPasskeys)
	_, _, err = AskNewPasskey(dice(), ada, "session", many, invented, noon)
	wantSignIn(t, "too many", err, "already")
	_, _, err = AskPasskey(dice(), "ada", "session", nil, invented, noon)
	wantSignIn(t, "none", err, "no passkey")
}

// TestPasskeyRefused gives answers that differ in one thing from one that is taken.
func TestPasskeyRefused(t *testing.T) {
	ada, ben := person("ada", Measure), person("ben", Measure)
	for _, c := range []struct {
		name   string
		answer func(*passkeytest.Answer)
		at     time.Duration
		person Person
		change func(*passkeytest.Key, *Passkey, *PasskeyUse)
		why    string // "" where it is taken
	}{
		{name: "honest"},
		{name: "in the last second", at: PasskeyWait - time.Second},
		{name: "count stays 0", change: func(k *passkeytest.Key, _ *Passkey, _ *PasskeyUse) { k.Still = true }},
		{name: "count jumps", change: func(k *passkeytest.Key, _ *Passkey, u *PasskeyUse) { k.Count, u.Count = 70, 7 }},
		{name: "another origin", answer: func(a *passkeytest.Answer) { a.Origin = "https://bench.example.net:4917" }, why: "not accepted"},
		{name: "another port", answer: func(a *passkeytest.Answer) { a.Origin = "https://bench.example:8443" }, why: "not accepted"},
		{name: "not encrypted", answer: func(a *passkeytest.Answer) { a.Origin = "http://bench.example:4917" }, why: "not accepted"},
		{name: "another domain", answer: func(a *passkeytest.Answer) { a.Domain = "example" }, why: "not accepted"},
		{name: "another challenge", answer: func(a *passkeytest.Answer) { a.Challenge = "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA" }, why: "not accepted"},
		{name: "not verified", answer: func(a *passkeytest.Answer) { a.Unverified = true }, why: "not accepted"},
		{name: "not touched", answer: func(a *passkeytest.Answer) { a.Absent = true }, why: "not accepted"},
		{name: "another ceremony", answer: func(a *passkeytest.Answer) { a.Type = "webauthn.create" }, why: "not accepted"},
		{name: "without whose it is", answer: func(a *passkeytest.Answer) { a.NoHandle = true }, why: "not accepted"},
		{name: "somebody else's handle", answer: func(a *passkeytest.Answer) { a.Handle = []byte("somebody else, who has one too ..") }, why: "not accepted"},
		{name: "somebody else's passkey", person: ben, why: "not accepted"},
		{name: "another key", change: func(_ *passkeytest.Key, k *Passkey, _ *PasskeyUse) {
			_, other, _ := enrolled(t, ada)
			k.Key = other.Key
		}, why: "not accepted"},
		{name: "another site's passkey", change: func(_ *passkeytest.Key, k *Passkey, _ *PasskeyUse) { k.Domain = "other.example" }, why: "not accepted"},
		{name: "too late", at: PasskeyWait, why: "too late"},
		{name: "clock set back", at: -time.Hour, why: "too late"},
		{name: "counted backwards", change: func(k *passkeytest.Key, _ *Passkey, u *PasskeyUse) { k.Count, u.Count = 6, 8 }, why: "copy"},
		{name: "counted no further", change: func(k *passkeytest.Key, _ *Passkey, u *PasskeyUse) { k.Count, u.Count = 7, 8 }, why: "copy"},
		{name: "removed", change: func(_ *passkeytest.Key, k *Passkey, _ *PasskeyUse) { k.Ended = &k.Made }, why: "removed"},
		{name: "has left", person: ada.Leave(noon.Add(-time.Hour)), why: "does not work here"},
	} {
		t.Run(c.name, func(t *testing.T) {
			key, k, use := enrolled(t, ada)
			if c.change != nil {
				c.change(key, &k, &use)
			}
			options, q, err := AskPasskey(dice(), "", "", nil, invented, noon)
			noError(t, err)
			a := honest
			if c.answer != nil {
				c.answer(&a)
			}
			who := ada
			if c.person.ID != "" {
				who = c.person
			}
			before := use
			err = q.Given(k, &use, who, key.Give(options, a), noon.Add(c.at))
			if c.why == "" {
				noError(t, err)
				return
			}
			wantSignIn(t, c.name, err, c.why)
			if use != before {
				t.Error("a refused passkey counts as used")
			}
			if (c.why == "copy") != errors.Is(err, ErrCopied) {
				t.Errorf("%v", err)
			}
		})
	}
}

// TestPasskeyNotMade refuses new passkeys that are not as asked for.
func TestPasskeyNotMade(t *testing.T) {
	ada := person("ada", Measure)
	for _, c := range []struct {
		name   string
		change func(*passkeytest.Answer)
		at     time.Duration
		person Person
		why    string
	}{
		{"another origin", func(a *passkeytest.Answer) { a.Origin = "https://false.example:4917" }, 0, ada, "not accepted"},
		{"another challenge", func(a *passkeytest.Answer) { a.Challenge = "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA" }, 0, ada, "not accepted"},
		{"another domain", func(a *passkeytest.Answer) { a.Domain = "false.example" }, 0, ada, "not accepted"},
		{"not verified", func(a *passkeytest.Answer) { a.Unverified = true }, 0, ada, "not accepted"},
		{"another ceremony", func(a *passkeytest.Answer) { a.Type = "webauthn.get" }, 0, ada, "not accepted"},
		{"too late", nil, PasskeyWait, ada, "too late"},
		{"another person", nil, 0, person("ben", Measure), "not accepted"},
	} {
		options, q, err := AskNewPasskey(dice(), ada, "session", nil, invented, noon)
		noError(t, err)
		a := honest
		if c.change != nil {
			c.change(&a)
		}
		_, answer := passkeytest.Make(options, a)
		_, _, err = q.Enrol(dice(), c.person, "phone", answer, noon.Add(c.at))
		wantSignIn(t, c.name, err, c.why)
	}
	options, q, err := AskNewPasskey(dice(), ada, "session", nil, invented, noon)
	noError(t, err)
	_, answer := passkeytest.Make(options, honest)
	_, _, err = q.Enrol(dice(), ada, " ", answer, noon)
	wantField(t, "a blank name", err, "name", "front counter")
	_, _, err = q.Enrol(dice(), ada, "phone", []byte(`{}`), noon)
	wantSignIn(t, "no answer", err, "not accepted")
	_, asked, err := AskPasskey(dice(), "", "", nil, invented, noon)
	noError(t, err)
	_, _, err = asked.Enrol(dice(), ada, "phone", answer, noon)
	wantSignIn(t, "a question of another kind", err, "not accepted")
}

// TestOneOfOwnPasskeys asks for a passkey of a person, with one left out.
func TestOneOfOwnPasskeys(t *testing.T) {
	ada := person("ada", Measure)
	key, k, use := enrolled(t, ada)
	other, o, _ := enrolled(t, ada, k)
	options, q, err := AskPasskey(dice(), "ada", "session", []Passkey{k}, invented, noon)
	noError(t, err)
	noError(t, q.Given(k, &use, ada, key.Give(options, honest), noon))
	var fresh PasskeyUse
	wantSignIn(t, "the one left out", q.Given(o, &fresh, ada, other.Give(options, honest), noon), "not accepted")
	_, q, err = AskPasskey(strings.NewReader(strings.Repeat("another", 10)), "ada", "session", []Passkey{k}, invented, noon)
	noError(t, err)
	wantSignIn(t, "the answer to another question", q.Given(k, &use, ada, key.Give(options, honest), noon), "not accepted")
	options, q, err = AskPasskey(dice(), "ada", "session", []Passkey{k}, invented, noon)
	noError(t, err)
	silent := honest
	silent.NoHandle = true // keys on a ring leave it out where they were asked for by name
	noError(t, q.Given(k, &use, ada, key.Give(options, silent), noon))
}

func TestNeedsTwo(t *testing.T) {
	_, d := newDevice(t, true)
	here, phone := []Passkey{{Domain: "localhost"}}, []Passkey{{Domain: "bench.example"}}
	gone := []Passkey{{Domain: "bench.example", Ended: &noon}}
	for _, c := range []struct {
		name   string
		roles  []Role
		keys   []Passkey
		source string
		device *Device
		strict bool
		want   bool
	}{
		{"no passkey", []Role{Sign}, nil, "192.0.2.7", nil, false, false},
		{"a passkey", []Role{Measure}, phone, "192.0.2.7", nil, false, true},
		{"a passkey, through a proxy", []Role{Measure}, phone, "through a proxy", nil, false, true},
		{"a passkey, at the machine", []Role{Measure}, phone, "127.0.0.1:999", nil, false, false},
		{"a passkey, on the console", []Role{Measure}, phone, Console, nil, true, false},
		{"a passkey, at a counter", []Role{Measure}, phone, "192.0.2.7", &d, true, false},
		{"a passkey of the machine itself", []Role{Measure}, here, "192.0.2.7", nil, false, false},
		{"a passkey that was removed", []Role{Measure}, gone, "192.0.2.7", nil, false, false},
		{"strict, who signs", []Role{Measure, Sign}, nil, "192.0.2.7", nil, true, true},
		{"strict, who administers", []Role{Administer}, nil, "192.0.2.7", nil, true, true},
		{"strict, who measures", []Role{Measure, Price}, nil, "192.0.2.7", nil, true, false},
	} {
		if got := NeedsTwo(person("ada", c.roles...), c.keys, c.source, c.device, c.strict); got != c.want {
			t.Errorf("%s: %t", c.name, got)
		}
	}
}

func TestRenew(t *testing.T) {
	ada := person("ada", Measure)
	token, s, err := Begin(dice(), ada, nil, ByPasskey, noon, noon)
	noError(t, err)
	before := s.Key
	anew, err := s.Renew(strings.NewReader(strings.Repeat("n", 32)))
	noError(t, err)
	if key, err := SessionKey(anew); err != nil || key != s.Key || key == before || anew == token {
		t.Errorf("%s, %v", key, err)
	}
	if _, err := s.Renew(strings.NewReader("")); err == nil {
		t.Error("a token without randomness")
	}
}

// FuzzPasskeyAnswer: whatever comes back in place of an answer is refused, and changes nothing.
func FuzzPasskeyAnswer(f *testing.F) {
	ada := person("ada", Measure)
	options, made, err := AskNewPasskey(dice(), ada, "session", nil, invented, noon)
	if err != nil {
		f.Fatal(err)
	}
	key, enrolment := passkeytest.Make(options, honest)
	k, use, err := made.Enrol(dice(), ada, "phone", enrolment, noon)
	if err != nil {
		f.Fatal(err)
	}
	options, asked, err := AskPasskey(dice(), "", "session", []Passkey{k}, invented, noon)
	if err != nil {
		f.Fatal(err)
	}
	_, other, err := AskPasskey(rand.NewChaCha8([32]byte{9}), "", "another session", []Passkey{k}, invented, noon.Add(time.Second))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(enrolment)
	f.Add(key.Give(options, honest))
	f.Add([]byte(`{"id": "AA", "rawId": "AA", "type": "public-key", "response": {}}`))
	f.Fuzz(func(t *testing.T, answer []byte) {
		// A question that nothing was signed for.
		before := use
		if err := other.Given(k, &use, ada, answer, noon); err == nil || use != before {
			t.Errorf("%q is accepted, or changed %+v", answer, use)
		}
		if _, _, err := asked.Enrol(dice(), ada, "phone", answer, noon); err == nil {
			t.Errorf("%q makes a passkey where none was asked for", answer)
		}
	})
}
