package press

import (
	"bytes"
	"encoding/json"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"time"

	"wreath/internal/determination"
	"wreath/internal/paper"
	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/sentence"
	"wreath/internal/station"
	"wreath/internal/value"
)

// Everything here is invented: shop, people, items, prices and proofs.

var slipNoon = time.Date(2026, 11, 25, 10, 26, 12, 0, time.FixedZone("", 3600))

// failing is what a slip's tests and benchmarks fail by.
type failing interface {
	Helper()
	Fatal(args ...any)
	Fatalf(format string, args ...any)
}

// slipOf are the facts of one of the examples.
func slipOf(t failing, example string) *paper.Facts {
	t.Helper()
	document, err := os.ReadFile(filepath.Join("..", "..", "examples", example+".json"))
	if err != nil {
		t.Fatal(err)
	}
	begin := record.Sheet{ID: "d-417", Item: "i-204", Barcode: "2000417", Opened: record.Act{Time: slipNoon, Person: "q.weigher"}}
	r, err := record.MakeFromDocument(document, begin, record.Typed, record.Making{
		ID: "d-417", Number: "D-000417", Made: record.Act{Time: slipNoon, Person: "q.weigher"},
		Options: determination.Options{MonteCarlo: determination.Always, Version: "1.0.0"},
	})
	if err != nil {
		t.Fatal(err)
	}
	r.Station = &station.Station{Format: 1, ID: "counter-2", Version: 3, Name: "Counter 2", Place: "front room"}
	return &paper.Facts{
		Format: paper.Format,
		Shop:   paper.Shop{ID: "example", Name: "The Example Counter", Address: "Lantern Lane 1, 1000 Exampletown", TimeZone: "Europe/Vienna", Demo: true},
		Entry:  812, Hash: "7f3a91c0d2b44e5f8a6677889900aabbccddeeff00112233445566778899aabb", Record: r, State: "signed",
		Signatures: []paper.Signature{{Person: "q.weigher", Name: "Q. Weigher", At: slipNoon.Add(4 * time.Minute), Meaning: people.Measured, Sentence: "I took the readings of this record."}},
		Declared:   []paper.Declared{{What: "claim", Text: "gold 750", By: "stamp"}},
		Item:       &paper.Item{ID: "i-204", Description: "plain yellow band", Marks: "750, struck", Condition: "worn, not bent", Barcode: "2000417"},
		Checkpoint: "813/7K2M 9Q4X W0V3 C5T1 8HJN PR6S ZD2E AB4F",
		Proof:      inventedProof(350, 1),
	}
}

// inventedProof has the size and the letters of the proof of a statement of so many bytes.
func inventedProof(size int, seed uint64) string {
	const letters = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
	random := rand.New(rand.NewPCG(seed, 203))
	var out strings.Builder
	out.WriteString("WREATH1:")
	for range (size*3 + 1) / 2 {
		out.WriteByte(letters[random.IntN(len(letters))])
	}
	return strings.TrimRight(out.String(), " ")
}

// priced adds a value to facts.
func priced(t failing, f *paper.Facts, payout string) *paper.Facts {
	t.Helper()
	read := func(text string) value.Decimal {
		var d value.Decimal
		if err := json.Unmarshal([]byte(`"`+text+`"`), &d); err != nil {
			t.Fatal(err)
		}
		return d
	}
	sum := read(payout)
	w := value.Worth{
		Format: value.WorthFormat, Currency: "EUR", State: "met", Metal: "gold", FineG: read("5.4919"),
		Price:  &value.Price{Metal: "gold", Amount: read("78.40"), Currency: "EUR", Per: "g", HeldAt: value.Moment{Time: slipNoon.Add(-84 * time.Minute)}, Source: "invented"},
		Payout: &sum, Warnings: []string{},
	}
	data, err := json.Marshal(w)
	if err != nil {
		t.Fatal(err)
	}
	f.Worth = data
	return f
}

func slipText(t failing, f *paper.Facts, o SlipOptions) string {
	t.Helper()
	var out bytes.Buffer
	if err := SlipText(&out, f, o); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// booksOf are the languages of options.
func booksOf(t failing, o SlipOptions) []*sentence.Book {
	t.Helper()
	books, err := o.books()
	if err != nil {
		t.Fatal(err)
	}
	return books
}
