package store

import (
	"context"
	"errors"
	"fmt"
	"strings"
)

// tables are copied by Copy, with their columns in the order of their keys. The first table holds
// the heads of the logs.
var tables = []struct{ name, columns, key string }{
	{"shop", "shop, public_key, size, frontier, last_time", "shop"},
	{"entry", "shop, seq, at, kind, subject, person, key, leaf, raw", "seq"},
	{"node", "shop, id, hash", "id"},
	{"checkpoint", "shop, size, reason, signed", "size, reason"},
	{"thing", "shop, kind, id, seq, doc", "kind, id"},
	{"determination", "shop, " + columns, "seq"},
	{"word", "shop, word, seq", "word, seq"},
	{"secret", "shop, kind, id, value", "kind, id"},
	{"attachment", "shop, hash, data", "hash"},
}

// Copy copies all of a shop to another store, where it must not be yet, from one unchanging state
// and in one transaction. The copy is checked: it has the same root and passes Verify.
func Copy(ctx context.Context, from, to *Store, shop string) (Report, error) {
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
			return nil
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

// copyTable reads page after page, since the source may have only one answer open.
func copyTable(source, target *Tx, name, columns, key string) error {
	n := strings.Count(columns, ",") + 1
	marks := make([]string, n)
	for i := range marks {
		marks[i] = fmt.Sprintf("$%d", i+1)
	}
	insert := `insert into ` + name + ` (` + columns + `) values (` + strings.Join(marks, ", ") + `)`
	keys := strings.Split(key, ", ")
	at := make([]int, len(keys)) // where the key stands among the columns
	for i, k := range keys {
		for j, c := range strings.Split(columns, ", ") {
			if c == k {
				at[i] = j
			}
		}
	}
	var last []any
	for {
		query := `select ` + columns + ` from ` + name + ` where shop = $1`
		args := []any{source.shop}
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
		err := source.rows(func(scan func(...any) error) error {
			values, into := make([]any, n), make([]any, n)
			for i := range values {
				into[i] = &values[i]
			}
			err := scan(into...)
			rows = append(rows, values)
			return err
		}, query, args...)
		if err != nil {
			return err
		}
		for _, values := range rows {
			if _, err := target.exec(insert, values...); err != nil {
				return err
			}
		}
		if len(rows) < page || name == "shop" {
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
