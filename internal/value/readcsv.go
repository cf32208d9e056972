package value

import (
	"encoding/csv"
	"errors"
	"io"
	"reflect"
	"slices"
	"strings"

	"wreath/internal/strictjson"
)

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
