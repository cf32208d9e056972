package batch

import (
	"bytes"
	"errors"
	"strconv"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"wreath/internal/determination"
)

func FuzzCSV(f *testing.F) {
	for _, s := range []string{
		head + "a,gold,750,7.4218,6.9431,water,21.4,0.0001\n", "id;air_g\na;7,5\n", "id,note\n\"a\nb\",\"x\"\"y\"\n\"c,d\n",
		"\xef\xbb\xbfid,air_g\r\n1,2\r\n", "id,air_g\n1,2,3\n4\n\"\n", "id\n" + strings.Repeat("\"\n", 120),
		"id\tair_g\tliquid_g\tliquid.kind\na\t7,4 ct 7,5 ct\t6,9 ct\twater\nb\t7,4 ct 7\t6\twater\n", head + "x,\"gold,7\n\"good\",\"gold\",750\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) { everyRowIsAnswered(t, data) })
}

func FuzzJSONL(f *testing.F) {
	for _, s := range []string{
		`{"id": "a", "air_g": 7.4218, "liquid_g": [6.9431], "liquid": {"kind": "water"}}` + "\n{\n\n[1]\n", `{"air_g": 1e999}`, "{}\n{}", "{\"id\": \"\xff\"}",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) { everyRowIsAnswered(t, data) })
}

// everyRowIsAnswered: each row has an answer or an error, rows keep their order, and what is written
// is CSV or JSON whatever stood in the rows.
func everyRowIsAnswered(t *testing.T, data []byte) {
	for _, format := range []Format{CSV, JSONL} {
		b, err := Open(bytes.NewReader(data), "rows", Options{Format: format, Workers: 1, Evaluate: whereNeeded})
		if err != nil {
			var in *determination.InputError
			if !errors.As(err, &in) || in.Reason == "" || in.Hint == "" {
				t.Errorf("error %v without reason or hint", err)
			}
			return
		}
		var out, said bytes.Buffer
		sum, err := b.Run(t.Context(), &out, &said)
		if err != nil {
			t.Fatal(err)
		}
		rows := table(t, out.String())
		if len(rows) != sum.Rows {
			t.Errorf("%d rows written, %d counted", len(rows), sum.Rows)
		}
		if least, most := rowsIn(data); len(rows) < least || len(rows) > most {
			t.Errorf("%d rows written, the input has %d to %d", len(rows), least, most)
		}
		for _, text := range []string{strings.ReplaceAll(out.String(), "\r\n", "\n"), said.String()} {
			if !utf8.ValidString(text) || strings.ContainsFunc(text, func(r rune) bool { return unicode.IsControl(r) && r != '\n' && r != '\t' }) {
				t.Errorf("broken text or a control character is written: %q", text)
			}
		}
		failed, last := 0, 0
		for _, row := range rows {
			line, err := strconv.Atoi(at(t, row, "row"))
			if err != nil || line <= last {
				t.Errorf("row %q after row %d", row, last)
			}
			last = line
			if at(t, row, "error") != "" {
				failed++
			} else if at(t, row, "density_20c_kg_m3") == "" {
				t.Errorf("neither answer nor error: %q", row)
			}
		}
		if failed != sum.Failed || strings.Count(said.String(), "\n") != failed {
			t.Errorf("%d rows with an error, %d counted, said %q", failed, sum.Failed, said.String())
		}
	}
}

// rowsIn bounds the number of rows by the lines of the input: every line that holds anything is at
// most one row, and without quotation marks that hold cells together, one with a letter or a figure
// is just one. The first line of CSV names the columns.
func rowsIn(data []byte) (least, most int) {
	text := strings.TrimSpace(strings.TrimPrefix(string(data), "\xef\xbb\xbf"))
	isJSON := strings.HasPrefix(text, "{")
	for line := range strings.SplitSeq(text, "\n") {
		if strings.TrimSpace(line) == "" {
			continue
		}
		most++
		if strings.ContainsAny(line, "0123456789abcdefghijklmnopqrstuvwxyz") {
			least++
		}
	}
	switch {
	case isJSON:
	case strings.Contains(text, `"`):
		least, most = 0, most-1
	default:
		least, most = least-1, most-1
	}
	return least, most
}
