package desk

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"path/filepath"
	"strings"
	"testing"

	"wreath/internal/ledger"
	"wreath/internal/line"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/station"
)

// readsLines is a pattern of lines such as "=      5.0000 g", which no balance writes.
const readsLines = `{"format":"` + line.Format + `","framing":{"end":"any"},"lines":[{"name":"reading","means":"reading","parts":[{"is":"text","text":"="},{"is":"number","width":12,"whole":7,"decimals":4,"sign":"beside"},{"is":"blank","min":1,"max":1},{"is":"unit"}]}],"tests":[{"line":"=      5.0000 g","reads":"5.0000 g"}]}`

// invented is a link to nothing.
func invented() *station.Link {
	grams, off := 100.0, 0.001
	return &station.Link{Address: "serial:///dev/invented", Pattern: json.RawMessage(readsLines), Binding: &station.Binding{CheckG: &grams, ToleranceG: &off}}
}

func TestLinkAndBinding(t *testing.T) {
	w := openWorld(t)
	ctx := t.Context()
	_, err := w.BindInstrument(ctx, w.boss(), "B-1", Bound{"usb-1", 100})
	refused(t, "binding what has no check weight", err)
	_, err = w.LinkInstrument(ctx, w.boss(), "B-1", nil, "")
	refused(t, "unlinking what is not linked", err)
	_, err = w.LinkInstrument(ctx, w.boss(), "B-9", invented(), "")
	refused(t, "linking what is not there", err)
	before := must[[]Version](t)(w.Versions(ctx, w.who["boss"], "B-1"))
	for _, text := range []string{`{}`, `{"format":1}`, strings.Replace(readsLines, `"reads":"5`, `"reads":"6`, 1), strings.Replace(readsLines, `"sign"`, `"sing"`, 1)} {
		broken := invented()
		broken.Pattern = json.RawMessage(text)
		_, err = w.LinkInstrument(ctx, w.boss(), "B-1", broken, "wired")
		refused(t, "a pattern that reads no line: "+text, err)
	}
	ref := must[station.Ref](t)(w.LinkInstrument(ctx, w.boss(), "B-1", invented(), "wired"))
	for _, shown := range []float64{99.9, 100.002, -100, 0} {
		_, err = w.BindInstrument(ctx, w.as("measure"), "B-1", Bound{"usb-1", shown})
		refused(t, "another weight", err)
	}
	bound := must[station.Ref](t)(w.BindInstrument(ctx, w.as("measure"), "B-1", Bound{"usb-1", 100.0003}))
	if bound.Version != ref.Version+1 {
		t.Errorf("bound as %s after %s", bound, ref)
	}
	after := must[[]Version](t)(w.Versions(ctx, w.who["boss"], "B-1"))
	if len(after) != len(before)+2 {
		t.Fatalf("%d versions after %d", len(after), len(before))
	}
	var paths []string
	for _, c := range after[len(after)-1].Changes {
		paths = append(paths, c.Path+"="+c.New)
	}
	if got := strings.Join(paths, " "); !strings.Contains(got, `link.binding.port="usb-1"`) || !strings.Contains(got, "link.binding.read_g=100.0003") {
		t.Errorf("changes: %s", got)
	}
	e := must[Equipment](t)(w.Equipment(ctx, w.who["boss"]))
	for _, i := range e.Instruments {
		if i.ID == "B-1" && (i.Link == nil || string(i.Link.Pattern) != readsLines || *i.CapacityG != 210) {
			t.Errorf("the file became %+v", i)
		}
	}
	must[station.Ref](t)(w.LinkInstrument(ctx, w.boss(), "B-1", nil, "typed again"))
}

func TestHeardIsKept(t *testing.T) {
	w := openWorld(t)
	ctx := t.Context()
	id := w.sheet()
	stream := []byte("+  7.4218 g\r\n\xff\x00+  7.4219 g\r\n")
	sum := sha256.Sum256(stream)
	hash := hex.EncodeToString(sum[:])
	r := record.Reading{Slot: "air_g", Text: "7.4219", Source: record.Received, Settled: true}
	s := must[Sheet](t)(w.TakeHeard(ctx, w.boss(), id, r, Heard{Stream: stream}))
	if got := s.Sheet.Readings[len(s.Sheet.Readings)-1]; got.Evidence != hash || got.Source != record.Received || !got.Settled {
		t.Errorf("reading: %+v", got)
	}
	if kept := must[[]byte](t)(w.Stream(ctx, w.who["audit"], hash)); string(kept) != string(stream) {
		t.Errorf("kept: %q", kept)
	}
	_, err := w.Stream(ctx, w.who["audit"], strings.Repeat("0", 64))
	refused(t, "a stream that nobody kept", err)
	_, err = w.TakeHeard(ctx, w.boss(), id, r, Heard{Stream: make([]byte, MaxStream+1)})
	refused(t, "too long a stream", err)
	must[Sheet](t)(w.TakeHeard(ctx, w.boss(), id, r, Heard{Invented: true})) // the shop is a demonstration
	typed := r
	typed.Source = record.Typed
	_, err = w.TakeHeard(ctx, w.boss(), id, typed, Heard{Stream: stream})
	refused(t, "a typed reading that was heard", err)
	if _, err := w.Verify(ctx, nil, nil, nil, nil); err != nil {
		t.Fatalf("a whole store: %v", err)
	}
	same(t, t, w.Desk)

	exec(t, w.path, `update attachment set data = x'00' where hash = '`+hash+`'`)
	if _, err := w.Stream(ctx, w.who["audit"], hash); err == nil || !strings.Contains(err.Error(), "was changed") {
		t.Errorf("a changed stream: %v", err)
	}
	exec(t, w.path, `delete from attachment where hash = '`+hash+`'`)
	if _, err := w.Stream(ctx, w.who["audit"], hash); !errors.Is(err, ledger.ErrBroken) {
		t.Errorf("a missing stream: %v", err)
	}
	if _, err := w.Verify(ctx, nil, nil, nil, nil); !errors.Is(err, ledger.ErrBroken) {
		t.Errorf("a missing stream is in order: %v", err)
	}
}

func TestInventedStaysOutOfRealShops(t *testing.T) {
	d := deskAt(t, filepath.Join(t.TempDir(), "shop.wreath"))
	opening := Opening{Shop: Shop{Name: "Invented Shop", TimeZone: "UTC"}, Person: people.Person{ID: "ada", Name: "Ada Invented"}}
	if err := d.OpenShop(t.Context(), opening, ""); err != nil {
		t.Fatal(err)
	}
	by := local(t, d)
	s := must[Sheet](t)(d.OpenSheet(t.Context(), by, Begin{Document: []byte(claimDoc)}))
	r := record.Reading{Slot: "air_g", Text: "7.4219", Source: record.Received}
	_, err := d.TakeHeard(t.Context(), by, s.Sheet.ID, r, Heard{Invented: true})
	refused(t, "an invented reading in a real shop", err)
	must[Sheet](t)(d.TakeHeard(t.Context(), by, s.Sheet.ID, r, Heard{}))
}

// TestSimulatedInstrumentsInRealShops asks that a simulated instrument is linked in a demonstration only.
func TestSimulatedInstrumentsInRealShops(t *testing.T) {
	link := &station.Link{Address: "simulated:ring?seed=3"}
	demo := openWorld(t)
	if _, err := demo.LinkInstrument(t.Context(), demo.boss(), "B-1", link, ""); err != nil {
		t.Errorf("the demonstration says %v", err)
	}
	d := deskAt(t, filepath.Join(t.TempDir(), "shop.wreath"))
	if err := d.OpenShop(t.Context(), Opening{Shop: Shop{Name: "Invented Shop", TimeZone: "UTC"}, Person: people.Person{ID: "ada", Name: "Ada Invented"}}, ""); err != nil {
		t.Fatal(err)
	}
	by := local(t, d)
	i := station.Instrument{ID: "B-1", Kind: station.Balance, ScaleIntervalG: new(0.0001), RepeatabilityG: new(0.0001)}
	if _, err := d.SetInstrument(t.Context(), by, i, ""); err != nil {
		t.Fatal(err)
	}
	var user *UserError
	if _, err := d.LinkInstrument(t.Context(), by, "B-1", link, ""); !errors.As(err, &user) || !strings.Contains(user.Reason, "simulated instrument") || user.Hint == "" {
		t.Errorf("the real shop says %v", err)
	}
	i.Link = link
	if _, err := d.SetInstrument(t.Context(), by, i, ""); !errors.As(err, &user) {
		t.Errorf("written into its file, the link is taken: %v", err)
	}
	if _, err := d.LinkInstrument(t.Context(), by, "B-1", &station.Link{Address: "push:b1"}, ""); err != nil {
		t.Errorf("a real one is refused: %v", err)
	}
}
