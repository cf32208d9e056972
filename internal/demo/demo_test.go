package demo

import (
	"context"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"wreath/internal/desk"
	"wreath/internal/ledger"
	"wreath/internal/people"
	"wreath/internal/station"
	"wreath/internal/store"
	"wreath/internal/store/sqlite"
)

var when = time.Date(2026, 11, 26, 15, 20, 0, 0, time.UTC)

// options are those of an empty store in a folder that lives as long as the test.
func options(t testing.TB) desk.Options {
	t.Helper()
	path := filepath.Join(t.TempDir(), "demo.wreath")
	s, err := sqlite.Open(t.Context(), path, sqlite.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	private, public, err := ledger.NewKey("demo")
	if err != nil {
		t.Fatal(err)
	}
	return desk.Options{
		Store: s, Shop: "demo", Private: private, Public: public, Version: "test",
		OpenFile: func(ctx context.Context, path string, write bool) (*store.Store, error) {
			return sqlite.Open(ctx, path, sqlite.Options{ReadOnly: !write})
		},
		Scrub: func(ctx context.Context) error { return sqlite.Scrub(ctx, path) },
	}
}

// shop is a filled store, seen a minute later.
type shop struct {
	*desk.Desk
	o   desk.Options
	who *desk.Who
	now time.Time
}

func filled(t testing.TB, now time.Time) shop {
	t.Helper()
	o := options(t)
	if err := Fill(t.Context(), o, now); err != nil {
		t.Fatal(err)
	}
	o.Now = func() time.Time { return now.Add(time.Minute) }
	d, err := desk.New(o)
	if err != nil {
		t.Fatal(err)
	}
	who, err := d.Local(t.Context(), people.Console)
	if err != nil {
		t.Fatal(err)
	}
	return shop{d, o, who, now}
}

// looked is one look around, for the tests that change nothing.
var looked struct {
	sync.Once
	records map[string][]desk.Recorded // by description of the item, oldest first
	verify  error
	err     error
	look
}

// look is what a visitor sees.
type look struct {
	about     desk.Shop
	equipment desk.Equipment
	deals     []desk.Deal
	faults    int
	lots      []desk.LotRow
	open      map[string]string // finding so far of each open sheet, by description
	history   []time.Time       // of every entry that a record or item has
	seller    string
	erased    int
	entries   int64
}

func lookAround(t *testing.T) *look {
	t.Helper()
	looked.Do(func() { looked.err = lookOnce(t) })
	if looked.err != nil {
		t.Fatal(looked.err)
	}
	return &looked.look
}

func lookOnce(t *testing.T) (err error) {
	s, ctx, l := filled(t, when), t.Context(), &looked.look
	_, looked.verify = desk.Try(ctx, s.o.Store, s.o, t.TempDir())
	if looked.records, err = recordsOf(ctx, s); err != nil {
		return err
	}
	if l.about, err = s.AboutShop(ctx); err != nil {
		return err
	}
	if l.equipment, err = s.Equipment(ctx, s.who); err != nil {
		return err
	}
	deals, faults, err := s.Book(ctx, s.who)
	if err != nil {
		return err
	}
	l.deals, l.faults = deals, len(faults)
	if l.lots, err = s.Lots(ctx, s.who); err != nil {
		return err
	}
	sheets, err := s.Sheets(ctx, s.who)
	if err != nil {
		return err
	}
	l.open = map[string]string{}
	for _, sheet := range sheets {
		item, err := s.ItemBy(ctx, s.who, sheet.Item)
		if err != nil {
			return err
		}
		l.open[item.Item.Description] = "none"
		if so, err := s.Evaluate(ctx, s.who, sheet.ID); err == nil {
			l.open[item.Item.Description] = so.Answer.Finding.Result
		}
	}
	for _, all := range looked.records {
		for _, r := range all {
			happened, err := s.History(ctx, s.who, r.Record.ID)
			if err != nil {
				return err
			}
			for _, h := range happened {
				l.history = append(l.history, h.Time)
			}
		}
	}
	if l.entries, err = s.Export(ctx, s.who, io.Discard); err != nil {
		return err
	}
	erasures, err := s.Erasures(ctx, s.who)
	l.erased = len(erasures)
	for _, d := range deals {
		if d.Customer != "" && d.Kind == "buy" && err == nil {
			p, problem := s.SeeCustomer(ctx, desk.By{Who: s.who}, d.Customer, "to see that it is invented")
			l.seller, err = p.Name, problem
			break
		}
	}
	return err
}

func recordsOf(ctx context.Context, s shop) (map[string][]desk.Recorded, error) {
	found, err := s.Find(ctx, s.who, store.Query{Limit: 200})
	if err != nil {
		return nil, err
	}
	out := map[string][]desk.Recorded{}
	for _, f := range slices.Backward(found) {
		r, err := s.Show(ctx, s.who, f.Number)
		if err != nil {
			return nil, err
		}
		item, err := s.ItemBy(ctx, s.who, r.Record.Sheet.Item)
		if err != nil {
			return nil, err
		}
		out[item.Item.Description] = append(out[item.Item.Description], r)
	}
	return out, nil
}

func TestLogAndViewsVerify(t *testing.T) {
	lookAround(t)
	if looked.verify != nil {
		t.Error(looked.verify)
	}
}

func TestFindingsAreWhatTheTruthAllows(t *testing.T) {
	l := lookAround(t)
	count := map[string]int{}
	for i := range Things {
		thing := &Things[i]
		if thing.open() {
			if got, ok := l.open[thing.Description]; !ok || !slices.Contains(thing.May, got) {
				t.Errorf("%s lies open with %q, may be %v", thing.Key, got, thing.May)
			}
			continue
		}
		all := looked.records[thing.Description]
		if len(all) == 0 {
			t.Errorf("%s has no record", thing.Key)
		}
		for _, r := range all {
			sum, err := r.Record.Summary()
			if err != nil {
				t.Fatal(err)
			}
			if !slices.Contains(thing.May, sum.Finding) {
				t.Errorf("%s, which is %s: %s, may be %v", thing.Key, thing.Is, sum.Finding, thing.May)
			}
			count[sum.Finding]++
			if sum.Suspended {
				count["suspended"]++
			}
			count[r.State.Word]++
		}
	}
	for word, least := range map[string]int{"met": 15, "not met": 6, "undecided": 12, "none": 1, "suspended": 4, "recorded": 2, "superseded": 1, "signed": 40} {
		if count[word] < least {
			t.Errorf("%d are %s, want %d or more for a lively shop", count[word], word, least)
		}
	}
	if len(l.open) != 3 {
		t.Errorf("%d sheets lie open, want 3: %v", len(l.open), l.open)
	}
}

// What is told of a weighing must show in its record, or the demo tells stories.
func TestTroublesShow(t *testing.T) {
	lookAround(t)
	for i := range Things {
		thing := &Things[i]
		if thing.open() || thing.Trouble == "" {
			continue
		}
		all := looked.records[thing.Description]
		first, last := all[0], all[len(all)-1]
		sum, err := first.Record.Summary()
		if err != nil {
			t.Fatal(err)
		}
		marks := strings.Join(first.Record.Marks, " ")
		ok := true
		switch thing.Trouble {
		case bubbleLeft, warmGuess, swapped:
			ok = sum.Suspended
		case bubbleSeen, touched:
			ok = strings.Contains(marks, "Readings set aside: 1") && sum.Finding == "met"
		case lateClaim:
			ok = strings.Contains(marks, "Claim or rule was changed")
		case slip:
			ok = len(all) == 2 && first.SupersededBy == last.Record.Number && sum.Suspended
		case soaked:
			ok = strings.Contains(sum.Method, "impregnat")
		case notSigned:
			ok = len(first.Signatures) == 0
		case oneImmersed:
			ok = sum.Finding == "undecided"
		default:
			t.Errorf("%s: nothing is said here of %q", thing.Key, thing.Trouble)
		}
		if !ok {
			t.Errorf("%s: %s, and the record does not show it: %+v, %s", thing.Key, thing.Trouble, sum, marks)
		}
	}
}

// An honest weighing finds the true density within twice its own expanded uncertainty. Readings are
// made of forces here and are evaluated elsewhere, so either side shows an error of the other.
func TestHonestWeighingsFindTheTruth(t *testing.T) {
	lookAround(t)
	n := 0
	for i := range Things {
		thing := &Things[i]
		if thing.open() || slices.Contains([]string{bubbleLeft, warmGuess, swapped, soaked, slip}, thing.Trouble) {
			continue
		}
		n++
		sum, err := looked.records[thing.Description][0].Record.Summary()
		if err != nil {
			t.Fatal(err)
		}
		b := bodyOf(thing.Pieces, thing.VoidCm3)
		if truth := 1000 * b.mass / b.volume; math.Abs(sum.DensityKgM3-truth) > 2*sum.UKgM3 {
			t.Errorf("%s: %.2f ± %.2f kg/m³, and it is %.2f", thing.Key, sum.DensityKgM3, sum.UKgM3, truth)
		}
		if math.Abs(sum.TrueMassG-b.mass) > 4*thing.At.d {
			t.Errorf("%s: %.4f g, and it is %.4f", thing.Key, sum.TrueMassG, b.mass)
		}
	}
	if n < 35 {
		t.Errorf("%d honest weighings", n)
	}
}

func TestEverythingIsInvented(t *testing.T) {
	l := lookAround(t)
	if !l.about.Demo || l.about.SignIn {
		t.Errorf("%+v", l.about)
	}
	texts := []string{l.about.Name, l.about.Address, keeper.Name, l.seller, invented, termsDocument, rulesDocument}
	for _, i := range l.equipment.Instruments {
		texts = append(texts, i.Maker, i.Type, i.Certificates[0].Number, i.Certificates[0].Issuer)
	}
	for _, d := range l.deals {
		texts = append(texts, d.Note)
	}
	for _, text := range texts {
		if !strings.Contains(strings.ToLower(text), "invented") {
			t.Errorf("%q does not say that it is invented", text)
		}
	}
	for _, all := range looked.records {
		for _, r := range all {
			if !strings.Contains(string(r.Record.Document), "Invented item") {
				t.Errorf("%s does not say that it is invented", r.Record.Number)
			}
		}
	}
	if l.erased != 1 {
		t.Errorf("%d customers were erased, want 1", l.erased)
	}
}

func TestInstrumentsAreDueAsTold(t *testing.T) {
	l := lookAround(t)
	want := map[string]string{"B-2": station.DueSoon, "T-2": station.Overdue, "B-4": station.OutOfUse}
	for n, i := range l.equipment.Instruments {
		state := station.InOrder
		if other, ok := want[i.ID]; ok {
			state = other
		}
		if got := l.equipment.Papers[n].State; got != state {
			t.Errorf("%s is %s, want %s", i.ID, got, state)
		}
	}
	if len(l.equipment.Stations) != 5 {
		t.Errorf("%d stations", len(l.equipment.Stations))
	}
}

func TestRegisterAndLot(t *testing.T) {
	l := lookAround(t)
	kinds := map[string]int{}
	for _, d := range l.deals {
		kinds[d.Kind]++
		if d.Void != "" {
			kinds["void"]++
		}
	}
	for kind, least := range map[string]int{"buy": 10, "pledge": 1, "consign": 1, "sell": 1, "measure-only": 3, "void": 1} {
		if kinds[kind] < least {
			t.Errorf("%d deals are %s, want %d or more", kinds[kind], kind, least)
		}
	}
	if l.faults != 0 {
		t.Errorf("the register has %d gaps", l.faults)
	}
	if len(l.lots) != 1 || l.lots[0].Lot.Payout == nil {
		t.Errorf("%+v", l.lots)
	}
}

func TestDaysEndNow(t *testing.T) {
	l := lookAround(t)
	first, last := slices.MinFunc(l.history, time.Time.Compare), slices.MaxFunc(l.history, time.Time.Compare)
	if last.After(when) || when.Sub(last) > time.Hour {
		t.Errorf("the last entry is of %s", last)
	}
	if days := when.Sub(first).Hours() / 24; days < Days || days > Days+1 {
		t.Errorf("the first record is of %s", first)
	}
}

// Every entry waits for the disk once, and every signature twice. At 3 ms a wait, slow for a disk
// without moving parts, that many waits take a second; the visitor is to wait for two at most.
func TestVisitorNeedNotWait(t *testing.T) {
	l := lookAround(t)
	signatures := int64(0)
	for _, all := range looked.records {
		for _, r := range all {
			signatures += int64(len(r.Signatures))
		}
	}
	if waits := l.entries + signatures; waits > 360 {
		t.Errorf("%d entries and %d signatures wait %d times for the disk, want 360 at most", l.entries, signatures, waits)
	}
}

// Whatever the hour and the place, the days pass in order, and one fill is like the other.
func TestFillsAgree(t *testing.T) {
	lookAround(t)
	vienna, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	for _, now := range []time.Time{
		time.Date(2026, 11, 1, 0, 10, 0, 0, vienna), // just after midnight, a week after clocks went back
		time.Date(2027, 1, 4, 8, 30, 0, 0, time.FixedZone("a zone without a name of its own", 7200)),
	} {
		s := filled(t, now)
		about, err := s.AboutShop(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if want := map[bool]string{true: "Europe/Vienna", false: "UTC"}[now.Location() == vienna]; about.TimeZone != want {
			t.Errorf("the shop's zone is %s, want %s", about.TimeZone, want)
		}
		records, err := recordsOf(t.Context(), s)
		if err != nil {
			t.Fatal(err)
		}
		before := time.Time{}
		for i := range Things {
			for n, r := range records[Things[i].Description] {
				first := looked.records[Things[i].Description][n]
				if string(first.Record.Answer) != string(r.Record.Answer) || first.Record.Number != r.Record.Number {
					t.Errorf("%s of %s differs from that of another day", r.Record.Number, now)
				}
				if at := r.Record.Made.Time; at.Before(before) || at.After(now) {
					t.Errorf("%s was made at %s, after one of %s", r.Record.Number, at, before)
				} else {
					before = at
				}
			}
		}
	}
}

func TestStoreInUseIsRefused(t *testing.T) {
	o := options(t)
	o.Now = time.Now
	d, err := desk.New(o)
	if err != nil {
		t.Fatal(err)
	}
	own := desk.Opening{Shop: desk.Shop{Name: "Invented Own Shop", TimeZone: "UTC"}, Person: people.Person{ID: "owner", Name: "Owner Invented"}}
	if err := d.OpenShop(t.Context(), own, ""); err != nil {
		t.Fatal(err)
	}
	if err := Fill(t.Context(), o, when); err == nil {
		t.Error("an own shop was filled with invented items")
	}
	if about, err := d.AboutShop(t.Context()); err != nil || about.Demo {
		t.Errorf("%+v %v", about, err)
	}
}

func TestTruthNamesItsSources(t *testing.T) {
	keys := map[string]bool{}
	for _, thing := range Things {
		if keys[thing.Key] || keys[thing.Description] {
			t.Errorf("%s is there twice", thing.Key)
		}
		keys[thing.Key], keys[thing.Description] = true, true
		for _, piece := range thing.Pieces {
			if piece.Of.Source == "" || piece.Of.Density < 1 || piece.Of.Density > 22.6 {
				t.Errorf("%s: %+v", thing.Key, piece)
			}
		}
		if thing.Is == "" || len(thing.May) == 0 {
			t.Errorf("%s: nothing is said of what it is", thing.Key)
		}
	}
	if len(Things) < 40 {
		t.Errorf("%d things", len(Things))
	}
}

func TestDrawings(t *testing.T) {
	for shape := range shapes {
		for colour := range metals {
			data, err := draw(shape, colour)
			if err != nil || len(data) < 500 {
				t.Errorf("%s %s: %d bytes, %v", colour, shape, len(data), err)
			}
		}
	}
	if _, err := draw("horse", "red"); err == nil {
		t.Error("a horse was drawn")
	}
}

// BenchmarkFill is what a visitor waits for.
func BenchmarkFill(b *testing.B) {
	for b.Loop() {
		b.StopTimer()
		o := options(b)
		b.StartTimer()
		if err := Fill(b.Context(), o, when); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(Things)), "items")
}
