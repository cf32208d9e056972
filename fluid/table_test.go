package fluid

import (
	"errors"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"wreath/quantity"
)

// printedRow is one row of a table of testdata, as printed.
type printedRow map[string]string

// printedTable reads a table of testdata: comment lines, a line of column names, rows.
func printedTable(t *testing.T, name string) []printedRow {
	t.Helper()
	text, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	var columns []string
	var rows []printedRow
	for _, line := range strings.Split(string(text), "\n") {
		fields := strings.Fields(line)
		if len(fields) == 0 || fields[0] == "#" {
			continue
		}
		if columns == nil {
			columns = fields
			continue
		}
		if len(fields) != len(columns) {
			t.Fatalf("%s: %d fields, want %d: %s", name, len(fields), len(columns), line)
		}
		r := printedRow{}
		for i, f := range fields {
			r[columns[i]] = f
		}
		rows = append(rows, r)
	}
	if len(rows) == 0 {
		t.Fatalf("%s: no rows", name)
	}
	return rows
}

// printed says whether the table prints a value there.
func (r printedRow) printed(column string) bool { return r[column] != "-" }

func (r printedRow) number(t *testing.T, column string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(r[column], 64)
	if err != nil {
		t.Fatalf("column %s: %v", column, err)
	}
	return x
}

// half is half of the last digit printed in a column.
func (r printedRow) half(column string) float64 {
	_, decimals, _ := strings.Cut(r[column], ".")
	return 0.5 * math.Pow(10, -float64(len(decimals)))
}

// near fails unless got lies within the tolerance of want; a rounding of the last bits is let off.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*(1+1e-6)) {
		t.Errorf("%s = %.9g, want %.9g ± %.2g", what, got, want, tolerance)
	}
}

// celsius reads a temperature column.
func (r printedRow) celsius(t *testing.T, column string) quantity.Temperature {
	t.Helper()
	return quantity.Temperature(r.number(t, column))
}

// kgPerM3 unwraps a formula's answer.
func kgPerM3(t testing.TB) func(quantity.Density, error) float64 {
	return func(rho quantity.Density, err error) float64 {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return rho.KgPerM3()
	}
}

// refuses fails unless err is a range error that names what, its range and a way out.
func refuses(t *testing.T, err error, what string) {
	t.Helper()
	var outside *quantity.RangeError
	if !errors.As(err, &outside) {
		t.Errorf("%s: error %v, want a range error", what, err)
		return
	}
	if outside.What != what {
		t.Errorf("the error is about %q, want %q", outside.What, what)
	}
	if outside.Low >= outside.High || outside.Unit == "" || outside.Source == "" || outside.Hint == "" {
		t.Errorf("%s: %q lacks range, unit, source or hint: %+v", what, err, *outside)
	}
}

// notNumbers are inputs that no formula may take.
var notNumbers = []float64{math.NaN(), math.Inf(1), math.Inf(-1)}
