package desk

import (
	"errors"
	"strings"
	"testing"

	"wreath/internal/ledger"
)

type keyPair struct{ private, public string }

func newKeyPair(t testing.TB, shop string) keyPair {
	t.Helper()
	private, public, err := ledger.NewKey(shop)
	if err != nil {
		t.Fatal(err)
	}
	return keyPair{private, public}
}

// TestChangeKey changes the key twice, once handed over and once not, and verifies the log for people who
// know the first, the second and the third key.
func TestChangeKey(t *testing.T) {
	w := openWorld(t)
	ctx := t.Context()
	first := w.o.Public
	number := w.recorded(w.boss())
	_, _, err := w.Checkpoint(ctx, w.who["boss"], "printed")
	w.ok(err)
	second := newKeyPair(t, w.Shop())
	w.ok(w.ChangeKey(ctx, w.boss(), second.private, second.public, false, "yearly"))
	verified := func(trusted ...string) bool {
		t.Helper()
		_, err := w.Verify(ctx, trusted, nil, nil, nil)
		if broken := new(ledger.Broken); err != nil && !errors.As(err, &broken) {
			t.Fatal(err)
		}
		return err == nil
	}
	if !verified() || !verified(first) || !verified(second.public) {
		t.Error("a change that was handed over: who knows the old key, or the new one, can't verify")
	}
	third, stranger := newKeyPair(t, w.Shop()), newKeyPair(t, w.Shop())
	w.ok(w.ChangeKey(ctx, w.boss(), third.private, third.public, true, "the invented laptop was stolen"))
	if !verified() || !verified(third.public) {
		t.Error("after a loss who knows the new key can't verify")
	}
	if verified(first) || verified(second.public) || verified(stranger.public) {
		t.Error("after a loss the old keys vouch for the new one")
	}
	b, err := w.Evidence(ctx, w.who["boss"], []string{number})
	w.ok(err)
	if _, _, err := b.Verify(third.public); err != nil {
		t.Errorf("a bundle after the changes: %v", err)
	}
	if _, _, err := b.Verify(second.public); err == nil {
		t.Error("a bundle of the third key holds for who knows the second")
	}
	keys, err := w.Keys(ctx)
	w.ok(err)
	if len(keys) != 3 || keys[0].Public != first || keys[1].HandOver == "" || keys[1].Lost || !keys[2].Lost || keys[2].Reason == "" || keys[1].Until != keys[2].From || !keys[2].Until.IsZero() {
		t.Errorf("the keys are %+v", keys)
	}
	if _, err := w.Checkpoints(ctx, w.who["boss"]); err != nil {
		t.Errorf("checkpoints of three keys: %v", err)
	}
}

// TestOldKeySealsNothing goes on with a key that another program changed meanwhile.
func TestOldKeySealsNothing(t *testing.T) {
	w := openWorld(t)
	other := sitAt(t, openFile(t, w.path), w.path, w.o.Private, w.o.Public, w.clock.now)
	k := newKeyPair(t, w.Shop())
	w.ok(w.ChangeKey(t.Context(), w.boss(), k.private, k.public, false, "yearly"))
	_, _, err := other.Checkpoint(t.Context(), w.who["boss"], "printed")
	if err == nil || !strings.Contains(err.Error(), "not the one that the shop uses now") {
		t.Errorf("the old key still seals: %v", err)
	}
	if err := other.ChangeKey(t.Context(), w.boss(), w.o.Private, w.o.Public, false, "back"); err == nil {
		t.Error("the old key hands over once more")
	}
	if err := w.ChangeKey(t.Context(), w.boss(), k.private, k.public, false, " "); err == nil {
		t.Error("a change without a reason")
	}
}

// TestUnlock asks for the key once, when something is first sealed.
func TestUnlock(t *testing.T) {
	w := openWorld(t)
	asked := 0
	o := w.o
	private := o.Private
	o.Private = ""
	o.Unlock = func() (string, error) {
		asked++
		if asked == 1 {
			return "", errors.New("no passphrase was given")
		}
		return private, nil
	}
	d, err := New(o)
	w.ok(err)
	if _, err := d.Show(t.Context(), w.who["boss"], w.recorded(w.boss())); err != nil || asked != 0 {
		t.Fatalf("reading asks for the key (%d times): %v", asked, err)
	}
	if _, _, err := d.Checkpoint(t.Context(), w.who["boss"], "printed"); err == nil || !strings.Contains(err.Error(), "no passphrase was given") {
		t.Fatalf("sealed without the key: %v", err)
	}
	for range 2 {
		_, _, err := d.Checkpoint(t.Context(), w.who["boss"], "printed")
		w.ok(err)
	}
	if asked != 2 {
		t.Errorf("asked %d times, want once more", asked)
	}
}
