package desk

import (
	"context"
	"encoding/hex"
	"fmt"

	"golang.org/x/mod/sumdb/tlog"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/store"
)

// Covered is the way from an entry of the log to the first signed head that covers it (RFC 6962, section
// 2.1.1).
type Covered struct {
	Head   KeptCheckpoint
	Hashes []string // of the neighbours, from the entry up, hexadecimal
}

// CoveredBy shows the way from an entry to the first signed head that covers it, and checks that it leads
// there; nil where no head covers it yet.
func (d *Desk) CoveredBy(ctx context.Context, who *Who, entry int64) (c *Covered, err error) {
	err = d.look(ctx, who, people.SeeRecords, func(tx *store.Tx) error {
		c = nil
		kept, err := tx.Covering(entry + 1)
		if err != nil || kept.Size == 0 {
			return err
		}
		broken := func(seq int64, format string, args ...any) error {
			return &ledger.Broken{Seq: seq, Reason: fmt.Sprintf(format, args...)}
		}
		cp, err := openCheckpoint(tx, kept.Signed)
		if err != nil {
			return broken(-1, "the kept checkpoint of %d entries (%s): %v", kept.Size, kept.Reason, err)
		}
		proof, err := tlog.ProveRecord(cp.Size, entry, tx.Hashes())
		if err != nil {
			return err
		}
		raw, err := tx.Raw(entry)
		if err != nil {
			return err
		}
		if err := tlog.CheckRecord(proof, cp.Size, cp.Root, entry, tlog.RecordHash(raw)); err != nil {
			return broken(entry, "its proof does not lead to the checkpoint: the entry or the proof was changed")
		}
		c = &Covered{Head: KeptCheckpoint{cp.Size, cp.Time, kept.Reason, cp.Short().String(), kept.Signed}}
		for _, h := range proof {
			c.Hashes = append(c.Hashes, hex.EncodeToString(h[:]))
		}
		return nil
	})
	return c, err
}
