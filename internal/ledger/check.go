package ledger

import (
	"fmt"
	"time"

	"golang.org/x/mod/sumdb/tlog"
)

// Checker follows a log from its first entry and stops at the first that is broken.
type Checker struct {
	shop string
	tree Tree
	last time.Time
	keys map[string]int64
	due  map[int64][]claim // checkpoints that await their size
}

// claim is what a checkpoint says of the tree.
type claim struct {
	name string
	root string // a prefix of the root's bytes
}

// NewChecker checks the log of a shop.
func NewChecker(shop string) *Checker {
	return &Checker{shop: shop, keys: map[string]int64{}, due: map[int64][]claim{}}
}

// Expect holds the log against a checkpoint when it reaches that size. Name says which one in the
// error. Call it before the entries are added.
func (c *Checker) Expect(name string, cp Checkpoint) error {
	if cp.Shop != c.shop {
		return &Broken{-1, fmt.Sprintf("%s belongs to shop %s, not to %s", name, cp.Shop, c.shop)}
	}
	c.due[cp.Size] = append(c.due[cp.Size], claim{name, string(cp.Root[:])})
	return nil
}

// ExpectShort does the same for a checkpoint from a slip.
func (c *Checker) ExpectShort(name string, s Short) {
	c.due[s.Size] = append(c.due[s.Size], claim{name, string(s.Root[:])})
}

// Add takes the bytes of the next entry and gives the entry and the nodes that became full.
func (c *Checker) Add(raw []byte) (e Entry, full []Node, err error) {
	return c.AddHashed(raw, LeafHash(raw))
}

// AddHashed does the same for a caller that has computed the LeafHash of these bytes already.
func (c *Checker) AddHashed(raw []byte, leaf tlog.Hash) (e Entry, full []Node, err error) {
	seq := c.tree.Size()
	broken := func(format string, args ...any) (Entry, []Node, error) {
		return Entry{}, nil, &Broken{seq, fmt.Sprintf(format, args...)}
	}
	if seq == 0 {
		if err := c.settle(); err != nil {
			return Entry{}, nil, err
		}
	}
	e, err = decodeHead(raw)
	switch {
	case err != nil:
		return broken("%v", err)
	case e.Seq != seq:
		return broken("entry %d stands in its place", e.Seq)
	case e.Shop != c.shop:
		return broken("it belongs to shop %q", e.Shop)
	case (e.Clock == SetBack) != (seq > 0 && e.Time.Before(c.last)):
		return broken("its time %s and its remark on the clock (%q) contradict the entry before it", e.Time.Format(time.RFC3339), e.Clock)
	}
	if e.Key != "" {
		if first, twice := c.keys[e.Key]; twice {
			return broken("it has the same mark as entry %d", first)
		}
		c.keys[e.Key] = seq
	}
	c.last = e.Time
	full = c.tree.Add(leaf)
	return e, full, c.settle()
}

// settle holds the tree against the checkpoints of its size.
func (c *Checker) settle() error {
	root := c.tree.Root()
	for _, claim := range c.due[c.tree.Size()] {
		if string(root[:len(claim.root)]) != claim.root {
			return &Broken{-1, fmt.Sprintf("the first %d entries are not those that %s was made of: at least one of them was changed", c.tree.Size(), claim.name)}
		}
	}
	delete(c.due, c.tree.Size())
	return nil
}

// Size is the number of entries so far.
func (c *Checker) Size() int64 { return c.tree.Size() }

// Root is the root of the tree so far.
func (c *Checker) Root() tlog.Hash { return c.tree.Root() }

// Frontier is the edge of the tree so far; see Tree.
func (c *Checker) Frontier() []byte { return c.tree.Frontier() }

// End says whether the log ended too soon for a checkpoint.
func (c *Checker) End() error {
	if c.tree.Size() == 0 {
		if err := c.settle(); err != nil {
			return err
		}
	}
	for size, claims := range c.due {
		return &Broken{-1, fmt.Sprintf("the log ends after %d entries, but %s was made of %d: the last ones are missing", c.tree.Size(), claims[0].name, size)}
	}
	return nil
}
