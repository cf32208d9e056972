package storetest

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wreath/internal/store"
)

// words: what people write and what a search sees of it.
func words(t *testing.T, _ Kind) {
	for text, want := range map[string][]string{
		"":                               nil,
		" - ":                            nil,
		"Ring, 750 gold":                 {"ring", "750", "gold"},
		"ring RING Ring":                 {"ring"},
		"Zürich Çelik ÅNGSTRÖM naïve":    {"zurich", "celik", "angstrom", "naive"},
		"Zu\u0308rich":                   {"zurich"},
		"Straße":                         {"straße"},
		"№5 Ⅳ ﬁne 10㎏ Bar™":              {"no5", "iv", "fine", "10kg", "bartm"},
		"Ελλάδα ΌΜΗΡΟΣ":                  {"ελλαδα", "ομηροσ"},
		"İstanbul":                       {"istanbul"},
		"東京 2026-11-02":                  {"東京", "2026", "11", "02"},
		"a\x00b":                         {"a", "b"},
		strings.Repeat("x", 50) + " end": {strings.Repeat("x", 40), "end"},
	} {
		got := store.Words(text)
		if !slices.Equal(got, want) {
			t.Errorf("Words(%q) = %q, want %q", text, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		once := store.Words(rapid.String().Draw(t, "text"))
		if twice := store.Words(strings.Join(once, " ")); !slices.Equal(once, twice) {
			t.Fatalf("%q is taken apart again as %q", once, twice)
		}
	})
}

var vocabulary = []string{
	"coin", "coins", "coinage", "Ring", "rings", "ringlet", "Zürich", "zu", "Çelik", "ÅNGSTRÖM", "naïve", "Straße",
	"Ⅳ", "№5", "ﬁne", "東京", "東", "Ελλάδα", "bar", "barren", "bart", "x", "xy", "750", "7500", "75",
}

// filed is a row with the words that it was filed under.
type filed struct {
	store.Determination
	words []string
}

// file keeps n invented rows, from entry 1 on. Every third is about gold, so that some filters are
// narrow and others are not.
func file(t testing.TB, sh shop, n int, random *rand.Rand) (rows []filed) {
	t.Helper()
	pick := func(list ...string) string { return list[random.IntN(len(list))] }
	for i := range n {
		f := filed{Determination: store.Determination{
			ID: fmt.Sprintf("d-%05d", i), Seq: int64(i + 1), At: start.Add(time.Duration(random.IntN(100_000)) * time.Second),
			Number: fmt.Sprintf("N-%d", i%(n-5)), State: pick("recorded", "signed", "superseded"), Person: pick("Ann (invented)", "Bob (invented)"),
			Station: pick("bench 1", "bench 2", "bench 3"), Item: pick("", fmt.Sprintf("item-%d", i/4)), Description: pick("ring", "coin"),
			Barcode: pick("", "", fmt.Sprintf("B%d", i%50)), Claim: pick("750", "585", ""), Metal: pick("gold", "silver", ""),
			Fineness: float64(random.IntN(1000)), Finding: pick("met", "not met", "undecided", ""), MassG: float64(random.IntN(1e6)) / 1000,
			DensityKgM3: float64(10_000 + random.IntN(100)*100), DensityU: random.Float64(), SafePpt: random.Float64() * 1000, Doubts: int64(random.IntN(3)),
			SupersededBy: pick("", "d-00001"),
		}}
		f.words = []string{"all"}
		for range random.IntN(4) {
			f.words = append(f.words, vocabulary[random.IntN(len(vocabulary))])
		}
		rows = append(rows, f)
	}
	for from := 0; from < n; from += 1000 {
		sh.write(t, func(tx *store.Tx) error {
			for _, f := range rows[from:min(n, from+1000)] {
				if err := tx.PutDetermination(f.Determination, f.words...); err != nil {
					return err
				}
			}
			return nil
		})
	}
	return rows
}

// matches is the search as one would write it without a database.
func (f filed) matches(q store.Query) bool {
	for asked, has := range map[string]string{"number " + q.Number: f.Number, "barcode " + q.Barcode: f.Barcode, "item " + q.Item: f.Item, "person " + q.Person: f.Person, "station " + q.Station: f.Station, "finding " + q.Finding: f.Finding, "state " + q.State: f.State, "metal " + q.Metal: f.Metal} {
		if _, value, _ := strings.Cut(asked, " "); value != "" && value != has {
			return false
		}
	}
	switch {
	case !q.From.IsZero() && f.At.Before(q.From), !q.Until.IsZero() && !f.At.Before(q.Until):
		return false
	case q.DensityLow > 0 && f.DensityKgM3 < q.DensityLow, q.DensityHigh > 0 && f.DensityKgM3 > q.DensityHigh:
		return false
	case q.Before > 0 && f.Seq >= q.Before:
		return false
	}
	under := store.Words(strings.Join(f.words, " "))
	for _, w := range store.Words(q.Text) {
		if !slices.ContainsFunc(under, func(u string) bool { return u == w || len([]rune(w)) >= 2 && strings.HasPrefix(u, w) }) {
			return false
		}
	}
	return true
}

// search looks through the rows from the newest to the oldest.
func search(rows []filed, q store.Query) []store.Determination {
	limit := q.Limit
	if limit <= 0 {
		limit = 50
	}
	var out []store.Determination
	for _, f := range slices.Backward(rows) {
		if f.matches(q) && len(out) < min(limit, 1000) {
			out = append(out, f.Determination)
		}
	}
	return out
}

// queries draws any question, mostly about what is there.
func queries(rows []filed) *rapid.Generator[store.Query] {
	return rapid.Custom(func(t *rapid.T) store.Query {
		var q store.Query
		f := rows[rapid.IntRange(0, len(rows)-1).Draw(t, "row")]
		now := func(name string, oneIn int) bool { return rapid.IntRange(1, oneIn).Draw(t, name) == 1 }
		if now("text", 2) {
			var parts []string
			for range rapid.IntRange(1, 3).Draw(t, "words") {
				w := rapid.SampledFrom(append(slices.Clone(f.words), vocabulary...)).Draw(t, "word")
				r := []rune(w)
				w = string(r[:rapid.IntRange(1, len(r)).Draw(t, "cut")])
				if rapid.Bool().Draw(t, "upper") {
					w = strings.ToUpper(w)
				}
				parts = append(parts, w)
			}
			q.Text = strings.Join(parts, rapid.SampledFrom([]string{" ", ", ", "  - "}).Draw(t, "gap"))
		}
		for _, field := range []struct {
			into  *string
			value string
			oneIn int
		}{
			{&q.Number, f.Number, 12}, {&q.Barcode, f.Barcode, 8}, {&q.Item, f.Item, 8}, {&q.Person, f.Person, 4},
			{&q.Station, f.Station, 4}, {&q.Finding, f.Finding, 4}, {&q.State, f.State, 4}, {&q.Metal, f.Metal, 4},
		} {
			if now("field", field.oneIn) {
				*field.into = field.value
			}
		}
		if now("from", 4) {
			q.From = f.At.Add(time.Duration(rapid.IntRange(-5000, 0).Draw(t, "earlier")) * time.Second)
		}
		if now("until", 4) {
			q.Until = f.At.Add(time.Duration(rapid.IntRange(0, 50000).Draw(t, "later")) * time.Second)
		}
		if now("low", 4) {
			q.DensityLow = f.DensityKgM3 - float64(rapid.IntRange(0, 5).Draw(t, "below"))*100
		}
		if now("high", 4) {
			q.DensityHigh = f.DensityKgM3 + float64(rapid.IntRange(0, 50).Draw(t, "above"))*100
		}
		if now("before", 4) {
			q.Before = f.Seq + int64(rapid.IntRange(0, 300).Draw(t, "by"))
		}
		q.Limit = rapid.SampledFrom([]int{0, -1, 1, 7, 50, 400, 5000}).Draw(t, "limit")
		return q
	})
}

// find holds random questions against the naive search. A second shop has the same rows.
func find(t *testing.T, k Kind) {
	s := k.New(t).Open(t)
	sh, other := begin(t, s, "demo"), begin(t, s, "other")
	const n = 2300 // more than what counts as narrow
	rows := file(t, sh, n, rand.New(rand.NewPCG(1, 2)))
	file(t, other, 300, rand.New(rand.NewPCG(3, 4)))
	all := queries(rows)
	rapid.Check(t, func(rt *rapid.T) {
		q := all.Draw(rt, "query")
		want := search(rows, q)
		err := s.Read(ctx, "demo", func(tx *store.Tx) error {
			got, err := tx.Find(q)
			if err != nil {
				return err
			}
			if !reflect.DeepEqual(got, want) {
				rt.Fatalf("%+v finds %d rows %v, want %d %v", q, len(got), seqs(got), len(want), seqs(want))
			}
			return nil
		})
		if err != nil {
			rt.Fatal(err)
		}
	})
	sh.read(t, func(tx *store.Tx) error {
		d, err := tx.Determination("d-00007")
		if err != nil || d != rows[7].Determination {
			t.Errorf("d-00007 is %+v, %v", d, err)
		}
		_, err = tx.Determination("d-99999")
		wantError(t, err, store.ErrNotFound, "")
		return nil
	})
	// A record that is superseded later changes its state alone.
	changed := rows[7].Determination
	changed.State, changed.SupersededBy, changed.Number = "superseded", "d-00009", "not this"
	sh.write(t, func(tx *store.Tx) error { return tx.PutDetermination(changed) })
	sh.read(t, func(tx *store.Tx) error {
		d, err := tx.Determination("d-00007")
		if changed.Number = rows[7].Number; err != nil || d != changed {
			t.Errorf("d-00007 is now %+v, %v", d, err)
		}
		return nil
	})
}

func seqs(rows []store.Determination) (out []int64) {
	for _, d := range rows[:min(10, len(rows))] {
		out = append(out, d.Seq)
	}
	return out
}

// findPages goes through all pages, each after the last row of the one before.
func findPages(t *testing.T, k Kind) {
	sh := begin(t, k.New(t).Open(t), "demo")
	rows := file(t, sh, 200, rand.New(rand.NewPCG(5, 6)))
	for _, q := range []store.Query{{}, {Text: "ri"}, {Metal: "gold"}, {Metal: "gold", DensityLow: 12_000}} {
		all := q
		all.Limit = 1000
		want := search(rows, all)
		q.Limit = 7
		var got []store.Determination
		sh.read(t, func(tx *store.Tx) error {
			for {
				page, err := tx.Find(q)
				if err != nil || len(page) == 0 {
					return err
				}
				got = append(got, page...)
				q.Before = page[len(page)-1].Seq
			}
		})
		if len(want) < 20 || !reflect.DeepEqual(got, want) {
			t.Errorf("%+v: %d rows in pages, %d at once", q, len(got), len(want))
		}
	}
}
