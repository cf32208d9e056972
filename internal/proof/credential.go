package proof

import (
	"crypto/ed25519"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"math/big"
	"slices"
	"time"
)

// vocabulary is the name space of our own terms in a credential: drawn at random once, so that it means
// nothing else. Nothing is fetched from it; doc/proof.md lists the terms.
const vocabulary = "urn:uuid:9072fb74-ed88-49be-9385-4be3728ad4f7#"

// MediaType is the media type of a credential.
const MediaType = "application/vc+jwt"

// Credential makes a W3C Verifiable Credential (Data Model 2.0) of a statement, secured as a JWT (VC
// JOSE and COSE, section 3.1), signed with Ed25519 (RFC 8037). It says what a proof says, uncut. The
// issuer is the key itself, as a did:key, so that nobody need be asked where to find it; that the key is
// the shop's has to be known from the shop, as for a proof.
func Credential(s Statement, key ed25519.PrivateKey) (string, error) {
	if len(key) != ed25519.PrivateKeySize {
		return "", errors.New("there is no signing key")
	}
	if err := s.check(); err != nil {
		return "", err
	}
	did := didKey(key.Public().(ed25519.PublicKey))
	header, err := json.Marshal(map[string]string{"alg": "EdDSA", "typ": "vc+jwt", "cty": "vc", "kid": did + "#" + did[len("did:key:"):]})
	if err != nil {
		return "", err
	}
	payload, err := json.Marshal(credential(s, did))
	if err != nil {
		return "", err
	}
	signed := base64.RawURLEncoding.EncodeToString(header) + "." + base64.RawURLEncoding.EncodeToString(payload)
	return signed + "." + base64.RawURLEncoding.EncodeToString(ed25519.Sign(key, []byte(signed))), nil
}

// document is the credential before it is signed.
type document struct {
	Context           []any    `json:"@context"`
	Type              []string `json:"type"`
	Issuer            issuer   `json:"issuer"`
	ValidFrom         string   `json:"validFrom"`
	CredentialSubject subject  `json:"credentialSubject"`
}

type issuer struct {
	ID   string `json:"id"`
	Name string `json:"name,omitempty"`
}

type subject struct {
	Type         string    `json:"type"`
	Shop         string    `json:"shop"`
	Number       string    `json:"recordNumber"`
	Made         string    `json:"recordMade"`
	Report       string    `json:"reportNumber,omitempty"`
	Supersedes   string    `json:"supersedes,omitempty"`
	SupersededBy string    `json:"supersededBy,omitempty"`
	Hash         string    `json:"recordHash"`
	Entry        int64     `json:"logEntry"`
	Size         int64     `json:"logSize"`
	Root         string    `json:"logRoot"`
	Item         string    `json:"item,omitempty"`
	Claim        *claimed  `json:"claim,omitempty"`
	Finding      string    `json:"finding"`
	Density      quantity  `json:"density"`
	Mass         quantity  `json:"mass"`
	Fineness     *interval `json:"fineness,omitempty"`
	Suspended    bool      `json:"heldBack"`
	Approved     bool      `json:"approved"`
	Demo         bool      `json:"invented,omitempty"`
	Note         string    `json:"note"`
}

type claimed struct {
	Words    string      `json:"words,omitempty"`
	Metal    string      `json:"metal,omitempty"`
	Fineness json.Number `json:"finenessPpt,omitempty"`
}

// quantity has its number with the digits that count.
type quantity struct {
	Value       json.Number `json:"value"`
	Uncertainty json.Number `json:"expandedUncertainty,omitempty"`
	Unit        string      `json:"unit"`
	Condition   string      `json:"condition,omitempty"`
}

type interval struct {
	Low   json.Number `json:"lowPpt"`
	High  json.Number `json:"highPpt"`
	Level string      `json:"level"`
}

const credentialNote = "Found by hydrostatic weighing. This is neither a hallmark nor an assay certificate. Density can't tell tungsten from fine gold."

func credential(s Statement, did string) document {
	c := document{
		Context:   []any{"https://www.w3.org/ns/credentials/v2", map[string]string{"@vocab": vocabulary}},
		Type:      []string{"VerifiableCredential", "DensityDetermination"},
		Issuer:    issuer{did, s.ShopName},
		ValidFrom: whole(s.Issued).Format(time.RFC3339),
		CredentialSubject: subject{
			Type: "WeighedItem", Shop: s.Shop, Number: s.Number, Made: whole(s.Made).Format(time.RFC3339), Report: s.Report, Supersedes: s.Supersedes, SupersededBy: s.SupersededBy,
			Hash: hex.EncodeToString(s.Hash[:]), Entry: s.Entry, Size: s.Size, Root: hex.EncodeToString(s.Root[:]), Item: s.Item, Finding: s.Finding,
			Density:   quantity{Value: json.Number(s.Density.String()), Unit: "g/cm3", Condition: "20 °C"},
			Mass:      quantity{Value: json.Number(s.Mass.String()), Unit: "g", Condition: "free of the buoyancy of the air"},
			Suspended: s.Suspended, Approved: s.Approved, Demo: s.Demo, Note: credentialNote,
		},
	}
	sub := &c.CredentialSubject
	if s.Density.U != 0 {
		sub.Density.Uncertainty = json.Number(s.Density.Uncertainty())
	}
	if s.Claim != "" || s.Claimed != (Number{}) {
		sub.Claim = &claimed{Words: s.Claim}
		if s.Claimed != (Number{}) {
			sub.Claim.Metal, sub.Claim.Fineness = s.Metal, json.Number(s.Claimed.String())
		}
	}
	if s.Low != (Number{}) || s.High != (Number{}) {
		sub.Fineness = &interval{json.Number(s.Low.String()), json.Number(s.High.String()), "95 %"}
	}
	return c
}

// didKey names an Ed25519 public key as a did:key: the multicodec 0xed, then the key, in base58 behind a
// z (did:key method, section 3.1).
func didKey(public ed25519.PublicKey) string {
	return "did:key:z" + base58(append([]byte{0xed, 0x01}, public...))
}

const base58Letters = "123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz"

// base58 writes bytes whose first is not zero.
func base58(data []byte) string {
	n, base, digit := new(big.Int).SetBytes(data), big.NewInt(58), new(big.Int)
	var out []byte
	for n.Sign() > 0 {
		n.DivMod(n, base, digit)
		out = append(out, base58Letters[digit.Int64()])
	}
	slices.Reverse(out)
	return string(out)
}
