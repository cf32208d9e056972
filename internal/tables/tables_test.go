package tables

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"reflect"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// wide are limits that no test but those of limits comes near.
var wide = Limits{Bytes: 1 << 30, Unpacked: 1 << 30, Rows: 1 << 20, Columns: 1000, Cell: 1 << 20}

// rowsOf are rows that are at hand.
func rowsOf(rows [][]string) iter.Seq2[[]string, error] {
	return func(yield func([]string, error) bool) {
		for _, row := range rows {
			if !yield(row, nil) {
				return
			}
		}
	}
}

func written(t testing.TB, f Format, table Table) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := Write(&out, f, table); err != nil {
		t.Fatalf("%s: %v", f, err)
	}
	return out.Bytes()
}

// differ tells the first difference of two lists; "" without one.
func differ[T any](want, got []T) string {
	for i := range max(len(want), len(got)) {
		switch {
		case i >= len(want):
			return fmt.Sprintf("%d: %q too many", i, fmt.Sprint(got[i]))
		case i >= len(got):
			return fmt.Sprintf("%d: %q is missing", i, fmt.Sprint(want[i]))
		case !reflect.DeepEqual(want[i], got[i]):
			return fmt.Sprintf("%d: %q became %q", i, any(want[i]), any(got[i]))
		}
	}
	return ""
}

// anyText draws texts that files have broken on before, and any others.
func anyText() *rapid.Generator[string] {
	pieces := []string{"'", "''", " ", "=", "+", "-", "@", "\t", "\r", "\n", "\r\n", "|", "%", "＝", ",", ";", `"`, `""`, "_x0041_", "_x", "x0041_", "_", "_x005F_", "_xD83D_",
		"0", "1.50", "0012", "TRUE", "2026-03-04", "<", "&", ">", "]]>", "é", "e\u0301", "金", "🥇", "\u202e", "\u00a0", "\ufeff", "a", "Barren"}
	return rapid.OneOf(
		rapid.Map(rapid.SliceOfN(rapid.SampledFrom(pieces), 0, 6), func(s []string) string { return strings.Join(s, "") }),
		rapid.StringN(0, 20, -1),
	)
}

// forBooks leaves out what a workbook can't hold.
func forBooks(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' && r != '\t' && r != '\n' && r != '\r' || r == 0xFFFE || r == 0xFFFF {
			return -1
		}
		return r
	}, s)
}

func anyDecimal() *rapid.Generator[string] {
	return rapid.OneOf(
		rapid.StringMatching(`-?[0-9]{1,20}(\.[0-9]{1,20})?`),
		rapid.StringMatching(`[1-9][0-9]{0,11}\.[0-9]{2}`),
		rapid.SampledFrom([]string{"0", "0.00", "-0", "-0.0", "1250.50", "999.9", "12441.03", "0.1", "123456789012345", "1234567890123456", "0.000000000000000000000000000001"}),
	)
}

func anyMoment() *rapid.Generator[string] {
	return rapid.Map(rapid.Int64Range(-62135596800, 253402300799), func(s int64) string { return time.Unix(s, 0).UTC().Format(moment) })
}

func anyDay() *rapid.Generator[string] {
	return rapid.Map(anyMoment(), func(s string) string { return s[:len(time.DateOnly)] })
}

// TestRoundTrip writes any texts, decimals, moments and days in each format and reads them again: every
// cell must be what it was, byte by byte.
func TestRoundTrip(t *testing.T) {
	columns := []Column{{"text", "text", "", Text}, {"mass_g", "mass", "g", Number}, {"at", "at", "", Time}, {"day", "day", "", Day}, {"more", "=more", "", Text}}
	for _, f := range Formats {
		t.Run(string(f), func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				one := func(g *rapid.Generator[string], label string) string {
					return rapid.OneOf(g, rapid.Just("")).Draw(t, label)
				}
				var rows [][]string
				for range rapid.IntRange(1, 5).Draw(t, "rows") {
					row := []string{one(anyText(), "text"), one(anyDecimal(), "number"), one(anyMoment(), "moment"), one(anyDay(), "day"), one(anyText(), "more")}
					if f == XLSX {
						row[0], row[4] = forBooks(row[0]), forBooks(row[4])
					}
					if strings.Join(row, "") == "" {
						row[1] = "1" // a workbook doesn't keep a row in which nothing stands
					}
					rows = append(rows, row)
				}
				var out bytes.Buffer
				if err := Write(&out, f, Table{"any", columns, rowsOf(rows)}); err != nil {
					t.Fatal(err)
				}
				got, err := Read(out.Bytes(), wide)
				if err != nil {
					t.Fatalf("%v\n%q", err, out.Bytes())
				}
				if f == JSONL { // columns that are empty in all rows have no name in the file
					rows = shrunk(columns, rows, got)
				} else {
					var want []string
					for _, c := range columns {
						want = append(want, c.Heading())
					}
					if diff := differ(want, got.Headings); diff != "" {
						t.Fatalf("headings: %s", diff)
					}
				}
				var cells [][]string
				for _, row := range got.Rows {
					cells = append(cells, row.Cells)
				}
				if diff := differ(rows, cells); diff != "" {
					t.Fatalf("%s\n%q", diff, out.Bytes())
				}
			})
		})
	}
}

// shrunk puts the cells in the order in which JSON Lines first named their columns.
func shrunk(columns []Column, rows [][]string, got *Sheet) (out [][]string) {
	for _, row := range rows {
		var cells []string
		for _, h := range got.Headings {
			for i, c := range columns {
				if c.Key == h {
					cells = append(cells, row[i])
				}
			}
		}
		out = append(out, cells)
	}
	return out
}

// TestGuardKeepsEveryText takes any text through the guard and back, and looks that what it lets out begins
// like no formula.
func TestGuardKeepsEveryText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyText().Draw(t, "text")
		guarded := Guard(s)
		if got := Unguard(guarded); got != s {
			t.Fatalf("%q came back as %q, by way of %q", s, got, guarded)
		}
		if first := strings.TrimLeft(guarded, " "); first != "" && strings.ContainsAny(first[:1], "=+-@\t\r\n") {
			t.Fatalf("%q went out as %q", s, guarded)
		}
		if got := Unguard(s); Guard(got) != s && got != s {
			t.Fatalf("%q was read as %q, which is written as %q", s, got, Guard(got))
		}
	})
}

func TestGuard(t *testing.T) {
	for text, want := range map[string]string{
		"plain band": "plain band", "": "", "-5": "'-5", "=HYPERLINK(1)": "'=HYPERLINK(1)", "+1": "'+1", "@SUM(1)": "'@SUM(1)", "\t=1": "'\t=1", "\r=1": "'\r=1", "\n=1": "'\n=1",
		" =1+1": "' =1+1", "'=1": "''=1", "'tis": "'tis", "''": "''", "＝1": "'＝1", "a=1": "a=1", "- ring": "'- ring", "|calc": "'|calc", "%1": "'%1",
	} {
		if got := Guard(text); got != want {
			t.Errorf("Guard(%q) = %q, want %q", text, got, want)
		}
		if got := Unguard(want); got != text {
			t.Errorf("Unguard(%q) = %q, want %q", want, got, text)
		}
	}
}

func TestCellsOfTheWrongKindAreRefused(t *testing.T) {
	for _, row := range []struct {
		kind Kind
		cell string
	}{
		{Number, "1,5"}, {Number, "1e3"}, {Number, "1."}, {Number, ".5"}, {Number, "+1"}, {Number, "NaN"}, {Number, "=1"}, {Number, " 1"}, {Number, "--1"}, {Number, "-"}, {Number, "٣"},
		{Time, "2026-03-04"}, {Time, "2026-03-04T09:30:00+01:00"}, {Time, "2026-03-04T09:30:00.5Z"}, {Time, "2026-02-30T00:00:00Z"}, {Day, "4.3.2026"}, {Day, "2026-02-30"}, {Text, "\xff"},
	} {
		for _, f := range Formats {
			err := Write(new(bytes.Buffer), f, Table{"t", []Column{{"c", "c", "", row.kind}}, rowsOf([][]string{{row.cell}})})
			if err == nil || !strings.Contains(err.Error(), "row 1") {
				t.Errorf("%s of kind %d: %q gives %v", f, row.kind, row.cell, err)
			}
		}
	}
	for _, f := range Formats {
		if err := Write(new(bytes.Buffer), f, Table{"t", []Column{{"c", "c", "", Text}}, rowsOf([][]string{{"a", "b"}})}); err == nil {
			t.Errorf("%s took a row with a cell too many", f)
		}
	}
	if err := Write(new(bytes.Buffer), "ods", Table{}); err == nil {
		t.Error("there is a format ods")
	}
}

// TestWhatAWorkbookCannotHold is refused rather than changed on the quiet.
func TestWhatAWorkbookCannotHold(t *testing.T) {
	for _, cell := range []string{"bell \a", "\x00", "\uffff", strings.Repeat("a", 32768), strings.Repeat("🥇", 16384)} {
		table := Table{"t", []Column{{"c", "c", "", Text}}, rowsOf([][]string{{cell}})}
		if err := Write(new(bytes.Buffer), XLSX, table); err == nil || !strings.Contains(err.Error(), "csv") {
			t.Errorf("%.20q: %v", cell, err)
		}
		if got := written(t, CSV, table); !strings.Contains(string(got), cell) {
			t.Errorf("CSV lost %.20q", cell)
		}
	}
	longest := strings.Repeat("a", 32767)
	got, err := Read(written(t, XLSX, Table{"t", []Column{{"c", "c", "", Text}}, rowsOf([][]string{{longest}})}), wide)
	if err != nil || got.Rows[0].Cells[0] != longest {
		t.Errorf("the longest text of a cell did not come back: %v", err)
	}
}

// TestAnErrorOfARowEndsTheTable looks that a table that breaks off says so.
func TestAnErrorOfARowEndsTheTable(t *testing.T) {
	broken := errors.New("the store is gone")
	rows := func(yield func([]string, error) bool) {
		_ = yield([]string{"a"}, nil) && yield(nil, broken)
	}
	for _, f := range Formats {
		if err := Write(new(bytes.Buffer), f, Table{"t", []Column{{"c", "c", "", Text}}, rows}); !errors.Is(err, broken) {
			t.Errorf("%s: %v", f, err)
		}
	}
	full := errors.New("the disk is full")
	for _, f := range Formats {
		if err := Write(failing{full}, f, Table{"t", []Column{{"c", "c", "", Text}}, rowsOf([][]string{{"a"}})}); !errors.Is(err, full) {
			t.Errorf("%s on a full disk: %v", f, err)
		}
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

// TestSameTableSameBytes writes a table twice.
func TestSameTableSameBytes(t *testing.T) {
	for _, f := range Formats {
		if a, b := written(t, f, sample()), written(t, f, sample()); !bytes.Equal(a, b) {
			t.Errorf("%s differs from one time to the next", f)
		}
	}
}

// TestJSONLinesAreJSON reads what is written with the decoder of the library.
func TestJSONLinesAreJSON(t *testing.T) {
	lines := strings.Split(strings.TrimSuffix(string(written(t, JSONL, sample())), "\n"), "\n")
	if len(lines) != len(sampleRows) {
		t.Fatalf("%d lines for %d rows", len(lines), len(sampleRows))
	}
	for i, line := range lines {
		var got map[string]any
		dec := json.NewDecoder(strings.NewReader(line))
		dec.UseNumber()
		if err := dec.Decode(&got); err != nil {
			t.Fatalf("%s: %v", line, err)
		}
		for j, c := range sampleColumns {
			want := sampleRows[i][j]
			if got[c.Key] == nil && want == "" {
				continue
			}
			if fmt.Sprint(got[c.Key]) != want {
				t.Errorf("%s of row %d is %v, want %q", c.Key, i, got[c.Key], want)
			}
		}
	}
}

// sampleRows are invented: what breaks tables, row by row.
var (
	sampleColumns = []Column{{"number", "number", "", Text}, {"at", "recorded at", "", Time}, {"description", "description", "", Text}, {"mass_g", "mass", "g", Number}, {"amount", "amount", "EUR", Number}, {"due", "next due", "", Day}}
	sampleRows    = [][]string{
		{"D-000001", "2026-03-04T09:30:00Z", "plain band", "7.4219", "420.50", "2027-03-01"},
		{"D-000002", "2026-03-04T09:31:59Z", `ring, "wide"`, "12441.030", "999999999999.99", ""},
		{"", "", "=HYPERLINK(\"http://example.org\")", "", "", ""},
		{"0012", "1999-12-31T23:59:59Z", "two\nlines; and a semicolon", "0.00010", "0.00", "1900-03-01"},
		{"D-000003", "2026-11-27T00:00:00Z", "-5", "-0.5", "12345678901234567.89", "9999-12-31"},
		{"D-000004", "2026-11-27T12:00:01Z", "Zürich 金 🥇 _x0041_x0042_", "1000", "0.1", "2026-02-28"},
	}
)

func sample() Table { return Table{"sample", sampleColumns, rowsOf(sampleRows)} }

func FuzzRead(f *testing.F) {
	for _, format := range Formats {
		f.Add(written(f, format, sample()))
	}
	f.Add([]byte("sep=;\r\na;b\r\n1,5;\"x\"\"y\"\r\n"))
	f.Add([]byte("\xef\xbb\xbfa\tb\r\"1\r\n2\"\t3"))
	f.Add([]byte(`{"a": 1.50, "b": null}` + "\n" + `{"c": "x"}`))
	f.Add([]byte("{} "))
	small := Limits{Bytes: 1 << 20, Unpacked: 1 << 22, Rows: 1000, Columns: 50, Cell: 1 << 16}
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Read(data, small)
		if err != nil {
			var said *ReadError
			if !errors.As(err, &said) || said.Reason == "" || said.Hint == "" {
				t.Fatalf("%v says not what to do", err)
			}
			return
		}
		if len(s.Rows) > small.Rows || len(s.Headings) > small.Columns {
			t.Fatalf("%d rows, %d columns", len(s.Rows), len(s.Headings))
		}
		for _, row := range s.Rows {
			if len(row.Cells) != len(s.Headings) {
				t.Fatalf("row %d has %d cells for %d headings", row.No, len(row.Cells), len(s.Headings))
			}
		}
		// What was read can be written, and is read as the same.
		var columns []Column
		for i := range s.Headings {
			columns = append(columns, Column{Key: fmt.Sprint("c", i), Name: fmt.Sprint("column ", i)})
		}
		var rows [][]string
		for _, row := range s.Rows {
			if strings.Join(row.Cells, "") != "" {
				rows = append(rows, row.Cells)
			}
			for _, cell := range row.Cells {
				if !utf8.ValidString(cell) {
					t.Fatalf("%q is no UTF-8", cell)
				}
			}
		}
		again, err := Read(written(t, CSV, Table{"again", columns, rowsOf(rows)}), wide)
		if err != nil {
			t.Fatal(err)
		}
		var cells [][]string
		for _, row := range again.Rows {
			cells = append(cells, row.Cells)
		}
		if diff := differ(rows, cells); diff != "" {
			t.Fatal(diff)
		}
	})
}
