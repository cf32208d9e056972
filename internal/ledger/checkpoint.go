package ledger

import (
	"crypto/rand"
	"encoding/base32"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

// Checkpoint is the state of a shop's log at one moment.
type Checkpoint struct {
	Shop string
	Size int64     // number of entries
	Root tlog.Hash // of the tree over them
	Time time.Time // when it was made, UTC, in whole seconds
}

// Origin is the name under which a shop's checkpoints are signed.
func Origin(shop string) string { return "wreath-log/" + shop }

// shopName is what a shop may be called in its log.
var shopName = regexp.MustCompile(`^[a-z0-9](?:[a-z0-9-]{0,38}[a-z0-9])?$`)

// CheckShop refuses a name that can't stand in a log.
func CheckShop(shop string) error {
	if !shopName.MatchString(shop) {
		return fmt.Errorf("%q can't name a shop: use 1 to 40 small letters, digits and hyphens, such as river-street", shop)
	}
	return nil
}

// NewKey makes a shop's signing key. The private one signs checkpoints and must stay in the house;
// the public one goes to everybody who checks them.
func NewKey(shop string) (private, public string, err error) {
	if err := CheckShop(shop); err != nil {
		return "", "", err
	}
	return newKey(rand.Reader, shop)
}

// CheckKey refuses what is no public key of the shop in its one form.
func CheckKey(shop, public string) error {
	v, err := note.NewVerifier(public)
	if err != nil {
		return fmt.Errorf("the public key can't be read: %w", err)
	}
	if v.Name() != Origin(shop) {
		return fmt.Errorf("the public key belongs to %s, not to %s", v.Name(), Origin(shop))
	}
	if !strings.HasPrefix(public, fmt.Sprintf("%s+%08x+", v.Name(), v.KeyHash())) {
		return errors.New("the public key is not in the one form that it has")
	}
	return nil
}

func newKey(random io.Reader, shop string) (private, public string, err error) {
	return note.GenerateKey(random, Origin(shop))
}

// text is a checkpoint before it is signed: origin, size, root, and our own line with the time.
func (c Checkpoint) text() string {
	return fmt.Sprintf("%s\n%d\n%s\ntime %s\n", Origin(c.Shop), c.Size, c.Root, c.Time.UTC().Format(time.RFC3339))
}

// Sign gives the checkpoint as a signed note.
func (c Checkpoint) Sign(private string) (string, error) {
	signer, err := note.NewSigner(private)
	if err != nil {
		return "", fmt.Errorf("the signing key can't be read: %w", err)
	}
	if signer.Name() != Origin(c.Shop) {
		return "", fmt.Errorf("the signing key belongs to %s, not to %s", signer.Name(), Origin(c.Shop))
	}
	signed, err := note.Sign(&note.Note{Text: c.text()}, signer)
	if err != nil {
		return "", fmt.Errorf("sign checkpoint: %w", err)
	}
	return string(signed), nil
}

// OpenCheckpoint reads a signed checkpoint and checks its signature with one of the public keys.
func OpenCheckpoint(signed string, public ...string) (Checkpoint, error) {
	var verifiers []note.Verifier
	for _, key := range public {
		v, err := note.NewVerifier(strings.TrimSpace(key))
		if err != nil {
			return Checkpoint{}, fmt.Errorf("the public key can't be read: %w", err)
		}
		verifiers = append(verifiers, v)
	}
	n, err := note.Open([]byte(signed), note.VerifierList(verifiers...))
	if err != nil {
		var stranger *note.UnverifiedNoteError
		if errors.As(err, &stranger) {
			return Checkpoint{}, &Broken{-1, "the checkpoint isn't signed with the shop's key"}
		}
		return Checkpoint{}, &Broken{-1, "the checkpoint's signature does not hold: " + err.Error()}
	}
	c, err := parseCheckpoint(n.Text)
	if err != nil {
		return Checkpoint{}, &Broken{-1, err.Error()}
	}
	for _, s := range n.Sigs {
		if _, err := strict.DecodeString(s.Base64); err != nil {
			return Checkpoint{}, &Broken{-1, "the checkpoint's signature is not in the one form that it has"}
		}
	}
	for _, s := range n.Sigs {
		if s.Name == Origin(c.Shop) {
			return c, nil
		}
	}
	return Checkpoint{}, &Broken{-1, "the checkpoint is signed with the key of another shop"}
}

func parseCheckpoint(text string) (Checkpoint, error) {
	var c Checkpoint
	bad := errors.New("the checkpoint's text is damaged")
	lines := strings.Split(text, "\n")
	if len(lines) != 5 {
		return c, bad
	}
	shop, isOurs := strings.CutPrefix(lines[0], Origin(""))
	stamp, hasTime := strings.CutPrefix(lines[3], "time ")
	size, err1 := strconv.ParseInt(lines[1], 10, 64)
	root, err2 := tlog.ParseHash(lines[2])
	at, err3 := time.Parse(time.RFC3339, stamp)
	if !isOurs || !hasTime || errors.Join(err1, err2, err3) != nil || CheckShop(shop) != nil {
		return c, bad
	}
	c = Checkpoint{Shop: shop, Size: size, Root: root, Time: at.UTC()}
	if size < 0 || c.text() != text {
		return Checkpoint{}, bad
	}
	return c, nil
}

// Short is a checkpoint small enough to be printed on a slip and typed from it: the size and the
// first 160 bits of the root. It can't be signed, and it needs no signature to contradict a log that
// was written anew.
type Short struct {
	Size int64
	Root [20]byte
}

// Short shortens a checkpoint.
func (c Checkpoint) Short() Short { return Short{c.Size, [20]byte(c.Root[:20])} }

// shortLetters leaves out the letters that are mistaken for digits or for each other.
var shortLetters = base32.NewEncoding("0123456789ABCDEFGHJKMNPQRSTVWXYZ").WithPadding(base32.NoPadding)

// String is the printed form, such as 1234/4M2K-....
func (s Short) String() string {
	letters := shortLetters.EncodeToString(s.Root[:])
	var groups []string
	for ; len(letters) > 0; letters = letters[4:] {
		groups = append(groups, letters[:4])
	}
	return strconv.FormatInt(s.Size, 10) + "/" + strings.Join(groups, "-")
}

// ParseShort reads the printed form as people type it: small letters, spaces or broken lines
// instead of hyphens, O for 0, I and L for 1.
func ParseShort(text string) (Short, error) {
	var s Short
	bad := fmt.Errorf("%q is no checkpoint from a slip: it reads like 1234/4M2K-9ZQ1-..., a number and eight groups of four", text)
	size, letters, found := strings.Cut(strings.TrimSpace(text), "/")
	n, err := strconv.ParseInt(strings.TrimSpace(size), 10, 64)
	if !found || err != nil || n < 0 {
		return s, bad
	}
	letters = strings.Join(strings.Fields(strings.ToUpper(letters)), "")
	letters = strings.NewReplacer("-", "", "O", "0", "I", "1", "L", "1").Replace(letters)
	root, err := shortLetters.DecodeString(letters)
	if err != nil || len(root) != len(s.Root) || len(letters) != shortLetters.EncodedLen(len(s.Root)) {
		return s, bad
	}
	return Short{n, [20]byte(root)}, nil
}

// strict is base64 without a second way to write the same bytes.
var strict = base64.StdEncoding.Strict()

// hashes turns base64 lines back into hashes.
func hashes(lines []string) ([]tlog.Hash, error) {
	var out []tlog.Hash
	for _, line := range lines {
		h, err := strict.DecodeString(line)
		if err != nil || len(h) != tlog.HashSize || len(line) != strict.EncodedLen(len(h)) {
			return nil, errors.New("a hash of the proof is damaged")
		}
		out = append(out, tlog.Hash(h))
	}
	return out, nil
}
