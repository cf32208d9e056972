package desk

import (
	"bytes"
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	programs "os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"wreath/internal/determination"
	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/station"
	"wreath/internal/store"
	"wreath/internal/store/pgtest"
	"wreath/internal/store/postgres"
	"wreath/internal/store/sqlite"
)

// A mill makes any number of records that are true in form and size: each is one of a few hundred
// specimens, evaluated in full, with other names, times and words. The same number always gives the
// same record. Everything in it is invented.
type mill struct{ specimens []specimen }

// specimen is the JSON of a record, cut where records differ.
type specimen struct {
	pieces [][]byte
	holes  []int // which of the marks stands behind the piece
	row    store.Determination
}

// The marks stand in a specimen for what differs.
const (
	markID = iota
	markNumber
	markPerson
	markItem
	markBarcode
	markWords
	markTime
)

var marks = []string{"mark-id", "mark-number", "mark-person", "mark-item", "mark-barcode", "mark words", "2001-02-03T04:05:06Z"}

var (
	millKinds  = []string{"band", "chain", "coin", "brooch", "bracelet", "earring", "pendant", "spoon", "bar", "watch case", "signet", "thimble", "medal", "buckle", "cufflink", "locket"}
	millStyles = []string{"plain", "engraved", "hammered", "twisted", "polished", "matt", "worn", "bent", "pierced", "ribbed", "hollow looking", "heavy", "thin", "small", "large", "broken"}
)

// The bench of the mill.
const (
	millBalance = `{"id": "B-%d", "version": 1, "kind": "balance", "capacity_g": 210, "scale_interval_g": 0.0001,
 "repeatability_g": 0.0001, "repeatability_liquid_g": 0.0003, "repeatability_dof": 20,
 "certificates": [{"number": "B-77", "issuer": "Invented Calibration", "date": "2000-03-01", "next_due": "2002-03-01"}],
 "acceptance": {"date": "2000-03-02", "person": "A. Tester", "passed": true}}`
	millStation = `{"id": "S-%d", "version": 1, "arrangement": "hanging", "altitude_m": 40, "balance": {"id": "B-%d", "version": 1},
 "hanger": {"wire_diameter_mm": 0.2, "wires": 1, "vessel_diameter_mm": 70, "surface_u_g": 0}, "liquid": {"kind": "water"}}`
	millStations = 5
	millPeople   = 12
)

func newMill(t testing.TB, specimens int) *mill {
	t.Helper()
	m := &mill{}
	when, err := time.Parse(time.RFC3339, marks[markTime])
	if err != nil {
		t.Fatal(err)
	}
	for n := range specimens {
		rng := rand.New(rand.NewPCG(uint64(n), 1))
		at := 1 + rng.IntN(millStations)
		stand, err := station.DecodeStation(fmt.Appendf(nil, millStation, at, at))
		if err != nil {
			t.Fatal(err)
		}
		balance, err := station.DecodeInstrument(fmt.Appendf(nil, millBalance, at))
		if err != nil {
			t.Fatal(err)
		}
		ref, made := stand.Ref(), record.Act{Time: when, Person: marks[markPerson]}
		sheet, err := record.FromDocument(millDraft(t, rng), record.Sheet{
			ID: marks[markID], Station: &ref, Item: marks[markItem], Barcode: marks[markBarcode], Opened: made,
		}, record.Typed)
		if err != nil {
			t.Fatal(err)
		}
		r, err := record.Make(sheet, record.Making{
			ID: marks[markID], Number: marks[markNumber], Made: made, Station: stand, Instruments: []station.Instrument{*balance},
			Options: determination.Options{Version: "test"},
		})
		if err != nil {
			t.Fatal(err)
		}
		m.specimens = append(m.specimens, cut(t, r))
	}
	return m
}

// millDraft is one invented item with readings that follow from its density.
func millDraft(t testing.TB, rng *rand.Rand) []byte {
	t.Helper()
	kinds := []struct {
		metal, family, colour string
		fineness, density     float64
	}{
		{"gold", "gold-yellow", "yellow", 750, 15450}, {"gold", "gold-yellow", "yellow", 585, 13400}, {"gold", "", "yellow", 333, 11100},
		{"gold", "", "yellow", 916, 17700}, {"silver", "", "white", 925, 10340}, {"silver", "", "white", 800, 10150},
		{"platinum", "", "white", 950, 20600}, {"palladium", "", "white", 950, 11800},
	}
	k := kinds[rng.IntN(len(kinds))]
	density := k.density * (1 + 0.015*rng.NormFloat64())
	if rng.IntN(12) == 0 {
		density = 8000 + 3000*rng.Float64() // not what it is said to be
	}
	mass := 1 + 60*rng.Float64()
	air := mass * (1 - 1.2/density)
	liquid := mass * (1 - 997.9/density)
	shown := func(x float64, noise float64) float64 {
		return float64(int64((x+noise*rng.NormFloat64())*10000)) / 10000
	}
	draft := map[string]any{
		"item":     map[string]any{"description": millStyles[rng.IntN(len(millStyles))] + " " + k.colour + " " + millKinds[rng.IntN(len(millKinds))] + ", " + marks[markWords], "colour": k.colour, "stones": false, "hollow": false},
		"air_g":    []float64{shown(air, 0.0001), shown(air, 0.0001)},
		"liquid_g": []float64{shown(liquid, 0.0003), shown(liquid, 0.0003)},
		"liquid":   map[string]any{"temperature_c": 21.4, "temperature_u_c": 0.1},
		"air":      map[string]any{"temperature_c": 21.8, "pressure_hpa": 1008, "humidity_percent": 45},
	}
	if rng.IntN(10) > 0 {
		claim := map[string]any{"metal": k.metal, "fineness": k.fineness, "made_by": "stamp"}
		if k.family != "" {
			claim["family"] = k.family
		}
		draft["claim"] = claim
	}
	if rng.IntN(4) > 0 { // without this proof nothing is decided
		draft["liquid"].(map[string]any)["proof"] = map[string]any{"air_g": []float64{39.65}, "liquid_g": []float64{34.6655}, "density_kg_m3": 7930, "density_u_kg_m3": 0.4}
	}
	if rng.IntN(4) > 0 {
		draft["closing_air_g"] = []float64{shown(air, 0.0001)}
	}
	data, err := json.Marshal(draft)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// cut makes a specimen of a record.
func cut(t testing.TB, r *record.Record) (s specimen) {
	t.Helper()
	sum, err := r.Summary()
	if err != nil {
		t.Fatal(err)
	}
	s.row = store.Determination{
		State: record.StateRecorded, Station: r.Station.ID, Description: sum.Description, Claim: sum.Claim, Metal: sum.Metal,
		Fineness: or0(sum.FinenessPpt), MassG: sum.TrueMassG, DensityKgM3: sum.DensityKgM3, DensityU: sum.UKgM3, SafePpt: or0(sum.SafePpt), Doubts: int64(sum.Doubts),
	}
	if sum.Finding != "none" {
		s.row.Finding = sum.Finding
	}
	rest, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	for {
		first, which := len(rest), -1
		for i, mark := range marks {
			if at := bytes.Index(rest, []byte(mark)); at >= 0 && at < first {
				first, which = at, i
			}
		}
		s.pieces = append(s.pieces, rest[:first])
		if which < 0 {
			return s
		}
		s.holes = append(s.holes, which)
		rest = rest[first+len(marks[which]):]
	}
}

var millStart = time.Date(2023, 1, 2, 8, 0, 0, 0, time.UTC)

// record gives the n-th record, counted from 1: its row but for the place in the log, and its JSON.
func (m *mill) record(n int64) (row store.Determination, body []byte) {
	rng := rand.New(rand.NewPCG(uint64(n), 2))
	s := m.specimens[rng.IntN(len(m.specimens))]
	row = s.row
	row.At = millStart.Add(time.Duration(n) * 94 * time.Second)
	row.ID = fmt.Sprintf("d-%016x", rng.Uint64())
	row.Number = fmt.Sprintf("D-%06d", n)
	row.Person = fmt.Sprintf("person-%02d", min(rng.IntN(millPeople), rng.IntN(millPeople)))
	if rng.IntN(3) > 0 {
		row.Item, row.Barcode = fmt.Sprintf("i-%016x", rng.Uint64()), fmt.Sprintf("T-%07d", rng.IntN(2_000_000))
	}
	words := fmt.Sprintf("tray %d, initials %s", 1+rng.IntN(40), syllables(rng.IntN(1000)+rng.IntN(9000)*rng.IntN(2)))
	row.Description = strings.Replace(row.Description, marks[markWords], words, 1)
	values := []string{row.ID, row.Number, row.Person, row.Item, row.Barcode, words, row.At.Format(time.RFC3339)}
	body = make([]byte, 0, 16<<10)
	for i, piece := range s.pieces {
		body = append(body, piece...)
		if i < len(s.holes) {
			body = append(body, values[s.holes[i]]...)
		}
	}
	// An item or barcode that there is none of is left out.
	if row.Item == "" {
		body = bytes.Replace(body, []byte(`"item":"","barcode":"",`), nil, 1)
	}
	return row, body
}

// syllables makes a word that can be said; each number has its own.
func syllables(n int) string {
	out := ""
	for range 4 {
		out += string("bdfgklmnrs"[n%10]) + string("aeiou"[n%5])
		n /= 10
	}
	return out
}

// keep appends a record and shows it as showRecord does, without reading it again.
func (m *mill) keep(tx *store.Tx, n int64, row store.Determination, body []byte) error {
	key, request := fmt.Sprintf("key-%016d", n), hex.EncodeToString([]byte(fmt.Sprintf("%032d", n)))
	e, err := tx.Append(ledger.Entry{
		Head: ledger.Head{Time: row.At, Kind: "determination-recorded", Subject: row.ID, Person: row.Person, Station: row.Station + "/1", Key: key, Request: request},
		Body: body,
	})
	if err != nil {
		return err
	}
	row.Seq = e.Seq
	if err := tx.Put("record", row.ID, e.Seq, standing{ID: row.ID, Number: row.Number, Seq: e.Seq, MeasuredBy: []string{row.Person}}); err != nil {
		return err
	}
	if err := tx.Put("counter", "determination", e.Seq, n); err != nil {
		return err
	}
	return tx.PutDetermination(row, row.Number, row.Barcode, row.Description, row.Claim, row.Item)
}

// clerk is the first of the mill's people, signed in.
func clerk(t testing.TB, d *Desk) By {
	t.Helper()
	var p people.Person
	err := d.o.Store.Read(t.Context(), d.o.Shop, func(tx *store.Tx) (err error) {
		p, _, err = get[people.Person](tx, "person", "person-00")
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return By{Who: &Who{person: p, session: people.Session{How: people.ByPassword}}}
}

// staff opens the shop and adds the mill's people and stations, if they are not there.
func (m *mill) staff(t testing.TB, d *Desk) {
	t.Helper()
	if known, err := d.Known(t.Context()); known || err != nil {
		if err != nil {
			t.Fatal(err)
		}
		return
	}
	opening := Opening{Shop: Shop{Name: "Invented Shop", TimeZone: "UTC", Currency: "EUR"}, Person: people.Person{ID: "person-00", Name: "Person 0, invented"}}
	d.o.Now = func() time.Time { return millStart }
	defer func() { d.o.Now = time.Now }()
	if err := d.OpenShop(t.Context(), opening, ""); err != nil {
		t.Fatal(err)
	}
	by := local(t, d)
	for i := 1; i <= millStations; i++ {
		balance, err := station.DecodeInstrument(fmt.Appendf(nil, millBalance, i))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := d.SetInstrument(t.Context(), by, *balance, ""); err != nil {
			t.Fatal(err)
		}
		stand, err := station.DecodeStation(fmt.Appendf(nil, millStation, i, i))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := d.SetStation(t.Context(), by, *stand, ""); err != nil {
			t.Fatal(err)
		}
	}
	if err := d.SetFourEyes(t.Context(), by, people.FourEyes{Format: 1, From: "2001-01-01", Reason: "invented", OnePerson: true}); err != nil {
		t.Fatal(err)
	}
	err := d.o.Store.Write(t.Context(), d.o.Shop, func(tx *store.Tx) error {
		for i := 1; i < millPeople; i++ {
			p := people.Person{Format: 1, ID: fmt.Sprintf("person-%02d", i), Name: fmt.Sprintf("Person %d, invented", i), Roles: people.Roles, Since: millStart, Generation: 1}
			if err := d.enter(tx, millStart, "person-00", draft{kind: "person-added", subject: p.ID, body: p}); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// fill brings the desk's store to so many records.
func (m *mill) fill(t testing.TB, d *Desk, records int64) {
	t.Helper()
	m.staff(t, d)
	ctx := t.Context()
	type made struct {
		n    int64
		row  store.Determination
		body []byte
	}
	const batch = 500
	var next int64
	err := d.o.Store.Read(ctx, d.o.Shop, func(tx *store.Tx) error {
		_, err := tx.Get("counter", "determination", &next)
		return ignoreMissing(err)
	})
	if err != nil {
		t.Fatal(err)
	}
	batches := make(chan []made, 2)
	go func() {
		defer close(batches)
		for n := next + 1; n <= records; {
			var b []made
			for ; n <= records && len(b) < batch; n++ {
				row, body := m.record(n)
				b = append(b, made{n, row, body})
			}
			batches <- b
		}
	}()
	begun := time.Now()
	for b := range batches {
		if err != nil {
			continue
		}
		err = d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
			for _, one := range b {
				if err := m.keep(tx, one.n, one.row, one.body); err != nil {
					return err
				}
			}
			return nil
		})
		if n := b[len(b)-1].n; n%50_000 == 0 {
			t.Logf("%d records, %.0f a second", n, float64(n-next)/time.Since(begun).Seconds())
		}
	}
	if err != nil {
		t.Fatal(err)
	}
}

// TestMillWritesWhatTheDeskWould holds the views that the mill writes against views that are computed
// from its log, and its records against the strict reader.
func TestMillWritesWhatTheDeskWould(t *testing.T) {
	m := newMill(t, 50)
	d := deskAt(t, filepath.Join(t.TempDir(), "shop.wreath"))
	m.fill(t, d, 300)
	digest := func() (sum string) {
		err := d.o.Store.Read(t.Context(), d.o.Shop, func(tx *store.Tx) (err error) { sum, err = tx.ViewsDigest(); return err })
		if err != nil {
			t.Fatal(err)
		}
		return sum
	}
	before := digest()
	if err := d.Rebuild(t.Context()); err != nil {
		t.Fatal(err)
	}
	if after := digest(); after != before {
		t.Error("the views differ from what the log gives")
	}
	if _, err := d.Verify(t.Context(), nil, nil, nil, nil); err != nil {
		t.Error(err)
	}
	by := clerk(t, d)
	for _, n := range []int64{1, 77, 300} {
		row, _ := m.record(n)
		shown, err := d.Show(t.Context(), by.Who, row.Number)
		if err != nil {
			t.Fatal(err)
		}
		if shown.Record.ID != row.ID || shown.Record.Made.Person != row.Person {
			t.Errorf("record %d is %s by %s, want %s by %s", n, shown.Record.ID, shown.Record.Made.Person, row.ID, row.Person)
		}
	}
}

// A question is one kind of search, with other arguments each time.
type question struct {
	name string
	ask  func(m *mill, rng *rand.Rand, records int64) store.Query
}

// questions are what people ask, and what is hard to answer.
var questions = []question{
	{"number", func(m *mill, rng *rand.Rand, n int64) store.Query { return store.Query{Number: m.any(rng, n).Number} }},
	{"barcode", func(m *mill, rng *rand.Rand, n int64) store.Query { return store.Query{Barcode: m.any(rng, n).Barcode} }},
	{"item", func(m *mill, rng *rand.Rand, n int64) store.Query { return store.Query{Item: m.any(rng, n).Item} }},
	{"number typed as words", func(m *mill, rng *rand.Rand, n int64) store.Query { return store.Query{Text: m.any(rng, n).Number} }},
	{"barcode typed as words", func(m *mill, rng *rand.Rand, n int64) store.Query { return store.Query{Text: m.any(rng, n).Barcode} }},
	{"one common word", func(m *mill, rng *rand.Rand, n int64) store.Query { return store.Query{Text: pick(rng, millStyles)} }},
	{"one rare word", func(m *mill, rng *rand.Rand, n int64) store.Query { return store.Query{Text: m.initials(rng, n)} }},
	{"a word cut short", func(m *mill, rng *rand.Rand, n int64) store.Query {
		return store.Query{Text: m.initials(rng, n)[:3+rng.IntN(2)]}
	}},
	{"two common words", func(m *mill, rng *rand.Rand, n int64) store.Query {
		return store.Query{Text: pick(rng, millStyles) + " " + pick(rng, millKinds)}
	}},
	{"a common and a rare word", func(m *mill, rng *rand.Rand, n int64) store.Query {
		return store.Query{Text: pick(rng, millKinds) + " " + m.initials(rng, n)}
	}},
	{"two common words that never meet", func(m *mill, rng *rand.Rand, n int64) store.Query {
		i := rng.IntN(8)
		return store.Query{Text: []string{"band", "chain", "coin", "brooch", "bracelet", "earring", "pendant", "spoon", "bar"}[i] + " " + []string{"medal", "buckle", "locket", "thimble", "signet"}[rng.IntN(5)]}
	}},
	{"two very common words that never meet", func(m *mill, rng *rand.Rand, n int64) store.Query {
		return store.Query{Text: []string{"yellow silver", "yellow white", "gold silver", "gold platinum"}[rng.IntN(4)]}
	}},
	{"person and finding", func(m *mill, rng *rand.Rand, n int64) store.Query {
		return store.Query{Person: m.any(rng, n).Person, Finding: pick(rng, []string{"met", "not met", "undecided"})}
	}},
	{"finding met", func(m *mill, rng *rand.Rand, n int64) store.Query { return store.Query{Finding: "met"} }},
	{"finding not met", func(m *mill, rng *rand.Rand, n int64) store.Query { return store.Query{Finding: "not met"} }},
	{"a state that no record has", func(m *mill, rng *rand.Rand, n int64) store.Query { return store.Query{State: "signed"} }},
	{"metal and a word that contradict", func(m *mill, rng *rand.Rand, n int64) store.Query {
		return store.Query{Metal: "silver", Text: "yellow"}
	}},
	{"narrow density", func(m *mill, rng *rand.Rand, n int64) store.Query {
		x := 10_000 + 10_000*rng.Float64()
		return store.Query{DensityLow: x, DensityHigh: x + 2}
	}},
	{"broad density", func(m *mill, rng *rand.Rand, n int64) store.Query {
		x := 10_000 + 6000*rng.Float64()
		return store.Query{DensityLow: x, DensityHigh: x + 1000}
	}},
	{"density and finding", func(m *mill, rng *rand.Rand, n int64) store.Query {
		x := 10_000 + 10_000*rng.Float64()
		return store.Query{DensityLow: x, DensityHigh: x + 300, Finding: "not met"}
	}},
	{"density and metal that contradict", func(m *mill, rng *rand.Rand, n int64) store.Query {
		return store.Query{DensityLow: 10_000 + 100*rng.Float64(), DensityHigh: 10_600, Metal: "platinum"}
	}},
	{"a day", func(m *mill, rng *rand.Rand, n int64) store.Query {
		at := m.any(rng, n).At
		return store.Query{From: at, Until: at.AddDate(0, 0, 1)}
	}},
	{"a third of all time", func(m *mill, rng *rand.Rand, n int64) store.Query {
		span := time.Duration(n) * 94 * time.Second
		at := millStart.Add(time.Duration(rng.Int64N(int64(span) * 2 / 3)))
		return store.Query{From: at, Until: at.Add(span / 3)}
	}},
	{"three days and a station", func(m *mill, rng *rand.Rand, n int64) store.Query {
		at := m.any(rng, n).At
		return store.Query{From: at, Until: at.AddDate(0, 0, 3), Station: m.any(rng, n).Station}
	}},
	{"a third of all time, finding and person", func(m *mill, rng *rand.Rand, n int64) store.Query {
		span := time.Duration(n) * 94 * time.Second
		at := millStart.Add(time.Duration(rng.Int64N(int64(span) * 2 / 3)))
		return store.Query{From: at, Until: at.Add(span / 3), Finding: "not met", Person: m.any(rng, n).Person}
	}},
	{"newest", func(m *mill, rng *rand.Rand, n int64) store.Query { return store.Query{} }},
	{"a deep page of all", func(m *mill, rng *rand.Rand, n int64) store.Query { return store.Query{Before: 1 + rng.Int64N(n)} }},
	{"a deep page of a word", func(m *mill, rng *rand.Rand, n int64) store.Query {
		return store.Query{Text: pick(rng, millKinds), Before: 1 + rng.Int64N(n)}
	}},
	{"nothing found, one word", func(m *mill, rng *rand.Rand, n int64) store.Query {
		return store.Query{Text: fmt.Sprintf("zzz%d", rng.IntN(1000))}
	}},
	{"nothing found, all filters", func(m *mill, rng *rand.Rand, n int64) store.Query {
		r := m.any(rng, n)
		return store.Query{Text: pick(rng, millKinds) + " " + pick(rng, millStyles), Person: r.Person, Station: r.Station, Finding: "met", Metal: "gold", DensityLow: 20_000, From: millStart}
	}},
}

func pick(rng *rand.Rand, from []string) string { return from[rng.IntN(len(from))] }

// any is one of the first n records.
func (m *mill) any(rng *rand.Rand, n int64) store.Determination {
	row, _ := m.record(1 + rng.Int64N(n))
	return row
}

func (m *mill) initials(rng *rand.Rand, n int64) string {
	words := strings.Fields(m.any(rng, n).Description)
	return words[len(words)-1]
}

// TestSearchFindsWhatAFilterWould asks every question of a store of 10,000 records and holds the
// answers against a filter over all of them.
func TestSearchFindsWhatAFilterWould(t *testing.T) {
	const records = 10_000
	m := newMill(t, 300)
	d := deskAt(t, filepath.Join(t.TempDir(), "shop.wreath"))
	m.staff(t, d)
	first := size(t, d)
	var all []filed
	err := d.o.Store.Write(t.Context(), d.o.Shop, func(tx *store.Tx) error {
		for n := range int64(records) {
			row, _ := m.record(n + 1)
			row.Seq = first + n
			texts := []string{row.Number, row.Barcode, row.Description, row.Claim, row.Item}
			all = append(all, filed{row, store.Words(strings.Join(texts, " "))})
			if err := tx.PutDetermination(row, texts...); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	by := clerk(t, d)
	rng := rand.New(rand.NewPCG(3, 3))
	for _, q := range questions {
		found := 0
		for range 6 {
			ask := q.ask(m, rng, records)
			ask.Limit = []int{0, 7, 1000}[rng.IntN(3)]
			got, err := d.Find(t.Context(), by.Who, ask)
			if err != nil {
				t.Fatalf("%s: %v", q.name, err)
			}
			want := filterRows(all, ask)
			if !slices.Equal(got, want) {
				t.Fatalf("%s: %+v gives %d records, want %d", q.name, ask, len(got), len(want))
			}
			found += len(got)
		}
		if nothing := strings.Contains(q.name, "nothing") || strings.Contains(q.name, "no record") || strings.Contains(q.name, "contradict") || strings.Contains(q.name, "never meet"); nothing != (found == 0) {
			t.Errorf("%s found %d records", q.name, found)
		}
	}
}

// filed is a row and the words under which it is found.
type filed struct {
	store.Determination
	words []string
}

// filterRows answers a question without any index.
func filterRows(all []filed, q store.Query) (out []store.Determination) {
	is := func(asked, has string) bool { return asked == "" || asked == has }
	limit := q.Limit
	if limit == 0 {
		limit = 50
	}
	var asked [][]string // each word with those that it may stand for
	for _, w := range store.Words(q.Text) {
		known := map[string]bool{}
		for _, f := range all {
			for _, has := range f.words {
				if has != w && strings.HasPrefix(has, w) {
					known[has] = true
				}
			}
		}
		longer := slices.Sorted(maps.Keys(known))
		asked = append(asked, append(longer[:min(20, len(longer))], w))
	}
	for _, f := range slices.Backward(all) {
		switch {
		case !is(q.Number, f.Number), !is(q.Barcode, f.Barcode), !is(q.Item, f.Item), !is(q.Person, f.Person), !is(q.Station, f.Station),
			!is(q.Finding, f.Finding), !is(q.State, f.State), !is(q.Metal, f.Metal),
			f.DensityKgM3 < q.DensityLow, q.DensityHigh > 0 && f.DensityKgM3 > q.DensityHigh,
			f.At.Before(q.From), !q.Until.IsZero() && !f.At.Before(q.Until), q.Before > 0 && f.Seq >= q.Before:
			continue
		}
		meets := true
		for _, any := range asked {
			meets = meets && slices.ContainsFunc(any, func(w string) bool { return slices.Contains(f.words, w) })
		}
		if meets && len(out) < limit {
			out = append(out, f.Determination)
		}
	}
	return out
}

func size(t testing.TB, d *Desk) (n int64) {
	t.Helper()
	err := d.o.Store.Read(t.Context(), d.o.Shop, func(tx *store.Tx) (err error) { n, err = tx.Size(); return err })
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// BenchmarkScale measures the desk over a store of WREATH_SCALE records, 10,000 unless set. The store
// is kept in the folder WREATH_SCALE_DIR for the next run when that is set; with WREATH_SCALE_POSTGRES,
// the address of a database, it stands there.
func BenchmarkScale(b *testing.B) {
	records := int64(10_000)
	if text := os.Getenv("WREATH_SCALE"); text != "" {
		var err error
		if records, err = strconv.ParseInt(text, 10, 64); err != nil {
			b.Fatal(err)
		}
	}
	folder := os.Getenv("WREATH_SCALE_DIR")
	if folder == "" {
		folder = b.TempDir()
	}
	m := newMill(b, 2000)
	d := scaleDesk(b, folder, records)
	m.fill(b, d, records)
	by := clerk(b, d)
	ctx := b.Context()
	rng := rand.New(rand.NewPCG(4, 4))
	b.Run("find", func(b *testing.B) {
		for _, q := range questions {
			b.Run(q.name, func(b *testing.B) {
				timed(b, func(i int) error {
					_, err := d.Find(ctx, by.Who, q.ask(m, rng, records))
					return err
				})
			})
		}
	})
	b.Run("open", func(b *testing.B) {
		for b.Loop() {
			s, err := openScale(b, folder, records)
			if err != nil {
				b.Fatal(err)
			}
			s.Close()
		}
	})
	b.Run("show", func(b *testing.B) {
		timed(b, func(i int) error { _, err := d.Show(ctx, by.Who, m.any(rng, records).ID); return err })
	})
	b.Run("history", func(b *testing.B) {
		timed(b, func(i int) error { _, err := d.History(ctx, by.Who, m.any(rng, records).ID); return err })
	})
	b.Run("evidence", func(b *testing.B) {
		timed(b, func(i int) error { _, err := d.Evidence(ctx, by.Who, []string{m.any(rng, records).ID}); return err })
	})
	b.Run("checkpoint", func(b *testing.B) {
		timed(b, func(i int) error {
			_, _, err := d.Checkpoint(ctx, by.Who, fmt.Sprint("timed ", rng.Uint64()))
			return err
		})
	})
	b.Run("record", func(b *testing.B) {
		given := Given{Begin: Begin{Document: ring(b)}, Source: record.Typed}
		timed(b, func(i int) error { _, err := d.Record(ctx, by, given); return err })
	})
	b.Run("append", func(b *testing.B) {
		_, body := m.record(1)
		timed(b, func(i int) error {
			return d.o.Store.Write(ctx, d.o.Shop, func(tx *store.Tx) error {
				_, err := tx.Append(ledger.Entry{Head: ledger.Head{Time: time.Now(), Kind: "signed-out", Subject: "timed", Key: d.draw("")}, Body: body})
				return err
			})
		})
	})
	whole := func(name string, do func() error) {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if err := do(); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(records)*float64(b.N)/b.Elapsed().Seconds(), "records/s")
			b.ReportMetric(peak(b), "peak-MB")
		})
	}
	whole("verify", func() error { _, err := d.Verify(ctx, nil, nil, nil, nil); return err })
	whole("rebuild", func() error { return d.Rebuild(ctx) })
	if d.o.Store.Name() == "sqlite" {
		whole("backup", func() error {
			to := filepath.Join(folder, "backup.wreath")
			defer os.Remove(to)
			_, err := d.Backup(ctx, by, to)
			return err
		})
		whole("snapshot", func() error {
			to := filepath.Join(folder, "snapshot.wreath")
			defer os.Remove(to)
			return d.o.Snapshot(ctx, to)
		})
	}
}

// openScale opens the store of a scale.
func openScale(b *testing.B, folder string, records int64) (*store.Store, error) {
	if address := os.Getenv("WREATH_SCALE_POSTGRES"); address != "" {
		return postgres.Open(b.Context(), address, postgres.Options{})
	}
	return sqlite.Open(b.Context(), filepath.Join(folder, fmt.Sprintf("shop-%d.wreath", records)), sqlite.Options{})
}

// scaleDesk sits down at the store of a scale. Its key is kept beside it.
func scaleDesk(b *testing.B, folder string, records int64) *Desk {
	b.Helper()
	s, err := openScale(b, folder, records)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { s.Close() })
	name := filepath.Join(folder, fmt.Sprintf("shop-%d", records))
	o := Options{Store: s, Shop: "river-street", Version: "test", Cost: weak}
	if s.Name() == "sqlite" {
		o.Snapshot = func(ctx context.Context, to string) error { return sqlite.Snapshot(ctx, name+".wreath", to) }
		o.OpenFile = func(ctx context.Context, path string, write bool) (*store.Store, error) {
			return sqlite.Open(ctx, path, sqlite.Options{ReadOnly: !write})
		}
	} else {
		name += "-postgres"
	}
	keys, err := os.ReadFile(name + ".key")
	if errors.Is(err, os.ErrNotExist) {
		private, public, err := ledger.NewKey(o.Shop)
		if err == nil {
			err = os.WriteFile(name+".key", []byte(private+"\n"+public), 0o600)
		}
		if err != nil {
			b.Fatal(err)
		}
		keys = []byte(private + "\n" + public)
	} else if err != nil {
		b.Fatal(err)
	}
	o.Private, o.Public, _ = strings.Cut(string(keys), "\n")
	d, err := New(o)
	if err != nil {
		b.Fatal(err)
	}
	return d
}

// timed reports how long one of many takes: half, 95 % and 99 % take no longer.
func timed(b *testing.B, do func(i int) error) {
	b.Helper()
	var took []time.Duration
	for i := 0; b.Loop(); i++ {
		begun := time.Now()
		if err := do(i); err != nil {
			b.Fatal(err)
		}
		took = append(took, time.Since(begun))
	}
	slices.Sort(took)
	for _, percent := range []int{50, 95, 99} {
		b.ReportMetric(float64(took[len(took)*percent/100].Microseconds())/1000, fmt.Sprintf("p%d-ms", percent))
	}
	b.ReportMetric(float64(took[len(took)-1].Microseconds())/1000, "max-ms")
}

// peak is the most memory that the process ever held, in MB; 0 where the system doesn't tell.
func peak(b *testing.B) (mb float64) {
	b.Helper()
	text, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(text)) {
		if _, err := fmt.Sscanf(line, "VmHWM: %f kB", &mb); err == nil {
			return mb / 1000
		}
	}
	return 0
}

// BenchmarkScaleShops lets three counters at each of many shops record without a pause into one
// PostgreSQL, each shop with a program and three connections of its own.
func BenchmarkScaleShops(b *testing.B) {
	server := pgtest.New(b)
	for _, shops := range []int{1, 10, 40} {
		b.Run(fmt.Sprintf("shops=%d", shops), func(b *testing.B) {
			address := server.Database(b)
			var desks []*Desk
			for i := range shops {
				s, err := postgres.Open(b.Context(), address, postgres.Options{Connections: 3})
				if err != nil {
					b.Fatal(err)
				}
				b.Cleanup(func() { s.Close() })
				desks = append(desks, shopIn(b, s, fmt.Sprintf("shop-%d", i)))
			}
			for b.Loop() {
				rush(b, desks, 3, "")
			}
			for _, d := range desks {
				checkNumbers(b, d)
			}
			conn, err := pgx.Connect(b.Context(), address)
			if err != nil {
				b.Fatal(err)
			}
			defer conn.Close(context.Background())
			var deadlocks int
			if err := conn.QueryRow(b.Context(), `select deadlocks from pg_stat_database where datname = current_database()`).Scan(&deadlocks); err != nil {
				b.Fatal(err)
			}
			if deadlocks > 0 {
				b.Errorf("the server counted %d deadlocks", deadlocks)
			}
		})
	}
}

// BenchmarkScaleClients lets WREATH_SCALE_CLIENTS clients of one program, 8 unless set, record without
// a pause into one file, WREATH_SCALE_FILE or a new one.
func BenchmarkScaleClients(b *testing.B) {
	clients := 8
	if text := os.Getenv("WREATH_SCALE_CLIENTS"); text != "" {
		var err error
		if clients, err = strconv.Atoi(text); err != nil {
			b.Fatal(err)
		}
	}
	path := os.Getenv("WREATH_SCALE_FILE")
	if path == "" {
		path = filepath.Join(b.TempDir(), "shop.wreath")
	}
	d := shopIn(b, openFile(b, path), "river-street")
	for b.Loop() {
		rush(b, []*Desk{d}, clients, fmt.Sprint(os.Getpid()))
	}
	if os.Getenv("WREATH_SCALE_FILE") == "" { // other programs may be at work in a file that is given
		checkNumbers(b, d)
	}
}

// BenchmarkScalePrograms lets four programs of two clients each record into one file.
func BenchmarkScalePrograms(b *testing.B) {
	path := filepath.Join(b.TempDir(), "shop.wreath")
	d := shopIn(b, openFile(b, path), "river-street")
	program, err := os.Executable()
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		var started []*programs.Cmd
		var outputs []*bytes.Buffer
		for range 4 {
			c := programs.CommandContext(b.Context(), program, "-test.run=^$", "-test.bench=^BenchmarkScaleClients$")
			c.Env = append(os.Environ(), "WREATH_SCALE_CLIENTS=2", "WREATH_SCALE_FILE="+path)
			out := &bytes.Buffer{}
			c.Stdout, c.Stderr = out, out
			if err := c.Start(); err != nil {
				b.Fatal(err)
			}
			started, outputs = append(started, c), append(outputs, out)
		}
		for i, c := range started {
			if err := c.Wait(); err != nil {
				b.Errorf("program %d: %v\n%s", i+1, err, outputs[i])
			}
			for line := range strings.Lines(outputs[i].String()) {
				if strings.HasPrefix(line, "Benchmark") {
					b.Logf("program %d: %s", i+1, strings.TrimSpace(line))
				}
			}
		}
	}
	b.ReportMetric(float64(checkNumbers(b, d))/b.Elapsed().Seconds(), "acts/s")
}

// shopIn sits down at a shop of one person, which is opened when it is new.
func shopIn(b *testing.B, s *store.Store, name string) *Desk {
	b.Helper()
	private, public, err := ledger.NewKey(name)
	if err != nil {
		b.Fatal(err)
	}
	d, err := New(Options{Store: s, Shop: name, Private: private, Public: public, Version: "test", Cost: weak})
	if err != nil {
		b.Fatal(err)
	}
	known, err := d.Known(b.Context())
	if err == nil && !known {
		err = d.OpenShop(b.Context(), Opening{Shop: Shop{Name: "Invented Shop", TimeZone: "UTC"}, Person: people.Person{ID: "ada", Name: "Ada Invented"}}, "")
	}
	if err != nil {
		b.Fatal(err)
	}
	return d
}

// rush records from so many counters of each desk for 20 s and reports how long one act takes.
func rush(b *testing.B, desks []*Desk, counters int, mark string) {
	b.Helper()
	given := Given{Begin: Begin{Document: ring(b)}, Source: record.Typed}
	end := time.Now().Add(20 * time.Second)
	var group sync.WaitGroup
	var lock sync.Mutex
	var took []time.Duration
	for _, d := range desks {
		by := local(b, d)
		for counter := range counters {
			group.Go(func() {
				for i := 0; time.Now().Before(end); i++ {
					begun := time.Now()
					_, err := d.Record(b.Context(), By{Who: by.Who, Key: fmt.Sprintf("%s-%d-%d", mark, counter, i)}, given)
					if err != nil {
						b.Errorf("%s, counter %d, act %d: %v", d.Shop(), counter, i, err)
						return
					}
					lock.Lock()
					took = append(took, time.Since(begun))
					lock.Unlock()
				}
			})
		}
	}
	group.Wait()
	if len(took) == 0 {
		return
	}
	slices.Sort(took)
	for _, percent := range []int{50, 95, 99} {
		b.ReportMetric(float64(took[len(took)*percent/100].Microseconds())/1000, fmt.Sprintf("p%d-ms", percent))
	}
	b.ReportMetric(float64(took[len(took)-1].Microseconds())/1000, "max-ms")
	b.ReportMetric(float64(len(took))/20, "acts/s")
}

// checkNumbers verifies a log and that its records are numbered without a gap, none of them lost. It
// gives how many there are.
func checkNumbers(b *testing.B, d *Desk) (records int) {
	b.Helper()
	if _, err := d.Verify(context.Background(), nil, nil, nil, nil); err != nil {
		b.Errorf("%s: %v", d.Shop(), err)
	}
	err := d.o.Store.Read(context.Background(), d.o.Shop, func(tx *store.Tx) error {
		for e, err := range tx.Entries(0) {
			if err != nil {
				return err
			}
			if e.Kind != "determination-recorded" {
				continue
			}
			records++
			r, err := read[struct{ Number string }](e.Body)
			if want := fmt.Sprintf("D-%06d", records); err != nil || r.Number != want {
				return fmt.Errorf("record %q stands where %s belongs (%v)", r.Number, want, err)
			}
			if shown, err := tx.Determination(e.Subject); err != nil || shown.Number != r.Number {
				return fmt.Errorf("record %s is shown as %q (%v)", r.Number, shown.Number, err)
			}
		}
		return nil
	})
	if err != nil {
		b.Errorf("%s: %v", d.Shop(), err)
	}
	return records
}
