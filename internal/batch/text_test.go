package batch

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"
)

// TestFormulasAreGuarded: a cell that a spreadsheet would run begins with an apostrophe, whichever
// way the text came in; a number does not.
func TestFormulasAreGuarded(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"=1+1", "'=1+1"}, {"+cmd", "'+cmd"}, {"-cmd", "'-cmd"}, {"@SUM(A1)", "'@SUM(A1)"},
		{"\t=1+1", "'\t=1+1"}, {"\n=1+1", "'\n=1+1"}, {"-5", "-5"}, {"+5.5", "+5.5"}, {"-1,5", "-1,5"}, {"R-1", "R-1"}, {"", ""},
	} {
		id, err := json.Marshal(c.in)
		if err != nil {
			t.Fatal(err)
		}
		out, _, _ := run(t, fmt.Sprintf(`{"id": %s, "air_g": 7.4218}`, id), Options{Format: CSV})
		if got := at(t, cells(t, out)[0], "id"); got != c.want {
			t.Errorf("id %q is written as %q, want %q", c.in, got, c.want)
		}
	}
	out, _, _ := run(t, `{"=cmd": 1}`, Options{Format: CSV})
	if got := at(t, cells(t, out)[0], "error"); !strings.HasPrefix(got, "'=cmd: ") {
		t.Errorf("the error of a field named =cmd is written as %q", got)
	}
}

// TestControlCharacters: what could command a terminal stands in no answer and in no message. In
// JSON it is escaped, so the id comes back as it was; in CSV it is shown.
func TestControlCharacters(t *testing.T) {
	for _, r := range "\x01\a\r\x1b\x7f\u0080\u009b\u009f" {
		const rest = ", \"air_g\": 7.4218, \"liquid_g\": 6.9431, \"liquid\": {\"kind\": \"water\"}}\n"
		in := fmt.Sprintf("{\"id\": \"a\\u%04xb\"", r) + rest +
			fmt.Sprintf("{\"id\": \"a\\u%04xb\", \"claim\": {\"metal\": \"\\u%04x[31m\"}", r, r) + rest +
			fmt.Sprintf("{\"\\u%04x[31m\": 1}\n", r)
		for _, o := range []Options{{Format: CSV}, {Format: JSONL}, {Format: JSONL, Details: true}} {
			out, messages, _ := run(t, in, o)
			for _, text := range []string{strings.ReplaceAll(out, "\r\n", "\n"), messages} {
				if i := strings.IndexFunc(text, func(r rune) bool { return unicode.IsControl(r) && r != '\n' }); i >= 0 {
					t.Errorf("%U: a control character is written: %q", r, text[max(i-20, 0):i+2])
				}
			}
			if strings.Count(messages, "\n") != 2 {
				t.Errorf("%U: said %q, want two lines", r, messages)
			}
			if o.Format == CSV {
				continue
			}
			var first struct{ ID string }
			if err := json.NewDecoder(strings.NewReader(out)).Decode(&first); err != nil || first.ID != "a"+string(r)+"b" {
				t.Errorf("%U: %v, the id comes back as %q", r, err, first.ID)
			}
		}
	}
}

// TestBadBytesFarDown: the beginning of a file is looked at as a whole; a row far below that is not
// text costs only itself, and nothing of it is written.
func TestBadBytesFarDown(t *testing.T) {
	for _, c := range []struct{ name, header, good, bad string }{
		{"Latin-1", plainHead, plainRow, "caf\xe9,7.4218,6.9431,water\n"},
		{"Latin-1 and an open quotation mark", plainHead, plainRow, "caf\xe9,\"7.4218,6.9431,water\n"},
		{"zero bytes", plainHead, plainRow, "a\x00,7.4218,6.9431,water\n"},
		{"zero bytes and a quotation mark inside", plainHead, plainRow, "a\x00,7\".4218,6.9431,water\n"},
		{"Latin-1 in JSON Lines", "", `{"id": "a"}` + "\n", "{\"id\": \"caf\xe9\"}\n"},
	} {
		above := 70_000 / len(c.good)
		b := quick(t, strings.NewReader(c.header+strings.Repeat(c.good, above)+c.bad+c.good))
		b.options.Format = CSV
		var out, said strings.Builder
		sum, err := b.Run(t.Context(), &out, &said)
		if err != nil {
			t.Fatal(err)
		}
		line := above + 1 + strings.Count(c.header, "\n")
		if sum.Rows != above+2 || sum.Failed != 1 || !strings.HasPrefix(said.String(), fmt.Sprintf("wreath: row %d: the row is not UTF-8 text; Save it as UTF-8", line)) {
			t.Errorf("%s: %v, said %q", c.name, sum, said.String())
		}
		if !utf8.ValidString(out.String()) || strings.Contains(out.String(), "\x00") {
			t.Errorf("%s: the answers are not text", c.name)
		}
	}
}
