package proof

import (
	"bytes"
	"crypto/ed25519"
	"crypto/rand"
	"fmt"
	"time"

	"github.com/fxamacker/cbor/v2"
	"github.com/veraison/go-cose"
)

// encoding is deterministic (RFC 8949, section 4.2.1), decoding forgives nothing: no unknown field, no
// field twice, no length left open, no tag.
var encoding, decoding = func() (cbor.EncMode, cbor.DecMode) {
	e, err := cbor.CoreDetEncOptions().EncMode()
	if err != nil {
		panic(err) // the options are wrong, not the user
	}
	d, err := cbor.DecOptions{
		DupMapKey: cbor.DupMapKeyEnforcedAPF, IndefLength: cbor.IndefLengthForbidden, TagsMd: cbor.TagsForbidden,
		ExtraReturnErrors: cbor.ExtraDecErrorUnknownField, MaxArrayElements: maxRows, MaxNestedLevels: 8,
	}.DecMode()
	if err != nil {
		panic(err)
	}
	return e, d
}()

// seal makes a COSE_Sign1 message (RFC 9052, section 4.2) of a claims set. Algorithm and key are named
// in the protected header; the unprotected one is empty, so that no byte of the message is free.
func seal(shop string, claims any, key ed25519.PrivateKey) ([]byte, error) {
	payload, err := encoding.Marshal(claims)
	if err != nil {
		return nil, err
	}
	signer, err := cose.NewSigner(cose.AlgorithmEdDSA, key)
	if err != nil {
		return nil, err
	}
	mark := NewKey(shop, key.Public().(ed25519.PublicKey)).Mark
	m := cose.NewSign1Message()
	m.Headers.Protected.SetAlgorithm(cose.AlgorithmEdDSA)
	m.Headers.Protected[cose.HeaderLabelKeyID] = mark[:]
	m.Payload = payload
	// Ed25519 draws nothing at random (RFC 8032, section 5.1.6); the interface asks for a source.
	if err := m.Sign(rand.Reader, nil, signer); err != nil {
		return nil, err
	}
	return m.MarshalCBOR()
}

// head is what every claims set begins with.
type head struct {
	Issuer string `cbor:"1,keyasint"`
}

// unseal checks a message with the keys and gives the payload. What says which shop it is of, before the
// signature is checked, decides only which error is told.
func unseal(message []byte, what string, keys []Key) ([]byte, Key, error) {
	damaged := &Error{Damaged, "the " + what + " is damaged: it is not in the one form that it has", damagedHint}
	var m cose.Sign1Message
	if err := m.UnmarshalCBOR(message); err != nil {
		return nil, Key{}, damaged
	}
	if again, err := m.MarshalCBOR(); err != nil || !bytes.Equal(again, message) || len(m.Headers.Unprotected) > 0 {
		return nil, Key{}, damaged
	}
	algorithm, err := m.Headers.Protected.Algorithm()
	mark, _ := m.Headers.Protected[cose.HeaderLabelKeyID].([]byte)
	if err != nil || algorithm != cose.AlgorithmEdDSA || len(mark) != 4 || len(m.Headers.Protected) != 2 || len(m.Signature) != ed25519.SignatureSize {
		return nil, Key{}, damaged
	}
	for _, k := range keys {
		if !bytes.Equal(k.Mark[:], mark) {
			continue
		}
		verifier, err := cose.NewVerifier(cose.AlgorithmEdDSA, k.Public)
		if err == nil && m.Verify(nil, verifier) == nil {
			return m.Payload, k, nil
		}
		return nil, k, &Error{Forged, "the signature of the " + what + " does not hold: something in it was changed, or misread", "Scan the code again. If it stays so, do not rely on it, and ask the shop."}
	}
	var h head
	lenient, err := cbor.DecOptions{}.DecMode()
	if err != nil {
		return nil, Key{}, err
	}
	if lenient.Unmarshal(m.Payload, &h) != nil || h.Issuer == "" {
		return nil, Key{}, damaged
	}
	if len(keys) == 0 {
		return nil, Key{}, &Error{UnknownKey, fmt.Sprintf("there is no public key to check the %s with", what), "Give the key that the shop published."}
	}
	for _, k := range keys {
		if k.Shop == h.Issuer {
			return nil, Key{}, &Error{UnknownKey, fmt.Sprintf("the %s says that it is of %s, and it is signed with none of the keys of that shop that are known here", what, shown(h.Issuer)),
				"Ask the shop for the key with the mark " + fmt.Sprintf("%x", mark) + ". Without it nothing in the " + what + " is proved."}
		}
	}
	return nil, Key{}, &Error{OtherShop, fmt.Sprintf("the %s says that it is of another shop, %s", what, shown(h.Issuer)), "Give the public key of that shop, from the shop itself."}
}

// shown is a name from somebody unknown, made fit for a message.
func shown(name string) string {
	if r := []rune(name); len(r) > 40 {
		name = string(r[:40]) + "…"
	}
	return fmt.Sprintf("%q", name)
}

// whole is a time as a message keeps it.
func whole(t time.Time) time.Time { return t.UTC().Truncate(time.Second) }

// seconds is a time in a message: seconds since 1970, UTC, as a CWT counts (RFC 8392, section 2).
func seconds(t time.Time) int64 { return whole(t).Unix() }

// latest is the end of the year 9999, behind which no time can be written.
var latest = time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC).Unix()

// moment is a time read from a message.
func moment(s int64) (time.Time, bool) { return time.Unix(s, 0).UTC(), s >= 0 && s < latest }
