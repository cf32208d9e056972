package tables

import (
	"bufio"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"
)

// Bounds of a workbook (Office Open XML, ECMA-376; the numbers are those of the most common spreadsheet
// program, memory).
const (
	maxSheetRows = 1_048_576
	maxCellUnits = 32_767 // of UTF-16
)

// formatOfMoment shows a date cell as it stands in CSV. The serial number of a workbook knows no zone;
// it is in UTC here, as the letter says.
const (
	formatOfMoment = `yyyy\-mm\-dd\Thh:mm:ss\Z`
	formatOfDay    = `yyyy\-mm\-dd`
)

// book writes one sheet.
type book struct {
	file   *excelize.File
	styles map[string]int // by number format
}

// style is the style of a number format.
func (b *book) style(format string) (int, error) {
	if id, known := b.styles[format]; known {
		return id, nil
	}
	id, err := b.file.NewStyle(&excelize.Style{CustomNumFmt: &format})
	if err == nil {
		b.styles[format] = id
	}
	return id, err
}

// writeXLSX writes a workbook of one sheet with a frozen row of headings. Numbers and times are cells of
// their kind where the program that opens it can hold all their digits, and texts otherwise.
func writeXLSX(out *bufio.Writer, t Table) (err error) {
	b := &book{excelize.NewFile(), map[string]int{}}
	defer func() {
		if closed := b.file.Close(); err == nil {
			err = closed
		}
	}()
	name := sheetName(t.Name)
	if err := b.file.SetSheetName("Sheet1", name); err != nil {
		return err
	}
	sheet, err := b.file.NewStreamWriter(name)
	if err != nil {
		return err
	}
	bold, err := b.file.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}, Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"}})
	if err != nil {
		return err
	}
	cells := make([]any, len(t.Columns))
	for i, c := range t.Columns {
		if err := sheet.SetColWidth(i+1, i+1, c.width()); err != nil {
			return err
		}
		if cells[i], err = text(Guard(c.Heading()), bold); err != nil {
			return err
		}
	}
	if err := sheet.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	if err := sheet.SetRow("A1", cells); err != nil {
		return err
	}
	n := 1
	err = t.each(func(row []string) error {
		if n++; n > maxSheetRows {
			return fmt.Errorf("a sheet holds %d rows at most; ask for csv or jsonl", maxSheetRows)
		}
		for i, cell := range row {
			if cells[i], err = b.cell(t.Columns[i].Kind, cell); err != nil {
				return fmt.Errorf("row %d of the table %s, %s: %w", n-1, t.Name, t.Columns[i].Name, err)
			}
		}
		return sheet.SetRow("A"+strconv.Itoa(n), cells)
	})
	if err != nil {
		return err
	}
	if err := sheet.Flush(); err != nil {
		return err
	}
	return b.file.Write(out)
}

// width is the width of a column in digits.
func (c Column) width() float64 {
	switch c.Kind {
	case Time:
		return 22
	case Day:
		return 12
	}
	return float64(min(max(len([]rune(c.Heading()))+2, 12), 32))
}

// sheetName keeps what a sheet may be called: 31 characters, none of \ / ? * [ ] :.
func sheetName(name string) string {
	name = strings.Trim(strings.Map(func(r rune) rune {
		if strings.ContainsRune(`\/?*[]:`, r) || r < ' ' || r == utf8.RuneError {
			return '-'
		}
		return r
	}, name), "' ")
	if r := []rune(name); len(r) > 31 {
		name = string(r[:31])
	}
	if name == "" {
		return "table"
	}
	return name
}

// cell is what stands in the workbook for a cell; nil is an empty one.
func (b *book) cell(kind Kind, cell string) (any, error) {
	if cell == "" {
		return nil, nil
	}
	var value any
	var format string
	switch kind {
	case Text:
		return text(Guard(cell), 0)
	case Number:
		x, exact := double(cell)
		if !exact {
			return text(cell, 0)
		}
		value, format = x, "0"
		if n := decimals(cell); n > 0 {
			format += "." + strings.Repeat("0", n)
		}
	case Time, Day:
		layout := moment
		if format = formatOfMoment; kind == Day {
			layout, format = time.DateOnly, formatOfDay
		}
		at, err := time.Parse(layout, cell)
		if err != nil {
			return nil, err
		}
		serial, known := serialOf(at)
		if !known {
			return text(cell, 0)
		}
		value = serial
	}
	style, err := b.style(format)
	return excelize.Cell{StyleID: style, Value: value}, err
}

// double is a decimal as a binary number with 15 digits, all that a spreadsheet shows. It is not exact
// where digits would be lost or changed.
func double(cell string) (x float64, exact bool) {
	digits := strings.TrimLeft(strings.ReplaceAll(strings.TrimPrefix(cell, "-"), ".", ""), "0")
	n := decimals(cell)
	if len(digits) > 15 || n > 30 || digits == "" && cell[0] == '-' {
		return 0, false
	}
	x, err := strconv.ParseFloat(cell, 64)
	return x, err == nil && strconv.FormatFloat(x, 'f', n, 64) == cell
}

// epoch is day 0 of a workbook's calendar. It holds from 1 March 1900 on, since day 60 stands for a
// 29 February that never was.
var (
	epoch    = time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	firstDay = time.Date(1900, 3, 1, 0, 0, 0, 0, time.UTC)
	lastDay  = time.Date(9999, 12, 31, 0, 0, 0, 0, time.UTC)
)

// serialOf is the number that stands for a moment in a workbook.
func serialOf(at time.Time) (serial float64, known bool) {
	if at.Before(firstDay) || at.After(lastDay) {
		return 0, false
	}
	return float64(at.Unix()-epoch.Unix()) / 86400, true
}

// momentOf is the moment that a number of a workbook stands for, to the second.
func momentOf(serial float64) (at time.Time, known bool) {
	if !(serial >= 61 && serial < 2_958_466) { // 1 March 1900 to 31 December 9999
		return at, false
	}
	return time.Unix(epoch.Unix()+int64(math.Round(serial*86400)), 0).UTC(), true
}

// text is a cell that holds a text. Escapes of the form _x0041_ would be read as one character, so a text
// is cut into runs where one could begin.
func text(s string, style int) (any, error) {
	if units := len(utf16.Encode([]rune(s))); units > maxCellUnits {
		return nil, fmt.Errorf("%.30q... has %d characters and a cell of a workbook holds %d; ask for csv or jsonl", s, units, maxCellUnits)
	}
	for _, r := range s {
		if r < ' ' && r != '\t' && r != '\n' && r != '\r' || r == 0xFFFE || r == 0xFFFF {
			return nil, fmt.Errorf("the character %U can't stand in a workbook; ask for csv or jsonl", r)
		}
	}
	if !strings.Contains(s, "_x") {
		return excelize.Cell{StyleID: style, Value: s}, nil
	}
	var runs []excelize.RichTextRun
	for rest := s; rest != ""; {
		cut := strings.Index(rest, "_x") + 1
		if cut == 0 {
			cut = len(rest)
		}
		runs, rest = append(runs, excelize.RichTextRun{Text: rest[:cut]}), rest[cut:]
	}
	return excelize.Cell{StyleID: style, Value: runs}, nil
}
