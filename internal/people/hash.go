package people

import (
	"context"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"golang.org/x/crypto/argon2"
)

// Cost is what one hashing takes (RFC 9106, Argon2id).
type Cost struct {
	MemoryKiB uint32
	Passes    uint32
	Lanes     uint8
}

// StandardCost is used for new passwords and PINs. RFC 9106 section 4 names 64 MiB and 3 passes,
// with 4 lanes, as its second choice; 2 lanes suit a small machine at the counter.
var StandardCost = Cost{MemoryKiB: 64 * 1024, Passes: 3, Lanes: 2}

// Bounds on a stored hash: a store that someone tampered with must not make the program
// take all memory or time. They allow four times the standard memory and three times the passes.
const (
	maxMemoryKiB = 256 * 1024
	maxPasses    = 10
	maxLanes     = 8
	minSalt      = 8 // bytes; SP 800-63B-4 3.1.1.2 asks for 4
	maxSalt      = 64
	minSum       = 16
	maxSum       = 64
	saltBytes    = 16 // RFC 9106 section 4
	sumBytes     = 32
)

// ErrBadHash is returned for a stored hash that is not ours to verify: damaged, of another kind,
// or asking for more memory or time than is allowed.
var ErrBadHash = errors.New("the stored password hash cannot be read")

// stored is a hash as it is kept, taken apart.
type stored struct {
	Cost
	salt, sum []byte
}

// String writes the PHC form: $argon2id$v=19$m=65536,t=3,p=2$salt$hash.
func (s stored) String() string {
	b64 := base64.RawStdEncoding.EncodeToString
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, s.MemoryKiB, s.Passes, s.Lanes, b64(s.salt), b64(s.sum))
}

// parseHash reads the PHC form. It accepts what String writes and nothing else.
func parseHash(text string) (stored, error) {
	var s stored
	if len(text) > 400 {
		return s, fmt.Errorf("%w: it is too long", ErrBadHash)
	}
	parts := strings.Split(text, "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" || parts[2] != "v="+strconv.Itoa(argon2.Version) {
		return s, fmt.Errorf("%w: it is not of the form $argon2id$v=19$…", ErrBadHash)
	}
	costs := strings.Split(parts[3], ",")
	if len(costs) != 3 {
		return s, fmt.Errorf("%w: its costs are not m=…,t=…,p=…", ErrBadHash)
	}
	var n [3]uint64
	for i, limit := range []struct {
		name string
		most uint64
	}{{"m=", maxMemoryKiB}, {"t=", maxPasses}, {"p=", maxLanes}} {
		digits, ok := strings.CutPrefix(costs[i], limit.name)
		v, err := strconv.ParseUint(digits, 10, 32)
		if !ok || err != nil || v < 1 || v > limit.most {
			return s, fmt.Errorf("%w: %s is not %s1 to %d", ErrBadHash, costs[i], limit.name, limit.most)
		}
		n[i] = v
	}
	s.Cost = Cost{uint32(n[0]), uint32(n[1]), uint8(n[2])}
	if s.MemoryKiB < 8*uint32(s.Lanes) {
		return s, fmt.Errorf("%w: less memory than 8 KiB for each lane (RFC 9106 section 3.1)", ErrBadHash)
	}
	b64 := base64.RawStdEncoding
	var err1, err2 error
	s.salt, err1 = b64.DecodeString(parts[4])
	s.sum, err2 = b64.DecodeString(parts[5])
	if err := errors.Join(err1, err2); err != nil {
		return s, fmt.Errorf("%w: %w", ErrBadHash, err)
	}
	if len(s.salt) < minSalt || len(s.salt) > maxSalt || len(s.sum) < minSum || len(s.sum) > maxSum {
		return s, fmt.Errorf("%w: salt or hash has an odd length", ErrBadHash)
	}
	if s.String() != text { // leading zeros, line breaks, spare bits
		return s, fmt.Errorf("%w: it is not written in the usual way", ErrBadHash)
	}
	return s, nil
}

// NeedsUpgrade tells whether a stored hash should be made anew, with today's cost, at the next
// time its password is known. A hash that cannot be read needs it too.
func NeedsUpgrade(text string, want Cost) bool {
	s, err := parseHash(text)
	return err != nil || s.MemoryKiB < want.MemoryKiB || s.Passes < want.Passes || s.Lanes != want.Lanes ||
		len(s.sum) < sumBytes || len(s.salt) < saltBytes
}

// Hasher hashes and verifies passwords and PINs, a few at a time, so that a flood of sign-ins
// cannot take all memory. It is safe for use by several goroutines.
type Hasher struct {
	cost   Cost
	random io.Reader
	slots  chan struct{}
	dummy  stored // stands in for the hash of a person who does not exist
	derive func(secret []byte, salt []byte, c Cost, length int) []byte
}

// ParallelHashes is how many hashings run at once; with the standard cost they take 128 MiB.
const ParallelHashes = 2

// NewHasher makes a hasher. random is crypto/rand.Reader outside tests; several goroutines may
// read from it.
func NewHasher(cost Cost, random io.Reader) (*Hasher, error) {
	if cost.MemoryKiB > maxMemoryKiB || cost.Passes < 1 || cost.Passes > maxPasses || cost.Lanes < 1 || cost.Lanes > maxLanes || cost.MemoryKiB < 8*uint32(cost.Lanes) {
		return nil, fmt.Errorf("cost %+v is outside what can be verified later", cost)
	}
	h := &Hasher{cost: cost, random: random, slots: make(chan struct{}, ParallelHashes), derive: argon2id}
	h.dummy = stored{cost, make([]byte, saltBytes), make([]byte, sumBytes)}
	for _, b := range [][]byte{h.dummy.salt, h.dummy.sum} {
		if _, err := io.ReadFull(random, b); err != nil {
			return nil, fmt.Errorf("read random bytes: %w", err)
		}
	}
	return h, nil
}

func argon2id(secret, salt []byte, c Cost, length int) []byte {
	return argon2.IDKey(secret, salt, c.Passes, c.MemoryKiB, c.Lanes, uint32(length))
}

// SetPassword checks a new password for the person and returns its hash and the person as they
// are from then on. shop holds more words that a guesser would try, as for CheckPassword.
func (h *Hasher) SetPassword(ctx context.Context, password string, p Person, shop ...string) (hash string, after Person, err error) {
	if err := CheckPassword(password, append([]string{p.ID, p.Name}, shop...)...); err != nil {
		return "", p, err
	}
	if hash, err = h.HashPassword(ctx, password); err != nil {
		return "", p, err
	}
	return hash, p.PasswordChanged(), nil
}

// HashPassword returns what is stored for a password. It does not check how good the password is:
// it makes a hash anew, at today's cost, of a password that has just been verified. It waits while
// others hash, until ctx ends.
func (h *Hasher) HashPassword(ctx context.Context, password string) (string, error) {
	normal, err := normalize(password)
	if err != nil {
		return "", err
	}
	return h.hash(ctx, []byte(normal))
}

func (h *Hasher) hash(ctx context.Context, secret []byte) (string, error) {
	s := stored{Cost: h.cost, salt: make([]byte, saltBytes)}
	if _, err := io.ReadFull(h.random, s.salt); err != nil {
		return "", fmt.Errorf("read random bytes: %w", err)
	}
	var err error
	if s.sum, err = h.run(ctx, secret, s.salt, s.Cost, sumBytes); err != nil {
		return "", err
	}
	return s.String(), nil
}

// VerifyPassword tells whether the password is the one hashed. For a person who does not exist
// pass "": it takes the time of a hashing and answers false, so that the time does not tell who
// exists. A password that could never have been set is false too.
func (h *Hasher) VerifyPassword(ctx context.Context, hash, password string) (bool, error) {
	normal, err := normalize(password)
	if err != nil {
		_, err := h.verify(ctx, "", nil)
		return false, err
	}
	return h.verify(ctx, hash, []byte(normal))
}

func (h *Hasher) verify(ctx context.Context, hash string, secret []byte) (bool, error) {
	s, badHash := h.dummy, error(nil)
	if hash != "" {
		if s, badHash = parseHash(hash); badHash != nil {
			s = h.dummy
		}
	}
	sum, err := h.run(ctx, secret, s.salt, s.Cost, len(s.sum))
	if err != nil {
		return false, err
	}
	same := subtle.ConstantTimeCompare(sum, s.sum) == 1
	return same && hash != "" && badHash == nil, badHash
}

func (h *Hasher) run(ctx context.Context, secret, salt []byte, c Cost, length int) ([]byte, error) {
	if err := ctx.Err(); err != nil { // select would choose at random
		return nil, err
	}
	select {
	case h.slots <- struct{}{}:
		defer func() { <-h.slots }()
		return h.derive(secret, salt, c, length), nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// Upgradable tells whether the stored hash should be made anew with this hasher's cost.
func (h *Hasher) Upgradable(hash string) bool { return NeedsUpgrade(hash, h.cost) }
