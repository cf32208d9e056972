package store

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
)

// Put keeps the present state of a thing: a document under its kind and name, with the entry that
// made it so.
func (tx *Tx) Put(kind, id string, seq int64, doc any) error {
	data, err := json.Marshal(doc)
	if err != nil {
		return fmt.Errorf("keep %s %s: %w", kind, id, err)
	}
	_, err = tx.exec(`insert into thing (shop, kind, id, seq, doc) values ($1, $2, $3, $4, $5)
		on conflict (shop, kind, id) do update set seq = excluded.seq, doc = excluded.doc`, tx.shop, kind, id, seq, string(data))
	return err
}

// Get reads a thing and tells the entry that made it so.
func (tx *Tx) Get(kind, id string, doc any) (seq int64, err error) {
	var data string
	if err := tx.row(`select seq, doc from thing where shop = $1 and kind = $2 and id = $3`, []any{tx.shop, kind, id}, &seq, &data); err != nil {
		return 0, err
	}
	return seq, json.Unmarshal([]byte(data), doc)
}

// Remove takes a thing out of the view; its history stays in the log.
func (tx *Tx) Remove(kind, id string) error {
	_, err := tx.exec(`delete from thing where shop = $1 and kind = $2 and id = $3`, tx.shop, kind, id)
	return err
}

// Thing is one row of List.
type Thing struct {
	ID  string
	Seq int64
	Doc json.RawMessage
}

// List reads the things of a kind whose names come after one, in the order of their names.
func (tx *Tx) List(kind, after string, limit int) (out []Thing, err error) {
	err = tx.rows(func(scan func(...any) error) error {
		var t Thing
		var doc string
		if err := scan(&t.ID, &t.Seq, &doc); err != nil {
			return err
		}
		t.Doc = json.RawMessage(doc)
		out = append(out, t)
		return nil
	}, `select id, seq, doc from thing where shop = $1 and kind = $2 and id > $3 order by id limit $4`, tx.shop, kind, after, limit)
	return out, err
}

// Clear empties the views of the shop, before they are computed anew.
func (tx *Tx) Clear() error {
	for _, query := range []string{
		`delete from thing where shop = $1`,
		`delete from determination where shop = $1`,
		`delete from word where shop = $1`,
	} {
		if _, err := tx.exec(query, tx.shop); err != nil {
			return err
		}
	}
	return nil
}

// PutSecret keeps what must not be in the log.
func (tx *Tx) PutSecret(kind, id string, value []byte) error {
	if value == nil {
		value = []byte{} // nothing is not the same as no value
	}
	_, err := tx.exec(`insert into secret (shop, kind, id, value) values ($1, $2, $3, $4)
		on conflict (shop, kind, id) do update set value = excluded.value`, tx.shop, kind, id, value)
	return err
}

// Secret reads it.
func (tx *Tx) Secret(kind, id string) (value []byte, err error) {
	err = tx.row(`select value from secret where shop = $1 and kind = $2 and id = $3`, []any{tx.shop, kind, id}, &value)
	return value, err
}

// DropSecret destroys it. On SQLite the bytes are overwritten; see Store.Scrub.
func (tx *Tx) DropSecret(kind, id string) error {
	_, err := tx.exec(`delete from secret where shop = $1 and kind = $2 and id = $3`, tx.shop, kind, id)
	return err
}

// Secrets lists the names of the secrets of a kind.
func (tx *Tx) Secrets(kind string) (ids []string, err error) {
	err = tx.rows(func(scan func(...any) error) error {
		var id string
		if err := scan(&id); err != nil {
			return err
		}
		ids = append(ids, id)
		return nil
	}, `select id from secret where shop = $1 and kind = $2 order by id`, tx.shop, kind)
	return ids, err
}

// Attach keeps bytes under their SHA-256, which it gives in hex.
func (tx *Tx) Attach(data []byte) (hash string, err error) {
	if data == nil {
		data = []byte{}
	}
	sum := sha256.Sum256(data)
	hash = hex.EncodeToString(sum[:])
	_, err = tx.exec(`insert into attachment (shop, hash, data) values ($1, $2, $3) on conflict (shop, hash) do nothing`, tx.shop, hash, data)
	return hash, err
}

// Attached says whether there are bytes under a hash.
func (tx *Tx) Attached(hash string) (bool, error) {
	var n int64
	err := tx.row(`select count(*) from attachment where shop = $1 and hash = $2`, []any{tx.shop, hash}, &n)
	return n == 1, err
}

// Attachment reads bytes by their hash and holds them against it.
func (tx *Tx) Attachment(hash string) (data []byte, err error) {
	if err := tx.row(`select data from attachment where shop = $1 and hash = $2`, []any{tx.shop, hash}, &data); err != nil {
		return nil, err
	}
	if sum := sha256.Sum256(data); hex.EncodeToString(sum[:]) != hash {
		return nil, errors.New("the attachment " + hash + " was changed")
	}
	return data, nil
}

// ViewsDigest is a hash over all views of the shop, row by row.
func (tx *Tx) ViewsDigest() (string, error) {
	sum := sha256.New()
	for _, t := range tables {
		if !t.view {
			continue
		}
		fmt.Fprintln(sum, t.name)
		err := tx.pages(t.name, t.columns, t.key, func(values []any) error {
			for _, v := range values {
				if b, isBytes := v.([]byte); isBytes {
					v = string(b)
				}
				fmt.Fprintf(sum, "%v\x00", v)
			}
			return nil
		})
		if err != nil {
			return "", err
		}
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}
