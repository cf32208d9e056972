package store

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// Determination is the row that a search finds: the facts of one record by which people look.
type Determination struct {
	ID           string    `json:"id"`
	Seq          int64     `json:"entry"` // the entry that recorded it
	At           time.Time `json:"at"`
	Number       string    `json:"number"`
	State        string    `json:"state"` // recorded, signed or superseded
	Person       string    `json:"person"`
	Station      string    `json:"station,omitempty"`
	Item         string    `json:"item,omitempty"`
	Description  string    `json:"description,omitempty"`
	Barcode      string    `json:"barcode,omitempty"`
	Claim        string    `json:"claim,omitempty"`
	Metal        string    `json:"metal,omitempty"`
	Fineness     float64   `json:"fineness_ppt,omitempty"` // parts per thousand, as claimed; 0 without
	Finding      string    `json:"finding,omitempty"`      // met, not met, undecided; "" without a claim
	MassG        float64   `json:"true_mass_g"`
	DensityKgM3  float64   `json:"density_kg_m3"`
	DensityU     float64   `json:"U_kg_m3"` // expanded
	SafePpt      float64   `json:"safe_ppt,omitempty"`
	Doubts       int64     `json:"doubts"`
	SupersededBy string    `json:"superseded_by,omitempty"`
}

const columns = `id, seq, at, number, state, person, station, item, description, barcode, claim, metal, fineness, finding, mass_g, density_kg_m3, density_u, safe_ppt, doubts, superseded_by`

// PutDetermination keeps the row of a record. The words are found by Query.Text.
func (tx *Tx) PutDetermination(d Determination, words ...string) error {
	_, err := tx.exec(`insert into determination (shop, `+columns+`) values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21)
		on conflict (shop, seq) do update set state = excluded.state, superseded_by = excluded.superseded_by`,
		tx.shop, d.ID, d.Seq, d.At.UnixMicro(), d.Number, d.State, d.Person, d.Station, d.Item, d.Description, d.Barcode, d.Claim, d.Metal, d.Fineness, d.Finding, d.MassG, d.DensityKgM3, d.DensityU, d.SafePpt, d.Doubts, d.SupersededBy)
	if err != nil {
		return err
	}
	found := Words(strings.Join(words, " "))
	if len(found) == 0 {
		return nil
	}
	// One statement for all words: each costs a round trip to a server.
	b := binder{args: []any{tx.shop}}
	var rows []string
	for _, w := range found {
		rows = append(rows, b.bind(`($1, ?, ?)`, []any{w, d.Seq}))
	}
	_, err = tx.exec(`insert into word (shop, word, seq) values `+strings.Join(rows, ", ")+` on conflict (shop, word, seq) do nothing`, b.args...)
	return err
}

// Determination finds the row of a record by its name.
func (tx *Tx) Determination(id string) (Determination, error) {
	found, err := tx.determinations(`select `+columns+` from determination where shop = $1 and id = $2`, tx.shop, id)
	if err == nil && len(found) == 0 {
		err = ErrNotFound
	}
	if err != nil {
		return Determination{}, err
	}
	return found[0], nil
}

func (tx *Tx) determinations(query string, args ...any) (out []Determination, err error) {
	err = tx.rows(func(scan func(...any) error) error {
		var d Determination
		var at int64
		err := scan(&d.ID, &d.Seq, &at, &d.Number, &d.State, &d.Person, &d.Station, &d.Item, &d.Description, &d.Barcode, &d.Claim, &d.Metal, &d.Fineness, &d.Finding, &d.MassG, &d.DensityKgM3, &d.DensityU, &d.SafePpt, &d.Doubts, &d.SupersededBy)
		d.At = time.UnixMicro(at).UTC()
		out = append(out, d)
		return err
	}, query, args...)
	return out, err
}

// Words takes a text apart as a search does: small letters, no accents, only letters and digits.
func Words(text string) []string {
	var plain strings.Builder
	for _, r := range strings.ToLower(norm.NFKD.String(text)) {
		switch {
		case unicode.Is(unicode.Mn, r):
		case unicode.IsLetter(r) || unicode.IsDigit(r):
			plain.WriteRune(r)
		default:
			plain.WriteByte(' ')
		}
	}
	var out []string
	for _, w := range strings.Fields(plain.String()) {
		if r := []rune(w); len(r) > 40 {
			w = string(r[:40])
		}
		if !slices.Contains(out, w) && len(out) < 64 {
			out = append(out, w)
		}
	}
	return out
}

// Query asks for records; what is left out does not narrow. The newest come first.
type Query struct {
	Text                    string // words of number, barcode, description and claim; each may be cut short after two letters
	Number, Barcode         string
	Item, Person, Station   string
	Finding, State, Metal   string
	From, Until             time.Time // recorded at or after, and before
	DensityLow, DensityHigh float64   // kg/m³; 0 is open
	Before                  int64     // only records older than this entry, to go on after a page; 0 begins
	Limit                   int       // rows of a page; 50 unless set, at most 1000
}

// narrow is the number of rows up to which one filter leads a search alone and the others are looked
// up row by row. Beyond it the lists of several filters are followed side by side.
const narrow = 5_000

// filter is one condition of a search.
type filter struct {
	// sql is the condition on the row d. It is written such that no index can serve it, since the
	// lists say which rows are looked at.
	sql  string
	args []any
	// lists select the same rows by an index: the seqs of all of them together. None when there is no
	// index for it.
	lists    []string
	listArgs [][]any
	// unsorted says that the list doesn't come in the order of seq, so that it is sorted as a whole
	// before its first row is known.
	unsorted bool
	all      bool // the list leaves out nothing
}

// window is the part of the log that is searched: from low on, before high.
type window struct{ low, high int64 }

// Find searches the records of the shop. Each filter with an index is a list of entries; the lists are
// followed from the newest entry on until the page is full, and what they find is held against the
// other filters.
func (tx *Tx) Find(q Query) ([]Determination, error) {
	if q.Limit <= 0 {
		q.Limit = 50
	}
	limit := min(q.Limit, 1000)
	if s := tx.store.dialect.Search; s != "" {
		if _, err := tx.tx.ExecContext(tx.ctx, s); err != nil {
			return nil, err
		}
	}
	w, err := tx.window(q)
	if err != nil {
		return nil, err
	}
	filters, err := tx.filters(q)
	if err != nil {
		return nil, err
	}
	lists, rest, few, err := tx.plan(filters, w)
	if err != nil {
		return nil, err
	}
	if few {
		return tx.sift(lists, rest, w, limit)
	}
	var found []Determination
	part := max(limit, 200)
	for round := 0; ; round++ {
		candidates, err := tx.candidates(lists, w, part)
		if err != nil || len(candidates) == 0 {
			return found, err
		}
		here := window{candidates[len(candidates)-1], w.high}
		var more []Determination
		if len(rest) == 0 {
			more, err = tx.fetch(candidates, limit-len(found))
		} else {
			more, err = tx.sift(lists, rest, here, limit-len(found))
		}
		if err != nil {
			return nil, err
		}
		found = append(found, more...)
		if len(found) == limit || len(candidates) < part {
			return found, nil
		}
		w.high = here.low
		part = min(part*4, 5000)
		if round == 3 { // the conditions rarely hold: follow all lists, at the price of sorting some
			lists, rest = widen(lists, rest)
		}
	}
}

// widen takes the filters with one list out of the conditions, so that their lists are followed too.
func widen(lists, rest []filter) (more, less []filter) {
	for _, f := range rest {
		if len(f.lists) == 1 {
			more = append(more, f)
		} else {
			less = append(less, f)
		}
	}
	if len(more) == 0 || len(lists) == 1 && len(lists[0].lists) > 1 {
		return lists, rest
	}
	if !lists[0].all {
		more = append(more, lists...)
	}
	return more, less
}

// everything is the list of all records.
var everything = filter{lists: []string{`select seq from determination where shop = $1`}, listArgs: [][]any{nil}, all: true}

// plan chooses the filters whose lists are followed; the rest are conditions. Few says that the list
// is so short that it needs no parts.
func (tx *Tx) plan(filters []filter, w window) (lists, rest []filter, few bool, err error) {
	if len(filters) == 1 && len(filters[0].lists) > 0 && !filters[0].unsorted {
		return filters, nil, false, nil
	}
	lead, fewest := -1, narrow+1
	for i, f := range filters {
		if len(f.lists) == 0 {
			continue
		}
		b := binder{args: []any{tx.shop}}
		n := 0
		if err := tx.row(`select count(*) from (`+b.list(f, w)+fmt.Sprintf(` limit %d) as few`, narrow+1), b.args, &n); err != nil {
			return nil, nil, false, err
		}
		if n < fewest {
			lead, fewest = i, n
		}
	}
	if lead >= 0 {
		return filters[lead : lead+1], slices.Concat(filters[:lead], filters[lead+1:]), true, nil
	}
	for _, f := range filters {
		// Lists that are not sorted, or that are several, can't be followed beside others.
		if len(f.lists) == 1 && !f.unsorted {
			lists = append(lists, f)
		} else {
			rest = append(rest, f)
		}
	}
	if len(lists) > 0 {
		lists, frequent, err := tx.rarest(lists, w)
		return lists, append(rest, frequent...), false, err
	}
	for i, f := range rest {
		if len(f.lists) > 1 {
			return []filter{f}, slices.Delete(rest, i, i+1), false, nil
		}
	}
	return []filter{everything}, rest, false, nil
}

// rarest keeps the lists that are worth following: beside a list with one entry in a hundred, one
// with every second entry is but a condition.
func (tx *Tx) rarest(lists []filter, w window) (rare, frequent []filter, err error) {
	if len(lists) == 1 {
		return lists, nil, nil
	}
	const sample, factor = 1000, 3
	lowest := make([]int64, len(lists)) // the entry down to which the newest 1000 of a list reach
	var newest int64
	for i, f := range lists {
		b := binder{args: []any{tx.shop}}
		query := `select min(seq), max(seq) from (` + b.list(f, w) + fmt.Sprintf(` order by seq desc limit %d) as few`, sample)
		var highest int64
		if err := tx.row(query, b.args, &lowest[i], &highest); err != nil {
			return nil, nil, err
		}
		newest = max(newest, highest)
	}
	furthest := newest - slices.Min(lowest)
	for i, f := range lists {
		if (newest-lowest[i])*factor >= furthest {
			rare = append(rare, f)
		} else {
			frequent = append(frequent, f)
		}
	}
	return rare, frequent, nil
}

// candidates gives the newest entries that stand in all of the lists, the newest first.
func (tx *Tx) candidates(lists []filter, w window, limit int) (seqs []int64, err error) {
	b := binder{args: []any{tx.shop}}
	query := b.meet(lists, w, tx.store.dialect) + fmt.Sprintf(` order by seq desc limit %d`, limit)
	err = tx.rows(func(scan func(...any) error) error {
		var seq int64
		err := scan(&seq)
		seqs = append(seqs, seq)
		return err
	}, query, b.args...)
	return seqs, err
}

// fetch reads the first of the rows.
func (tx *Tx) fetch(seqs []int64, limit int) ([]Determination, error) {
	seqs = slices.Compact(seqs) // a record with several of the words stands there several times
	b := binder{args: []any{tx.shop}}
	var marks []string
	for _, seq := range seqs[:min(limit, len(seqs))] {
		marks = append(marks, b.bind(`?`, []any{seq}))
	}
	return tx.determinations(`select `+columns+` from determination where shop = $1 and seq in (`+strings.Join(marks, ", ")+`) order by seq desc`, b.args...)
}

// sift gives the newest rows of the lists that meet the other conditions.
func (tx *Tx) sift(lists, rest []filter, w window, limit int) ([]Determination, error) {
	b := binder{args: []any{tx.shop}}
	query := `select ` + columns + ` from determination as d where d.shop = $1 and d.seq in (` + b.meet(lists, w, tx.store.dialect) + `)`
	for _, f := range rest {
		query += ` and ` + b.bind(f.sql, f.args)
	}
	return tx.determinations(query+fmt.Sprintf(` order by d.seq desc limit %d`, limit), b.args...)
}

// meet selects the entries in all of the lists.
func (b *binder) meet(lists []filter, w window, d Dialect) string {
	if d.Merges {
		var parts []string
		for _, f := range lists {
			parts = append(parts, b.list(f, w))
		}
		return strings.Join(parts, ` intersect `)
	}
	if len(lists) == 1 {
		return b.list(lists[0], w)
	}
	query := `select l0.seq from (` + b.list(lists[0], w) + `) as l0`
	for i, f := range lists[1:] {
		query += fmt.Sprintf(` join (%s) as l%d on l%d.seq = l0.seq`, b.list(f, w), i+1, i+1)
	}
	return query
}

// list selects the entries of a filter within a window.
func (b *binder) list(f filter, w window) string {
	var parts []string
	for i, l := range f.lists {
		within := ` and seq >= ? and seq < ?`
		if f.unsorted {
			within = ` and +seq >= ? and +seq < ?`
		}
		parts = append(parts, b.bind(l, f.listArgs[i])+b.bind(within, []any{w.low, w.high}))
	}
	return strings.Join(parts, ` union all `)
}

// zone is so many entries, of which an index knows the times. See the index determination_at.
const zone = 4096

// window finds the part of the log in which the records of a span of time must lie. Clocks are set
// back now and then, so the order of the log is not that of time; but most parts of it lie outside.
func (tx *Tx) window(q Query) (window, error) {
	w := window{0, math.MaxInt64}
	if q.Before > 0 {
		w.high = q.Before
	}
	if q.From.IsZero() && q.Until.IsZero() {
		return w, nil
	}
	var last int64
	err := tx.row(`select seq from determination where shop = $1 order by seq desc limit 1`, []any{tx.shop}, &last)
	if errors.Is(err, ErrNotFound) {
		return w, nil
	}
	if err != nil {
		return w, err
	}
	last /= zone
	var n int64
	within := fmt.Sprintf(`exists (select 1 from determination where shop = $1 and seq / %d = n and at `, zone)
	if !q.From.IsZero() {
		query := `with recursive z(n) as (select 0 union all select n + 1 from z where n < $2 and not ` + within + ` >= $3)) select max(n) from z`
		if err := tx.row(query, []any{tx.shop, last, q.From.UnixMicro()}, &n); err != nil {
			return w, err
		}
		w.low = n * zone
	}
	if !q.Until.IsZero() {
		query := fmt.Sprintf(`with recursive z(n) as (select %d union all select n - 1 from z where n > 0 and not `, last) + within + ` < $2)) select min(n) from z`
		if err := tx.row(query, []any{tx.shop, q.Until.UnixMicro()}, &n); err != nil {
			return w, err
		}
		w.high = min(w.high, (n+1)*zone)
	}
	return w, nil
}

// binder numbers the arguments of a statement; $1 is the shop.
type binder struct{ args []any }

// bind replaces each ? by the number of its argument.
func (b *binder) bind(sql string, args []any) string {
	var out strings.Builder
	for _, r := range sql {
		if r != '?' {
			out.WriteRune(r)
			continue
		}
		b.args = append(b.args, args[0])
		args = args[1:]
		fmt.Fprintf(&out, "$%d", len(b.args))
	}
	return out.String()
}

func (tx *Tx) filters(q Query) (out []filter, err error) {
	for _, f := range []struct{ column, value string }{
		{"number", q.Number}, {"barcode", q.Barcode}, {"item", q.Item}, {"person", q.Person}, {"station", q.Station},
		{"finding", q.Finding}, {"state", q.State}, {"metal", q.Metal},
	} {
		if f.value == "" {
			continue
		}
		out = append(out, filter{
			sql: `d.` + f.column + ` || '' = ?`, args: []any{f.value},
			lists:    []string{`select seq from determination where shop = $1 and ` + f.column + ` = ? and ` + f.column + ` <> ''`},
			listArgs: [][]any{{f.value}},
		})
	}
	var conditions []string
	var args []any
	if q.DensityLow > 0 {
		conditions, args = append(conditions, `density_kg_m3 >= ?`), append(args, q.DensityLow)
	}
	if q.DensityHigh > 0 {
		conditions, args = append(conditions, `density_kg_m3 <= ?`), append(args, q.DensityHigh)
	}
	if len(conditions) > 0 {
		out = append(out, filter{
			sql: `+d.` + strings.Join(conditions, ` and +d.`), args: args,
			// The plus keeps the database from going through all records in the order of seq instead.
			lists:    []string{`select +seq as seq from determination where shop = $1 and ` + strings.Join(conditions, ` and `)},
			listArgs: [][]any{args}, unsorted: true,
		})
	}
	if !q.From.IsZero() {
		out = append(out, filter{sql: `+d.at >= ?`, args: []any{q.From.UnixMicro()}})
	}
	if !q.Until.IsZero() {
		out = append(out, filter{sql: `+d.at < ?`, args: []any{q.Until.UnixMicro()}})
	}
	for _, w := range Words(q.Text) {
		whole, err := tx.complete(w)
		if err != nil {
			return nil, err
		}
		marks := strings.TrimSuffix(strings.Repeat("?, ", len(whole)), ", ")
		// The offset makes PostgreSQL ask row by row instead of reading all records with a common word.
		f := filter{sql: `exists (select 1 from word as w where w.shop = $1 and w.word in (` + marks + `) and w.seq = d.seq limit 1 offset 0)`, args: whole}
		for _, one := range whole {
			f.lists, f.listArgs = append(f.lists, `select seq from word where shop = $1 and word = ?`), append(f.listArgs, []any{one})
		}
		out = append(out, f)
	}
	return out, nil
}

// completions bounds how many words a word that is cut short stands for.
const completions = 20

// complete gives the words in the store that are a word or begin with it; the word itself when there
// is none.
func (tx *Tx) complete(w string) ([]any, error) {
	out := []any{w}
	if len([]rune(w)) < 2 {
		return out, nil
	}
	last := w
	for range completions {
		err := tx.row(`select word from word where shop = $1 and word > $2 order by word limit 1`, []any{tx.shop, last}, &last)
		if errors.Is(err, ErrNotFound) || err == nil && !strings.HasPrefix(last, w) {
			break
		}
		if err != nil {
			return nil, err
		}
		out = append(out, last)
	}
	return out, nil
}
