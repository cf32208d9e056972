package value

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
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
		return nil, fileFault("Give prices as CSV or JSON; examples/prices.csv is one to start from.", "the file is empty")
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

// readJSON reads a list of prices. Each is read strictly on its own, so that one bad one does not
// hide the rest.
func readJSON(data []byte) ([]PriceRow, error) {
	dec := json.NewDecoder(bytes.NewReader(data))
	counted, lines := 0, 1
	line := func() int { // where the next value begins
		from := min(int(dec.InputOffset()), len(data))
		for from < len(data) && strings.IndexByte(" \t\r\n,", data[from]) >= 0 {
			from++
		}
		lines += bytes.Count(data[counted:from], []byte("\n"))
		counted = from
		return lines
	}
	notJSON := func(err error) error {
		return fileFault("Check commas, quotes and brackets there; was the file cut off?", "not JSON from line %d on: %v", line(), err)
	}
	if _, err := dec.Token(); err != nil {
		return nil, notJSON(err)
	}
	var rows []PriceRow
	for dec.More() {
		if len(rows) == MaxPriceRows {
			return nil, errTooManyRows
		}
		row := PriceRow{Line: line()}
		var raw json.RawMessage
		if err := dec.Decode(&raw); err != nil {
			return nil, notJSON(err)
		}
		row.read(raw)
		rows = append(rows, row)
	}
	if _, err := dec.Token(); err != nil {
		return nil, notJSON(err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return nil, fileFault("End the file after the list.", "more follows after the end of the list, on line %d", line())
	}
	if len(rows) == 0 {
		return nil, fileFault(`Give prices: [{"metal": "gold", …}].`, "the list holds no price")
	}
	return rows, nil
}

func (row *PriceRow) read(raw []byte) {
	if row.tooLong(len(raw)) {
		return
	}
	err := strictjson.Unmarshal(raw, &row.Price)
	if err == nil {
		return
	}
	row.unread = true
	var field *strictjson.FieldError
	if errors.As(err, &field) {
		row.Faults = Faults{field}
		return
	}
	row.Faults.add("", "Check this price.", "%v", err)
}

func (row *PriceRow) tooLong(length int) bool {
	if length <= maxPriceRow {
		return false
	}
	row.unread = true
	row.Faults.add("", "Shorten its texts.", "the price takes more than %d bytes", maxPriceRow)
	return true
}

// readCSV reads rows of one line each: the texts of a price have no line ends, so a quotation mark
// that is never closed costs one row and not the rest of the file.
func readCSV(data []byte) ([]PriceRow, error) {
	lines := strings.Split(strings.ReplaceAll(string(data), "\r\n", "\n"), "\n")
	if strings.Contains(lines[0], "\r") {
		return nil, fileFault("Save it with the line ends CR LF or LF.", "its lines end with carriage returns alone")
	}
	if len(lines[0]) > maxPriceRow {
		return nil, fileFault("Begin with the names of the columns: metal,amount,per,currency,held_at,source.", "the first line is longer than %d bytes", maxPriceRow)
	}
	delimiter := ','
	for _, d := range []rune{';', '\t'} {
		if strings.Count(lines[0], string(d)) > strings.Count(lines[0], string(delimiter)) {
			delimiter = d
		}
	}
	head, err := cells(lines[0], delimiter)
	if err != nil {
		return nil, fileFault("Column names need no quotation marks.", "the line of column names can't be read: %v", err)
	}
	columns, err := findColumns(head)
	if err != nil {
		return nil, err
	}
	var rows []PriceRow
	var amounts []string // of each row, as written
	for i, text := range lines[1:] {
		if strings.Trim(text, " \t\r,;") == "" {
			continue // as spreadsheets leave them at the end
		}
		if len(rows) == MaxPriceRows {
			return nil, errTooManyRows
		}
		row := PriceRow{Line: i + 2}
		amount := ""
		if row.tooLong(len(text)) {
			rows, amounts = append(rows, row), append(amounts, amount)
			continue
		}
		switch parts, err := cells(text, delimiter); {
		case err != nil:
			row.unread = true
			row.Faults.add("", `Put the whole cell in quotation marks and write a mark inside it twice: "3"" bar".`, "the quotation marks of the row do not pair")
		case len(parts) != len(columns):
			row.unread = true
			row.Faults.add("", "Leave a cell empty rather than out; put a cell that holds the delimiter in quotation marks.",
				"the row has %d cells, the first line names %d columns", len(parts), len(columns))
		default:
			amount = row.fill(columns, parts)
		}
		rows, amounts = append(rows, row), append(amounts, amount)
	}
	if len(rows) == 0 {
		return nil, fileFault("Give one price on each line below the column names.", "the file holds no price")
	}
	readAmounts(rows, amounts, delimiter == ',')
	return rows, nil
}

func cells(line string, delimiter rune) ([]string, error) {
	r := csv.NewReader(strings.NewReader(line))
	r.Comma = delimiter
	parts, err := r.Read()
	if err != nil {
		return nil, err
	}
	if _, err := r.Read(); err != io.EOF {
		return nil, errors.New("it goes on in a second row")
	}
	for i := range parts {
		parts[i] = strings.TrimSpace(parts[i])
	}
	return parts, nil
}

// findColumns checks the names of the columns against the fields of a price.
func findColumns(head []string) ([]string, error) {
	priceType := reflect.TypeFor[Price]()
	var columns []string
	for _, name := range head {
		name = strings.ToLower(name)
		known := slices.ContainsFunc(strictjson.Fields(priceType), func(f strictjson.Field) bool { return f.Name == name })
		switch {
		case !known:
			return nil, strictjson.Unknown(name, name, priceType)
		case slices.Contains(columns, name):
			return nil, &strictjson.FieldError{Path: name, Reason: "two columns have this name", Hint: "Keep one of them."}
		}
		columns = append(columns, name)
	}
	for _, f := range strictjson.Fields(priceType) {
		if f.Name != "entered_by" && !slices.Contains(columns, f.Name) {
			return nil, &strictjson.FieldError{Path: f.Name, Reason: "the first line does not name this column", Hint: "Add it: " + f.Doc + "."}
		}
	}
	return columns, nil
}

// fill sets the fields of a row but for the amount, which it returns: how a comma in it is read
// depends on the whole file.
func (row *PriceRow) fill(columns, parts []string) (amount string) {
	p := &row.Price
	for i, cell := range parts {
		switch columns[i] {
		case "metal":
			p.Metal = strings.ToLower(cell)
		case "amount":
			amount = cell
		case "per":
			p.Per = cell
		case "currency":
			p.Currency = cell
		case "held_at":
			if cell == "" {
				break // Check says that it is missing
			}
			row.keep("held_at", p.HeldAt.FromText(cell))
		case "source":
			p.Source = cell
		case "entered_by":
			p.EnteredBy = cell
		}
	}
	return amount
}

// keep notes an error of a cell under its column.
func (row *PriceRow) keep(column string, err error) {
	var field *strictjson.FieldError
	if errors.As(err, &field) {
		field.Path = column
		row.Faults = append(row.Faults, field)
	}
}

// readAmounts reads the amounts with a decimal point or comma. 1,234 may be one and a bit or one
// thousand and more, so a comma with three digits behind it is refused in a file whose other amounts
// have points, or whose columns are parted by commas; so is 1.234 among amounts with commas.
func readAmounts(rows []PriceRow, amounts []string, commaFile bool) {
	points, commas := commaFile, false
	for _, a := range amounts {
		points = points || strings.Contains(a, ".")
		commas = commas || strings.Contains(a, ",")
	}
	for i := range rows {
		row, text := &rows[i], amounts[i]
		switch {
		case row.unread:
			continue
		case points && commas && ambiguous(text):
			row.Faults.add("amount", "Write it with four decimals, or without: "+strings.ReplaceAll(text, ",", ".")+"0 or "+strings.NewReplacer(",", "", ".", "").Replace(text)+".",
				"%q can be read as a decimal fraction and as thousands", text)
			continue
		case strings.Count(text, ",") == 1 && !strings.Contains(text, "."):
			text = strings.Replace(text, ",", ".", 1)
		}
		row.keep("amount", row.Price.Amount.FromText(text))
	}
}

// ambiguous is true for a number whose mark may be that of the thousands: 1,234 or 12.345.
func ambiguous(text string) bool {
	i := strings.IndexAny(text, ".,")
	return i >= 1 && i <= 3 && len(text) == i+4 && text[0] != '0' && onlyDigits(text[:i]) && onlyDigits(text[i+1:])
}
