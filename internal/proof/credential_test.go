package proof

import (
	"crypto/ed25519"
	"encoding/json"
	"math/big"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/go-jose/go-jose/v4"
)

// TestCredential has an independent library check the credential, and reads it by the names that the
// Verifiable Credentials Data Model 2.0 gives.
func TestCredential(t *testing.T) {
	s := invented()
	s.Item = strings.Repeat("a long description ", 10)
	jwt := must[string](t)(Credential(s, testKey))
	signed := must[*jose.JSONWebSignature](t)(jose.ParseSignedCompact(jwt, []jose.SignatureAlgorithm{jose.EdDSA}))
	payload := must[[]byte](t)(signed.Verify(testKey.Public()))

	h := signed.Signatures[0].Protected
	if h.Algorithm != "EdDSA" || h.ExtraHeaders["typ"] != "vc+jwt" || h.ExtraHeaders["cty"] != "vc" { // VC JOSE and COSE, section 3.1.1
		t.Errorf("header %+v", h)
	}
	var vc struct {
		Context   []json.RawMessage `json:"@context"`
		Type      []string
		Issuer    struct{ ID, Name string }
		ValidFrom time.Time
		Subject   map[string]any `json:"credentialSubject"`
		Proof     any
		VC        any
		NotBefore any `json:"nbf"`
	}
	if err := json.Unmarshal(payload, &vc); err != nil {
		t.Fatal(err)
	}
	if string(vc.Context[0]) != `"https://www.w3.org/ns/credentials/v2"` || vc.Type[0] != "VerifiableCredential" || !vc.ValidFrom.Equal(s.Issued) || vc.Issuer.Name != s.ShopName {
		t.Errorf("%s", payload)
	}
	if vc.Proof != nil || vc.VC != nil || vc.NotBefore != nil { // of other ways to secure, and of version 1
		t.Errorf("%s", payload)
	}
	var own map[string]string
	if err := json.Unmarshal(vc.Context[1], &own); err != nil || len(own) != 1 || !strings.HasPrefix(own["@vocab"], "urn:uuid:") || !strings.HasSuffix(own["@vocab"], "#") {
		t.Errorf("own terms: %s", vc.Context[1])
	}
	if density := vc.Subject["density"].(map[string]any); density["value"] != 15.449 || density["expandedUncertainty"] != 0.014 || !strings.Contains(string(payload), `"value":15.449,`) {
		t.Errorf("density %v", density)
	}
	if vc.Subject["item"] != s.Item || vc.Subject["finding"] != Met || vc.Subject["recordNumber"] != s.Number {
		t.Errorf("subject %v", vc.Subject)
	}
	if key, kid := keyOf(t, vc.Issuer.ID), h.KeyID; !key.Equal(testKey.Public()) || kid != vc.Issuer.ID+"#"+strings.TrimPrefix(vc.Issuer.ID, "did:key:") {
		t.Errorf("issuer %s, kid %s", vc.Issuer.ID, kid)
	}

	for at, letter := range []byte(jwt) {
		// The last letter of a part has bits that stand for nothing.
		if letter == '.' || strings.HasPrefix(jwt[at+1:], ".") || at == len(jwt)-1 {
			continue
		}
		changed := []byte(jwt)
		changed[at] ^= 1
		if parsed, err := jose.ParseSignedCompact(string(changed), []jose.SignatureAlgorithm{jose.EdDSA}); err == nil {
			if _, err := parsed.Verify(testKey.Public()); err == nil {
				t.Fatalf("letter %d is free", at)
			}
		}
	}
}

// keyOf reads the key out of a did:key, by letters of its own.
func keyOf(t *testing.T, did string) ed25519.PublicKey {
	t.Helper()
	text, ours := strings.CutPrefix(did, "did:key:z")
	if !ours {
		t.Fatalf("%s is no did:key in base58", did)
	}
	n := new(big.Int)
	for _, c := range text {
		at := strings.IndexRune("123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz", c)
		n.Add(n.Mul(n, big.NewInt(58)), big.NewInt(int64(at)))
	}
	raw := n.Bytes()
	if len(raw) != 34 || raw[0] != 0xed || raw[1] != 0x01 {
		t.Fatalf("%s holds %x", did, raw)
	}
	return ed25519.PublicKey(raw[2:])
}

// TestBase58 holds the letters against the test vectors of draft-msporny-base58-03, section 5.
func TestBase58(t *testing.T) {
	for plain, coded := range map[string]string{
		"Hello World!": "2NEpo7TZRRrLZSi2U",
		"The quick brown fox jumps over the lazy dog.": "USm3fpXnKG5EUBx2ndxBDMPVciP5hGey2Jh4NDv6gmeo1LkMeiKrLJUUBk6Z",
	} {
		if got := base58([]byte(plain)); got != coded {
			t.Errorf("%q is %s, want %s", plain, got, coded)
		}
	}
}

// TestCredentialOfEveryFinding leaves out what a statement does not say.
func TestCredentialOfEveryFinding(t *testing.T) {
	s := invented()
	s.Metal, s.Claimed, s.Low, s.High, s.Finding, s.Density.U = "", Number{}, Number{}, Number{}, NoFinding, 0
	c := credential(s, "did:key:z0").CredentialSubject
	text := string(must[[]byte](t)(json.Marshal(c)))
	for _, absent := range []string{"claim", "fineness", "expandedUncertainty", "reportNumber"} {
		if strings.Contains(text, `"`+absent+`"`) {
			t.Errorf("%s stands in %s", absent, text)
		}
	}
	s.Claim, s.Demo = "corundum (ruby, sapphire)", true
	if c := credential(s, "did:key:z0").CredentialSubject; c.Claim.Words != s.Claim || c.Claim.Metal != "" || !c.Demo {
		t.Errorf("%+v", c)
	}
	if !slices.Contains(credential(s, "").Type, "DensityDetermination") {
		t.Error("no type")
	}
}
