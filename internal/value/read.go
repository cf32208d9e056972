package value

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"wreath/internal/strictjson"
)

// The largest file of prices that is read.
const (
	MaxPrices    = 4 << 20 // bytes
	MaxPriceRows = 20_000
	maxPriceRow  = 8 << 10 // bytes of one price
)

// PriceRow is one row of a file of prices: the price, or all that is wrong with it.
type PriceRow struct {
	Line   int // of the file, from 1
	Price  Price
	Faults Faults // nil: the price can be used

	unread bool // reading stopped at a fault, so that nothing can be said of the other fields
}

// ReadPrices reads a file of prices and changes nothing: all rows come back, good and bad, so that
// an import can be shown before it is done. A file that begins with [ is JSON, a list of prices;
// any other is CSV whose first line names the columns as the fields of Price, parted by commas,
// semicolons or tabs. Prices from after now are refused. The error, a *strictjson.FieldError, is
// about the file as a whole.
func ReadPrices(data []byte, now time.Time) ([]PriceRow, error) {
	data = bytes.TrimPrefix(data, []byte("\ufeff")) // spreadsheets write it
	switch {
	case len(data) > MaxPrices:
		return nil, fileFault("Part it into several files.", "the file is larger than %d bytes", MaxPrices)
	case len(bytes.TrimSpace(data)) == 0:
		return nil, fileFault("Give prices as CSV or JSON; examples/house/prices.csv is one to start from.", "the file is empty")
	case bytes.IndexByte(data, 0) >= 0:
		return nil, fileFault("Save it as UTF-8.", "the file is not UTF-8 text (it looks like UTF-16)")
	case !utf8.Valid(data):
		return nil, fileFault("Save it as UTF-8 (not Latin-1 or another code page).", "the file is not UTF-8 text")
	}
	var rows []PriceRow
	var err error
	if bytes.TrimSpace(data)[0] == '[' {
		rows, err = readJSON(data)
	} else {
		rows, err = readCSV(data)
	}
	if err != nil {
		return nil, err
	}
	for i := range rows {
		rows[i].check(now)
	}
	findTwins(rows)
	return rows, nil
}

var errTooManyRows = fileFault("Part it into several files.", "the file holds more than %d prices", MaxPriceRows)

func fileFault(hint, reason string, args ...any) error {
	return &strictjson.FieldError{Reason: fmt.Sprintf(reason, args...), Hint: hint}
}

// Prices returns the good rows' prices, or an error where a row is bad: an import is whole or not
// at all.
func Prices(rows []PriceRow) ([]Price, error) {
	var all []Price
	var faults Faults
	for _, row := range rows {
		all = append(all, row.Price)
		for _, f := range row.Faults {
			faults = append(faults, &strictjson.FieldError{Path: strings.TrimSuffix(fmt.Sprintf("line %d %s", row.Line, f.Path), " "), Reason: f.Reason, Hint: f.Hint})
		}
	}
	if len(faults) > 0 {
		return nil, faults
	}
	return all, nil
}

// check adds what Price.Check finds to what was found when the row was read; of one field only
// the first fault is kept.
func (row *PriceRow) check(now time.Time) {
	if row.unread {
		return
	}
	if _, symbol, ok := gramsPer(row.Price.Per); ok {
		row.Price.Per = symbol // files write OZT and oz t
	}
	var found Faults
	errors.As(row.Price.Check(now), &found)
	for _, fault := range found {
		if !slices.ContainsFunc(row.Faults, func(f *strictjson.FieldError) bool { return f.Path == fault.Path }) {
			row.Faults = append(row.Faults, fault)
		}
	}
}

// findTwins marks the later of two rows that give one price twice, whether alike or not.
func findTwins(rows []PriceRow) {
	type key struct{ metal, currency, per, source, at string }
	lines := map[key]int{}
	for i := range rows {
		row := &rows[i]
		if row.Faults != nil {
			continue
		}
		p := row.Price
		k := key{p.Metal, p.Currency, p.Per, p.Source, p.HeldAt.UTC().Format(time.RFC3339Nano)}
		if line, twice := lines[k]; twice {
			row.Faults.add("held_at", "Keep the one that is right.", "line %d gives a price of the same metal, source and time already", line)
			continue
		}
		lines[k] = row.Line
	}
}

func (row *PriceRow) tooLong(length int) bool {
	if length <= maxPriceRow {
		return false
	}
	row.unread = true
	row.Faults.add("", "Shorten its texts.", "the price takes more than %d bytes", maxPriceRow)
	return true
}
