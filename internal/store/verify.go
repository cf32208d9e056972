package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"wreath/internal/ledger"
)

// Report is what a verification found.
type Report struct {
	Shop        string
	Entries     int64
	Root        tlog.Hash
	Checkpoints int
	Attachments int
	ClockSet    []int64 // entries whose clock showed less than the entry before
	Last        time.Time
}

// Expectation is a checkpoint from outside of the house that the log must agree with.
type Expectation struct {
	Name       string // for the error: where it comes from
	Checkpoint *ledger.Checkpoint
	Short      *ledger.Short
}

// Verify goes through the whole log of a shop: every entry has its place, form and hash, its
// columns say what its bytes say, every node of the tree and every kept checkpoint follows from
// the entries, every attachment has its hash, and the log agrees with the checkpoints given. The
// first fault is a *ledger.Broken. With trusted keys the shop's public key must be among them, or be
// handed over to by one of them.
func (s *Store) Verify(ctx context.Context, shop string, trusted []string, expected []Expectation, progress func(done, of int64)) (r Report, err error) {
	err = s.Read(ctx, shop, func(tx *Tx) error {
		r = Report{Shop: shop}
		return tx.verify(&r, trusted, expected, progress)
	})
	return r, err
}

func broken(seq int64, format string, args ...any) error {
	return &ledger.Broken{Seq: seq, Reason: fmt.Sprintf(format, args...)}
}

func (tx *Tx) verify(r *Report, trusted []string, expected []Expectation, progress func(done, of int64)) error {
	keys, err := tx.Keys()
	if err != nil {
		return err
	}
	for _, public := range keys.All() {
		if err := ledger.CheckKey(tx.shop, public); err != nil {
			return broken(-1, "the store's own key: %v", err)
		}
	}
	trusted = ledger.Follow(tx.shop, trusted, keys.HandOvers())
	if len(trusted) > 0 && !slices.Contains(trusted, keys.Current()) {
		return broken(-1, "the store's own key is none of those that are trusted")
	}
	var size, last int64
	var frontier []byte
	if err := tx.row(`select size, frontier, last_time from shop where shop = $1`, []any{tx.shop}, &size, &frontier, &last); err != nil {
		return err
	}
	check := ledger.NewChecker(tx.shop)
	kept, err := tx.Checkpoints(0)
	if err != nil {
		return err
	}
	for _, k := range kept {
		cp, err := ledger.OpenCheckpoint(k.Signed, keys.All()...)
		if err != nil {
			return broken(-1, "the kept checkpoint of %d entries (%s): %v", k.Size, k.Reason, err)
		}
		if cp.Size != k.Size {
			return broken(-1, "the kept checkpoint of %d entries (%s) says %d", k.Size, k.Reason, cp.Size)
		}
		if err := check.Expect(fmt.Sprintf("the kept checkpoint of %d entries (%s)", k.Size, k.Reason), cp); err != nil {
			return err
		}
	}
	r.Checkpoints = len(kept)
	if len(trusted) > 0 && len(kept) > 0 {
		last := kept[len(kept)-1]
		if _, err := ledger.OpenCheckpoint(last.Signed, trusted...); err != nil {
			return broken(-1, "the last kept checkpoint, of %d entries, is signed with none of the keys that are trusted", last.Size)
		}
	}
	for _, e := range expected {
		if e.Short != nil {
			check.ExpectShort(e.Name, *e.Short)
			continue
		}
		if err := check.Expect(e.Name, *e.Checkpoint); err != nil {
			return err
		}
	}
	if err := tx.follow(check, r, size, progress); err != nil {
		return err
	}
	if err := check.End(); err != nil {
		return err
	}
	r.Entries, r.Root = check.Size(), check.Root()
	switch {
	case check.Size() != size:
		return broken(-1, "the log has %d entries, but its head says %d", check.Size(), size)
	case string(check.Frontier()) != string(frontier):
		return broken(-1, "the head of the log does not follow from its entries")
	case size > 0 && r.Last.UnixMicro() != last:
		return broken(-1, "the head of the log names another time than its last entry")
	}
	return tx.verifyAttachments(r)
}

// line is one row of the log as it is stored, with the hash that its bytes have.
type line struct {
	seq, at               int64
	kind, subject, person string
	key                   *string
	leaf, raw             []byte
	hash                  tlog.Hash
}

// stretch is what is read of the log at once: entries, and the nodes that they complete.
type stretch struct {
	lines []line
	nodes map[int64]tlog.Hash
	err   error
}

// stretches reads the log in the order in which it was written, and hashes it, while the stretch
// before is being checked. The transaction belongs to it until the channel is closed; closing done
// ends it early.
func (tx *Tx) stretches(done <-chan struct{}) <-chan stretch {
	out := make(chan stretch)
	go func() {
		defer close(out)
		for from := int64(0); ; from += page {
			s := tx.stretch(from)
			select {
			case out <- s:
			case <-done:
				return
			}
			if s.err != nil || len(s.lines) < page {
				return
			}
		}
	}()
	return out
}

func (tx *Tx) stretch(from int64) (s stretch) {
	err := tx.rows(func(scan func(...any) error) error {
		var l line
		err := scan(&l.seq, &l.at, &l.kind, &l.subject, &l.person, &l.key, &l.leaf, &l.raw)
		l.hash = ledger.LeafHash(l.raw)
		s.lines = append(s.lines, l)
		return err
	}, `select seq, at, kind, subject, person, key, leaf, raw from entry where shop = $1 and seq >= $2 order by seq limit $3`, tx.shop, from, page)
	if err != nil {
		s.err = fmt.Errorf("read from entry %d on: %w", from, err)
		return s
	}
	s.nodes, s.err = tx.nodes(from, from+page)
	return s
}

// follow checks entries and nodes in the order in which they were written.
func (tx *Tx) follow(check *ledger.Checker, r *Report, size int64, progress func(done, of int64)) error {
	done := make(chan struct{})
	read := tx.stretches(done)
	err := follow(check, r, size, read, progress)
	close(done)
	for range read { // the transaction is free again when this ends
	}
	if err != nil {
		return err
	}
	return tx.nothingBeyond(check.Size())
}

func follow(check *ledger.Checker, r *Report, size int64, read <-chan stretch, progress func(done, of int64)) error {
	for s := range read {
		if s.err != nil {
			return s.err
		}
		for _, l := range s.lines {
			seq := check.Size()
			if l.seq != seq {
				return broken(seq, "it is missing; entry %d comes next", l.seq)
			}
			if hashOf(l.leaf) != l.hash {
				return broken(seq, "its bytes don't have the hash that they had")
			}
			e, full, err := check.AddHashed(l.raw, l.hash)
			if err != nil {
				return err
			}
			key := ""
			if l.key != nil {
				key = *l.key
			}
			if l.key != nil && key == "" || l.at != e.Time.UnixMicro() || l.kind != e.Kind || l.subject != e.Subject || l.person != e.Person || key != e.Key {
				return broken(seq, "its columns say something else than its bytes")
			}
			for _, n := range full {
				id := tlog.StoredHashIndex(n.Level, n.N)
				if s.nodes[id] != n.Hash {
					return broken(seq, "the tree does not follow from the entries up to here")
				}
				delete(s.nodes, id)
			}
			if e.Clock == ledger.SetBack {
				r.ClockSet = append(r.ClockSet, seq)
			}
			r.Last = e.Time
		}
		if progress != nil {
			progress(check.Size(), size)
		}
		if len(s.nodes) > 0 {
			return broken(check.Size(), "the tree holds nodes that follow from no entry")
		}
	}
	return nil
}

// nodes reads the nodes that were completed by the entries from one on and before another.
func (tx *Tx) nodes(from, before int64) (map[int64]tlog.Hash, error) {
	out := map[int64]tlog.Hash{}
	err := tx.rows(func(scan func(...any) error) error {
		var id int64
		var h []byte
		if err := scan(&id, &h); err != nil {
			return err
		}
		out[id] = hashOf(h)
		return nil
	}, `select id, hash from node where shop = $1 and id >= $2 and id < $3`, tx.shop, tlog.StoredHashCount(from), tlog.StoredHashCount(before))
	return out, err
}

// nothingBeyond refuses nodes and entries that lie outside of the log.
func (tx *Tx) nothingBeyond(size int64) error {
	var n int64
	err := tx.row(`select (select count(*) from node where shop = $1 and (id >= $2 or id < 0)) + (select count(*) from entry where shop = $1 and (seq >= $3 or seq < 0))`,
		[]any{tx.shop, tlog.StoredHashCount(size), size}, &n)
	if err == nil && n > 0 {
		err = broken(size, "%d rows lie beyond the end of the log", n)
	}
	return err
}

func (tx *Tx) verifyAttachments(r *Report) error {
	last := ""
	for {
		var data []byte
		err := tx.row(`select hash, data from attachment where shop = $1 and hash > $2 order by hash limit 1`, []any{tx.shop, last}, &last, &data)
		if errors.Is(err, ErrNotFound) {
			return nil
		}
		if err != nil {
			return err
		}
		if sum := sha256.Sum256(data); hex.EncodeToString(sum[:]) != last {
			return broken(-1, "the attachment %s was changed", last)
		}
		r.Attachments++
	}
}
