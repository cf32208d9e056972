package desk

import (
	"context"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/store"
)

// maxPeriod is how many entries a bundle of a period may have; chosen here.
const maxPeriod = 100_000

// EvidenceOf makes a bundle of the entries of a period, from one moment until before another, by the time
// that the log has of them. What the person may not see is left out, and so is who signed in and who looked
// at personal data: that is no evidence for others. Left counts what was left out.
func (d *Desk) EvidenceOf(ctx context.Context, who *Who, from, until time.Time) (b *ledger.Bundle, left int, err error) {
	if !from.Before(until) {
		return nil, 0, bad("Give the first day and the last.", "the period ends before it begins")
	}
	private, err := d.sealingKey()
	if err != nil {
		return nil, 0, err
	}
	err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		left = 0
		if err := who.allow(tx, people.ExportEvidence, d.o.Now()); err != nil {
			return err
		}
		var raws [][]byte
		for e, err := range tx.Between(from, until) {
			if err != nil {
				return err
			}
			if a, special := shownTo[e.Kind]; special && (a == people.SeeAccessLog || !who.May(a)) {
				left++
				continue
			}
			if len(raws) == maxPeriod {
				return bad("Take a shorter one.", "the period has more than %d entries", maxPeriod)
			}
			raw, err := tx.Raw(e.Seq)
			if err != nil {
				return err
			}
			raws = append(raws, raw)
		}
		if len(raws) == 0 {
			return missing("Take a longer one.", "the period has no entry that can be shown")
		}
		b, err = d.bundle(tx, private, raws)
		return err
	})
	return b, left, err
}

// bundle proves entries under a checkpoint that is made for it.
func (d *Desk) bundle(tx *store.Tx, private string, raws [][]byte) (*ledger.Bundle, error) {
	signed, err := tx.Checkpoint(private, "evidence", d.o.Now())
	if err != nil {
		return nil, err
	}
	keys, err := tx.Keys()
	if err != nil {
		return nil, err
	}
	b, err := ledger.NewBundle(signed, keys.Current(), raws, tx.Hashes())
	if err == nil {
		b.HandOvers = keys.HandOvers()
	}
	return b, err
}
