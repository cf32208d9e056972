package desk

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wreath/internal/determination"
	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/station"
	"wreath/internal/store"
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
