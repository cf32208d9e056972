package batch

import (
	"encoding/json"
	"flag"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the answers into the regression files anew")

// TestRegression answers the invented tray of the examples and compares with what was answered
// before: text as it was, numbers within one of their last printed digit, since the last bits of a
// float differ between processors.
func TestRegression(t *testing.T) {
	for _, c := range []struct{ input, answers string }{
		{"../../examples/tray.csv", "testdata/regression-tray.csv"},
		{"../../examples/tray.jsonl", "testdata/regression-tray.jsonl"},
		{"../../examples/wrong/tray.csv", "testdata/regression-wrong-tray.csv"},
	} {
		rows, err := os.ReadFile(c.input)
		if err != nil {
			t.Fatal(err)
		}
		_, base := tray(t, 0)
		got, _, _ := run(t, string(rows), Options{Base: base, Evaluate: whereNeeded})
		if *update {
			if err := os.WriteFile(c.answers, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(c.answers)
		if err != nil {
			t.Fatal(err)
		}
		a, b := table(t, got), table(t, string(want))
		if len(a) != len(b) {
			t.Errorf("%s: %d rows of answers, want %d", c.input, len(a), len(b))
			continue
		}
		for i := range b {
			for j, column := range outColumns {
				if !samePrinted(a[i][j], b[i][j], column.text) {
					t.Errorf("%s: %s of answer %d is %q, was %q", c.input, column.name, i+1, a[i][j], b[i][j])
				}
			}
		}
	}
}

// table reads answers of either format into cells, a null as an empty one.
func table(t testing.TB, answers string) (rows [][]string) {
	t.Helper()
	if strings.HasPrefix(answers, "row,") {
		return cells(t, answers)
	}
	d := json.NewDecoder(strings.NewReader(answers))
	d.UseNumber()
	for {
		var fields map[string]any
		switch err := d.Decode(&fields); {
		case err == io.EOF:
			return rows
		case err != nil:
			t.Fatal(err)
		case len(fields) != len(outColumns):
			t.Fatalf("%d fields, want %d: %v", len(fields), len(outColumns), fields)
		}
		var row []string
		for _, c := range outColumns {
			value, ok := fields[c.name]
			if !ok {
				t.Fatalf("there is no field %s: %v", c.name, fields)
			}
			switch v := value.(type) {
			case nil:
				row = append(row, "")
			case json.Number:
				row = append(row, v.String())
			case string:
				row = append(row, v)
			}
		}
		rows = append(rows, row)
	}
}

// samePrinted compares two cells at their printed digits.
func samePrinted(got, want string, text bool) bool {
	if text || want == "" || got == "" {
		return got == want
	}
	a, errA := strconv.ParseFloat(got, 64)
	b, errB := strconv.ParseFloat(want, 64)
	decimals := func(s string) int {
		_, after, _ := strings.Cut(s, ".")
		return len(after)
	}
	return errA == nil && errB == nil && decimals(got) == decimals(want) && math.Abs(a-b) < 1.5*math.Pow10(-decimals(want))
}

// TestBothFormatsSayTheSame: the tray as CSV and as JSON Lines has the same answers, and so has
// each format of them.
func TestBothFormatsSayTheSame(t *testing.T) {
	var all [][][]string
	for _, name := range []string{"../../examples/tray.csv", "../../examples/tray.jsonl"} {
		rows, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		_, base := tray(t, 0)
		for _, format := range []Format{CSV, JSONL} {
			out, _, _ := run(t, string(rows), Options{Base: base, Format: format, Evaluate: whereNeeded})
			if strings.HasPrefix(out, "{") != (format == JSONL) {
				t.Errorf("%s: the answers are in another format than asked for: %.40q", name, out)
			}
			all = append(all, table(t, out))
		}
	}
	for i, one := range all[1:] {
		for j := range one {
			for k, column := range outColumns {
				if column.name != "row" && one[j][k] != all[0][j][k] {
					t.Errorf("way %d: %s of answer %d is %q, want %q", i+2, column.name, j+1, one[j][k], all[0][j][k])
				}
			}
		}
	}
}
