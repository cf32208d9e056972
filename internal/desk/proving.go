package desk

import (
	"context"
	"crypto/ed25519"
	"encoding/hex"
	"errors"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/proof"
	"wreath/internal/store"
)

// Prove makes the signed proof of a record, as the text that goes into a QR code. The number is that of
// the record, or of a report; then the proof names the report too. It carries the checkpoint that the
// papers of the record show; where the log was not sealed since the record, it is sealed now.
func (d *Desk) Prove(ctx context.Context, who *Who, number string) (text string, err error) {
	s, key, err := d.statement(ctx, who, number)
	if err != nil {
		return "", err
	}
	message, err := proof.Sign(s, key)
	if err != nil {
		return "", err
	}
	return proof.Text(message), nil
}

// Credential is what Prove says as a W3C Verifiable Credential, a JWT.
func (d *Desk) Credential(ctx context.Context, who *Who, number string) (jwt string, err error) {
	s, key, err := d.statement(ctx, who, number)
	if err != nil {
		return "", err
	}
	return proof.Credential(s, key)
}

// statement gathers what a proof says, and unlocks the key that signs it.
func (d *Desk) statement(ctx context.Context, who *Who, number string) (s proof.Statement, key ed25519.PrivateKey, err error) {
	// Who may not print is told so before a key is unlocked.
	if err := d.look(ctx, who, people.PrintSlip, func(*store.Tx) error { return nil }); err != nil {
		return s, nil, err
	}
	if key, err = d.provingKey(); err != nil {
		return s, nil, err
	}
	covered := true
	gather := func(tx *store.Tx) error {
		s, covered, err = d.gatherProof(tx, number)
		return err
	}
	if err := d.look(ctx, who, people.PrintSlip, gather); err != nil {
		return s, nil, err
	}
	if !covered {
		if _, err := d.seal(ctx, "proof"); err != nil {
			return s, nil, err
		}
		if err := d.look(ctx, who, people.PrintSlip, gather); err != nil {
			return s, nil, err
		}
		if !covered {
			return s, nil, errors.New("the log was sealed and no checkpoint holds the record")
		}
	}
	return s, key, nil
}

// provingKey is the signing key in the form that proofs need.
func (d *Desk) provingKey() (ed25519.PrivateKey, error) {
	private, err := d.sealingKey()
	if err != nil {
		return nil, err
	}
	shop, key, err := proof.ParsePrivate(private)
	if err == nil && shop != d.o.Shop {
		err = errors.New("the signing key at hand is that of another shop")
	}
	return key, err
}

// gatherProof is what the log knows for a proof. Covered is false where no checkpoint holds the record.
func (d *Desk) gatherProof(tx *store.Tx, number string) (s proof.Statement, covered bool, err error) {
	var report reportRow
	if _, err := tx.Get("report", number, &report); ignoreMissing(err) != nil {
		return s, false, err
	}
	name := number
	if report.Number != "" {
		name = report.Record
	}
	st, seq, err := d.standing(tx, name)
	if err != nil {
		return s, false, err
	}
	shown, err := d.recorded(tx, st, seq)
	if err != nil {
		return s, false, err
	}
	if s, err = proof.Of(shown.Record); err != nil {
		return s, false, err
	}
	shop, _, err := get[Shop](tx, shopKind, shopID)
	if err != nil {
		return s, false, err
	}
	kept, err := tx.Covering(st.Seq + 1)
	if err != nil || kept.Size == 0 {
		return s, false, err
	}
	cp, err := openCheckpoint(tx, kept.Signed)
	if err != nil {
		return s, false, &ledger.Broken{Seq: -1, Reason: "the kept checkpoint: " + err.Error()}
	}
	hash, err := hex.DecodeString(shown.Hash)
	if err != nil {
		return s, false, err
	}
	s.Shop, s.ShopName, s.Demo, s.Report = d.o.Shop, shop.Name, shop.Demo, report.Number
	s.Issued, s.Hash, s.Entry = d.o.Now().UTC().Truncate(time.Second), [32]byte(hash), st.Seq
	s.Size, s.Root = cp.Size, cp.Short().Root
	s.SupersededBy, s.Approved = st.SupersededBy, st.Complete
	if s.SupersededBy == "" {
		s.SupersededBy = report.SupersededBy
	}
	return s, true, nil
}

// StatusList makes the signed list of what became of records and reports: what was superseded, by what,
// and what somebody who may sign refused. The log is sealed for it.
func (d *Desk) StatusList(ctx context.Context, who *Who) (text string, err error) {
	if err := d.look(ctx, who, people.ExportEvidence, func(*store.Tx) error { return nil }); err != nil {
		return "", err
	}
	key, err := d.provingKey()
	if err != nil {
		return "", err
	}
	signed, err := d.seal(ctx, "status list")
	if err != nil {
		return "", err
	}
	l := proof.List{Shop: d.o.Shop, Issued: d.o.Now()}
	err = d.look(ctx, who, people.ExportEvidence, func(tx *store.Tx) error {
		cp, err := openCheckpoint(tx, signed)
		if err != nil {
			return err
		}
		l.Size, l.Root = cp.Size, cp.Short().Root
		if l.Rows, err = fallen(tx); err != nil {
			return err
		}
		l.Keys, err = givenUp(tx)
		return err
	})
	if err != nil {
		return "", err
	}
	return proof.SignList(l, key)
}

// fallen lists the records and reports that no longer stand.
func fallen(tx *store.Tx) (rows []proof.Row, err error) {
	records, err := list[standing](tx, "record")
	if err != nil {
		return nil, err
	}
	for _, s := range records {
		if s.SupersededBy != "" {
			rows = append(rows, proof.Row{Number: s.Number, State: proof.Superseded, By: s.SupersededBy})
			continue
		}
		for _, g := range s.Signatures {
			if g.Meaning == people.Declined && !s.Complete {
				rows = append(rows, proof.Row{Number: s.Number, State: proof.Withdrawn})
				break
			}
		}
	}
	reports, err := list[reportRow](tx, "report")
	if err != nil {
		return nil, err
	}
	for _, r := range reports {
		if r.SupersededBy != "" {
			rows = append(rows, proof.Row{Number: r.Number, State: proof.Superseded, By: r.SupersededBy})
		}
	}
	return rows, nil
}

// givenUp lists the keys that could not hand over to the next.
func givenUp(tx *store.Tx) (out []proof.GivenUp, err error) {
	keys, err := tx.Keys()
	if err != nil {
		return nil, err
	}
	at := []time.Time{}
	for e, err := range tx.Of(ledger.KeySubject) {
		if err != nil {
			return nil, err
		}
		if e.Kind == ledger.KeyChanged {
			at = append(at, e.Time)
		}
	}
	for i, c := range keys.Changes {
		if c.HandOver != "" {
			continue
		}
		k, err := proof.ParseKey(keys.All()[i])
		if err != nil {
			return nil, err
		}
		out = append(out, proof.GivenUp{Mark: k.Mark, Since: at[i]})
	}
	return out, nil
}
