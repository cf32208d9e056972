package desk

import (
	"context"
	"errors"
	"slices"
	"time"

	"wreath/internal/people"
	"wreath/internal/store"
)

// Who is somebody who was let in: a person in a session, or a program with a token.
type Who struct {
	person  people.Person
	session people.Session
	key     string // of the session, or of a program's token; "" without one
	device  *people.Device
	roles   []people.Role // of a program; nil for a person
}

// Person is who it is.
func (w *Who) Person() people.Person { return w.person }

// May tells whether the person may do an act as they came in, so that nothing is offered that would be
// refused. The act itself asks again.
func (w *Who) May(a people.Action) bool {
	if w.roles != nil {
		return people.May(w.roles, a)
	}
	return people.May(w.person.Roles, a)
}

// SignedIn tells a person in a session from a program and from who works at a bench of one without
// signing in.
func (w *Who) SignedIn() bool { return w.key != "" && w.roles == nil }

// Device is the name of the enrolled device at which the person sits; "" without one.
func (w *Who) Device() string {
	if w.device == nil {
		return ""
	}
	return w.device.Name
}

// Mark is what must be printed beside the name; "" when the person signed in.
func (w *Who) Mark() string { return w.session.How.Mark() }

// allow holds an act against the person as they are now, not as they were when they came in.
func (w *Who) allow(tx *store.Tx, a people.Action, at time.Time) error {
	if w == nil {
		return bad("Sign in first.", "nobody is signed in")
	}
	p, _, err := get[people.Person](tx, "person", w.person.ID)
	if err != nil {
		return err
	}
	if p.Generation != w.person.Generation {
		return &people.SignInError{Reason: "password or roles were changed since this session began", Hint: "Sign in again."}
	}
	if w.session.How == people.ByNone {
		shop, _, err := get[Shop](tx, shopKind, shopID)
		if err != nil {
			return err
		}
		if shop.SignIn {
			return &people.SignInError{Reason: "at this shop everybody signs in", Hint: "Sign in with your name and password."}
		}
	} else if err := w.stands(tx); err != nil {
		return err
	}
	if w.roles != nil {
		if a == people.OwnCredentials { // or a token would open the door to all that its owner may do
			return &people.Refused{Action: a, Name: p.Name, Reason: "a program has no password of its own", Hint: "The person does it, in a session."}
		}
		p.Roles = w.roles
	}
	return p.Allow(a, at)
}

// stands refuses who came in by a session or token that has ended since, or that is locked.
func (w *Who) stands(tx *store.Tx) error {
	ended := &people.SignInError{Reason: "the session has ended", Hint: "Sign in again."}
	if w.key == "" {
		return nil // a second person, for one act
	}
	if w.roles != nil {
		t, err := secret[people.ServiceToken](tx, secretToken, w.key)
		if errors.Is(err, store.ErrNotFound) || err == nil && t.Ended != nil {
			return &people.SignInError{Reason: "the token has ended", Hint: "Ask who administers for a new one."}
		}
		return err
	}
	s, err := secret[people.Session](tx, secretSession, w.key)
	switch {
	case errors.Is(err, store.ErrNotFound):
		return ended
	case err != nil:
		return err
	case s.Ended != nil:
		return ended
	case s.Locked:
		return people.ErrLocked
	}
	return nil
}

// Local lets in the one person of a bench without signing in. Source is people.Console or the address
// of the other end of the connection.
func (d *Desk) Local(ctx context.Context, source string) (*Who, error) {
	var all []people.Person
	var shop Shop
	err := d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) (err error) {
		if shop, _, err = get[Shop](tx, shopKind, shopID); err != nil {
			return err
		}
		all, err = list[people.Person](tx, "person")
		return err
	})
	if err != nil {
		return nil, err
	}
	if shop.SignIn {
		return nil, &people.SignInError{Reason: "at this shop everybody signs in", Hint: "Sign in with your name and password."}
	}
	if err := people.CheckLocal(source, all); err != nil {
		return nil, err
	}
	now := d.o.Now()
	for _, p := range all {
		if p.Active(now) {
			return &Who{person: p, session: people.BeginLocal(p, now)}, nil
		}
	}
	return nil, &people.SignInError{Reason: "nobody works here any more", Hint: "Restore a backup, or open another shop."}
}

// Place is where somebody signs in from.
type Place struct {
	Source string // people.Console or a network address
	Device string // secret of an enrolled device, or ""
}

// SignIn lets a person in by password. The token is for the person's program and is shown once.
func (d *Desk) SignIn(ctx context.Context, id, password string, at Place) (token string, who *Who, err error) {
	return d.SignInWith(ctx, id, password, "", at)
}

// SignInWith is SignIn with a one-time or recovery code, which is the second factor where the password
// alone is too little; it is used up then.
func (d *Desk) SignInWith(ctx context.Context, id, password, code string, at Place) (token string, who *Who, err error) {
	device, err := d.deviceAt(ctx, at)
	if err != nil {
		return "", nil, err
	}
	p, err := d.prove(ctx, id, password, at.Source, device)
	if err == nil {
		err = d.secondFactor(ctx, p, code, at, device)
	}
	if err != nil {
		return "", nil, err
	}
	now := d.o.Now()
	token, session, err := people.Begin(d.o.Random, p, device, people.ByPassword, now, now)
	if err != nil {
		return "", nil, err
	}
	who = &Who{person: p, session: session, key: session.Key, device: device}
	err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error { return d.begun(tx, who, now) })
	return token, who, err
}

// secondFactor asks for a code where people.NeedsTwo says so.
func (d *Desk) secondFactor(ctx context.Context, p people.Person, code string, at Place, device *people.Device) error {
	var shop Shop
	var keys []people.Passkey
	err := d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) (err error) {
		if shop, _, err = get[Shop](tx, shopKind, shopID); err != nil {
			return err
		}
		keys, err = passkeysOf(tx, p.ID)
		return err
	})
	if err != nil || !people.NeedsTwo(p, keys, at.Source, device, shop.TwoFactors) {
		return err
	}
	if code == "" {
		return &people.SignInError{Reason: "from another machine the password alone is not enough", Hint: "Use your passkey, or give one of your recovery codes with the password. Who administers can give you a one-time code."}
	}
	return d.takeCode(ctx, p.ID, code, at)
}

type arrival struct {
	How     people.How `json:"how"`
	Device  string     `json:"device,omitempty"`
	Passkey string     `json:"passkey,omitempty"` // its id
}

type refusal struct {
	Source string `json:"source"` // people.Console or a network address
	Device string `json:"device,omitempty"`

	Passkey string `json:"passkey,omitempty"` // id of one that counted backwards
}

func deviceID(d *people.Device) string {
	if d == nil {
		return ""
	}
	return d.ID
}

// prove verifies a password. A try is counted before the password is looked at and taken back when it
// was right, so that tries at the same time count as many.
func (d *Desk) prove(ctx context.Context, id, password, source string, device *people.Device) (people.Person, error) {
	origin := people.Origin{Source: source, Device: deviceID(device)}
	var p people.Person
	var hash string
	var refused error
	now := d.o.Now()
	err := d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		p, hash, refused = people.Person{}, "", nil
		tries, err := secret[people.Tries](tx, secretTries, theOne)
		if err != nil && !errors.Is(err, store.ErrNotFound) {
			return err
		}
		if refused = tries.Check(id, origin, now); refused != nil {
			return nil
		}
		tries.Failed(id, origin, now)
		all, err := list[people.Person](tx, "person")
		if err != nil {
			return err
		}
		tries.Prune(now, all)
		if err := putSecret(tx, secretTries, theOne, tries); err != nil {
			return err
		}
		if _, err := tx.Get("person", id, &p); errors.Is(err, store.ErrNotFound) {
			return nil
		} else if err != nil {
			return err
		}
		stored, err := tx.Secret(secretPassword, id)
		if errors.Is(err, store.ErrNotFound) {
			return nil
		}
		hash = string(stored)
		return err
	})
	if err = errors.Join(err, refused); err != nil {
		return p, err
	}
	right, err := d.hasher.VerifyPassword(ctx, hash, password)
	if err != nil {
		return p, err
	}
	if !right || !p.Active(now) {
		// Failed tries of people who exist stand in the log; the waits keep them few.
		if p.ID != "" {
			err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
				return d.enter(tx, now, "", draft{kind: "sign-in-refused", subject: p.ID, body: refusal{Source: source, Device: origin.Device}})
			})
		}
		return p, errors.Join(err, &people.SignInError{Reason: "name and password don't belong together", Hint: "Check both. Who forgot the password uses a recovery code, or asks who administers for a new one."})
	}
	err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		tries, err := secret[people.Tries](tx, secretTries, theOne)
		if err != nil {
			return err
		}
		tries.Succeeded(id, origin)
		return putSecret(tx, secretTries, theOne, tries)
	})
	if err == nil && d.hasher.Upgradable(hash) {
		err = d.storeHash(ctx, p.ID, password)
	}
	return p, err
}

func (d *Desk) storeHash(ctx context.Context, person, password string) error {
	hash, err := d.hasher.HashPassword(ctx, password)
	if err != nil {
		return err
	}
	return d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error { return tx.PutSecret(secretPassword, person, []byte(hash)) })
}

// newHash refuses a password that is too easy, and hashes it.
func (d *Desk) newHash(ctx context.Context, p people.Person, shop Shop, password string) (string, error) {
	if err := people.CheckPassword(password, p.ID, p.Name, shop.Name, d.o.Shop); err != nil {
		return "", err
	}
	return d.hasher.HashPassword(ctx, password)
}

// deviceAt finds the enrolled device that a secret belongs to; nil without a secret.
func (d *Desk) deviceAt(ctx context.Context, at Place) (*people.Device, error) {
	if at.Device == "" {
		return nil, nil
	}
	unknown := &people.SignInError{Reason: "this device is not enrolled", Hint: "Sign in without it, or let who administers enrol it again."}
	key, err := people.DeviceKey(at.Device)
	if err != nil {
		return nil, unknown
	}
	var device people.Device
	err = d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) (err error) {
		device, err = secret[people.Device](tx, secretDevice, key)
		return err
	})
	if errors.Is(err, store.ErrNotFound) {
		return nil, unknown
	}
	if err == nil {
		err = device.Check(at.Device)
	}
	return &device, err
}

// HandOver lets a person in by PIN at an enrolled device, at a counter that several people share.
func (d *Desk) HandOver(ctx context.Context, id, pin string, at Place) (token string, who *Who, err error) {
	device, err := d.deviceAt(ctx, at)
	if err == nil && device == nil {
		err = &people.SignInError{Reason: "a PIN works at an enrolled device only", Hint: "Sign in with your password."}
	}
	if err != nil {
		return "", nil, err
	}
	p, passwordAt, err := d.provePIN(ctx, id, pin, at.Device, device)
	if err != nil {
		return "", nil, err
	}
	now := d.o.Now()
	token, session, err := people.Begin(d.o.Random, p, device, people.ByPIN, passwordAt, now)
	if err != nil {
		return "", nil, err
	}
	err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		if err := putSecret(tx, secretSession, session.Key, session); err != nil {
			return err
		}
		return d.enter(tx, now, p.ID, draft{kind: "signed-in", subject: p.ID, body: arrival{How: session.How, Device: device.ID}})
	})
	return token, &Who{person: p, session: session, key: session.Key, device: device}, err
}

// provePIN verifies a PIN while it holds the shop's log, so that no two tries on one PIN run at once.
func (d *Desk) provePIN(ctx context.Context, id, entered, deviceSecret string, device *people.Device) (p people.Person, passwordAt time.Time, err error) {
	wrong := &people.SignInError{Reason: "name and PIN don't belong together at this device", Hint: "Check both, or sign in with your password."}
	var answer error
	err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		answer = wrong
		if _, err := tx.Get("person", id, &p); err != nil {
			return ignoreMissing(err)
		}
		pin, err := secret[people.PIN](tx, secretPIN, id+"@"+device.ID)
		if err != nil {
			return ignoreMissing(err)
		}
		answer = d.hasher.VerifyPIN(ctx, &pin, entered, p, *device, deviceSecret, d.o.Now())
		passwordAt = pin.PasswordAt
		return putSecret(tx, secretPIN, id+"@"+device.ID, pin)
	})
	return p, passwordAt, errors.Join(err, answer)
}

func ignoreMissing(err error) error {
	if errors.Is(err, store.ErrNotFound) {
		return nil
	}
	return err
}

// quiet is how long a session is used without writing that down.
const quiet = 30 * time.Second

// Enter lets in who holds a session's token. A page that refreshes itself is no sign of life;
// working is.
func (d *Desk) Enter(ctx context.Context, token string, at Place, working bool) (*Who, error) {
	key, err := people.SessionKey(token)
	if err != nil {
		return nil, &people.SignInError{Reason: "this is no session", Hint: "Sign in."}
	}
	device, err := d.deviceAt(ctx, at)
	if err != nil {
		return nil, err
	}
	who := &Who{key: key, device: device}
	var clock people.Clock
	err = d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) (err error) {
		if who.session, err = secret[people.Session](tx, secretSession, key); err != nil {
			return err
		}
		if clock, err = secret[people.Clock](tx, secretClock, theOne); ignoreMissing(err) != nil {
			return err
		}
		who.person, _, err = get[people.Person](tx, "person", who.session.Person)
		return err
	})
	if errors.Is(err, store.ErrNotFound) {
		return nil, &people.SignInError{Reason: "the session has ended", Hint: "Sign in again."}
	}
	if err != nil {
		return nil, err
	}
	now := d.o.Now()
	before, highest := who.session, clock.Highest
	if back := clock.See(now); back > 0 {
		return nil, errors.Join(d.endSessions(ctx, clock, back), &people.SignInError{Reason: "the clock of this machine was set back, so all sessions have ended", Hint: "Check date and time, then sign in again."})
	}
	use := (*people.Session).Check
	if working {
		use = (*people.Session).Use
	}
	answer := use(&who.session, who.person, device, people.StandardLimits(), now)
	s := who.session
	if s.Locked != before.Locked || (s.Ended == nil) != (before.Ended == nil) || s.Seen.Sub(before.Seen) > quiet || now.Sub(highest) > quiet {
		// The session is read again: it may have ended meanwhile, or its proof may be used up.
		err := d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) (err error) {
			if who.session, err = secret[people.Session](tx, secretSession, key); err != nil {
				return err
			}
			answer = use(&who.session, who.person, device, people.StandardLimits(), now)
			kept, err := secret[people.Clock](tx, secretClock, theOne)
			if ignoreMissing(err) != nil {
				return err
			}
			if kept.Highest.After(clock.Highest) {
				clock = kept
			}
			return errors.Join(putSecret(tx, secretSession, key, who.session), putSecret(tx, secretClock, theOne, clock))
		})
		if errors.Is(err, store.ErrNotFound) {
			err = &people.SignInError{Reason: "the session has ended", Hint: "Sign in again."}
		}
		if err != nil {
			return nil, err
		}
	}
	return who, answer
}

// endSessions ends everybody's session, because the clock can't be trusted.
func (d *Desk) endSessions(ctx context.Context, clock people.Clock, back time.Duration) error {
	return d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		if err := dropAll(tx, secretSession, nil); err != nil {
			return err
		}
		if err := putSecret(tx, secretClock, theOne, clock); err != nil {
			return err
		}
		return d.enter(tx, d.o.Now(), "", draft{kind: "clock-set-back", body: map[string]float64{"by_s": back.Seconds()}})
	})
}

// dropAll destroys the secrets of a kind whose names are chosen; nil chooses all.
func dropAll(tx *store.Tx, kind string, chosen func(id string) (bool, error)) error {
	ids, err := tx.Secrets(kind)
	if err != nil {
		return err
	}
	for _, id := range ids {
		if chosen != nil {
			yes, err := chosen(id)
			if err != nil {
				return err
			}
			if !yes {
				continue
			}
		}
		if err := tx.DropSecret(kind, id); err != nil {
			return err
		}
	}
	return nil
}

// SignOut ends the session. Who leaves for the day closes the PIN as well.
func (d *Desk) SignOut(ctx context.Context, who *Who, forTheDay bool) error {
	if who == nil || who.key == "" || who.roles != nil {
		return nil
	}
	return d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		if err := tx.DropSecret(secretSession, who.key); err != nil {
			return err
		}
		if forTheDay && who.device != nil {
			id := who.person.ID + "@" + who.device.ID
			pin, err := secret[people.PIN](tx, secretPIN, id)
			if err == nil {
				pin.Close()
				err = putSecret(tx, secretPIN, id, pin)
			}
			if ignoreMissing(err) != nil {
				return err
			}
		}
		return d.enter(tx, d.o.Now(), who.person.ID, draft{kind: "signed-out", subject: who.person.ID, body: arrival{How: who.session.How, Device: deviceID(who.device)}})
	})
}

// Unlock opens a locked session for its own person, by password or, at an enrolled device, by PIN. The
// session goes on under a new token, since others stood before the old one; "" where there is no session.
// Confirm does the same for one signature, under the same token.
func (d *Desk) Unlock(ctx context.Context, who *Who, password, pin string, at Place) (token string, err error) {
	return d.again(ctx, who, password, pin, at, (*people.Session).Unlock, true)
}

// Confirm notes that the person gave password or PIN again, for the next signature.
func (d *Desk) Confirm(ctx context.Context, who *Who, password, pin string, at Place) error {
	_, err := d.again(ctx, who, password, pin, at, (*people.Session).Prove, false)
	return err
}

// noting changes a session after a proof.
type noting = func(*people.Session, people.Person, *people.Device, people.How, people.Limits, time.Time) error

func (d *Desk) again(ctx context.Context, who *Who, password, pin string, at Place, note noting, renew bool) (token string, err error) {
	if who == nil {
		return "", bad("Sign in first.", "nobody is signed in")
	}
	if who.session.How == people.ByNone {
		return "", nil
	}
	if who.roles != nil {
		return "", &people.SignInError{Reason: "a program has no password of its own", Hint: "The person does it, in a session."}
	}
	how := people.ByPassword
	if password != "" {
		_, err = d.prove(ctx, who.person.ID, password, at.Source, who.device)
	} else {
		how = people.ByPIN
		if who.device == nil {
			return "", &people.SignInError{Reason: "a PIN works at an enrolled device only", Hint: "Give your password."}
		}
		_, _, err = d.provePIN(ctx, who.person.ID, pin, at.Device, who.device)
	}
	if err != nil {
		return "", err
	}
	var s people.Session
	err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) (err error) {
		token, s, err = d.noted(tx, who, how, "", note, renew)
		return err
	})
	if err != nil {
		return "", err
	}
	who.session, who.key = s, s.Key
	return token, nil
}

// noted changes a session after a proof that was verified, and gives it a new token where that is asked for.
// The caller lets who go on with it once it is kept.
func (d *Desk) noted(tx *store.Tx, who *Who, how people.How, passkey string, note noting, renew bool) (token string, s people.Session, err error) {
	s, err = secret[people.Session](tx, secretSession, who.key)
	if errors.Is(err, store.ErrNotFound) {
		return "", s, &people.SignInError{Reason: "the session has ended", Hint: "Sign in again."}
	}
	if err != nil {
		return "", s, err
	}
	if err := note(&s, who.person, who.device, how, people.StandardLimits(), d.o.Now()); err != nil {
		return "", s, err
	}
	if passkey != "" {
		s.Passkey = passkey
	}
	if renew {
		if token, err = s.Renew(d.o.Random); err != nil {
			return "", s, err
		}
		if err := tx.DropSecret(secretSession, who.key); err != nil {
			return "", s, err
		}
	}
	return token, s, putSecret(tx, secretSession, s.Key, s)
}

// takeProof uses up the proof for one signature.
func (d *Desk) takeProof(tx *store.Tx, who *Who, at time.Time) (people.How, error) {
	if who.roles != nil {
		return "", &people.SignInError{Reason: "a program can't sign", Hint: "Signing is an act of a person who signs in."}
	}
	if who.session.How == people.ByNone {
		return people.ByNone, nil
	}
	s, err := secret[people.Session](tx, secretSession, who.key)
	if err != nil {
		return "", &people.SignInError{Reason: "the session has ended", Hint: "Sign in again."}
	}
	how, err := s.TakeProof(who.person, who.device, people.StandardLimits(), at)
	if err != nil {
		return how, err
	}
	return how, putSecret(tx, secretSession, who.key, s)
}

// proven asks that the person gave the password, or proof for a signature, just now. What lets
// somebody in later is not given to whoever stands before a colleague's open session.
func (d *Desk) proven(tx *store.Tx, who *Who, at time.Time) error {
	if who.session.How == people.ByNone {
		return nil
	}
	s, err := secret[people.Session](tx, secretSession, who.key)
	if err != nil {
		return err
	}
	if at.Sub(s.PasswordAt) <= time.Duration(people.StandardLimits().ProofS)*time.Second {
		return nil
	}
	_, err = d.takeProof(tx, who, at)
	return err
}

// EnterProgram lets in a program by its token.
func (d *Desk) EnterProgram(ctx context.Context, token string) (*Who, error) {
	unknown := &people.SignInError{Reason: "this token is not known", Hint: "Ask who administers for a new one."}
	key, err := people.TokenKey(token)
	if err != nil {
		return nil, unknown
	}
	who := &Who{key: key}
	var answer error
	err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		t, err := secret[people.ServiceToken](tx, secretToken, key)
		if errors.Is(err, store.ErrNotFound) {
			answer = unknown
			return nil
		}
		if err != nil {
			return err
		}
		if who.person, _, err = get[people.Person](tx, "person", t.Owner); err != nil {
			return err
		}
		who.roles, answer = t.Use(who.person, d.o.Now())
		who.session.How = people.ByToken
		return putSecret(tx, secretToken, key, t)
	})
	if err = errors.Join(err, answer); err != nil {
		return nil, err
	}
	who.roles = slices.Clip(who.roles)
	return who, nil
}
