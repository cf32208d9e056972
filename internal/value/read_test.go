package value

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wreath/internal/strictjson"
)

const csvHead = "metal,amount,per,currency,held_at,source\n"

func TestExamplesAgree(t *testing.T) {
	read := func(name string) []Price {
		rows, err := ReadPrices(example(t, name), noon)
		if err != nil {
			t.Fatal(err)
		}
		prices, err := Prices(rows)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		return prices
	}
	fromCSV, fromJSON := read("house/prices.csv"), read("house/prices.json")
	if len(fromCSV) != 4 || len(fromJSON) != 3 {
		t.Fatalf("%d and %d prices", len(fromCSV), len(fromJSON))
	}
	for i, p := range fromJSON {
		if p.String() != fromCSV[i].String() || !p.HeldAt.Equal(fromCSV[i].HeldAt.Time) || !strings.Contains(p.Source, "invented") {
			t.Errorf("JSON %v, CSV %v", p, fromCSV[i])
		}
	}
}

func TestReadsAmounts(t *testing.T) {
	row := func(d, amount string) string {
		return strings.NewReplacer(",", d).Replace(csvHead) + strings.Join([]string{"gold", amount, "g", "EUR", "2026-11-26T09:00:00+01:00", "invented"}, d) + "\n"
	}
	for _, c := range []struct{ text, want string }{
		{row(",", "101.40"), "101.40"},
		{row(",", `"101,40"`), "101.40"},
		{row(";", "101,40"), "101.40"},
		{row("\t", "101,4"), "101.4"},
		{row(";", "1,234"), "1.234"},
		{"\ufeff" + row(",", "101.400"), "101.400"},
		{strings.ReplaceAll(row(",", "7"), "\n", "\r\n"), "7"},
		{strings.ReplaceAll(row(",", "7"), ",g,", ",Oz T,"), "7"},
	} {
		rows, err := ReadPrices([]byte(c.text), noon)
		if err != nil || len(rows) != 1 || rows[0].Faults != nil || rows[0].Price.Amount.String() != c.want {
			t.Errorf("%q: %+v, %v, want %s", c.text, rows, err, c.want)
		}
	}
	for _, amount := range []string{`"1,234"`, `"1.234,50"`, `"1,234.50"`, "1e3", "€ 5", "12 4"} {
		rows, err := ReadPrices([]byte(row(",", amount)), noon)
		if err != nil || len(rows) != 1 {
			t.Errorf("%s: %v, %v", amount, rows, err)
			continue
		}
		wantFault(t, rows[0].Faults, "amount", "")
	}
}

// Points among commas: what may be thousands is refused, what can't be is read.
func TestMixedMarks(t *testing.T) {
	text := strings.ReplaceAll(csvHead, ",", ";")
	for i, amount := range []string{"78,50", "1.234", "1,234", "12.50"} {
		text += fmt.Sprintf("gold;%s;g;EUR;2026-11-26T09:0%d:00Z;invented\n", amount, i)
	}
	rows, err := ReadPrices([]byte(text), noon)
	if err != nil || len(rows) != 4 {
		t.Fatal(rows, err)
	}
	if rows[0].Faults != nil || rows[3].Faults != nil {
		t.Errorf("plain amounts are refused: %v, %v", rows[0].Faults, rows[3].Faults)
	}
	wantFault(t, rows[1].Faults, "amount", "thousands")
	wantFault(t, rows[2].Faults, "amount", "thousands")
}

// All rows come back, each bad one with its line and all that is wrong with it.
func TestBadRowsDoNotHideGoodOnes(t *testing.T) {
	text := csvHead +
		"gold,101.40,g,EUR,2026-11-26T09:00:00Z,invented\n" + // 2
		"gald,101.40,g,EU,2026-11-26T09:00:00Z,invented\n" + // 3
		"\n" +
		"gold,\"101.40,g,EUR,2026-11-26T09:00:00Z,invented\n" + // 5: the mark is never closed
		"gold,101.40,g,EUR\n" + // 6
		"silver,,kg,EUR,yesterday,invented\n" + // 7
		"silver,1180,kg,EUR,2026-11-27T09:00:00Z,invented\n" + // 8: tomorrow
		"gold,101.50,g,EUR,2026-11-26T10:00:00+01:00,invented\n" + // 9: line 2 once more
		",,,,,\n" +
		"silver,1180,kg,EUR,2026-11-26T09:00:00Z,invented\n" // 11
	rows, err := ReadPrices([]byte(text), noon)
	if err != nil {
		t.Fatal(err)
	}
	bad := map[int][]string{3: {"metal", "currency"}, 5: {""}, 6: {""}, 7: {"held_at", "amount"}, 8: {"held_at"}, 9: {"held_at"}}
	seen := []int{}
	for _, row := range rows {
		seen = append(seen, row.Line)
		want := bad[row.Line]
		if len(row.Faults) != len(want) {
			t.Errorf("line %d: %v, want faults of %q", row.Line, row.Faults, want)
		}
		for _, path := range want {
			wantFault(t, row.Faults, path, "")
		}
	}
	if fmt.Sprint(seen) != "[2 3 5 6 7 8 9 11]" {
		t.Errorf("rows of the lines %v", seen)
	}
	_, err = Prices(rows)
	wantFault(t, err, "line 3 metal", "gald")
	wantFault(t, err, "line 8 held_at", "future")
}

func TestJSONRows(t *testing.T) {
	good := `{"metal":"gold","amount":101.40,"per":"g","currency":"EUR","held_at":"2026-11-26T09:00:00Z","source":"invented"}`
	text := "[\n" + good + ",\n{\"metal\": \"gold\", \"prize\": 1},\n\n 17,\n" + strings.Replace(good, "gold", "silver", 1) + "]"
	rows, err := ReadPrices([]byte(text), noon)
	if err != nil || len(rows) != 4 {
		t.Fatal(rows, err)
	}
	for i, line := range []int{2, 3, 5, 6} {
		if rows[i].Line != line {
			t.Errorf("row %d is on line %d, want %d", i, rows[i].Line, line)
		}
	}
	if rows[0].Faults != nil || rows[3].Faults != nil || rows[0].Price.Amount.String() != "101.40" {
		t.Errorf("good rows: %+v, %+v", rows[0], rows[3])
	}
	wantFault(t, rows[1].Faults, "prize", "no such field")
	wantFault(t, rows[2].Faults, "", "17")
}

// A price that is far too long costs its own row only.
func TestLongRows(t *testing.T) {
	long := strings.Repeat("x", 9000)
	good := `{"metal":"gold","amount":7,"per":"g","currency":"EUR","held_at":"2026-11-26T09:00:00Z","source":"invented"}`
	for _, text := range []string{
		csvHead + "gold,7,g,EUR,2026-11-26T09:00:00Z," + long + "\ngold,7,g,EUR,2026-11-26T09:00:00Z,invented\n",
		"[" + strings.Replace(good, "invented", long, 1) + ",\n" + good + "]",
	} {
		rows, err := ReadPrices([]byte(text), noon)
		if err != nil || len(rows) != 2 || rows[1].Faults != nil {
			t.Errorf("%v, %v", rows, err)
			continue
		}
		wantFault(t, rows[0].Faults, "", "more than 8192 bytes")
	}
}

func TestFilesRefused(t *testing.T) {
	for text, reason := range map[string]string{
		"":                               "empty",
		" \n":                            "empty",
		"metal;amount\x00":               "UTF-16",
		"m\xe9tal":                       "UTF-8",
		"metal,amount\n":                 "does not name this column",
		"metal,amount,price\n":           "no such field",
		"metal,metal\n":                  "two columns",
		csvHead:                          "no price",
		csvHead + "\n,,,\n":              "no price",
		"[]":                             "no price",
		"[{":                             "not JSON",
		"[{}":                            "not JSON",
		"[{}] {}":                        "more follows",
		"metal,amount\rgold,5\r":         "carriage returns",
		strings.Repeat("a", MaxPrices+1): "larger",

		"[1" + strings.Repeat(",\n1", MaxPriceRows) + "]": "more than 20000",
		csvHead + strings.Repeat("a\n", MaxPriceRows+1):   "more than 20000",
		"metal" + strings.Repeat(",", 100):                "no such field",
		strings.Repeat("a,", 1<<20):                       "longer than",
		strings.Repeat("[", 1<<20):                        "not JSON",
	} {
		_, err := ReadPrices([]byte(text), noon)
		var field *strictjson.FieldError
		if !errors.As(err, &field) || !strings.Contains(field.Reason, reason) || field.Hint == "" {
			t.Errorf("%.40q: %v, want …%s… with a hint", text, err, reason)
		}
	}
}

func drawPrice(t *rapid.T) Price {
	p := priceOf(rapid.SampledFrom(Metals).Draw(t, "metal"), "1", rapid.SampledFrom([]string{"g", "kg", "ozt", "tola", "dwt"}).Draw(t, "per"))
	p.Amount = drawn(t, "amount", 1e6).plus(dec("0.01"))
	p.Currency = rapid.SampledFrom([]string{"EUR", "USD", "JPY", "KWD", "INR"}).Draw(t, "currency")
	p.Source = rapid.StringMatching(`[a-z"][a-z ,;"äß€]{0,20}[a-z"]`).Draw(t, "source")
	p.EnteredBy = rapid.StringMatching(`([a-z]{1,8})?`).Draw(t, "by")
	zone := time.FixedZone("", 900*rapid.IntRange(-48, 56).Draw(t, "zone"))
	p.HeldAt = Moment{noon.Add(-time.Duration(rapid.Int64Range(1, 1e15).Draw(t, "age"))).In(zone)}
	return p
}

// What is written is read back without loss, and written again byte for byte.
func TestPricesRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var prices []Price
		for i := range rapid.IntRange(1, 5).Draw(t, "prices") {
			p := drawPrice(t)
			p.Source = fmt.Sprint(i, p.Source)
			prices = append(prices, p)
		}
		asJSON, err := PricesJSON(prices)
		if err != nil {
			t.Fatal(err)
		}
		for _, file := range [][]byte{PricesCSV(prices), asJSON} {
			rows, err := ReadPrices(file, noon)
			if err != nil {
				t.Fatalf("%s\n%v", file, err)
			}
			again, err := Prices(rows)
			if err != nil {
				t.Fatalf("%s\n%v", file, err)
			}
			if !bytes.Equal(PricesCSV(again), PricesCSV(prices)) {
				t.Fatalf("%s\ncomes back as\n%s", PricesCSV(prices), PricesCSV(again))
			}
		}
	})
}

func FuzzReadPrices(f *testing.F) {
	f.Add([]byte(csvHead + "gold,101.40,g,EUR,2026-11-26T09:00:00+01:00,invented\n"))
	f.Add([]byte("metal;amount;per;currency;held_at;source;entered_by\ngold;\"1,5\";oz t;EUR;2026-11-26T09:00:00Z;x;y\n"))
	f.Add([]byte(`[{"metal":"gold","amount":101.40,"per":"g","currency":"EUR","held_at":"2026-11-26T09:00:00Z","source":"x"}]`))
	f.Add([]byte("[[{}]]"))
	f.Add([]byte("metal,\"\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		rows, err := ReadPrices(data, noon)
		if err != nil {
			var field *strictjson.FieldError
			if !errors.As(err, &field) || field.Reason == "" || field.Hint == "" {
				t.Errorf("%q: error %v without reason or hint", data, err)
			}
			return
		}
		var good []Price
		for _, row := range rows {
			for _, fault := range row.Faults {
				if fault.Reason == "" || fault.Hint == "" {
					t.Errorf("line %d: %v without reason or hint", row.Line, fault)
				}
			}
			if row.Faults != nil {
				continue
			}
			if err := row.Price.Check(noon); err != nil {
				t.Errorf("line %d is taken, and can't be used: %v", row.Line, err)
			}
			good = append(good, row.Price)
		}
		if len(good) == 0 {
			return
		}
		again, err := ReadPrices(PricesCSV(good), noon)
		if err != nil {
			t.Fatal(err)
		}
		for i, row := range again {
			if row.Faults != nil || row.Price.String() != good[i].String() {
				t.Errorf("%+v comes back as %+v", good[i], row)
			}
		}
	})
}
