package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// tables are copied by Copy, with their columns in the order of their keys. The first table holds
// the heads of the logs.
var tables = []struct {
	name, columns, key string
	view               bool // computed from the log
}{
	{"shop", "shop, public_key, size, frontier, last_time", "shop", false},
	{"entry", "shop, seq, at, kind, subject, person, key, leaf, raw", "seq", false},
	{"node", "shop, id, hash", "id", false},
	{"checkpoint", "shop, size, reason, signed", "size, reason", false},
	{"thing", "shop, kind, id, seq, doc", "kind, id", true},
	{"determination", "shop, " + columns, "seq", true},
	{"word", "shop, word, seq", "word, seq", true},
	{"secret", "shop, kind, id, value", "kind, id", false},
	{"attachment", "shop, hash, data", "hash", false},
}

// Copy copies all of a shop to another store, where it must not be yet, from one unchanging state
// and in one transaction. The copy is checked: it has the same root and passes Verify.
func Copy(ctx context.Context, from, to *Store, shop string) (Report, error) {
	return CopyThen(ctx, from, to, shop, nil)
}

// CopyThen is Copy with something more to do in the transaction that copies: either all of it is kept,
// or none.
func CopyThen(ctx context.Context, from, to *Store, shop string, then func(target *Tx) error) (Report, error) {
	reach("copy")
	err := from.Read(ctx, shop, func(source *Tx) error {
		if _, err := source.PublicKey(); err != nil {
			return err
		}
		return to.Write(ctx, shop, func(target *Tx) error {
			if target.present {
				return fmt.Errorf("the shop %s is in that store already; a copy never goes over a log", shop)
			}
			for _, t := range tables {
				if err := copyTable(source, target, t.name, t.columns, t.key); err != nil {
					return fmt.Errorf("copy %s: %w", t.name, err)
				}
				reach("copied " + t.name)
			}
			if then == nil {
				return nil
			}
			if err := target.takeHead(); err != nil {
				return err
			}
			return then(target)
		})
	})
	if err != nil {
		return Report{}, err
	}
	report, err := to.Verify(ctx, shop, nil, nil, nil)
	if err != nil {
		return report, fmt.Errorf("the copy is not in order: %w", err)
	}
	return report, nil
}

// together is how many rows are written by one statement: each statement is a round trip to a server.
const together = 100

func copyTable(source, target *Tx, name, columns, key string) error {
	marks := strings.TrimSuffix(strings.Repeat("?, ", strings.Count(columns, ",")+1), ", ")
	var rows []string
	b := binder{}
	write := func() error {
		if len(rows) == 0 {
			return nil
		}
		_, err := target.exec(`insert into `+name+` (`+columns+`) values `+strings.Join(rows, ", "), b.args...)
		rows, b.args = nil, nil
		return err
	}
	err := source.pages(name, columns, key, func(values []any) error {
		rows = append(rows, b.bind("("+marks+")", values))
		if len(rows) < together {
			return nil
		}
		return write()
	})
	if err != nil {
		return err
	}
	return write()
}

// pages reads all rows of a table of the shop in the order of a key, page after page, since a
// connection may have only one answer open.
func (tx *Tx) pages(name, columns, key string, each func(values []any) error) error {
	keys := strings.Split(key, ", ")
	at := make([]int, len(keys)) // where the key stands among the columns
	for i, k := range keys {
		at[i] = slices.Index(strings.Split(columns, ", "), k)
	}
	n := strings.Count(columns, ",") + 1
	var last []any
	for {
		query := `select ` + columns + ` from ` + name + ` where shop = $1`
		args := []any{tx.shop}
		if last != nil {
			var places []string
			for i := range keys {
				places = append(places, fmt.Sprintf("$%d", i+2))
			}
			query += ` and (` + key + `) > (` + strings.Join(places, ", ") + `)`
			args = append(args, last...)
		}
		query += ` order by ` + key + fmt.Sprintf(` limit %d`, page)
		var rows [][]any
		err := tx.rows(func(scan func(...any) error) error {
			values, into := make([]any, n), make([]any, n)
			for i := range values {
				into[i] = &values[i]
			}
			err := scan(into...)
			for i, v := range values {
				if b, isBytes := v.([]byte); isBytes && b == nil {
					values[i] = []byte{} // no bytes; null is nil without a type
				}
			}
			rows = append(rows, values)
			return err
		}, query, args...)
		if err != nil {
			return err
		}
		for _, values := range rows {
			if err := each(values); err != nil {
				return err
			}
		}
		if len(rows) < page {
			return nil
		}
		last = nil
		for _, i := range at {
			last = append(last, rows[len(rows)-1][i])
		}
	}
}

// Exists says whether the shop has a log in the store.
func (s *Store) Exists(ctx context.Context, shop string) (bool, error) {
	err := s.Read(ctx, shop, func(tx *Tx) error {
		_, err := tx.PublicKey()
		return err
	})
	if errors.Is(err, ErrNotFound) {
		return false, nil
	}
	return err == nil, err
}
