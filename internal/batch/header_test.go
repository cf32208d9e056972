package batch

import (
	"errors"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"wreath/internal/determination"
)

// TestFirstLine: what may be wrong before the first row, beyond TestWholeFilesThatCannotBeRead.
func TestFirstLine(t *testing.T) {
	for _, c := range []struct{ name, in, reason, hint string }{
		{"no names", ",,\n1,2,3\n", "names no columns", "air_g"},
		{"name like none", "id,zzzzzzzz\n1,2\n", "column 2, zzzzzzzz, is not known", "The first line names the columns"},
		{"end of one field", "id,wires\n1,2\n", "column 2, wires, is not known", "Did you mean hanger.wires?"},
		{"end of several fields", "id,temperature_c\n1,2\n", "column 2, temperature_c, is not known", "Did you mean one of liquid.temperature_c, second_liquid.temperature_c, air.temperature_c?"},
		{"capitals", "id,Air_G\n1,2\n", "column 2, Air_G, is not known", "Did you mean air_g?"},
		{"control characters", "id,air\x1b[31m\n1,2\n", `column 2, air\x1b[31m, is not known`, ""},
		{"carriage returns alone", "id,air_g\ra,7.5\rb,7.5\r", "carriage returns alone", "LF"},
		{"open quotation mark", "\"id,air_g\n1,2\n", "quotation marks in the line of column names", "need no quotation marks"},
		{"longer than 1 MiB", strings.Repeat("id,", 400_000) + "\n", "longer than 1 MiB", "line end"},
		{"Latin-1 behind 64 KiB", "id" + strings.Repeat(",", 70_000) + "caf\xe9\n1\n", "not UTF-8", "UTF-8"},
		{"rows before names", "T-01,gold,750\n", "column 1, T-01, is not known", "The first line names the columns"},
		{"JSON with a byte order mark", "\xef\xbb\xbf{\"id\": \"a\"}\n", "byte order mark", "without"},
		{"UTF-16, most significant byte first", "\xfe\xff\x00i\x00d", "UTF-16", "UTF-8"},
		{"byte order mark alone", "\xef\xbb\xbf", "empty", "CSV"},
	} {
		_, err := Open(strings.NewReader(c.in), "rows.csv", Options{})
		var in *determination.InputError
		if !errors.As(err, &in) || in.Path != "rows.csv" || !strings.Contains(in.Reason, c.reason) || in.Hint == "" || !strings.Contains(in.Hint, c.hint) {
			t.Errorf("%s: %.300v, want …%s…; …%s…", c.name, err, c.reason, c.hint)
		}
	}
}

// TestInputBreaksOffAtOnce: an input that fails before its first row cannot be read at all.
func TestInputBreaksOffAtOnce(t *testing.T) {
	for _, before := range []string{"", "id,air_g\n"} {
		_, err := Open(io.MultiReader(strings.NewReader(before), iotest.ErrReader(errors.New("input/output error"))), "rows.csv", Options{})
		var in *determination.InputError
		if !errors.As(err, &in) || in.Path != "rows.csv" || !strings.Contains(in.Reason, "it can't be read: input/output error") {
			t.Errorf("after %q: %v", before, err)
		}
	}
}

// TestColumnWithoutName: a column without a name may be there as long as nothing stands in it.
func TestColumnWithoutName(t *testing.T) {
	got, messages := drafts(t, "id,,air_g\na,,7.5\nb,x,7.5\n", nil)
	if len(got) != 1 || got[0].ID != "a" || !strings.HasPrefix(messages, `wreath: row 3: column 2: "x" stands in a column without a name; Name the column`) {
		t.Errorf("%d rows are read, said %q", len(got), messages)
	}
}

// TestBadLinesOfJSON: each is said in one line, and the row below is read.
func TestBadLinesOfJSON(t *testing.T) {
	for _, c := range []struct{ line, want string }{
		{`{"id": "a", "air_g": [7.4218`, "air_g[1]: the line ends before the document does"},
		{`{"id": "a`, ""},
		{`{"id": "a"}, {"id": "b"}`, "more follows after the document"},
		{`[{"id": "a"}]`, ""},
		{`"a"`, ""},
		{`null`, ""},
		{`id,air_g`, "not JSON at column 1"},
		{`{"id": "a", "id": "b"}`, "id: "},
		{`{"air_g": NaN}`, "air_g: not JSON at column"},
		{`{"air_g": "7,5 g"}`, "air_g: "},
		{`{"liquid": "water"}`, "liquid: "},
		{`{"note": "` + strings.Repeat("x", 1<<20) + `"}`, "the row is longer than 1 MiB"},
		{strings.Repeat(`{"liquid":`, 20_000), ""},
	} {
		got, messages := drafts(t, "{\"id\": \"before\"}\n"+c.line+"\n{\"id\": \"behind\"}\n", nil)
		if len(got) != 2 || got[1].ID != "behind" {
			t.Errorf("%.40s: %d rows are read, want the two good ones", c.line, len(got))
		}
		if !strings.HasPrefix(messages, "wreath: row 2: "+c.want) || strings.Count(messages, "\n") != 1 || !strings.Contains(messages, "; ") || len(messages) > 2100 {
			t.Errorf("%.40s: said %.300q, want one line, …%s…; and a way out", c.line, messages, c.want)
		}
	}
}
