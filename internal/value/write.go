package value

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
)

// PricesCSV writes prices as ReadPrices reads them, with commas and decimal points.
func PricesCSV(prices []Price) []byte {
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	rows := [][]string{{"metal", "amount", "per", "currency", "held_at", "source", "entered_by"}}
	for _, p := range prices {
		rows = append(rows, []string{p.Metal, p.Amount.String(), p.Per, p.Currency, p.HeldAt.String(), p.Source, p.EnteredBy})
	}
	if err := w.WriteAll(rows); err != nil {
		panic("value: " + err.Error()) // a buffer takes everything
	}
	return out.Bytes()
}

// PricesJSON writes prices as ReadPrices reads them.
func PricesJSON(prices []Price) ([]byte, error) {
	out, err := json.MarshalIndent(prices, "", "  ")
	return append(out, '\n'), err
}
