package keyring

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"

	"filippo.io/age"
	"filippo.io/age/armor"

	"wreath/internal/ledger"
)

const (
	shop  = "invented"
	words = "four invented words here"
)

func newKey(t *testing.T) Key {
	t.Helper()
	var k Key
	var err error
	if k.Private, k.Public, err = ledger.NewKey(shop); err != nil {
		t.Fatal(err)
	}
	return k
}

func newRing(t *testing.T) Ring {
	folder := t.TempDir()
	return Ring{Folder: filepath.Join(folder, "keys"), Identity: filepath.Join(folder, "own", "identity"), Ask: func() (string, error) { return words, nil }}
}

func must[T any](t *testing.T) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// TestKeep reads a key back that was kept in either way, and finds nothing of it in the file.
func TestKeep(t *testing.T) {
	for _, how := range []How{Machine, Passphrase} {
		r, k := newRing(t), newKey(t)
		if err := r.Keep(shop, k, how, words); err != nil {
			t.Fatal(err)
		}
		c := must[Closed](t)(r.Find(shop))
		if c.How != how || c.Public != k.Public {
			t.Errorf("%s: found %s, %s", how, c.How, c.Public)
		}
		if got := must[Key](t)(r.Open(c)); got != k {
			t.Errorf("%s: read back another key", how)
		}
		data := must[[]byte](t)(os.ReadFile(r.File(shop)))
		// The secret is the fifth part, and may have a + of its own.
		if secret := strings.SplitN(k.Private, "+", 5)[4]; strings.Contains(string(data), secret) || strings.Contains(string(data), "PRIVATE") {
			t.Errorf("%s: the file shows the key", how)
		}
		for _, file := range []string{r.File(shop), r.Identity} {
			info, err := os.Stat(file)
			if errors.Is(err, fs.ErrNotExist) && how == Passphrase && file == r.Identity {
				continue
			}
			if err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
				t.Errorf("%s: %s: %v, %v", how, file, info, err)
			}
		}
	}
}

// TestAgeOpensIt opens a copy by the library age alone, as the program of that name does.
func TestAgeOpensIt(t *testing.T) {
	r, k := newRing(t), newKey(t)
	file := filepath.Join(t.TempDir(), "copy.key")
	if err := r.Copy(file, k, words); err != nil {
		t.Fatal(err)
	}
	data := must[[]byte](t)(os.ReadFile(file))
	_, sealed, _ := strings.Cut(string(data), "\n")
	identity := must[*age.ScryptIdentity](t)(age.NewScryptIdentity(words))
	opened, err := age.Decrypt(armor.NewReader(strings.NewReader(sealed)), identity)
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	buffer := make([]byte, 1024)
	for n, err := opened.Read(buffer); n > 0; n, err = opened.Read(buffer) {
		b.Write(buffer[:n])
		if err != nil {
			break
		}
	}
	if b.String() != k.Private {
		t.Error("age reads another key")
	}
	if err := r.Copy(file, k, words); !errors.Is(err, fs.ErrExist) {
		t.Errorf("a copy goes over a file: %v", err)
	}
}

// TestOlderFile reads the file that the first releases wrote.
func TestOlderFile(t *testing.T) {
	r, k := newRing(t), newKey(t)
	os.MkdirAll(r.Folder, 0o700)
	if err := os.WriteFile(r.File(shop), []byte(k.Private+"\n"+k.Public+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	c := must[Closed](t)(r.Find(shop))
	if got := must[Key](t)(r.Open(c)); got != k || c.How != Plain {
		t.Errorf("read %s as %v", c.How, got == k)
	}
}

func TestRefused(t *testing.T) {
	r, k := newRing(t), newKey(t)
	if _, err := r.Find(shop); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a missing key: %v", err)
	}
	if err := r.Keep(shop, k, Passphrase, "too short"); err == nil {
		t.Error("a short passphrase is taken")
	}
	if err := r.Keep(shop, k, Plain, ""); err == nil {
		t.Error("a key is written as it is")
	}
	if err := r.Keep(shop, k, Passphrase, words); err != nil {
		t.Fatal(err)
	}
	c := must[Closed](t)(r.Find(shop))
	r.Ask = func() (string, error) { return "another passphrase", nil }
	if _, err := r.Open(c); !errors.Is(err, ErrWrongPassphrase) {
		t.Errorf("another passphrase: %v", err)
	}
	r.Ask = nil
	if _, err := r.Open(c); !errors.Is(err, ErrNoPassphrase) {
		t.Errorf("no passphrase: %v", err)
	}
	if err := r.Keep(shop, k, Machine, ""); err != nil {
		t.Fatal(err)
	}
	c = must[Closed](t)(r.Find(shop))
	elsewhere := newRing(t)
	if _, err := elsewhere.Open(c); !errors.Is(err, ErrOtherMachine) {
		t.Errorf("a machine without a secret: %v", err)
	}
	if _, err := elsewhere.machine(true); err != nil {
		t.Fatal(err)
	}
	if _, err := elsewhere.Open(c); !errors.Is(err, ErrOtherMachine) {
		t.Errorf("another machine: %v", err)
	}
	whole := must[[]byte](t)(os.ReadFile(r.File(shop)))
	for _, cut := range []int{0, 10, len(k.Public) + 1, len(whole) / 2, len(whole) - 40} {
		os.WriteFile(r.File(shop), whole[:cut], 0o600)
		c, err := r.Find(shop)
		if err == nil {
			_, err = r.Open(c)
		}
		if !errors.Is(err, ErrDamaged) {
			t.Errorf("cut after %d bytes: %v", cut, err)
		}
	}
	if runtime.GOOS != "windows" {
		os.Chmod(r.File(shop), 0o640)
		if _, err := r.Find(shop); !errors.Is(err, ErrOpenToOthers) {
			t.Errorf("a file open to others: %v", err)
		}
	}
}

// TestTurn cuts a change of the key short at every step.
func TestTurn(t *testing.T) {
	r, old, k := newRing(t), newKey(t), newKey(t)
	if err := r.Keep(shop, old, Machine, ""); err != nil {
		t.Fatal(err)
	}
	if turned, err := r.Turn(shop, k.Public); turned || err != nil {
		t.Errorf("turned to nothing: %v, %v", turned, err)
	}
	if err := r.Next(shop, k, Machine, ""); err != nil {
		t.Fatal(err)
	}
	if turned, err := r.Turn(shop, old.Public); turned || err != nil {
		t.Errorf("turned to a key that the log does not name: %v, %v", turned, err)
	}
	if got := must[Key](t)(r.Open(must[Closed](t)(r.Find(shop)))); got != old {
		t.Error("the old key is gone before its time")
	}
	if turned, err := r.Turn(shop, k.Public); !turned || err != nil {
		t.Errorf("did not turn: %v, %v", turned, err)
	}
	if got := must[Key](t)(r.Open(must[Closed](t)(r.Find(shop)))); got != k {
		t.Error("the new key is not in its place")
	}
	if err := r.Forget(shop); err != nil {
		t.Error(err)
	}
}

// TestOneSecret begins with many programs at once: they must end with one secret.
func TestOneSecret(t *testing.T) {
	r := newRing(t)
	var wait sync.WaitGroup
	secrets := make([]string, 16)
	for i := range secrets {
		wait.Go(func() {
			own, err := r.machine(true)
			if err != nil {
				t.Error(err)
				return
			}
			secrets[i] = own.String()
		})
	}
	wait.Wait()
	for _, s := range secrets {
		if s != secrets[0] {
			t.Fatal("two secrets")
		}
	}
}

// TestOnDisk asks that a key has its name before the folder is written to the disk, at each step of a change.
func TestOnDisk(t *testing.T) {
	r, k := newRing(t), newKey(t)
	expected, synced := "", 0
	before := syncFolder
	t.Cleanup(func() { syncFolder = before })
	syncFolder = func(folder string) error {
		synced++
		if c, err := find(expected); err != nil || c.Public != k.Public || folder != r.Folder {
			t.Errorf("%s is written to the disk before %s has its name: %v", folder, expected, err)
		}
		return before(folder)
	}
	expected = r.File(shop)
	if err := r.Keep(shop, k, Machine, ""); err != nil {
		t.Fatal(err)
	}
	k = newKey(t)
	expected = r.next(shop)
	if err := r.Next(shop, k, Machine, ""); err != nil {
		t.Fatal(err)
	}
	expected = r.File(shop)
	if turned, err := r.Turn(shop, k.Public); !turned || err != nil {
		t.Fatal(turned, err)
	}
	if synced != 3 {
		t.Errorf("written to the disk %d times, not 3", synced)
	}
}
