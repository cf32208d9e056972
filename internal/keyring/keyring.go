// Package keyring keeps the signing key of a shop in a file, encrypted by age.
//
// The key is encrypted either for this account of this machine, whose secret lies in another folder, so
// that a copied store can't sign; or with a passphrase, which has to be typed. The file begins with the
// public key and goes on as an armoured age file, which the program age opens as well. The file of an
// older program, two lines with the key as it is, is still read.
package keyring

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"filippo.io/age"
	"filippo.io/age/armor"
)

// How says how a key is kept.
type How string

// The ways to keep a key.
const (
	Plain      How = "plain"      // readable for who can read the file
	Machine    How = "machine"    // encrypted for this account of this machine
	Passphrase How = "passphrase" // encrypted with a passphrase
)

// Key is a signing key in the form of ledger.NewKey.
type Key struct{ Private, Public string }

// Ring knows where keys lie.
type Ring struct {
	Folder string // one file for each shop
	// Identity is the file with the secret of this account of this machine; it is made when first needed.
	Identity string
	// Ask gives the passphrase; nil where nobody can be asked.
	Ask func() (string, error)
}

var (
	// ErrNoPassphrase means that the key needs a passphrase that nobody gave.
	ErrNoPassphrase = errors.New("the signing key is kept under a passphrase, and none was given")
	// ErrWrongPassphrase means that it was another one.
	ErrWrongPassphrase = errors.New("the passphrase does not open the signing key")
	// ErrOtherMachine means that the key was encrypted for another account or machine.
	ErrOtherMachine = errors.New("the signing key was encrypted for another account or another machine")
	// ErrDamaged means that the file holds no key.
	ErrDamaged = errors.New("the file of the signing key is damaged")
	// ErrOpenToOthers means that other accounts can read a file that holds a secret.
	ErrOpenToOthers = errors.New("it can be read by others")
)

// MinPassphrase is the least number of bytes of a passphrase (chosen here: four short words).
const MinPassphrase = 15

// File is where the key of a shop lies.
func (r Ring) File(shop string) string { return filepath.Join(r.Folder, shop+".key") }

// Closed is a key that is still encrypted.
type Closed struct {
	Public string
	How    How
	file   string
	sealed string // armoured, or the private key where it is kept plain
}

// Find reads the file of a shop's key. An error wraps fs.ErrNotExist where there is none.
func (r Ring) Find(shop string) (Closed, error) { return find(r.File(shop)) }

// FindCopy reads a copy of a key, such as Copy wrote it.
func FindCopy(file string) (Closed, error) { return find(file) }

func find(file string) (Closed, error) {
	data, err := readSecret(file)
	if err != nil {
		return Closed{}, err
	}
	first, rest, _ := strings.Cut(strings.ReplaceAll(string(data), "\r\n", "\n"), "\n")
	rest = strings.TrimSpace(rest)
	c := Closed{file: file}
	switch {
	case strings.HasPrefix(first, "PRIVATE+KEY+") && rest != "" && !strings.Contains(rest, "\n"):
		c.Public, c.How, c.sealed = rest, Plain, first
	case strings.HasPrefix(rest, armor.Header) && first != "":
		c.Public, c.How, c.sealed = first, Machine, rest
		if passphrased(rest) {
			c.How = Passphrase
		}
	default:
		return Closed{}, fmt.Errorf("%s: %w", file, ErrDamaged)
	}
	return c, nil
}

// passphrased tells by the head of an age file whether a passphrase opens it.
func passphrased(sealed string) bool {
	head, err := io.ReadAll(io.LimitReader(armor.NewReader(strings.NewReader(sealed)), 200))
	return err == nil && bytes.Contains(head, []byte("\n-> scrypt "))
}

// readSecret reads a file that must be readable for its owner alone.
func readSecret(file string) ([]byte, error) {
	info, err := os.Stat(file)
	if err != nil {
		return nil, err
	}
	if runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0 {
		return nil, fmt.Errorf("%s: %w", file, ErrOpenToOthers)
	}
	return os.ReadFile(file)
}

// Open decrypts a key.
func (r Ring) Open(c Closed) (Key, error) {
	var identity age.Identity
	switch c.How {
	case Plain:
		return Key{c.sealed, c.Public}, nil
	case Machine:
		own, err := r.machine(false)
		if errors.Is(err, fs.ErrNotExist) {
			return Key{}, fmt.Errorf("%s: %w", c.file, ErrOtherMachine)
		}
		if err != nil {
			return Key{}, err
		}
		identity = own
	default:
		if r.Ask == nil {
			return Key{}, ErrNoPassphrase
		}
		passphrase, err := r.Ask()
		if err != nil {
			return Key{}, err
		}
		if identity, err = age.NewScryptIdentity(passphrase); err != nil {
			return Key{}, ErrNoPassphrase
		}
	}
	opened, err := age.Decrypt(armor.NewReader(strings.NewReader(c.sealed)), identity)
	if wrong := new(age.NoIdentityMatchError); errors.As(err, &wrong) {
		if c.How == Passphrase {
			return Key{}, ErrWrongPassphrase
		}
		return Key{}, fmt.Errorf("%s: %w", c.file, ErrOtherMachine)
	}
	if err != nil {
		return Key{}, fmt.Errorf("%s: %w: %w", c.file, ErrDamaged, err)
	}
	private, err := io.ReadAll(io.LimitReader(opened, 4096))
	if err != nil {
		return Key{}, fmt.Errorf("%s: %w: %w", c.file, ErrDamaged, err)
	}
	return Key{string(private), c.Public}, nil
}

// Keep writes a shop's key over what is there, in one step.
func (r Ring) Keep(shop string, k Key, how How, passphrase string) error {
	if err := os.MkdirAll(r.Folder, 0o700); err != nil {
		return err
	}
	return r.write(r.File(shop), k, how, passphrase)
}

// Next keeps a key beside the one in use, until Turn puts it in its place.
func (r Ring) Next(shop string, k Key, how How, passphrase string) error {
	return r.write(r.next(shop), k, how, passphrase)
}

func (r Ring) next(shop string) string { return r.File(shop) + ".next" }

// Turn puts the next key in the place of the one in use, if it is the one that is asked for.
func (r Ring) Turn(shop, public string) (turned bool, err error) {
	next, err := find(r.next(shop))
	if errors.Is(err, fs.ErrNotExist) || err == nil && next.Public != public {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	return true, rename(r.next(shop), r.File(shop))
}

// Forget removes the next key, after an exchange that did not happen.
func (r Ring) Forget(shop string) error {
	err := os.Remove(r.next(shop))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

// Copy writes a key to a new file under a passphrase, to be kept in another place.
func (r Ring) Copy(file string, k Key, passphrase string) error {
	if _, err := os.Lstat(file); err == nil {
		return fmt.Errorf("%s: %w", file, fs.ErrExist)
	}
	return r.write(file, k, Passphrase, passphrase)
}

func (r Ring) write(file string, k Key, how How, passphrase string) error {
	var recipient age.Recipient
	switch how {
	case Machine:
		own, err := r.machine(true)
		if err != nil {
			return err
		}
		recipient = own.Recipient()
	case Passphrase:
		if len(passphrase) < MinPassphrase {
			return fmt.Errorf("a passphrase has at least %d letters", MinPassphrase)
		}
		scrypt, err := age.NewScryptRecipient(passphrase)
		if err != nil {
			return err
		}
		recipient = scrypt
	default:
		return fmt.Errorf("a key is not written as %s", how)
	}
	var b bytes.Buffer
	b.WriteString(k.Public + "\n")
	a := armor.NewWriter(&b)
	w, err := age.Encrypt(a, recipient)
	if err != nil {
		return err
	}
	if _, err := io.WriteString(w, k.Private); err != nil {
		return err
	}
	if err := errors.Join(w.Close(), a.Close()); err != nil {
		return err
	}
	b.WriteString("\n")
	return replace(file, b.Bytes())
}

// replace writes a whole file or none.
func replace(file string, data []byte) error {
	whole, err := temporary(file, data)
	if err != nil {
		return err
	}
	if err := rename(whole, file); err != nil {
		os.Remove(whole)
		return err
	}
	return nil
}

// rename moves a whole file to its name and has the folder written to the disk: a key must be there for
// good before the log says that the shop signs with it.
func rename(from, to string) error {
	if err := os.Rename(from, to); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(to))
}

// syncFolder writes the names in a folder to the disk. Windows opens no folder for that.
var syncFolder = func(name string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	f, err := os.Open(name)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// temporary writes a file beside another, for its owner alone.
func temporary(beside string, data []byte) (name string, err error) {
	f, err := os.CreateTemp(filepath.Dir(beside), filepath.Base(beside)+".*")
	if err != nil {
		return "", err
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		os.Remove(f.Name())
		return "", err
	}
	return f.Name(), nil
}

// machine reads the secret of this account of this machine, or makes it.
func (r Ring) machine(make bool) (*age.X25519Identity, error) {
	data, err := readSecret(r.Identity)
	if errors.Is(err, fs.ErrNotExist) && make {
		if err := os.MkdirAll(filepath.Dir(r.Identity), 0o700); err != nil {
			return nil, err
		}
		own, err := age.GenerateX25519Identity()
		if err != nil {
			return nil, err
		}
		// Two programs that begin at once must end with one secret, and none may see half of it.
		whole, err := temporary(r.Identity, []byte(own.String()+"\n"))
		if err != nil {
			return nil, err
		}
		defer os.Remove(whole)
		if err := os.Link(whole, r.Identity); errors.Is(err, fs.ErrExist) {
			return r.machine(false)
		} else if err != nil {
			return nil, err
		}
		return own, nil
	}
	if err != nil {
		return nil, err
	}
	own, err := age.ParseX25519Identity(strings.TrimSpace(string(data)))
	if err != nil {
		return nil, fmt.Errorf("%s: %w: %w", r.Identity, ErrDamaged, err)
	}
	return own, nil
}
