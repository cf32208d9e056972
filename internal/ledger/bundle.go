package ledger

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"golang.org/x/mod/sumdb/tlog"
)

// BundleFormat is the version of a bundle.
const BundleFormat = 1

// Bundle is evidence for somebody who has neither the log nor this program: entries, each with the
// proof that it is in the log, and the signed checkpoint that the proofs lead to.
type Bundle struct {
	Format     int    `json:"wreath_bundle"`
	Note       string `json:"note"`
	Checkpoint string `json:"checkpoint"` // a signed note
	PublicKey  string `json:"public_key"` // for convenience; compare it with the one that the shop published
	// HandOvers are the notes by which each key of the shop handed over to the next, so that who trusts
	// an older one can follow; see HandOver.
	HandOvers []string   `json:"hand_overs,omitempty"`
	Entries   []Evidence `json:"entries"`
}

// Evidence is one entry with its proof.
type Evidence struct {
	Entry string   `json:"entry"` // the bytes of the entry, as text
	Proof []string `json:"proof"` // hashes from the leaf's neighbour up (RFC 6962, section 2.1.1), base64
}

const bundleNote = "Each entry is a leaf of the tree whose root is in the checkpoint: SHA-256, 0x00 before a leaf, 0x01 before a node (RFC 6962). " +
	"The checkpoint is signed with Ed25519. This is neither a hallmark nor an assay certificate."

// MaxBundle is the largest bundle that is read, in bytes.
const MaxBundle = 1 << 30

// NewBundle gathers entries by their bytes. The reader gives the hashes of a tree of at least the
// checkpoint's size.
func NewBundle(signed, public string, raws [][]byte, hashes tlog.HashReader) (*Bundle, error) {
	cp, err := OpenCheckpoint(signed, public)
	if err != nil {
		return nil, err
	}
	b := &Bundle{Format: BundleFormat, Note: bundleNote, Checkpoint: signed, PublicKey: public}
	for _, raw := range raws {
		e, err := Decode(raw)
		if err != nil {
			return nil, err
		}
		proof, err := tlog.ProveRecord(cp.Size, e.Seq, hashes)
		if err != nil {
			return nil, fmt.Errorf("prove entry %d: %w", e.Seq, err)
		}
		evidence := Evidence{Entry: string(raw), Proof: []string{}}
		for _, h := range proof {
			evidence.Proof = append(evidence.Proof, base64.StdEncoding.EncodeToString(h[:]))
		}
		b.Entries = append(b.Entries, evidence)
	}
	return b, nil
}

// ReadBundle reads a bundle, strictly.
func ReadBundle(data []byte) (*Bundle, error) {
	var b Bundle
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&b); err != nil {
		return nil, fmt.Errorf("no bundle: %w", err)
	}
	if _, err := d.Token(); err != io.EOF {
		return nil, errors.New("no bundle: something stands behind its end")
	}
	if b.Format != BundleFormat {
		return nil, fmt.Errorf("a bundle of layout %d; this program reads layout %d", b.Format, BundleFormat)
	}
	return &b, nil
}

// Verify checks every entry against the checkpoint, and the checkpoint against the public keys that
// the reader trusts; with none it takes the key in the bundle, which proves only that the bundle
// agrees with itself. It gives the checkpoint and the entries.
func (b *Bundle) Verify(trusted ...string) (Checkpoint, []Entry, error) {
	if len(trusted) == 0 {
		trusted = []string{b.PublicKey}
	}
	shop := strings.TrimPrefix(strings.SplitN(b.Checkpoint, "\n", 2)[0], Origin(""))
	cp, err := OpenCheckpoint(b.Checkpoint, Follow(shop, trusted, b.HandOvers)...)
	if err != nil {
		return Checkpoint{}, nil, err
	}
	var entries []Entry
	for i, evidence := range b.Entries {
		raw := []byte(evidence.Entry)
		e, err := Decode(raw)
		if err != nil {
			return cp, entries, &Broken{-1, fmt.Sprintf("entry %d of the bundle: %v", i+1, err)}
		}
		proof, err := hashes(evidence.Proof)
		if err == nil && e.Shop != cp.Shop {
			err = fmt.Errorf("it belongs to shop %q, the checkpoint to %q", e.Shop, cp.Shop)
		}
		if err == nil && (e.Seq < 0 || e.Seq >= cp.Size) {
			err = fmt.Errorf("it lies outside of the checkpoint's %d entries", cp.Size)
		}
		if err == nil && tlog.CheckRecord(proof, cp.Size, cp.Root, e.Seq, LeafHash(raw)) != nil {
			err = fmt.Errorf("its proof does not lead to the checkpoint: the entry or the proof was changed")
		}
		if err != nil {
			return cp, entries, &Broken{e.Seq, err.Error()}
		}
		entries = append(entries, e)
	}
	return cp, entries, nil
}

// Extends checks that the log of the newer checkpoint begins with that of the older one. The proof
// is that of RFC 6962, section 2.1.2.
func Extends(older, newer Checkpoint, proof tlog.TreeProof) error {
	if older.Shop != newer.Shop {
		return &Broken{-1, fmt.Sprintf("the checkpoints belong to two shops, %s and %s", older.Shop, newer.Shop)}
	}
	if older.Size > newer.Size {
		return &Broken{-1, fmt.Sprintf("the newer checkpoint has %d entries, the older one %d", newer.Size, older.Size)}
	}
	if older.Size == 0 {
		return nil
	}
	if err := tlog.CheckTree(proof, newer.Size, newer.Root, older.Size, older.Root); err != nil {
		return &Broken{-1, fmt.Sprintf("the log of %d entries does not begin with the log of %d entries", newer.Size, older.Size)}
	}
	return nil
}
