package storetest

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"unicode/utf8"

	"golang.org/x/mod/sumdb/tlog"

	"wreath/internal/ledger"
	"wreath/internal/store"
)

// cell is one value of a row of the log.
type cell struct {
	table, column string
	keys          []string // the columns that name the row
	at            []any    // and their values
	value         any      // string, []byte or int64
	seq           int64    // the entry that it belongs to; -1 for none
}

// bits is the size of the value.
func (c cell) bits() int {
	switch v := c.value.(type) {
	case string:
		return 8 * len(v)
	case []byte:
		return 8 * len(v)
	}
	return 64
}

// flipped gives the value with one bit turned over.
func (c cell) flipped(bit int) any {
	turn := func(b []byte) []byte {
		b = bytes.Clone(b)
		b[bit/8] ^= 1 << (bit % 8)
		return b
	}
	switch v := c.value.(type) {
	case string:
		return string(turn([]byte(v)))
	case []byte:
		return turn(v)
	case int64:
		return v ^ 1<<bit
	}
	panic("a value of an unknown type")
}

// put writes a value into the row, which another key may name by now.
func (c cell) put(db *sql.DB, now, value any) error {
	query := `update ` + c.table + ` set ` + c.column + ` = $1 where `
	args := []any{value}
	for i, key := range c.keys {
		at := c.at[i]
		if key == c.column {
			at = now
		}
		args = append(args, at)
		query += fmt.Sprintf(`%s = $%d and `, key, len(args))
	}
	result, err := db.ExecContext(ctx, strings.TrimSuffix(query, ` and `), args...)
	if err != nil {
		return err
	}
	if n, err := result.RowsAffected(); err != nil || n != 1 {
		return fmt.Errorf("%d rows of %s changed, %v", n, c.table, err)
	}
	return nil
}

// cells reads all of a log that Verify vouches for. The reason of a checkpoint and the shop under
// which an attachment or a checkpoint is filed are not among it: nothing in the log speaks of them.
func cells(t testing.TB, db *sql.DB) (out []cell) {
	t.Helper()
	for _, table := range []struct {
		name, columns string
		keys          []string
		leave         string
	}{
		{"shop", "shop, public_key, size, frontier, last_time", []string{"shop"}, ""},
		{"entry", "shop, seq, at, kind, subject, person, key, leaf, raw", []string{"shop", "seq"}, ""},
		{"node", "shop, id, hash", []string{"shop", "id"}, ""},
		{"checkpoint", "shop, size, reason, signed", []string{"shop", "size", "reason"}, "shop, reason"},
		{"attachment", "shop, hash, data", []string{"shop", "hash"}, "shop"},
	} {
		columns := strings.Split(table.columns, ", ")
		rows, err := db.QueryContext(ctx, `select `+table.columns+` from `+table.name+` where shop = 'demo'`)
		if err != nil {
			t.Fatal(err)
		}
		for rows.Next() {
			values, into := make([]any, len(columns)), make([]any, len(columns))
			for i := range values {
				into[i] = &values[i]
			}
			if err := rows.Scan(into...); err != nil {
				t.Fatal(err)
			}
			row := map[string]any{}
			for i, column := range columns {
				row[column] = values[i]
			}
			c := cell{table: table.name, keys: table.keys, seq: -1}
			for _, key := range table.keys {
				c.at = append(c.at, row[key])
			}
			if table.name == "entry" {
				c.seq = row["seq"].(int64)
			}
			for i, column := range columns {
				if values[i] != nil && !strings.Contains(table.leave, column) {
					c.column, c.value = column, values[i]
					out = append(out, c)
				}
			}
		}
		if err := errors.Join(rows.Err(), rows.Close()); err != nil {
			t.Fatal(err)
		}
	}
	return out
}

// demoLog is a log with all that Verify looks at. Its number of entries is no power of two.
func demoLog(t testing.TB, s *store.Store) shop {
	t.Helper()
	sh := begin(t, s, "demo")
	for i, n := range []int{3, 8, 13, 21} {
		sh.grow(t, []int{0, 3, 8, 13}[i], n)
		sh.seal(t, "day")
	}
	sh.write(t, func(tx *store.Tx) error {
		d := draft(21)
		d.Key, d.Time = "", start // no mark, and a clock set back
		_, err := tx.Append(d)
		for i := range 3 {
			_, err2 := tx.Attach(bytes.Repeat([]byte{byte(i)}, 200))
			err = errors.Join(err, err2)
		}
		return err
	})
	sh.verify(t)
	return sh
}

// everyBit flips random bits of the log, one at a time, as rot or a clumsy hand does. Verify must
// find each of them and name the entry if it is an entry's.
func everyBit(t *testing.T, k Kind) {
	home := k.New(t)
	sh := demoLog(t, home.Open(t))
	raw := home.Raw(t)
	home.Unlock(t, raw)
	all := cells(t, raw)
	total := 0
	for _, c := range all {
		total += c.bits()
	}
	flips := 10_000
	switch {
	case testing.Short():
		flips = 2000
	case k.Name == "postgres": // Verify is the same, and each change waits for the server
		flips = 4000
	}
	random := rand.New(rand.NewPCG(20261102, 1))
	tried := map[string]int{}
	for done, refused := 0, 0; done < flips; {
		c, bit := all[random.IntN(len(all))], 0
		if done%4 > 0 { // by size; every fourth by columns, so that the small ones have their share
			bit = random.IntN(total)
			for _, c = range all {
				if bit < c.bits() {
					break
				}
				bit -= c.bits()
			}
		} else if c.bits() > 0 {
			bit = random.IntN(c.bits())
		} else {
			continue
		}
		bad := c.flipped(bit)
		if text, isText := bad.(string); isText && k.Name == "postgres" && (!utf8.ValidString(text) || strings.Contains(text, "\x00")) {
			refused++ // no way to write it
			continue
		}
		if err := c.put(raw, c.value, bad); err != nil {
			if refused++; refused > flips {
				t.Fatalf("the database refuses nearly everything; last %s.%s: %v", c.table, c.column, err)
			}
			continue // the name of another row
		}
		trusted := []string{sh.public}
		if done%2 == 0 {
			trusted = nil
		}
		_, err := sh.store.Verify(ctx, "demo", trusted, nil, nil)
		var b *ledger.Broken
		switch where := fmt.Sprintf("%s.%s of %v, bit %d: %v", c.table, c.column, c.at, bit, bad); {
		case err == nil:
			t.Errorf("not found: %s", where)
		case c.table == "shop" && c.column == "shop" && errors.Is(err, store.ErrNotFound): // the log is gone
		case !errors.As(err, &b):
			t.Errorf("not said to be broken: %s: %v", where, err)
		case c.seq >= 0 && b.Seq != c.seq:
			t.Errorf("wrong entry: %s: %v", where, err)
		}
		if err := c.put(raw, bad, c.value); err != nil {
			t.Fatalf("put back %s.%s: %v", c.table, c.column, err)
		}
		tried[c.table+"."+c.column]++
		done++
		if t.Failed() && done > 200 {
			break
		}
	}
	sh.verify(t)
	t.Logf("flipped of %d bits: %v", total, tried)
	if len(tried) != 5+9+3+2+2 {
		t.Errorf("%d columns were tried, want 21", len(tried))
	}
}

// entriesOf reads a log as it stands.
func entriesOf(t testing.TB, sh shop) (out []ledger.Entry) {
	t.Helper()
	sh.read(t, func(tx *store.Tx) error {
		for e, err := range tx.Entries(0) {
			if err != nil {
				return err
			}
			out = append(out, e)
		}
		return nil
	})
	return out
}

// rowsChanged takes rows out, adds and moves them.
func rowsChanged(t *testing.T, k Kind) {
	home := k.New(t)
	s := home.Open(t)
	sh := demoLog(t, s)
	other := begin(t, s, "other")
	other.grow(t, 0, 8)
	other.seal(t, "day")
	raw := home.Raw(t)
	home.Unlock(t, raw)
	logTables := []string{"shop", "entry", "node", "checkpoint", "attachment"}
	for _, table := range logTables {
		exec(t, raw, `create table kept_`+table+` as select * from `+table)
	}
	for _, row := range []struct {
		name       string
		statements []string
		seq        int64
		words      string
	}{
		{"first entry deleted", []string{`delete from entry where seq = 0`}, 0, "missing"},
		{"entry deleted", []string{`delete from entry where seq = 9`}, 9, "missing; entry 10 comes next"},
		{"last entry deleted", []string{`delete from entry where seq = 21`}, -2, ""},
		{"all entries deleted", []string{`delete from entry`}, -2, ""},
		{"entry deleted and the rest renumbered", []string{`delete from entry where seq = 9`, `update entry set seq = -seq where seq > 9`, `update entry set seq = -seq - 1 where seq < 0`}, 9, "entry 10 stands in its place"},
		{"two entries swapped", []string{`update entry set seq = -1 where seq = 4`, `update entry set seq = 4 where seq = 5`, `update entry set seq = 5 where seq = -1`}, 4, "entry 5 stands in its place"},
		{"entry copied to the end", []string{`insert into entry (shop, seq, at, kind, subject, person, key, leaf, raw) select shop, 22, at, kind, subject, person, null, leaf, raw from entry where seq = 3`}, 22, "entry 3 stands in its place"},
		{"entry far beyond the end", []string{`insert into entry (shop, seq, at, kind, subject, person, key, leaf, raw) select shop, 500, at, kind, subject, person, null, leaf, raw from entry where seq = 3`}, 22, "missing; entry 500 comes next"},
		{"entry before the first", []string{`insert into entry (shop, seq, at, kind, subject, person, key, leaf, raw) select shop, -1, at, kind, subject, person, null, leaf, raw from entry where seq = 3`}, -2, "beyond the end"},
		{"entry inserted and the rest renumbered", []string{`update entry set seq = -seq - 1 where seq > 9`, `update entry set seq = -seq where seq < 0`, `insert into entry (shop, seq, at, kind, subject, person, key, leaf, raw) select shop, 10, at, kind, subject, person, null, leaf, raw from entry where seq = 9`}, 10, "entry 9 stands in its place"},
		{"entry of another shop", []string{`delete from entry where shop = 'demo' and seq = 4`, `update entry set shop = 'demo' where shop = 'other' and seq = 4`}, 4, `shop "other"`},
		{"mark forgotten", []string{`update entry set key = null where seq = 9`}, 9, "columns"},
		{"mark invented", []string{`update entry set key = '' where seq = 21`}, 21, "columns"},
		{"node deleted", []string{`delete from node where id = 2`}, 1, "the tree does not follow"},
		{"all nodes deleted", []string{`delete from node`}, 1, "the tree does not follow"},
		{"node beyond the end", []string{`insert into node (shop, id, hash) select shop, 10000, hash from node where id = 2 and shop = 'demo'`}, -2, "beyond the end"},
		{"node that is a leaf", []string{`insert into node (shop, id, hash) select shop, 1, hash from node where id = 2 and shop = 'demo'`}, -2, "follow from no entry"},
		{"two nodes swapped", []string{`update node set id = -1 where id = 2`, `update node set id = 2 where id = 6`, `update node set id = 6 where id = -1`}, -2, "the tree does not follow"},
		{"head cut", []string{`update shop set size = 21 where shop = 'demo'`}, -1, "its head says 21"},
		{"head emptied", []string{`update shop set size = 0, last_time = 0`}, -1, "its head says 0"},
		{"checkpoint under another size", []string{`update checkpoint set size = 14 where size = 13`}, -1, "(day) says 13"},
		{"checkpoint of another shop", []string{`update checkpoint set signed = (select signed from checkpoint where shop = 'other') where shop = 'demo' and size = 8`}, -1, "checkpoint of 8 entries"},
		{"attachment replaced", []string{`update attachment set data = $1`}, -1, "was changed"},
		{"attachment under another name", []string{`update attachment set hash = 'z' where hash = (select max(hash) from attachment)`}, -1, "attachment z was changed"},
	} {
		t.Run(row.name, func(t *testing.T) {
			for _, statement := range row.statements {
				var args []any
				if strings.Contains(statement, `$1`) {
					args = append(args, []byte("x"))
				}
				exec(t, raw, statement, args...)
			}
			_, err := s.Verify(ctx, sh.name, []string{sh.public}, nil, nil)
			wantBroken(t, err, row.seq, row.words)
			for _, table := range logTables {
				exec(t, raw, `delete from `+table)
				exec(t, raw, `insert into `+table+` select * from kept_`+table)
			}
			sh.verify(t)
		})
	}
	t.Run("key of a log without checkpoints", func(t *testing.T) {
		home := k.New(t)
		sh := begin(t, home.Open(t), "demo")
		raw := home.Raw(t)
		home.Unlock(t, raw)
		exec(t, raw, `update shop set public_key = replace(public_key, '+', '-')`)
		_, err := sh.store.Verify(ctx, "demo", nil, nil, nil)
		wantBroken(t, err, -1, "the store's own key")
	})
	t.Run("checkpoint signed by a stranger", func(t *testing.T) {
		home := k.New(t)
		sh := demoLog(t, home.Open(t))
		strange, strangePublic, err := ledger.NewKey("demo")
		if err != nil {
			t.Fatal(err)
		}
		var cp ledger.Checkpoint
		sh.read(t, func(tx *store.Tx) error {
			kept, err := tx.Checkpoints(13)
			if err == nil {
				cp, err = ledger.OpenCheckpoint(kept[0].Signed, sh.public)
			}
			return err
		})
		signed, err := cp.Sign(strange)
		if err != nil {
			t.Fatal(err)
		}
		raw := home.Raw(t)
		home.Unlock(t, raw)
		exec(t, raw, `update checkpoint set signed = $1 where size = 13`, signed)
		_, err = sh.store.Verify(ctx, "demo", nil, nil, nil)
		wantBroken(t, err, -1, "isn't signed with the shop's key")
		// With the key changed too, only who knows the real one sees it.
		exec(t, raw, `update shop set public_key = $1`, strangePublic)
		_, err = sh.store.Verify(ctx, "demo", []string{sh.public}, nil, nil)
		wantBroken(t, err, -1, "none of those that are trusted")
	})
}

// forge writes the rows of a log that is perfectly in order, whatever the entries say.
func forge(t testing.TB, raw *sql.DB, sh shop, entries []ledger.Entry, seals []int64) {
	t.Helper()
	for _, table := range []string{"entry", "node", "checkpoint"} {
		exec(t, raw, `delete from `+table+` where shop = $1`, sh.name)
	}
	var tree ledger.Tree
	seal := func() {
		for _, size := range seals {
			if size != tree.Size() {
				continue
			}
			signed, err := ledger.Checkpoint{Shop: sh.name, Size: size, Root: tree.Root(), Time: start}.Sign(sh.private)
			if err != nil {
				t.Fatal(err)
			}
			exec(t, raw, `insert into checkpoint (shop, size, reason, signed) values ($1, $2, 'day', $3)`, sh.name, size, signed)
		}
	}
	seal()
	var last int64
	for _, e := range entries {
		b, err := e.Encode()
		if err != nil {
			t.Fatal(err)
		}
		leaf := ledger.LeafHash(b)
		var key any
		if e.Key != "" {
			key = e.Key
		}
		last = e.Time.UnixMicro()
		exec(t, raw, `insert into entry (shop, seq, at, kind, subject, person, key, leaf, raw) values ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
			sh.name, e.Seq, last, e.Kind, e.Subject, e.Person, key, leaf[:], b)
		for _, n := range tree.Add(leaf) {
			exec(t, raw, `insert into node (shop, id, hash) values ($1, $2, $3)`, sh.name, tlog.StoredHashIndex(n.Level, n.N), n.Hash[:])
		}
		seal()
	}
	exec(t, raw, `update shop set size = $1, frontier = $2, last_time = $3 where shop = $4`, tree.Size(), tree.Frontier(), last, sh.name)
}

// rolledBack drops the tail in perfect order. Only a checkpoint from outside can tell.
func rolledBack(t *testing.T, k Kind) {
	home := k.New(t)
	sh := demoLog(t, home.Open(t))
	_, outside := sh.seal(t, "day sheet")
	entries := entriesOf(t, sh)
	raw := home.Raw(t)
	home.Unlock(t, raw)
	forge(t, raw, sh, entries[:15], []int64{3, 8, 13})
	if r := sh.verify(t); r.Entries != 15 {
		t.Fatalf("the log rolled back must be in order by itself: %+v", r)
	}
	short := outside.Short()
	for _, e := range []store.Expectation{{Name: "the day sheet", Checkpoint: &outside}, {Name: "the day sheet", Short: &short}} {
		_, err := sh.store.Verify(ctx, "demo", nil, []store.Expectation{e}, nil)
		wantBroken(t, err, -1, "the log ends after 15 entries, but the day sheet was made of 22")
	}
	// Going on from there does not help.
	sh.grow(t, 200, 230)
	_, err := sh.store.Verify(ctx, "demo", nil, []store.Expectation{{Name: "the day sheet", Short: &short}}, nil)
	wantBroken(t, err, -1, "the first 22 entries are not those that the day sheet was made of")
}

// writtenAnew changes one word and signs everything again with the shop's own key.
func writtenAnew(t *testing.T, k Kind) {
	home := k.New(t)
	sh := demoLog(t, home.Open(t))
	_, today := sh.seal(t, "slip")
	slip, err := ledger.ParseShort(today.Short().String()) // as it was printed
	if err != nil {
		t.Fatal(err)
	}
	entries := entriesOf(t, sh)
	entries[5].Body = ledger.Document(`{"mass_g":"5.750","note":"Ünze <demo>"}`)
	raw := home.Raw(t)
	home.Unlock(t, raw)
	forge(t, raw, sh, entries, []int64{3, 8, 13, 21, 22})
	if r := sh.verify(t); r.Entries != 22 || r.Checkpoints != 5 {
		t.Fatalf("the forged log must be in order by itself: %+v", r)
	}
	_, err = sh.store.Verify(ctx, "demo", []string{sh.public}, []store.Expectation{{Name: "an old slip", Short: &slip}}, nil)
	wantBroken(t, err, -1, "the first 22 entries are not those that an old slip was made of")
	other := today
	other.Shop = "other"
	_, err = sh.store.Verify(ctx, "demo", nil, []store.Expectation{{Name: "a slip", Checkpoint: &other}}, nil)
	wantBroken(t, err, -1, "belongs to shop other")
}

// Demo fills a new store with the log of the shop demo, all kinds of rows in it, and gives the
// shop's public key.
func Demo(t testing.TB, s *store.Store) (public string) {
	t.Helper()
	return demoLog(t, s).public
}

// Dump gives every row of the log of a shop and of its attachments, as text.
func Dump(t testing.TB, db *sql.DB, shop string) map[string][]string {
	t.Helper()
	return dump(t, db, shop, "shop", "entry", "node", "attachment")
}

// More adds five entries to the log of the shop demo and gives its state as a slip would.
func More(t testing.TB, s *store.Store, public string) ledger.Short {
	t.Helper()
	sh := shop{name: "demo", public: public, store: s}
	sh.grow(t, 500, 505)
	r := sh.verify(t)
	return ledger.Checkpoint{Shop: sh.name, Size: r.Entries, Root: r.Root}.Short()
}

// WantBroken fails unless the error says that the log is broken at an entry, with these words.
func WantBroken(t testing.TB, err error, seq int64, words string) {
	t.Helper()
	wantBroken(t, err, seq, words)
}
