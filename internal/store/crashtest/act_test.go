//go:build linux

// Package crashtest holds only tests: what was acknowledged outlives killed processes, lost power,
// full disks, failing disks and broken connections.
//
// The tests are short unless these variables make them longer: WREATH_KILLS (processes killed over
// a SQLite file), WREATH_PG_KILLS (servers and clients killed), WREATH_POWER (times that the power
// goes).
package crashtest

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
	"time"

	"wreath/internal/ledger"
	"wreath/internal/store"
)

const shop = "river-street"

// act is one numbered act of one client. All that it writes follows from these two numbers, but for
// the number that it draws.
type act struct{ client, n int }

func (a act) key() string { return fmt.Sprintf("c%d-%d", a.client, a.n) }

// body is what an act's entry says.
type body struct {
	Client int    `json:"client"`
	N      int    `json:"n"`
	Number int    `json:"number,omitempty"` // drawn from the counter, without gaps
	Fill   string `json:"fill"`
}

// content is what an act writes.
type content struct {
	fill           string
	numbered, sign bool
	attachment     []byte
}

// brief is the first client whose acts fill less than 1 KB; those of others fill up to 20 KB.
const brief = 100

func (a act) content() content {
	random := rand.New(rand.NewPCG(uint64(a.client), uint64(a.n)))
	most := 20_000
	if a.client >= brief {
		most = 1_000
	}
	fill := make([]byte, random.IntN(most)/2)
	for i := range fill {
		fill[i] = byte(random.Uint32())
	}
	c := content{fill: hex.EncodeToString(fill), numbered: random.IntN(10) < 7, sign: random.IntN(6) == 0}
	if random.IntN(8) == 0 {
		c.attachment = []byte("invented picture " + a.key())
	}
	return c
}

// done is what an act has got when it is acknowledged.
type done struct {
	seq    int64
	number int
}

// write does the act, or finds that it was done before.
func (a act) write(ctx context.Context, s *store.Store, private string) (d done, err error) {
	request, err := store.Digest(a.key())
	if err != nil {
		return d, err
	}
	c := a.content()
	err = s.Write(ctx, shop, func(tx *store.Tx) error {
		d = done{}
		before, found, err := tx.Earlier(a.key(), request)
		if err != nil || found {
			d = wasDone(before)
			return err
		}
		if c.numbered {
			if _, err := tx.Get("counter", "number", &d.number); err != nil && !errors.Is(err, store.ErrNotFound) {
				return err
			}
			d.number++
		}
		text, err := json.Marshal(body{a.client, a.n, d.number, c.fill})
		if err != nil {
			return err
		}
		e, err := tx.Append(ledger.Entry{
			Head: ledger.Head{Time: time.Now(), Kind: "demo", Subject: a.key(), Person: "demo-person", Key: a.key(), Request: request},
			Body: text,
		})
		if err != nil {
			return err
		}
		d.seq = e.Seq
		return a.views(tx, c, d, private)
	})
	return d, err
}

// views writes what goes with the entry.
func (a act) views(tx *store.Tx, c content, d done, private string) error {
	if err := tx.Put("act", a.key(), d.seq, d.number); err != nil {
		return err
	}
	if c.numbered {
		if err := tx.Put("counter", "number", d.seq, d.number); err != nil {
			return err
		}
		row := store.Determination{ID: a.key(), Seq: d.seq, At: time.Now(), Number: number(d.number), State: "recorded", Person: "demo-person"}
		if err := tx.PutDetermination(row, a.key(), "invented ring"); err != nil {
			return err
		}
	}
	if c.attachment != nil {
		if _, err := tx.Attach(c.attachment); err != nil {
			return err
		}
	}
	if c.sign {
		if _, err := tx.Checkpoint(private, "demo", time.Now()); err != nil {
			return err
		}
	}
	return nil
}

func number(n int) string { return fmt.Sprintf("2026-%06d", n) }

// wasDone reads from an entry what its act has got.
func wasDone(e ledger.Entry) done {
	var b body
	if json.Unmarshal(e.Body, &b) != nil {
		return done{-1, -1}
	}
	return done{e.Seq, b.Number}
}

// persist does the act as a client does that doesn't give up: after an error it looks its mark up
// and does the act again when it is not there.
func (a act) persist(ctx context.Context, s *store.Store, private string) (done, error) {
	for {
		d, err := a.write(ctx, s, private)
		for err != nil {
			if ctx.Err() != nil || errors.Is(err, store.ErrConflict) {
				return d, err
			}
			time.Sleep(10 * time.Millisecond)
			var e ledger.Entry
			e, err = s.Lookup(ctx, shop, a.key())
			if errors.Is(err, store.ErrNotFound) {
				break
			}
			d = wasDone(e)
		}
		if err == nil {
			return d, nil
		}
	}
}

// openLog begins the shop's log unless it is there.
func openLog(ctx context.Context, s *store.Store, public string) error {
	there, err := s.Exists(ctx, shop)
	if err != nil || there {
		return err
	}
	return s.Write(ctx, shop, func(tx *store.Tx) error {
		if _, err := tx.PublicKey(); !errors.Is(err, store.ErrNotFound) {
			return err // another process was faster
		}
		return tx.OpenLog(public)
	})
}

// promises is what clients were told.
type promises struct {
	acked map[act]done
	next  map[int]int // the first act of each client that is not acknowledged
}

func newPromises() *promises { return &promises{map[act]done{}, map[int]int{}} }

// ack notes an acknowledgement. The same act must always have got the same.
func (p *promises) ack(a act, d done) error {
	if before, again := p.acked[a]; again && before != d {
		return fmt.Errorf("%s was acknowledged as %+v, and now as %+v", a.key(), before, d)
	}
	p.acked[a] = d
	if a.n >= p.next[a.client] {
		p.next[a.client] = a.n + 1
	}
	return nil
}

// check holds a store against what clients were told: each acknowledged act is there once, whole and
// equal; of the others each client has at most one, and that is whole too; the numbers run without
// gaps and doubles. It gives the number of entries.
func (p *promises) check(t *testing.T, s *store.Store) int64 {
	t.Helper()
	ctx := context.Background()
	there, err := s.Exists(ctx, shop)
	if err != nil {
		t.Fatal(err)
	}
	if !there {
		if len(p.acked) > 0 {
			t.Fatalf("the log is gone, and %d acts were acknowledged", len(p.acked))
		}
		return 0
	}
	report, err := s.Verify(ctx, shop, nil, nil, nil)
	if err != nil {
		t.Fatalf("verify: %v", err)
	}
	if err := s.Read(ctx, shop, p.compare); err != nil {
		t.Fatal(err)
	}
	return report.Entries
}

func (p *promises) compare(tx *store.Tx) error {
	seen, numbers := map[act]done{}, 0
	for e, err := range tx.Entries(0) {
		if err != nil {
			return err
		}
		a, d, err := whole(tx, e)
		if err != nil {
			return fmt.Errorf("entry %d, %s: %w", e.Seq, e.Key, err)
		}
		if _, twice := seen[a]; twice {
			return fmt.Errorf("%s is there twice", e.Key)
		}
		if a.n > p.next[a.client] {
			return fmt.Errorf("%s is there, and %d before it was never acknowledged", e.Key, p.next[a.client])
		}
		if d.number != 0 {
			numbers++
			if d.number != numbers {
				return fmt.Errorf("entry %d has the number %d where %d is next", e.Seq, d.number, numbers)
			}
		}
		seen[a] = d
	}
	for a, d := range p.acked {
		if got, found := seen[a]; !found || got != d {
			return fmt.Errorf("LOST: %s was acknowledged as %+v; the store has %+v (found: %t)", a.key(), d, got, found)
		}
	}
	return countViews(tx, len(seen), numbers)
}

// whole holds an entry and all that was written with it against its act.
func whole(tx *store.Tx, e ledger.Entry) (act, done, error) {
	var b body
	if err := json.Unmarshal(e.Body, &b); err != nil {
		return act{}, done{}, err
	}
	a, d := act{b.Client, b.N}, done{e.Seq, b.Number}
	c := a.content()
	var noted int
	seq, err := tx.Get("act", a.key(), &noted)
	switch {
	case err != nil:
		return a, d, fmt.Errorf("its thing: %w", err)
	case e.Key != a.key() || b.Fill != c.fill || c.numbered != (b.Number > 0):
		return a, d, errors.New("it has another content")
	case seq != e.Seq || noted != b.Number:
		return a, d, errors.New("its thing says something else")
	}
	if c.numbered {
		row, err := tx.Determination(a.key())
		if err != nil || row.Seq != e.Seq || row.Number != number(b.Number) {
			return a, d, fmt.Errorf("its row has the number %q of entry %d: %w", row.Number, row.Seq, err)
		}
	}
	if c.attachment != nil {
		hash := sha256.Sum256(c.attachment)
		if _, err := tx.Attachment(hex.EncodeToString(hash[:])); err != nil {
			return a, d, fmt.Errorf("its attachment: %w", err)
		}
	}
	return a, d, nil
}

// countViews refuses rows that belong to no entry.
func countViews(tx *store.Tx, acts, numbers int) error {
	things, last := 0, ""
	for {
		page, err := tx.List("act", last, 1000)
		if err != nil {
			return err
		}
		things += len(page)
		if len(page) < 1000 {
			break
		}
		last = page[len(page)-1].ID
	}
	rows, before := 0, int64(0)
	for {
		page, err := tx.Find(store.Query{Before: before, Limit: 1000})
		if err != nil {
			return err
		}
		rows += len(page)
		if len(page) < 1000 {
			break
		}
		before = page[len(page)-1].Seq
	}
	var counter int
	if _, err := tx.Get("counter", "number", &counter); err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	if things != acts || rows != numbers || counter != numbers {
		return fmt.Errorf("%d things for %d entries; %d rows and a counter at %d for %d numbers", things, acts, rows, counter, numbers)
	}
	return nil
}

// wanted reads how often a test does something, from a variable.
func wanted(t *testing.T, variable string, otherwise int) int {
	t.Helper()
	text := os.Getenv(variable)
	if text == "" {
		return otherwise
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		t.Fatalf("%s=%s is no number", variable, text)
	}
	return n
}
