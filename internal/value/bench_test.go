package value

import (
	"fmt"
	"testing"
)

func BenchmarkItem(b *testing.B) {
	item, price, terms := evaluated(b, "ring.json"), priceOf("gold", "3154.60", "ozt"), houseTerms()
	terms.Charges = []Charge{{Name: "testing", PerItem: decimal("2.50")}, {Name: "refining", Percent: decimal("1.5")}}
	for b.Loop() {
		if _, err := Of(item, price, terms, noon); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLot1000(b *testing.B) {
	terms := houseTerms()
	var lot Lot
	for i := range 1000 {
		item := evaluated(b, "ring.json")
		item.Draft.ID = fmt.Sprint(i)
		item.Answer.ID = item.Draft.ID
		lot.Items = append(lot.Items, item)
	}
	prices := []Price{priceOf("gold", "101.40", "g")}
	for b.Loop() {
		if _, err := OfLot(lot, prices, terms, noon); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkReadPrices(b *testing.B) {
	data := []byte(csvHead)
	for i := range 1000 {
		data = fmt.Appendf(data, "gold,101.%02d,g,EUR,2026-11-26T09:%02d:%02dZ,invented\n", i%100, i/60%60, i%60)
	}
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		rows, err := ReadPrices(data, noon)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := Prices(rows); err != nil {
			b.Fatal(err)
		}
	}
}
