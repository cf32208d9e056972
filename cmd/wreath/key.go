package main

import (
	"context"
	"errors"
	"io/fs"
	"time"

	"wreath/internal/desk"
	"wreath/internal/keyring"
	"wreath/internal/ledger"
)

type keyCmd struct {
	Show    keyShowCmd    `cmd:"" help:"The public keys of the shop, and how the signing key is kept."`
	Copy    keyCopyCmd    `cmd:"" help:"A copy of the signing key under a passphrase, for another place."`
	Put     keyPutCmd     `cmd:"" help:"Put a copy of the signing key in its place."`
	Protect keyProtectCmd `cmd:"" help:"Keep the signing key under a passphrase, or for this account alone."`
	Rotate  keyRotateCmd  `cmd:"" help:"Take a new signing key; the old one hands over to it."`
	Lost    keyLostCmd    `cmd:"" help:"Take a new signing key because the old one is lost or may be in other hands."`
}

// keys are a place's key ring, its shop and the keys that the shop had.
func (p *place) keys(do func(ctx context.Context, r *room, who *desk.Who, ring keyring.Ring, keys []desk.ShopKey) error) error {
	return p.work(func(ctx context.Context, r *room, who *desk.Who) error {
		ring, err := p.ring()
		if err != nil {
			return err
		}
		keys, err := r.Keys(ctx)
		if err != nil {
			return err
		}
		return do(ctx, r, who, ring, keys)
	})
}

// ways says in words how a key is kept.
var ways = map[keyring.How]string{
	keyring.Plain:      "as it is: who reads the file can sign. Encrypt it with wreath key protect",
	keyring.Machine:    "encrypted for this account of this machine",
	keyring.Passphrase: "encrypted with a passphrase",
}

type keyShowCmd struct {
	place
	formatted
}

func (keyShowCmd) Help() string {
	return `Examples:

  wreath key show
  wreath key show --format json

Everybody who checks your papers needs the public key, and gets it from you: on your site, at the
counter, on a card. After a change the old key's hand-over lets them follow without asking.`
}

// Run shows the keys.
func (c *keyShowCmd) Run(s *streams) error {
	return c.keys(func(_ context.Context, r *room, _ *desk.Who, ring keyring.Ring, keys []desk.ShopKey) error {
		if c.forPrograms() {
			return writeJSON(s.Out, keys)
		}
		page := newPage()
		for i, k := range keys {
			label := "Before"
			if i == len(keys)-1 {
				label = "In use"
			}
			page.say(label, "%s", k.Public)
			page.say("", "since %s, entry %d", k.From.UTC().Format(time.RFC3339), k.Entry)
			if k.Reason != "" {
				page.say("", "reason: %s", harmless(k.Reason))
			}
			if k.Lost {
				page.say("", "the key before could not hand over: whoever knew that one has to be told")
			}
		}
		closed, err := ring.Find(c.Shop)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			page.say("Kept", "not here: %s is missing; put a copy in its place with wreath key put", ring.File(c.Shop))
		case err != nil:
			return keyFailure(err)
		case closed.Public != keys[len(keys)-1].Public:
			page.say("Kept", "%s is not the key in use", ring.File(c.Shop))
		default:
			page.say("Kept", "%s", ring.File(c.Shop))
			page.say("", "%s", ways[closed.How])
		}
		return page.print(s.Out)
	})
}

type keyCopyCmd struct {
	place
	File string `arg:"" help:"New file, best on a stick that then lies in a safe."`
}

func (keyCopyCmd) Help() string {
	return `Examples:

  wreath key copy /media/stick/river-street.key

Asks twice for a passphrase of at least 15 letters, such as four words drawn from a book. Write it down
and keep it apart from the copy. The file can be opened by this program (wreath key put) and, from its
second line on, by the program age.`
}

// Run writes the copy.
func (c *keyCopyCmd) Run(s *streams) error {
	return c.keys(func(_ context.Context, _ *room, _ *desk.Who, ring keyring.Ring, keys []desk.ShopKey) error {
		k, err := c.openKey(keys[len(keys)-1].Public)
		if err != nil {
			return missingKey(err, ring.File(c.Shop))
		}
		passphrase, err := newPassphrase(s, "passphrase of the copy")
		if err != nil {
			return err
		}
		if err := ring.Copy(c.File, k, passphrase); err != nil {
			if errors.Is(err, fs.ErrExist) {
				return wrong("Name a new file.", "%s is there already; a copy never goes over a file", c.File)
			}
			return err
		}
		say(s, "%s holds a copy of the signing key. Keep it in another place than the store, and the passphrase in a third.", c.File)
		return nil
	})
}

// missingKey says that the key is not where it should be.
func missingKey(err error, file string) error {
	if errors.Is(err, fs.ErrNotExist) {
		return &failure{exitMissing, "the signing key is not at " + file, "Put a copy of it there: wreath key put FILE. Without any: wreath key lost."}
	}
	return err
}

// newPassphrase asks for a passphrase twice.
func newPassphrase(s *streams, what string) (string, error) {
	first, err := ask(s, "new "+what)
	if err != nil {
		return "", err
	}
	if len(first) < keyring.MinPassphrase {
		return "", wrong("Take four words drawn from a book.", "the passphrase has %d letters; at least %d are needed", len(first), keyring.MinPassphrase)
	}
	second, err := ask(s, "the same again")
	if err != nil {
		return "", err
	}
	if first != second {
		return "", wrong("Type it twice, the same each time.", "the two passphrases differ")
	}
	return first, nil
}

type keyPutCmd struct {
	place
	File string `arg:"" help:"Copy as wreath key copy wrote it."`
}

func (keyPutCmd) Help() string {
	return `Examples:

  wreath key put /media/stick/river-street.key

Asks for the passphrase of the copy. The key is then kept encrypted for this account of this machine. To
keep it under a passphrase instead: wreath key protect.`
}

// Run puts the copy in its place.
func (c *keyPutCmd) Run(s *streams) error {
	return c.keys(func(_ context.Context, _ *room, _ *desk.Who, ring keyring.Ring, keys []desk.ShopKey) error {
		closed, err := keyring.FindCopy(c.File)
		if errors.Is(err, fs.ErrNotExist) {
			return &failure{exitMissing, "there is no " + c.File, "Check the name of the file."}
		}
		if err != nil {
			return keyFailure(err)
		}
		if closed.Public != keys[len(keys)-1].Public {
			return wrong("Look with wreath key show which key is in use.", "%s holds another key: %s", c.File, harmless(closed.Public))
		}
		ring.Ask = func() (string, error) { return ask(s, "passphrase of the copy") }
		k, err := ring.Open(closed)
		if err != nil {
			return keyFailure(err)
		}
		if _, err := (ledger.Checkpoint{Shop: c.Shop}).Sign(k.Private); err != nil {
			return wrong("Take another copy.", "%s: %v", c.File, err)
		}
		if err := ring.Keep(c.Shop, k, keyring.Machine, ""); err != nil {
			return err
		}
		say(s, "The signing key is at %s, %s.", ring.File(c.Shop), ways[keyring.Machine])
		return nil
	})
}

type keyProtectCmd struct {
	place
	Passphrase bool `xor:"how" help:"Ask for a passphrase, which is then needed whenever something is sealed."`
	Machine    bool `xor:"how" help:"Encrypt for this account of this machine, so that nothing has to be typed."`
}

func (keyProtectCmd) Help() string {
	return `Examples:

  wreath key protect --passphrase
  wreath key protect --machine

A key that an older program made lies in its file as it is; either way encrypts it. With --machine, who
copies the store and the key can't sign; who works under this account can. With --passphrase, not even
that: it is asked for when something is first sealed, or taken from WREATH_KEY_PASSPHRASE or the file
that WREATH_KEY_PASSPHRASE_FILE names.`
}

// Run encrypts the key anew.
func (c *keyProtectCmd) Run(s *streams) error {
	if c.Passphrase == c.Machine {
		return wrong("Give --passphrase or --machine.", "it is not said how the key is to be kept")
	}
	return c.keys(func(_ context.Context, _ *room, _ *desk.Who, ring keyring.Ring, keys []desk.ShopKey) error {
		k, err := c.openKey(keys[len(keys)-1].Public)
		if err != nil {
			return missingKey(err, ring.File(c.Shop))
		}
		how, passphrase := keyring.Machine, ""
		if c.Passphrase {
			how = keyring.Passphrase
			if passphrase, err = newPassphrase(s, "passphrase of the signing key"); err != nil {
				return err
			}
		}
		if err := ring.Keep(c.Shop, k, how, passphrase); err != nil {
			return err
		}
		say(s, "The signing key is at %s, %s.", ring.File(c.Shop), ways[how])
		return nil
	})
}

type keyRotateCmd struct {
	place
	Reason string `required:"" help:"Why, such as \"yearly\"."`
}

func (keyRotateCmd) Help() string {
	return `Examples:

  wreath key rotate --reason yearly

The old key signs that the new one takes its place, the log keeps it, and a checkpoint is signed with
the new one. What was signed before stays valid. Programs that run meanwhile, such as wreath serve, must
be started again before they can seal anything. Publish the new public key, and make a copy of the new
signing key: wreath key copy.`
}

// Run changes the key.
func (c *keyRotateCmd) Run(s *streams) error { return c.change(s, c.Reason, false) }

type keyLostCmd struct {
	place
	Reason string `required:"" help:"What happened."`
}

func (keyLostCmd) Help() string {
	return `Examples:

  wreath key lost --reason "the disk broke and there was no copy"
  wreath key lost --reason "the laptop was stolen"

What to do when the signing key is gone, or somebody else may have it:

 1. Look for a copy first (wreath key put): a key that is only mislaid needs no change.
 2. wreath key lost: the shop gets a new key. The log says so and why; the old key does not hand over.
 3. Publish the new public key where the old one stood, with the day from which the old one is no
    longer valid. Tell whoever keeps your checkpoints or papers.
 4. If somebody else may have the old key: papers dated after that day and signed with it prove
    nothing. Those before are proved by the checkpoints that left the house before.
 5. Make a copy of the new key: wreath key copy.`
}

// Run changes the key without the old one.
func (c *keyLostCmd) Run(s *streams) error { return c.change(s, c.Reason, true) }

func (p *place) change(s *streams, reason string, lost bool) error {
	return p.keys(func(ctx context.Context, r *room, who *desk.Who, ring keyring.Ring, keys []desk.ShopKey) error {
		how, passphrase := keyring.Machine, ""
		closed, err := ring.Find(p.Shop)
		if err == nil && closed.How == keyring.Passphrase {
			how = keyring.Passphrase
			if passphrase, err = askPassphrase(); err != nil {
				return keyFailure(err)
			}
			ring.Ask = func() (string, error) { return passphrase, nil }
			if _, err := ring.Open(closed); err != nil && !lost {
				return keyFailure(err)
			} else if err != nil {
				// Nothing shows that it was typed as meant, so the new key is not kept under it.
				if passphrase, err = newPassphrase(s, "passphrase of the new key"); err != nil {
					return err
				}
			}
		} else if err != nil && !lost {
			return missingKey(keyFailure(err), ring.File(p.Shop))
		}
		var k keyring.Key
		if k.Private, k.Public, err = ledger.NewKey(p.Shop); err != nil {
			return err
		}
		// First on the disk, then in the log, then in its place: however it is cut short, the key that
		// the log names is there.
		if err := ring.Next(p.Shop, k, how, passphrase); err != nil {
			return err
		}
		if err := r.ChangeKey(ctx, desk.By{Who: who}, k.Private, k.Public, lost, reason); err != nil {
			if now, again := r.Keys(ctx); again == nil && now[len(now)-1].Public != k.Public {
				ring.Forget(p.Shop)
			}
			return err
		}
		if _, err := ring.Turn(p.Shop, k.Public); err != nil {
			return err
		}
		say(s, "The shop signs with a new key from now on.")
		say(s, "public key   %s", k.Public)
		say(s, "Publish it, start wreath serve again where it runs, and make a copy: wreath key copy FILE.")
		return nil
	})
}
