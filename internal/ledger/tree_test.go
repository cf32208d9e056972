package ledger

import (
	"bytes"
	"encoding/hex"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/transparency-dev/merkle/proof"
	"github.com/transparency-dev/merkle/rfc6962"
	"github.com/transparency-dev/merkle/testonly"
	"golang.org/x/mod/sumdb/tlog"
)

// TestPublishedTrees holds the tree and its proofs against testdata/rfc6962.txt.
func TestPublishedTrees(t *testing.T) {
	text, err := os.ReadFile("testdata/rfc6962.txt")
	if err != nil {
		t.Fatal(err)
	}
	l := &log{hashes: map[int64]tlog.Hash{}}
	trees := []Tree{l.tree}
	rows := map[string]int{}
	for line := range strings.Lines(string(text)) {
		f := strings.Fields(line)
		if f[0] == "#" {
			continue
		}
		rows[f[0]]++
		number := func(i int) int64 {
			n, err := strconv.ParseInt(f[i], 10, 64)
			if err != nil {
				t.Fatal(err)
			}
			return n
		}
		var want []tlog.Hash
		if f[0] != "leaf" {
			for _, text := range f[min(3, len(f)):] {
				want = append(want, tlog.Hash(unhex(t, text)))
			}
		}
		switch f[0] {
		case "leaf":
			raw := unhex(t, strings.TrimPrefix(f[1], "-"))
			l.hashes[tlog.StoredHashIndex(0, l.tree.Size())] = LeafHash(raw)
			for _, n := range l.tree.Add(LeafHash(raw)) {
				l.hashes[tlog.StoredHashIndex(n.Level, n.N)] = n.Hash
			}
			again, err := NewTree(l.tree.Size(), l.tree.Frontier())
			if err != nil {
				t.Fatal(err)
			}
			trees = append(trees, *again)
		case "root":
			if got := trees[number(1)].Root(); !bytes.Equal(got[:], unhex(t, f[2])) {
				t.Errorf("root of %s leaves = %x, want %s", f[1], got, f[2])
			}
		case "inclusion":
			got, err := tlog.ProveRecord(number(2), number(1)-1, l)
			if err != nil || !slices.Equal([]tlog.Hash(got), want) {
				t.Errorf("proof of leaf %s in %s = %v, %v, want %v", f[1], f[2], got, err, want)
			}
			root := trees[number(2)].Root()
			if err := tlog.CheckRecord(want, number(2), root, number(1)-1, l.hashes[tlog.StoredHashIndex(0, number(1)-1)]); err != nil {
				t.Errorf("the published proof of leaf %s in %s is refused: %v", f[1], f[2], err)
			}
		case "consistency":
			older := Checkpoint{Shop: "demo", Size: number(1), Root: trees[number(1)].Root()}
			newer := Checkpoint{Shop: "demo", Size: number(2), Root: trees[number(2)].Root()}
			got, err := tlog.ProveTree(newer.Size, older.Size, l)
			if err != nil || !slices.Equal([]tlog.Hash(got), want) {
				t.Errorf("proof from %s to %s = %v, %v, want %v", f[1], f[2], got, err, want)
			}
			if err := Extends(older, newer, want); err != nil {
				t.Errorf("the published proof from %s to %s is refused: %v", f[1], f[2], err)
			}
		}
	}
	if rows["leaf"] != 8 || rows["root"] != 9 || rows["inclusion"] != 5 || rows["consistency"] != 5 {
		t.Errorf("read %v, want 8 leaves, 9 roots, 5 proofs of each kind", rows)
	}
}

func unhex(t *testing.T, text string) []byte {
	t.Helper()
	b, err := hex.DecodeString(text)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestTreeAgainstAnotherImplementation compares 10,000 random trees, with one proof of each kind,
// to those of github.com/transparency-dev/merkle, and their nodes to tlog.StoredHashes.
func TestTreeAgainstAnotherImplementation(t *testing.T) {
	random := rand.New(rand.NewPCG(6962, 1))
	trees := 10_000
	if testing.Short() {
		trees = 1000
	}
	for range trees {
		size := 1 + random.IntN(300)
		other := testonly.New(rfc6962.DefaultHasher)
		l := &log{hashes: map[int64]tlog.Hash{}}
		old := 1 + random.IntN(size)
		var oldRoot tlog.Hash
		for i := range size {
			raw := make([]byte, random.IntN(40))
			for j := range raw {
				raw[j] = byte(random.Uint32())
			}
			other.AppendData(raw)
			stored, err := tlog.StoredHashes(int64(i), raw, l)
			if err != nil {
				t.Fatal(err)
			}
			got := []tlog.Hash{LeafHash(raw)}
			l.hashes[tlog.StoredHashIndex(0, int64(i))] = got[0]
			for _, n := range l.tree.Add(got[0]) {
				got = append(got, n.Hash)
				l.hashes[tlog.StoredHashIndex(n.Level, n.N)] = n.Hash
			}
			if !slices.Equal(got, stored) {
				t.Fatalf("leaf %d completes %v, want %v", i, got, stored)
			}
			if i+1 == old {
				oldRoot = l.tree.Root()
			}
			if random.IntN(50) == 0 {
				again, err := NewTree(l.tree.Size(), l.tree.Frontier())
				if err != nil {
					t.Fatal(err)
				}
				l.tree = *again
			}
		}
		root := l.tree.Root()
		if !bytes.Equal(root[:], other.Hash()) || !bytes.Equal(oldRoot[:], other.HashAt(uint64(old))) {
			t.Fatalf("roots of %d and %d leaves = %x, %x, want %x, %x", size, old, root, oldRoot, other.Hash(), other.HashAt(uint64(old)))
		}
		leaf := random.IntN(size)
		inclusion, err := tlog.ProveRecord(int64(size), int64(leaf), l)
		if err != nil {
			t.Fatal(err)
		}
		theirs, err := other.InclusionProof(uint64(leaf), uint64(size))
		if err != nil || !slices.EqualFunc(inclusion, theirs, sameHash) {
			t.Fatalf("proof of leaf %d of %d = %v, want %x (%v)", leaf, size, inclusion, theirs, err)
		}
		leafHash := l.hashes[tlog.StoredHashIndex(0, int64(leaf))]
		if err := proof.VerifyInclusion(rfc6962.DefaultHasher, uint64(leaf), uint64(size), leafHash[:], plain(inclusion), root[:]); err != nil {
			t.Fatal(err)
		}
		consistency, err := tlog.ProveTree(int64(size), int64(old), l)
		if err != nil {
			t.Fatal(err)
		}
		if err := proof.VerifyConsistency(rfc6962.DefaultHasher, uint64(old), uint64(size), plain(consistency), oldRoot[:], root[:]); err != nil {
			t.Fatal(err)
		}
		theirs, err = other.ConsistencyProof(uint64(old), uint64(size))
		if err != nil || !slices.EqualFunc(consistency, theirs, sameHash) {
			t.Fatalf("proof from %d to %d = %v, want %x (%v)", old, size, consistency, theirs, err)
		}
		if err := Extends(Checkpoint{Size: int64(old), Root: oldRoot}, Checkpoint{Size: int64(size), Root: root}, consistency); err != nil {
			t.Fatal(err)
		}
	}
}

func sameHash(a tlog.Hash, b []byte) bool { return bytes.Equal(a[:], b) }

func plain(hashes []tlog.Hash) (out [][]byte) {
	for _, h := range hashes {
		out = append(out, h[:])
	}
	return out
}

func TestNewTreeRefusesAnotherSizesEdge(t *testing.T) {
	l := newLog(t, "demo", 7)
	for _, size := range []int64{-1, 0, 1, 6, 8, 15} {
		if _, err := NewTree(size, l.tree.Frontier()); err == nil {
			t.Errorf("the edge of 7 entries is taken for %d", size)
		}
	}
}
