// Package passkeytest is a keeper of passkeys in software, for tests: it answers as a phone or a key on a
// ring would, and can be made to answer wrongly.
package passkeytest

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
)

// Key is one passkey with its private part.
type Key struct {
	ID     []byte
	Handle []byte // of the person, as given when it was made
	Domain string
	Count  uint32 // of signatures; it rises before each
	Still  bool   // the count stays
	secret *ecdsa.PrivateKey
}

// Answer says in what an answer differs from an honest one.
type Answer struct {
	Origin     string // of the page, as the browser saw it
	Challenge  string // instead of the one asked for
	Domain     string // instead of the one asked for
	Type       string // instead of what was asked for
	Unverified bool   // who held it was not verified
	Absent     bool   // nobody touched it
	Handle     []byte // instead of the key's own
	ID         []byte // instead of the key's own
	NoHandle   bool
}

var b64 = base64.RawURLEncoding

// options are the parts of the question that a keeper looks at.
type options struct {
	Challenge string `json:"challenge"`
	RPID      string `json:"rpId"`
	RP        struct {
		ID string `json:"id"`
	} `json:"rp"`
	User struct {
		ID string `json:"id"`
	} `json:"user"`
}

func (a Answer) clientData(kind string, o options) []byte {
	or := func(given, otherwise string) string {
		if given != "" {
			return given
		}
		return otherwise
	}
	data, err := json.Marshal(map[string]any{"type": or(a.Type, kind), "challenge": or(a.Challenge, o.Challenge), "origin": a.Origin, "crossOrigin": false})
	if err != nil {
		panic(err)
	}
	return data
}

// flags are those of authenticator data (W3C Web Authentication, level 3, section 6.1; from memory).
func (a Answer) flags(made bool) byte {
	flags := byte(0)
	if !a.Absent {
		flags |= 1
	}
	if !a.Unverified {
		flags |= 4
	}
	if made {
		flags |= 64
	}
	return flags
}

func (k *Key) data(a Answer, attested []byte) []byte {
	domain := k.Domain
	if a.Domain != "" {
		domain = a.Domain
	}
	sum := sha256.Sum256([]byte(domain))
	out := append(sum[:], a.flags(attested != nil))
	out = binary.BigEndian.AppendUint32(out, k.Count)
	return append(out, attested...)
}

// Make makes a passkey as asked, and the answer for it.
func Make(question []byte, a Answer) (*Key, []byte) {
	var o options
	if err := json.Unmarshal(question, &o); err != nil {
		panic(err)
	}
	secret, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		panic(err)
	}
	k := &Key{ID: []byte(rand.Text()), Domain: o.RP.ID, secret: secret}
	if k.Handle, err = b64.DecodeString(o.User.ID); err != nil {
		panic(err)
	}
	point, err := secret.PublicKey.Bytes() // 4, x, y
	if err != nil {
		panic(err)
	}
	// COSE_Key of ES256, and the attestation "none", both written out in CBOR.
	cose := append([]byte{0xa5, 1, 2, 3, 0x26, 0x20, 1, 0x21, 0x58, 32}, point[1:33]...)
	cose = append(append(cose, 0x22, 0x58, 32), point[33:]...)
	attested := make([]byte, 16) // no maker is named
	attested = binary.BigEndian.AppendUint16(attested, uint16(len(k.ID)))
	attested = append(append(attested, k.ID...), cose...)
	data := k.data(a, attested)
	object := append([]byte("\xa3\x63fmt\x64none\x67attStmt\xa0\x68authData\x58"), byte(len(data)))
	object = append(object, data...)
	return k, k.send(map[string]any{"clientDataJSON": b64.EncodeToString(a.clientData("webauthn.create", o)), "attestationObject": b64.EncodeToString(object)}, k.ID)
}

// Give answers a question with the passkey.
func (k *Key) Give(question []byte, a Answer) []byte {
	var o options
	if err := json.Unmarshal(question, &o); err != nil {
		panic(err)
	}
	if !k.Still {
		k.Count++
	}
	client := a.clientData("webauthn.get", o)
	data := k.data(a, nil)
	hash := sha256.Sum256(client)
	sum := sha256.Sum256(append(data, hash[:]...))
	signature, err := ecdsa.SignASN1(rand.Reader, k.secret, sum[:])
	if err != nil {
		panic(err)
	}
	response := map[string]any{"clientDataJSON": b64.EncodeToString(client), "authenticatorData": b64.EncodeToString(data), "signature": b64.EncodeToString(signature), "userHandle": b64.EncodeToString(k.Handle)}
	if a.Handle != nil {
		response["userHandle"] = b64.EncodeToString(a.Handle)
	}
	if a.NoHandle {
		delete(response, "userHandle")
	}
	id := k.ID
	if a.ID != nil {
		id = a.ID
	}
	return k.send(response, id)
}

func (k *Key) send(response map[string]any, id []byte) []byte {
	out, err := json.Marshal(map[string]any{"id": b64.EncodeToString(id), "rawId": b64.EncodeToString(id), "type": "public-key", "response": response, "clientExtensionResults": map[string]any{}})
	if err != nil {
		panic(err)
	}
	return out
}
