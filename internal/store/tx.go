package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"strings"
	"time"
	"unicode/utf8"

	"golang.org/x/mod/sumdb/tlog"

	"wreath/internal/ledger"
)

// Tx is one transaction on the store, on behalf of one shop.
type Tx struct {
	ctx     context.Context
	store   *Store
	tx      *sql.Tx
	shop    string
	writing bool

	prepared map[string]*sql.Stmt // what came before; nil until it comes a second time

	head    head
	grown   bool
	present bool // the shop has a log
}

// head is the edge of a shop's log.
type head struct {
	tree     *ledger.Tree
	lastTime time.Time
}

// Patient lets the transaction wait for as long as other work takes, such as copying a log.
func (tx *Tx) Patient() error {
	if tx.store.dialect.Patient == "" {
		return nil
	}
	_, err := tx.exec(tx.store.dialect.Patient)
	return err
}

// Shop is the shop on whose behalf the transaction runs.
func (tx *Tx) Shop() string { return tx.shop }

// statement prepares a query that comes a second time in this transaction; nil the first time.
func (tx *Tx) statement(query string) (*sql.Stmt, error) {
	stmt, again := tx.prepared[query]
	if stmt != nil || !again {
		if tx.prepared == nil {
			tx.prepared = map[string]*sql.Stmt{}
		}
		tx.prepared[query] = stmt
		return stmt, nil
	}
	stmt, err := tx.tx.PrepareContext(tx.ctx, query)
	tx.prepared[query] = stmt
	return stmt, err
}

func (tx *Tx) exec(query string, args ...any) (int64, error) {
	if !tx.writing {
		return 0, errors.New("nothing is written in a transaction that reads")
	}
	stmt, err := tx.statement(query)
	if err != nil {
		return 0, err
	}
	var result sql.Result
	if stmt == nil {
		result, err = tx.tx.ExecContext(tx.ctx, query, args...)
	} else {
		result, err = stmt.ExecContext(tx.ctx, args...)
	}
	if err != nil {
		return 0, err
	}
	return result.RowsAffected()
}

// query runs a query for one or more rows.
func (tx *Tx) query(query string, args []any) (*sql.Rows, error) {
	stmt, err := tx.statement(query)
	if err != nil {
		return nil, err
	}
	if stmt == nil {
		return tx.tx.QueryContext(tx.ctx, query, args...)
	}
	return stmt.QueryContext(tx.ctx, args...)
}

// row reads one row; ErrNotFound when there is none.
func (tx *Tx) row(query string, args []any, into ...any) error {
	rows, err := tx.query(query, args)
	if err != nil {
		return err
	}
	defer rows.Close()
	if !rows.Next() {
		if err := rows.Err(); err != nil {
			return err
		}
		return ErrNotFound
	}
	if err := rows.Scan(into...); err != nil {
		return err
	}
	return rows.Close()
}

// rows calls each for every row.
func (tx *Tx) rows(each func(scan func(...any) error) error, query string, args ...any) error {
	rows, err := tx.query(query, args)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := each(rows.Scan); err != nil {
			return err
		}
	}
	return rows.Err()
}

// takeHead reads the edge of the log and holds it until the transaction ends.
func (tx *Tx) takeHead() error {
	var size, last int64
	var frontier []byte
	err := tx.row(`select size, frontier, last_time from shop where shop = $1`+tx.store.dialect.Lock, []any{tx.shop}, &size, &frontier, &last)
	if errors.Is(err, ErrNotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	tree, err := ledger.NewTree(size, frontier)
	if err != nil {
		return err
	}
	tx.head, tx.present = head{tree, time.UnixMicro(last).UTC()}, true
	return nil
}

func (tx *Tx) keepHead() error {
	if !tx.grown {
		return nil
	}
	_, err := tx.exec(`update shop set size = $1, frontier = $2, last_time = $3 where shop = $4`,
		tx.head.tree.Size(), tx.head.tree.Frontier(), tx.head.lastTime.UnixMicro(), tx.shop)
	return err
}

// OpenLog begins the log of the shop. The public key is the one that its checkpoints are checked
// with.
func (tx *Tx) OpenLog(public string) error {
	if err := ledger.CheckShop(tx.shop); err != nil {
		return err
	}
	if err := ledger.CheckKey(tx.shop, public); err != nil {
		return err
	}
	if tx.present {
		return fmt.Errorf("the shop %s has a log already", tx.shop)
	}
	if _, err := tx.exec(`insert into shop (shop, public_key, size, frontier, last_time) values ($1, $2, 0, $3, 0)`, tx.shop, public, []byte{}); err != nil {
		return err
	}
	return tx.takeHead()
}

// PublicKey is the key that the shop's next checkpoint is checked with.
func (tx *Tx) PublicKey() (key string, err error) {
	k, err := tx.Keys()
	return k.Current(), err
}

// Keys are the public keys of a shop: the first, and the changes to others, oldest first.
type Keys struct {
	First   string
	Changes []ledger.KeyChange
}

// Current is the key in use.
func (k Keys) Current() string {
	if len(k.Changes) == 0 {
		return k.First
	}
	return k.Changes[len(k.Changes)-1].Public
}

// All are all keys, the oldest first.
func (k Keys) All() []string {
	all := []string{k.First}
	for _, c := range k.Changes {
		all = append(all, c.Public)
	}
	return all
}

// HandOvers are the notes by which one key handed over to the next.
func (k Keys) HandOvers() (notes []string) {
	for _, c := range k.Changes {
		if c.HandOver != "" {
			notes = append(notes, c.HandOver)
		}
	}
	return notes
}

// Keys reads the public keys of the shop.
func (tx *Tx) Keys() (k Keys, err error) {
	err = tx.row(`select public_key from shop where shop = $1`, []any{tx.shop}, &k.First)
	if errors.Is(err, ErrNotFound) {
		return k, fmt.Errorf("%w: no log of a shop %q is in this store", ErrNotFound, tx.shop)
	}
	if err != nil {
		return k, err
	}
	for e, err := range tx.Of(ledger.KeySubject) {
		if err != nil {
			return k, err
		}
		if e.Kind != ledger.KeyChanged {
			continue
		}
		var c ledger.KeyChange
		if err := json.Unmarshal(e.Body, &c); err != nil {
			return k, fmt.Errorf("entry %d: %w", e.Seq, err)
		}
		k.Changes = append(k.Changes, c)
	}
	return k, nil
}

// Size is the number of entries.
func (tx *Tx) Size() (size int64, err error) {
	if tx.writing && tx.present {
		return tx.head.tree.Size(), nil
	}
	err = tx.row(`select size from shop where shop = $1`, []any{tx.shop}, &size)
	return size, err
}

// Append adds an entry to the shop's log. The caller gives time, kind, subject, person, station,
// mark and body; place, shop and the remark on the clock are set here. With a mark, look for it with
// Earlier first.
func (tx *Tx) Append(e ledger.Entry) (ledger.Entry, error) {
	if !tx.writing || !tx.present {
		return ledger.Entry{}, fmt.Errorf("%w: no log of a shop %q is in this store", ErrNotFound, tx.shop)
	}
	for _, text := range []string{e.Kind, e.Subject, e.Person, e.Station, e.Key, e.Request} {
		if !utf8.ValidString(text) || len(text) > 256 || strings.Contains(text, "\x00") {
			return ledger.Entry{}, fmt.Errorf("%.40q can't stand in an entry: give at most 256 bytes of UTF-8 without a zero byte", text)
		}
	}
	e.Format, e.Shop, e.Seq, e.Clock = ledger.Format, tx.shop, tx.head.tree.Size(), ""
	e.Time = e.Time.UTC().Truncate(time.Microsecond)
	if e.Seq > 0 && e.Time.Before(tx.head.lastTime) {
		e.Clock = ledger.SetBack
	}
	raw, err := e.Encode()
	if err != nil {
		return ledger.Entry{}, err
	}
	reach("inside")
	leaf := ledger.LeafHash(raw)
	var key any
	if e.Key != "" {
		key = e.Key
	}
	_, err = tx.exec(`insert into entry (shop, seq, at, kind, subject, person, key, leaf, raw) values ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
		tx.shop, e.Seq, e.Time.UnixMicro(), e.Kind, e.Subject, e.Person, key, leaf[:], raw)
	if err != nil {
		return ledger.Entry{}, err
	}
	for _, n := range tx.head.tree.Add(leaf) {
		if _, err := tx.exec(`insert into node (shop, id, hash) values ($1, $2, $3)`, tx.shop, tlog.StoredHashIndex(n.Level, n.N), n.Hash[:]); err != nil {
			return ledger.Entry{}, err
		}
	}
	tx.head.lastTime, tx.grown = e.Time, true
	reach("after entry")
	return e, nil
}

// Digest is the mark of what was asked, for Earlier and Append.
func Digest(request any) (string, error) {
	data, err := json.Marshal(request)
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:]), nil
}

// Earlier finds the entry that was made under a mark before. ErrConflict when something else was
// asked then.
func (tx *Tx) Earlier(key, request string) (e ledger.Entry, found bool, err error) {
	e, err = tx.ByKey(key)
	switch {
	case errors.Is(err, ErrNotFound):
		return e, false, nil
	case err != nil:
		return e, false, err
	case e.Request != request:
		return e, true, fmt.Errorf("%w: the mark %q belongs to entry %d, %q", ErrConflict, key, e.Seq, e.Kind)
	}
	return e, true, nil
}

// Entry reads one entry.
func (tx *Tx) Entry(seq int64) (ledger.Entry, error) {
	raw, err := tx.Raw(seq)
	if err != nil {
		return ledger.Entry{}, err
	}
	e, err := ledger.Decode(raw)
	if err != nil {
		return e, &ledger.Broken{Seq: seq, Reason: err.Error()}
	}
	return e, nil
}

// Raw reads the bytes of one entry and holds them against their hash.
func (tx *Tx) Raw(seq int64) (raw []byte, err error) {
	var leaf []byte
	err = tx.row(`select raw, leaf from entry where shop = $1 and seq = $2`, []any{tx.shop, seq}, &raw, &leaf)
	if errors.Is(err, ErrNotFound) {
		return nil, fmt.Errorf("%w: the log of %s has no entry %d", ErrNotFound, tx.shop, seq)
	}
	if err == nil && ledger.LeafHash(raw) != hashOf(leaf) {
		err = &ledger.Broken{Seq: seq, Reason: "its bytes don't have the hash that they had"}
	}
	return raw, err
}

// hashOf reads a stored hash; one of the wrong length equals no hash.
func hashOf(b []byte) (h tlog.Hash) {
	if len(b) == len(h) {
		copy(h[:], b)
	}
	return h
}

// ByKey finds an entry by its mark.
func (tx *Tx) ByKey(key string) (ledger.Entry, error) {
	var seq int64
	if err := tx.row(`select seq from entry where shop = $1 and key = $2`, []any{tx.shop, key}, &seq); err != nil {
		return ledger.Entry{}, err
	}
	return tx.Entry(seq)
}

// page is how many rows are read at once.
const page = 1000

// Entries goes through the log from an entry on.
func (tx *Tx) Entries(from int64) iter.Seq2[ledger.Entry, error] {
	return tx.decoded(from, func(next int64) ([]row, error) {
		return tx.raws(`select seq, raw, leaf from entry where shop = $1 and seq >= $2 order by seq limit $3`, tx.shop, next, page)
	})
}

// Of goes through the entries about one subject.
func (tx *Tx) Of(subject string) iter.Seq2[ledger.Entry, error] {
	return tx.decoded(0, func(next int64) ([]row, error) {
		return tx.raws(`select seq, raw, leaf from entry where shop = $1 and subject = $2 and seq >= $3 order by seq limit $4`, tx.shop, subject, next, page)
	})
}

// Between goes through the entries of a span of time, from one moment until before another, in the order of
// the log.
func (tx *Tx) Between(from, until time.Time) iter.Seq2[ledger.Entry, error] {
	return tx.decoded(0, func(next int64) ([]row, error) {
		return tx.raws(`select seq, raw, leaf from entry where shop = $1 and at >= $2 and at < $3 and seq >= $4 order by seq limit $5`, tx.shop, from.UnixMicro(), until.UnixMicro(), next, page)
	})
}

type row struct {
	seq       int64
	raw, leaf []byte
}

func (tx *Tx) raws(query string, args ...any) (out []row, err error) {
	err = tx.rows(func(scan func(...any) error) error {
		var r row
		if err := scan(&r.seq, &r.raw, &r.leaf); err != nil {
			return err
		}
		out = append(out, r)
		return nil
	}, query, args...)
	return out, err
}

// decoded reads page after page, since a connection may have only one answer open.
func (tx *Tx) decoded(from int64, read func(next int64) ([]row, error)) iter.Seq2[ledger.Entry, error] {
	return func(yield func(ledger.Entry, error) bool) {
		for {
			rows, err := read(from)
			if err != nil {
				yield(ledger.Entry{}, err)
				return
			}
			for _, r := range rows {
				e, err := ledger.Decode(r.raw)
				if err == nil && ledger.LeafHash(r.raw) != hashOf(r.leaf) {
					err = errors.New("its bytes don't have the hash that they had")
				}
				if err != nil {
					err = &ledger.Broken{Seq: r.seq, Reason: err.Error()}
				}
				if !yield(e, err) || err != nil {
					return
				}
				from = r.seq + 1
			}
			if len(rows) < page {
				return
			}
		}
	}
}

// Hashes reads the stored hashes of the tree, for proofs.
func (tx *Tx) Hashes() tlog.HashReader {
	return tlog.HashReaderFunc(func(indexes []int64) ([]tlog.Hash, error) {
		out := make([]tlog.Hash, len(indexes))
		for i, index := range indexes {
			var h []byte
			var err error
			if level, n := tlog.SplitStoredHashIndex(index); level == 0 {
				err = tx.row(`select leaf from entry where shop = $1 and seq = $2`, []any{tx.shop, n}, &h)
			} else {
				err = tx.row(`select hash from node where shop = $1 and id = $2`, []any{tx.shop, index}, &h)
			}
			if err != nil {
				return nil, fmt.Errorf("hash %d of the tree: %w", index, err)
			}
			out[i] = hashOf(h)
		}
		return out, nil
	})
}

// Checkpoint signs the present state of the log and keeps the checkpoint. Reason says why it was
// made.
func (tx *Tx) Checkpoint(private, reason string, now time.Time) (string, error) {
	if !tx.writing || !tx.present {
		return "", fmt.Errorf("%w: no log of a shop %q is in this store", ErrNotFound, tx.shop)
	}
	reach("checkpoint")
	tree := tx.head.tree
	var signed string
	err := tx.row(`select signed from checkpoint where shop = $1 and size = $2 and reason = $3`, []any{tx.shop, tree.Size(), reason}, &signed)
	if err == nil || !errors.Is(err, ErrNotFound) {
		return signed, err
	}
	cp := ledger.Checkpoint{Shop: tx.shop, Size: tree.Size(), Root: tree.Root(), Time: now.UTC().Truncate(time.Second)}
	signed, err = cp.Sign(private)
	if err != nil {
		return "", err
	}
	public, err := tx.PublicKey()
	if err != nil {
		return "", err
	}
	if _, err := ledger.OpenCheckpoint(signed, public); err != nil {
		return "", fmt.Errorf("the signing key at hand is not the one that the shop uses now")
	}
	_, err = tx.exec(`insert into checkpoint (shop, size, reason, signed) values ($1, $2, $3, $4)`, tx.shop, cp.Size, reason, signed)
	return signed, err
}

// Kept is a checkpoint in the store.
type Kept struct {
	Size           int64
	Reason, Signed string
}

// Checkpoints lists the checkpoints that cover at least so many entries, smallest first.
func (tx *Tx) Checkpoints(covering int64) (out []Kept, err error) {
	err = tx.rows(func(scan func(...any) error) error {
		var k Kept
		if err := scan(&k.Size, &k.Reason, &k.Signed); err != nil {
			return err
		}
		out = append(out, k)
		return nil
	}, `select size, reason, signed from checkpoint where shop = $1 and size >= $2 order by size, reason`, tx.shop, covering)
	return out, err
}

// Covering is the first checkpoint that is kept of at least so many entries; of size 0 where there is none.
func (tx *Tx) Covering(size int64) (k Kept, err error) {
	err = tx.rows(func(scan func(...any) error) error {
		return scan(&k.Size, &k.Reason, &k.Signed)
	}, `select size, reason, signed from checkpoint where shop = $1 and size >= $2 order by size, reason limit 1`, tx.shop, size)
	return k, err
}
