package store

import (
	"errors"
	"fmt"
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

// narrow is the number of rows up to which a filter is said to be narrow enough to lead the search.
const narrow = 2000

// filter is one condition of a search.
type filter struct {
	// sql is a condition on the row d.
	sql  string
	args []any
	// lead selects the same seqs by an index of its own; "" when there is none.
	lead     string
	leadArgs []any
}

// Find searches the records of the shop. Where a filter is narrow, the rows that it leaves are
// looked through; otherwise the newest records are, in one index, until the page is full.
func (tx *Tx) Find(q Query) ([]Determination, error) {
	if q.Limit <= 0 {
		q.Limit = 50
	}
	filters, err := tx.filters(q)
	if err != nil {
		return nil, err
	}
	leading := -1
	fewest := narrow + 1
	for i, f := range filters {
		if f.lead == "" {
			continue
		}
		var n int
		b := binder{args: []any{tx.shop}}
		query := `select count(*) from (` + b.bind(f.lead, f.leadArgs) + fmt.Sprintf(` limit %d) as few`, narrow+1)
		if err := tx.row(query, b.args, &n); err != nil {
			return nil, err
		}
		if n < fewest {
			leading, fewest = i, n
		}
	}
	b := binder{args: []any{tx.shop}}
	where := `d.shop = $1`
	for i, f := range filters {
		if i != leading {
			where += ` and ` + b.bind(f.sql, f.args)
		}
	}
	if q.Before > 0 {
		where += b.bind(` and d.seq < ?`, []any{q.Before})
	}
	from := `determination as d ` + tx.store.dialect.Sieve
	if leading >= 0 {
		from = `determination as d`
		where += ` and d.seq in (` + b.bind(filters[leading].lead, filters[leading].leadArgs) + `)`
	}
	inner := `select d.seq from ` + from + ` where ` + where + fmt.Sprintf(` order by d.seq desc limit %d`, min(q.Limit, 1000))
	return tx.determinations(`select `+columns+` from determination where shop = $1 and seq in (`+inner+`) order by seq desc`, b.args...)
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
	equal := func(column, value string, indexed bool) {
		if value == "" {
			return
		}
		f := filter{sql: `d.` + column + ` = ?`, args: []any{value}}
		if indexed {
			f.lead, f.leadArgs = `select seq from determination where shop = $1 and `+column+` = ? and `+column+` <> ''`, []any{value}
		}
		out = append(out, f)
	}
	equal("number", q.Number, true)
	equal("barcode", q.Barcode, true)
	equal("item", q.Item, true)
	equal("person", q.Person, false)
	equal("station", q.Station, false)
	equal("finding", q.Finding, false)
	equal("state", q.State, false)
	equal("metal", q.Metal, false)
	span := func(column string, conditions []string, args []any) {
		if len(conditions) == 0 {
			return
		}
		out = append(out, filter{
			sql: `d.` + strings.Join(conditions, ` and d.`), args: args,
			lead: `select seq from determination where shop = $1 and ` + strings.Join(conditions, ` and `), leadArgs: args,
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
	span("density_kg_m3", conditions, args)
	conditions, args = nil, nil
	if !q.From.IsZero() {
		conditions, args = append(conditions, `at >= ?`), append(args, q.From.UnixMicro())
	}
	if !q.Until.IsZero() {
		conditions, args = append(conditions, `at < ?`), append(args, q.Until.UnixMicro())
	}
	span("at", conditions, args)
	for _, w := range Words(q.Text) {
		whole, err := tx.complete(w)
		if err != nil {
			return nil, err
		}
		marks := strings.TrimSuffix(strings.Repeat("?, ", len(whole)), ", ")
		out = append(out, filter{
			sql: `exists (select 1 from word as w where w.shop = $1 and w.word in (` + marks + `) and w.seq = d.seq)`, args: whole,
			lead: `select seq from word where shop = $1 and word in (` + marks + `)`, leadArgs: whole,
		})
	}
	return out, nil
}

// completions bounds how many words a word that is cut short stands for.
const completions = 20

// complete gives a word and those in the store that begin with it.
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
