package desk

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/store"
)

// seal signs a checkpoint of the log as it is.
func (d *Desk) seal(ctx context.Context, reason string) (signed string, err error) {
	private, err := d.privateKey()
	if err != nil {
		return "", err
	}
	err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		signed, err = tx.Checkpoint(private, reason, d.o.Now())
		return err
	})
	return signed, err
}

// openCheckpoint reads a checkpoint of this shop, signed with whichever of its keys.
func openCheckpoint(tx *store.Tx, signed string) (ledger.Checkpoint, error) {
	keys, err := tx.Keys()
	if err != nil {
		return ledger.Checkpoint{}, err
	}
	return ledger.OpenCheckpoint(signed, keys.All()...)
}

// Checkpoint signs a checkpoint that is to leave the house: printed, sent or handed to a branch.
func (d *Desk) Checkpoint(ctx context.Context, who *Who, reason string) (signed string, cp ledger.Checkpoint, err error) {
	if reason == "" {
		reason = "asked for"
	}
	if err := checkTexts(reason); err != nil {
		return "", cp, err
	}
	private, err := d.sealingKey()
	if err != nil {
		return "", cp, err
	}
	err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		if err := who.allow(tx, people.MakeCheckpoint, d.o.Now()); err != nil {
			return err
		}
		if signed, err = tx.Checkpoint(private, reason, d.o.Now()); err != nil {
			return err
		}
		cp, err = openCheckpoint(tx, signed)
		return err
	})
	return signed, cp, err
}

// LastCheckpoint is the newest checkpoint that is kept, to be printed on slips. Without any it is the
// zero one.
func (d *Desk) LastCheckpoint(ctx context.Context, who *Who) (cp ledger.Checkpoint, err error) {
	err = d.look(ctx, who, people.SeeRecords, func(tx *store.Tx) error {
		kept, err := tx.Checkpoints(0)
		if err != nil || len(kept) == 0 {
			return err
		}
		cp, err = openCheckpoint(tx, kept[len(kept)-1].Signed)
		return err
	})
	return cp, err
}

// KeptCheckpoint is a checkpoint that the store keeps.
type KeptCheckpoint struct {
	Entries int64     `json:"entries"`
	Time    time.Time `json:"time"`
	Reason  string    `json:"reason"`
	Short   string    `json:"short" doc:"as printed on paper"`
	Signed  string    `json:"signed" doc:"the signed note"`
}

// Checkpoints lists the checkpoints that are kept, oldest first.
func (d *Desk) Checkpoints(ctx context.Context, who *Who) (out []KeptCheckpoint, err error) {
	err = d.look(ctx, who, people.SeeRecords, func(tx *store.Tx) error {
		out = nil
		kept, err := tx.Checkpoints(0)
		if err != nil {
			return err
		}
		keys, err := tx.Keys()
		if err != nil {
			return err
		}
		for _, k := range kept {
			cp, err := ledger.OpenCheckpoint(k.Signed, keys.All()...)
			if err != nil {
				return &ledger.Broken{Seq: -1, Reason: fmt.Sprintf("the kept checkpoint of %d entries (%s): %v", k.Size, k.Reason, err)}
			}
			out = append(out, KeptCheckpoint{cp.Size, cp.Time, k.Reason, cp.Short().String(), k.Signed})
		}
		return nil
	})
	return out, err
}

// Evidence makes a bundle of everything that happened to some records or other subjects, which can
// be verified without the log.
func (d *Desk) Evidence(ctx context.Context, who *Who, names []string) (b *ledger.Bundle, err error) {
	if len(names) == 0 {
		return nil, bad("Give the number of a record, or the name of an item, station or instrument.", "nothing is named to be shown")
	}
	private, err := d.sealingKey()
	if err != nil {
		return nil, err
	}
	err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
		if err := who.allow(tx, people.ExportEvidence, d.o.Now()); err != nil {
			return err
		}
		seqs := map[int64]bool{}
		var raws [][]byte
		for wanted := slices.Clone(names); len(wanted) > 0; {
			name := wanted[0]
			wanted = wanted[1:]
			if s, _, err := d.standing(tx, name); err == nil {
				name = s.ID
				if s.SupersededBy != "" { // a reader must see that something took its place
					newer, _, err := d.standing(tx, s.SupersededBy)
					if err != nil {
						return err
					}
					wanted = append(wanted, newer.ID)
				}
			}
			found := false
			for e, err := range tx.Of(name) {
				if err != nil {
					return err
				}
				found = true
				// What a house pays is not part of the evidence unless who hands it out may see it.
				if seqs[e.Seq] || e.Kind == "item-valued" && !who.May(people.SeePrices) {
					continue
				}
				seqs[e.Seq] = true
				raw, err := tx.Raw(e.Seq)
				if err != nil {
					return err
				}
				raws = append(raws, raw)
			}
			if !found {
				return missing("Give the number of a record, or the name of an item, station or instrument.", "nothing is known of %q", name)
			}
		}
		b, err = d.bundle(tx, private, raws)
		return err
	})
	return b, err
}

// Export writes the whole log, the bytes of each entry on a line of its own. Personal data are not in
// it.
func (d *Desk) Export(ctx context.Context, who *Who, w io.Writer) (entries int64, err error) {
	err = d.look(ctx, who, people.ReadLedger, func(tx *store.Tx) error {
		size, err := tx.Size()
		for entries = 0; err == nil && entries < size; entries++ {
			var raw []byte
			if raw, err = tx.Raw(entries); err == nil {
				_, err = w.Write(append(raw, '\n'))
			}
		}
		return err
	})
	return entries, err
}

// branch is a checkpoint of another shop, kept as a witness.
type branch struct {
	Shop   string `json:"shop"`
	Size   int64  `json:"size"`
	Signed string `json:"signed"`
	Public string `json:"public_key"`
}

// Witness keeps a checkpoint of another shop, whose public key is known from elsewhere. One that
// contradicts an earlier one of the same size is refused, and is a proof that its log was rewritten.
func (d *Desk) Witness(ctx context.Context, by By, signed, public string) (cp ledger.Checkpoint, err error) {
	cp, err = ledger.OpenCheckpoint(signed, public)
	if err != nil {
		return cp, bad("Take checkpoint and key whole, as the branch sent them; the key from another way than the checkpoint.", "%v", err)
	}
	if cp.Shop == d.o.Shop {
		return cp, bad("Give a branch's checkpoint.", "this is a checkpoint of this shop itself")
	}
	_, err = d.act(ctx, by, people.MakeCheckpoint, []any{signed, public}, func(tx *store.Tx, at time.Time) (draft, error) {
		kept, err := list[branch](tx, "branch")
		if err != nil {
			return draft{}, err
		}
		for _, k := range kept {
			if k.Shop != cp.Shop {
				continue
			}
			if k.Public != public {
				return draft{}, bad("Ask the branch why its key changed.", "the branch %s was known by another key so far", cp.Shop)
			}
			old, err := ledger.OpenCheckpoint(k.Signed, k.Public)
			if err != nil {
				return draft{}, err
			}
			if old.Size == cp.Size && old.Root != cp.Root {
				return draft{}, &ledger.Broken{Seq: -1, Reason: fmt.Sprintf("the branch %s signed two different logs of %d entries: keep both checkpoints, its log was rewritten", cp.Shop, cp.Size)}
			}
		}
		return draft{kind: "branch-checkpoint", subject: "branch " + cp.Shop, body: branch{cp.Shop, cp.Size, signed, public}}, nil
	})
	return cp, err
}

// Witnessed is the newest checkpoint of a branch that is kept here; without any it is the zero one.
func (d *Desk) Witnessed(ctx context.Context, who *Who, shop string) (cp ledger.Checkpoint, err error) {
	err = d.look(ctx, who, people.SeeRecords, func(tx *store.Tx) error {
		cp = ledger.Checkpoint{}
		kept, err := list[branch](tx, "branch")
		if err != nil {
			return err
		}
		for _, k := range kept {
			if k.Shop != shop || k.Size < cp.Size {
				continue
			}
			if cp, err = ledger.OpenCheckpoint(k.Signed, k.Public); err != nil {
				return err
			}
		}
		return nil
	})
	return cp, err
}

// ProveExtends proves that the log as a branch once signed it is the beginning of the log as it signed it
// later. The branch makes the proof; whoever keeps its checkpoints checks it with ledger.Extends.
func (d *Desk) ProveExtends(ctx context.Context, who *Who, older, newer int64) (proof tlog.TreeProof, err error) {
	err = d.look(ctx, who, people.VerifyLedger, func(tx *store.Tx) error {
		size, err := tx.Size()
		if err != nil {
			return err
		}
		if older < 1 || newer < older || newer > size {
			return bad(fmt.Sprintf("The log has %d entries.", size), "there is no log of %d entries that begins with one of %d", newer, older)
		}
		proof, err = tlog.ProveTree(newer, older, tx.Hashes())
		return err
	})
	return proof, err
}

// Verify goes through the whole log; see store.Verify. With a scratch store the views are computed anew
// in it and compared as well.
func (d *Desk) Verify(ctx context.Context, trusted []string, expected []store.Expectation, scratch *store.Store, progress func(done, of int64)) (store.Report, error) {
	report, err := d.o.Store.Verify(ctx, d.o.Shop, trusted, expected, progress)
	if err != nil {
		return report, err
	}
	if err := d.checkPictures(ctx); err != nil {
		return report, err
	}
	if err := d.checkStreams(ctx); err != nil {
		return report, err
	}
	if err := d.checkReports(ctx); err != nil {
		return report, err
	}
	if err := d.checkSealed(ctx); err != nil || scratch == nil {
		return report, err
	}
	return report, d.checkViews(ctx, scratch)
}

// checkPictures looks whether every picture that an item names is there; its hash was held against it
// before.
func (d *Desk) checkPictures(ctx context.Context) error {
	return d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		items, err := list[Item](tx, "item")
		if err != nil {
			return err
		}
		for _, i := range items {
			for _, p := range i.Photos {
				for _, hash := range []string{p.Hash, p.Thumbnail} {
					there, err := tx.Attached(hash)
					if err != nil {
						return err
					}
					if !there {
						return &ledger.Broken{Seq: -1, Reason: fmt.Sprintf("the picture %.16s of the item %s is missing", hash, i.ID)}
					}
				}
			}
		}
		return nil
	})
}

// checkSealed opens all personal data that are kept, looks whether they are those that the log has the
// commitments of, and that nothing is left of what was erased. A log that went on elsewhere took them
// along.
func (d *Desk) checkSealed(ctx context.Context) error {
	return d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		if err := open(tx); errors.As(err, new(*UserError)) {
			return nil
		} else if err != nil {
			return err
		}
		customers, err := list[Customer](tx, "customer")
		if err != nil {
			return err
		}
		for _, c := range customers {
			if err := d.checkCustomer(tx, c); err != nil {
				return &ledger.Broken{Seq: -1, Reason: fmt.Sprintf("the sealed data of customer %s: %v", c.ID, err)}
			}
		}
		return nil
	})
}

func (d *Desk) checkCustomer(tx *store.Tx, c Customer) error {
	if c.Erased != nil {
		_, err := tx.Secret(secretKey, c.ID)
		if err == nil {
			return errors.New("they were erased, but their key is there")
		}
		return ignoreMissing(err)
	}
	versions, custody, err := d.sealed(tx, c.ID)
	if err != nil {
		return err
	}
	for _, v := range versions {
		if _, err := custody.Open(v.Sealed); err != nil {
			return err
		}
	}
	return nil
}

// checkViews holds the views against views computed anew in an empty store.
func (d *Desk) checkViews(ctx context.Context, scratch *store.Store) error {
	return d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		want := ""
		err := scratch.Write(ctx, d.o.Shop, func(anew *store.Tx) error {
			if err := anew.Clear(); err != nil {
				return err
			}
			for e, err := range tx.Entries(0) {
				if err != nil {
					return err
				}
				if err := checkSigned(tx, e); err != nil {
					return err
				}
				if err := view(anew, e); err != nil {
					return err
				}
			}
			var err error
			want, err = anew.ViewsDigest()
			return err
		})
		if err != nil {
			return err
		}
		got, err := tx.ViewsDigest()
		if err != nil {
			return err
		}
		if got != want {
			return &ledger.Broken{Seq: -1, Reason: "the log is whole, but what is shown does not follow from it: compute the views anew with wreath rebuild"}
		}
		return nil
	})
}

// checkSigned holds a signature against the record that it was given for: it covers that record by its
// hash, and no other.
func checkSigned(tx *store.Tx, e ledger.Entry) error {
	if e.Kind != "determination-signed" {
		return nil
	}
	body, err := read[signed](e.Body)
	if err != nil {
		return &ledger.Broken{Seq: e.Seq, Reason: err.Error()}
	}
	raw, err := tx.Raw(body.Entry)
	if err != nil {
		return err
	}
	leaf := ledger.LeafHash(raw)
	of, err := ledger.Decode(raw)
	if err != nil || hex.EncodeToString(leaf[:]) != body.Hash || of.Subject != body.Record || of.Kind != "determination-recorded" {
		return &ledger.Broken{Seq: e.Seq, Reason: fmt.Sprintf("the signature is not of the record in entry %d", body.Entry)}
	}
	return nil
}
