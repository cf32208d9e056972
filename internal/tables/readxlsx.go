package tables

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// workbook is a workbook that is read part by part, none of them further than is allowed.
type workbook struct {
	zip    *zip.Reader
	left   int // bytes that may still be unpacked
	limits Limits

	shared   []string // texts that cells name by their place
	formats  []string // number format of each style
	from1904 bool
}

// errTooMuch says that a workbook unpacks to more than is read.
var errTooMuch = errors.New("too much")

// readXLSX reads the first sheet of a workbook that is not hidden. Only what is asked for is unpacked, and
// never more than the limits allow, whatever the file says of its sizes.
func readXLSX(data []byte, limits Limits) (*Sheet, error) {
	s, err := (&workbook{left: limits.Unpacked, limits: limits}).read(data)
	var known *ReadError
	switch {
	case err == nil, errors.As(err, &known):
		return s, err
	case errors.Is(err, errTooMuch):
		return nil, unread(0, "Leave out sheets, pictures and formats, or save it as CSV.", "the workbook unpacks to more than %d bytes", limits.Unpacked)
	}
	return nil, unread(0, "Open it in a spreadsheet and save it as a workbook (.xlsx) or as CSV.", "the workbook can't be read: %v", err)
}

func (b *workbook) read(data []byte) (s *Sheet, err error) {
	if b.zip, err = zip.NewReader(bytes.NewReader(data), int64(len(data))); err != nil {
		return nil, err
	}
	if !slices.ContainsFunc(b.zip.File, func(f *zip.File) bool { return f.Name == "xl/workbook.xml" }) {
		return nil, unread(0, "Save it as a workbook of the form .xlsx, or as CSV.", "the file is packed, but no workbook of the form .xlsx")
	}
	name, err := b.first()
	if err != nil {
		return nil, err
	}
	if err := b.takeShared(); err != nil {
		return nil, err
	}
	if err := b.takeFormats(); err != nil {
		return nil, err
	}
	return b.sheet(name)
}

// part goes through the elements of a part: begin is called at the start of each with its name and its
// attributes, and may read on.
func (b *workbook) part(name string, begin func(dec *xml.Decoder, e xml.StartElement) error) error {
	f, err := b.zip.Open(name)
	if err != nil {
		return err
	}
	defer f.Close()
	limited := &io.LimitedReader{R: f, N: int64(b.left) + 1}
	defer func() { b.left = int(limited.N) - 1 }()
	dec := xml.NewDecoder(limited)
	for {
		token, err := dec.Token()
		if err == io.EOF && limited.N > 0 {
			return nil
		}
		if limited.N <= 0 {
			return errTooMuch
		}
		if err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		if e, is := token.(xml.StartElement); is {
			if err := begin(dec, e); err != nil {
				if limited.N <= 0 {
					return errTooMuch
				}
				return err
			}
		}
	}
}

// attr is an attribute by its name without a name space.
func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// first is the part of the first sheet that is not hidden.
func (b *workbook) first() (string, error) {
	id := ""
	err := b.part("xl/workbook.xml", func(_ *xml.Decoder, e xml.StartElement) error {
		switch {
		case e.Name.Local == "workbookPr":
			v := attr(e, "date1904")
			b.from1904 = v == "1" || v == "true"
		case e.Name.Local == "sheet" && id == "" && (attr(e, "state") == "" || attr(e, "state") == "visible"):
			for _, a := range e.Attr {
				if a.Name.Local == "id" && a.Name.Space != "" {
					id = a.Value
				}
			}
		}
		return nil
	})
	if err != nil {
		return "", err
	}
	target := ""
	err = b.part("xl/_rels/workbook.xml.rels", func(_ *xml.Decoder, e xml.StartElement) error {
		if e.Name.Local == "Relationship" && attr(e, "Id") == id {
			target = attr(e, "Target")
		}
		return nil
	})
	if err == nil && (id == "" || target == "") {
		err = unread(0, "Put the list on the first sheet.", "the workbook has no sheet")
	}
	if rest, rooted := strings.CutPrefix(target, "/"); rooted {
		return path.Clean(rest), err
	}
	return path.Join("xl", target), err
}

func (b *workbook) has(name string) bool {
	return slices.ContainsFunc(b.zip.File, func(f *zip.File) bool { return f.Name == name })
}

func (b *workbook) takeShared() error {
	const name = "xl/sharedStrings.xml"
	if !b.has(name) {
		return nil
	}
	return b.part(name, func(dec *xml.Decoder, e xml.StartElement) error {
		if e.Name.Local != "si" {
			return nil
		}
		text, err := texts(dec)
		b.shared = append(b.shared, text)
		return err
	})
}

// texts puts together the runs of a text up to the end of the element it stands in. How a word is
// pronounced is left out.
func texts(dec *xml.Decoder) (string, error) {
	var out, run strings.Builder
	silent := 0
	for depth := 1; depth > 0; {
		token, err := dec.Token()
		if err != nil {
			return "", err
		}
		switch t := token.(type) {
		case xml.StartElement:
			depth++
			if t.Name.Local == "rPh" || silent > 0 {
				silent++
			}
			run.Reset()
		case xml.EndElement:
			depth--
			if t.Name.Local == "t" && silent == 0 {
				out.WriteString(unescape(run.String()))
			}
			if silent > 0 {
				silent--
			}
		case xml.CharData:
			run.Write(t)
		}
	}
	return out.String(), nil
}

// content is the text of an element up to its end.
func content(dec *xml.Decoder) (string, error) {
	var text strings.Builder
	for {
		token, err := dec.Token()
		if err != nil {
			return "", err
		}
		switch t := token.(type) {
		case xml.CharData:
			text.Write(t)
		case xml.StartElement:
			err = dec.Skip()
		case xml.EndElement:
			return text.String(), nil
		}
		if err != nil {
			return "", err
		}
	}
}

// escaped is how a workbook writes characters that XML can't hold (ECMA-376 part 1, ST_Xstring).
var escaped = regexp.MustCompile(`_x[0-9A-Fa-f]{4}_`)

func unescape(s string) string {
	if !strings.Contains(s, "_x") {
		return s
	}
	return escaped.ReplaceAllStringFunc(s, func(e string) string {
		n, err := strconv.ParseUint(e[2:6], 16, 16)
		if err != nil || n >= 0xD800 && n < 0xE000 { // half of a character
			return e
		}
		return string(rune(n))
	})
}

// takeFormats reads which number format each style has.
func (b *workbook) takeFormats() error {
	const name = "xl/styles.xml"
	if !b.has(name) {
		return nil
	}
	custom := map[string]string{}
	within := false
	return b.part(name, func(_ *xml.Decoder, e xml.StartElement) error {
		switch e.Name.Local {
		case "numFmt":
			custom[attr(e, "numFmtId")] = attr(e, "formatCode")
		case "cellXfs":
			within = true
		case "cellStyles", "dxfs":
			within = false
		case "xf":
			if id := attr(e, "numFmtId"); within {
				format, known := custom[id]
				if !known {
					format = builtIn(id)
				}
				b.formats = append(b.formats, format)
			}
		}
		return nil
	})
}

// builtIn are the number formats that have a number only, as far as they change what is read (ECMA-376
// part 1, 18.8.30).
func builtIn(id string) string {
	n, err := strconv.Atoi(id)
	switch {
	case err != nil:
		return ""
	case n == 1:
		return "0"
	case n == 2:
		return "0.00"
	case n == 22:
		return "yyyy-mm-dd hh:mm"
	case n >= 14 && n <= 17:
		return "yyyy-mm-dd"
	case n >= 18 && n <= 21 || n >= 45 && n <= 47:
		return "hh:mm:ss"
	}
	return ""
}

// sheet reads the rows of a sheet. The first that holds anything are the headings.
func (b *workbook) sheet(name string) (*Sheet, error) {
	s := &Sheet{Format: XLSX}
	no, kept := 0, 0
	err := b.part(name, func(dec *xml.Decoder, e xml.StartElement) error {
		if e.Name.Local != "row" {
			return nil
		}
		no++
		if r := attr(e, "r"); r != "" {
			n, err := strconv.Atoi(r)
			if err != nil || n < no || n > maxSheetRows {
				return fmt.Errorf("the row %q is out of its order", r)
			}
			no = n
		}
		cells, err := b.row(dec, no)
		if err != nil {
			return err
		}
		for _, cell := range cells {
			kept += len(cell)
		}
		switch {
		case kept > b.limits.Unpacked:
			return errTooMuch
		case len(cells) == 0:
			return nil
		case s.Headings == nil:
			return s.head(cells, b.limits)
		}
		return s.add(no, cells, b.limits)
	})
	if err == nil && s.Headings == nil {
		err = unread(0, "The first row holds the headings.", "the first sheet is empty")
	}
	return s, err
}

// row reads the cells of a row up to its end, without the empty ones behind the last.
func (b *workbook) row(dec *xml.Decoder, no int) (cells []string, err error) {
	at := 0
	for {
		token, err := dec.Token()
		if err != nil {
			return nil, err
		}
		switch t := token.(type) {
		case xml.EndElement:
			if t.Name.Local == "row" {
				return cells, nil
			}
		case xml.StartElement:
			if t.Name.Local != "c" {
				if err := dec.Skip(); err != nil {
					return nil, err
				}
				continue
			}
			at++
			if r := attr(t, "r"); r != "" {
				n := columnOf(r)
				if n < at {
					return nil, fmt.Errorf("the cell %q is out of its order", r)
				}
				at = n
			}
			cell, err := b.cell(dec, t, no)
			if err != nil {
				return nil, err
			}
			if cell == "" {
				continue
			}
			if at > b.limits.Columns {
				return nil, unread(no, "Leave out the columns that are not needed.", "the cell %.30q stands beyond column %d", cell, b.limits.Columns)
			}
			cells = append(cells, make([]string, at-len(cells))...)
			cells[at-1] = cell
		}
	}
}

// columnOf is the column of a reference such as AB12, from 1; 0 when there is none.
func columnOf(ref string) (n int) {
	for _, r := range ref {
		if r < 'A' || r > 'Z' || n > 1<<20 {
			break
		}
		n = 26*n + int(r-'A') + 1
	}
	return n
}

// cell reads one cell up to its end.
func (b *workbook) cell(dec *xml.Decoder, e xml.StartElement, no int) (string, error) {
	var value, inline string
	formula := false
	for {
		token, err := dec.Token()
		if err != nil {
			return "", err
		}
		switch t := token.(type) {
		case xml.EndElement:
			if t.Name.Local != "c" {
				continue
			}
			if formula && value == "" && attr(e, "t") != "str" {
				return "", unread(no, "Open the file in a spreadsheet, save it and take it again.", "cell %s holds a formula that was never computed", attr(e, "r"))
			}
			if attr(e, "t") == "inlineStr" {
				return inline, nil
			}
			return b.valueOf(e, value, no)
		case xml.StartElement:
			switch t.Name.Local {
			case "f":
				formula = true
				err = dec.Skip()
			case "v":
				value, err = content(dec)
			case "is":
				inline, err = texts(dec)
			default:
				err = dec.Skip()
			}
			if err != nil {
				return "", err
			}
		}
	}
}

// valueOf turns what stands in a cell into a text.
func (b *workbook) valueOf(e xml.StartElement, value string, no int) (string, error) {
	where := attr(e, "r")
	switch attr(e, "t") {
	case "s":
		n, err := strconv.Atoi(value)
		if err != nil || n < 0 || n >= len(b.shared) {
			return "", fmt.Errorf("cell %s names a text that isn't there", where)
		}
		return b.shared[n], nil
	case "str":
		return unescape(value), nil
	case "d":
		return value, nil
	case "b":
		if value == "1" {
			return "TRUE", nil
		}
		return "FALSE", nil
	case "e":
		return "", unread(no, "Mend the formula, or write the value.", "cell %s holds the error %.20s", where, value)
	}
	if value == "" {
		return "", nil
	}
	x, err := strconv.ParseFloat(value, 64)
	if err != nil {
		return "", fmt.Errorf("cell %s holds %.20q, which is no number", where, value)
	}
	format := ""
	if n, err := strconv.Atoi(attr(e, "s")); err == nil && n >= 0 && n < len(b.formats) {
		format = b.formats[n]
	}
	return b.shown(x, value, format), nil
}

// fixed is a number format that shows a fixed number of digits.
var fixed = regexp.MustCompile(`^(?:#,##)?(0+)(?:\.(0+))?(?:_.)?$`)

// shown is a number with all its digits, and at least those that its format shows behind the point: 12.5
// under the format 0.00 is 12.50. A date is a date.
func (b *workbook) shown(x float64, raw, format string) string {
	if day, clock := dated(format); day {
		if b.from1904 {
			x += 1462 // days from 30 December 1899 to 1 January 1904
		}
		if at, known := momentOf(x); known {
			switch {
			case format == formatOfMoment:
				return at.Format(moment)
			case clock:
				return at.Format("2006-01-02T15:04:05")
			}
			return at.Format(time.DateOnly)
		}
	}
	text := strconv.FormatFloat(x, 'f', -1, 64)
	if plain(raw) && !strings.Contains(raw, ".") {
		text = raw // more digits than a binary number holds
	}
	first, _, _ := strings.Cut(format, ";")
	if m := fixed.FindStringSubmatch(first); m != nil {
		if n := len(m[2]); decimals(text) < n {
			text = strconv.FormatFloat(x, 'f', n, 64)
		}
		if whole, _, _ := strings.Cut(text, "."); len(whole) < len(m[1]) && x >= 0 {
			text = strings.Repeat("0", len(m[1])-len(whole)) + text
		}
	}
	return text
}

// aside are the parts of a number format that show no digit of the value.
var aside = regexp.MustCompile(`"[^"]*"|\\.|\[[^\]]*\]|_.|\*.`)

// dated tells whether a number format shows a day, and whether it shows the time of the day as well.
func dated(format string) (day, clock bool) {
	format, _, _ = strings.Cut(format, ";")
	f := strings.ToLower(aside.ReplaceAllString(format, ""))
	if f == "general" {
		return false, false
	}
	return strings.ContainsAny(f, "yd"), strings.ContainsAny(f, "hs")
}
