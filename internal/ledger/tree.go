package ledger

import (
	"crypto/sha256"
	"fmt"
	"math/bits"

	"golang.org/x/mod/sumdb/tlog"
)

// Tree grows a Merkle tree leaf by leaf and keeps only the roots of its full subtrees.
type Tree struct {
	size  int64
	roots []tlog.Hash // of the full subtrees, largest first
}

// Size is the number of leaves.
func (t *Tree) Size() int64 { return t.size }

// Node is the root of one full subtree: the n-th one of 2^Level leaves.
type Node struct {
	Level int
	N     int64
	Hash  tlog.Hash
}

// Add appends a leaf and gives the nodes that became full with it, lowest first, the leaf itself
// not among them.
func (t *Tree) Add(leaf tlog.Hash) []Node {
	var full []Node
	h := leaf
	for level := 1; level <= bits.TrailingZeros64(uint64(t.size+1)); level++ {
		last := len(t.roots) - 1
		h = tlog.NodeHash(t.roots[last], h)
		t.roots = t.roots[:last]
		full = append(full, Node{level, t.size >> level, h})
	}
	t.roots = append(t.roots, h)
	t.size++
	return full
}

// Root is the hash of the whole tree (RFC 6962, section 2.1).
func (t *Tree) Root() tlog.Hash {
	if t.size == 0 {
		return sha256.Sum256(nil)
	}
	h := t.roots[len(t.roots)-1]
	for i := len(t.roots) - 2; i >= 0; i-- {
		h = tlog.NodeHash(t.roots[i], h)
	}
	return h
}

// Frontier gives the roots of the full subtrees, largest first, from which NewTree goes on.
func (t *Tree) Frontier() []byte {
	var out []byte
	for _, h := range t.roots {
		out = append(out, h[:]...)
	}
	return out
}

// NewTree goes on with a tree of that size and frontier.
func NewTree(size int64, frontier []byte) (*Tree, error) {
	if size < 0 || len(frontier) != tlog.HashSize*bits.OnesCount64(uint64(size)) {
		return nil, &Broken{-1, fmt.Sprintf("the tree's edge has %d bytes, which don't belong to %d entries", len(frontier), size)}
	}
	t := &Tree{size: size}
	for ; len(frontier) > 0; frontier = frontier[tlog.HashSize:] {
		t.roots = append(t.roots, tlog.Hash(frontier[:tlog.HashSize]))
	}
	return t, nil
}
