package storetest

import (
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"wreath/internal/ledger"
	"wreath/internal/store"
)

// everything lists all tables with their columns, and the order of their keys.
var everything = map[string]string{
	"shop":       "shop, public_key, size, frontier, last_time",
	"entry":      "shop, seq, at, kind, subject, person, key, leaf, raw",
	"node":       "shop, id, hash",
	"checkpoint": "shop, size, reason, signed",
	"thing":      "shop, kind, id, seq, doc",
	"determination": "shop, seq, id, at, number, state, person, station, item, description, barcode, claim, metal, fineness, finding, mass_g, " +
		"density_kg_m3, density_u, safe_ppt, doubts, superseded_by",
	"word":       "shop, word, seq",
	"secret":     "shop, kind, id, value",
	"attachment": "shop, hash, data",
}

// dump reads every row of these tables of a shop, without names of all of them.
func dump(t testing.TB, db *sql.DB, shop string, tables ...string) map[string][]string {
	t.Helper()
	out := map[string][]string{}
	if len(tables) == 0 {
		tables = slices.Collect(maps.Keys(everything))
	}
	for _, table := range tables {
		columns := everything[table]
		rows, err := db.QueryContext(ctx, `select `+columns+` from `+table+` where shop = $1 order by 1, 2, 3`, shop)
		if err != nil {
			t.Fatal(err)
		}
		names, err := rows.Columns()
		if err != nil {
			t.Fatal(err)
		}
		for rows.Next() {
			values, into := make([]any, len(names)), make([]any, len(names))
			for i := range values {
				into[i] = &values[i]
			}
			if err := rows.Scan(into...); err != nil {
				t.Fatal(err)
			}
			line := ""
			for _, v := range values {
				if b, isBytes := v.([]byte); isBytes {
					line += fmt.Sprintf("%x|", b)
				} else {
					line += fmt.Sprintf("%#v|", v)
				}
			}
			out[table] = append(out[table], line)
		}
		if err := errors.Join(rows.Err(), rows.Close()); err != nil {
			t.Fatal(err)
		}
	}
	return out
}

// digest is that of the views of the shop demo.
func digest(t testing.TB, s *store.Store) (sum string) {
	t.Helper()
	err := s.Read(ctx, "demo", func(tx *store.Tx) (err error) {
		sum, err = tx.ViewsDigest()
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return sum
}

// Move copies a shop from one kind of store to another and back; nothing may change on the way.
func Move(t *testing.T, a, b Kind) {
	first := a.New(t)
	sh := demoLog(t, first.Open(t))
	empty := begin(t, sh.store, "empty")
	file(t, sh, 1500, rand.New(rand.NewPCG(9, 10)))
	sh.grow(t, 300, 1400)
	sh.write(t, func(tx *store.Tx) error {
		for i := range 1100 {
			if err := tx.Put("tray", fmt.Sprintf("t-%d-Ä", i), int64(i), map[string]any{"i": i, "text": "Größe\u0000"}); err != nil {
				return err
			}
		}
		_, err := tx.Attach(nil)
		return errors.Join(err, tx.PutSecret("key", "a", []byte{0, 255}), tx.PutSecret("key", "none", nil))
	})
	want := sh.verify(t)
	views := digest(t, sh.store)
	rows := dump(t, first.Raw(t), "demo")
	for table := range everything {
		if len(rows[table]) == 0 {
			t.Errorf("the shop has no rows of %s; the test tells too little", table)
		}
	}
	from := sh.store
	for i, home := range []Home{b.New(t), a.New(t)} {
		to := home.Open(t)
		for _, name := range []string{"demo", "empty"} {
			report, err := store.Copy(ctx, from, to, name)
			if err != nil {
				t.Fatalf("copy %s, step %d: %v", name, i, err)
			}
			if name == "demo" && !reflect.DeepEqual(report, want) {
				t.Errorf("step %d: %+v, want %+v", i, report, want)
			}
			if _, err := store.Copy(ctx, from, to, name); err == nil {
				t.Error("a copy goes over a log")
			}
		}
		got := dump(t, home.Raw(t), "demo")
		for table := range everything {
			if !reflect.DeepEqual(got[table], rows[table]) {
				t.Errorf("step %d: %s differs: %d rows, want %d", i, table, len(got[table]), len(rows[table]))
			}
		}
		if got := digest(t, to); got != views {
			t.Errorf("step %d: the views have another digest", i)
		}
		// It goes on there.
		moved := shop{"empty", empty.private, empty.public, to}
		moved.grow(t, 10*i, 10*i+5)
		if r := moved.verify(t); r.Entries != int64(5*i+5) {
			t.Errorf("step %d: %+v", i, r)
		}
		from = to
	}
	if _, err := store.Copy(ctx, from, a.New(t).Open(t), "nowhere"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("copied a shop that is not there: %v", err)
	}
	// A source that was tampered with is not passed off as good.
	raw := first.Raw(t)
	first.Unlock(t, raw)
	exec(t, raw, `update entry set person = 'somebody else' where seq = 7`)
	_, err := store.Copy(ctx, sh.store, b.New(t).Open(t), "demo")
	if !errors.Is(err, ledger.ErrBroken) {
		t.Errorf("the copy of a broken log: %v", err)
	}
}
