package ledger

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"golang.org/x/mod/sumdb/tlog"
	"pgregory.net/rapid"
)

func newBundle(t testing.TB, l *log, seqs ...int) (b *Bundle, public string) {
	t.Helper()
	private, public := testKey(t, l.shop, 1)
	var raws [][]byte
	for _, i := range seqs {
		raws = append(raws, l.raws[i])
	}
	b, err := NewBundle(l.signed(t, private), public, raws, l)
	if err != nil {
		t.Fatal(err)
	}
	return b, public
}

func encoded(t testing.TB, b *Bundle) []byte {
	t.Helper()
	data, err := json.MarshalIndent(b, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func TestBundleComesBack(t *testing.T) {
	for _, n := range []int{1, 2, 3, 8, 100, 129} {
		l := newLog(t, "demo", n)
		for _, seqs := range [][]int{{}, {0}, {n - 1}, {n - 1, n / 2, 0}} {
			b, public := newBundle(t, l, seqs...)
			again, err := ReadBundle(encoded(t, b))
			if err != nil || len(seqs) > 0 && !reflect.DeepEqual(again, b) {
				t.Fatalf("read again: %+v, %v", again, err)
			}
			cp, entries, err := again.Verify(public)
			if err != nil || cp != l.checkpoint() || len(entries) != len(seqs) {
				t.Fatalf("%d of %d: %v, %+v, %d entries", seqs, n, err, cp, len(entries))
			}
			for i, e := range entries {
				if e.Seq != int64(seqs[i]) || !strings.Contains(string(e.Body), `"demo\"`) {
					t.Errorf("entry %d is %+v", seqs[i], e)
				}
			}
		}
	}
}

// TestEveryBitOfABundle flips each bit of the entries, proofs and checkpoint of one bundle.
func TestEveryBitOfABundle(t *testing.T) {
	l := newLog(t, "demo", 11)
	b, public := newBundle(t, l, 4, 10)
	parts := map[string]*string{"checkpoint": &b.Checkpoint}
	for i := range b.Entries {
		parts[fmt.Sprintf("entry %d", i)] = &b.Entries[i].Entry
		for j := range b.Entries[i].Proof {
			parts[fmt.Sprintf("hash %d of proof %d", j, i)] = &b.Entries[i].Proof[j]
		}
	}
	if len(parts) != 1+2+4+2 {
		t.Fatalf("%d parts", len(parts))
	}
	for name, part := range parts {
		good := *part
		for bit := range len(good) * 8 {
			*part = flip(good, bit)
			if _, _, err := b.Verify(public); err == nil {
				t.Errorf("%s: bit %d of %q flipped unseen", name, bit%8, good[bit/8])
			}
		}
		*part = good
	}
	if _, _, err := b.Verify(public); err != nil {
		t.Fatal(err)
	}
}

// TestEveryBitOfABundlesFile: what is still taken says the same.
func TestEveryBitOfABundlesFile(t *testing.T) {
	l := newLog(t, "demo", 6)
	b, public := newBundle(t, l, 3)
	_, want, err := b.Verify(public)
	if err != nil {
		t.Fatal(err)
	}
	file := string(encoded(t, b))
	for bit := range len(file) * 8 {
		again, err := ReadBundle([]byte(flip(file, bit)))
		if err != nil {
			continue
		}
		if cp, got, err := again.Verify(public); err == nil && (cp != l.checkpoint() || len(got) > 0 && !reflect.DeepEqual(got, want)) {
			t.Fatalf("bit %d of byte %d (%q): %+v", bit%8, bit/8, file[bit/8], got)
		}
	}
}

func TestBundleThatLies(t *testing.T) {
	l, other := newLog(t, "demo", 9), newLog(t, "other", 9)
	private, public := testKey(t, "demo", 1)
	again := func(change func(b *Bundle)) error {
		b, _ := newBundle(t, l, 4, 7)
		change(b)
		_, _, err := b.Verify(public)
		return err
	}
	wantBroken(t, again(func(b *Bundle) { b.Entries[0].Proof = b.Entries[0].Proof[1:] }), 4, "does not lead to the checkpoint")
	wantBroken(t, again(func(b *Bundle) { b.Entries[0].Proof = append(b.Entries[0].Proof, b.Entries[0].Proof[0]) }), 4, "does not lead to the checkpoint")
	wantBroken(t, again(func(b *Bundle) { b.Entries[1].Proof = b.Entries[0].Proof }), 7, "does not lead to the checkpoint")
	wantBroken(t, again(func(b *Bundle) { b.Entries[0].Proof[0] = "x" }), 4, "damaged")
	wantBroken(t, again(func(b *Bundle) { b.Entries[1].Entry = "{}" }), -1, "entry 2 of the bundle")
	wantBroken(t, again(func(b *Bundle) { b.Entries[0].Entry = string(other.raws[4]) }), 4, `shop "other"`)
	wantBroken(t, again(func(b *Bundle) { b.Checkpoint = newLog(t, "demo", 3).signed(t, private) }), 4, "outside of the checkpoint's 3 entries")
	wantBroken(t, again(func(b *Bundle) { b.Checkpoint = newLog(t, "demo", 8).signed(t, private) }), 4, "does not lead to the checkpoint")

	// A key of the liar's own is good only for a reader who trusts what is in the bundle.
	liar, liarPublic := testKey(t, "demo", 9)
	b, _ := newBundle(t, l, 4)
	b.Checkpoint, b.PublicKey = l.signed(t, liar), liarPublic
	if _, _, err := b.Verify(); err != nil {
		t.Errorf("the bundle does not agree with itself: %v", err)
	}
	_, _, err := b.Verify(public)
	wantBroken(t, err, -1, "isn't signed with the shop's key")
}

func TestNewBundleRefuses(t *testing.T) {
	l := newLog(t, "demo", 9)
	private, public := testKey(t, "demo", 1)
	_, stranger := testKey(t, "demo", 2)
	if _, err := NewBundle(l.signed(t, private), stranger, l.raws[:1], l); err == nil {
		t.Error("a checkpoint with another key is taken")
	}
	if _, err := NewBundle(l.signed(t, private), public, [][]byte{[]byte("{}")}, l); err == nil {
		t.Error("bytes that are no entry are taken")
	}
	small := newLog(t, "demo", 3)
	if _, err := NewBundle(small.signed(t, private), public, l.raws[5:6], l); err == nil || !strings.Contains(err.Error(), "entry 5") {
		t.Errorf("an entry after the checkpoint: %v", err)
	}
	if _, err := NewBundle(l.signed(t, private), public, l.raws[:1], small); err == nil {
		t.Error("a tree that is too small is taken")
	}
}

func TestReadBundleRefuses(t *testing.T) {
	b, _ := newBundle(t, newLog(t, "demo", 3), 1)
	good := string(encoded(t, b))
	for name, text := range map[string]string{
		"nothing":       "",
		"a list":        "[]",
		"newer layout":  strings.Replace(good, `"wreath_bundle": 1`, `"wreath_bundle": 2`, 1),
		"unknown field": strings.Replace(good, `"note"`, `"colour": "red", "note"`, 1),
		"cut":           good[:len(good)-5],
		"twice":         good + good,
		"more behind":   good + "x",
	} {
		if _, err := ReadBundle([]byte(text)); err == nil {
			t.Errorf("%s is taken", name)
		}
	}
	if _, err := ReadBundle([]byte(good + "\n \n")); err != nil {
		t.Errorf("empty lines at the end: %v", err)
	}
}

func FuzzReadBundle(f *testing.F) {
	l := newLog(f, "demo", 6)
	b, public := newBundle(f, l, 3)
	f.Add(encoded(f, b))
	f.Add([]byte(`{"wreath_bundle":1}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		b, err := ReadBundle(data)
		if err != nil {
			return
		}
		_, got, err := b.Verify(public)
		if err != nil {
			return
		}
		for _, e := range got {
			raw, err := e.Encode()
			if err != nil || string(raw) != string(l.raws[e.Seq]) {
				t.Errorf("a forged entry: %q, %v", raw, err)
			}
		}
	})
}

// TestExtendsAnyTwo proves every pair of states of a log, and refuses every pair of two logs.
func TestExtendsAnyTwo(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(1, 70).Draw(rt, "size")
		l := newLog(t, "demo", n)
		changed := rapid.IntRange(0, n-1).Draw(rt, "changed")
		forged := &log{shop: "demo", hashes: map[int64]tlog.Hash{}}
		var older, forgedOlder []Checkpoint
		grown := &log{shop: "demo", hashes: map[int64]tlog.Hash{}}
		for i, raw := range l.raws {
			older, forgedOlder = append(older, grown.checkpoint()), append(forgedOlder, forged.checkpoint())
			e, err := Decode(raw)
			if err != nil {
				rt.Fatal(err)
			}
			grown.add(t, e)
			if i == changed {
				e.Person = "somebody else"
			}
			forged.add(t, e)
		}
		newer, forgedNewer := grown.checkpoint(), forged.checkpoint()
		for i := range older {
			if i == 0 {
				if err := Extends(older[0], newer, nil); err != nil {
					rt.Fatal(err)
				}
				continue
			}
			proof, err := tlog.ProveTree(newer.Size, int64(i), grown)
			if err != nil {
				rt.Fatal(err)
			}
			if err := Extends(older[i], newer, proof); err != nil {
				rt.Fatalf("%d to %d: %v", i, n, err)
			}
			lie, err := tlog.ProveTree(newer.Size, int64(i), forged)
			if err != nil {
				rt.Fatal(err)
			}
			for _, p := range []tlog.TreeProof{proof, lie, nil} {
				if i > changed {
					if err := Extends(older[i], forgedNewer, p); err == nil {
						rt.Fatalf("%d to %d: the changed entry %d is not seen", i, n, changed)
					}
				} else if forgedOlder[i] != older[i] {
					rt.Fatal("the forged log differs too early")
				}
				if err := Extends(older[i], Checkpoint{Shop: "demo", Size: newer.Size, Root: older[i].Root}, p); err == nil {
					rt.Fatal("any root is taken")
				}
			}
		}
	})
}

func TestExtendsRefuses(t *testing.T) {
	a, b := newLog(t, "demo", 5).checkpoint(), newLog(t, "demo", 9).checkpoint()
	wantBroken(t, Extends(b, a, nil), -1, "the newer checkpoint has 5 entries, the older one 9")
	a.Shop = "other"
	wantBroken(t, Extends(a, b, nil), -1, "two shops")
	c := b
	if err := Extends(b, c, nil); err != nil {
		t.Errorf("a log does not begin with itself: %v", err)
	}
	c.Root[0] ^= 1
	wantBroken(t, Extends(b, c, nil), -1, "does not begin with")
}
