package people

import (
	"errors"
	"fmt"
	"io"
	"time"

	"wreath/internal/strictjson"
)

// How says by what a person proved who they are.
type How string

// The ways.
const (
	ByPassword How = "password"
	ByPIN      How = "pin"        // with the secret of an enrolled device
	ByPasskey  How = "passkey"    // which verified its holder: two factors
	ByToken    How = "token"      // a program, not a person
	ByNone     How = "none-local" // one person at the machine itself, without signing in
)

// LocalMark is printed on whatever is made without signing in.
const LocalMark = "unauthenticated local use"

// begins tells what begins a sitting from what goes on with one.
func (h How) begins() bool { return h == ByPassword || h == ByPasskey }

// Mark returns what has to be printed beside a name, or "".
func (h How) Mark() string {
	if h == ByPassword || h == ByPIN || h == ByPasskey || h == ByToken {
		return ""
	}
	return LocalMark
}

// Limits says how long sessions last, in whole seconds.
type Limits struct {
	OverallS    int `json:"overall_s" doc:"a session ends so long after the last password; 12 h unless said, never above 24 h"`
	InactiveS   int `json:"inactive_s" doc:"a session ends when nothing was done for so long; 1 h unless said, never above"`
	SharedLockS int `json:"shared_lock_s" doc:"at a shared counter the session locks after so long; 5 min unless said, never above"`
	ProofS      int `json:"proof_s" doc:"a password or PIN given for signing is good for so long, once; 2 min unless said, never above 5"`
}

// StandardLimits are used unless the house sets others. The upper bounds in Check for the first two
// are those of SP 800-63B-4 2.2.3; the others are chosen here.
func StandardLimits() Limits {
	return Limits{OverallS: 12 * 3600, InactiveS: 3600, SharedLockS: 300, ProofS: 120}
}

// Check refuses limits that are too long, or too short to work with.
func (l Limits) Check() error {
	for _, row := range []struct {
		path              string
		got, least, most  int
		leastSay, mostSay string
	}{
		{"overall_s", l.OverallS, 15 * 60, 24 * 3600, "15 min", "24 h"},
		{"inactive_s", l.InactiveS, 60, 3600, "1 min", "1 h"},
		{"shared_lock_s", l.SharedLockS, 30, 300, "30 s", "5 min"},
		{"proof_s", l.ProofS, 10, 300, "10 s", "5 min"},
	} {
		if row.got < row.least || row.got > row.most {
			return &strictjson.FieldError{Path: row.path, Reason: fmt.Sprintf("is %d s", row.got),
				Hint: fmt.Sprintf("Choose %s to %s, in seconds: %d to %d.", row.leastSay, row.mostSay, row.least, row.most)}
		}
	}
	return nil
}

func seconds(n int) time.Duration { return time.Duration(n) * time.Second }

// Session is a stored session. Its token is not stored, only the token's SHA-256.
type Session struct {
	Key        string     `json:"key"`              // SHA-256 of the token, hex
	Person     string     `json:"person"`           // id
	Generation int        `json:"generation"`       // of the person when it began
	Device     string     `json:"device,omitempty"` // id of the enrolled device, if any
	Shared     bool       `json:"shared"`           // several people use the device
	How        How        `json:"how"`
	Begun      time.Time  `json:"begun"`
	PasswordAt time.Time  `json:"password_at"`       // when the sitting began: the last password or passkey of this person at this device
	Passkey    string     `json:"passkey,omitempty"` // id of the passkey, where that began the sitting
	Active     time.Time  `json:"active"`            // last time the person did something
	Seen       time.Time  `json:"seen"`              // latest time at which it was looked at
	Locked     bool       `json:"locked"`
	Proof      *Proof     `json:"proof,omitempty"`
	Ended      *time.Time `json:"ended,omitempty"`
	Why        string     `json:"why,omitempty"` // it ended
}

// Proof is a password or PIN given again, for one signature.
type Proof struct {
	How How       `json:"how"`
	At  time.Time `json:"at"`
}

// ErrLocked is returned for a session at a shared counter that was idle. The same person goes on
// with PIN or password; another person begins a session of their own.
var ErrLocked = errors.New("the session is locked")

// Begin makes a session after a proof that the caller has verified. device is nil where none is
// enrolled. passwordAt is when the sitting began: now for a password or passkey, PIN.PasswordAt for a PIN.
// The token goes to the person's program and is not stored.
func Begin(random io.Reader, p Person, device *Device, how How, passwordAt, now time.Time) (token string, s Session, err error) {
	switch {
	case how != ByPassword && how != ByPasskey && how != ByPIN:
		return "", s, fmt.Errorf("no session can begin by %s", how)
	case how == ByPIN && device == nil:
		return "", s, errors.New("a PIN without an enrolled device")
	case how.begins() && !passwordAt.Equal(now), passwordAt.IsZero():
		return "", s, errors.New("the time of the password does not fit")
	case !p.Active(now):
		return "", s, &SignInError{p.Name + " does not work here at this time", "Ask an administrator."}
	}
	token, key, err := newSecret(sessionPrefix, random)
	if err != nil {
		return "", s, err
	}
	s = Session{Key: key, Person: p.ID, Generation: p.Generation, How: how, Begun: now, PasswordAt: passwordAt, Active: now, Seen: now}
	if device != nil {
		s.Device, s.Shared = device.ID, device.Shared
	}
	return token, s, nil
}

// BeginLocal makes the session of someone who did not sign in; CheckLocal comes first. It has no
// token and ends with the command or the program.
func BeginLocal(p Person, now time.Time) Session {
	return Session{Person: p.ID, Generation: p.Generation, How: ByNone, Begun: now, PasswordAt: now, Active: now, Seen: now}
}

// SessionKey returns the key under which the session with this token is stored.
func SessionKey(token string) (string, error) { return lookUp(sessionPrefix, token) }

// Check returns nil for a session that can be used now, ErrLocked, or *SignInError when it has
// ended. p is its person and device its device (nil for none), both as stored now. Check changes
// s, which the caller stores, and it does not count as activity: pages that refresh themselves
// call Check, people's acts call Use.
func (s *Session) Check(p Person, device *Device, l Limits, now time.Time) error {
	if s.Ended == nil {
		if why := s.over(p, device, l, now); why != "" {
			s.End(why, now)
		}
	}
	if now.After(s.Seen) {
		s.Seen = now
	}
	switch {
	case s.Ended != nil:
		return &SignInError{"the session has ended: " + s.Why, "Sign in again."}
	case s.Locked || s.Shared && s.Seen.Sub(s.Active) >= seconds(l.SharedLockS):
		s.Lock()
		return ErrLocked
	}
	return nil
}

// over says why the session is over, or "". A session that is locked ends in time too.
func (s *Session) over(p Person, device *Device, l Limits, now time.Time) string {
	latest := now
	if s.Seen.After(latest) {
		latest = s.Seen
	}
	switch {
	case s.Person != p.ID:
		return "it belongs to someone else"
	case !p.Active(now):
		return p.Name + " does not work here at this time"
	case s.Generation != p.Generation:
		return "password or roles have changed"
	case s.Device != "" && (device == nil || device.ID != s.Device || device.Ended != nil):
		return "the device is no longer enrolled"
	case now.Before(s.Seen.Add(-ClockSlack)):
		return "the clock was set back"
	case latest.Sub(s.PasswordAt) >= seconds(l.OverallS):
		return fmt.Sprintf("the last password was given %s ago or longer", seconds(l.OverallS))
	case latest.Sub(s.Active) >= seconds(l.InactiveS):
		return fmt.Sprintf("nothing was done for %s", seconds(l.InactiveS))
	}
	return ""
}

// Use is Check for something that a person does: it counts as activity.
func (s *Session) Use(p Person, device *Device, l Limits, now time.Time) error {
	if err := s.Check(p, device, l, now); err != nil {
		return err
	}
	s.Active = s.Seen
	return nil
}

// Lock locks the session at once: the person steps aside for another. A session at a device that
// is not shared can be locked too.
func (s *Session) Lock() { s.Locked, s.Proof = true, nil }

// Unlock opens a locked session after the caller has verified a proof of the same person. A
// password or passkey begins a new sitting.
func (s *Session) Unlock(p Person, device *Device, how How, l Limits, now time.Time) error {
	if err := s.Check(p, device, l, now); err != nil && !errors.Is(err, ErrLocked) {
		return err
	}
	if err := s.canProve(how); err != nil {
		return err
	}
	if how.begins() {
		s.PasswordAt, s.Passkey = s.Seen, ""
	}
	s.Locked, s.Active = false, s.Seen
	return nil
}

// Renew gives the session another token; the old one opens nothing any more.
func (s *Session) Renew(random io.Reader) (token string, err error) {
	token, key, err := newSecret(sessionPrefix, random)
	if err != nil {
		return "", err
	}
	s.Key = key
	return token, nil
}

// Prove notes that the person gave password or PIN again, for the next signature. The caller
// has verified it, and that it is this person's.
func (s *Session) Prove(p Person, device *Device, how How, l Limits, now time.Time) error {
	if err := s.Use(p, device, l, now); err != nil {
		return err
	}
	if err := s.canProve(how); err != nil {
		return err
	}
	s.Proof = &Proof{how, s.Seen}
	if how.begins() {
		s.PasswordAt, s.Passkey = s.Seen, ""
	}
	return nil
}

func (s *Session) canProve(how How) error {
	switch {
	case how == ByPIN && s.Device == "":
		return &SignInError{"a PIN works only at an enrolled device", "Use your password."}
	case how != ByPassword && how != ByPasskey && how != ByPIN:
		return &SignInError{fmt.Sprintf("%q is no proof of who you are", how), "Use your password."}
	}
	return nil
}

// TakeProof uses up the proof for one signature and says how it was given. Having signed in is
// not enough: someone else may stand at the counter now (21 CFR 11.200(a)). The first signature of
// a sitting rests on id and password, later ones on at least one of the person's own factors. Who
// uses the desk locally without signing in has nothing to prove; the signature says so.
func (s *Session) TakeProof(p Person, device *Device, l Limits, now time.Time) (How, error) {
	if s.How == ByNone && s.Key == "" {
		if s.Person != p.ID || !p.Active(now) {
			return "", &SignInError{p.Name + " does not work here at this time", "Ask an administrator."}
		}
		return ByNone, nil
	}
	if err := s.Use(p, device, l, now); err != nil {
		return "", err
	}
	proof := s.Proof
	s.Proof = nil
	switch {
	case proof == nil:
		return "", &SignInError{"signing needs your own password, PIN or passkey once more", "Give it now, then sign."}
	case s.Seen.Sub(proof.At) > seconds(l.ProofS):
		return "", &SignInError{fmt.Sprintf("password, PIN or passkey were given more than %s ago", seconds(l.ProofS)), "Give it again, then sign."}
	}
	return proof.How, nil
}

// End ends the session for good.
func (s *Session) End(why string, now time.Time) {
	if s.Ended == nil {
		s.Ended, s.Why, s.Proof = &now, why, nil
	}
}
