package people

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/netip"
	"slices"
	"strings"
	"time"

	"github.com/go-webauthn/webauthn/protocol"
	"github.com/go-webauthn/webauthn/webauthn"
)

// A passkey is a pair of keys of which the private one stays in what the person carries: a phone, a
// computer, a key on a ring. It signs a question only after it saw who holds it, by finger, face or a PIN
// of its own, and only for the site at which it was made. So it is two factors at once, and nobody can
// pass it on to a false site (W3C Web Authentication, level 3; from memory, as the library
// go-webauthn carries it out).
const (
	PasskeyWait  = 3 * time.Minute // how long a question may be answered; chosen here
	MostPasskeys = 20              // of one person; chosen here

	handleBytes    = 32
	challengeBytes = 32
)

// Site is under what name the pages were asked for. A passkey belongs to the name.
type Site struct {
	Domain string // without port: bench.example
	Origin string // as a browser names it: https://bench.example:4917
	Shop   string // as shown by what keeps the passkey
}

// NewSite says under what name pages are asked for; host may have a port. Browsers know passkeys for names
// on encrypted connections and for localhost alone; anything else is *SignInError.
func NewSite(host string, encrypted bool, shop string) (Site, error) {
	const byPassword = "Sign in with your password here."
	host = strings.ToLower(host)
	name := host
	if i := strings.LastIndexByte(host, ':'); i > strings.LastIndexByte(host, ']') {
		name = host[:i]
	}
	scheme := "http"
	if encrypted {
		scheme = "https"
	}
	_, err := netip.ParseAddr(strings.Trim(name, "[]"))
	switch {
	case err == nil:
		return Site{}, &SignInError{"a passkey belongs to a name, and this address is a number", "Open the pages under a name: on the machine itself that is localhost. " + byPassword}
	case name == "":
		return Site{}, &SignInError{"a passkey belongs to a name, and these pages have none", byPassword}
	case !encrypted && name != "localhost":
		return Site{}, &SignInError{"a passkey works on an encrypted connection only", "Let who runs the program give it a certificate. " + byPassword}
	}
	if shop == "" {
		shop = "Wreath"
	}
	return Site{Domain: name, Origin: scheme + "://" + host, Shop: shop}, nil
}

// Passkey is one passkey of a person, as it stands in the records. What it holds is public.
type Passkey struct {
	ID         string     `json:"id"` // "k-7k2m9q4x"
	Person     string     `json:"person"`
	Name       string     `json:"name"`   // "phone"
	Domain     string     `json:"domain"` // the name for which it was made
	Credential []byte     `json:"credential"`
	Key        []byte     `json:"key"`    // public, COSE
	Handle     []byte     `json:"handle"` // what stands for the person in what keeps the passkey; random
	Synced     bool       `json:"synced"` // its keeper may copy it to other devices of the person
	Made       time.Time  `json:"made"`
	Ended      *time.Time `json:"ended,omitempty"`
}

// PasskeyUse is what changes with every use.
type PasskeyUse struct {
	Count uint32     `json:"count"` // of signatures, as the passkey says; many always say 0
	Last  *time.Time `json:"last,omitempty"`
}

// Question is what was asked of a browser, until it is answered or its time is over. It is good for one
// answer; the caller forgets it before that is looked at.
type Question struct {
	Person  string // who is asked; "" for whoever has a passkey
	Session string // key of the session in which it was asked; "" to sign in
	Site    Site
	Until   time.Time

	data   webauthn.SessionData
	asked  time.Time
	handle []byte
}

// Options are what a browser needs to answer, as JSON of Web Authentication.
type Options = json.RawMessage

// relying is the library set up for one site. Times are kept by Question, since the library looks at a
// clock of its own.
func (s Site) relying() (*webauthn.WebAuthn, error) {
	required := true
	return webauthn.New(&webauthn.Config{
		RPID: s.Domain, RPDisplayName: s.Shop, RPOrigins: []string{s.Origin},
		AttestationPreference: protocol.PreferNoAttestation,
		AuthenticatorSelection: protocol.AuthenticatorSelection{
			ResidentKey: protocol.ResidentKeyRequirementRequired, RequireResidentKey: &required, UserVerification: protocol.VerificationRequired,
		},
		Timeouts: webauthn.TimeoutsConfig{Login: webauthn.TimeoutConfig{Timeout: PasskeyWait}, Registration: webauthn.TimeoutConfig{Timeout: PasskeyWait}},
	})
}

// holder is a person as the library wants to see one.
type holder struct {
	handle []byte
	person Person
	keys   []webauthn.Credential
}

func (h holder) WebAuthnID() []byte                         { return h.handle }
func (h holder) WebAuthnName() string                       { return h.person.ID }
func (h holder) WebAuthnDisplayName() string                { return h.person.Name }
func (h holder) WebAuthnCredentials() []webauthn.Credential { return h.keys }

func (k Passkey) credential(u PasskeyUse) webauthn.Credential {
	return webauthn.Credential{
		ID: k.Credential, PublicKey: k.Key,
		Flags:         webauthn.CredentialFlags{UserPresent: true, UserVerified: true, BackupEligible: k.Synced},
		Authenticator: webauthn.Authenticator{SignCount: u.Count},
	}
}

func descriptors(keys []Passkey) (out []protocol.CredentialDescriptor) {
	for _, k := range keys {
		out = append(out, protocol.CredentialDescriptor{Type: protocol.PublicKeyCredentialType, CredentialID: k.Credential})
	}
	return out
}

func drawBytes(random io.Reader, n int) ([]byte, error) {
	b := make([]byte, n)
	if _, err := io.ReadFull(random, b); err != nil {
		return nil, fmt.Errorf("read random bytes: %w", err)
	}
	return b, nil
}

// AskNewPasskey asks the browser of a person in a session for a new passkey. have are those that the person
// has already, at whatever site.
func AskNewPasskey(random io.Reader, p Person, session string, have []Passkey, site Site, now time.Time) (Options, Question, error) {
	if len(have) >= MostPasskeys {
		return nil, Question{}, &SignInError{fmt.Sprintf("%s has %d passkeys already", p.Name, len(have)), "Remove one that is not used any more."}
	}
	challenge, err := drawBytes(random, challengeBytes)
	if err != nil {
		return nil, Question{}, err
	}
	var handle []byte
	for _, k := range have {
		handle = k.Handle
	}
	if handle == nil {
		if handle, err = drawBytes(random, handleBytes); err != nil {
			return nil, Question{}, err
		}
	}
	r, err := site.relying()
	if err != nil {
		return nil, Question{}, err
	}
	here := slices.DeleteFunc(slices.Clone(have), func(k Passkey) bool { return k.Domain != site.Domain })
	creation, data, err := r.BeginRegistration(holder{handle: handle, person: p}, webauthn.WithExclusions(descriptors(here)),
		func(o *protocol.PublicKeyCredentialCreationOptions) error { o.Challenge = challenge; return nil })
	if err != nil {
		return nil, Question{}, err
	}
	options, err := json.Marshal(creation.Response)
	return options, Question{Person: p.ID, Session: session, Site: site, Until: now.Add(PasskeyWait), data: *data, asked: now, handle: handle}, err
}

// AskPasskey asks a browser for a passkey. Without a person any passkey of the site will do, and it says
// whose it is; else one of keys.
func AskPasskey(random io.Reader, person, session string, keys []Passkey, site Site, now time.Time) (Options, Question, error) {
	here := slices.DeleteFunc(slices.Clone(keys), func(k Passkey) bool { return k.Domain != site.Domain })
	if person != "" && len(here) == 0 {
		return nil, Question{}, &SignInError{"there is no passkey that could be used here", "Use your password."}
	}
	challenge, err := drawBytes(random, challengeBytes)
	if err != nil {
		return nil, Question{}, err
	}
	r, err := site.relying()
	if err != nil {
		return nil, Question{}, err
	}
	assertion, data, err := r.BeginDiscoverableLogin(webauthn.WithChallenge(challenge), webauthn.WithAllowedCredentials(descriptors(here)))
	if err != nil {
		return nil, Question{}, err
	}
	options, err := json.Marshal(assertion.Response)
	return options, Question{Person: person, Session: session, Site: site, Until: now.Add(PasskeyWait), data: *data, asked: now}, err
}

// errPasskey is the answer to whatever is not what was asked for; which part it was is no use to an honest
// person, and some use to others.
var errPasskey = &SignInError{"the passkey was not accepted", "Try once more. If it is refused again, use your password."}

// open refuses a question whose time is over.
func (q Question) open(now time.Time) error {
	if !now.Before(q.Until) || now.Before(q.asked.Add(-ClockSlack)) {
		return &SignInError{"the passkey came too late", "Begin once more."}
	}
	return nil
}

// Enrol takes the answer to AskNewPasskey.
func (q Question) Enrol(random io.Reader, p Person, name string, answer []byte, now time.Time) (k Passkey, use PasskeyUse, err error) {
	if err := checkLabel("name", name); err != nil {
		return k, use, err
	}
	if err := q.open(now); err != nil {
		return k, use, err
	}
	if q.handle == nil || q.Person != p.ID {
		return k, use, errPasskey
	}
	r, err := q.Site.relying()
	if err != nil {
		return k, use, err
	}
	parsed, err := protocol.ParseCredentialCreationResponseBytes(answer)
	if err != nil {
		return k, use, errPasskey
	}
	made, err := r.CreateCredential(holder{handle: q.handle, person: p}, q.data, parsed)
	if err != nil {
		return k, use, errPasskey
	}
	id, err := newID(random, "k-")
	k = Passkey{
		ID: id, Person: p.ID, Name: name, Domain: q.Site.Domain, Credential: made.ID, Key: made.PublicKey, Handle: q.handle,
		Synced: made.Flags.BackupEligible, Made: now,
	}
	return k, PasskeyUse{Count: made.Authenticator.SignCount}, err
}

// NeedsTwo tells whether a password alone is too little to sign in: from another machine, where no enrolled
// device stands for the house, for who has a passkey that works from there, and under the strict rule of a
// shop for who signs or administers. Codes on paper are a second factor beside a password (SP 800-63B-4
// 3.1.2, look-up secrets; from memory).
func NeedsTwo(p Person, keys []Passkey, source string, device *Device, strict bool) bool {
	if local(source) || device != nil {
		return false
	}
	return strict && (slices.Contains(p.Roles, Sign) || slices.Contains(p.Roles, Administer)) ||
		slices.ContainsFunc(keys, func(k Passkey) bool { return k.Ended == nil && k.Domain != "localhost" })
}

// AnsweredBy says which passkey an answer to AskPasskey claims to be of. Nothing is proved by it.
func AnsweredBy(answer []byte) (credential []byte, err error) {
	parsed, err := protocol.ParseCredentialRequestResponseBytes(answer)
	if err != nil {
		return nil, errPasskey
	}
	return parsed.RawID, nil
}

// ErrCopied is returned for a passkey that counts backwards: there are two of it.
var ErrCopied = &SignInError{"this passkey counted backwards, so there may be a copy of it in other hands", "It is refused. Sign in with your password, remove the passkey, and make a new one."}

// Given takes the answer to AskPasskey: it returns nil when the passkey k, of the person p, signed the
// question. It changes use, which the caller keeps.
func (q Question) Given(k Passkey, use *PasskeyUse, p Person, answer []byte, now time.Time) error {
	if err := q.open(now); err != nil {
		return err
	}
	switch {
	case q.handle != nil || k.Person != p.ID || q.Person != "" && q.Person != p.ID || k.Domain != q.Site.Domain:
		return errPasskey
	case k.Ended != nil:
		return &SignInError{"the passkey " + k.Name + " was removed", "Use another one, or your password."}
	case !p.Active(now):
		return &SignInError{p.Name + " does not work here at this time", "Ask an administrator."}
	}
	r, err := q.Site.relying()
	if err != nil {
		return err
	}
	parsed, err := protocol.ParseCredentialRequestResponseBytes(answer)
	if err != nil {
		return errPasskey
	}
	if len(q.data.AllowedCredentialIDs) > 0 && !slices.ContainsFunc(q.data.AllowedCredentialIDs, func(id []byte) bool { return bytes.Equal(id, k.Credential) }) {
		return errPasskey
	}
	data := q.data
	data.AllowedCredentialIDs = nil // looked at above; the library would want to see all of them again
	person := holder{handle: k.Handle, person: p, keys: []webauthn.Credential{k.credential(*use)}}
	var given *webauthn.Credential
	if len(parsed.Response.UserHandle) == 0 && q.Person != "" { // whose it is was asked for by name
		data.UserID = k.Handle
		given, err = r.ValidateLogin(person, data, parsed)
	} else {
		_, given, err = r.ValidatePasskeyLogin(func([]byte, []byte) (webauthn.User, error) { return person, nil }, data, parsed)
	}
	if err != nil {
		return errPasskey
	}
	if given.Authenticator.CloneWarning {
		return ErrCopied
	}
	use.Count, use.Last = given.Authenticator.SignCount, &now
	return nil
}
