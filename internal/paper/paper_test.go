package paper

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wreath/internal/determination"
	"wreath/internal/record"
	"wreath/internal/station"
)

// Everything here is invented.

var noon = time.Date(2026, 11, 25, 12, 0, 0, 0, time.FixedZone("", 3600))

// whole are facts that lack nothing.
func whole(t *testing.T) *Facts {
	t.Helper()
	document, err := os.ReadFile(filepath.Join("..", "..", "examples", "ring.json"))
	if err != nil {
		t.Fatal(err)
	}
	begin := record.Sheet{ID: "d-1", Opened: record.Act{Time: noon, Person: "ada"}}
	r, err := record.MakeFromDocument(document, begin, record.Typed, record.Making{
		ID: "d-1", Number: "D-000001", Made: record.Act{Time: noon, Person: "ada"}, Options: determination.Options{Version: "test"},
	})
	if err != nil {
		t.Fatal(err)
	}
	came := noon.Add(-time.Hour)
	return &Facts{
		Format: Format, Shop: Shop{ID: "s", Name: "Invented Shop", Address: "Invented Lane 1", TimeZone: "Europe/Vienna"}, Record: r, Hash: "00", State: "signed",
		Item: &Item{ID: "i-1", Description: "plain band", Condition: "worn"}, Customer: Party{Why: "no customer is kept with this item"}, Received: &came,
		Report: &Report{Number: "R-000001", Issued: noon, Person: "ada", Name: "Ada Invented"},
	}
}

// TestCheckNamesWhatIsMissing takes away one thing at a time that ISO/IEC 17025:2017, 7.8.2.1, asks for.
func TestCheckNamesWhatIsMissing(t *testing.T) {
	if missing := whole(t).Check(); len(missing) > 0 {
		t.Errorf("whole facts lack %+v", missing)
	}
	for _, c := range []struct {
		clause, what string
		take         func(*Facts)
	}{
		{"b", "name of the shop", func(f *Facts) { f.Shop.Name = " " }},
		{"b", "address of the shop", func(f *Facts) {
			f.Shop.Address, f.Record.Station = "", &station.Station{ID: "s-1", Version: 1, Place: "front room"}
		}},
		{"c", "place where it was weighed", func(f *Facts) { f.Shop.Address = "" }},
		{"d", "number of the report", func(f *Facts) { f.Report.Number = "" }},
		{"e", "customer, or why none is named", func(f *Facts) { f.Customer = Party{} }},
		{"f", "method", func(f *Facts) { f.Record.Answer = json.RawMessage(`{"density_20c": {"kg_m3": 15449}}`) }},
		{"g", "description of the item", func(f *Facts) { f.Item.Description = "" }},
		{"g", "condition of the item", func(f *Facts) { f.Item.Condition = "\t" }},
		{"h", "date on which the item came", func(f *Facts) { f.Received = nil }},
		{"i", "dates of the readings", func(f *Facts) { f.Record.Sheet.Readings = nil }},
		{"j", "date of issue", func(f *Facts) { f.Report.Issued = time.Time{} }},
		{"m", "result with its unit", func(f *Facts) { f.Record.Answer = json.RawMessage(`{"method": "immersion"}`) }},
		{"o", "person who authorises the report", func(f *Facts) { f.Report.Name = "" }},
		{"o", "signature: A person with the role sign must approve.", func(f *Facts) { f.Unsigned = []string{"A person with the role sign must approve."} }},
	} {
		f := whole(t)
		c.take(f)
		found := false
		for _, m := range f.Check() {
			found = found || m.Clause == c.clause && m.What == c.what && m.Hint != ""
		}
		if !found {
			t.Errorf("without %s: %+v", c.what, f.Check())
		}
		if err := (&MissingError{f.Check()}); !strings.Contains(err.Error(), c.what) || err.Hint() == "" {
			t.Errorf("%v", err)
		}
	}
	f := whole(t)
	f.Report = nil
	if len(f.Check()) != 3 {
		t.Errorf("a report that is not issued lacks %+v", f.Check())
	}
}

// TestTwinIsTheSameOnEveryCopy: what belongs to one printing is not in the twin, personal data least of all.
func TestTwinIsTheSameOnEveryCopy(t *testing.T) {
	f := whole(t)
	first, err := f.Twin()
	if err != nil {
		t.Fatal(err)
	}
	f.Copy, f.SupersededBy, f.Proof, f.Worth = 2, "R-000002", "PROOF", json.RawMessage(`{}`)
	f.Person = &Person{Name: "Quilla Vandermeersch"}
	f.Logo, f.Photo = &Picture{Bytes: []byte("logo")}, &Picture{Bytes: []byte("photo")}
	again, err := f.Twin()
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(first, again) {
		t.Errorf("twin\n%s\nand\n%s", first, again)
	}
	var read Facts
	if err := json.Unmarshal(first, &read); err != nil {
		t.Fatal(err)
	}
	back, err := read.Twin()
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(back, first) {
		t.Errorf("read and written again the twin is\n%s\nwant\n%s", back, first)
	}
}

// TestChangesAreThoseOfAReader: number, date and signatures always differ and are no changes.
func TestChangesAreThoseOfAReader(t *testing.T) {
	before, after := whole(t), whole(t)
	after.Report.Number, after.Report.Issued, after.Hash, after.Entry = "R-000002", noon.Add(time.Hour), "11", 7
	after.Signatures = []Signature{{Name: "Ada Invented"}}
	changes, err := Changes(before, after)
	if err != nil || len(changes) > 0 {
		t.Errorf("%+v, %v", changes, err)
	}
	after.Item.Condition, after.Report.Deviations, after.Shop.Name = "bent", "weighed twice", "Renamed Invented Shop"
	changes, err = Changes(before, after)
	if err != nil {
		t.Fatal(err)
	}
	var paths []string
	for _, c := range changes {
		paths = append(paths, c.Path)
	}
	if got := strings.Join(paths, " "); got != "deviations item.condition shop.name" {
		t.Errorf("changed: %s", got)
	}
}

func TestPersonalDataAreNotShown(t *testing.T) {
	p := Person{Name: "Quilla Vandermeersch"}
	if s := p.String() + p.GoString(); strings.Contains(s, "Quilla") {
		t.Error(s)
	}
}

func TestReadable(t *testing.T) {
	v, err := readable(map[string]any{"U": 14.344517309394362, "ends": []float64{739.4, 1e-9, 0}, "method": "immersion"})
	if err != nil {
		t.Fatal(err)
	}
	data, err := json.Marshal(v)
	if want := `{"U":14.3445,"ends":[739.4,1e-09,0],"method":"immersion"}`; err != nil || string(data) != want {
		t.Errorf("%s, %v, want %s", data, err, want)
	}
}
