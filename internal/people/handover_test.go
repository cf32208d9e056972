package people

import (
	"errors"
	"testing"
	"time"
)

// A morning at a shared counter, from set-up to a leaver: what each part does fits the next.
func TestMorningAtTheCounter(t *testing.T) {
	h, random, l := cheap(t), dice(), StandardLimits()
	at := func(minutes int) time.Time { return noon.Add(time.Duration(minutes) * time.Minute) }

	// First run: the console shows a code, and Ada sets her password with it.
	shown, code, err := NewOneTimeCode(random, ForSetup, "", noon)
	noError(t, err)
	noError(t, code.Use(shown, at(1)))
	ada, ben := person("ada", Measure, Sign, Administer), person("ben", Measure)
	noError(t, CheckAdd(nil, ada, at(1)))
	noError(t, CheckAdd([]Person{ada}, ben, at(1)))
	_, _, err = h.SetPassword(t.Context(), "Ada Example 2026!", ada, "Harbour Bench")
	wantField(t, "name as password", err, "password", "belongs to this desk")
	_, _, err = h.SetPassword(t.Context(), "Harbour Bench 2026!", ada, "Harbour Bench")
	wantField(t, "shop as password", err, "password", "belongs to this desk")
	adaHash, ada, err := h.SetPassword(t.Context(), "four otters mend a kettle", ada, "Harbour Bench")
	noError(t, err)
	if ada.Generation != 2 {
		t.Errorf("generation %d after a new password", ada.Generation)
	}
	benHash, ben, err := h.SetPassword(t.Context(), "the tide forgets its hat", ben, "Harbour Bench")
	noError(t, err)

	// Both sign in once by password at the counter and set a PIN.
	secret, device, err := NewDevice(random, "front counter", true, ada.ID, at(2))
	noError(t, err)
	for _, x := range []struct{ hash, password string }{{adaHash, "four otters mend a kettle"}, {benHash, "the tide forgets its hat"}} {
		if ok, err := h.VerifyPassword(t.Context(), x.hash, x.password); !ok || err != nil {
			t.Fatal(ok, err)
		}
	}
	adaPIN, err := h.NewPIN(t.Context(), "481620", ada, device, secret, at(3))
	noError(t, err)
	benPIN, err := h.NewPIN(t.Context(), "295031", ben, device, secret, at(3))
	noError(t, err)
	_, adas, err := Begin(random, ada, &device, ByPassword, at(3), at(3))
	noError(t, err)

	// Ada turns away; the counter locks, Ben takes over with his PIN, and Ada's stays locked to him.
	if err := adas.Use(ada, &device, l, at(9)); !errors.Is(err, ErrLocked) {
		t.Fatal(err)
	}
	wantSignIn(t, "Ben's PIN as Ada", h.VerifyPIN(t.Context(), &adaPIN, "295031", ada, device, secret, at(9)), "wrong PIN")
	noError(t, h.VerifyPIN(t.Context(), &benPIN, "295031", ben, device, secret, at(9)))
	_, bens, err := Begin(random, ben, &device, ByPIN, benPIN.PasswordAt, at(9))
	noError(t, err)
	noError(t, bens.Use(ben, &device, l, at(10)))
	noError(t, ben.Allow(TakeReading, at(10)))
	if err := ben.Allow(SignDetermination, at(10)); err == nil {
		t.Error("Ben may sign")
	}

	// Ada comes back, unlocks, and signs with her PIN.
	noError(t, h.VerifyPIN(t.Context(), &adaPIN, "481620", ada, device, secret, at(12)))
	noError(t, adas.Unlock(ada, &device, ByPIN, l, at(12)))
	noError(t, adas.Prove(ada, &device, ByPIN, l, at(12)))
	how, err := adas.TakeProof(ada, &device, l, at(12))
	noError(t, err)
	s := Signature{ada.ID, ada.Name, ada.Roles, Approved, at(12), how}
	facts := Facts{MeasuredBy: []Signer{{ben.ID, ben.Name}}}
	need, err := FourEyes{Format: 1, From: "2026-01-01", Reason: "invented", Overrides: true}.Need(facts)
	noError(t, err)
	noError(t, need.CheckSignature(s, facts, nil))
	if st := need.Judge(facts, []Signature{s}); !st.Complete || st.Statement != "" {
		t.Errorf("%+v", st)
	}

	// Ben leaves. One act ends his session, his PIN and his right to act.
	noError(t, CheckChange([]Person{ada, ben}, ben.Leave(at(20)), at(20)))
	ben = ben.Leave(at(20))
	wantSignIn(t, "Ben's session", bens.Use(ben, &device, l, at(20)), "does not work here")
	wantSignIn(t, "Ben's PIN", h.VerifyPIN(t.Context(), &benPIN, "295031", ben, device, secret, at(20)), "does not work here")
	if err := ben.Allow(TakeReading, at(20)); err == nil {
		t.Error("Ben may go on")
	}
	if _, _, err := Begin(random, ben, &device, ByPassword, at(21), at(21)); err == nil {
		t.Error("Ben signs in again")
	}
}
