package people

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func begin(t *testing.T, p Person, d *Device) Session {
	t.Helper()
	_, s, err := Begin(dice(), p, d, ByPassword, noon, noon)
	noError(t, err)
	return s
}

func TestLimits(t *testing.T) {
	l := StandardLimits()
	noError(t, l.Check())
	if l != (Limits{43200, 3600, 300, 120}) {
		t.Errorf("limits %+v", l)
	}
	roundTrip(t, l)
	for _, c := range []struct {
		path   string
		change func(*Limits)
	}{
		{"overall_s", func(l *Limits) { l.OverallS = 24*3600 + 1 }}, {"overall_s", func(l *Limits) { l.OverallS = 0 }},
		{"inactive_s", func(l *Limits) { l.InactiveS = 3601 }}, {"inactive_s", func(l *Limits) { l.InactiveS = -1 }},
		{"shared_lock_s", func(l *Limits) { l.SharedLockS = 301 }}, {"shared_lock_s", func(l *Limits) { l.SharedLockS = 0 }},
		{"proof_s", func(l *Limits) { l.ProofS = 301 }}, {"proof_s", func(l *Limits) { l.ProofS = 0 }},
	} {
		bad := StandardLimits()
		c.change(&bad)
		wantField(t, c.path, bad.Check(), c.path, "in seconds")
	}
	noError(t, Limits{24 * 3600, 3600, 300, 300}.Check())
}

func TestBegin(t *testing.T) {
	ada := person("ada", Measure)
	_, d := newDevice(t, true)
	token, s, err := Begin(dice(), ada, &d, ByPassword, noon, noon)
	noError(t, err)
	if key, err := SessionKey(token); err != nil || key != s.Key || strings.Contains(fmt.Sprintf("%+v", s), token) {
		t.Errorf("key %s, %v, session %+v", key, err, s)
	}
	if !s.Shared || s.Device != d.ID || s.How != ByPassword {
		t.Errorf("session %+v", s)
	}
	s.Proof = &Proof{ByPIN, noon}
	s.End("test", noon)
	roundTrip(t, s)
	for _, c := range []struct {
		name string
		p    Person
		d    *Device
		how  How
		at   time.Time
	}{
		{"without proof", ada, nil, ByNone, noon}, {"by token", ada, nil, ByToken, noon}, {"by nothing", ada, nil, "", noon},
		{"PIN without device", ada, nil, ByPIN, noon}, {"PIN without a password before", ada, &d, ByPIN, time.Time{}},
		{"password of another time", ada, &d, ByPassword, noon.Add(-time.Hour)},
		{"who has left", ada.Leave(noon), nil, ByPassword, noon},
	} {
		if _, _, err := Begin(dice(), c.p, c.d, c.how, c.at, noon); err == nil {
			t.Errorf("%s: a session begins", c.name)
		}
	}
	if _, _, err := Begin(strings.NewReader(""), ada, nil, ByPassword, noon, noon); err == nil {
		t.Error("a session without randomness")
	}
}

func TestSessionLimits(t *testing.T) {
	l, ada := StandardLimits(), person("ada", Measure)
	s := begin(t, ada, nil)
	noError(t, s.Use(ada, nil, l, noon.Add(59*time.Minute)))
	noError(t, s.Use(ada, nil, l, noon.Add(118*time.Minute))) // activity counts from the last
	noError(t, s.Check(ada, nil, l, noon.Add(170*time.Minute)))
	wantSignIn(t, "idle for an hour", s.Use(ada, nil, l, noon.Add(178*time.Minute)), "nothing was done for 1h")
	wantSignIn(t, "ended", s.Use(ada, nil, l, noon.Add(178*time.Minute)), "nothing was done")

	s = begin(t, ada, nil)
	for at := time.Duration(0); at < 12*time.Hour; at += 30 * time.Minute {
		noError(t, s.Use(ada, nil, l, noon.Add(at)))
	}
	wantSignIn(t, "12 hours", s.Use(ada, nil, l, noon.Add(12*time.Hour)), "12h0m0s ago")

	// A session by PIN does not outlast the sitting.
	_, d := newDevice(t, false)
	_, s, err := Begin(dice(), ada, &d, ByPIN, noon.Add(-11*time.Hour), noon)
	noError(t, err)
	noError(t, s.Use(ada, &d, l, noon.Add(59*time.Minute)))
	wantSignIn(t, "12 hours after the password", s.Use(ada, &d, l, noon.Add(60*time.Minute)), "12h0m0s ago")
}

func TestPagesThatRefreshDoNotCount(t *testing.T) {
	l, ada := StandardLimits(), person("ada", Measure)
	s := begin(t, ada, nil)
	for at := time.Duration(0); at < time.Hour; at += time.Minute {
		noError(t, s.Check(ada, nil, l, noon.Add(at)))
	}
	wantSignIn(t, "idle", s.Check(ada, nil, l, noon.Add(time.Hour)), "nothing was done")
}

func TestSharedCounterLocks(t *testing.T) {
	l, ada := StandardLimits(), person("ada", Measure)
	_, d := newDevice(t, true)
	s := begin(t, ada, &d)
	noError(t, s.Use(ada, &d, l, noon.Add(4*time.Minute+59*time.Second)))
	at := noon.Add(10 * time.Minute)
	if err := s.Use(ada, &d, l, at); !errors.Is(err, ErrLocked) {
		t.Fatalf("after five minutes: %v", err)
	}
	if err := s.Use(ada, &d, l, at.Add(-time.Minute)); !errors.Is(err, ErrLocked) {
		t.Errorf("clock set back a little: %v", err)
	}
	wantSignIn(t, "unlocked by nothing", s.Unlock(ada, &d, ByNone, l, at), "no proof")
	noError(t, s.Unlock(ada, &d, ByPIN, l, at))
	noError(t, s.Use(ada, &d, l, at.Add(time.Minute)))
	if !s.PasswordAt.Equal(noon) {
		t.Error("a PIN began a new sitting")
	}
	// Locked and left alone it ends.
	if err := s.Check(ada, &d, l, at.Add(30*time.Minute)); !errors.Is(err, ErrLocked) {
		t.Errorf("%v", err)
	}
	wantSignIn(t, "locked for an hour", s.Unlock(ada, &d, ByPIN, l, at.Add(62*time.Minute)), "nothing was done")

	// A device of one's own does not lock.
	_, own := newDevice(t, false)
	s = begin(t, ada, &own)
	noError(t, s.Use(ada, &own, l, noon.Add(59*time.Minute)))
	// A password when unlocking begins a new sitting.
	noError(t, s.Unlock(ada, &own, ByPassword, l, noon.Add(100*time.Minute)))
	if !s.PasswordAt.Equal(noon.Add(100 * time.Minute)) {
		t.Error("a password began no new sitting")
	}
}

func TestStepAside(t *testing.T) {
	l, ada := StandardLimits(), person("ada", Measure)
	_, d := newDevice(t, false)
	s := begin(t, ada, &d)
	noError(t, s.Prove(ada, &d, ByPIN, l, noon))
	s.Lock()
	if err := s.Use(ada, &d, l, noon.Add(time.Second)); !errors.Is(err, ErrLocked) || s.Proof != nil {
		t.Errorf("%v, proof %v", err, s.Proof)
	}
	noError(t, s.Unlock(ada, &d, ByPIN, l, noon.Add(2*time.Second)))
	noError(t, s.Use(ada, &d, l, noon.Add(3*time.Second)))
}

func TestSessionEndsWithWhatItRestsOn(t *testing.T) {
	l, ada := StandardLimits(), person("ada", Measure)
	_, d := newDevice(t, false)
	ended := d
	ended.Ended = &noon
	other := d
	other.ID = "d-other"
	for _, c := range []struct {
		name  string
		p     Person
		d     *Device
		words string
	}{
		{"leaver", ada.Leave(noon), &d, "does not work here"},
		{"new password", ada.PasswordChanged(), &d, "have changed"},
		{"new roles", ada.WithRoles([]Role{Sign}), &d, "have changed"},
		{"device ended", ada, &ended, "no longer enrolled"},
		{"device gone", ada, nil, "no longer enrolled"},
		{"another device", ada, &other, "no longer enrolled"},
		{"someone else", person("ben", Measure), &d, "someone else"},
	} {
		s := begin(t, ada, &d)
		wantSignIn(t, c.name, s.Check(c.p, c.d, l, noon), c.words)
		wantSignIn(t, c.name+", then all as before", s.Check(ada, &d, l, noon), c.words)
		if s.Ended == nil {
			t.Errorf("%s: not marked", c.name)
		}
	}
	s := begin(t, ada, nil)
	s.End("signed out", noon)
	wantSignIn(t, "signed out", s.Use(ada, nil, l, noon), "signed out")
	s.End("again", noon.Add(time.Hour))
	if s.Why != "signed out" || !s.Ended.Equal(noon) {
		t.Errorf("ended twice: %s at %s", s.Why, s.Ended)
	}
}

// Whatever the clock does, a session that was seen ended stays ended, is never used past a limit
// as the highest time seen tells it, and a step back of more than the slack ends it.
func TestSessionProperties(t *testing.T) {
	l, ada := StandardLimits(), person("ada", Measure)
	rapid.Check(t, func(rt *rapid.T) {
		shared := rapid.Bool().Draw(rt, "shared")
		d := Device{ID: "d-1", Shared: shared}
		_, s, err := Begin(dice(), ada, &d, ByPassword, noon, noon)
		if err != nil {
			rt.Fatal(err)
		}
		now, highest, ended := noon, noon, false
		lastUse, lastPassword := noon, noon
		for range rapid.IntRange(1, 100).Draw(rt, "steps") {
			now = now.Add(time.Duration(rapid.SampledFrom([]int{0, 1, 60, 299, 300, 3599, 3600, -1, -119, -7200, -86400, 43200}).Draw(rt, "seconds")) * time.Second)
			back := highest.Sub(now)
			if now.After(highest) {
				highest = now
			}
			var err error
			switch rapid.IntRange(0, 3).Draw(rt, "act") {
			case 0:
				err = s.Check(ada, &d, l, now)
			case 1:
				if err = s.Use(ada, &d, l, now); err == nil {
					if highest.Sub(lastUse) >= time.Hour || shared && highest.Sub(lastUse) >= 5*time.Minute {
						rt.Fatalf("used after %s", highest.Sub(lastUse))
					}
					lastUse = highest
				}
			case 2:
				if err = s.Unlock(ada, &d, ByPIN, l, now); err == nil {
					lastUse = highest
				}
			case 3:
				if err = s.Unlock(ada, &d, ByPassword, l, now); err == nil {
					lastUse, lastPassword = highest, highest
				}
			}
			if err == nil && (ended || back > ClockSlack || highest.Sub(lastPassword) >= 12*time.Hour) {
				rt.Fatalf("usable: ended %v, set back by %s, last password %s ago", ended, back, highest.Sub(lastPassword))
			}
			ended = ended || err != nil && !errors.Is(err, ErrLocked)
		}
	})
}

func TestSigningAsksAgain(t *testing.T) {
	l, ada := StandardLimits(), person("ada", Measure, Sign)
	_, d := newDevice(t, true)
	s := begin(t, ada, &d)

	// A colleague finds Ada's session open.
	_, err := s.TakeProof(ada, &d, l, noon.Add(time.Second))
	wantSignIn(t, "just signed in", err, "once more")

	noError(t, s.Prove(ada, &d, ByPIN, l, noon.Add(time.Minute)))
	how, err := s.TakeProof(ada, &d, l, noon.Add(time.Minute))
	if err != nil || how != ByPIN {
		t.Errorf("%s, %v", how, err)
	}
	_, err = s.TakeProof(ada, &d, l, noon.Add(time.Minute))
	wantSignIn(t, "one proof for two signatures", err, "once more")

	noError(t, s.Prove(ada, &d, ByPassword, l, noon.Add(2*time.Minute)))
	_, err = s.TakeProof(ada, &d, l, noon.Add(4*time.Minute+time.Second))
	wantSignIn(t, "too late", err, "2m0s ago")
	_, err = s.TakeProof(ada, &d, l, noon.Add(3*time.Minute))
	wantSignIn(t, "clock set back a little", err, "once more")

	noError(t, s.Prove(ada, &d, ByPIN, l, noon.Add(5*time.Minute)))
	if err := s.Check(ada, &d, l, noon.Add(20*time.Minute)); !errors.Is(err, ErrLocked) {
		t.Fatal(err)
	}
	if s.Proof != nil {
		t.Error("the proof outlives the lock")
	}
	if _, err := s.TakeProof(ada, &d, l, noon.Add(20*time.Minute)); !errors.Is(err, ErrLocked) {
		t.Errorf("locked: %v", err)
	}
	if err := s.Prove(ada, &d, ByPIN, l, noon.Add(20*time.Minute)); !errors.Is(err, ErrLocked) {
		t.Errorf("proof for a locked session: %v", err)
	}

	noDevice := begin(t, ada, nil)
	wantSignIn(t, "PIN without device", noDevice.Prove(ada, nil, ByPIN, l, noon), "only at an enrolled device")
	wantSignIn(t, "token as proof", noDevice.Prove(ada, nil, ByToken, l, noon), "no proof")
}

func TestLocalUse(t *testing.T) {
	ada := person("ada", Roles...)
	s := BeginLocal(ada, noon)
	how, err := s.TakeProof(ada, nil, StandardLimits(), noon)
	if err != nil || how != ByNone || how.Mark() != "unauthenticated local use" {
		t.Errorf("%s, %v, mark %q", how, err, how.Mark())
	}
	_, err = s.TakeProof(ada.Leave(noon), nil, StandardLimits(), noon)
	wantSignIn(t, "left", err, "does not work here")
	for _, h := range []How{ByPassword, ByPIN, ByToken} {
		if h.Mark() != "" {
			t.Errorf("%s has the mark %q", h, h.Mark())
		}
	}
	if How("").Mark() == "" || How("other").Mark() == "" {
		t.Error("what is not known to be signed in has no mark")
	}

	ben := person("ben", Measure)
	tomorrow := ben
	tomorrow.Since = noon.AddDate(0, 0, 1)
	for _, c := range []struct {
		source string
		people []Person
		words  string
	}{
		{Console, []Person{ada}, ""}, {"127.0.0.1:51000", []Person{ada}, ""}, {"[::1]:51000", []Person{ada}, ""}, {"::1", []Person{ada}, ""},
		{"127.9.9.9", []Person{ada}, ""}, {"[::ffff:127.0.0.1]:80", []Person{ada}, ""}, {Console, []Person{ada, ben.Leave(noon)}, ""},
		{"192.0.2.7:51000", []Person{ada}, "machine itself"}, {"0.0.0.0:80", []Person{ada}, "machine itself"}, {"[::]:80", []Person{ada}, "machine itself"},
		{"[fe80::1%lo]:80", []Person{ada}, "machine itself"}, {"localhost:80", []Person{ada}, "machine itself"}, {"", []Person{ada}, "machine itself"}, {"@", []Person{ada}, "machine itself"},
		{"127.0.0.1.example", []Person{ada}, "machine itself"},
		{Console, nil, "nobody"}, {Console, []Person{ada, ben}, "several"}, {Console, []Person{ada, tomorrow}, "several"},
	} {
		err := CheckLocal(c.source, c.people)
		if c.words == "" {
			if err != nil {
				t.Errorf("%s: %v", c.source, err)
			}
			continue
		}
		wantSignIn(t, c.source, err, c.words)
	}
}

func TestServiceToken(t *testing.T) {
	ada := person("ada", Measure, Price, Sign, Administer)
	year := noon.AddDate(1, 0, 0)
	secret, tok, err := NewServiceToken(dice(), "label printer", ada, []Role{Measure, Price}, year, noon)
	noError(t, err)
	if key, err := TokenKey(secret); err != nil || key != tok.Key || strings.Contains(fmt.Sprintf("%+v", tok), secret) {
		t.Errorf("key %s, %v", key, err)
	}
	roles, err := tok.Use(ada, noon.Add(time.Hour))
	if err != nil || !slices.Equal(roles, []Role{Measure, Price}) || !tok.LastUsed.Equal(noon.Add(time.Hour)) {
		t.Errorf("%v, %v, used %v", roles, err, tok.LastUsed)
	}
	roundTrip(t, tok)
	// It has no more than its owner has now.
	if roles, err := tok.Use(ada.WithRoles([]Role{Price}), noon); err != nil || !slices.Equal(roles, []Role{Price}) {
		t.Errorf("%v, %v", roles, err)
	}
	if !tok.LastUsed.Equal(noon.Add(time.Hour)) {
		t.Error("last use went back with the clock")
	}
	_, err = tok.Use(ada.WithRoles([]Role{Audit}), noon)
	wantSignIn(t, "owner has other roles", err, "none of the roles")
	if _, err = tok.Use(person("ben", Roles...), noon); err == nil {
		t.Error("used with another owner")
	}

	later := ada
	later.Since = noon.Add(time.Hour)
	_, err = tok.Use(later, noon)
	wantSignIn(t, "owner has not begun", err, "who answers for the token")

	expired := tok
	_, err = expired.Use(ada, year)
	wantSignIn(t, "expired", err, "ended or expired")
	_, err = expired.Use(ada, noon)
	wantSignIn(t, "expired, clock set back", err, "ended or expired")

	left := tok
	_, err = left.Use(ada.Leave(noon), noon)
	wantSignIn(t, "owner left", err, "ended")
	_, err = left.Use(ada, noon)
	wantSignIn(t, "owner came back", err, "ended")

	tok.End(noon)
	tok.End(year)
	_, err = tok.Use(ada, noon)
	wantSignIn(t, "ended", err, "ended")
	if !tok.Ended.Equal(noon) {
		t.Error("ended twice")
	}

	for _, c := range []struct {
		label, name string
		roles       []Role
		expires     time.Time
		path, say   string
	}{
		{"no name", "", []Role{Measure}, year, "name", "name"},
		{"no role", "x", nil, year, "roles", "no role"},
		{"signs", "x", []Role{Sign}, year, "roles", "cannot have the role sign"},
		{"administers", "x", []Role{Measure, Administer}, year, "roles", "cannot have the role administer"},
		{"more than the owner", "x", []Role{Audit}, year, "roles", "does not have the role audit"},
		{"past", "x", []Role{Measure}, noon, "expires", "within"},
		{"for ever", "x", []Role{Measure}, noon.AddDate(2, 0, 0), "expires", "within"},
	} {
		_, _, err := NewServiceToken(dice(), c.name, ada, c.roles, c.expires, noon)
		wantField(t, c.label, err, c.path, c.say)
	}
	_, _, err = NewServiceToken(dice(), "x", ada.Leave(noon), []Role{Measure}, year, noon)
	wantSignIn(t, "of a leaver", err, "does not work here")
}
