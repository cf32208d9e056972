package people

import (
	"context"
	"crypto/rand"
	"errors"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// published hashes, made by another implementation; the file says how.
func reference(t testing.TB) [][2]string {
	t.Helper()
	text, err := os.ReadFile("testdata/argon2.txt")
	noError(t, err)
	var rows [][2]string
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		password, hash, ok := strings.Cut(strings.TrimSuffix(line, "\n"), "\t")
		if !ok {
			t.Fatalf("argon2.txt: bad line %q", line)
		}
		rows = append(rows, [2]string{password, hash})
	}
	if len(rows) < 7 {
		t.Fatalf("only %d reference hashes", len(rows))
	}
	return rows
}

func TestVerifyReferenceHashes(t *testing.T) {
	h := cheap(t)
	for _, row := range reference(t) {
		ok, err := h.VerifyPassword(t.Context(), row[1], row[0])
		if err != nil || !ok {
			t.Errorf("%q with %s: %v, %v, want true", row[0], row[1], ok, err)
		}
		for _, wrong := range []string{row[0] + " ", row[0][1:], strings.ToUpper(row[0]) + "x", ""} {
			if ok, err := h.VerifyPassword(t.Context(), row[1], wrong); err != nil || ok {
				t.Errorf("%q with the hash of %q: %v, %v, want false", wrong, row[0], ok, err)
			}
		}
		// Written by us, the same salt and cost give the same text.
		s, err := parseHash(row[1])
		noError(t, err)
		s.sum = argon2id([]byte(row[0]), s.salt, s.Cost, len(s.sum))
		if s.String() != row[1] {
			t.Errorf("%q: %s, want %s", row[0], s, row[1])
		}
	}
}

func TestHashAndVerify(t *testing.T) {
	h := cheap(t)
	rapid.Check(t, func(rt *rapid.T) {
		p := rapid.StringOfN(rapid.RuneFrom([]rune("aé ßЖ漢0~")), 0, 80, -1).Draw(rt, "password")
		hash, err := h.HashPassword(t.Context(), p)
		if err != nil {
			rt.Fatal(err)
		}
		other := rapid.StringOfN(rapid.RuneFrom([]rune("aé ßЖ漢0~")), 0, 80, -1).Draw(rt, "other")
		if ok, err := h.VerifyPassword(t.Context(), hash, p); err != nil || !ok {
			rt.Fatalf("%q is not %s: %v", p, hash, err)
		}
		if ok, _ := h.VerifyPassword(t.Context(), hash, other); ok != (other == p) {
			rt.Fatalf("%q instead of %q: %v", other, p, ok)
		}
		if again, _ := h.HashPassword(t.Context(), p); again == hash {
			rt.Fatal("the same salt twice")
		}
	})
}

// The whole password counts: no byte near the end is left out (SP 800-63B-4 3.1.1.2).
func TestWholePasswordCounts(t *testing.T) {
	h := cheap(t)
	long := strings.Repeat("weigh it twice, ", MaxPasswordBytes/16)
	hash, err := h.HashPassword(t.Context(), long)
	noError(t, err)
	for _, at := range []int{0, 55, 64, 72, 128, 255, 256, 511, len(long) - 1} {
		changed := long[:at] + "X" + long[at+1:]
		if ok, err := h.VerifyPassword(t.Context(), hash, changed); err != nil || ok {
			t.Errorf("byte %d does not count: %v, %v", at, ok, err)
		}
	}
	if ok, _ := h.VerifyPassword(t.Context(), hash, long[:len(long)-1]); ok {
		t.Error("the last byte can be left out")
	}
	if ok, _ := h.VerifyPassword(t.Context(), hash, long); !ok {
		t.Error("the password itself is refused")
	}
}

func TestStandardCost(t *testing.T) {
	h, err := NewHasher(StandardCost, dice())
	noError(t, err)
	hash, err := h.HashPassword(t.Context(), "four otters mend a kettle")
	noError(t, err)
	if !strings.HasPrefix(hash, "$argon2id$v=19$m=65536,t=3,p=2$") {
		t.Errorf("hash is %s", hash)
	}
	if ok, err := h.VerifyPassword(t.Context(), hash, "four otters mend a kettle"); err != nil || !ok {
		t.Errorf("verify: %v, %v", ok, err)
	}
	// OWASP, Password Storage Cheat Sheet: at least 19 MiB and 2 passes (from memory).
	if StandardCost.MemoryKiB < 19*1024 || StandardCost.Passes < 2 {
		t.Errorf("cost %+v is too low", StandardCost)
	}
}

func TestParseHashRefuses(t *testing.T) {
	const good = "$argon2id$v=19$m=64,t=1,p=1$c29tZXNhbHRzb21lc2FsdA$XLeLg+p+JNgiFrQNsye8eofeXr30s6P3j/ke/9xgk/0"
	if _, err := parseHash(good); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, old, new string }{
		{"a terabyte", "m=64", "m=1073741824"},
		{"above the bound", "m=64", "m=262145"},
		{"4 GiB wrapped", "m=64", "m=4294967360"},
		{"negative", "m=64", "m=-1"},
		{"no memory", "m=64", "m=0"},
		{"many passes", "t=1", "t=4294967295"},
		{"eleven passes", "t=1", "t=11"},
		{"no pass", "t=1", "t=0"},
		{"many lanes", "p=1", "p=255"},
		{"lanes wrap", "p=1", "p=257"},
		{"no lane", "p=1", "p=0"},
		{"too little for the lanes", "m=64,t=1,p=1", "m=63,t=1,p=8"},
		{"leading zero", "m=64", "m=064"},
		{"plus", "m=64", "m=+64"},
		{"other order", "m=64,t=1", "t=1,m=64"},
		{"key id", "p=1", "p=1,keyid=x"},
		{"argon2i", "argon2id", "argon2i"},
		{"argon2d", "argon2id", "argon2d"},
		{"old version", "v=19", "v=16"},
		{"no version", "$v=19", ""},
		{"padded", "/0", "/0="},
		{"line break", "XLeLg", "XLe\nLg"},
		{"spare bits", "/0", "/1"},
		{"short salt", "c29tZXNhbHRzb21lc2FsdA", "c29tZQ"},
		{"long salt", "c29tZXNhbHRzb21lc2FsdA", strings.Repeat("AAAA", 22)},
		{"no salt", "c29tZXNhbHRzb21lc2FsdA", ""},
		{"short hash", "XLeLg+p+JNgiFrQNsye8eofeXr30s6P3j/ke/9xgk/0", "XLeLgw"},
		{"more", "/0", "/0$"},
		{"space before", "$argon2id", " $argon2id"},
		{"very long", "/0", "/0" + strings.Repeat("A", 1000)},
	} {
		text := strings.Replace(good, c.old, c.new, 1)
		if text == good {
			t.Fatalf("%s changes nothing", c.name)
		}
		if _, err := parseHash(text); !errors.Is(err, ErrBadHash) {
			t.Errorf("%s: %s: error %v, want ErrBadHash", c.name, text, err)
		}
		if !NeedsUpgrade(text, StandardCost) {
			t.Errorf("%s: needs no upgrade", c.name)
		}
	}
}

// A hostile hash costs no more than a good one, and never lets anyone in.
func TestHostileHash(t *testing.T) {
	h := cheap(t)
	var used []Cost
	h.derive = func(secret, salt []byte, c Cost, n int) []byte {
		used = append(used, c)
		return argon2id(secret, salt, c, n)
	}
	for _, hash := range []string{
		"$argon2id$v=19$m=1073741824,t=1,p=1$c29tZXNhbHRzb21lc2FsdA$XLeLg+p+JNgiFrQNsye8eofeXr30s6P3j/ke/9xgk/0",
		"$2y$10$abcdefghijklmnopqrstuv", "x", "$$$$$",
	} {
		ok, err := h.VerifyPassword(t.Context(), hash, "four otters mend a kettle")
		if ok || !errors.Is(err, ErrBadHash) {
			t.Errorf("%s: %v, %v", hash, ok, err)
		}
	}
	for _, c := range used {
		if c != h.cost {
			t.Errorf("hashed at %+v", c)
		}
	}
}

func TestNeedsUpgrade(t *testing.T) {
	at := func(c Cost, salt, sum int) string {
		return stored{c, make([]byte, salt), make([]byte, sum)}.String()
	}
	for _, c := range []struct {
		name string
		hash string
		want bool
	}{
		{"today's", at(StandardCost, 16, 32), false},
		{"more memory", at(Cost{128 * 1024, 3, 2}, 16, 32), false},
		{"less memory", at(Cost{19 * 1024, 3, 2}, 16, 32), true},
		{"fewer passes", at(Cost{64 * 1024, 2, 2}, 16, 32), true},
		{"other lanes", at(Cost{64 * 1024, 3, 4}, 16, 32), true},
		{"short salt", at(StandardCost, 8, 32), true},
		{"short sum", at(StandardCost, 16, 16), true},
		{"none", "", true},
	} {
		if got := NeedsUpgrade(c.hash, StandardCost); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// At sign-in a hash of an older, cheaper cost is made anew, and then is today's.
func TestUpgradeAtSignIn(t *testing.T) {
	h, err := NewHasher(Cost{MemoryKiB: 128, Passes: 2, Lanes: 1}, dice())
	noError(t, err)
	old, err := cheap(t).HashPassword(t.Context(), "four otters mend a kettle")
	noError(t, err)
	if ok, err := h.VerifyPassword(t.Context(), old, "four otters mend a kettle"); !ok || err != nil || !h.Upgradable(old) {
		t.Fatalf("%v, %v, upgradable %v", ok, err, h.Upgradable(old))
	}
	anew, err := h.HashPassword(t.Context(), "four otters mend a kettle")
	noError(t, err)
	if h.Upgradable(anew) || !strings.Contains(anew, "$m=128,t=2,p=1$") {
		t.Errorf("%s needs an upgrade", anew)
	}
}

// Someone who does not exist, and a password that cannot be one, take one hashing of the same cost.
func TestUnknownPersonTakesTheSameWork(t *testing.T) {
	h := cheap(t)
	hash, err := h.HashPassword(t.Context(), "four otters mend a kettle")
	noError(t, err)
	var work []Cost
	h.derive = func(secret, salt []byte, c Cost, n int) []byte {
		work = append(work, c)
		return argon2id(secret, salt, c, n)
	}
	for _, c := range []struct{ name, hash, password string }{
		{"right", hash, "four otters mend a kettle"},
		{"wrong", hash, "four otters mend a kettel"},
		{"unknown person", "", "four otters mend a kettle"},
		{"not UTF-8", hash, "four otters \xff"},
		{"far too long", hash, strings.Repeat("x", 1<<20)},
	} {
		work = nil
		ok, err := h.VerifyPassword(t.Context(), c.hash, c.password)
		if err != nil || ok != (c.name == "right") {
			t.Errorf("%s: %v, %v", c.name, ok, err)
		}
		if len(work) != 1 || work[0] != h.cost {
			t.Errorf("%s: hashed %d times, %+v", c.name, len(work), work)
		}
	}
}

// The dummy must not let anyone in, not even someone who knows its password.
func TestNobodyHasTheDummyPassword(t *testing.T) {
	h := cheap(t)
	h.dummy.sum = argon2id([]byte("four otters mend a kettle"), h.dummy.salt, h.cost, sumBytes)
	if ok, err := h.VerifyPassword(t.Context(), "", "four otters mend a kettle"); ok || err != nil {
		t.Errorf("%v, %v, want false", ok, err)
	}
}

func TestHashingsAtOnceAreCapped(t *testing.T) {
	h, err := NewHasher(Cost{64, 1, 1}, rand.Reader)
	noError(t, err)
	var running, most atomic.Int32
	enough := make(chan struct{})
	var once sync.Once
	h.derive = func(secret, salt []byte, c Cost, n int) []byte {
		now := running.Add(1)
		defer running.Add(-1)
		for {
			m := most.Load()
			if now <= m || most.CompareAndSwap(m, now) {
				break
			}
		}
		if now == ParallelHashes {
			once.Do(func() { close(enough) })
		}
		<-enough // the first waits for the second, so the cap is reached as well as kept
		time.Sleep(time.Millisecond)
		return make([]byte, n)
	}
	var wg sync.WaitGroup
	for range 20 {
		wg.Go(func() {
			if _, err := h.HashPassword(t.Context(), "four otters mend a kettle"); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	if got := most.Load(); got != ParallelHashes {
		t.Errorf("%d at once, want %d", got, ParallelHashes)
	}
}

func TestWaitingForAHashingEndsWithTheContext(t *testing.T) {
	h := cheap(t)
	for range ParallelHashes {
		h.slots <- struct{}{}
	}
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Millisecond)
	defer cancel()
	if _, err := h.VerifyPassword(ctx, "", "x"); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("error %v", err)
	}
	<-h.slots
	gone, stop := context.WithCancel(t.Context())
	stop()
	for range 50 { // a free slot must not win by chance
		if _, err := h.HashPassword(gone, "x"); !errors.Is(err, context.Canceled) {
			t.Fatalf("error %v", err)
		}
	}
}

func TestNewHasherRefuses(t *testing.T) {
	for _, c := range []Cost{{}, {1 << 30, 3, 2}, {64, 0, 1}, {64, 11, 1}, {64, 1, 0}, {64, 1, 9}, {7, 1, 1}} {
		if _, err := NewHasher(c, dice()); err == nil {
			t.Errorf("%+v is let through", c)
		}
	}
	if _, err := NewHasher(StandardCost, strings.NewReader("short")); err == nil {
		t.Error("works without randomness")
	}
	h, err := NewHasher(Cost{64, 1, 1}, strings.NewReader(strings.Repeat("r", saltBytes+sumBytes)))
	noError(t, err)
	if _, err := h.HashPassword(t.Context(), "x"); err == nil {
		t.Error("hashes without a fresh salt")
	}
}

// FuzzParseHash: whatever is accepted stays within the bounds and is written as it was read.
func FuzzParseHash(f *testing.F) {
	for _, row := range reference(f) {
		f.Add(row[1])
	}
	f.Add("$argon2id$v=19$m=1073741824,t=1,p=1$c29tZXNhbHQ$AAAA")
	f.Add("$argon2id$$$$")
	f.Fuzz(func(t *testing.T, text string) {
		s, err := parseHash(text)
		if err != nil {
			if !errors.Is(err, ErrBadHash) {
				t.Errorf("error %v", err)
			}
			return
		}
		if s.MemoryKiB > maxMemoryKiB || s.Passes > maxPasses || s.Lanes > maxLanes || s.Passes < 1 || s.Lanes < 1 || s.MemoryKiB < 8*uint32(s.Lanes) {
			t.Errorf("cost %+v", s.Cost)
		}
		if s.String() != text {
			t.Errorf("%q is written %q", text, s)
		}
	})
}

func BenchmarkHash(b *testing.B) {
	for _, c := range []struct {
		name string
		cost Cost
	}{{"standard", StandardCost}, {"19MiB", Cost{19 * 1024, 2, 1}}} {
		b.Run(c.name, func(b *testing.B) {
			h, err := NewHasher(c.cost, rand.Reader)
			noError(b, err)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := h.HashPassword(context.Background(), "four otters mend a kettle"); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
